"""A weightless cable under single loads: the general cable theorem.

The horizontal tension times the depth below the chord is the bending moment of a beam under the same loads
(eng.libretexts.org, "6.2 Cables", READ). It holds for every load and checks every other shape.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from engineering.plain_figures import finite, positive
from engineering.refusal import Refusal, refuse


@dataclass(frozen=True)
class Funicular:
    """The polygon of a loaded cable. ``x`` and ``height`` are its corners with both supports, height from the first.

    ``tension`` is horizontal; ``vertical_first`` and ``vertical_last`` are what the supports carry upwards.
    """

    tension: float
    vertical_first: float
    vertical_last: float
    x: tuple[float, ...]
    height: tuple[float, ...]

    @property
    def steepest(self) -> float:
        """Return the greatest slope of the cable, as rise over run."""
        pairs = zip(self.x, self.x[1:], self.height, self.height[1:], strict=False)
        return max(abs((h1 - h0) / (x1 - x0)) for x0, x1, h0, h1 in pairs)

    @property
    def greatest_tension(self) -> float:
        """Return the greatest tension along the cable, H sqrt(1 + slope²)."""
        return self.tension * math.hypot(1.0, self.steepest)


def moment(span: float, loads: Sequence[tuple[float, float]], x: float) -> float:
    """Return the bending moment at x of a simple beam under loads given as (place, force).

    >>> moment(8.0, [(2.0, 400.0), (4.0, 600.0), (6.0, 400.0)], 4.0)
    2000.0
    """
    return sum(force * min(x, at) * (span - max(x, at)) / span for at, force in loads)


def cable_under_loads(
    span: float, drop: float, loads: Sequence[tuple[float, float]], known_x: float, known_depth: float
) -> Funicular | Refusal:
    """Return the shape of a weightless cable whose depth below the first support is known at one place.

    ``loads`` are (place, force) with places inside the span, ``drop`` how much lower the last support is.
    H = M(x) / (depth of the cable below the chord at x).

    >>> cable = cable_under_loads(8.0, -2.0, [(2.0, 400.0), (4.0, 600.0), (6.0, 400.0)], 4.0, 0.25)
    >>> cable.tension, cable.vertical_last, cable.height[-1] - cable.height[-2]
    (1600.0, 1100.0, 1.375)
    """
    bad = positive(span=span) or finite(drop=drop, known_depth=known_depth, known_x=known_x)
    for at, force in loads:
        bad = bad or positive(load=force) or finite(place=at)
        if not bad and not 0.0 < at < span:
            bad = refuse("figure-impossible", name="place of a load", value=at)
    if not bad and not loads:
        bad = refuse("figure-missing")
    if not bad and not 0.0 < known_x < span:
        bad = refuse("figure-impossible", name="place of the known depth", value=known_x)
    if bad:
        return bad
    below = known_depth - drop * known_x / span
    if below <= 0.0:
        return refuse("figure-impossible", name="depth below the chord", value=below)
    tension = moment(span, loads, known_x) / below
    corners = (0.0, *sorted({at for at, _ in loads}), span)
    heights = tuple(-drop * x / span - moment(span, loads, x) / tension for x in corners)
    first = sum(force * (span - at) / span for at, force in loads) + tension * drop / span
    return Funicular(tension, first, sum(force for _, force in loads) - first, corners, heights)
