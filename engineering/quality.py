"""Hints on how readings came about, for a talk about gauges and time: what a hint is, how it is put, when none is made.

A hint is no finding and says nothing about a person. It is shown to the manager alone, for a talk with the technicians,
kept out of the signed record and of the auditor's download, and decides nothing: no verdict, no release, no score, no
order of people. Facts come first, ordinary reasons next, then something that helps. Few are made on purpose: only where
the gauge, the number of readings and their spread allow, and only what chance does once in a thousand times.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from fractions import Fraction

from engineering.exact import exact_text
from engineering.typed import Unclear, read_figure
from engineering.units import with_unit

NOT_APPLICABLE, NOTHING, LOOK = "not-applicable", "nothing", "look"
RARE = 0.001  # chance of a hint where there is nothing; at 1 % twenty people would see one every month (own judgement)

# Why nothing is looked for.
REASONS: Mapping[str, str] = {
    "few": "There are too few readings.",
    "scale": "The gauge's scale does not take every last digit.",
    "narrow": "The readings lie too close together for their last digits to say anything.",
    "coarse": "The gauge is too coarse for its readings to differ.",
    "gauge": "It is not known how finely the gauge reads, or how much its readings scatter.",
    "few-visits": "There are too few earlier visits.",
    "no-time": "The time of the visit is not known.",
    "same-time": "The earlier visits all took equally long.",
}
FACTS: Mapping[str, str] = {
    "digits": "Of %(count)s readings with this gauge (%(step)s steps) %(most)s end in %(digit)s; about %(usual)s would "
    "be usual.",
    "run": "%(count)s readings in a row are all %(value)s. With this gauge (%(step)s steps, usual scatter %(scatter)s) "
    "so many equal readings in a row are rare.",
    "repeats": "Of %(pairs)s readings %(most)s equal the one before; with this gauge (%(step)s steps, usual scatter "
    "%(scatter)s) about %(usual)s would be usual.",
    "alternating": "The readings change sides of their middle %(most)s times; about %(usual)s times would be usual.",
    "smooth": "The readings change sides of their middle only %(most)s times; about %(usual)s times would be usual.",
    "pace": "The visit took %(took)s for %(items)s items; this line usually takes %(low)s to %(high)s.",
    "floor": "The visit took %(took)s for %(items)s items; the manager reckons with at least %(least)s.",
}
ORDINARY: Mapping[str, str] = {
    "digits": "Ordinary reasons: the gauge is read to the nearest half or full mark, or its display rounds.",
    "run": "Ordinary reasons: the part hardly wore, the value was carried over on purpose, the gauge sticks, one place "
    "is always measured.",
    "alternating": "Ordinary reasons: two people or two gauges take turns, or two places are measured in turn.",
    "smooth": "Ordinary reasons: the part wears at another rate than before, the gauge was changed or set anew.",
    "pace": "Ordinary reasons: notes made on paper and typed later, the clock of the phone, two people sharing the "
    "work.",
}
SUGGESTED: Mapping[str, str] = {
    "digits": "Suggested: look at the gauge together and agree how finely it is read.",
    "run": "Suggested: measure once with a second gauge and note it.",
    "alternating": "Suggested: note who measures, where and with which gauge.",
    "smooth": "Suggested: look at the gauge and at the place that is measured.",
    "pace": "Suggested: ask how the list was filled that day.",
}
SAME_WORDS: Mapping[str, str] = {"repeats": "run", "floor": "pace"}
CLOSING = "This is not a finding about a person."


@dataclass(frozen=True)
class Hint:
    """What was looked for (``kind``) and found: a status, why not (``reason``), how many readings, how rare it is.

    ``skipped`` readings were no plain figures on this scale. ``p`` is the chance (or a bound of it) that honest
    readings look so; ``None`` where it was not reckoned. ``params`` are the named values of the sentences.
    """

    kind: str
    status: str
    n: int = 0
    skipped: int = 0
    reason: str | None = None
    p: float | None = None
    params: tuple[tuple[str, str], ...] = ()

    @property
    def sentences(self) -> list[str]:
        """Return what is to be said, in English: nothing unless the status is ``look``."""
        if self.status != LOOK:
            return []
        words = SAME_WORDS.get(self.kind, self.kind)
        return [FACTS[self.kind] % dict(self.params), ORDINARY[words], SUGGESTED[words], CLOSING]

    @property
    def why_not(self) -> str:
        """Return in English why nothing was looked for, or an empty text."""
        return REASONS[self.reason] if self.reason else ""


def hint(kind: str, p: float, n: int, skipped: int = 0, **params: str) -> Hint:
    """Return ``look`` where honest readings look so less than once in a thousand times, else ``nothing``.

    >>> hint("pace", 0.001, 14).status, hint("pace", 0.0009, 14).status
    ('nothing', 'look')
    """
    return Hint(kind, LOOK if p < RARE else NOTHING, n, skipped, p=p, params=tuple(params.items()))


def none(kind: str, reason: str, n: int = 0, skipped: int = 0) -> Hint:
    """Return that nothing was looked for, and why. Raises ``KeyError`` for a reason that is not in the list.

    >>> none("digits", "few", 12).why_not
    'There are too few readings.'
    """
    _ = REASONS[reason]
    return Hint(kind, NOT_APPLICABLE, n, skipped, reason)


@dataclass(frozen=True)
class Scale:
    """A gauge's scale: one step of it in ``unit``, and the decimal places that its figures are written with."""

    step: Fraction
    places: int
    unit: str

    @property
    def in_last_digit(self) -> int:
        """Return the step in units of the last digit: 1 for 0.1, 5 for 0.05."""
        return int(self.step * 10**self.places)

    def written(self, value: Fraction) -> str:
        """Write a value of the scale with its unit."""
        return with_unit(f"{value.numerator / value.denominator:.{self.places}f}", self.unit)


def scale_of(step: str | None, unit: str) -> Scale | None:
    """Return the scale of a gauge that reads in steps of a decimal number as text; ``None`` if that is none.

    >>> scale_of("0.05", "mm").in_last_digit, scale_of("0.10", "mm").places, scale_of("0", "mm")
    (5, 1, None)
    """
    try:
        number = Decimal((step or "").strip())
    except InvalidOperation:
        return None
    if not number.is_finite() or not 0 < number <= 1000 or number < Decimal("1e-6"):
        return None
    exact = Fraction(number)
    text = exact_text(exact)
    return Scale(exact, len(text.partition(".")[2]), unit)


def figures(texts: Iterable[str | None], scale: Scale) -> tuple[list[Fraction], int]:
    """Return the readings that were typed as plain figures of this scale, as exact numbers, and how many were not.

    A figure in another unit, between two steps, not clear or missing is skipped: it says nothing about this gauge.

    >>> figures(["11.8", "11,7 mm", "0.46 in", "11.75", "-", None], scale_of("0.1", "mm"))
    ([Fraction(59, 5), Fraction(117, 10)], 4)
    """
    found, skipped = [], 0
    for text in texts:
        try:
            figure = read_figure(text or "", scale.unit, signed=True)
        except Unclear:
            skipped += 1
            continue
        if figure.is_converted or figure.value % scale.step:
            skipped += 1
        else:
            found.append(figure.value)
    return found, skipped
