"""What a part's readings say about the days to come: by rides and by age, whichever is earlier. Advice, nothing else.

Only readings since the last replacement count. Where a record contradicts itself (rides that go back, a reading of
tomorrow, a part that grew) there is no date until somebody has looked. A fixed service life is not reckoned here; the
smaller of both counts, and the maker's figure is never lengthened.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Generic, TypeVar

from engineering import wear_words as words
from engineering.wear import Forecast, forecast
from engineering.wear_dates import HORIZON_DAYS, day_of_rides, last_day, pace
from engineering.wear_line import usable

CYCLES, AGE = "cycles", "age"
# A record in this state gives no date by either clock; the first that holds is told.
CONTRADICTIONS = (
    words.NO_LIMIT,
    words.GAUGE_IMPOSSIBLE,
    words.AT_LIMIT,
    words.DAY_AHEAD,
    words.CYCLES_NEGATIVE,
    words.CYCLES_BACK,
    words.GREW,
    words.WRONG_SIGN,
)
# Without any date the clock that tells more speaks.
TELLING = (
    words.NO_CLOCK,
    words.NO_DATA,
    words.MARGIN_ONLY,
    words.NO_SPREAD_X,
    words.TWO_POINT,
    words.NO_GAUGE,
    words.NO_RIDES,
    words.NO_WEAR_RESOLVED,
    words.BEYOND_HORIZON,
    words.STALE,
)
Key = TypeVar("Key")


@dataclass(frozen=True)
class Reading:
    """One reading: ``day`` as the ordinal of its date and the share of the day passed, ``size`` in the limit's unit.

    ``cycles`` are the rides the part had carried since it was new, in thousands.
    """

    day: float | None
    size: float | None
    cycles: float | None = None


@dataclass(frozen=True)
class Ahead:
    """Today, the open days to come in order (today if riders are still to come), and the rides of past open days.

    ``cycles`` are the rides the part has carried until now; rides are in thousands.
    """

    today: date
    open_days: Sequence[date] = ()
    per_open_day: Sequence[float | None] = ()
    cycles: float | None = None


@dataclass(frozen=True)
class Outlook:
    """By which clock, from which day on the limit may be reached (``early``), and when it likely will (``middle``).

    ``beyond``: the limit is not told, but lies after this day. Without a day the status says why. ``cycles`` and
    ``age`` are the two forecasts, for drawing.
    """

    status: str
    cycles: Forecast
    age: Forecast
    clock: str | None = None
    early: date | None = None
    middle: date | None = None
    beyond: date | None = None
    notes: tuple[str, ...] = ()

    @property
    def sentence(self) -> str:
        """Return the status in English."""
        return words.STATUS_SENTENCES[self.status]


def since_reset(readings: Iterable[Reading], resets: Sequence[float]) -> list[Reading]:
    """Return the readings taken after the last reset, in order of time; those without a day are kept, at the end.

    A reading at the very instant of a reset is the old part's.

    >>> [one.size for one in since_reset([Reading(12, 11.9), Reading(10, 9.4), Reading(5, 9.9)], [3, 10])]
    [11.9]
    """
    last = max(resets, default=-math.inf)
    kept = [one for one in readings if one.day is None or not usable(one.day) or one.day > last]
    return sorted(kept, key=_when)


def _when(one: Reading) -> tuple[float, float]:
    day, cycles = ((value if value is not None and usable(value) else math.inf) for value in (one.day, one.cycles))
    return day, cycles


def outlook(
    readings: Iterable[Reading],
    limit: float | None,
    direction: int,
    u: float | None,
    ahead: Ahead,
    *,
    resets: Sequence[float] = (),
    confidence: float = 0.95,
) -> Outlook:
    """Return the day before which to measure again, from all readings of a part (also before its replacements).

    The earlier of two forecasts counts: against rides (turned into open days to come) and against age in days. ``u`` is
    the gauge's standard uncertainty. Nothing is told further than a year ahead, nor than twice the observed span.
    Statuses: those of ``wear.forecast``, and ``day-ahead``, ``cycles-negative``, ``cycles-back``, ``stale`` (all that
    could be told has passed), ``no-clock`` (no count of rides), ``no-rides`` (no rides per day). Raises ``ValueError``
    as ``wear.forecast``.

    >>> day = date(2026, 5, 1).toordinal()
    >>> worn = [Reading(day + 10 * k, 12.0 - 0.2 * k + 0.01 * (k % 2), 2.0 * k) for k in range(6)]
    >>> days = [date.fromordinal(day + 50 + k) for k in range(100)]
    >>> found = outlook(worn, 10.0, -1, 0.03, Ahead(days[0], days, [0.2, 0.3, 0.2], 10.0))
    >>> found.status, found.clock, found.early.isoformat()
    ('ok', 'cycles', '2026-07-19')
    """
    kept = since_reset(readings, resets)
    by_cycles = forecast(((one.cycles, one.size) for one in kept), limit, direction, u, confidence=confidence)
    by_age = forecast(
        ((one.day, one.size) for one in kept), limit, direction, u, confidence=confidence, horizon=HORIZON_DAYS
    )
    if by_cycles.n == 0 and by_age.n:
        by_cycles = replace(by_cycles, status=words.NO_CLOCK)
    found = Outlook(words.NO_DATA, by_cycles, by_age)
    wrong = _contradiction(kept, ahead)
    dated = [_dated_by_cycles(by_cycles, ahead), _dated_by_age(by_age, ahead)]
    states = {wrong, *(one.status for one in dated)}
    for status in CONTRADICTIONS:
        if status in states:
            return replace(found, status=status, notes=_notes(by_cycles, by_age))
    with_day = [one for one in dated if one.early is not None]
    if with_day:
        first = min(with_day, key=lambda one: one.early or date.max)
        middles = [one.middle for one in with_day if one.middle is not None]
        notes = _notes(by_cycles, by_age) + ((words.EARLY_PASSED,) if first.passed else ())
        return replace(
            found,
            status=first.status,
            clock=first.clock,
            early=first.early,
            middle=min(middles) if middles else None,
            notes=notes,
        )
    most = max(dated, key=lambda one: TELLING.index(one.status))
    return replace(found, status=most.status, clock=most.clock, beyond=most.beyond, notes=_notes(by_cycles, by_age))


@dataclass(frozen=True)
class _Dated:
    """A forecast by one clock, in days. ``passed``: its early day lies before today."""

    status: str
    clock: str
    early: date | None = None
    middle: date | None = None
    beyond: date | None = None
    passed: bool = False


def _contradiction(kept: Sequence[Reading], ahead: Ahead) -> str | None:
    if any(one.day is not None and usable(one.day) and one.day >= ahead.today.toordinal() + 1 for one in kept):
        return words.DAY_AHEAD
    counts = [one.cycles for one in kept if one.day is not None and usable(one.day)] + [ahead.cycles]
    cycles = [count for count in counts if count is not None and usable(count)]
    if any(count < 0.0 for count in cycles):
        return words.CYCLES_NEGATIVE
    return words.CYCLES_BACK if cycles != sorted(cycles) else None


def _told(found: Forecast) -> tuple[float | None, float | None]:
    """Return the x to act on, or the x up to which nothing is told; neither for a status without one."""
    if found.early is not None and found.horizon is not None and found.early <= found.horizon:
        return found.early, None
    if found.early is not None or found.status == words.BEYOND_HORIZON:
        return None, found.horizon
    if found.not_before is not None and found.horizon is not None:
        return None, min(found.not_before, found.horizon)
    return None, None


def _dated_by_cycles(found: Forecast, ahead: Ahead) -> _Dated:
    goal, bound = _told(found)
    if goal is None and bound is None:
        return _Dated(found.status, CYCLES)
    if ahead.cycles is None or not usable(ahead.cycles):
        return _Dated(words.NO_CLOCK, CYCLES)
    now, speed = ahead.cycles, pace(ahead.per_open_day)
    if bound is not None and bound <= now:
        return _Dated(words.STALE, CYCLES)
    if speed.status != words.OK:
        return _Dated(words.NO_RIDES, CYCLES)
    if goal is None:
        _, day = day_of_rides((bound or 0.0) - now, speed.busy, ahead.open_days, ahead.today)
        return _Dated(_far_status(found), CYCLES, beyond=day)
    state, day = day_of_rides(goal - now, speed.busy, ahead.open_days, ahead.today)
    if state != words.OK:
        return _Dated(words.BEYOND_HORIZON, CYCLES, beyond=day)
    middle = None
    if found.at_limit is not None and speed.median > 0.0:
        state, then = day_of_rides(found.at_limit - now, speed.median, ahead.open_days, ahead.today)
        middle = then if state == words.OK else None
    return _Dated(found.status, CYCLES, day, middle, passed=goal <= now)


def _dated_by_age(found: Forecast, ahead: Ahead) -> _Dated:
    goal, bound = _told(found)
    today, end = ahead.today, last_day(ahead.today)
    if bound is not None:
        if math.floor(bound) <= today.toordinal():
            return _Dated(words.STALE, AGE)
        return _Dated(_far_status(found), AGE, beyond=_day(bound, today, end))
    if goal is None:
        return _Dated(found.status, AGE)
    if math.floor(goal) > end.toordinal():
        return _Dated(words.BEYOND_HORIZON, AGE, beyond=end)
    middle = None
    if found.at_limit is not None and math.floor(found.at_limit) <= end.toordinal():
        middle = _day(found.at_limit, today, end)
    passed = math.floor(goal) < today.toordinal()
    return _Dated(found.status, AGE, _day(goal, today, end), middle, passed=passed)


def _far_status(found: Forecast) -> str:
    return words.NO_WEAR_RESOLVED if found.status == words.NO_WEAR_RESOLVED else words.BEYOND_HORIZON


def _day(ordinal: float, today: date, end: date) -> date:
    return date.fromordinal(min(max(math.floor(ordinal), today.toordinal()), end.toordinal()))


def _notes(by_cycles: Forecast, by_age: Forecast) -> tuple[str, ...]:
    """Return the notes of both forecasts once each, without those about a single clock's days."""
    about_days = {words.EARLY_PASSED, words.HORIZON_PASSED}
    both = dict.fromkeys((*by_cycles.notes, *by_age.notes))
    dropped = {words.DROPPED} if not by_age.dropped else set()  # without a count of rides only
    return tuple(note for note in both if note not in about_days | dropped)


