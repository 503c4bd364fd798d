"""How the ballast of the invented season runs: computed from the lines' mechanics, with a little scatter laid on it.

The invented lines behave as their mechanics say, but for what every real line has besides: a slightly other drag, a
gust on the way, a reading rounded to the mark. Line 5's brake gets weaker in the last weeks of the season, slowly.
All mornings of a line are computed at once, because one by one they would take most of a load.
"""

from __future__ import annotations

import random
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import NamedTuple

import numpy as np

from courses.mechanics import plan_of
from engineering.envelope import outcome
from engineering.line import Air
from engineering.refusal import Refusal
from inspections.demo.course import LINES
from inspections.demo.mechanics import MECHANICS
from inspections.demo.weather import weather_of

TRUE_DRAG = 0.97  # what the lines' drag area is in truth, as a share of what is entered
TRAVEL_SCATTER, SPEED_SCATTER_MPS = 0.015, 0.08
GUSTS_MPS = 0.05
WEAKER = {5: 0.004}  # share of the travel that each of the last mornings adds, by line
WEAKER_DAYS = 22
ARRANGEMENT = {"normal": "new", "emergency": "emergency-alone"}


class Wind(NamedTuple):
    """The wind at one ride: as it is read and entered, from where, and what it was in truth, in m/s."""

    read: str
    side: str
    true_mps: float


@dataclass
class Runs:
    """What becomes of the ballast on every morning from ``first`` on, by line."""

    first: date
    days: int
    seed: int
    _tables: dict[tuple[int, str], dict[tuple[date, str], tuple[float, float]]] = field(default_factory=dict)

    def wind(self, number: int, on: date, mass: str) -> Wind:
        """Return the wind at the ride of a ballast: the same whenever it is asked for."""
        rng = random.Random(f"{self.seed}:wind:{number}:{mass}:{on.toordinal()}")  # noqa: S311 - invented, no secrets
        weather = weather_of(on, self.seed)
        read = f"{weather.mean * rng.uniform(0.8, 1.25):.1f}"
        return Wind(read, weather.wind_from(number), max(float(read) + rng.gauss(0, GUSTS_MPS), 0.0))

    def run(
        self, number: int, on: date, mass: str, kind: str, *, days_left: int, rng: random.Random
    ) -> dict[str, float] | None:
        """Return speed in m/s and travel in m of one ballast, ``None`` for a line without mechanics.

        Raises ``TypeError`` where the ballast would not arrive: the invented season is made so that it does.
        """
        if number not in MECHANICS:
            return None
        if (number, kind) not in self._tables:
            self._tables[number, kind] = self._table(number, kind)
        speed, travel = self._tables[number, kind][on, mass]
        if not np.isfinite(speed + travel):
            raise TypeError(f"line {number} of the demo: a ballast of {mass} kg is not stopped on {on}")
        weaker = 1.0 + WEAKER.get(number, 0.0) * max(WEAKER_DAYS - days_left, 0)
        return {
            "arrival.speed": speed + rng.gauss(0, SPEED_SCATTER_MPS),
            "stroke.used": travel * weaker * (1 + rng.gauss(0, TRAVEL_SCATTER)),
        }

    def _table(self, number: int, kind: str) -> dict[tuple[date, str], tuple[float, float]]:
        """Return speed and travel by day and posted weight; ``nan`` where the ballast is not stopped."""
        document = next(one for one in LINES if one.number == number).document
        rows = [
            (self.first + timedelta(days=n), document[name])
            for n in range(self.days + 1)
            for name in ("mass_min_kg", "mass_max_kg")
        ]
        winds = [self.wind(number, on, mass) for on, mass in rows]
        airs = np.array([weather_of(on, self.seed).air_c for on, _mass in rows], float)
        plan = plan_of(
            document, _true(MECHANICS[number]), air_c=float(airs[0]), cross_mps=0.0, arrangement_of=ARRANGEMENT[kind]
        )
        if isinstance(plan, Refusal):
            raise TypeError(f"line {number} of the demo: {plan.sentence}")
        found = outcome(
            plan,
            np.array([float(mass) for _on, mass in rows]),
            np.array([{"head": one.true_mps, "tail": -one.true_mps}.get(one.side, 0.0) for one in winds]),
            cross_mps=np.array([one.true_mps if one.side == "cross" else 0.0 for one in winds]),
            air=Air(airs, plan.air.pressure_pa),
        )
        if isinstance(found, Refusal):
            raise TypeError(f"line {number} of the demo: {found.sentence}")
        begins = min(part.start_m for part in plan.parts)  # an emergency brake by itself is met later in the zone
        return {
            row: (float(speed), float(travel) - begins)
            for row, speed, travel in zip(rows, found.ride.arrival_mps, found.stop.stroke_m, strict=True)
        }


def _true(mechanics: Mapping[str, object]) -> dict[str, object]:
    """Return the mechanics as the line has them in truth."""
    rider = dict(mechanics["rider"])  # type: ignore[call-overload]
    rider["drag_area_m2"] = f"{float(rider['drag_area_m2']) * TRUE_DRAG:.4f}"
    return {**mechanics, "rider": rider}
