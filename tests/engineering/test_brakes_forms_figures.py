"""Closed forms of brakes asked with one figure spoilt at a time: refused by its name. No source; a promise.

And each form once more with figures that no factor can hide in; the source stands beside it.
"""

import math

import pytest

from engineering import brakes_forms as forms
from engineering.line import G_MPS2
from engineering.refusal import Refusal, refuse

ABOVE, NOT_BELOW, ANY = "above nought", "not below nought", "any"
# Function, arguments in order, and for each the name that a refusal gives it and what it has to be.
FORMS = [
    (
        forms.spring_stroke,
        [80.0, 8.0, 1200.0, 200.0, 50.0],
        [("mass", ABOVE), ("speed", NOT_BELOW), ("rate", ABOVE), ("preload", NOT_BELOW), ("pull", ANY)],
    ),
    (
        forms.spring_stroke_to_bind,
        [80.0, 8.0, 1200.0, 1.5, 2e5, 200.0, 50.0],
        [
            ("mass", ABOVE),
            ("speed", NOT_BELOW),
            ("rate", ABOVE),
            ("bind", ABOVE),
            ("bind rate", ABOVE),
            ("preload", NOT_BELOW),
            ("pull", ANY),
        ],
    ),
    (forms.spring_for_peak, [80.0, 8.0, 20.0], [("mass", ABOVE), ("speed", ABOVE), ("deceleration", ABOVE)]),
    (
        forms.helical_rate,
        [81_370.0, 5.0, 40.0, 5.0],
        [("shear modulus", ABOVE), ("wire", ABOVE), ("diameter", ABOVE), ("coils", ABOVE)],
    ),
    (
        forms.helical_free_length,
        [300.0, 20.0, 5.0, 7.0, 6.0],
        [("load", NOT_BELOW), ("rate", ABOVE), ("wire", ABOVE), ("coils", ABOVE), ("gaps", NOT_BELOW)],
    ),
    (forms.eddy_force, [6.0, 1500.0, 6.0], [("speed", NOT_BELOW), ("force", ABOVE), ("critical speed", ABOVE)]),
    (
        forms.eddy_distance,
        [90.0, 12.0, 2.0, 1500.0, 6.0],
        [("mass", ABOVE), ("speed", ANY), ("end speed", NOT_BELOW), ("force", ABOVE), ("critical speed", ABOVE)],
    ),
    (
        forms.eddy_time,
        [90.0, 12.0, 2.0, 1500.0, 6.0],
        [("mass", ABOVE), ("speed", ANY), ("end speed", ABOVE), ("force", ABOVE), ("critical speed", ABOVE)],
    ),
    (forms.eddy_creep, [44.0, 1500.0, 6.0], [("pull", ABOVE), ("force", ABOVE), ("critical speed", ABOVE)]),
    (forms.rope_load, [380.0, 0.2, 4.7], [("hold", NOT_BELOW), ("friction", NOT_BELOW), ("angle", NOT_BELOW)]),
    (forms.rope_hold, [980.0, 0.2, 4.7], [("load", NOT_BELOW), ("friction", NOT_BELOW), ("angle", NOT_BELOW)]),
    (forms.stroke_for_mean, [5.0, 1.5, 9.8], [("speed", NOT_BELOW), ("mean", ABOVE), ("gravity", ABOVE)]),
    (
        forms.run_out,
        [9.0, 0.12, 0.01, 9.8],
        [("speed", NOT_BELOW), ("slope", ANY), ("rolling", NOT_BELOW), ("gravity", ABOVE)],
    ),
    (forms.in_g, [8000.0, 100.0], [("force", ANY), ("mass", ABOVE)]),
    (forms.speed_thrown_back, [8.0, 0.9], [("speed", NOT_BELOW), ("returned", NOT_BELOW)]),
    (
        forms.pad_wear,
        [3.2e6, 0.35, 1e-14, 0.002],
        [("heat", NOT_BELOW), ("friction", ABOVE), ("wear", ABOVE), ("area", ABOVE)],
    ),
]
SPOILT = [(form, good, i, *one) for form, good, names in FORMS for i, one in enumerate(names)]
IDS = [f"{form.__name__}-{name}" for form, _, _, name, _ in SPOILT]
IMPOSSIBLE = {ABOVE: (0.0, -1.0, math.inf), NOT_BELOW: (-0.5, math.inf), ANY: (math.inf, -math.inf)}


@pytest.mark.parametrize(("form", "good", "i", "name", "kind"), SPOILT, ids=IDS)
def test_a_spoilt_figure_is_refused_by_its_name(form, good, i, name, kind):
    assert not isinstance(form(*good), Refusal)
    for missing in (None, math.nan):
        assert form(*good[:i], missing, *good[i + 1 :]) == refuse("figure-missing")
    for value in IMPOSSIBLE[kind]:
        found = form(*good[:i], value, *good[i + 1 :])
        assert found == refuse("figure-impossible", name=name, value=value)
    if kind is NOT_BELOW:
        assert not isinstance(form(*good[:i], 0.0, *good[i + 1 :]), Refusal)


def test_springs_in_line_refuse_each_by_its_name():
    assert forms.in_line((0.0, 1.0)) == refuse("figure-impossible", name="rate", value=0.0)
    assert forms.in_line((1000.0, 1.0), (1000.0, -1.0)) == refuse("figure-impossible", name="travel", value=-1.0)
    assert forms.in_line((1000.0, math.nan)) == refuse("figure-missing")


