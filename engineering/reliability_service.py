"""When the service life of a part ends: the first of its clocks, cycles, age and wear.

Never later than any of them, so never later than the maker's figure. A clock that is set but whose figure is missing
makes the whole answer unknown: the missing one could have been the first. It plans and warns; what is past its limit is
taken out of service elsewhere, by one comparison.
"""

from __future__ import annotations

import calendar
import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from engineering.reliability_words import Note, note

CYCLES, AGE, WEAR = "cycles", "age", "wear"
QUANTILE = 0.9  # of riders per operating day, for the early date (dossier)
WINDOW = 60  # operating days that tell how many riders to expect


@dataclass(frozen=True)
class Cycles:
    """A limit of cycles and the count so far. ``riders_per_day`` of past operating days, the latest last."""

    limit: float | None
    done: float | None
    riders_per_day: Sequence[float]
    operating_days: Sequence[date]  # to come, in order


@dataclass(frozen=True)
class Age:
    """A limit of age in calendar months since first use or manufacture, as the maker counts it."""

    limit_months: int | None
    since: date | None


@dataclass(frozen=True)
class Wear:
    """The early date of the wear forecast, ``None`` where it gives none; ``at_limit`` when it is already there."""

    early: date | None
    at_limit: bool = False


@dataclass(frozen=True)
class Clock:
    """How one clock stands: when it ends (``None`` if untold), whether it has, and why there is no date."""

    name: str
    ends: date | None = None
    reached: bool = False
    note: Note | None = None


@dataclass(frozen=True)
class ServiceLife:
    """The whole answer. ``ends`` and ``first`` are there with ``life-ends`` only.

    ``status`` is one of life-reached, life-unknown, life-ends, life-not-soon, life-no-clock.
    """

    status: Note
    ends: date | None
    first: str | None
    clocks: tuple[Clock, ...]


def service_life(
    today: date, *, cycles: Cycles | None = None, age: Age | None = None, wear: Wear | None = None
) -> ServiceLife:
    """Return when the first clock ends. A clock that is ``None`` is not set for this part.

    >>> found = service_life(date(2026, 5, 4), age=Age(60, date(2022, 3, 31)), wear=Wear(date(2027, 6, 1)))
    >>> found.status.code, found.first, found.ends
    ('life-ends', 'age', datetime.date(2027, 3, 31))
    """
    clocks = []
    if cycles is not None:
        clocks.append(cycle_clock(today, cycles))
    if age is not None:
        clocks.append(age_clock(today, age))
    if wear is not None:
        clocks.append(Clock(WEAR, None if wear.at_limit else wear.early, wear.at_limit))
    return life_by(clocks)


def life_by(clocks: Sequence[Clock]) -> ServiceLife:
    """Return the whole answer from clocks that were reckoned already.

    >>> life_by([Clock(WEAR, date(2027, 6, 1)), Clock(AGE, note=note("clock-missing", clock=AGE))]).status.code
    'life-unknown'
    """
    status, first = _status(clocks)
    return ServiceLife(status, first.ends if first else None, first.name if first else None, tuple(clocks))


def _status(clocks: Sequence[Clock]) -> tuple[Note, Clock | None]:
    if not clocks:
        return note("life-no-clock"), None
    if any(clock.reached for clock in clocks):
        return note("life-reached"), None
    for clock in clocks:
        if clock.note is not None and clock.note.code != "clock-beyond":
            return note("life-unknown", clock=clock.name), None
    dated = [clock for clock in clocks if clock.ends is not None]
    if not dated:
        return note("life-not-soon"), None
    first = min(dated, key=lambda clock: clock.ends or date.max)
    return note("life-ends", clock=first.name), first


def cycle_clock(today: date, cycles: Cycles) -> Clock:
    """Return when the limit of cycles is reached, on the early side: at the 0.9 quantile of riders per operating day.

    The date is the operating day, today counted, on which the sum passes what is left; ``clock-beyond`` if the days
    known do not suffice, ``clock-no-rides`` without counts of riders. Reached at the limit itself.
    """
    for value in (cycles.limit, cycles.done):
        if value is None or math.isnan(value):
            return Clock(CYCLES, note=note("clock-missing", clock=CYCLES))
    if cycles.limit is None or cycles.done is None or not 0.0 < cycles.limit < math.inf or cycles.done < 0.0:
        return Clock(CYCLES, note=note("clock-impossible", clock=CYCLES))
    if cycles.done >= cycles.limit:
        return Clock(CYCLES, reached=True)
    recent = sorted(cycles.riders_per_day[-WINDOW:])
    if any(not 0.0 <= one < math.inf for one in recent):
        return Clock(CYCLES, note=note("clock-impossible", clock=CYCLES))
    # The figure at or above the quantile, never between two: the early side.
    rate = recent[math.ceil(QUANTILE * len(recent)) - 1] if recent else 0.0
    if rate <= 0.0:
        return Clock(CYCLES, note=note("clock-no-rides"))
    coming = [day for day in cycles.operating_days if day >= today]
    needed = (cycles.limit - cycles.done) / rate
    if needed > len(coming):
        return Clock(CYCLES, note=note("clock-beyond"))
    return Clock(CYCLES, coming[math.ceil(needed) - 1])


def age_clock(today: date, age: Age) -> Clock:
    """Return when the limit of age is reached: so many calendar months on, the last of a shorter month."""
    if age.limit_months is None or age.since is None:
        return Clock(AGE, note=note("clock-missing", clock=AGE))
    if age.limit_months < 1 or age.since > today:
        return Clock(AGE, note=note("clock-impossible", clock=AGE))
    ends = months_after(age.since, age.limit_months)
    if ends is None:
        return Clock(AGE, note=note("clock-impossible", clock=AGE))
    return Clock(AGE, reached=True) if today >= ends else Clock(AGE, ends)


def months_after(day: date, months: int) -> date | None:
    """Return the day so many calendar months later, the month's last where it is shorter; ``None`` after year 9999.

    >>> months_after(date(2024, 1, 31), 1), months_after(date(2024, 12, 5), 12)
    (datetime.date(2024, 2, 29), datetime.date(2025, 12, 5))
    """
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    if not date.min.year <= year <= date.max.year:
        return None
    return date(year, month + 1, min(day.day, calendar.monthrange(year, month + 1)[1]))
