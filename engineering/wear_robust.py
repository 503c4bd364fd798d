"""A line that one wild reading cannot move, and which reading is wild: a guard beside the least-squares line.

No reading is ever left out because of what is found here. Where the two lines disagree both are shown and somebody
measures again.
"""

from __future__ import annotations

import math
import statistics
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from engineering.wear_line import Point, Straight, fit_line, no_spread, usable
from engineering.wear_words import Untold

WILD = 3.5  # size of a studentised residual that asks for another measurement (common practice, no source)
LEAST = 6  # fewer readings leave the median of slopes to chance (own judgement)
MOST = 2000  # readings; more would need all pairs of them at once


@dataclass(frozen=True)
class MedianLine:
    """The line of the median slope, with the interval of the slope (``low``, ``high``)."""

    slope: float
    intercept: float
    low: float
    high: float

    def reaches(self, level: float) -> float | None:
        """Return the x at which the line is at ``level``; ``None`` if it is level itself."""
        return None if self.slope == 0.0 else (level - self.intercept) / self.slope


def median_line(points: Sequence[Point], *, confidence: float = 0.95) -> MedianLine | Untold:
    """Return the median of all pairwise slopes (Theil 1950), and its interval from Kendall's statistic (Sen 1968).

    The intercept is median(y) - slope median(x). ``confidence`` is one-sided as everywhere here. The interval is made
    of the slopes of rank (N -/+ z sigma)/2, sigma² = (n(n-1)(2n+5) - sum of k(k-1)(2k+5) over ties)/18, N slopes.
    Few points give ranks at the ends, and so the widest interval there is; it is not an answer below six points.
    Untold: ``few-points`` (under two, or more than ``MOST``), ``figure-missing``, ``no-spread``.
    Source: Sen (1968), equation 2.6; checked against its example and scipy.

    >>> found = median_line([(1, 9), (2, 15), (3, 19), (4, 20), (10, 45), (12, 55), (18, 78)], confidence=0.965)
    >>> found.slope, found.intercept, round(found.low, 2), round(found.high, 2)
    (4.0, 4.0, 3.71, 4.38)
    """
    if not 0.5 < confidence < 1.0:
        raise ValueError("0.5 < confidence < 1")
    if not all(usable(value) for point in points for value in point):
        return Untold("figure-missing")
    if not 2 <= len(points) <= MOST:
        return Untold("few-points")
    if no_spread([x for x, _ in points]):
        return Untold("no-spread")
    x, y = np.array([p[0] for p in points], dtype=float), np.array([p[1] for p in points], dtype=float)
    first, second = np.triu_indices(len(x), 1)
    run = x[second] - x[first]
    apart = run != 0.0
    slopes = np.sort((y[second] - y[first])[apart] / run[apart])
    n, count = len(x), len(slopes)
    ties = _ties(x) + _ties(y)
    sigma = math.sqrt(max(0.0, (n * (n - 1.0) * (2.0 * n + 5.0) - ties) / 18.0))
    reach = NormalDist().inv_cdf(confidence) * sigma
    low = max(round((count - reach) / 2.0) - 1, 0)
    high = min(round((count + reach) / 2.0), count - 1)
    slope = float(slopes[(count - 1) // 2] + slopes[count // 2]) / 2.0
    middle_x, middle_y = statistics.median(x.tolist()), statistics.median(y.tolist())
    return MedianLine(slope, middle_y - slope * middle_x, float(slopes[low]), float(slopes[high]))


def _ties(values: np.ndarray[tuple[int], np.dtype[np.float64]]) -> int:
    """Return the sum of k(k-1)(2k+5) over values that occur k times; those that occur once add nothing."""
    return sum(k * (k - 1) * (2 * k + 5) for k in Counter(values.tolist()).values())


@dataclass(frozen=True)
class Wild:
    """The reading that lies furthest off: its place among the points, and its externally studentised residual."""

    index: int
    residual: float

    @property
    def is_wild(self) -> bool:
        """Say whether it lies so far off that it should be measured again."""
        return abs(self.residual) > WILD


def furthest(points: Sequence[Point], *, floor: float = 0.0, line: Straight | None = None) -> Wild | Untold:
    """Return the reading with the largest externally studentised residual, e / (s(i) sqrt(1 - h)).

    s(i)² = (SSE - e²/(1-h)) / (n - 3) is the scatter without that reading, not below ``floor`` (the gauge's), and
    h = 1/n + (x - xbar)²/Sxx its leverage. A reading alone at its end of x (h = 1) has none. The residual is infinite
    if all others lie on one line and there is no floor. ``line`` is the fit of these points, if at hand. Untold: as
    ``fit_line``, and ``few-points`` under four. Source: textbook; checked against statsmodels.

    >>> found = furthest([(0, 12.0), (2, 11.7), (4, 11.5), (6, 9.9), (8, 10.9), (10, 10.6)])
    >>> found.index, round(found.residual, 1), found.is_wild
    (3, -33.2, True)
    """
    fitted = line or fit_line(points)
    if isinstance(fitted, Untold):
        return fitted
    if fitted.df < 2:
        return Untold("few-points")
    found = [Wild(i, _studentised(fitted, x, y, floor)) for i, (x, y) in enumerate(points)]
    return max(found, key=lambda one: abs(one.residual))


def _studentised(line: Straight, x: float, y: float, floor: float) -> float:
    away, left = x - line.x_centre, y - line.at(x)
    free = 1.0 - line.centre_share - away * away / line.sxx
    tiny = 1e-12 * max(1.0, abs(line.y_centre))  # what rounding leaves of figures on one line
    if free <= 1e-9 or abs(left) <= tiny:
        return 0.0
    sse = line.df * line.s * line.s
    others = sse - left * left / free
    s = max(math.sqrt(others / (line.df - 1)) if others > 1e-13 * sse else 0.0, floor)
    return left / (s * math.sqrt(free)) if s > tiny else math.copysign(math.inf, left)
