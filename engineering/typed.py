"""What a technician typed becomes an exact figure, or a clear question. Nothing is guessed.

A comma or a point may be the decimal sign; a comma followed by exactly three digits is asked back, for it means a
thousand to some and a decimal to others. Another unit is converted only where it was typed and measures the same thing.
Inch fractions are read as written on an inch gauge. A question carries a code and parameters for translation.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from fractions import Fraction

from engineering.bounds import ISO_DAY
from engineering.exact import exact_text
from engineering.units import AMBIGUOUS, BARE, INCH_MM, UNITS, convert, unit_named, with_unit

MOST_DIGITS = 15
GAUGE_FRACTIONS = (2, 4, 8, 16, 32, 64, 128)
MOST_CHARACTERS = 60  # what the record keeps of a reading as typed

SENTENCES: Mapping[str, str] = {
    "empty": "Nothing was entered.",
    "too-long": "That is too long for a figure.",
    "nonsense": "“%(text)s” is not a figure.",
    "unfinished": "“%(text)s” ends with its decimal sign.",
    "exponent": "Write the figure out, without an exponent.",
    "comma-three": "Does “%(text)s” mean a decimal or thousands?",
    "two-signs": "“%(text)s” has two decimal signs.",
    "two-numbers": "“%(text)s” holds more than one number.",
    "negative": "A figure below nought cannot be here.",
    "unit-unknown": "“%(unit)s” is not a unit known here.",
    "unit-ambiguous": "“%(unit)s” can mean different things (%(meanings)s).",
    "unit-other": "This figure is asked for in %(asked)s; “%(unit)s” measures something else.",
    "fraction-odd": "“%(text)s” is not a fraction of an inch gauge (halves to 128ths).",
    "fraction-unit": "A fraction is read in inches only: type the unit too.",
    "not-whole": "This is counted in whole numbers.",
    "one-reading": "Two readings are needed, at right angles.",
    "mixed-units": "The two readings are in different units.",
    "far-apart": "The two readings differ too much to be of one diameter.",
    "mark": "“%(text)s” says neither sound nor defective.",
    "yes-no": "“%(text)s” says neither yes nor no.",
    "date-order": "Day and month of “%(text)s” could be swapped.",
    "date": "“%(text)s” is not a date.",
    "date-ahead": "%(date)s lies ahead of %(day)s.",
    "tenfold-last": "%(value)s is at least five times more or less than last time (%(other)s).",
    "tenfold-nominal": "%(value)s is at least five times more or less than the nominal figure (%(other)s).",
    "inches": "%(value)s looks like inches: %(inches)s in would be %(converted)s.",
}
SUGGESTIONS: Mapping[str, str] = {
    "comma-three": "Type %(first)s or %(second)s.",
    "two-signs": "Type it without a sign for thousands.",
    "unfinished": "Type %(first)s, or the missing digits.",
    "fraction-unit": "Type %(first)s.",
    "date-order": "Type year-month-day, as in 2025-03-04.",
    "date": "Type year-month-day, as in 2025-03-04.",
    "two-numbers": "Type one figure.",
    "one-reading": "Type both, as in 11.8 / 11.7.",
    "far-apart": "Measure again; if the rope is flat, mark its condition.",
    "unit-ambiguous": "Type the figure in %(asked)s.",
    "unit-other": "Type the figure in %(asked)s.",
    "unit-unknown": "Type the figure in %(asked)s.",
}


class Unclear(ValueError):
    """A question back to the person who typed: ``code``, ``params``, an English ``sentence`` and ``suggestion``.

    ``choices`` are what to offer for a tap, where the meanings are known.
    """

    def __init__(self, code: str, choices: tuple[str, ...] = (), **params: str) -> None:
        params = {**params, **dict(zip(("first", "second"), choices, strict=False))}
        self.code, self.params, self.choices = code, params, choices
        self.sentence = SENTENCES[code] % params
        self.suggestion = SUGGESTIONS.get(code, "") % params
        super().__init__(self.sentence)


@dataclass(frozen=True)
class Figure:
    """An exact figure in ``unit``, with the text as typed and the unit in which it was typed.

    ``parts`` are the single readings of a pair, in ``unit``.
    """

    value: Fraction
    unit: str
    text: str
    typed_unit: str
    parts: tuple[Fraction, ...] = field(default=())

    @property
    def is_converted(self) -> bool:
        """Say whether the figure was typed in another unit."""
        return self.typed_unit != self.unit

    @property
    def exact(self) -> str:
        """Return the value as text that loses nothing: a decimal, or a quotient."""
        return exact_text(self.value)


@dataclass(frozen=True)
class Doubt:
    """Why a clear figure is asked again once; it is kept as typed if the person says so."""

    code: str
    params: Mapping[str, str]

    @property
    def sentence(self) -> str:
        """Return the question in English."""
        return SENTENCES[self.code] % self.params


def read_figure(text: str, unit: str, *, signed: bool = False) -> Figure:
    """Read one figure for a field in ``unit``; ``signed`` allows figures below nought. Raises ``Unclear``.

    >>> read_figure("11,8", "mm").exact, read_figure("0.46 in", "mm").exact, read_figure('1 1/2"', "mm").exact
    ('11.8', '11.684', '38.1')
    """
    value, typed = _read(_plain(text), unit, signed)
    return Figure(_converted(value, typed, unit), unit, text.strip(), typed or unit)


def read_count(text: str) -> Figure:
    """Read a whole number of nought or more. Raises ``Unclear``.

    >>> read_count("12").exact
    '12'
    """
    figure = read_figure(text, "count")
    if figure.value.denominator != 1 or re.search(r"[.,]", _plain(text)):
        raise Unclear("not-whole")
    return figure


def read_pair(text: str, unit: str) -> Figure:
    """Read two readings at right angles; the value is their mean. Raises ``Unclear``.

    Between the two stands a stroke with spaces, a semicolon, or, where no inch fraction could be meant, a bare stroke.
    A unit after the second only holds for both. The mean is the measured diameter of ISO 4309 (READ-2).

    >>> read_pair("11.8 / 11.7 mm", "mm").exact
    '11.75'
    """
    plain = _plain(text)
    halves = re.split(r"\s+/\s+|\s*;\s*", plain)
    if len(halves) == 1 and not _inches_meant(plain, unit):
        halves = plain.split("/")
    if len(halves) == 1:
        _read(plain, unit, signed=False)  # asks its own question if the one reading is not clear either
        raise Unclear("one-reading")
    if len(halves) > 2:
        raise Unclear("two-numbers", text=text.strip())
    (first, first_unit), (second, second_unit) = (_read(half, unit, signed=False) for half in halves)
    if first_unit and first_unit != second_unit:
        raise Unclear("mixed-units")
    parts = tuple(_converted(value, second_unit, unit) for value in (first, second))
    if max(parts) > min(parts) * Fraction(3, 2):
        raise Unclear("far-apart")
    return Figure(sum(parts, Fraction(0)) / 2, unit, text.strip(), second_unit or unit, parts)


def read_mark(text: str) -> str:
    """Read a mark: ``sound``, ``watch`` or ``defect``. Yes and no are asked back, their meaning hangs on the question.

    >>> read_mark(" Sound ")
    'sound'
    """
    words = {"sound": "sound", "ok": "sound", "watch": "watch", "defect": "defect", "defective": "defect"}
    plain = _plain(text).lower()
    if plain not in words:
        raise Unclear("mark", choices=("sound", "defect"), text=text.strip())
    return words[plain]


def read_yes_no(text: str) -> bool:
    """Read yes or no. Raises ``Unclear``."""
    words = {"yes": True, "y": True, "true": True, "no": False, "n": False, "false": False}
    plain = _plain(text).lower()
    if plain not in words:
        raise Unclear("yes-no", choices=("yes", "no"), text=text.strip())
    return words[plain]


def read_date(text: str, *, not_after: date | None = None) -> date:
    """Read an ISO date, not later than ``not_after`` if that is given. Raises ``Unclear``; never swaps day and month.

    >>> read_date("2025-03-04")
    datetime.date(2025, 3, 4)
    """
    plain = _plain(text)
    if not ISO_DAY.fullmatch(plain):
        swapped = re.fullmatch(r"\d{1,2}[./ -]\d{1,2}[./ -]\d{2,4}", plain)
        raise Unclear("date-order" if swapped else "date", text=text.strip())
    try:
        found = date.fromisoformat(plain)
    except ValueError:
        raise Unclear("date", text=text.strip()) from None
    if not 1900 <= found.year <= 2200:
        raise Unclear("date", text=text.strip())
    if not_after is not None and found > not_after:
        raise Unclear("date-ahead", date=found.isoformat(), day=not_after.isoformat())
    return found


def doubtful(value: Fraction, last: Fraction | None, nominal: Fraction | None, *, unit: str = "") -> Doubt | None:
    """Say why a clear figure should be asked again, or ``None``. The figures are in ``unit``.

    In a millimetre field: if the figure taken as inches comes within 15 % of the nominal or last figure, inches were
    meant. Otherwise: five times more or less than the last figure or the nominal one, which is where a slipped decimal
    sign shows (judgement; no published threshold).

    >>> doubtful(Fraction("118"), Fraction("11.8"), None, unit="mm").code
    'tenfold-last'
    >>> doubtful(Fraction("0.46"), None, Fraction(12), unit="mm").code
    'inches'
    """
    said = with_unit(exact_text(value), unit)
    known = [(name, other) for name, other in (("last", last), ("nominal", nominal)) if other is not None and other > 0]
    far = [(name, other) for name, other in known if value >= 5 * other or 5 * value <= other]
    if unit == "mm" and far:
        converted = value * INCH_MM
        if any(abs(converted - other) * 100 <= 15 * other for _, other in known):
            params = {"value": said, "inches": exact_text(value), "converted": with_unit(exact_text(converted), "mm")}
            return Doubt("inches", params)
    if far:
        name, other = far[0]
        return Doubt(f"tenfold-{name}", {"value": said, "other": with_unit(exact_text(other), unit)})
    return None


def _plain(text: str) -> str:
    """Return the text in plain ASCII signs where that changes no meaning: digits of any script, spaces, signs, quotes.

    Superscripts and the like are left alone, so that they are refused and not read as digits. Raises ``Unclear``.
    """
    if len(text) > MOST_CHARACTERS:
        raise Unclear("too-long")
    signs = {"\u066b": ".", "\uff0e": ".", "\uff0c": ",", "\u2044": "/", "\u2215": "/", "\u2032": "'", "\u2033": '"'}
    signs |= {"\u2019": "'", "\u201d": '"', "\uff0d": "-", "\u2212": "-", "\u2013": "-", "\u2010": "-", "\u2011": "-"}
    made = []
    for character in text:
        if unicodedata.category(character) == "Nd":
            made.append(str(unicodedata.decimal(character)))
        elif unicodedata.category(character) == "No" and "\u2044" in unicodedata.normalize("NFKC", character):
            made.append(" " + unicodedata.normalize("NFKC", character).replace("\u2044", "/"))  # 1½ is 1 1/2, not 11/2
        elif character.isspace():
            made.append(" ")
        elif unicodedata.category(character) == "Cf":
            continue  # marks of writing direction, which keyboards add unseen
        else:
            made.append(signs.get(character, character))
    plain = " ".join("".join(made).split())
    if not plain:
        raise Unclear("empty")
    return plain


_NUMBER = re.compile(r"(?P<sign>[+-]?) ?(?P<digits>[0-9][0-9.,]*|[.,][0-9]+)")
_FRACTION = re.compile(r"(?P<sign>[+-]?) ?(?:(?P<whole>[0-9]+)[ -])?(?P<above>[0-9]+) ?/ ?(?P<below>[0-9]+)")


def _read(plain: str, unit: str, signed: bool) -> tuple[Fraction, str]:
    """Return the number and the unit typed with it (empty if none). Raises ``Unclear``."""
    if sum(character.isdigit() for character in plain) > MOST_DIGITS:
        raise Unclear("too-long")
    fraction = _FRACTION.match(plain)
    match = fraction or _NUMBER.match(plain)
    if match is None:
        raise Unclear("nonsense", text=plain)
    rest = plain[match.end() :].strip()
    if re.match(r"[eE][+-]?[0-9]", rest) or re.match(r"[x×*] ?10", rest):
        raise Unclear("exponent")
    if re.search(r"[0-9]", rest.replace("m/s2", "").replace("m/s^2", "")):
        raise Unclear("two-numbers" if rest[0] in "0123456789 /;-&" or " " in plain else "nonsense", text=plain)
    typed = _unit_typed(rest, unit) if rest else ""
    if fraction:
        value = _inch_fraction(fraction, plain, typed or unit, typed)
    else:
        value = _decimal(match["digits"], match["sign"].replace("+", ""))
    if match["sign"] == "-":
        value = -value
    if value < 0 and not signed:
        raise Unclear("negative")
    return value, typed


def _decimal(digits: str, sign: str) -> Fraction:
    """Read digits with at most one decimal sign; ``sign`` is for the choices offered. Raises ``Unclear``."""
    signs = [character for character in digits if character in ".,"]
    if len(signs) > 1:
        raise Unclear("two-signs", text=digits)
    if digits[-1] in ".,":
        raise Unclear("unfinished", choices=(f"{sign}{digits[:-1]}",), text=digits)
    whole, _, decimals = digits.replace(",", ".").partition(".")
    if "," in signs and len(decimals) == 3:
        meanings = (f"{whole or '0'}.{decimals}", f"{whole}{decimals}".lstrip("0") or "0")
        raise Unclear("comma-three", choices=tuple(f"{sign}{each}" for each in meanings), text=digits)
    return Fraction(f"{whole or '0'}.{decimals or '0'}")


def _inch_fraction(found: re.Match[str], plain: str, unit: str, typed: str) -> Fraction:
    """Read a fraction of an inch gauge: proper after a whole number, halves to 128ths. Raises ``Unclear``."""
    whole, above, below = int(found["whole"] or 0), int(found["above"]), int(found["below"])
    if unit not in ("in", "ft"):
        if typed or below not in GAUGE_FRACTIONS:
            raise Unclear("two-numbers", text=plain)
        raise Unclear("fraction-unit", choices=(f"{plain} in",))
    if below not in GAUGE_FRACTIONS or (found["whole"] and above >= below):
        raise Unclear("fraction-odd", text=plain)
    return whole + Fraction(above, below)


def _unit_typed(rest: str, unit: str) -> str:
    """Return the name of the unit typed, if it measures what the field asks for. Raises ``Unclear``."""
    asked = "a plain number" if unit in BARE else unit
    if rest.lower() in AMBIGUOUS:
        raise Unclear("unit-ambiguous", unit=rest, meanings=AMBIGUOUS[rest.lower()], asked=asked)
    found = unit_named(rest, dimension=UNITS[unit].dimension)
    if found is None:
        raise Unclear("unit-unknown" if rest[0].isalpha() else "nonsense", text=rest, unit=rest, asked=asked)
    if found.dimension != UNITS[unit].dimension:
        raise Unclear("unit-other", unit=rest, asked=asked)
    return found.name


def _converted(value: Fraction, typed: str, unit: str) -> Fraction:
    return convert(value, typed, unit) if typed and typed != unit else value


def _inches_meant(plain: str, unit: str) -> bool:
    """Say whether a bare stroke could be that of an inch fraction: the field or the typed unit is in inches."""
    return unit == "in" or bool(re.search(r"(in|inch|inches|\"|'')$", plain))
