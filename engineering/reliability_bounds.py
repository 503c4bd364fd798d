"""Bounds from few events: mean life from failures in a time on test, shares from counts.

Clopper and Pearson's interval inverts the binomial exactly, Wilson's the normal score. They are for a *sample*: where
everything was looked at, the share is the fact and has no interval. scipy gives the quantiles.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist

from scipy.special import betaincinv, chdtri

from engineering.reliability_words import Note, note

BOTH, LOWER, UPPER = "both", "lower", "upper"


@dataclass(frozen=True)
class MeanLife:
    """Mean life: estimate (``None`` with no failure), lower bound, upper bound (``None`` where there is none)."""

    estimate: float | None
    low: float
    high: float | None


def mean_life(
    exposure: float, failures: int, confidence: float = 0.95, *, both_sides: bool = False, by_failure: bool = False
) -> MeanLife | Note:
    """Bound the mean life (cycles, hours between failures) from ``failures`` in ``exposure``, at a constant rate.

    Lower bound 2 T / chi²(confidence; 2 r + 2) for a record that ended at a time, 2 r degrees for one that ended with
    the last failure (``by_failure``). With no failure it is T / -ln(1 - confidence), T / 3.0 at 95 %. ``both_sides``
    gives lower and upper bound, the upper one 2 T / chi²((1 - confidence) / 2; 2 r), none with no failure.

    >>> round(mean_life(19_520.0, 7, 0.80, both_sides=True).low, 4), round(mean_life(3000.0, 0).low, 1)
    (1658.3249, 1001.4)
    """
    if failures != math.floor(failures) or failures < 0:
        return note("setting-impossible", name="failures", value=failures)
    if not 0.0 < exposure < math.inf:
        return note("setting-impossible", name="exposure", value=exposure)
    if not 0.0 < confidence < 1.0:
        return note("level-impossible", value=confidence)
    if by_failure and not failures:
        return note("no-failure", count=0)
    beyond = (1.0 - confidence) / (2.0 if both_sides else 1.0)
    degrees = 2 * failures + (0 if by_failure else 2)
    low = 2.0 * exposure / float(chdtri(degrees, beyond))
    high = None
    if both_sides and failures:
        high = 2.0 * exposure / float(chdtri(2 * failures, 1.0 - beyond))
    return MeanLife(exposure / failures if failures else None, low, high)


def clopper_pearson(found: int, size: int, confidence: float = 0.95, side: str = BOTH) -> tuple[float, float] | Note:
    """Return the exact interval of a share: ``found`` in a sample of ``size``. One-sided ones end at 0 or 1.

    Quantiles of beta: lower (found, size - found + 1), upper (found + 1, size - found). Raises ``ValueError`` for a
    side that is none of ``both``, ``lower`` and ``upper``.

    >>> [round(one, 5) for one in clopper_pearson(4, 20, 0.90)]
    [0.07135, 0.40103]
    """
    bad = _share_problem(found, size, confidence, side)
    if bad:
        return bad
    beyond = (1.0 - confidence) / (2.0 if side == BOTH else 1.0)
    low = 0.0 if found == 0 or side == UPPER else float(betaincinv(found, size - found + 1, beyond))
    high = 1.0 if found == size or side == LOWER else float(betaincinv(found + 1, size - found, 1.0 - beyond))
    return low, high


def wilson(found: int, size: int, confidence: float = 0.95, side: str = BOTH) -> tuple[float, float] | Note:
    """Return Wilson's interval of a share, without correction for continuity; it may miss a little oftener than asked.

    (p + z²/2n ± z sqrt(p (1 - p)/n + z²/4n²)) / (1 + z²/n). Raises ``ValueError`` for a side that is none of the three.

    >>> round(wilson(26, 200, 0.95, LOWER)[0], 5)
    0.09577
    """
    bad = _share_problem(found, size, confidence, side)
    if bad:
        return bad
    z = NormalDist().inv_cdf(0.5 + confidence / 2.0 if side == BOTH else confidence)
    share, per = found / size, z * z / size
    middle = share + per / 2.0
    wide = z * math.sqrt(share * (1.0 - share) / size + per / (4.0 * size))
    low = 0.0 if found == 0 or side == UPPER else max(0.0, (middle - wide) / (1.0 + per))
    high = 1.0 if found == size or side == LOWER else min(1.0, (middle + wide) / (1.0 + per))
    return low, high


def _share_problem(found: int, size: int, confidence: float, side: str) -> Note | None:
    if side not in (BOTH, LOWER, UPPER):
        raise ValueError(f"not a side: {side!r}")
    if size != math.floor(size) or size < 1:
        return note("setting-impossible", name="size", value=size)
    if found != math.floor(found) or not 0 <= found <= size:
        return note("count-impossible", part=found, whole=size)
    if not 0.0 < confidence < 1.0:
        return note("level-impossible", value=confidence)
    return None
