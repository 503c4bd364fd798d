"""The taut cable as a parabola: sag, tension, lowest point, length, change of state. Good to about 5 % sag.

Any one system of units serves, as long as it is one: forces in N with weights in N/m, or in kg with kg/m as older
tables have them. ``weight`` is the weight per unit of *horizontal* length (``horizontal_weight`` gives it for an
inclined span); ``drop`` is one support above the other.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from engineering.plain_figures import finite, positive
from engineering.refusal import Refusal
from engineering.tension_cubic import positive_root


def horizontal_weight(weight: float, span: float, drop: float) -> float:
    """Return the weight per horizontal length, w_h = w sqrt(1 + (h/L)²), of a cable of ``weight`` along itself.

    >>> round(horizontal_weight(10.0, 300.0, 18.0), 4)
    10.018
    """
    return weight * math.hypot(1.0, drop / span)


def sag_of_tension(weight: float, span: float, tension: float) -> float | Refusal:
    """Return the vertical mid-span sag f = w L² / (8 H) below the chord. ``tension`` is the horizontal tension H.

    Source: textbook parabola, as used in the Scilab companions to power-line textbooks (READ).

    >>> sag_of_tension(1.0, 300.0, 2000.0)
    5.625
    """
    bad = positive(weight=weight, span=span, tension=tension)
    return bad or weight * span * span / (8.0 * tension)


def tension_of_sag(weight: float, span: float, sag: float) -> float | Refusal:
    """Return the horizontal tension H = w L² / (8 f) for the vertical mid-span sag f. A relative error of f is H's.

    >>> tension_of_sag(1.0, 300.0, 5.625)
    2000.0
    """
    bad = positive(weight=weight, span=span, sag=sag)
    return bad or weight * span * span / (8.0 * sag)


def length(weight: float, span: float, tension: float, drop: float = 0.0) -> float | Refusal:
    """Return the length along the parabola, S = L sec b + cos³b w² L³ / (24 H²), to second order (own algebra).

    >>> round(length(1.0, 300.0, 2000.0), 5)
    300.28125
    """
    bad = positive(weight=weight, span=span, tension=tension) or finite(drop=drop)
    if bad:
        return bad
    secant = math.hypot(1.0, drop / span)
    return span * secant + (weight / tension) ** 2 * span**3 / (24.0 * secant**3)


@dataclass(frozen=True)
class LowestPoint:
    """Where the parabola is level. ``from_lower`` is measured from the lower support towards the upper one.

    Negative: the lowest point of the curve lies beyond the lower support, outside the span. The two sags are the
    depths of that point below the supports.
    """

    from_lower: float
    below_lower: float
    below_upper: float
    weight: float
    tension: float

    def above_lower(self, distance: float) -> float:
        """Return the height of the cable above the lower support at a distance from it.

        >>> point = lowest_point(1.0, 300.0, 2000.0, 60.0)
        >>> point.above_lower(150.0)
        24.375
        """
        away = distance - self.from_lower
        return self.weight * away * away / (2.0 * self.tension) - self.below_lower


def lowest_point(weight: float, span: float, tension: float, drop: float) -> LowestPoint | Refusal:
    """Return the lowest point, x = L/2 - H h / (w L) from the lower support, and w x²/(2H), w (L-x)²/(2H).

    Source: power-line textbooks as coded in the Scilab companions 1055 and 2273 (READ).

    >>> lowest_point(1.0, 300.0, 2000.0, 60.0).from_lower
    -250.0
    """
    bad = positive(weight=weight, span=span, tension=tension) or finite(drop=drop)
    if bad:
        return bad
    drop = abs(drop)
    x = span / 2.0 - tension * drop / (weight * span)
    per = weight / (2.0 * tension)
    return LowestPoint(x, per * x * x, per * (span - x) ** 2, weight, tension)


def change_of_state(
    tension: float,
    weight_before: float,
    weight_after: float,
    span: float,
    stiffness: float,
    expansion: float = 0.0,
    warmer_by: float = 0.0,
) -> float | Refusal:
    """Return the horizontal tension of a level span after its weight or temperature changed.

    H2³ + H2² [EA w1² L²/(24 H1²) - H1 + EA alpha dT] = EA w2² L²/24, with EA the stiffness and alpha the expansion.
    Source: as coded in the Scilab companions (READ). An inclined span, with anchors: ``engineering.cable``.

    >>> round(change_of_state(4000.0, 1.0, 1.0, 300.0, 2e6), 6)
    4000.0
    """
    bad = positive(tension=tension, weight_before=weight_before, weight_after=weight_after, span=span)
    bad = bad or positive(stiffness=stiffness) or finite(expansion=expansion, warmer_by=warmer_by)
    if bad:
        return bad
    before = stiffness * (weight_before * span / tension) ** 2 / 24.0
    after = stiffness * (weight_after * span) ** 2 / 24.0
    return float(positive_root(1.0, tension - before - stiffness * expansion * warmer_by, after))
