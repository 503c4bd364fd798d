"""Three control charts of single figures: individuals with moving range, EWMA, CUSUM. Any unit, the same throughout.

Textbook formulas as in the NIST/SEMATECH e-Handbook of Statistical Methods 6.3.2.2 to 6.3.2.4 (READ second-hand, its
printed figures are the tests). Figures come in the order of time. ``breaks`` and ``restarts`` name positions, counted
from nought, *before* which the record was interrupted: no range is taken across a break, and a running sum begins anew
at a restart. A point signals strictly beyond its limit. Every function returns a ``Note`` instead of figures where the
figures given cannot be charted.
"""

from __future__ import annotations

import itertools
import math
import statistics
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from engineering.control_words import Note, note

MEAN_RANGE = 1.128  # mean range of two normal figures in sigmas, rounded as the handbook prints it (d2 = 2/sqrt(pi))
MEDIAN_RANGE = 0.954  # their median range in sigmas (READ jmp.com help; sqrt(2) times the normal's upper quartile)
RANGE_LIMIT = 3.267  # upper limit of the range of two, in mean ranges (handbook 6.3.2.2)
SIGMAS = 3.0
LARGEST = 1e150  # squares and sums of more would overflow


@dataclass(frozen=True)
class Individuals:
    """Chart of individuals. ``signals`` and ``range_signals`` are positions counted from nought.

    ``ranges`` has ``None`` where a range would reach across a break; ``mean_range`` is theirs. ``sigma`` is what the
    limits are made of, and ``floored`` says that the floor (the gauge's scatter) was larger than that of the figures.
    """

    centre: float
    sigma: float
    low: float
    high: float
    ranges: tuple[float | None, ...]
    mean_range: float
    range_high: float
    signals: tuple[int, ...]
    range_signals: tuple[int, ...]
    floored: bool


def individuals(
    values: Sequence[float],
    *,
    breaks: Collection[int] = (),
    robust: bool = False,
    floor: float = 0.0,
    width: float = SIGMAS,
) -> Individuals | Note:
    """Chart single figures about their own mean, with sigma from the ranges of neighbours.

    sigma = mean range / 1.128; ``robust`` takes the median of the figures and sigma = median range / 0.954, which one
    wild figure hardly moves. sigma is never below ``floor``. Limits are centre ± width sigma; the range's is 3.267 mean
    ranges. Needs two neighbours; ``no-scatter`` if sigma would be nought.

    >>> flow = individuals([49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1])
    >>> round(flow.centre, 2), round(flow.mean_range, 4), round(flow.low, 4), round(flow.high, 4), flow.signals
    (50.81, 1.8778, 45.8159, 55.8041, ())
    """
    bad = _values_problem(values) or _not_negative("floor", floor) or _above_nought("width", width)
    if bad:
        return bad
    ranges = moving_ranges(values, breaks)
    found = [one for one in ranges if one is not None]
    if not found:
        return note("baseline-short", count=len(values), needed=2)
    mean_range = math.fsum(found) / len(found)
    scatter = statistics.median(found) / MEDIAN_RANGE if robust else mean_range / MEAN_RANGE
    centre = statistics.median(values) if robust else math.fsum(values) / len(values)
    sigma = max(scatter, floor)
    if not 0.0 < sigma < math.inf:
        return note("no-scatter")
    low, high, range_high = centre - width * sigma, centre + width * sigma, RANGE_LIMIT * mean_range
    return Individuals(
        centre=centre,
        sigma=sigma,
        low=low,
        high=high,
        ranges=ranges,
        mean_range=mean_range,
        range_high=range_high,
        signals=tuple(i for i, value in enumerate(values) if value < low or value > high),
        range_signals=tuple(i for i, one in enumerate(ranges) if one is not None and one > range_high),
        floored=floor > scatter,
    )


def moving_ranges(values: Sequence[float], breaks: Collection[int] = ()) -> tuple[float | None, ...]:
    """Return the distance of each figure from the one before; ``None`` for the first and after a break.

    >>> moving_ranges([1.0, 3.0, 2.0], breaks={2})
    (None, 2.0, None)
    """
    return tuple(None if i == 0 or i in breaks else abs(value - values[i - 1]) for i, value in enumerate(values))


@dataclass(frozen=True)
class Ewma:
    """Exponentially weighted moving averages with the limits of each point, and the limits they settle at."""

    series: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]
    settled_low: float
    settled_high: float
    signals: tuple[int, ...]
    settled_signals: tuple[int, ...]


