"""Signed sheets received: one sender after another, and fifty at once. None refused, none lost.

Run in a process of its own for each database: ``python -m tests.bench.sheets`` prints one line of JSON.
"""

from __future__ import annotations

import json
import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from multiprocessing import get_context
from pathlib import Path
from statistics import median, quantiles
from threading import Barrier
from time import perf_counter, thread_time
from types import SimpleNamespace
from typing import Any

from tests.bench.world import FIRST, course, install

SENDERS = 50
PROCESSES, THREADS = 2, 4  # as ``make serve`` starts the server
MOST_MEDIAN_MS, MOST_P95_MS = 20, 1000


def drafts(w: SimpleNamespace, day: int, most: int) -> list[Any]:
    """Return filled-in sheets of another day, ready to be signed."""
    from tests import make

    at = FIRST + timedelta(days=day)
    found = [make.draft(w, place, section, at=at) for place, section in make.sections(w, at=at)[:most]]
    for draft in found:
        draft.place.course = w.course  # read before, as by the page
    return found


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
    """Fifty sheets arrive in one moment, at as many processes and threads as the server has; each waits for its turn.

    The time of a sheet counts from that moment until it is signed.
    """
    from django.db import connections

    from inspections.models import Sheet

    waiting = drafts(w, 2, SENDERS)
    connections.close_all()  # a connection must not be carried into another process
    together = get_context("fork")
    moment = together.Barrier(PROCESSES + 1)
    results = together.SimpleQueue()
    workers = [
        together.Process(target=_received, args=(w, waiting[number::PROCESSES], moment, results))
        for number in range(PROCESSES)
    ]
    for worker in workers:
        worker.start()
    moment.wait()
    begun = perf_counter()
    found = [results.get() for _worker in workers]
    took = perf_counter() - begun
    for worker in workers:
        worker.join()
    times, refused = ([one for part in found for one in part[place]] for place in (0, 1))
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


def _received(w: SimpleNamespace, waiting: list[Any], moment: Any, results: Any) -> None:
    """Be one process of the server: sign the sheets that came to it, a few at a time."""
    from django.db import connection

    begun = 0.0
    times: list[float] = []
    refused: list[str] = []

    def receive(draft: Any) -> None:
        try:
            signed(w, draft, 2)
            times.append(1000 * (perf_counter() - begun))
        except Exception as error:
            refused.append(repr(error))

    with ThreadPoolExecutor(THREADS) as pool:
        ready = Barrier(THREADS)

        def connected(_number: int) -> None:
            connection.ensure_connection()
            ready.wait()

        list(pool.map(connected, range(THREADS)))
        moment.wait()
        begun = perf_counter()
        list(pool.map(receive, waiting))
        list(pool.map(lambda _number: (ready.wait(), connection.close()), range(THREADS)))
    results.put((times, refused))


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
