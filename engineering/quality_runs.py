"""Equal readings and their order: how often honest ones repeat on a scale with steps, and how long they run.

An honest reading is taken to scatter about its size (normal distribution, standard deviation ``scatter``) and to be
rounded to the nearest step. Wear only makes repeats rarer. A gauge whose step is wider than its scatter is *supposed*
to repeat, and then nothing is looked for.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from itertools import groupby, pairwise
from statistics import NormalDist

from scipy.special import bdtrc

from engineering.quality import LOOK, Hint, figures, hint, none, scale_of
from engineering.wear_line import usable
from engineering.wear_words import Untold

COARSEST = 1.0  # step over scatter; beyond it slow wear on a coarse gauge repeats by itself
LEAST = 6  # readings for a look at repeats (own judgement)
LEAST_SIDE = 10  # readings on each side of the median, for the normal distribution of runs (common practice, no source)
NORMAL = NormalDist()


def repeat_chance(step: float, scatter: float) -> float | Untold:
    """Return the chance that two honest readings of one size are equal, whatever the size's place between two steps.

    E max(0, 1 - |D| / step) with D the difference of two readings, N(0, 2 scatter²): (2 Phi(r) - 1) - (2/r)(phi(0) -
    phi(r)), r = step / (sqrt 2 scatter). For a fine step it is step / (2 sqrt(pi) scatter). Untold:
    ``gauge-missing`` unless both are above nought. Source: DERIVED.

    >>> [round(repeat_chance(ratio, 1.0), 2) for ratio in (0.25, 0.5, 1.0, 2.0)]
    [0.07, 0.14, 0.27, 0.49]
    """
    if not (usable(step) and usable(scatter)) or step <= 0.0 or scatter <= 0.0:
        return Untold("gauge-missing")
    ratio = step / (math.sqrt(2.0) * scatter)
    if ratio < 1e-4:  # the difference below would lose its digits
        return step / (2.0 * math.sqrt(math.pi) * scatter)
    return (2.0 * NORMAL.cdf(ratio) - 1.0) - 2.0 / ratio * (NORMAL.pdf(0.0) - NORMAL.pdf(ratio))


def run_chance(length: int, n: int, step: float, scatter: float) -> float | Untold:
    """Return a bound of the chance that ``n`` honest readings hold a run of ``length`` equal ones or more.

    (n - L + 1) (step/scatter)^(L-1) (2 pi)^(-(L-1)/2) / sqrt(L), at most 1; for step up to the scatter. The chance of a
    single repeat to the power L - 1 would be too small: a size that lies well between two steps repeats again. Untold:
    ``gauge-missing``, ``few-points`` for a length or n below one. Source: DERIVED, held against simulation.

    >>> [round(run_chance(length, 30, 0.5, 1.0), 4) for length in (4, 5, 6)]
    [0.1071, 0.0184, 0.0032]
    """
    if not (usable(step) and usable(scatter)) or step <= 0.0 or scatter <= 0.0:
        return Untold("gauge-missing")
    if length < 1 or n < 1:
        return Untold("few-points")
    if length > n:
        return 0.0
    each = step / scatter / math.sqrt(2.0 * math.pi)
    if each >= 1.0:
        return 1.0
    return min(1.0, (n - length + 1) * each ** (length - 1) / math.sqrt(length))


@dataclass(frozen=True)
class Run:
    """A run of equal values: how many, and the place of its first."""

    length: int
    first: int


def longest_run(values: Sequence[Hashable]) -> Run:
    """Return the longest run of equal neighbours, the last one of several; length 0 if there are no values.

    >>> longest_run([3, 3, 1, 2, 2, 2, 3])
    Run(length=3, first=3)
    """
    best, place = Run(0, 0), 0
    for _, group in groupby(values):
        size = len(list(group))
        if size >= best.length:
            best = Run(size, place)
        place += size
    return best


def repeat_hint(texts: Sequence[str | None], step: str | None, scatter: float | None, unit: str = "mm") -> Hint:
    """Say whether readings of one part, in order of time, repeat more than this gauge lets honest ones.

    ``texts`` as typed, ``step`` the gauge's step as decimal text, ``scatter`` the standard deviation of repeated
    readings (the smaller one of two possible ones is the fairer). Looked at are the longest run (``run``) and, if that
    is nothing, the number of equal neighbours (``repeats``): every other pair is independent of the rest, so each half
    is held against the binomial distribution and the smaller chance doubled. Each is asked at half the usual chance.
    Not applicable: ``gauge`` (no step or scatter), ``coarse`` (step wider than scatter), ``few`` (under six). Source:
    DERIVED.

    >>> repeat_hint(["11.5"] * 9, "0.1", 0.2).status, repeat_hint(["11.5"] * 9, "0.1", 0.05).reason
    ('look', 'coarse')
    """
    scale = scale_of(step, unit)
    if scale is None or scatter is None or not usable(scatter) or scatter <= 0.0:
        return none("run", "gauge")
    values, skipped = figures(texts, scale)
    n, wide = len(values), float(scale.step)
    chance = repeat_chance(wide, scatter)
    if isinstance(chance, Untold) or wide > COARSEST * scatter:
        return none("run", "coarse", n, skipped)
    if n < LEAST:
        return none("run", "few", n, skipped)
    words = {"step": scale.written(scale.step), "scatter": f"{scatter:.2g}"}
    run = longest_run(values)
    bound = run_chance(run.length, n, wide, scatter)
    p = 1.0 if isinstance(bound, Untold) else min(1.0, 2.0 * bound)
    found = hint("run", p, n, skipped, count=str(run.length), value=scale.written(values[run.first]), **words)
    if found.status == LOOK:
        return found
    same = [before == after for before, after in pairwise(values)]
    other = min(1.0, 4.0 * min(_as_many(same[0::2], chance), _as_many(same[1::2], chance)))
    repeats = hint(
        "repeats", other, n, skipped, pairs=str(n - 1), most=str(sum(same)), usual=f"{chance * (n - 1):.1f}", **words
    )
    return repeats if repeats.status == LOOK else found


def _as_many(same: Sequence[bool], chance: float) -> float:
    """Return the chance of as many or more of independent repeats."""
    return float(bdtrc(sum(same) - 1, len(same), chance)) if sum(same) else 1.0


@dataclass(frozen=True)
class Runs:
    """Runs above and below the median: their number, how many would be usual, z, and the two-sided chance."""

    runs: int
    above: int
    below: int
    expected: float
    z: float
    p: float


def runs_about_median(values: Sequence[float]) -> Runs | Untold:
    """Count the runs above and below the median; values equal to it are left out.

    Expected 2ab/(a+b) + 1, variance 2ab(2ab - a - b)/((a+b)²(a+b-1)). Untold: ``figure-missing``, ``few-points`` where
    a side has none or only one value is on each. Source: NIST/SEMATECH e-Handbook 1.3.5.13 (READ second-hand).

    >>> found = runs_about_median([1, 9, 2, 8, 3, 7])
    >>> found.runs, found.expected, round(found.z, 3)
    (6, 4.0, 1.826)
    """
    if not all(usable(value) for value in values):
        return Untold("figure-missing")
    if not values:
        return Untold("few-points")
    middle = statistics.median(values)
    sides = [value > middle for value in values if value != middle]
    above = sum(sides)
    below = len(sides) - above
    n = above + below
    if min(above, below) < 1 or n < 3:
        return Untold("few-points")
    runs = 1 + sum(one != other for one, other in pairwise(sides))
    expected = 2.0 * above * below / n + 1.0
    variance = (expected - 1.0) * (expected - 2.0) / (n - 1.0)
    if not variance > 0.0:
        return Untold("few-points")
    z = (runs - expected) / math.sqrt(variance)
    return Runs(runs, above, below, expected, z, 2.0 * NORMAL.cdf(-abs(z)))


def order_hint(residuals: Sequence[float], step: float | None) -> Hint:
    """Say whether residuals about a wear line, in order of time, alternate or hang together more than by chance.

    Residuals, because wear itself hangs together. Not applicable: ``gauge`` (no step), ``coarse`` (their standard
    deviation is smaller than the step), ``few`` (under ten on a side of the median, or one is not a figure).

    >>> order_hint([(-1.0) ** k for k in range(60)], 0.1).kind, order_hint([0.0] * 60, 0.1).reason
    ('alternating', 'coarse')
    """
    n = len(residuals)
    if step is None or not usable(step) or step <= 0.0:
        return none("smooth", "gauge", n)
    if n < 2 * LEAST_SIDE or not all(usable(value) for value in residuals):
        return none("smooth", "few", n)
    if statistics.stdev(residuals) < step:
        return none("smooth", "coarse", n)
    found = runs_about_median(residuals)
    if isinstance(found, Untold) or min(found.above, found.below) < LEAST_SIDE:
        return none("smooth", "few", n)
    kind = "alternating" if found.z > 0 else "smooth"
    return hint(kind, found.p, n, most=str(found.runs - 1), usual=f"{found.expected - 1:.0f}")
