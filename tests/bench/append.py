"""Entries appended by four writers at once to one history, each in a transaction of its own: median and 99 % of them.

Run in a process of its own for each database: ``python -m tests.bench.append`` prints one line of JSON. The times hold
waiting for the other three; the history must be whole afterwards.
"""

from __future__ import annotations

import json
import sys
import tempfile
import uuid
from multiprocessing import get_context
from pathlib import Path
from statistics import median, quantiles
from time import perf_counter
from typing import Any

from tests.bench.world import FIRST, install

WRITERS, EACH = 4, 250
ACT = {"place": "0b6e1c8e-5a0f-4a53-9d57-6c1f0c2c9a11", "meaning": "I looked at it myself.", "readings": []}


def at_once() -> dict[str, Any]:
    """Let the writers append together; return their times in ms, entries a second and what is wrong afterwards."""
    from django.db import connections

    from ledger import actions, chain
    from ledger.models import Entry

    columns = ("seq", "data", "leaf_hash", "frontier")
    log = actions.open_log(at=FIRST)
    connections.close_all()  # a connection must not be carried into another process
    together = get_context("fork")
    moment, results = together.Barrier(WRITERS + 1), together.SimpleQueue()
    workers = [together.Process(target=_write, args=(log.pk, number, moment, results)) for number in range(WRITERS)]
    for worker in workers:
        worker.start()
    moment.wait()
    begun = perf_counter()
    times = [one for _worker in workers for one in results.get()]
    took = perf_counter() - begun
    for worker in workers:
        worker.join()
    found = Entry.objects.filter(log=log).order_by("seq").values_list(*columns)
    rows = [(seq, *map(bytes, stored)) for seq, *stored in found]
    return {
        "writers": WRITERS,
        "median_ms": round(median(times), 2),
        "p99_ms": round(quantiles(times, n=100)[-1], 1),
        "entries_per_s": round(len(rows) / took),
        "lost": WRITERS * EACH - len(rows),
        "faults": len(chain.faults(str(log.pk), rows)),
    }


def _write(log_id: Any, number: int, moment: Any, results: Any) -> None:
    from django.db import connection, transaction

    from ledger import actions
    from ledger.models import Log

    log = Log.objects.get(pk=log_id)
    times = []
    moment.wait()
    for _ in range(EACH):
        act = {**ACT, "id": str(uuid.uuid4()), "writer": number}
        begun = perf_counter()
        with transaction.atomic():
            actions.append(log, "note", act, auth={"how": "session", "ref": f"p-{number}"}, at=FIRST)
        times.append(1000 * (perf_counter() - begun))
    connection.close()
    results.put(times)


def main(database: str) -> None:
    with tempfile.TemporaryDirectory(prefix="lineworthy-bench-") as name:
        install(Path(name), database or f"sqlite:///{name}/bench.sqlite3")
        print(json.dumps(at_once()))


if __name__ == "__main__":
    main(sys.argv[1] if len(sys.argv) > 1 else "")
