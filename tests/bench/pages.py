"""Queries and server time of the pages, as the history grows."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from datetime import date, datetime, timedelta
from statistics import median, quantiles
from time import perf_counter, thread_time
from types import SimpleNamespace
from typing import Any

import time_machine

from tests.bench.world import FIRST, inspect, seasons

REQUESTS = 30
MOST_QUERIES, MOST_MS, MOST_GROWTH = 25, 150, 1.2
OWN_MS = {"line today": 250, "ride and stop": 250}  # with the maps and drawings of a line, kept from the first look


def growing(w: SimpleNamespace, years: list[int], season: int) -> Iterator[dict[str, Any]]:
    """Write history year by year and yield one row for each page at each of the sizes.

    How a page grows is told by the time spent computing, which other work on the machine disturbs least.
    """
    from tests import make
    from tests.bench.generator import Pattern, write

    pattern = Pattern.of(w.course, FIRST.date())
    last, first_ms = FIRST.date(), {}
    for size in years:
        begun = perf_counter()
        days = seasons(size, season, after=last)
        made = write(w.course, pattern, days)
        last = days[-1]
        print(f"  {size} years: {made} more entries written in {perf_counter() - begun:.0f} s", flush=True)
        now = FIRST.replace(year=last.year, month=last.month, day=last.day) + timedelta(days=1)
        with time_machine.travel(now, tick=True):
            inspect(w, now, part=2)
            places = make.sections(w, at=now)
            for name, who, address in pages(w, places, now, last):
                row = page(w, name, getattr(w, who), address)
                first_ms.setdefault(name, row["busy_median_ms"])
                yield {**row, "years": size, "growth": round(row["busy_median_ms"] / first_ms[name], 2)}
        last = now.date()


def pages(w: SimpleNamespace, due: list[Any], now: datetime, last: date) -> list[tuple[str, str, str]]:
    from django.urls import reverse

    from courses.models import Placement

    place, section = max(due, key=lambda one: one[1] == "landing")
    course = w.course.pk
    spring = Placement.objects.get(place=w.lines[0], slot="primary-1", until__isnull=True).component_id
    return [
        ("board", "manager", reverse("inspections:board", args=[course])),
        ("walk", "technician", reverse("inspections:walk", args=[course])),
        ("sheet", "technician", reverse("inspections:sheet", args=[course, place.pk, section])),
        ("findings", "manager", reverse("inspections:findings", args=[course])),
        ("history", "auditor", f"{reverse('reports:calendar', args=[course])}?year={last.year}"),
        ("day page", "auditor", reverse("reports:day", args=[course, last])),
        ("part with its wear", "auditor", reverse("reports:component", args=[course, spring])),
        ("parts ahead", "manager", reverse("reports:parts_ahead", args=[course])),
        ("line today", "manager", reverse("inspections:line", args=[course, w.lines[0].pk])),
        ("ride and stop", "engineer", reverse("reports:mechanics", args=[course, w.lines[0].pk])),
    ]


def page(w: SimpleNamespace, name: str, who: Any, address: str) -> dict[str, Any]:
    """Ask for a page again and again; the first answer only warms templates and counts queries."""
    from django.db import connection
    from django.test import Client

    from config import memory

    client = Client()
    client.force_login(who)
    client.get(address)
    asked = 0

    def count(execute: Any, *arguments: Any) -> Any:
        nonlocal asked
        asked += 1
        return execute(*arguments)

    with connection.execute_wrapper(count):
        answer = client.get(address)
    if answer.status_code != 200:
        raise SystemExit(f"{address} answered {answer.status_code}")
    times, busy = [], []
    gc.unfreeze()
    memory.settle()  # as the server does
    for _ in range(REQUESTS):
        begun, worked = perf_counter(), thread_time()
        client.get(address)
        times.append(1000 * (perf_counter() - begun))
        busy.append(1000 * (thread_time() - worked))
    return {
        "page": name,
        "queries": asked,
        "median_ms": round(median(times), 1),
        "p95_ms": round(quantiles(times, n=20)[-1], 1),
        "busy_median_ms": round(median(busy), 1),
        "most_ms": OWN_MS.get(name, MOST_MS),
    }
