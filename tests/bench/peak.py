"""Run a program and say on the last line of standard error how long it took, computed, and how much memory it had.

``python -m tests.bench.peak PROGRAM ARGUMENTS``: one line of JSON with ``s``, ``computing_s`` and ``peak_mb``, which is
the most memory that this process had itself: what it was started from does not count.
"""

from __future__ import annotations

import json
import resource
import runpy
import sys
from pathlib import Path
from time import perf_counter, process_time

STATUS = Path("/proc/self/status")


def peak_kb() -> int:
    """Return the most memory that was held. Where the system tells only of the whole life of the process, that."""
    if STATUS.exists():
        return next(int(line.split()[1]) for line in STATUS.read_text().splitlines() if line.startswith("VmHWM"))
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return most // 1024 if sys.platform == "darwin" else most


def main() -> int:
    sys.argv = sys.argv[1:]
    begun, code = perf_counter(), 0
    try:
        runpy.run_path(sys.argv[0], run_name="__main__")
    except SystemExit as end:
        code = end.code if isinstance(end.code, int) else int(bool(end.code))
    found = {"s": perf_counter() - begun, "computing_s": process_time(), "peak_mb": peak_kb() / 1024}
    print(json.dumps({name: round(value, 1) for name, value in found.items()}), file=sys.stderr)
    return code


if __name__ == "__main__":
    sys.exit(main())
