"""One weather for one morning of the invented season: a cable is not dry on one ride and wet on the next."""

from __future__ import annotations

import math
import random
from dataclasses import dataclass
from datetime import date, timedelta

FELL = 0.11  # share of the mornings on which it rains anew; with what lingers about one morning in six is wet
LINGERED = 0.5
SIDES = ("head", "cross", "tail", "cross")


@dataclass(frozen=True)
class Weather:
    """The state of the cables, the wind in m/s, and from which quarter of the sky (0 to 3) it blows, the air in °C."""

    state: str
    mean: float
    gust: float
    quarter: int
    air_c: float

    def wind_from(self, line: int) -> str:
        """Return from where the rider of a line has the wind: the lines turn a quarter each around the hill."""
        return SIDES[(self.quarter + line) % 4]


def weather_of(on: date, seed: int) -> Weather:
    """Return the weather of a morning: the same for the same seed and date, and often that of the day before."""
    wet = _chance(on, seed, "fell") < FELL or (
        _chance(on - timedelta(days=1), seed, "fell") < FELL and _chance(on, seed, "lingered") < LINGERED
    )
    # Well below the lowest limit of a line: what the season holds a line for is told in its events.
    mean = 0.4 + 1.4 * _chance(on, seed, "mean")
    return Weather(
        state="wet" if wet else "dry",
        mean=mean,
        gust=mean * (1.25 + 0.35 * _chance(on, seed, "gust")),
        quarter=int(4 * _chance(on, seed, "quarter")),
        # Mild at any time of the year: the course operates all year.
        air_c=round(15 - 8 * math.cos(2 * math.pi * on.timetuple().tm_yday / 365) + 6 * _chance(on, seed, "air") - 3),
    )


def _chance(on: date, seed: int, about: str) -> float:
    return random.Random(f"{seed}:{about}:{on.toordinal()}").random()  # noqa: S311 - invented weather, not secrets
