"""A straight line by least squares, its bands, and where it meets a level: textbook formulas, written for few points.

x is whatever a part wears with (thousands of rides, days), y what is measured; the result carries their units. Sums
are taken about the mean and without loss (``math.fsum``), so that figures far from nought lose nothing (NIST StRD
Norris, certified values). A library is not asked because of its answers to few points: a standard error of nought from
two, an exception from equal x (seen with scipy 1.17.1).

``confidence`` is one-sided throughout: 0.95 gives the ends of the two-sided 90 % interval, 0.975 those of 95 %.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache

from scipy.special import stdtrit

from engineering.wear_words import Untold

LARGEST = 1e9  # beyond this nothing is a size in mm, a day or a count of rides; squares stay far from overflow
SAME = 1e-12  # of the largest x: closer than this, points lie at one place

Point = tuple[float, float]


@lru_cache(maxsize=512)
def student(confidence: float, df: float) -> float:
    """Return Student's t: the chance of a value below it is ``confidence``, with ``df`` degrees of freedom.

    Source: textbook; scipy's inverse of the distribution. Raises ``ValueError`` unless 0.5 <= confidence < 1, df > 0.

    >>> round(student(0.95, 4), 4), round(student(0.975, 1), 4)
    (2.1318, 12.7062)
    """
    if not 0.5 <= confidence < 1.0 or not df > 0.0:
        raise ValueError("0.5 <= confidence < 1 and df > 0")
    return float(stdtrit(df, confidence))


def usable(value: float | None) -> bool:
    """Say whether a figure can be computed with: there, finite, and of a size that occurs.

    >>> usable(12.0), usable(None), usable(math.nan), usable(1e12)
    (True, False, False, False)
    """
    return value is not None and math.isfinite(value) and abs(value) <= LARGEST


@dataclass(frozen=True)
class Straight:
    """A fitted line y = intercept + slope x.

    ``s`` is the standard deviation of the residuals (``df`` degrees of freedom), ``sxx`` the sum of squares of x about
    ``x_centre``, ``centre_share`` what the height of the line at the centre adds to variances: 1/n, or 0 where the line
    is held at a fixed point, which then is the centre. ``r_squared`` is taken about the centre.
    """

    n: int
    slope: float
    intercept: float
    s: float
    df: int
    sxx: float
    x_centre: float
    y_centre: float
    centre_share: float
    r_squared: float

    @property
    def se_slope(self) -> float:
        """Return the standard error of the slope, s / sqrt(Sxx)."""
        return self.s / math.sqrt(self.sxx)

    @property
    def se_intercept(self) -> float:
        """Return the standard error of the line's height at x = 0: s sqrt(share + centre² / Sxx)."""
        return self.s * math.sqrt(self.centre_share + self.x_centre * self.x_centre / self.sxx)

    def at(self, x: float) -> float:
        """Return the height of the line at x."""
        return self.y_centre + self.slope * (x - self.x_centre)

    def half_width(self, x: float, *, confidence: float = 0.95, q: float = 1.0, s: float | None = None) -> float:
        """Return half the width of the band at x: t s sqrt(q + 1/n + (x - xbar)² / Sxx).

        q = 0 is the band of the line, 1 that of one new reading, 1/m that of the mean of m readings. ``s`` replaces the
        residual scatter (a gauge's floor). Source: textbook.
        """
        used = self.s if s is None else s
        away = x - self.x_centre
        return student(confidence, self.df) * used * math.sqrt(q + self.centre_share + away * away / self.sxx)


def fit_line(points: Iterable[Point], origin: Point | None = None) -> Straight | Untold:
    """Fit a line by least squares: slope Sxy/Sxx, s² = SSE/(n - 2); through ``origin``, if given, s² = SSE/(n - 1).

    Needs three points (two with an origin) and two different x. Untold: ``figure-missing``, ``few-points``,
    ``no-spread``. Source: textbook; checked against NIST StRD Norris, NoInt1, NoInt2.

    >>> line = fit_line([(0, 12.0), (2, 11.7), (4, 11.5), (6, 11.1), (8, 10.9), (10, 10.6)])
    >>> round(line.slope, 6), round(line.intercept, 6), round(line.s, 6)
    (-0.14, 12.0, 0.044721)
    """
    pairs = list(points)
    if not all(usable(value) for pair in (*pairs, *([origin] if origin else [])) for value in pair):
        return Untold("figure-missing")
    n, df = len(pairs), len(pairs) - (1 if origin else 2)
    if df < 1:
        return Untold("few-points")
    xc, yc = origin or (math.fsum(x for x, _ in pairs) / n, math.fsum(y for _, y in pairs) / n)
    if no_spread([*(x for x, _ in pairs), *([xc] if origin else [])]):
        return Untold("no-spread")
    sxx = math.fsum((x - xc) * (x - xc) for x, _ in pairs)
    if not sxx > 0.0:
        return Untold("no-spread")
    slope = math.fsum((x - xc) * (y - yc) for x, y in pairs) / sxx
    left = [(y - yc) - slope * (x - xc) for x, y in pairs]
    sse, syy = math.fsum(e * e for e in left), math.fsum((y - yc) * (y - yc) for _, y in pairs)
    return Straight(
        n=n,
        slope=slope,
        intercept=yc - slope * xc,
        s=math.sqrt(sse / df),
        df=df,
        sxx=sxx,
        x_centre=xc,
        y_centre=yc,
        centre_share=0.0 if origin else 1.0 / n,
        r_squared=1.0 - sse / syy if syy > 0.0 else math.nan,
    )


