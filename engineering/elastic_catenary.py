"""The cable that hangs and stretches, with any loads on it: the exact form that the fast one is held against.

SI units. Along the unstretched cable, from the first support, V being the vertical force there and w the weight per
unstretched metre:

    x = H s/EA + (H/w) [asinh(V/H) - asinh((V - w s)/H)]
    depth = s (V - w s/2)/EA + (1/w) [sqrt(H² + V²) - sqrt(H² + (V - w s)²)]

and a load takes its force off V. Source: H. M. Irvine, Cable Structures, 1981, ch. 1 (from memory); it gives the stored
test values of NREL's MoorPy (READ). Depth is positive downwards, ``drop`` how much lower the second support is.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from engineering.catenary import catenary_of_tension
from engineering.plain_figures import finite, positive
from engineering.refusal import Refusal, refuse

MOST_STEPS = 200
PRECISION = 1e-13  # of the span


@dataclass(frozen=True)
class LoadedPoint:
    """Where a load hangs: x and depth below the first support, and the slopes (up is positive) on its two sides."""

    x: float
    depth: float
    slope_before: float
    slope_after: float


@dataclass(frozen=True)
class Hanging:
    """A cable at rest. ``tension_n`` is horizontal, ``vertical_*_n`` the downward pull of the cable at its two ends.

    ``vertical_last_n`` counts as V does along the cable: negative where the cable climbs to its second support.
    """

    tension_n: float
    vertical_first_n: float
    vertical_last_n: float
    points: tuple[LoadedPoint, ...]

    @property
    def greatest_tension_n(self) -> float:
        """Return the greatest tension along the cable, which is at one of its ends."""
        return math.hypot(self.tension_n, max(abs(self.vertical_first_n), abs(self.vertical_last_n)))


def hanging(
    span_m: float,
    drop_m: float,
    length_m: float,
    weight_n_per_m: float,
    stiffness_n: float,
    loads: Sequence[tuple[float, float]] = (),
) -> Hanging | Refusal:
    """Return the rest state of a cable of unstretched length ``length_m`` under (place along it, force) loads.

    The two end conditions are the gradient of a strictly convex energy in (H, V), so that there is one state and a
    damped Newton search finds it, for slack cables and for taut ones. Refuses impossible figures, loads off the cable
    and, should the search end without a state, ``no-solution``.

    >>> cable = hanging(89.9, 59.2, 130.0, 881.05, 7.51e8)
    >>> round(cable.tension_n, 1), round(cable.vertical_first_n, 1)
    (31373.2, 87886.2)
    """
    bad = positive(span=span_m, length=length_m, stiffness=stiffness_n) or finite(drop=drop_m, weight=weight_n_per_m)
    if not bad and (
        weight_n_per_m < 0 or (weight_n_per_m == 0 and not loads and length_m >= math.hypot(span_m, drop_m))
    ):
        bad = refuse("figure-impossible", name="weight", value=weight_n_per_m)
    for at, force in loads:
        bad = bad or positive(load=force) or finite(place=at)
        if not bad and not 0.0 <= at <= length_m:
            bad = refuse("position-range", value=at)
    if bad:
        return bad
    cable = _Cable(weight_n_per_m, stiffness_n, length_m, tuple(sorted(loads)))
    h, v = _start(cable, span_m, drop_m)
    there = cable.run(h, v)
    for _ in range(MOST_STEPS):
        off_x, off_y = there.x - span_m, there.depth - drop_m
        if math.hypot(off_x, off_y) <= PRECISION * span_m:
            break
        det = there.xh * there.yv - there.xv * there.xv
        dh = -(there.yv * off_x - there.xv * off_y) / det
        dv = -(there.xh * off_y - there.xv * off_x) / det
        share = 1.0 if h + dh > 0.1 * h else 0.9 * h / -dh
        while share > 1e-9:
            trial = cable.run(h + share * dh, v + share * dv)
            if math.hypot(trial.x - span_m, trial.depth - drop_m) < math.hypot(off_x, off_y):
                break
            share /= 2.0
        else:
            break  # no step betters it: at the limit of the arithmetic, or nowhere
        h, v, there = h + share * dh, v + share * dv, trial
    if math.hypot(there.x - span_m, there.depth - drop_m) > 1e3 * PRECISION * span_m:
        return refuse("no-solution")
    return Hanging(h, v, v - cable.total, tuple(there.points))


def unstretched_length(
    span_m: float, drop_m: float, tension_n: float, weight_n_per_m: float, stiffness_n: float
) -> float | Refusal:
    """Return the unstretched length in m that gives this horizontal tension when nothing hangs on the cable.

    >>> length = unstretched_length(300.0, 18.0, 15_000.0, 10.297, 10e6)
    >>> round(length, 3), round(hanging(300.0, 18.0, length, 10.297, 10e6).tension_n, 6)
    (300.615, 15000.0)
    """
    bad = positive(stiffness=stiffness_n)
    start = bad or catenary_of_tension(span_m, weight_n_per_m, tension_n, drop_m)
    if isinstance(start, Refusal):
        return start
    length = start.length
    v = tension_n * math.sinh(start.lowest_x / start.parameter)
    for _ in range(MOST_STEPS):
        cable = _Cable(weight_n_per_m, stiffness_n, length, ())
        there = cable.run(tension_n, v)
        off_x, off_y = there.x - span_m, there.depth - drop_m
        last = v - cable.total
        xs = tension_n / stiffness_n + tension_n / math.hypot(tension_n, last)
        ys = last / stiffness_n + last / math.hypot(tension_n, last)
        det = there.xv * ys - xs * there.yv
        dv, dl = -(ys * off_x - xs * off_y) / det, -(there.xv * off_y - there.yv * off_x) / det
        v, length = v + dv, length + dl
        if abs(dl) <= 1e-15 * length:
            break
    return length if length > 0.0 else refuse("no-solution")


@dataclass(frozen=True)
class _End:
    """The far end for given forces at the near one, with the derivatives by H (``h``) and by V (``v``)."""

    x: float
    depth: float
    xh: float
    xv: float
    yv: float
    points: list[LoadedPoint]


@dataclass(frozen=True)
class _Cable:
    weight: float
    stiffness: float
    length: float
    loads: tuple[tuple[float, float], ...]

    @property
    def total(self) -> float:
        return self.weight * self.length + sum(force for _, force in self.loads)

    def run(self, h: float, v: float) -> _End:
        x = depth = xh = xv = yv = at = 0.0
        points = []
        for place, force in (*self.loads, (self.length, 0.0)):
            one = _piece(h, v, place - at, self.weight, self.stiffness)
            x, depth, xh, xv, yv = x + one[0], depth + one[1], xh + one[2], xv + one[3], yv + one[4]
            v, at = v - self.weight * (place - at), place
            if force:
                points.append(LoadedPoint(x, depth, -v / h, -(v - force) / h))
                v -= force
        return _End(x, depth, xh, xv, yv, points)


def _piece(h: float, v: float, s: float, w: float, ea: float) -> tuple[float, float, float, float, float]:
    """Return x, depth, dx/dH, dx/dV (= d depth/dH) and d depth/dV of one piece without a load inside."""
    t, end = math.hypot(h, v), v - w * s
    if w * s < 1e-3 * t:  # nearly weightless: integrals by Simpson's rule, exact to (w s / T)^4 of a small term
        sums = [0.0] * 5
        for share, place in ((1 / 6, v), (4 / 6, v - w * s / 2), (1 / 6, end)):
            force = math.hypot(h, place)
            ratios = (h / force, place / force, place**2 / force**3, -h * place / force**3, h**2 / force**3)
            sums = [one + share * ratio for one, ratio in zip(sums, ratios, strict=True)]
        x, depth, xh, xv, yv = (s * one for one in sums)
    else:
        t_end = math.hypot(h, end)
        turn = math.asinh(v / h) - math.asinh(end / h)
        x, depth = h / w * turn, (v + end) * s / (t + t_end)
        xh = (turn - v / t + end / t_end) / w
        xv = h / w * (1.0 / t - 1.0 / t_end)
        yv = (v / t - end / t_end) / w
    return x + h * s / ea, depth + s * (v + end) / 2.0 / ea, xh + s / ea, xv, yv + s / ea


def _start(cable: _Cable, span: float, drop: float) -> tuple[float, float]:
    """Return a first guess of H and V: stretched chord, or a parabola with the excess length, whichever pulls more."""
    chord = math.hypot(span, drop)
    stretched = cable.stiffness * (chord - cable.length) / cable.length
    excess = max(cable.length - chord, 1e-9 * chord)
    sagging = cable.total * math.sqrt(span / (24.0 * excess))
    h = max(stretched * span / chord, min(sagging, cable.stiffness), 1e-9 * cable.stiffness)
    return h, h * drop / span + cable.total / 2.0