def test_what_cannot_be_is_refused_with_its_figure():
    """A brake makes nobody faster, a spring gives back no more than it took, and a run-out has to hold."""
    assert forms.eddy_distance(90.0, 2.0, 2.5, 1500.0, 6.0) == refuse("figure-impossible", name="end speed", value=2.5)
    assert forms.eddy_time(90.0, 2.0, 2.5, 1500.0, 6.0) == refuse("figure-impossible", name="end speed", value=2.5)
    assert forms.eddy_time(90.0, 2.0, 2.0, 1500.0, 6.0) == 0.0
    assert forms.eddy_distance(90.0, -1.0, 0.0, 1500.0, 6.0) == refuse("figure-impossible", name="speed", value=-1.0)
    assert forms.speed_thrown_back(8.0, 1.5) == refuse("figure-impossible", name="returned", value=1.5)
    assert forms.run_out(9.0, -0.01, 0.01) == refuse("no-solution")
    assert forms.run_out(9.0, -0.01, 0.5) == pytest.approx(81 / (2 * G_MPS2 * 0.49))
    assert forms.eddy_creep(1501.0, 1500.0, 6.0) == refuse("no-solution")


def test_figures_left_out_are_nought_or_standard():
    assert forms.spring_stroke(80.0, 8.0, 1200.0) == forms.spring_stroke(80.0, 8.0, 1200.0, 0.0, 0.0)
    bound = forms.spring_stroke_to_bind(80.0, 8.0, 1200.0, 1.5, 2e5)
    assert bound == forms.spring_stroke_to_bind(80.0, 8.0, 1200.0, 1.5, 2e5, 0.0, 0.0)
    assert bound > 1.5
    assert forms.stroke_for_mean(5.0) == forms.stroke_for_mean(5.0, 1.0, 9.80665)
    assert forms.run_out(5.0, 0.1) == forms.run_out(5.0, 0.1, 0.0, 9.80665)


def test_each_form_by_its_balance():
    """Textbook balances of energy and force, written out: nothing is multiplied by one or raised to one."""
    assert forms.spring_for_peak(90.0, 7.0, 21.0) == (pytest.approx(49 / 21), pytest.approx(90 * 21**2 / 49))
    assert forms.helical_rate(80e9, 0.012, 0.09, 7.5) == pytest.approx(80e9 * 0.012**4 / (8 * 0.09**3 * 7.5))
    assert forms.helical_free_length(310.0, 20.0, 5.0, 7.0, 6.0) == pytest.approx(15.5 + 35 + 6)
    assert forms.eddy_force(3.0, 1500.0, 6.0) == pytest.approx(2 * 1500 / (3 / 6 + 6 / 3))
    assert forms.rope_load(100.0, 0.3, 2.0) == pytest.approx(100 * math.exp(0.6))
    assert forms.rope_hold(100.0, 0.3, 2.0) == pytest.approx(100 / math.exp(0.6))
    assert forms.stroke_for_mean(7.0, 1.5, 9.8) == pytest.approx(49 / (2 * 1.5 * 9.8))
    assert forms.run_out(7.0, 0.12, 0.03, 9.8) == pytest.approx(49 / (2 * 9.8 * 0.15))
    assert forms.in_g(3000.0, 75.0) == pytest.approx(40 / 9.80665)
    assert forms.speed_thrown_back(8.0, 0.25) == pytest.approx(4.0)
    assert forms.pad_wear(3.2e6, 0.35, 2e-14, 0.002) == pytest.approx(2e-14 * 3.2e6 / 0.35 / 0.002)


def test_spring_keeps_its_digits():
    """The balance F0 s + k s²/2 = m v²/2 + Fg s, where one of two like numbers is taken from the other."""
    for preload, pull in ((1e6, 0.0), (1e6, 1e6 - 1.0)):
        s = forms.spring_stroke(80.0, 1e-3, 50.0, preload, pull)
        assert (preload - pull) * s + 25 * s**2 == pytest.approx(80e-6 / 2, rel=1e-9)
    s = forms.spring_stroke(80.0, 0.5, 50.0, 200.0, 200.0)  # preload and pull hold each other
    assert s == pytest.approx(math.sqrt(80 * 0.25 / 50))


def test_bind_begins_at_its_travel():
    """Energy, textbook: 80 kg at 3 m/s has 360 J; 1000 N/m take 320 J in 0.8 m and push with 800 N there."""
    further = forms.spring_stroke(80.0, 1.0, 1e5, 800.0)
    assert forms.spring_stroke_to_bind(80.0, 3.0, 1000.0, 0.8, 1e5) == pytest.approx(0.8 + further)
    in_travel = math.sqrt(640 / 80)
    assert forms.spring_stroke_to_bind(80.0, in_travel, 1000.0, 0.8, 1e5) == pytest.approx(0.8, abs=1e-7)
    # a pull beyond what the bound spring gives at first is carried by the stiffer one
    s = forms.spring_stroke_to_bind(80.0, 3.0, 1000.0, 0.8, 1e5, 100.0, 500.0)
    past = s - 0.8
    assert 100 * 0.8 + 320 + (100 + 800) * past + 1e5 * past**2 / 2 == pytest.approx(360 + 500 * s)


def test_pull_stronger_than_the_spring_at_its_bind_goes_on():
    """The same balance: 1500 N pull where the spring has 900 N when it binds, so that the bound one is pressed on."""
    s = forms.spring_stroke_to_bind(80.0, 3.0, 1000.0, 0.8, 1e5, 100.0, 1500.0)
    past = s - 0.8
    assert 100 * 0.8 + 320 + (100 + 800) * past + 1e5 * past**2 / 2 == pytest.approx(360 + 1500 * s)
