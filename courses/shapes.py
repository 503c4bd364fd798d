"""Readers of the parts a document is made of: each takes what was given and returns it cleaned, or refuses it in words.

A reader is called as ``reader(value, label)``. Empty values are left out, since the history has no null; an unknown key
is refused, so that a misspelt one cannot drop what it was meant to say.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from datetime import date
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.utils.functional import Promise
from django.utils.translation import gettext as _

from courses.errors import Refused

Words = str | Promise
Reader = Callable[[Any, Words], Any]

DECIMAL = re.compile(r"[0-9]{1,12}(\.[0-9]{1,20})?")
WHOLE = re.compile(r"[0-9]{1,9}")
TYPED = "_typed"


def wrong(label: Words, sentence: str) -> Refused:
    return Refused("document", _("%(field)s: %(sentence)s") % {"field": label, "sentence": sentence})


def is_empty(value: Any) -> bool:
    return value is None or value in ("", {}, [], ())


def text(most: int = 120) -> Reader:
    def read(value: Any, label: Words) -> str:
        if not isinstance(value, str):
            raise wrong(label, _("Text is needed."))
        if len(value) > most:
            raise wrong(label, _("At most %(most)s characters.") % {"most": most})
        return value.strip()

    return read


def number(unit: str, *, most: str, least: str = "0", above_least: bool = False) -> Reader:
    """Read a decimal string in one unit. ``most`` catches slips of the keyboard; it is no engineering limit."""

    def read(value: Any, label: Words) -> str:
        if not isinstance(value, str) or not DECIMAL.fullmatch(value):
            raise wrong(label, _("This is not a plain decimal number."))
        figure = Decimal(value)
        if figure < Decimal(least) or (above_least and figure == Decimal(least)):
            raise wrong(label, _("This must be more than %(least)s %(unit)s.") % {"least": least, "unit": unit})
        if figure > Decimal(most):
            raise wrong(label, _("More than %(most)s %(unit)s cannot be right.") % {"most": most, "unit": unit})
        return value

    return read


def whole(*, most: int, least: int = 0) -> Reader:
    def read(value: Any, label: Words) -> str:
        if not isinstance(value, str) or not WHOLE.fullmatch(value):
            raise wrong(label, _("A whole number is needed."))
        if not least <= int(value) <= most:
            raise wrong(label, _("A number from %(least)s to %(most)s is needed.") % {"least": least, "most": most})
        return str(int(value))

    return read


def choice(*values: str) -> Reader:
    def read(value: Any, label: Words) -> str:
        if not isinstance(value, str) or value not in values:
            raise wrong(label, _("Choose one of the answers."))
        return value

    return read


YES_NO = choice("yes", "no")


def day(value: Any, label: Words) -> str:
    """Read a calendar date, ISO 8601."""
    try:
        return date.fromisoformat(value).isoformat()
    except (TypeError, ValueError):
        raise wrong(label, _("A date is needed, as year-month-day.")) from None


def clock(value: Any, label: Words) -> str:
    """Read a wall time, hours and minutes."""
    if not isinstance(value, str) or not re.fullmatch(r"([01][0-9]|2[0-3]):[0-5][0-9]", value):
        raise wrong(label, _("A time of day is needed, as 09:30."))
    return value


def identity(prefix: str, *values: str) -> Reader:
    """Read one of ``values``, or ``prefix`` followed by a UUID."""

    def read(value: Any, label: Words) -> str:
        if value in values:
            return str(value)
        try:
            if isinstance(value, str) and value.startswith(prefix):
                return prefix + str(UUID(value.removeprefix(prefix)))
        except ValueError:
            pass
        raise wrong(label, _("Choose one of the answers."))

    return read


def listing(reader: Reader, *, most: int) -> Reader:
    def read(value: Any, label: Words) -> list[Any]:
        if not isinstance(value, list | tuple):
            raise wrong(label, _("A list is needed."))
        if len(value) > most:
            raise wrong(label, _("At most %(most)s entries.") % {"most": most})
        return [reader(each, label) for each in value]

    return read


def several(*values: str) -> Reader:
    """Read a set of fixed answers, kept in their fixed order."""

    def read(value: Any, label: Words) -> list[str]:
        if not isinstance(value, list | tuple) or not set(value) <= set(values):
            raise wrong(label, _("Choose among the answers."))
        return [each for each in values if each in value]

    return read


def by_name(name: re.Pattern[str], reader: Reader, *, most: int = 400) -> Reader:
    """Read a map whose keys all look like ``name`` and whose values all have one shape."""

    def read(value: Any, label: Words) -> dict[str, Any]:
        if not isinstance(value, Mapping) or len(value) > most:
            raise wrong(label, _("This part of the data has another shape."))
        found = {}
        for key, each in value.items():
            if not isinstance(key, str) or not name.fullmatch(key):
                raise wrong(label, _("%(key)s is no name that is used here.") % {"key": key})
            if not is_empty(each):
                found[key] = reader(each, label)
        return found

    return read


def part(fields: Mapping[str, tuple[Words, Reader]]) -> Reader:
    """Read a map of named fields. A number may stand beside what was typed for it, as ``NAME_typed``."""

    def read(value: Any, label: Words) -> dict[str, Any]:
        if not isinstance(value, Mapping):
            raise wrong(label, _("This part of the data has another shape."))
        found = {}
        for key, each in value.items():
            plain = key.removesuffix(TYPED) if isinstance(key, str) else key
            if plain not in fields:
                raise wrong(label, _("%(key)s is no name that is used here.") % {"key": key})
            if is_empty(each) or (plain != key and is_empty(value.get(plain))):
                continue
            own, reader = fields[plain]
            cleaned = text(40)(each, own) if plain != key else reader(each, own)
            if not is_empty(cleaned):
                found[key] = cleaned
        return found

    return read


def without_typed(value: Any) -> Any:
    """Return the structure without what was typed: what alone decides."""
    if isinstance(value, Mapping):
        return {k: without_typed(v) for k, v in value.items() if not k.endswith(TYPED)}
    if isinstance(value, list):
        return [without_typed(each) for each in value]
    return value
