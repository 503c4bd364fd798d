"""What the computation says of figures before they count: shown to who proposes them and to who confirms them.

It keeps nobody from proposing: papers may come later, and nothing missing here holds a line. What cannot be is said in
red to both, and what would follow in still air is told, so that a figure in a wrong unit shows itself.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from decimal import Decimal
from typing import Any

import numpy as np
from django.utils.translation import gettext as _

from courses.mechanics import plan_of
from courses.mechanics_gaps import mechanics_gaps
from courses.refusals import figure, sentence_of
from engineering.envelope import outcome
from engineering.envelope_cells import CELLS
from engineering.line import Cable, Line, slope_problem
from engineering.refusal import Refusal

STILL_C = 15.0
APART = 1.25  # times the arrival speed of the line's data, either way: worth a word (judgement)
Looked = list[tuple[str, str]]


def line_looked(document: Mapping[str, Any], units: str) -> Looked:
    """Say where length and drop of a line cannot belong together; nothing where they can, or one is missing."""
    length, drop = (Decimal(document[name]) if document.get(name) else None for name in ("length_m", "drop_m"))
    if length is None or drop is None:
        return []
    if drop >= length:
        return [("withdraw", _("A drop as long as the line cannot be; look at the units."))]
    span = math.sqrt(float(length * length - drop * drop))
    found = slope_problem(Line(span, float(drop), Cable(None, None), None))
    if found is None:
        return []
    again = ("watch", _("Look at length and drop, and at their units, once more."))
    return [("withdraw", sentence_of(found, units)), again]


def mechanics_looked(
    line: Mapping[str, Any], content: Mapping[str, Any], words: Mapping[str, str], units: str
) -> Looked:  # fmt: skip
    """Say what is missing of a line's mechanics, what cannot be, or what follows from them in still air."""
    gaps = mechanics_gaps(line, content, words)
    if gaps:
        missing = "; ".join(str(gap.label) for gap in gaps)
        return [("watch", _("Nothing can be computed yet. Missing: %(missing)s.") % {"missing": missing})]
    problem = problem_of(line, content, units)
    if problem:
        return [
            ("withdraw", problem),
            ("watch", _("With these figures nothing is computed. Look at them once more before it is sent.")),
        ]
    return [
        ("ok", _("These figures can be computed with. Whether they are right, only their papers say.")),
        *_still_air(line, content, units),
    ]


def problem_of(line: Mapping[str, Any], content: Mapping[str, Any], units: str) -> str:
    """Return the sentence why nothing is computed from these figures, empty where they can be computed with."""
    found = plan_of(line, content, air_c=STILL_C, cross_mps=0.0)
    return sentence_of(found, units) if isinstance(found, Refusal) else ""


def _still_air(line: Mapping[str, Any], content: Mapping[str, Any], units: str) -> Iterator[tuple[str, str]]:
    """Yield what becomes of the lightest and heaviest rider in still air, and how the speed fits the line's data."""
    plan = plan_of(line, content, air_c=STILL_C, cross_mps=0.0)
    masses = [float(line[name]) for name in ("mass_min_kg", "mass_max_kg") if line.get(name)]
    if isinstance(plan, Refusal) or not masses:
        return
    found = outcome(plan, np.array(masses), 0.0)
    if isinstance(found, Refusal):
        yield "withdraw", sentence_of(found, units)
        return
    for mass, name, speed in zip(masses, found.names(), found.ride.arrival_mps.tolist(), strict=True):
        told = {"mass": figure(mass, "kg", units), "state": str(_(CELLS[name])), "air": figure(STILL_C, "degC", units)}
        if math.isnan(speed):
            yield "watch", _("In still air at %(air)s a rider of %(mass)s: %(state)s") % told
        else:
            told["speed"] = figure(round(speed, 1), "m/s", units)
            sentence = _("In still air at %(air)s a rider of %(mass)s arrives with %(speed)s: %(state)s") % told
            yield "" if name == "ok" else "watch", sentence
    fastest = max((one for one in found.ride.arrival_mps.tolist() if not math.isnan(one)), default=None)
    expected = float(line["arrival_speed_mps"]) if line.get("arrival_speed_mps") else None
    if fastest is not None and expected and not expected / APART <= fastest <= expected * APART:
        told = {"computed": figure(round(fastest, 1), "m/s", units), "data": figure(expected, "m/s", units)}
        yield (
            "watch",
            _("Computed arrival %(computed)s; the line's data say %(data)s at most. One may be wrong.") % told,
        )
