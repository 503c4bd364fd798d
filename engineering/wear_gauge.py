"""What a gauge can tell: resolution and repeatability in one figure, the band at a limit, and when to measure twice.

All sizes and uncertainties are in one unit (mm). An uncertainty here is a standard one (k = 1). The maker's limit stays
what it is: the band lies before it, never beyond it, and says "measure again", nothing more.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import NormalDist

from engineering.wear_line import usable
from engineering.wear_words import Untold

GUARD_K = 1.645  # one-sided 95 % (ISO 14253-1:2017, from memory)
REPEAT_K = 1.96 * math.sqrt(2.0)  # difference of two readings of one thing, 95 % (ISO 5725, from memory)

BEYOND, NEAR, CLEAR, NOT_KNOWN = "beyond", "near", "clear", "not-known"
FITS, AGAIN = "fits", "measure-again"
SENTENCES = {
    BEYOND: "At the limit or past it.",
    NEAR: "Within the gauge's uncertainty of the limit: clean, measure three times, take the mean.",
    CLEAR: "Clear of the limit by more than the gauge's uncertainty.",
    NOT_KNOWN: "A figure that this needs is missing or not a figure.",
    FITS: "The reading fits the last one.",
    AGAIN: "The reading differs from the last one by more than the gauge explains: measure a second time.",
}


def gauge_u(resolution: float | None, repeatability: float | None = 0.0) -> float | Untold:
    """Return the standard uncertainty of one reading: sqrt(s_r² + (resolution / sqrt 12)²).

    ``repeatability`` is s_r, the standard deviation of repeated readings; nought if never looked at, and then the
    figure is a least one. Untold: ``gauge-missing`` without a resolution above nought, ``scatter-impossible`` for a
    repeatability below nought, ``figure-missing``. Source: rectangular distribution of JCGM 100 F.2.2.1 (from memory;
    READ as quoted by a calculator of resolution uncertainty).

    >>> round(gauge_u(0.1, 0.05), 6), round(gauge_u(0.1), 6)
    (0.057735, 0.028868)
    """
    if resolution is None or not usable(resolution) or resolution <= 0.0:
        return Untold("gauge-missing")
    if repeatability is None or not usable(repeatability):
        return Untold("figure-missing")
    if repeatability < 0.0:
        return Untold("scatter-impossible")
    return math.hypot(repeatability, resolution / math.sqrt(12.0))


@dataclass(frozen=True)
class Spread:
    """Mean, sample standard deviation (n - 1) and lag-1 autocorrelation (``nan`` where all values are equal)."""

    n: int
    mean: float
    sd: float
    lag1: float


def spread(values: Sequence[float]) -> Spread | Untold:
    """Return mean, sd and lag-1 autocorrelation: sum (y[i]-m)(y[i+1]-m) / sum (y[i]-m)².

    Two passes, sums without loss. Untold: ``few-points`` under two, ``figure-missing``. Source: textbook; checked
    against NIST StRD, univariate.

    >>> spread([10000001, 10000003, 10000002])
    Spread(n=3, mean=10000002.0, sd=1.0, lag1=-0.5)
    """
    if not all(usable(value) for value in values):
        return Untold("figure-missing")
    n = len(values)
    if n < 2:
        return Untold("few-points")
    mean = math.fsum(values) / n
    off = [value - mean for value in values]
    squares = math.fsum(e * e for e in off)
    if not squares > 0.0 or max(values) == min(values):
        return Spread(n, mean, 0.0, math.nan)
    beside = math.fsum(a * b for a, b in pairwise(off))
    return Spread(n, mean, math.sqrt(squares / (n - 1)), beside / squares)


def pooled_repeatability(groups: Iterable[tuple[float, int]]) -> float | Untold:
    """Return s_r from groups of repeats, each as (sd, degrees of freedom): sqrt(sum df sd² / sum df).

    Untold: ``few-points`` without a degree of freedom, ``scatter-impossible`` below nought, ``figure-missing``.
    Source: NIST/SEMATECH e-Handbook 2.4.4.1 (READ).

    >>> round(pooled_repeatability([(0.1, 5), (0.2, 5)]), 6)
    0.158114
    """
    pairs = list(groups)
    if not all(usable(sd) for sd, _ in pairs):
        return Untold("figure-missing")
    if any(sd < 0.0 or df < 0 for sd, df in pairs):
        return Untold("scatter-impossible")
    freedom = sum(df for _, df in pairs)
    if freedom < 1:
        return Untold("few-points")
    return math.sqrt(math.fsum(df * sd * sd for sd, df in pairs) / freedom)


def repeatability_of_pairs(pairs: Sequence[tuple[float, float]]) -> float | Untold:
    """Return s_r from second readings of the same thing: sqrt(sum d² / 2n). Source: textbook (from memory).

    Untold: ``few-points`` without a pair, ``figure-missing``.

    >>> round(repeatability_of_pairs([(11.5, 11.6), (11.2, 11.2)]), 6)
    0.05
    """
    if not all(usable(value) for pair in pairs for value in pair):
        return Untold("figure-missing")
    if not pairs:
        return Untold("few-points")
    return math.sqrt(math.fsum((a - b) * (a - b) for a, b in pairs) / (2 * len(pairs)))


@dataclass(frozen=True)
class Guarded:
    """Where a reading lies to its limit: a zone, and the chance that the true size is within the limit.

    ``chance`` is ``None`` where no uncertainty is known (the zone is then by the limit alone) or nothing can be said.
    """

    zone: str
    chance: float | None

    @property
    def sentence(self) -> str:
        """Return the zone in English."""
        return SENTENCES[self.zone]


def guard(value: float | None, limit: float | None, direction: int, u: float | None, *, k: float = GUARD_K) -> Guarded:
    """Return the zone of a reading: at or past the limit, nearer to it than k u, or clear.

    ``direction`` is -1 for a size that falls towards its limit, +1 for one that rises. chance = Phi(way left / u).
    The verdict is not made here. Source: ILAC-G8:09/2019, 4.2 (READ); JCGM 106:2012, 7 (from memory).

    >>> guard(9.09, 9.0, -1, 0.05774).zone, guard(9.10, 9.0, -1, 0.05774).zone, guard(9.0, 9.0, -1, 0.05774).zone
    ('near', 'clear', 'beyond')
    """
    _known(direction)
    if value is None or limit is None or not (usable(value) and usable(limit)):
        return Guarded(NOT_KNOWN, None)
    left = (limit - value) * direction
    if u is not None and not (usable(u) and u >= 0.0):
        return Guarded(BEYOND if left <= 0.0 else NOT_KNOWN, None)
    chance = NormalDist().cdf(left / u) if u else None
    if left <= 0.0:
        return Guarded(BEYOND, chance)
    return Guarded(NEAR if u and left < k * u else CLEAR, chance)


@dataclass(frozen=True)
class Jump:
    """How a reading differs from the last: ``state``, the change, and how much of it the gauge explains."""

    state: str
    change: float | None = None
    explained: float | None = None

    @property
    def sentence(self) -> str:
        """Return the state in English."""
        return SENTENCES[self.state]


def jump(
    value: float | None, last: float | None, u: float | None, *, expected: float = 0.0, k: float = REPEAT_K
) -> Jump:
    """Say whether a reading differs from the last by more than two readings of one thing would: a second one is asked.

    ``expected`` is the wear since (0 if not known; it has the sign of the change); ``u`` is ``gauge_u``. A change of
    k u still fits. Nothing is said (``not-known``) without the last reading or the gauge. Source: repeatability limit
    of ISO 5725 (from memory).

    >>> jump(11.2, 11.5, 0.0577).state, jump(11.4, 11.5, 0.0577).state, jump(11.2, 11.5, 0.0577, expected=-0.2).state
    ('measure-again', 'fits', 'fits')
    """
    if value is None or last is None or u is None or not (usable(value) and usable(last) and usable(u)):
        return Jump(NOT_KNOWN)
    if u <= 0.0 or not usable(expected):
        return Jump(NOT_KNOWN)
    change, explained = value - last, k * u
    return Jump(AGAIN if abs(change - expected) > explained else FITS, change, explained)


def _known(direction: int) -> None:
    if direction not in (-1, 1):
        raise ValueError("direction is -1 or +1")
