"""A long record taken away and checked: time, memory, and how quickly it is hashed.

``python -m tests.bench.taken_away ENTRIES PHOTOS plain`` makes a record of that length in a place of its own and prints
one line of JSON; ``signed``: with everybody's own key under every act. Each program runs in a process of its own, which
says what memory it had.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import tempfile
import zipfile
from base64 import b64encode
from collections.abc import Iterator
from datetime import timedelta
from hashlib import sha256
from itertools import islice
from pathlib import Path
from statistics import median
from time import perf_counter, process_time
from types import SimpleNamespace
from typing import Any

from tests.bench.world import FIRST, LINES, course, install

ROOT = Path(__file__).resolve().parents[2]
PROGRAM = ROOT / "reports" / "verifier" / "verify.py"
ENTRIES, PHOTOS = 150_000, 30_000
MOST_S, MOST_MB = 30, 300
SEED = bytes(range(32))
HASHED = 3000  # entries that are hashed again and again
ROUNDS = 5


def record(w: SimpleNamespace, entries: int, photos: int, *, signed: bool) -> str:
    """Lengthen a course's record under a key of its own and return that key as text."""
    from accounts.deeds import COMMAND, Deed
    from accounts.log_keys import begin_log_key
    from accounts.models import User
    from ledger import log_key
    from ledger.models import Entry
    from ledger.sealing import public_key
    from tests.bench.record import Moulds, lengthen
    from tests.signing import Phone

    at, first = FIRST + timedelta(hours=11), FIRST.date()
    private = log_key.read(b64encode(SEED).decode())
    begin_log_key(w.operator, private, deed=Deed(by=w.manager, at=at, how=COMMAND))
    moulds = Moulds.of(w.course, first, photos=0, signed=False)
    days = -(-(entries - Entry.objects.count()) // len(moulds.entries))
    moulds = Moulds.of(w.course, first, photos=-(-photos // max(days, 1)), signed=signed)
    phones = None
    if signed:
        phones = {one.ref: Phone(number) for number, one in enumerate(moulds.entries, start=2)}
        for ref, phone in phones.items():
            phone.enrol(w.operator, User.objects.get(ref=ref), at=at)
    lengthen(w, moulds, (first + timedelta(days=n + 1) for n in range(days)), entries=entries, phones=phones)
    return public_key(w.operator.log, private).text


def measured(*command: str | Path, expected: int = 0) -> dict[str, Any]:
    """Run a program by itself and return what it took. SystemExit if it does not end as expected."""
    environment = {name: value for name, value in os.environ.items() if name != "LINEWORTHY_HTTPS"}
    environment |= {"LINEWORTHY_LOG_KEY": b64encode(SEED).decode(), "LINEWORTHY_PROXIES": "0"}
    done = subprocess.run(
        [sys.executable, "-m", "tests.bench.peak", *map(str, command)],
        cwd=ROOT, env=environment, check=False, capture_output=True, text=True,
    )  # fmt: skip
    if done.returncode != expected:
        raise SystemExit(f"{command[0]} ended with {done.returncode}: {done.stdout[-3000:]}{done.stderr[-3000:]}")
    found: dict[str, Any] = json.loads(done.stderr.splitlines()[-1])
    return found


def taken_away(entries: int, photos: int, *, signed: bool) -> dict[str, Any]:
    """Make a record, take it away with the command, check it with the program. In a process of its own."""
    with tempfile.TemporaryDirectory(prefix="lineworthy-bench-") as name:
        install(Path(name), f"sqlite:///{name}/bench.sqlite3")
        w = course()
        begun = perf_counter()
        key = record(w, entries, photos, signed=signed)
        made, file = perf_counter() - begun, Path(name) / "record.zip"
        exported = measured("manage.py", "export_bundle", "--operator", w.operator.name, "--out", file)
        checked = measured(PROGRAM, file, "--key", key, "--now", "2100-01-01T00:00:00Z")
        with zipfile.ZipFile(file) as archive, archive.open("log/entries.jsonl") as stream:
            lines = [line.rstrip(b"\n") for line in islice(stream, HASHED)]
            inside = sum(one.filename.startswith("photos/") for one in archive.infolist())
            count = len(lines) + sum(1 for _line in stream)
        found = {
            "lines": LINES,
            "entries": count,
            "photos": inside,
            "made_s": round(made),
            "mb": file.stat().st_size >> 20,
        }
        found |= {"export": exported, "check": checked}
        return found if signed else found | {"hashing": hashing(lines)}


def hashing(lines: list[bytes]) -> dict[str, Any]:
    """Return how quickly the program hashes entries into the tree, beside the bare loop and what openssl says."""
    from reports.verifier import verify

    def ours() -> None:
        tree = verify.Tree()
        for line in lines:
            tree.add(verify.leaf_hash(line))

    def bare() -> None:
        for b in lines:
            sha256(b"\x00" + b).digest()

    size = sum(map(len, lines))
    speed = {"program": 0.0, "bare": 0.0}
    for name, run in (("program", ours), ("bare", bare)):
        took = []
        for _ in range(ROUNDS):
            begun = process_time()
            run()
            took.append(process_time() - begun)
        speed[name] = size / median(took) / 1e6
    found: dict[str, Any] = {f"{name}_mb_per_s": round(value) for name, value in speed.items()}
    found |= {"entry_bytes": size // len(lines), "to_bare": round(speed["program"] / speed["bare"], 2)}
    openssl = openssl_mb_per_s(size // len(lines))
    if openssl is not None:
        found |= {"openssl_mb_per_s": round(openssl), "to_openssl": round(speed["program"] / openssl, 2)}
    return found


def openssl_mb_per_s(size: int) -> float | None:
    """Return what ``openssl speed`` measures for pieces of that size, None where there is no openssl that says it."""
    program = shutil.which("openssl")
    if program is None:
        return None
    told = subprocess.run(
        [program, "speed", "-mr", "-seconds", "1", "-bytes", str(size), "-evp", "sha256"],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    return speed_told(told.stdout)


def speed_told(text: str) -> float | None:
    """Read megabytes a second from what ``openssl speed -mr`` prints: ``+F:number:sha256:bytes a second``."""
    for line in text.splitlines():
        parts = line.split(":")
        if parts[0] == "+F" and len(parts) == 4:
            return float(parts[3]) / 1e6
    return None


def measure(entries: int = ENTRIES, photos: int = PHOTOS) -> dict[str, Any]:
    """Measure in processes of their own, one after the other: an installation is one to a process."""
    found = {}
    for name in ("plain", "signed"):
        told = subprocess.run(
            [sys.executable, "-m", "tests.bench.taken_away", str(entries), str(photos), name],
            cwd=ROOT, env=dict(os.environ), check=False, capture_output=True, text=True,
        )  # fmt: skip
        if told.returncode:
            raise SystemExit(told.stderr[-3000:])
        found[name] = json.loads(told.stdout.splitlines()[-1])
    return found


def rows(found: dict[str, Any]) -> Iterator[tuple[str, str, str, bool | None]]:
    """Yield what is shown: what, how much, its budget, whether that is kept."""
    plain, signed = found["plain"], found["signed"]
    what = f"{plain['entries']} entries, {plain['photos']} photos"
    took = lambda one: f"{one['s']} s (computing {one['computing_s']}), {one['peak_mb']} MB"  # noqa: E731
    yield f"{what}: taking away", took(plain["export"]), "", None
    check = plain["check"]
    kept = check["s"] <= MOST_S and check["peak_mb"] <= MOST_MB
    yield f"{what}: checking", took(check), f"≤ {MOST_S} s, ≤ {MOST_MB} MB", kept
    yield (
        "the same with every act signed: checking",
        took(signed["check"]),
        f"≤ {MOST_MB} MB",
        (signed["check"]["peak_mb"] <= MOST_MB),
    )
    speed = plain["hashing"]
    yield "hashing entries into the tree", f"{speed['program_mb_per_s']} MB a second", "", None
    yield "hashing, share of the bare loop", str(speed["to_bare"]), "", None
    if "to_openssl" in speed:
        yield "hashing, share of openssl speed sha256", str(speed["to_openssl"]), "", None
    else:
        yield "hashing, share of openssl speed sha256", "not measured: no openssl that says it", "", None


if __name__ == "__main__":
    print(json.dumps(taken_away(int(sys.argv[1]), int(sys.argv[2]), signed=sys.argv[3] == "signed")))
