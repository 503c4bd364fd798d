"""The shape of a wear record: a curve that only wears, and a step that a replacement would leave. Pictures and hints.

Neither is ever used to look ahead: a curve that only wears is flat at its end, and a step is only a question.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from engineering.wear_line import Point, no_spread, usable
from engineering.wear_words import Untold

STEP_K = 3.5 * math.sqrt(2.0)  # a difference of two readings this many u wide is no scatter (own judgement)


def only_wearing(values: Sequence[float], direction: int) -> list[float] | Untold:
    """Return the closest curve (least squares) that never turns back: rising for +1, falling for -1.

    Neighbours that turn back are drawn together to their mean until none does. Untold: ``figure-missing``; no value
    gives no curve. Source: textbook (pool adjacent violators); checked against scipy's documented example.

    >>> only_wearing([12.0, 11.6, 11.8, 11.0], -1)
    [12.0, 11.7, 11.7, 11.0]
    """
    if direction not in (-1, 1):
        raise ValueError("direction is -1 or +1")
    if not all(usable(value) for value in values):
        return Untold("figure-missing")
    blocks: list[tuple[float, int]] = []
    for value in values:
        mean, size = direction * float(value), 1
        while blocks and blocks[-1][0] >= mean:
            before, many = blocks.pop()
            mean, size = (before * many + mean * size) / (many + size), many + size
        blocks.append((mean, size))
    return [direction * mean for mean, size in blocks for _ in range(size)]


def apparent_recovery(values: Sequence[float], direction: int) -> float | Untold:
    """Return how far a reading lies better than a record that only wears allows, at most; wear does not heal.

    Untold: ``figure-missing``, ``few-points`` under two.

    >>> round(apparent_recovery([12.0, 11.6, 11.8, 11.0], -1), 6)
    0.1
    """
    curve = only_wearing(values, direction)
    if isinstance(curve, Untold):
        return curve
    if len(curve) < 2:
        return Untold("few-points")
    return max(0.0, *((line - value) * direction for value, line in zip(values, curve, strict=True)))


@dataclass(frozen=True)
class Split:
    """A record cut in two: ``first`` points before the cut, the scatter of both parts together (``df``), and SSE."""

    first: int
    sse: float
    df: int


def split_in_two(points: Sequence[Point], *, sloped: bool, least: int = 1) -> Split | Untold:
    """Cut the points, in the order given, where two means (or two lines) leave the least squares together.

    ``least`` points stay on each side. Of equal cuts the earliest is returned. Untold: ``few-points``,
    ``figure-missing``. Source: textbook; checked against the Nile's flow (cut after 28 years).

    >>> split_in_two([(0, 5.0), (1, 5.1), (2, 3.0), (3, 3.1), (4, 2.9)], sloped=False).first
    2
    """
    if least < 1:
        raise ValueError("least is at least 1")
    if not all(usable(value) for point in points for value in point):
        return Untold("figure-missing")
    if len(points) < 2 * least:
        return Untold("few-points")
    cuts = [_cut(points, first, sloped) for first in range(least, len(points) - least + 1)]
    return min(cuts, key=lambda cut: cut.sse)


def _cut(points: Sequence[Point], first: int, sloped: bool) -> Split:
    parts, worth = (points[:first], points[first:]), 2 if sloped else 1
    df = sum(max(0, len(part) - worth) for part in parts)
    return Split(first, math.fsum(_left_over(part, sloped) for part in parts), df)


def _left_over(points: Sequence[Point], sloped: bool) -> float:
    n = len(points)
    xc, yc = math.fsum(x for x, _ in points) / n, math.fsum(y for _, y in points) / n
    syy = math.fsum((y - yc) * (y - yc) for _, y in points)
    sxx = math.fsum((x - xc) * (x - xc) for x, _ in points)
    if not sloped or not sxx > 0.0 or no_spread([x for x, _ in points]):
        return syy
    sxy = math.fsum((x - xc) * (y - yc) for x, y in points)
    return max(0.0, syy - sxy * sxy / sxx)


@dataclass(frozen=True)
class Step:
    """A reading better than the one before: its place among the points, by how much, and how well that is founded.

    ``df`` are the degrees of freedom of the scatter it was held against; 0 if the gauge alone speaks.
    """

    index: int
    size: float
    df: int


def unrecorded_step(points: Sequence[Point], direction: int, u: float | None) -> Step | Untold | None:
    """Return where the record gets better by more than the gauge and the scatter allow: a replacement not recorded?

    The points are in order of time. Asked is the largest step against the wear, from the better of the two readings
    before to the worse of the two behind, so that one wild reading is no step (unless it is the first or the last). It
    has to be wider than 3.5 sqrt 2 max(u, scatter about the two lines before and behind it), else the answer is
    ``None``. It may also be another place or another gauge: a hint, nothing else. Untold: ``gauge-missing``,
    ``few-points`` under two, ``figure-missing``. Source: own judgement.

    >>> unrecorded_step([(0, 10.4), (2, 10.1), (4, 9.8), (6, 12.0), (8, 11.7)], -1, 0.06).index
    3
    """
    if direction not in (-1, 1):
        raise ValueError("direction is -1 or +1")
    if u is None or not usable(u) or u <= 0.0:
        return Untold("gauge-missing")
    if not all(usable(value) for point in points for value in point):
        return Untold("figure-missing")
    if len(points) < 2:
        return Untold("few-points")
    worn = [y * direction for _, y in points]
    steps = [min(worn[max(0, i - 2) : i]) - max(worn[i : i + 2]) for i in range(1, len(worn))]
    size = max(steps)
    cut = _cut(points, steps.index(size) + 1, sloped=True)
    scatter = math.sqrt(cut.sse / cut.df) if cut.df else 0.0
    return Step(cut.first, size, cut.df) if size > STEP_K * max(u, scatter) else None
