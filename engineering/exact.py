"""Exact numbers as text: read, write and show them without ever rounding what is judged.

Binary floats cannot hold 11.40: (12 - 11.4) / 12 is then not 5 %. Everything that decides is a ``Fraction``;
everything stored or sent is text in one small grammar that a phone's script can read as well: a decimal (``"11.40"``)
or a quotient of two (``"1/3"``, ``"125/9"``).
"""

from __future__ import annotations

import re
from decimal import Decimal, localcontext
from fractions import Fraction

GRAMMAR = re.compile(r"-?[0-9]{1,40}(\.[0-9]{1,40})?(/[0-9]{1,40})?")


def parse_exact(text: str) -> Fraction:
    """Read a number of the stored grammar: ASCII digits, a point, at most one quotient stroke.

    Raises ``ValueError`` for anything else (exponents, spaces, commas, a zero below the stroke).

    >>> parse_exact("11.40"), parse_exact("100/3")
    (Fraction(57, 5), Fraction(100, 3))
    """
    if not GRAMMAR.fullmatch(text):
        raise ValueError(f"not an exact number: {text!r}")
    above, _, below = text.partition("/")
    if below and int(below) == 0:
        raise ValueError(f"nothing can be divided by zero: {text!r}")
    return Fraction(above) / (int(below) if below else 1)


def exact_text(value: Fraction) -> str:
    """Write a number so that ``parse_exact`` gives it back: a decimal if that is finite, else a quotient.

    >>> exact_text(Fraction("11.40")), exact_text(Fraction(1, 3)), exact_text(Fraction(-5))
    ('11.4', '1/3', '-5')
    """
    places = _finite_places(value)
    if places is None:
        return f"{value.numerator}/{value.denominator}"
    return _fixed(value, places)


def as_decimal(value: Fraction) -> Decimal:
    """Return the value as a ``Decimal`` of 28 significant digits (exact for anything typed or converted finitely)."""
    with localcontext() as context:
        context.prec = 28
        return Decimal(value.numerator) / Decimal(value.denominator)


def rounded(value: Fraction, places: int, toward: str = "nearest") -> Fraction:
    """Round to decimal places: ``nearest`` (halves away from zero), ``up`` or ``down`` along the number line.

    >>> rounded(Fraction("11.7335"), 3, "up"), rounded(Fraction("0.125"), 2)
    (Fraction(5867, 500), Fraction(13, 100))
    """
    scaled = value * 10**places
    if toward == "down":
        whole = scaled.numerator // scaled.denominator
    elif toward == "up":
        whole = -(-scaled.numerator // scaled.denominator)
    else:
        whole = (2 * abs(scaled.numerator) + scaled.denominator) // (2 * scaled.denominator)
        whole = whole if scaled >= 0 else -whole
    return Fraction(whole, 10**places)


def rounded_to(value: Fraction, digits: int) -> Fraction:
    """Round to significant digits, for figures that are only computed with; what fits is returned as it is.

    >>> exact_text(rounded_to(Fraction(2, 3), 4)), exact_text(rounded_to(Fraction("0.000012"), 4))
    ('0.6667', '0.000012')
    """
    if value == 0:
        return value
    places = digits - 1 - as_decimal(abs(value)).adjusted()
    return rounded(value, places) if places >= 0 else value


def shown(value: Fraction, *, least: int = 0, most: int = 4, toward: str = "nearest") -> str:
    """Write for people: all decimals if there are at most ``most``, else rounded to ``most``; at least ``least``.

    >>> shown(Fraction("11.4"), least=2), shown(Fraction(40, 3), most=2)
    ('11.40', '13.33')
    """
    places = _finite_places(value)
    if places is None or places > most:
        return _fixed(rounded(value, most, toward), most)
    return _fixed(value, max(places, least))


def shown_bound(bound: Fraction, value: Fraction | None, *, low: bool, least: int = 0) -> str:
    """Write a limit for people, never laxer than it is: a lower bound is rounded up, an upper one down.

    With the value beside it, as many decimals are shown as are needed for the two to stand in their true order.

    >>> shown_bound(Fraction(176, 15), None, low=True)  # 11.7333...
    '11.734'
    >>> shown_bound(Fraction(176, 15), Fraction("11.7335"), low=True)  # 11.7335 passes, so 11.734 would mislead
    '11.7334'
    """
    toward = "up" if low else "down"
    if value is not None:
        for most in range(3, 12):
            near = rounded(bound, most, toward)
            if (value < bound, value > bound) == (value < near, value > near):
                return shown(near, least=min(least, most), most=most)
    return shown(bound, least=least, most=3, toward=toward)


def decimals_of(value: Fraction, most: int = 4) -> int:
    """Return how many decimals a finite number has, at most ``most``."""
    places = _finite_places(value)
    return most if places is None else min(places, most)


def _finite_places(value: Fraction) -> int | None:
    """Count the decimals of a finite decimal number; ``None`` when it has no end."""
    rest, twos, fives = value.denominator, 0, 0
    while rest % 2 == 0:
        rest, twos = rest // 2, twos + 1
    while rest % 5 == 0:
        rest, fives = rest // 5, fives + 1
    return max(twos, fives) if rest == 1 else None


def _fixed(value: Fraction, places: int) -> str:
    whole = rounded(value, places) * 10**places
    digits = str(abs(whole.numerator)).rjust(places + 1, "0")
    sign = "-" if whole < 0 else ""
    return f"{sign}{digits[:-places]}.{digits[-places:]}" if places else f"{sign}{digits}"
