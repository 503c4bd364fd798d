"""What the parts of a document look like: how each is read, refused in words, and said to people.

A shape is called as ``shape(value, label)`` and returns the value cleaned, or raises Refused. Empty values are left
out, since the history has no null; an unknown key is refused, so that a misspelt one cannot drop what it was to say.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import Any, Protocol
from uuid import UUID

from django.utils.formats import date_format
from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from courses.errors import Refused

Words = str | Promise

DECIMAL = re.compile(r"[0-9]{1,12}(\.[0-9]{1,20})?")
SIGNED = re.compile(r"-?" + DECIMAL.pattern)
WHOLE = re.compile(r"[0-9]{1,9}")
TYPED = "_typed"


class Shape(Protocol):
    def __call__(self, value: Any, label: Words) -> Any: ...


def wrong(label: Words, sentence: str) -> Refused:
    return Refused("document", _("%(field)s: %(sentence)s") % {"field": label, "sentence": sentence})


def is_empty(value: Any) -> bool:
    return value is None or value in ("", {}, [], ())


@dataclass(frozen=True)
class Text:
    """A short text."""

    most: int = 120

    def __call__(self, value: Any, label: Words) -> str:
        if not isinstance(value, str):
            raise wrong(label, _("Text is needed."))
        if len(value) > self.most:
            raise wrong(label, _("At most %(most)s characters.") % {"most": self.most})
        return value.strip()


@dataclass(frozen=True)
class Number:
    """A decimal string in one unit. ``most`` catches slips of the keyboard; it is no engineering limit.

    Only where ``least`` is below nought may the figure have a sign.
    """

    unit: str
    most: str
    least: str = "0"
    above_least: bool = False

    def __call__(self, value: Any, label: Words) -> str:
        plain = SIGNED if Decimal(self.least) < 0 else DECIMAL
        if not isinstance(value, str) or not plain.fullmatch(value):
            raise wrong(label, _("This is not a plain decimal number."))
        figure = Decimal(value)
        bounds = {"least": self.least, "most": self.most, "unit": self.unit}
        if self.above_least and figure <= Decimal(self.least):
            raise wrong(label, _("This must be more than %(least)s %(unit)s.") % bounds)
        if figure < Decimal(self.least):
            raise wrong(label, _("Less than %(least)s %(unit)s cannot be right.") % bounds)
        if figure > Decimal(self.most):
            raise wrong(label, _("More than %(most)s %(unit)s cannot be right.") % bounds)
        return value


@dataclass(frozen=True)
class Whole:
    """A whole number as text."""

    most: int
    least: int = 0

    def __call__(self, value: Any, label: Words) -> str:
        if not isinstance(value, str) or not WHOLE.fullmatch(value):
            raise wrong(label, _("A whole number is needed."))
        if not self.least <= int(value) <= self.most:
            raise wrong(
                label, _("A number from %(least)s to %(most)s is needed.") % {"least": self.least, "most": self.most}
            )
        return str(int(value))


@dataclass(frozen=True)
class Choice:
    """One of a few answers, with their words; with ``prefix`` also the identity of another place."""

    words: Mapping[str, Words]
    prefix: str = ""

    def __call__(self, value: Any, label: Words) -> str:
        if isinstance(value, str) and value in self.words:
            return value
        try:
            if self.prefix and isinstance(value, str) and value.startswith(self.prefix):
                return self.prefix + str(UUID(value.removeprefix(self.prefix)))
        except ValueError:
            pass
        raise wrong(label, _("Choose one of the answers."))


YES_NO = Choice({"yes": gettext_lazy("yes"), "no": gettext_lazy("no")})


@dataclass(frozen=True)
class Several:
    """A set of fixed answers, kept in their fixed order."""

    words: Mapping[str, Words]

    def __call__(self, value: Any, label: Words) -> list[str]:
        if not isinstance(value, list | tuple) or not set(value) <= set(self.words):
            raise wrong(label, _("Choose among the answers."))
        return [each for each in self.words if each in value]


@dataclass(frozen=True)
class Day:
    """A calendar date, ISO 8601."""

    def __call__(self, value: Any, label: Words) -> str:
        try:
            return date.fromisoformat(value).isoformat()
        except (TypeError, ValueError):
            raise wrong(label, _("A date is needed, as year-month-day.")) from None


@dataclass(frozen=True)
class Clock:
    """A wall time, hours and minutes."""

    def __call__(self, value: Any, label: Words) -> str:
        if not isinstance(value, str) or not re.fullmatch(r"([01][0-9]|2[0-3]):[0-5][0-9]", value):
            raise wrong(label, _("A time of day is needed, as 09:30."))
        return value


@dataclass(frozen=True)
class Listing:
    """A list of things of one shape. ``apart``: in words each has a heading of its own, by its ``slot``."""

    each: Shape
    most: int
    apart: bool = False

    def __call__(self, value: Any, label: Words) -> list[Any]:
        if not isinstance(value, list | tuple):
            raise wrong(label, _("A list is needed."))
        if len(value) > self.most:
            raise wrong(label, _("At most %(most)s entries.") % {"most": self.most})
        return [self.each(one, label) for one in value]


@dataclass(frozen=True)
class ByName:
    """A map whose keys all look like ``name`` and whose values all have one shape."""

    name: re.Pattern[str]
    each: Shape
    most: int = 400

    def __call__(self, value: Any, label: Words) -> dict[str, Any]:
        if not isinstance(value, Mapping) or len(value) > self.most:
            raise wrong(label, _("This part of the data has another shape."))
        found = {}
        for key, one in value.items():
            if not isinstance(key, str) or not self.name.fullmatch(key):
                raise wrong(label, _("%(key)s is no name that is used here.") % {"key": key})
            if not is_empty(one):
                found[key] = self.each(one, label)
        return found


@dataclass(frozen=True)
class Part:
    """A map of named fields. A number may stand beside what was typed for it, as ``NAME_typed``."""

    fields: Mapping[str, tuple[Words, Any]] = field(default_factory=dict)
    has_heading: bool = True  # in words it stands under a heading of its own, not under that of the part around it

    def __call__(self, value: Any, label: Words) -> dict[str, Any]:
        if not isinstance(value, Mapping):
            raise wrong(label, _("This part of the data has another shape."))
        found = {}
        for key, one in value.items():
            plain = key.removesuffix(TYPED) if isinstance(key, str) else key
            if plain not in self.fields:
                raise wrong(label, _("%(key)s is no name that is used here.") % {"key": key})
            if is_empty(one) or (plain != key and is_empty(value.get(plain))):
                continue
            own, shape = self.fields[plain]
            cleaned = Text(40)(one, own) if plain != key else shape(one, own)
            if not is_empty(cleaned):
                found[key] = cleaned
        return found


def without_typed(value: Any) -> Any:
    """Return the structure without what was typed: what alone decides."""
    if isinstance(value, Mapping):
        return {key: without_typed(one) for key, one in value.items() if not key.endswith(TYPED)}
    if isinstance(value, list):
        return [without_typed(one) for one in value]
    return value


@dataclass(frozen=True)
class Said:
    """One line of a document in words: its path, where it belongs, what it is and what it says."""

    path: str
    section: str
    label: str
    value: str


def said(shape: Any, value: Any, *, names: Mapping[str, str], path: str = "", section: Words = "") -> Iterator[Said]:
    """Put a document of a shape into words, field by field in the shape's order.

    ``names``: what identities (``line:UUID``), quantities and slots (``slot:SLOT``) are called, and the unit of each
    quantity (``unit:QUANTITY``).
    """
    for key, (label, inner) in shape.fields.items():
        one = value.get(key)
        if is_empty(one):
            continue
        here = f"{path}.{key}" if path else key
        if isinstance(inner, Part):
            yield from said(inner, one, names=names, path=here, section=label if inner.has_heading else section)
        elif isinstance(inner, Listing) and isinstance(inner.each, Part) and inner.apart:
            for row in one:
                heading = names.get(f"slot:{row['slot']}", row["slot"])
                rest = {name: field for name, field in row.items() if name != "slot"}
                yield from said(inner.each, rest, names=names, path=f"{here}.{row['slot']}", section=heading)
        elif isinstance(inner, Listing) and isinstance(inner.each, Part):
            for number, row in enumerate(one):
                words = ", ".join(line.value for line in said(inner.each, row, names=names))
                yield Said(f"{here}.{row.get('slot', number)}", str(section or label), str(label), words)
        elif isinstance(inner, ByName):
            for name, row in one.items():
                unit = names.get(f"unit:{name}", "")
                for line in said(inner.each, row, names={**names, "unit:": unit}):
                    yield Said(f"{here}.{name}.{line.path}", names.get(name, name), line.label, line.value)
        else:
            yield Said(here, str(section), str(label), _in_words(inner, one, value.get(key + TYPED, ""), names))


def _in_words(shape: Any, value: Any, typed: str, names: Mapping[str, str]) -> str:
    if isinstance(shape, Number):
        plain = f"{value} {shape.unit or names.get('unit:', '')}".strip()
        return _("%(typed)s (%(plain)s)") % {"typed": typed, "plain": plain} if typed else plain
    if isinstance(shape, Choice):
        return str(shape.words.get(value) or names.get(value, value))
    if isinstance(shape, Several):
        return ", ".join(str(shape.words[one]) for one in value)
    if isinstance(shape, Day):
        return date_format(date.fromisoformat(value), "j F Y")
    if isinstance(shape, Listing):
        return ", ".join(names.get(one, one) for one in value)
    return str(value)
