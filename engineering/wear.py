"""When a wearing part reaches its limit: one forecast from one part's readings since it was new. Advice, nothing else.

x is what the part wears with (thousands of rides, or days), y what is measured, both in the units of the caller. The
**early** value is the one to act on: measure again before it. It is the end on the near side of Fieller's interval, one
sided 95 %, for a new reading (q = 1). The forecast says by name when there is none. It never frees a part, never
lengthens a maker's or a law's figure, and the limit itself is judged elsewhere by one comparison; the maker, the
designer of record and local law decide.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from statistics import NormalDist
from typing import Any

from engineering import wear_words as words
from engineering.wear_line import (
    Crossing,
    Point,
    Straight,
    cross_level,
    fieller_g,
    fit_line,
    no_spread,
    student,
    usable,
)
from engineering.wear_robust import LEAST, MOST, MedianLine, furthest, median_line
from engineering.wear_shape import Step, unrecorded_step
from engineering.wear_words import Untold

FALLING, RISING = -1, 1
HORIZON_SPANS = 2.0  # times the observed span; further ahead nothing is told (own judgement)
WEAK_G = 0.2  # from here on the interval is so lopsided that only its early end is shown (own judgement)
GAP_SHARE = 0.5  # of the span without a reading
ROUNDING = 1e-9  # of the largest size: a smaller scatter is what floating point leaves of points on one line


@dataclass(frozen=True)
class Forecast:
    """What the readings tell. A value that the status does not have is ``None``; ``notes`` are codes of ``wear_words``.

    ``margin`` is the way from the last reading to the limit (negative past it), ``rate`` the change of y per x,
    ``rate_half`` the band of a rate from two readings, ``rate_most`` the fastest wear that readings without a trend
    allow, ``not_before`` the x that it leads to. ``at_limit``, ``early`` and ``late`` are x values, ``horizon`` the x
    up to which anything may be told, ``s_used`` the scatter with the gauge's floor. ``line`` is for drawing; ``median``
    is the line that one reading cannot move, ``median_at_limit`` where it meets the limit. ``wild`` and ``step`` are
    places among the sorted points. ``dropped`` readings were missing or not figures.
    """

    status: str
    n: int
    dropped: int = 0
    notes: tuple[str, ...] = ()
    margin: float | None = None
    rate: float | None = None
    rate_half: float | None = None
    rate_most: float | None = None
    not_before: float | None = None
    at_limit: float | None = None
    early: float | None = None
    late: float | None = None
    g: float | None = None
    s_used: float | None = None
    horizon: float | None = None
    line: Straight | None = None
    median: MedianLine | None = None
    median_at_limit: float | None = None
    wild: int | None = None
    step: int | None = None

    @property
    def sentence(self) -> str:
        """Return the status in English."""
        return words.STATUS_SENTENCES[self.status]

    @property
    def note_sentences(self) -> list[str]:
        """Return the notes in English."""
        return [words.NOTE_SENTENCES[note] for note in self.notes]


@dataclass(frozen=True)
class _Asked:
    """What is asked of the points, checked."""

    limit: float
    direction: int
    u: float | None
    confidence: float
    q: float
    horizon: float | None
    origin: Point | None


def forecast(
    readings: Iterable[tuple[float | None, float | None]],
    limit: float | None,
    direction: int,
    u: float | None = None,
    *,
    confidence: float = 0.95,
    q: float = 1.0,
    horizon: float | None = None,
    origin: Point | None = None,
) -> Forecast:
    """Return when y reaches ``limit``, from (x, y) readings of one part since it was new.

    ``direction`` is -1 for a size that falls, +1 for one that rises; ``u`` the gauge's standard uncertainty
    (``wear_gauge.gauge_u``), below which the scatter never counts; ``q`` as in ``wear_line.cross_level``; ``horizon``
    how far past the last reading anything may be told, at most twice the observed span; ``origin`` a point through
    which the line has to go (nothing worn when new). Readings are sorted by x. Statuses, the first that holds:
    ``no-limit``, ``gauge-impossible``, ``no-start``, ``no-data``, ``already-at-limit`` (the last reading; of several at
    one x the worst), ``margin-only`` (1), ``no-spread-x``, ``two-point`` (rate, band 2 sqrt2 u/dx, no date),
    ``no-gauge`` (points on a line, u unknown), ``wrong-sign`` (with g < 1), ``grew`` (one step against the wear),
    ``no-wear-resolved`` (g >= 1), ``weak`` (1 degree of freedom, or g > 0.2), ``beyond-horizon``, ``ok``. Raises
    ``ValueError`` for a direction, confidence, q or horizon that is none. Source: textbook formulas as in
    ``wear_line``; borders between statuses are own judgement.

    >>> found = forecast([(0, 12.0), (2, 11.7), (4, 11.5), (6, 11.1), (8, 10.9), (10, 10.6)], 9.0, FALLING)
    >>> found.status, round(found.rate, 3), round(found.at_limit, 4), round(found.early, 4)
    ('ok', -0.14, 21.4286, 20.003)
    """
    if direction not in (FALLING, RISING):
        raise ValueError("direction is -1 or +1")
    if not 0.5 < confidence < 1.0 or not 0.0 <= q <= 1.0 or (horizon is not None and not horizon >= 0.0):
        raise ValueError("0.5 < confidence < 1, 0 <= q <= 1, horizon >= 0")
    seen = list(readings)
    kept = [(float(x), float(y)) for x, y in seen if x is not None and y is not None and usable(x) and usable(y)]
    points = sorted(kept, key=lambda point: point[0])
    n, dropped = len(points), len(seen) - len(points)
    notes: tuple[str, ...] = (words.DROPPED,) if dropped else ()
    if limit is None or not usable(limit):
        return Forecast(words.NO_LIMIT, n, dropped, notes)
    if u is not None and not (usable(u) and u >= 0.0):
        return Forecast(words.GAUGE_IMPOSSIBLE, n, dropped, notes)
    if origin and not all(usable(value) for value in origin):
        return Forecast(words.NO_START, n, dropped, notes)
    if not points:
        return Forecast(words.NO_DATA, n, dropped, notes)
    if not u:
        notes += (words.GAUGE_MISSING,)
    asked = _Asked(float(limit), direction, float(u) if u else None, confidence, q, horizon, origin)
    margin = min((asked.limit - y) * direction for x, y in points if x == points[-1][0])
    if margin <= 0.0:
        return Forecast(words.AT_LIMIT, n, dropped, notes, margin)
    known = [*points, *([origin] if origin else [])]
    if len(known) == 1:
        return Forecast(words.MARGIN_ONLY, n, dropped, notes, margin)
    if no_spread([x for x, _ in known]):
        return Forecast(words.NO_SPREAD_X, n, dropped, notes, margin)
    if len(known) == 2:
        return _two(sorted(known), asked, Forecast(words.TWO_POINT, n, dropped, notes, margin))
    return _fitted(points, asked, Forecast(words.OK, n, dropped, notes, margin))


def _with(found: Forecast, status: str, notes: tuple[str, ...] = (), **more: Any) -> Forecast:
    return replace(found, status=status, notes=found.notes + notes, **more)


def _two(points: Sequence[Point], asked: _Asked, found: Forecast) -> Forecast:
    """Give a rate only together with its band, +/- 2 sqrt 2 u / dx."""
    (x0, y0), (x1, y1) = points
    if asked.u is None:
        return found
    step = unrecorded_step(points, asked.direction, asked.u)
    notes = (words.GREW_ONCE,) if isinstance(step, Step) else ()
    half = 2.0 * math.sqrt(2.0) * asked.u / (x1 - x0)
    return _with(found, words.TWO_POINT, notes, rate=(y1 - y0) / (x1 - x0), rate_half=half)


def _fitted(points: Sequence[Point], asked: _Asked, found: Forecast) -> Forecast:
    line = fit_line(points, asked.origin)
    if isinstance(line, Untold):
        return _with(found, words.NO_SPREAD_X)
    s = max(line.s, asked.u or 0.0)
    if asked.u is None and s <= ROUNDING * max(abs(y) for _, y in points):
        return _with(found, words.NO_GAUGE)
    t = student(asked.confidence, line.df)
    g = fieller_g(line, s, t)
    first, last = min(points[0][0], line.x_centre), points[-1][0]
    span = HORIZON_SPANS * (last - first)
    horizon = last + (span if asked.horizon is None else min(span, asked.horizon))
    found = _with(found, words.OK, _notes(points, line, s), g=g, s_used=s, horizon=horizon, line=line)
    crossing = cross_level(line, asked.limit, confidence=asked.confidence, q=asked.q, s=s)
    found = _compared(points, line, asked, found, crossing)
    if not isinstance(crossing, Untold) and line.slope * asked.direction < 0.0:
        return _with(found, words.WRONG_SIGN)
    step = unrecorded_step(points, asked.direction, asked.u)
    if isinstance(step, Step):
        found = _with(found, words.GREW, step=step.index)
        if step.df:
            return found
        found = _with(found, words.OK, (words.GREW_ONCE,))
    if isinstance(crossing, Untold):
        return _unresolved(line, asked, found, last, horizon)
    return _dated(line, asked, found, crossing, last, horizon)


def _notes(points: Sequence[Point], line: Straight, s: float) -> tuple[str, ...]:
    xs = [x for x, _ in points]
    widest = max((after - before for before, after in pairwise(xs)), default=0.0)
    gap = (words.GAP,) if widest > GAP_SHARE * (xs[-1] - xs[0]) else ()
    return gap + ((words.FLOORED,) if s > line.s else ())


def _unresolved(line: Straight, asked: _Asked, found: Forecast, last: float, horizon: float) -> Forecast:
    """Say how fast the part can wear at most: its slope plus z u / sqrt(Sxx), or t s / sqrt(Sxx) if that is more.

    z is taken as tables print it, 1.645 at 95 %.
    What that leads to is told only where the scatter is the gauge's own (readings that the gauge cannot tell apart):
    then the bound rests on something known, else only on a scatter nobody explains.
    """
    z, t = round(NormalDist().inv_cdf(asked.confidence), 3), student(asked.confidence, line.df)
    reach = max(z * (asked.u or 0.0), t * line.s) / math.sqrt(line.sxx)
    most = max(0.0, line.slope * asked.direction) + reach
    left = (asked.limit - line.y_centre) * asked.direction
    if asked.u is None or line.s > asked.u or not most > 0.0:
        return _with(found, words.NO_WEAR_RESOLVED, rate_most=most)
    until = line.x_centre + left / most
    if until <= last:
        return _with(found, words.NO_WEAR_RESOLVED, (words.EARLY_PASSED,), rate_most=most)
    notes = (words.HORIZON_PASSED,) if until > horizon else ()
    return _with(found, words.NO_WEAR_RESOLVED, notes, rate_most=most, not_before=until)


def _dated(line: Straight, asked: _Asked, found: Forecast, crossing: Crossing, last: float, horizon: float) -> Forecast:
    weak = line.df == 1 or crossing.g > WEAK_G
    if crossing.early > horizon and not weak:
        return _with(found, words.BEYOND_HORIZON, rate=line.slope)
    notes: tuple[str, ...] = (words.EARLY_PASSED,) if crossing.early <= last else ()
    if crossing.early > horizon:
        notes += (words.HORIZON_PASSED,)
    return _with(
        found,
        words.WEAK if weak else words.OK,
        notes,
        rate=line.slope,
        at_limit=crossing.x,
        early=crossing.early,
        late=None if weak else crossing.late,
        median_at_limit=_reached(found.median, asked),
    )


def _compared(
    points: Sequence[Point], line: Straight, asked: _Asked, found: Forecast, crossing: Crossing | Untold
) -> Forecast:
    """Note a wild reading, a step, and a median line that tells something else; nothing is left out for it."""
    wild = furthest(points, floor=asked.u or 0.0, line=line if asked.origin is None else None)
    which = None if isinstance(wild, Untold) or not wild.is_wild else wild.index
    notes: tuple[str, ...] = () if which is None else (words.OUTLIER,)
    median = median_line(points, confidence=asked.confidence) if LEAST <= len(points) <= MOST else None
    if median is None or isinstance(median, Untold) or asked.origin is not None:
        return _with(found, found.status, notes, wild=which)
    if _differs(median, asked, crossing):
        notes += (words.DIFFERS,)
    return _with(found, found.status, notes, wild=which, median=median)


def _reached(median: MedianLine | None, asked: _Asked) -> float | None:
    """Return where the median line meets the limit, if it goes towards it."""
    return median.reaches(asked.limit) if median and median.slope * asked.direction > 0.0 else None


def _differs(median: MedianLine, asked: _Asked, crossing: Crossing | Untold) -> bool:
    """Say whether the median line tells something else than the fitted one does within its own early side."""
    if isinstance(crossing, Untold):
        return min(median.low * asked.direction, median.high * asked.direction) > 0.0
    there = median.reaches(asked.limit)
    return there is None or abs(there - crossing.x) > crossing.x - crossing.early
