"""Twenty good mornings and a line's chart, for the tests of control."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

from engineering.control import follow
from engineering.control_residual import STROKE, MorningRide, Plan

FIRST = datetime(2026, 4, 1, 8, 30, tzinfo=UTC)
PLAN = Plan(STROKE, 79.0, 81.0, -3.0, 3.0, charts=12)
BOTH = replace(PLAN, both_sides=True)
FORTNIGHT = [
    -0.25,
    -0.05,
    0.0,
    0.15,
    -0.1,
    0.3,
    0.4,
    -0.2,
    -0.35,
    0.15,
    0.35,
    -0.15,
    0.1,
    0.05,
    -0.3,
    -0.4,
    0.2,
    0.1,
    -0.2,
    0.25,
]
SCATTER = [
    *FORTNIGHT,
]
GOOD = [2.0 + one for one in SCATTER]  # twenty mornings


def model(ride):
    return 2.0


def at(day):
    return FIRST + timedelta(days=day)


def rides(strokes, first=0, **others):
    return [MorningRide(at(first + i), stroke, 80.0, 0.5, 12.0, **others) for i, stroke in enumerate(strokes)]


def today(day):
    return at(day).date()


def run(strokes, marks=(), plan=PLAN, **others):
    return follow(rides(strokes), marks, plan, model, today=today(len(strokes) - 1), **others)
