"""The phone tells the sag of a return wave as the server does, and refuses what it refuses.

What the formula itself rests on is held to its source in tests/engineering/test_return_wave.py.
"""

from __future__ import annotations

import math
from random import Random
from types import SimpleNamespace
from typing import Any

from engineering.refusal import Refusal
from engineering.return_wave import StopwatchSag, stopwatch_sag
from inspections.stopwatch import ALONE, carried
from tests.phone.node import answers

MANY = 3000


def _tasks() -> list[dict[str, Any]]:
    random = Random(20261126)
    tasks = []
    for at in range(MANY):
        span = random.choice([None, 120.0, 300.0, 850.0])
        returns = random.choice([1, 2, 3, 3, 5, 12, 50, 51])
        sag = random.uniform(0.004, 0.08) * (span or 200.0)
        time = returns * math.sqrt(32 * sag / 9.80665)
        scatter = random.choice([0.0, 0.02, 0.1, 0.5, 2.0])
        times = [round(time + random.gauss(0, scatter), 2) for _one in range(random.randrange(1, 4))]
        if at % 100 == 0:
            times = random.choice([[], [0.0], [5000.0]])
        tasks.append({"task": "sag", "times": times, "returns": returns, "span": span})
    return tasks


def _expected(task: dict[str, Any]) -> dict[str, Any]:
    found = stopwatch_sag(task["times"], task["returns"], span_m=task["span"])
    if isinstance(found, Refusal):
        return {"why": "returns" if found.code == "figure-impossible" else found.code}
    assert isinstance(found, StopwatchSag)
    return {"sag": found.sag_m, "half": found.sag_half_m, "time": found.time_s, "apart": found.apart_s}


def test_the_sag_and_its_width_are_the_servers_or_the_same_is_refused():
    tasks = _tasks()
    known = carried(SimpleNamespace(units="metric"), {})["known"]
    found = answers({**task, "known": known | {"span": task["span"]}} for task in tasks)
    seen = set()
    for task, here in zip(tasks, found, strict=True):
        there = _expected(task)
        seen.add(there.get("why", "sag"))
        if "why" in there:
            assert here["why"] == there["why"], task
            continue
        assert all(math.isclose(here[name], there[name], rel_tol=1e-12, abs_tol=1e-12) for name in there), task
        assert all(f"{here[name]:.2f}" == f"{there[name]:.2f}" for name in ("sag", "half")), task
    assert seen == {"sag", "returns", *ALONE}


def test_the_span_goes_along_from_the_lines_data():
    document = {"length_m": "300", "drop_m": "18"}
    assert carried(SimpleNamespace(units="us"), document)["known"]["span"] == math.sqrt(300**2 - 18**2)
