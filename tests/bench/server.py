"""What a served installation computes and how much memory it has, as the system tells of its processes.

Only where there is a /proc; elsewhere the figures are 0.
"""

from __future__ import annotations

import os
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

PROC = Path("/proc")
FORGET_PEAK = "5"  # proc(5): the most memory of a process is counted anew from here


@dataclass(frozen=True)
class Load:
    """Seconds of computing of all processes, the most memory that they had at once, and by how much that had grown."""

    computing_s: float
    peak_mb: float
    grown_mb: float


def processes(parent: int) -> list[int]:
    """Return the processes that were started by one, and by those in turn."""
    parents = {}
    for folder in PROC.glob("[0-9]*"):
        with suppress(OSError, IndexError):
            parents[int(folder.name)] = int(_stat(folder)[1])
    found: list[int] = []
    newest = [parent]
    while newest:
        newest = [one for one, of in parents.items() if of in newest]
        found += newest
    return found


def load_of(running: list[int]) -> Load:
    """Return what the processes have computed and what memory they have; the most they had counts from here on."""
    ticks, held = 0.0, 0
    for one in running:
        with suppress(OSError):
            ticks += sum(map(int, _stat(PROC / str(one))[11:13]))
            (PROC / str(one) / "clear_refs").write_text(FORGET_PEAK)
            held += _memory_kb(one, "VmRSS")
    return Load(ticks / os.sysconf("SC_CLK_TCK"), held / 1024, 0.0)


def since(before: Load, running: list[int]) -> Load:
    ticks, most = 0.0, 0
    for one in running:
        with suppress(OSError):
            ticks += sum(map(int, _stat(PROC / str(one))[11:13]))
            most += _memory_kb(one, "VmHWM")
    peak = most / 1024
    spent = ticks / os.sysconf("SC_CLK_TCK") - before.computing_s
    return Load(round(spent, 1), round(peak, 1), round(peak - before.peak_mb, 1))


def _stat(folder: Path) -> list[str]:
    """Return the fields of proc(5)'s ``stat`` behind the name, which may hold blanks."""
    return (folder / "stat").read_text().rpartition(")")[2].split()


def _memory_kb(process: int, name: str) -> int:
    lines = (PROC / str(process) / "status").read_text().splitlines()
    return next((int(line.split()[1]) for line in lines if line.startswith(f"{name}:")), 0)
