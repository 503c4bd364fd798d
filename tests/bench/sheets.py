"""Signed sheets received: one sender after another, and fifty at once. None refused, none lost.

Run in a process of its own for each database: ``python -m tests.bench.sheets`` prints one line of JSON.
"""

from __future__ import annotations

import json
import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from pathlib import Path
from statistics import median, quantiles
from threading import Barrier
from time import perf_counter, thread_time
from types import SimpleNamespace
from typing import Any

from tests.bench.world import FIRST, course, install

SENDERS = 50
MOST_MEDIAN_MS, MOST_P95_MS = 20, 1000


def drafts(w: SimpleNamespace, day: int, most: int) -> list[Any]:
    """Return filled-in sheets of another day, ready to be signed."""
    from tests import make

    at = FIRST + timedelta(days=day)
    return [make.draft(w, place, section, at=at) for place, section in make.sections(w, at=at)[:most]]


def signed(w: SimpleNamespace, draft: Any, day: int) -> tuple[float, float]:
    """Sign one sheet as the page does; return the milliseconds that it took and those of them spent computing here."""
    from inspections import actions
    from tests import make

    who = make.deed(w.technician, at=FIRST + timedelta(days=day, minutes=3))
    begun, busy = perf_counter(), thread_time()
    actions.sign_sheet(draft, meaning="I looked at it myself.", deed=who)
    return 1000 * (perf_counter() - begun), 1000 * (thread_time() - busy)


def one_after_another(w: SimpleNamespace) -> dict[str, Any]:
    waiting = drafts(w, 1, SENDERS)
    times, busy = zip(*(signed(w, draft, 1) for draft in waiting), strict=True)
    return {
        "sheets_per_s": round(1000 * len(times) / sum(times), 1),
        "median_ms": round(median(times), 1),
        "busy_median_ms": round(median(busy), 1),
    }


def all_at_once(w: SimpleNamespace) -> dict[str, Any]:
    """Every sender is a thread with a connection of its own; all begin together."""
    from django.db import connection

    from inspections.models import Sheet

    waiting = drafts(w, 2, SENDERS)
    gate = Barrier(len(waiting))
    refused: list[str] = []

    def send(draft: Any) -> float:
        connection.ensure_connection()
        gate.wait()
        try:
            return signed(w, draft, 2)[0]
        except Exception as error:
            refused.append(repr(error))
            return 0.0
        finally:
            connection.close()

    begun = perf_counter()
    with ThreadPoolExecutor(len(waiting)) as pool:
        times = list(pool.map(send, waiting))
    took = perf_counter() - begun
    kept = Sheet.objects.filter(day__course=w.course, day__date=(FIRST + timedelta(days=2)).date()).count()
    for error in refused[:3]:
        print(error, file=sys.stderr)
    return {
        "senders": len(waiting),
        "sheets_per_s": round(kept / took, 1),
        "p95_ms": round(quantiles(times, n=20)[-1], 1),
        "refused": len(refused),
        "lost": len(waiting) - len(refused) - kept,
    }


def main(database: str) -> None:
    with tempfile.TemporaryDirectory(prefix="lineworthy-bench-") as name:
        install(Path(name), database or f"sqlite:///{name}/bench.sqlite3")
        from inspections.rebuild import chain_faults

        w = course()
        found = {"one": one_after_another(w), "many": all_at_once(w)}
        faults = len(list(chain_faults(w.operator)))
        print(json.dumps({**found, "faults": faults}))


if __name__ == "__main__":
    main(sys.argv[1] if len(sys.argv) > 1 else "")
