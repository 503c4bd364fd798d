"""From a number of rides to a day: how many rides an open day brings, and which open day to come reaches the number.

Rides come in the unit of the wear forecast (thousands). Days on which the course is closed bring none. The early day
is reckoned with the busiest days (nine of ten bring no more), the middle one with the median day.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from engineering.wear_line import usable
from engineering.wear_words import BEYOND_HORIZON, CYCLES_NEGATIVE, NO_RIDES, OK

OPEN_DAYS = 60  # how far back the rides of an open day are looked at (own judgement)
HORIZON_DAYS = 365  # nothing is told further ahead than a year (own judgement)
ROUNDING = 1e-9  # days: a number reached at the end of a day is reached on that day


@dataclass(frozen=True)
class Pace:
    """Rides of an open day: ``busy`` of the day that nine of ten do not exceed, ``median``; both 0 unless ``ok``."""

    status: str
    busy: float = 0.0
    median: float = 0.0


def pace(per_open_day: Sequence[float | None]) -> Pace:
    """Return how many rides an open day brings, from the last 60 open days in order of time.

    Days without a count are left out. The busy day is the smallest count that at least nine of ten days do not exceed
    (the inverted distribution function, no interpolation); the median is the usual one. Statuses: ``no-rides`` (no
    count, or nought on nine of ten days), ``cycles-negative``, ``ok``.

    >>> pace([0.1, 0.2, 0.3, 0.4, None, 0.5])
    Pace(status='ok', busy=0.5, median=0.3)
    """
    counts = sorted(float(count) for count in per_open_day[-OPEN_DAYS:] if count is not None and usable(count))
    if counts and counts[0] < 0.0:
        return Pace(CYCLES_NEGATIVE)
    n = len(counts)
    busy = counts[-(-9 * n // 10) - 1] if counts else 0.0
    if not busy > 0.0:
        return Pace(NO_RIDES)
    return Pace(OK, busy, (counts[(n - 1) // 2] + counts[n // 2]) / 2.0)


def last_day(today: date) -> date:
    """Return the last day about which anything is told, a year ahead.

    >>> last_day(date(2026, 3, 1))
    datetime.date(2027, 3, 1)
    """
    return today + timedelta(days=HORIZON_DAYS)


def day_of_rides(rides: float, a_day: float, open_days: Sequence[date], today: date) -> tuple[str, date]:
    """Return the open day on which so many rides more will have been carried, or the day up to which they will not.

    ``open_days`` are the days to come in order, today among them if riders are still to come; after the last of them
    nothing is known. (``ok``, day), with today for no rides left; or (``beyond-horizon``, day): not until then.
    ``no-rides`` with today where an open day brings none.

    >>> days = [date(2026, 5, d) for d in (1, 2, 3, 8, 9)]
    >>> day_of_rides(1.0, 0.25, days, date(2026, 5, 1))
    ('ok', datetime.date(2026, 5, 8))
    >>> day_of_rides(1.5, 0.25, days, date(2026, 5, 1))
    ('beyond-horizon', datetime.date(2026, 5, 9))
    """
    if not rides > 0.0:
        return OK, today
    if not a_day > 0.0:
        return NO_RIDES, today
    number = rides / a_day
    end = last_day(today)
    if number <= len(open_days) + ROUNDING:
        day = open_days[max(0, math.ceil(number - ROUNDING) - 1)]
        return (OK, day) if day <= end else (BEYOND_HORIZON, end)
    return BEYOND_HORIZON, min(end, open_days[-1]) if open_days else today
