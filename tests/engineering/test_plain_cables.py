"""Closed forms of a hanging cable asked with one figure spoilt at a time: refused by its name. No source; a promise."""

import math

import pytest

from engineering import catenary, parabola
from engineering.refusal import Refusal

HUNG = {"weight": 10.0, "span": 300.0, "tension": 15e3}
POSITIVE = dict.fromkeys(HUNG, True)
STATE = {
    "tension": 15e3,
    "weight_before": 10.0,
    "weight_after": 12.0,
    "span": 300.0,
    "stiffness": 10e6,
    "expansion": 12e-6,
    "warmer_by": 10.0,
}
# Function, figures that it answers for, and whether each has to be above nought.
CASES = [
    (parabola.sag_of_tension, HUNG, POSITIVE),
    (
        parabola.tension_of_sag,
        {"weight": 10.0, "span": 300.0, "sag": 7.5},
        dict.fromkeys(("weight", "span", "sag"), True),
    ),
    (parabola.length, {**HUNG, "drop": 18.0}, {**POSITIVE, "drop": False}),
    (parabola.lowest_point, {**HUNG, "drop": 18.0}, {**POSITIVE, "drop": False}),
    (parabola.change_of_state, STATE, {name: name not in ("expansion", "warmer_by") for name in STATE}),
    (
        catenary.catenary_of_length,
        {"span": 300.0, "length": 302.0, "drop": 18.0},
        {"span": True, "length": True, "drop": False},
    ),
    (catenary.catenary_of_tension, {**HUNG, "drop": 18.0}, {**POSITIVE, "drop": False}),
    (catenary.catenary_of_mean_tension, HUNG, POSITIVE),
]
SPOILT = [(form, good, figure, above) for form, good, kinds in CASES for figure, above in kinds.items()]
IDS = [f"{form.__name__}-{figure}" for form, _, figure, _ in SPOILT]


@pytest.mark.parametrize(("form", "good"), [(form, good) for form, good, _ in CASES])
def test_the_good_figures_are_answered(form, good):
    assert not isinstance(form(**good), Refusal)


@pytest.mark.parametrize(("form", "good", "figure", "above"), SPOILT, ids=IDS)
def test_a_spoilt_figure_is_refused_by_its_name(form, good, figure, above):
    for missing in (None, math.nan):
        assert form(**{**good, figure: missing}).code == "figure-missing"
    for value in (0.0, -1.0, math.inf) if above else (math.inf, -math.inf):
        found = form(**{**good, figure: value})
        assert isinstance(found, Refusal)
        assert found.code == "figure-impossible"
        assert found.params == (("name", figure.replace("_", " ")), ("value", f"{value:.6g}"))


def test_a_cable_no_longer_than_its_chord_is_no_catenary():
    chord = math.hypot(300.0, 18.0)

    assert catenary.catenary_of_length(300.0, chord, 18.0).code in ("length-short", "no-solution")
    assert catenary.catenary_of_length(300.0, chord - 0.1, 18.0).code == "length-short"
