"""Figures in the units that a course speaks: what a field asks for, what was meant by it, what a limit reads like.

What is judged and compared is always in the item's own metric unit; a course that speaks US units is asked and answered
in them. What was typed is kept as typed, with its unit behind it, and converted exactly.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from courses.models import Course
from engineering.exact import parse_exact, rounded, shown
from engineering.units import BARE, UNITS, convert

US = {
    "mm": "in", "cm": "in", "m": "ft", "kg": "lb", "m/s": "mph", "kN": "lbf", "Nm": "ft-lb", "degC": "degF",
}  # fmt: skip
_OWN_UNIT = re.compile(r"[^\W\d_]|[\"'″′°%]")
MOST_PLACES = 3
PLACES = {"in": 3, "ft": 2, "lb": 1, "mph": 1, "lbf": 0, "ft-lb": 1, "degF": 1}


def asked_in(unit: str, units: str) -> str:
    """Return the unit in which a course is asked for a figure of a unit."""
    return US.get(unit, unit) if units == Course.Units.US else unit


def has_unit(text: str) -> bool:
    """Tell whether somebody typed a unit behind a figure."""
    return bool(_OWN_UNIT.search(text))


def as_meant(text: str, unit: str, units: str) -> str:
    """Return what was typed with the unit that the field asked for, where that is not the item's own.

    >>> as_meant("250", "kg", "us"), as_meant("113 kg", "kg", "us"), as_meant("115", "kg", "metric")
    ('250 lb', '113 kg', '115')
    """
    asked = asked_in(unit, units)
    if asked == unit or not text.strip() or has_unit(text):
        return text
    return f"{text.strip()} {asked}"


def as_typed(text: str, unit: str, units: str) -> str:
    """Return a figure as it stands in its field: without the unit that is printed behind the field.

    >>> as_typed("250 lb", "kg", "us"), as_typed("113 kg", "kg", "us")
    ('250', '113 kg')
    """
    asked = asked_in(unit, units)
    return text.removesuffix(f" {asked}") if asked != unit else text


def said(text: str, unit: str) -> str:
    """Return a figure with its unit, once.

    >>> said("250 lb", "kg"), said("11.8", "mm"), said("3", "count")
    ('250 lb', '11.8 mm', '3')
    """
    if not text or has_unit(text) or unit in BARE or not unit:
        return text
    return text + UNITS[unit].shown if unit in UNITS else f"{text} {unit}"


def in_both(number: str, unit: str, units: str, *, toward: str = "nearest") -> str:
    """Return a stored figure in the course's unit with the metric one behind it. ``toward``: see ``exact.rounded``.

    >>> in_both("115", "kg", "us"), in_both("115", "kg", "metric")
    ('253.5 lb (115 kg)', '115 kg')
    >>> in_both("25.03424", "m/s", "us")
    '56 mph (25.034 m/s)'
    """
    asked = asked_in(unit, units)
    if asked == unit:
        return said(number, unit)
    places, exact = PLACES[asked], parse_exact(number)
    value = rounded(convert(exact, unit, asked), places, toward)
    # What was typed in the course's own unit has a long tail of decimals in the other.
    plain = number if len(number.partition(".")[2]) <= MOST_PLACES else shown(exact, most=MOST_PLACES, toward=toward)
    return f"{said(shown(value, most=places), asked)} ({said(plain, unit)})"


@dataclass(frozen=True)
class Shown:
    """A figure as shown: value and unit of the course, and the metric one where that is another."""

    value: str
    unit: str
    metric: str = ""

    def __str__(self) -> str:
        return f"{self.value} {self.unit}" + (f" ({self.metric})" if self.metric else "")


def shown_most(number: str, unit: str, units: str) -> Shown:
    """Return an upper limit in the course's unit, never above what it is.

    >>> str(shown_most("9", "m/s", "us")), str(shown_most("9", "m/s", "metric"))
    ('20.1 mph (9 m/s)', '9 m/s')
    """
    asked = asked_in(unit, units)
    if asked == unit:
        return Shown(number, unit)
    return Shown(_inward(number, unit, asked, "down"), asked, f"{number} {unit}")


def shown_weights(least: str, most: str, units: str) -> Shown:
    """Return a range of riders' weights in kg as the course reads it, never wider than it is.

    >>> str(shown_weights("35", "115", "us")), str(shown_weights("35", "115", "metric"))
    ('77.2 – 253.5 lb (35 – 115 kg)', '35 – 115 kg')
    """
    metric, asked = f"{least} – {most}", asked_in("kg", units)
    if asked == "kg":
        return Shown(metric, "kg")
    own = f"{_inward(least, 'kg', asked, 'up')} – {_inward(most, 'kg', asked, 'down')}"
    return Shown(own, asked, f"{metric} kg")


def shown_travel(used: str, available: str, units: str) -> str:
    """Return the brake travel used in m, of how much where that is known, as the course reads it; empty for none.

    >>> shown_travel("1.82", "6", "us"), shown_travel("1.82", "6", "metric"), shown_travel("1.82", "", "metric")
    ('5.98 / 19.68 ft (1.82 / 6 m)', '1.82 / 6 m', '1.82 m')
    """
    if not used:
        return ""
    metric = f"{used} / {available} m" if available else f"{used} m"
    asked = asked_in("m", units)
    if asked == "m":
        return metric
    own = _inward(used, "m", asked, "up") + (f" / {_inward(available, 'm', asked, 'down')}" if available else "")
    return f"{own} {asked} ({metric})"


def _inward(number: str, unit: str, asked: str, toward: str) -> str:
    return shown(rounded(convert(parse_exact(number), unit, asked), PLACES[asked], toward), most=PLACES[asked])
