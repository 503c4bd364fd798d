"""Why something is not computed, in the words and units of the person who reads it.

``engineering`` computes and speaks metric. On a course in US units its figures are told in the units in which the forms
of the mechanics ask for them, with as many digits as it takes to keep apart what the computation keeps apart: a weight
beyond a bound never reads like the bound.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from courses.models import Course
from engineering.envelope_notes import NOTES, STEP, Note
from engineering.refusal import SENTENCES, Refusal
from engineering.sentences import METRIC, units_of
from engineering.units import UNITS, convert

# By metric unit of a sentence: the unit of a US course.
US = {
    "m": "ft", "kg": "lb", "m/s": "mph", "N": "lbf", "N/m": "lbf/in", "Pa": "inHg", "degC": "degF", "m2": "ft2",
    "kg/m": "lb/ft", "1/K": "ppm/degF",
}  # fmt: skip
KELVIN_F = Fraction(9, 5)  # degrees Fahrenheit of a difference of one kelvin
FEWEST, USUAL, MOST = 3, 4, 12  # significant digits of a converted figure
# Nobody measures in feet by mistake where everything is typed in feet.
_US_SENTENCES = {
    "drop-feet": gettext_noop(
        "A drop of %(value)s %(m)s is a slope of %(slope)s %%, too steep for this method; look at its unit."
    )
}
_DRAG = gettext_noop(
    "The rides ask for a drag area of %(value)s %(m2)s, outside %(low)s to %(high)s %(m2)s; look at wind and units."
)


def sentence_of(refusal: Refusal, units: str) -> str:
    """Return the sentence of a refusal in the language of the page, its figures in the units of a course."""
    params, source = dict(refusal.params), SENTENCES[refusal.code]
    if refusal.code == "fit-impossible" and params.get("name") == "drag area":
        source = _DRAG
    elif units == Course.Units.US:
        source = _US_SENTENCES.get(refusal.code, source)
    return str(_(source)) % figures_in(params, units_of(source), units)


def sentence_of_note(note: Note, units: str) -> str:
    """Return what is printed with a computed result, in the language of the page and the units of a course."""
    source = NOTES[note.code]
    if not note.params:
        return str(_(source))
    return str(_(source)) % figures_in(STEP | dict(note.params), units_of(source), units)


def figure(value: float, unit: str, units: str) -> str:
    """Return one figure of the computation with its unit, as a course tells it.

    >>> figure(100.0, "kg", "us"), figure(15.0, "degC", "us"), figure(100.0, "kg", "metric")
    ('220 lb', '59 °F', '100 kg')
    """
    made = figures_in({"value": f"{value:.6g}"}, {"value": unit}, units)
    return f"{made['value']} {made[unit]}"


def figures_in(params: Mapping[str, str], unit_of: Mapping[str, str], units: str) -> dict[str, str]:
    """Return what a sentence is filled with: the words of its units, and its figures, never with an exponent.

    >>> in_kg = dict.fromkeys(["value", "low", "high"], "kg")
    >>> made = figures_in({"value": "150.01", "low": "25", "high": "150"}, in_kg, "us")
    >>> made["value"], made["low"], made["high"], made["kg"]
    ('330.72', '55.116', '330.69', 'lb')
    """
    is_us = units == Course.Units.US
    words = {unit: _us_word(unit) if is_us else str(_(word)) for unit, word in METRIC.items()}
    exact = {name: Fraction(params[name]) for name in unit_of if name in params and math.isfinite(float(params[name]))}
    plain = {name: f"{Decimal(params[name]):f}" for name in exact}
    if is_us:
        plain = _apart({name: _in_us(value, unit_of[name]) for name, value in exact.items()}, plain)
    return {**words, **params, **plain}


def _apart(values: Mapping[str, Fraction], metric: Mapping[str, str]) -> dict[str, str]:
    """Return figures with the digits that their metric ones have, and more where two would read alike that are not."""
    digits = max((len(text.strip("-0.").replace(".", "")) for text in metric.values()), default=FEWEST)
    made: dict[str, str] = {}
    for places in range(min(max(digits, FEWEST), USUAL), MOST):
        made = {name: f"{Decimal(f'{float(value):.{places}g}'):f}" for name, value in values.items()}
        if len(set(made.values())) == len(set(values.values())):
            break
    return made


def _in_us(value: Fraction, unit: str) -> Fraction:
    return value * KELVIN_F if unit == "K" else convert(value, unit, US[unit])


def _us_word(unit: str) -> str:
    return "°F" if unit == "K" else UNITS[US[unit]].shown.strip()