def no_spread(xs: Sequence[float]) -> bool:
    """Say whether all x lie at one place, as far as floating point can tell.

    >>> no_spread([4.0, 4.0]), no_spread([0.1 + 0.2, 0.3]), no_spread([4.0, 4.001])
    (True, True, False)
    """
    return max(xs) - min(xs) <= SAME * max(abs(x) for x in xs)


@dataclass(frozen=True)
class Crossing:
    """Where a line meets a level: at ``x``, with the ends ``early`` and ``late`` of Fieller's interval.

    ``g`` = (t se_slope / slope)² tells how well the slope is known (below 1, else there is no interval). ``se`` is the
    standard error of x by the first-order approximation, for comparison only: too short when g is above about 0.05.
    """

    x: float
    early: float
    late: float
    g: float
    se: float


def cross_level(
    line: Straight,
    level: float,
    *,
    confidence: float = 0.95,
    q: float = 1.0,
    s: float | None = None,
    df: float | None = None,
) -> Crossing | Untold:
    """Return where the line meets ``level``, and the interval in which the band does.

    xbar + [d -/+ (t s/|b|) sqrt((1-g)(q + 1/n) + d²/Sxx)] / (1-g), d = (level - ybar)/b, g = t² s²/(b² Sxx). q = 1 asks
    when a new reading will be there, 0 when the part itself is, 1/m when the mean of m readings will be. ``s`` and
    ``df`` replace the line's own. Untold: ``figure-missing``, ``scatter-impossible``, ``no-trend`` (g >= 1).
    Source: Fieller's theorem (textbook); checked against Graybill & Iyer, chapter 6, through R's investr.

    >>> line = fit_line([(0, 12.0), (2, 11.7), (4, 11.5), (6, 11.1), (8, 10.9), (10, 10.6)])
    >>> found = cross_level(line, 9.0)
    >>> round(found.x, 4), round(found.early, 4), round(found.late, 4)
    (21.4286, 20.003, 23.0733)
    """
    used = line.s if s is None else s
    if not usable(level) or math.isnan(used):
        return Untold("figure-missing")
    if used < 0.0 or q < 0.0:
        return Untold("scatter-impossible")
    t, b = student(confidence, line.df if df is None else df), line.slope
    g = fieller_g(line, used, t)
    if not g < 1.0:
        return Untold("no-trend")
    d = (level - line.y_centre) / b
    wide = q + line.centre_share
    reach = t * used / abs(b) * math.sqrt((1.0 - g) * wide + d * d / line.sxx)
    return Crossing(
        x=line.x_centre + d,
        early=line.x_centre + (d - reach) / (1.0 - g),
        late=line.x_centre + (d + reach) / (1.0 - g),
        g=g,
        se=used / abs(b) * math.sqrt(wide + d * d / line.sxx),
    )


def fieller_g(line: Straight, s: float, t: float) -> float:
    """Return g = (t s / (slope sqrt(Sxx)))²; infinite for a level line. From 1 on the slope may be none at all."""
    if line.slope == 0.0:
        return math.inf
    share = t * s / (abs(line.slope) * math.sqrt(line.sxx))
    return share * share


def read_back(line: Straight, readings: Sequence[float], *, confidence: float = 0.975) -> Crossing | Untold:
    """Return the x that belongs to new readings taken at one unknown place (inverse prediction, "calibration").

    With m readings q = 1/m, and their own scatter is pooled with the line's: s² = (SSE + SS of the readings) /
    (df + m - 1). Untold: as ``cross_level``, ``few-points`` without a reading. Source: Graybill & Iyer, as above, for
    m = 1; the pooling is the textbook's (from memory).

    >>> line = fit_line([(0, 0.1), (1, 1.9), (2, 4.1), (3, 5.9)])
    >>> round(read_back(line, [3.0]).x, 6)
    1.5
    """
    if not readings:
        return Untold("few-points")
    if not all(usable(value) for value in readings):
        return Untold("figure-missing")
    m = len(readings)
    mean = math.fsum(readings) / m
    own = math.fsum((value - mean) * (value - mean) for value in readings)
    df = line.df + m - 1
    s = math.sqrt((line.df * line.s * line.s + own) / df)
    return cross_level(line, mean, confidence=confidence, q=1.0 / m, s=s, df=df)
