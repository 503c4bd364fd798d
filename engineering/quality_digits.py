"""Last digits: taken from the figures as typed, never from binary floats, and held against all being equally frequent.

Cutting digits from floats moves some of them (66.12 becomes 66.1199...): a published example was printed so, and its
figure comes out only with that mistake. Figures that lie close together have uneven last digits by nature; the test
then says nothing and is not made.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from scipy.special import chdtrc

from engineering.quality import Hint, figures, hint, none, scale_of
from engineering.wear_words import Untold

PER_ENDING = 10  # readings expected of each ending; 5 is the bare minimum (common practice, no source)
LEAST_SPREAD = 5  # last-digit steps; honest readings then deviate by 1.4 % of the usual share at most (DERIVED)


def last_digit(value: Fraction, places: int) -> int | None:
    """Return the digit at the last decimal place of an exact figure; ``None`` if it has more places than that.

    >>> last_digit(Fraction("66.12"), 2), last_digit(Fraction("12.00"), 2), last_digit(Fraction("12.05"), 1)
    (2, 0, None)
    """
    units = abs(value) * 10**places
    return units.numerator % 10 if units.denominator == 1 else None


@dataclass(frozen=True)
class Evenness:
    """Pearson's chi-square of counts against all being equal, its degrees of freedom, and the chance of as much."""

    chi2: float
    df: int
    p: float


def evenness(counts: Sequence[int]) -> Evenness | Untold:
    """Return how uneven counts are: sum (count - mean)² / mean, on one degree of freedom less than there are counts.

    Untold: ``few-points`` for fewer than two counts or nothing counted, ``figure-missing`` for one below nought.
    Source: textbook.

    >>> found = evenness([15, 5, 3, 8, 5, 17, 7, 6, 9, 5])
    >>> found.chi2, round(found.p, 5)
    (23.5, 0.00517)
    """
    total, kinds = sum(counts), len(counts)
    if any(count < 0 for count in counts):
        return Untold("figure-missing")
    if kinds < 2 or total < 1:
        return Untold("few-points")
    # Whole numbers until the last division: sum count² kinds / total - total.
    chi2 = float(Fraction(kinds * sum(count * count for count in counts), total) - total)
    return Evenness(chi2, kinds - 1, float(chdtrc(kinds - 1, chi2)))


def digit_hint(
    series: Sequence[Sequence[str | None]], step: str | None, unit: str = "mm", *, coarse_scale: bool = False
) -> Hint:
    """Say whether the last digits of readings with one kind of gauge are more uneven than chance makes them.

    ``series`` are the readings as typed, those of each part by themselves (the spread that counts is that within a
    part), ``step`` the gauge's step as decimal text. Not applicable: ``gauge`` (no step), ``scale`` (the step is not
    one unit of the last digit; with ``coarse_scale`` the endings that can occur are tested instead, if there are two
    or more), ``few`` (under ten readings expected of an ending), ``narrow`` (standard deviation within parts under
    five units of the last digit). Raises ``TypeError`` for one flat list of texts.

    >>> steps = [[f"{11 + k * 0.1:.1f}" for k in range(50)]] * 3
    >>> digit_hint(steps, "0.1").status, digit_hint([["11.5"] * 200], "0.1").reason
    ('nothing', 'narrow')
    """
    if any(isinstance(part, str) for part in series):
        raise TypeError("one list of texts for each part")
    scale = scale_of(step, unit)
    if scale is None:
        return none("digits", "gauge")
    read = [figures(part, scale) for part in series]
    values = [value for part, _ in read for value in part]
    n, skipped = len(values), sum(left for _, left in read)
    stride = math.gcd(scale.in_last_digit, 10)
    endings = range(0, 10, stride)
    if len(endings) < 2 or (scale.in_last_digit != 1 and not coarse_scale):
        return none("digits", "scale", n, skipped)
    if n < PER_ENDING * len(endings):
        return none("digits", "few", n, skipped)
    if _spread_within([part for part, _ in read]) * 10**scale.places < LEAST_SPREAD:
        return none("digits", "narrow", n, skipped)
    digits = [last_digit(value, scale.places) for value in values]
    counts = [digits.count(ending) for ending in endings]
    found = evenness(counts)
    if isinstance(found, Untold):
        return none("digits", "few", n, skipped)
    most = max(counts)
    return hint(
        "digits",
        found.p,
        n,
        skipped,
        count=str(n),
        step=scale.written(scale.step),
        most=str(most),
        digit=str(endings[counts.index(most)]),
        usual=str(round(n / len(endings))),
    )


def _spread_within(parts: Sequence[Sequence[Fraction]]) -> float:
    """Return the standard deviation within parts, pooled; 0 if no part has two readings."""
    freedom = sum(len(part) - 1 for part in parts if part)
    if freedom < 1:
        return 0.0
    squares = Fraction(0)
    for part in parts:
        if part:
            squares += sum((v * v for v in part), Fraction(0)) - sum(part, Fraction(0)) ** 2 / len(part)
    return math.sqrt(squares / freedom)