@dataclass(frozen=True)
class Due(Generic[Key]):
    """A part to act on: ``why`` is ``limit`` (at it), ``look`` (measure now) or ``due`` (by the ``early`` day)."""

    key: Key
    why: str
    early: date | None = None


AT_LIMIT, LOOK, DUE = "limit", "look", "due"
DUE_SENTENCES = {
    AT_LIMIT: "At its limit or past it.",
    LOOK: "The readings do not fit together or are too old: look at the record, measure now.",
    DUE: "May reach its limit; measure again before this day and have the spare ready.",
}
_LOOK = (words.DAY_AHEAD, words.CYCLES_NEGATIVE, words.CYCLES_BACK, words.GREW, words.WRONG_SIGN, words.STALE)


def parts_ahead(outlooks: Mapping[Key, Outlook], until: date) -> list[Due[Key]]:
    """Return the parts that may reach their limit up to a day: those at it, those to look at now, the others by day.

    ``until`` is, say, the thirtieth open day to come. Parts about which too little is known are not among them: their
    status says so on their own page.

    >>> parts_ahead({}, date(2026, 5, 1))
    []
    """
    found: list[Due[Key]] = []
    for key, one in outlooks.items():
        if one.status == words.AT_LIMIT:
            found.append(Due(key, AT_LIMIT))
        elif one.status in _LOOK:
            found.append(Due(key, LOOK))
        elif one.early is not None and one.early <= until:
            found.append(Due(key, DUE, one.early))
    rank = (AT_LIMIT, LOOK, DUE)
    return sorted(found, key=lambda due: (rank.index(due.why), due.early or date.min))