def ewma(
    values: Sequence[float],
    *,
    centre: float,
    sigma: float,
    weight: float,
    width: float = SIGMAS,
    restarts: Collection[int] = (),
) -> Ewma | Note:
    """Average with the newest figure weighing most: z = weight x + (1 - weight) z', beginning at the centre.

    Limits are centre ± width sigma sqrt(weight / (2 - weight) (1 - (1 - weight)^2i)) at the i-th point since the last
    restart; without the last factor they are the settled ones. ``weight`` is above nought and at most 1.

    >>> ewma([11.0, 13.0, 12.0], centre=10.0, sigma=2.0, weight=0.5).series
    (10.5, 11.75, 11.875)
    """
    bad = _values_problem(values) or _finite("centre", centre) or _above_nought("sigma", sigma)
    bad = bad or _above_nought("weight", weight) or _above_nought("width", width)
    if bad or weight > 1.0:
        return bad or note("setting-impossible", name="weight", value=weight)
    settled = width * sigma * math.sqrt(weight / (2.0 - weight))
    series, spread = [], []
    z, age = centre, 0
    for i, value in enumerate(values):
        if i in restarts:
            z, age = centre, 0
        z += weight * (value - z)
        age += 1
        series.append(z)
        spread.append(settled * math.sqrt(1.0 - (1.0 - weight) ** (2 * age)))
    pairs = list(zip(series, spread, strict=True))
    return Ewma(
        series=tuple(series),
        low=tuple(centre - one for one in spread),
        high=tuple(centre + one for one in spread),
        settled_low=centre - settled,
        settled_high=centre + settled,
        signals=tuple(i for i, (one, wide) in enumerate(pairs) if abs(one - centre) > wide),
        settled_signals=tuple(i for i, (one, _) in enumerate(pairs) if abs(one - centre) > settled),
    )


@dataclass(frozen=True)
class Cusum:
    """Sums of what lies above and below the target. ``low`` is counted upwards too; ``sums`` are plain deviations."""

    high: tuple[float, ...]
    low: tuple[float, ...]
    sums: tuple[float, ...]
    high_signals: tuple[int, ...]
    low_signals: tuple[int, ...]


def cusum(
    values: Sequence[float],
    *,
    target: float,
    slack: float,
    decision: float,
    restarts: Collection[int] = (),
) -> Cusum | Note:
    """Sum what goes beyond the slack on either side, never below nought; a sum above ``decision`` signals.

    high = max(0, high' + x - target - slack), low = max(0, low' + target - slack - x), in the unit of the figures. For
    one side look at its signals alone.

    >>> both = cusum([1.5, 0.5, 0.6, -1.5, -0.5, -0.8], target=0.0, slack=0.5, decision=1.0)
    >>> [round(one, 12) for one in both.high], both.high_signals
    ([1.0, 1.0, 1.1, 0.0, 0.0, 0.0], (2,))
    >>> [round(one, 12) for one in both.low], both.low_signals
    ([0.0, 0.0, 0.0, 1.0, 1.0, 1.3], (5,))
    """
    bad = _values_problem(values) or _finite("target", target) or _not_negative("slack", slack)
    bad = bad or _above_nought("decision", decision)
    if bad:
        return bad
    highs, lows, sums = [], [], []
    high = low = total = 0.0
    for i, value in enumerate(values):
        if i in restarts:
            high = low = total = 0.0
        away = value - target
        high, low, total = max(0.0, high + (away - slack)), max(0.0, low - (away + slack)), total + away
        highs.append(high)
        lows.append(low)
        sums.append(total)
    return Cusum(
        high=tuple(highs),
        low=tuple(lows),
        sums=tuple(sums),
        high_signals=tuple(i for i, one in enumerate(highs) if one > decision),
        low_signals=tuple(i for i, one in enumerate(lows) if one > decision),
    )


def onset(series: Sequence[float], at: int) -> int:
    """Return where the climb of a CUSUM to position ``at`` began: the point after its last nought.

    The usual estimate of when a change came (textbook, from memory). Raises ``IndexError`` for no such position.

    >>> onset([0.0, 0.3, 0.0, 0.4, 1.1], 4)
    3
    """
    first = at if series[at] > 0.0 else at + 1
    while first > 0 and series[first - 1] > 0.0:
        first -= 1
    return min(first, at)


def lag_one(values: Sequence[float]) -> float | Note:
    """Return the correlation of neighbours, sum (y - m)(y' - m) / sum (y - m)²: how much mornings follow each other.

    NIST StRD univariate sets (READ second-hand) have it among their certified values. ``no-scatter`` for equal figures.

    >>> lag_one([10000001.0, 10000003.0, 10000002.0])
    -0.5
    """
    bad = _values_problem(values)
    if bad:
        return bad
    mean = math.fsum(values) / len(values)
    away = [value - mean for value in values]
    total = math.fsum(one * one for one in away)
    if not total > 0.0:
        return note("no-scatter")
    return math.fsum(one * other for one, other in itertools.pairwise(away)) / total


def _values_problem(values: Sequence[float]) -> Note | None:
    if len(values) == 0:
        return note("no-rides")
    for value in values:
        if value is None or math.isnan(value):
            return note("value-missing")
        if abs(value) > LARGEST:
            return note("value-impossible", value=value)
    return None


def _finite(name: str, value: float) -> Note | None:
    return None if math.isfinite(value) else note("setting-impossible", name=name, value=value)


def _not_negative(name: str, value: float) -> Note | None:
    return None if 0.0 <= value < math.inf else note("setting-impossible", name=name, value=value)


def _above_nought(name: str, value: float) -> Note | None:
    return None if 0.0 < value < math.inf else note("setting-impossible", name=name, value=value)
