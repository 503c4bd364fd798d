"""The cable that hangs and does not stretch: the catenary, between supports of equal or unequal height.

Any one system of units serves. x runs from the upper or first support; ``drop`` is how much lower the other one is
(negative: higher). Sources: worked examples of siue.edu's set "6.7 Cables: Catenaries" (READ) and, for taut cables
that have no lowest point inside the span, 2 c sinh(L / 2c) = sqrt(S² - h²) (READ, from a forum).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from engineering.plain_figures import finite, positive
from engineering.refusal import Refusal, refuse

MOST_STEPS = 200


@dataclass(frozen=True)
class Catenary:
    """A catenary y = c cosh((x - x0) / c): ``parameter`` c = H / w, ``lowest_x`` x0, which may lie outside the span."""

    span: float
    drop: float
    parameter: float
    lowest_x: float

    def height(self, x: float) -> float:
        """Return the height above the first support at x (negative below it).

        >>> round(catenary_of_length(120.0, 140.0).height(60.0), 2)
        -31.7
        """
        c = self.parameter
        return 2.0 * c * math.sinh(x / (2.0 * c)) * math.sinh((x - 2.0 * self.lowest_x) / (2.0 * c))

    def tension(self, x: float, weight: float) -> float:
        """Return the tension along the cable at x, T = w c cosh((x - x0) / c)."""
        return weight * self.parameter * math.cosh((x - self.lowest_x) / self.parameter)

    @property
    def sag(self) -> float:
        """Return the vertical sag at mid-span below the chord."""
        return -self.drop / 2.0 - self.height(self.span / 2.0)

    @property
    def length(self) -> float:
        """Return the length of the cable, c [sinh((L - x0) / c) + sinh(x0 / c)]."""
        c = self.parameter
        middle = self.span / 2.0 - self.lowest_x
        return 2.0 * c * math.sinh(self.span / (2.0 * c)) * math.cosh(middle / c)


def catenary_of_length(span: float, length: float, drop: float = 0.0) -> Catenary | Refusal:
    """Return the catenary of a cable of known length: 2 c sinh(L / 2c) = sqrt(S² - h²).

    Refuses ``length-short`` for a cable that does not reach.

    >>> round(catenary_of_length(120.0, 140.0).parameter, 2)
    61.45
    >>> catenary_of_length(120.0, 120.0).code
    'length-short'
    """
    bad = positive(span=span, length=length) or finite(drop=drop)
    if bad:
        return bad
    chord = math.hypot(span, drop)
    if length <= chord:
        return refuse("length-short")
    level = math.sqrt((length - drop) * (length + drop))
    over = (length - chord) * (length + chord) / (span * (level + span))  # level / span - 1, without cancellation
    u = min(math.sqrt(6.0 * over), 2.0 + 2.0 * math.log(2.0 + 2.0 * over))  # both above the root
    for _ in range(MOST_STEPS):
        step = (_sinhc_less_one(u) - over) / ((math.cosh(u) - math.sinh(u) / u) / u if u > 1e-3 else u / 3.0)
        u -= step
        if abs(step) <= 1e-15 * u:
            break
    return _through(span, drop, span / (2.0 * u)) if u > 0.0 else refuse("no-solution")


def catenary_of_tension(span: float, weight: float, tension: float, drop: float = 0.0) -> Catenary | Refusal:
    """Return the catenary for a horizontal tension, c = H / w, x0 = L/2 + c asinh(h / (2 c sinh(L / 2c))).

    >>> round(catenary_of_tension(300.0, 10.0, 15_000.0).sag, 3)
    7.506
    """
    bad = positive(span=span, weight=weight, tension=tension) or finite(drop=drop)
    return bad or _through(span, drop, tension / weight)


def catenary_of_mean_tension(span: float, weight: float, tension: float) -> Catenary | Refusal:
    """Return the taut level catenary whose tension, the mean of mid-span and support, (H + T) / 2, is given.

    Sag and tension tables of conductors print that tension (inferred: all rows of the Drake table read fit it).
    Refuses ``no-solution`` where the cable cannot hang with so little tension.

    >>> round(catenary_of_mean_tension(1000.0, 1.094, 4564.0).sag, 2)
    30.11
    """
    bad = positive(span=span, weight=weight, tension=tension)
    if bad:
        return bad
    half = weight * span / 2.0
    h = tension
    for _ in range(MOST_STEPS):
        z = half / h
        if z > 700.0:
            break
        rise = 1.0 + math.cosh(z) - z * math.sinh(z)
        if rise <= 0.0:
            break
        step = (h * (1.0 + math.cosh(z)) - 2.0 * tension) / rise
        h -= step
        if h <= 0.0:
            break
        if abs(step) <= 1e-14 * h:
            return _through(span, 0.0, h / weight)
    return refuse("no-solution")


def _through(span: float, drop: float, parameter: float) -> Catenary | Refusal:
    half = span / (2.0 * parameter)
    if half > 50.0:
        return refuse("no-solution")
    return Catenary(
        span, drop, parameter, span / 2.0 + parameter * math.asinh(drop / (2.0 * parameter * math.sinh(half)))
    )


def _sinhc_less_one(u: float) -> float:
    """Return sinh(u) / u - 1, by its series where the difference would lose digits."""
    if u > 0.5:
        return math.sinh(u) / u - 1.0
    q = u * u
    return q / 6.0 * (1 + q / 20.0 * (1 + q / 42.0 * (1 + q / 72.0 * (1 + q / 110.0 * (1 + q / 156.0)))))
