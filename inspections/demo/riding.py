"""How the ballast of the invented season runs: computed from the lines' mechanics, with a little scatter laid on it.

The invented lines behave as their mechanics say, but for what every real line has besides: a slightly other drag, a
gust on the way, a reading rounded to the mark. Line 5's brake gets weaker in the last weeks of the season, slowly.
"""

from __future__ import annotations

import random
from collections.abc import Mapping
from functools import lru_cache
from typing import Any

from courses.mechanics import plan_of
from engineering.envelope import Plan, outcome
from engineering.refusal import Refusal
from inspections.demo.course import LINES
from inspections.demo.mechanics import MECHANICS

TRUE_DRAG = 0.97  # what the lines' drag area is in truth, as a share of what is entered
TRAVEL_SCATTER, SPEED_SCATTER_MPS = 0.015, 0.08
GUSTS_MPS = 0.15
WEAKER = {5: 0.005}  # share of the travel that each of the last mornings adds, by line
WEAKER_DAYS = 16


@lru_cache(maxsize=64)
def _plan(number: int, air_c: float, cross_mps: float, arrangement: str) -> Plan | None:
    described = next(one for one in LINES if one.number == number)
    mechanics = MECHANICS.get(number)
    if mechanics is None:
        return None
    true = {**mechanics, "rider": {**mechanics["rider"]}}
    true["rider"]["drag_area_m2"] = f"{float(mechanics['rider']['drag_area_m2']) * TRUE_DRAG:.4f}"
    made = plan_of(described.document, true, air_c=air_c, cross_mps=cross_mps, arrangement_of=arrangement)
    if isinstance(made, Refusal):
        raise TypeError(f"line {number} of the demo: {made.sentence}")
    return made


def run(
    number: int, mass_kg: float, wind: Mapping[str, Any], *, air_c: float, days_left: int, rng: random.Random
) -> dict[str, float] | None:
    """Return speed in m/s and travel in m of one ballast, ``None`` for a line without mechanics.

    ``wind``: what was entered of the ride: ``wind`` in m/s, ``wind_from``, ``kind``. Raises ``TypeError`` where the
    ballast would not arrive: the invented season is made so that it does.
    """
    speed = max(float(wind["wind"]) + rng.gauss(0, GUSTS_MPS), 0.0)
    along = {"head": speed, "tail": -speed}.get(str(wind["wind_from"]), 0.0)
    cross = round(speed, 1) if wind["wind_from"] == "cross" else 0.0
    plan = _plan(number, air_c, cross, "emergency-alone" if wind["kind"] == "emergency" else "new")
    if plan is None:
        return None
    found = outcome(plan, mass_kg, along)
    if isinstance(found, Refusal) or not bool(found.ride.arrived):
        raise TypeError(f"line {number} of the demo: a ballast of {mass_kg} kg does not arrive at {along} m/s")
    weaker = 1.0 + WEAKER.get(number, 0.0) * max(WEAKER_DAYS - days_left, 0)
    begins = min(part.start_m for part in plan.parts)  # an emergency brake by itself is met later in the zone
    return {
        "arrival.speed": float(found.ride.arrival_mps) + rng.gauss(0, SPEED_SCATTER_MPS),
        "stroke.used": (float(found.stop.stroke_m) - begins) * weaker * (1 + rng.gauss(0, TRAVEL_SCATTER)),
    }
