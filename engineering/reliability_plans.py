"""Sampling plans: the chance that a sample accepts a lot, and the smallest plan for two risks.

Plans that accept with a few bad ones protect whoever keeps the record; for records of safety the discovery sample of
``engineering.reliability_sample``, which accepts none, is the better default.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

from scipy.special import bdtr

from engineering.reliability_sample import lot_problem
from engineering.reliability_words import Note, note


def acceptance(size: int, allowed: int, share: float) -> float | Note:
    """Return the chance that a sample has at most ``allowed`` bad ones, of a large lot with this share bad (binomial).

    >>> round(acceptance(20, 0, 0.05), 3), round(acceptance(500, 3, 0.01), 3)
    (0.358, 0.264)
    """
    if size < 1 or not 0 <= allowed <= size:
        return note("count-impossible", part=allowed, whole=size)
    if not 0.0 <= share <= 1.0:
        return note("setting-impossible", name="share", value=share)
    return float(bdtr(float(allowed), size, share))


@dataclass(frozen=True)
class SamplingPlan:
    """Look at ``size``, accept with at most ``allowed`` bad ones; and the chances at the two shares asked."""

    size: int
    allowed: int
    accepts_good: float
    accepts_bad: float


def smallest_plan(good: float, accept: float, bad: float, slip: float, *, most: int = 2000) -> SamplingPlan | Note:
    """Return the smallest plan that accepts a share ``good`` with at least ``accept``, ``bad`` with at most ``slip``.

    Binomial. ``no-plan`` if none of at most ``most`` pieces does.

    >>> smallest_plan(0.05, 0.95, 0.15, 0.075).size
    80
    """
    for name, value in (
        ("good share", good),
        ("chance to accept", accept),
        ("bad share", bad),
        ("chance to slip", slip),
    ):
        if not 0.0 < value < 1.0:
            return note("setting-impossible", name=name, value=value)
    if good >= bad:
        return note("setting-impossible", name="good share", value=good)
    allowed = 0
    for size in range(1, most + 1):
        # A larger sample needs at least as many allowed to accept the good, so that the count only climbs.
        while float(bdtr(float(allowed), size, good)) < accept:
            allowed += 1
        slips = float(bdtr(float(allowed), size, bad))
        if slips <= slip:
            return SamplingPlan(size, allowed, float(bdtr(float(allowed), size, good)), slips)
    return note("no-plan", most=most)


def acceptance_of_lot(lot: int, bad: int, size: int, allowed: int) -> float | Note:
    """Return the chance that a sample of a lot with ``bad`` bad ones has at most ``allowed`` (hypergeometric).

    >>> round(acceptance_of_lot(2000, 160, 50, 2), 3)
    0.222
    """
    bad_input = lot_problem(lot, bad, 0.5)
    if bad_input:
        return bad_input
    if not 1 <= size <= lot:
        return note("sample-large", size=size, lot=lot)
    if not 0 <= allowed <= size:
        return note("count-impossible", part=allowed, whole=size)
    ways = sum(math.comb(bad, k) * math.comb(lot - bad, size - k) for k in range(min(allowed, bad) + 1))
    return float(Fraction(ways, math.comb(lot, size)))
