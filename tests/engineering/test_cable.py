"""The loaded cable: against the exact elastic catenary, its own energy, and printed or computed cases."""

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from engineering.cable import at_measured_tension, loaded, loaded_exact, loaded_sag_share, span_of, tension_at
from engineering.elastic_catenary import hanging, unstretched_length
from engineering.line import G_MPS2, Cable, Line, sag_share
from engineering.parabola import change_of_state
from engineering.refusal import Refusal
from engineering.rest_point import rest_point
from tests.engineering.mechanics_cases import only
from tests.engineering.strategies_lines import lines

REFERENCE = Line(300.0, 18.0, Cable(1.05, 10e6), 15e3)


def test_rider_at_mid_span():
    """Fast form as computed before, and the exact form at its place (COMPUTED; agrees with MoorPy 1.3.0)."""
    _, expect, tolerance = only("G10")
    found = loaded(REFERENCE, 80.0, 150.0)
    assert found.tension_n == pytest.approx(expect["H"], abs=tolerance["H"])
    assert found.height_m == pytest.approx(expect["y"], abs=tolerance["y"])
    assert found.driving_slope == pytest.approx(expect["pbar"], abs=tolerance["pbar"])

    _, expect, tolerance = only("G11")
    exact = loaded_exact(REFERENCE, 80.0, 149.4498)
    assert exact.tension_n == pytest.approx(expect["H"], abs=tolerance["H"])
    assert -exact.points[0].depth == pytest.approx(expect["y"], abs=tolerance["y"])
    assert exact.points[0].x == pytest.approx(149.4498, abs=1e-6)


def test_fast_form_is_as_near_to_the_exact_one_as_was_found():
    """Reference line, 40 to 160 kg, 2 to 98 % of span: H 0.24 %, height 16 mm, slope 3e-4 (COMPUTED)."""
    tension = height = slope = 0.0
    for mass in (40.0, 80.0, 120.0, 150.0):
        for share in (0.02, 0.1, 0.25, 0.5, 0.75, 0.9, 0.98):
            fast, exact = loaded(REFERENCE, mass, share * 300), loaded_exact(REFERENCE, mass, share * 300)
            point = exact.points[0]
            tension = max(tension, abs(fast.tension_n / exact.tension_n - 1))
            height = max(height, abs(fast.height_m + point.depth))
            slope = max(slope, abs(fast.driving_slope - (point.slope_before + point.slope_after) / 2))
            assert fast.slope_before == pytest.approx(point.slope_before, abs=6e-4)
            assert fast.slope_after == pytest.approx(point.slope_after, abs=6e-4)
            along = math.hypot(exact.tension_n, exact.vertical_first_n)
            assert fast.launch_tension_n == pytest.approx(along, rel=3e-3)
            assert fast.landing_tension_n == pytest.approx(math.hypot(exact.tension_n, exact.vertical_last_n), rel=3e-3)
    assert tension < 0.0025
    assert height < 0.0165
    assert slope < 3.1e-4


@given(lines(), st.floats(25, 150), st.floats(0.01, 0.99), st.floats(-20, 40))
def test_driving_slope_is_the_slope_of_the_energy(line, mass, share, temperature):
    """Own algebra, checked by numbers: the derivative of the potential, and the mean of the two slopes."""
    span = span_of(line, temperature)
    load, place, step = mass * G_MPS2, share * line.span_m, line.span_m * 1e-4

    def energy(at):
        return float(span.potential(at, load, span.tension(at, load)))

    h = span.tension(place, load)
    drive = float(span.driving_slope(place, load, h))
    assert (energy(place + step) - energy(place - step)) / (2 * step) == pytest.approx(drive, abs=1e-5)
    assert sum(float(one) for one in span.slopes(place, load, h)) / 2 == pytest.approx(drive, abs=1e-12)
    assert energy(line.span_m) - energy(0.0) == pytest.approx(-line.drop_m, abs=1e-9 * line.span_m)


def test_driving_slope_is_the_exact_energys_too():
    """dE/dx of the exact cable's strain, weight and load, by numbers: within 3e-4; the path's slope is far off."""
    weight, stiffness, mass = 1.05 * G_MPS2, 10e6, 80.0

    length = unstretched_length(300.0, 18.0, 15e3, weight, stiffness)

    def state(place):
        cable = hanging(300.0, 18.0, length, weight, stiffness, [(place, mass * G_MPS2)])
        energy = -mass * G_MPS2 * cable.points[0].depth
        v, at_x, depth = cable.vertical_first_n, 0.0, 0.0
        s = np.concatenate([np.linspace(0, place, 4001), np.linspace(place, length, 4001)])
        force = v - weight * s - np.where(np.arange(len(s)) > 4000, mass * G_MPS2, 0)
        t = np.hypot(cable.tension_n, force)
        down = force / t * (1 + t / stiffness)
        depths = np.concatenate([[0], np.cumsum((down[1:] + down[:-1]) / 2 * np.diff(s))])
        strain = np.trapezoid(t**2 / (2 * stiffness), s)
        assert at_x == depth == 0.0
        return energy + strain - weight * np.trapezoid(depths, s), cable.points[0]

    for share in (0.1, 0.25, 0.5, 0.75, 0.9):
        (low, before), (high, after) = state(share * length - 0.5), state(share * length + 0.5)
        middle = state(share * length)[1]
        numeric = (high - low) / (after.x - before.x) / (mass * G_MPS2)
        assert numeric == pytest.approx((middle.slope_before + middle.slope_after) / 2, abs=3e-4)
        if share != 0.5:
            assert abs(numeric - (before.depth - after.depth) / (after.x - before.x)) > 1e-3


def test_change_of_state_with_temperature():
    """Reference line: 15.75, 15.00, 14.32 kN at -20, 0, +20 K (COMPUTED); the level case is the textbook cubic."""
    tensions = [tension_at(REFERENCE, t) for t in (-5.0, 15.0, 35.0)]
    assert tensions == pytest.approx([15.75e3, 15.0e3, 14.32e3], abs=5)
    assert tensions[1] == pytest.approx(15e3, abs=1e-6)
    sags = [300 * sag_share(REFERENCE, tension) for tension in tensions]
    assert sags == pytest.approx([7.37, 7.74, 8.11], abs=0.006)

    level = Line(300.0, 0.0, Cable(1.05, 10e6), 15e3)
    weight = 1.05 * G_MPS2
    for temperature in (-20.0, 40.0):
        by_book = change_of_state(15e3, weight, weight, 300.0, 10e6, 1.2e-5, temperature - 15.0)
        assert tension_at(level, temperature) == pytest.approx(by_book, rel=1e-9)


@given(lines(), st.floats(-50, 60), st.floats(0.1, 40))
def test_warmer_is_never_tauter(line, temperature, warmer):
    assume(temperature + warmer <= 60)
    cold, warm = tension_at(line, temperature), tension_at(line, temperature + warmer)
    assume(not isinstance(cold, Refusal) and not isinstance(warm, Refusal))
    assert warm == cold == line.tension_n if line.constant_tension else warm < cold


def test_anchors_that_give_take_tension_away_and_less_with_load():
    """By the definition of stiffness: an anchor at each end adds its give to the cable's; none adds nothing."""
    rigid = loaded(REFERENCE, 80.0, 150.0).tension_n
    stiff = loaded(Line(300.0, 18.0, Cable(1.05, 10e6), 15e3, anchor_n_per_m=1e12), 80.0, 150.0).tension_n
    soft_line = Line(300.0, 18.0, Cable(1.05, 10e6), 15e3, anchor_n_per_m=1e5)
    soft = loaded(soft_line, 80.0, 150.0).tension_n
    assert stiff == pytest.approx(rigid, rel=1e-6)
    assert 15e3 < soft < rigid - 100
    chord = math.hypot(300, 18)
    as_soft = Line(300.0, 18.0, Cable(1.05, 1 / (1 / 10e6 + 1 / (1e5 * chord))), 15e3)
    assert soft == pytest.approx(loaded(as_soft, 80.0, 150.0).tension_n, rel=1e-12)
    exact = loaded_exact(soft_line, 80.0, 150.0)
    assert soft == pytest.approx(exact.tension_n, rel=3e-3)


def test_constant_tension_stays():
    kept = Line(300.0, 18.0, Cable(1.05, 10e6), 15e3, constant_tension=True)
    found = loaded(kept, 80.0, np.array([0.0, 50.0, 150.0, 300.0]), 40.0)
    assert np.all(found.tension_n == 15e3)
    weight = 1.05 * G_MPS2 * math.hypot(1, 18 / 300) * 300
    sag = (80 * G_MPS2 / 4 + weight / 8) * 300 / 15e3  # textbook: P L / 4H and W L / 8H
    assert found.height_m[2] == pytest.approx(-9 - sag)
    assert tension_at(kept, 40.0) == 15e3
    assert loaded_exact(kept, 80.0, 150.0).code == "no-solution"


def test_path_on_a_cable_without_weight_or_stretch_is_an_ellipse():
    """Mungan and Lipscombe, Lat. Am. J. Phys. Educ. 2011 (READ, abstract): the distances to the supports sum up."""
    sums = []
    for share in (0.05, 0.2, 0.5, 0.8, 0.95):
        point = hanging(300.0, 18.0, 301.5, 0.0, 1e13, [(share * 301.5, 800.0)]).points[0]
        sums.append(math.hypot(point.x, point.depth) + math.hypot(300 - point.x, point.depth - 18))
    assert sums == pytest.approx([301.5] * 5, abs=1e-6)


def test_theorem_of_the_cable():
    """Horizontal tension times depth below the chord is the beam's moment (eng.libretexts.org 6.2, READ)."""
    place, load = 100.0, 80 * G_MPS2
    span = span_of(REFERENCE, 15.0)
    h = float(span.tension(place, load))
    below = -float(span.height(place, load, h)) - 18 * place / 300
    own = span.weight * place * (300 - place) / 2
    assert h * below == pytest.approx(load * place * 200 / 300 + own)


def test_heights_and_supports():
    found = loaded(REFERENCE, 80.0, np.array([0.0, 300.0]))
    assert found.height_m.tolist() == pytest.approx([0.0, -18.0])
    assert found.tension_n.tolist() == pytest.approx([15e3, 15e3])  # over a support the rider pulls nothing
    weight = 1.05 * G_MPS2 * math.hypot(1, 0.06) * 300
    # textbook: the support carries half the cable, and the chord's share of the tension
    assert found.launch_tension_n[1] == pytest.approx(math.hypot(15e3, 15e3 * 0.06 + weight / 2))
    assert found.landing_tension_n[0] == pytest.approx(math.hypot(15e3, 15e3 * 0.06 - weight / 2))
    assert isinstance(loaded(REFERENCE, 80.0, 10.0).height_m, float)


def test_rider_at_rest():
    """Reference line, 80 kg: x = 233 m (COMPUTED). There the energy is least; rolling holds him on either side."""
    found = rest_point(REFERENCE, 80.0, 0.01)
    assert found.middle_m == pytest.approx(233, abs=0.5)
    places = np.linspace(0, 300, 3001)
    span = span_of(REFERENCE, 15.0)
    energy = span.potential(places, 80 * G_MPS2, span.tension(places, 80 * G_MPS2))
    assert places[np.argmin(energy)] == pytest.approx(found.middle_m, abs=0.06)
    for place, slope in ((found.first_m, -0.01), (found.last_m, 0.01)):
        assert loaded(REFERENCE, 80.0, place).driving_slope == pytest.approx(slope, abs=1e-9)
    assert found.first_m < found.middle_m < found.last_m
    steep = Line(300.0, 43.0, Cable(1.05, 10e6), 25e3)
    assert rest_point(steep, 40.0).code == "rest-none"
    level = rest_point(Line(300.0, 0.0, Cable(1.05, 10e6), 15e3), 80.0, 0.0)
    assert (level.first_m, level.middle_m, level.last_m) == pytest.approx((150, 150, 150), abs=1e-6)


def test_measured_tension_takes_todays_temperature():
    today = at_measured_tension(REFERENCE, 14_320.0, 35.0)
    assert (today.tension_n, today.reference_c) == (14_320.0, 35.0)
    assert tension_at(today, 15.0) == pytest.approx(15e3, abs=3)


NAN = float("nan")


@pytest.mark.parametrize(
    ("found", "code"),
    [
        (loaded(REFERENCE, None, 10.0), "mass-missing"),
        (loaded(REFERENCE, NAN, 10.0), "mass-missing"),
        (loaded(REFERENCE, 24.9, 10.0), "mass-range"),
        (loaded(REFERENCE, 150.1, 10.0), "mass-range"),
        (loaded(REFERENCE, 80.0, -0.1), "position-range"),
        (loaded(REFERENCE, 80.0, np.array([10.0, 300.1])), "position-range"),
        (loaded(REFERENCE, 80.0, NAN), "position-range"),
        (loaded(REFERENCE, 80.0, 10.0, 68.0), "temperature-range"),
        (loaded(Line(300.0, 18.0, Cable(1.05, 10e6), 15e3, None), 80.0, 10.0), "temperature-missing"),
        (loaded(Line(300.0, 18.0, Cable(0.5, 4e6), 3.6e3), 150.0, 10.0), "sag-high"),
        (loaded_exact(REFERENCE, 80.0, 0.0), "position-range"),
        (loaded_exact(REFERENCE, 80.0, 300.0), "position-range"),
        (loaded_exact(REFERENCE, None, 30.0), "mass-missing"),
        (tension_at(REFERENCE, None), "temperature-missing"),
        (tension_at(REFERENCE, 60.1), "temperature-range"),
        (tension_at(Line(300.0, None, Cable(1.05, 10e6), 15e3), 15.0), "drop-missing"),
        (tension_at(Line(300.0, 18.0, Cable(1.05, 10e6), 6.5e3, -50.0), 60.0), "sag-high"),
        (rest_point(REFERENCE, 20.0), "mass-range"),
        (rest_point(REFERENCE, 80.0, None), "rolling-missing"),
        (rest_point(REFERENCE, 80.0, 0.06), "rolling-range"),
        (rest_point(REFERENCE, 80.0, 0.01, NAN), "temperature-missing"),
        (rest_point(Line(300.0, 18.0, Cable(0.5, 4e6), 3.6e3), 150.0), "sag-high"),
        (span_of(Line(300.0, 18.0, Cable(1.05, 10e6), None), 15.0), "tension-missing"),
    ],
)
def test_bad_figures_are_refused_by_name(found, code):
    assert isinstance(found, Refusal)
    assert found.code == code


def test_sag_under_the_rider_is_counted():
    share = float(loaded_sag_share(span_of(REFERENCE, 15.0), 80 * G_MPS2))
    assert share == pytest.approx((18.2312 - 9) / 300, abs=1e-5)  # case G10


@pytest.mark.parametrize("temperature", [-15.0, 45.0])
def test_fast_and_exact_form_agree_at_other_temperatures(temperature):
    fast, exact = loaded(REFERENCE, 80.0, 100.0, temperature), loaded_exact(REFERENCE, 80.0, 100.0, temperature)
    assert fast.tension_n == pytest.approx(exact.tension_n, rel=3e-3)
    assert fast.height_m == pytest.approx(-exact.points[0].depth, abs=0.02)
    assert abs(fast.tension_n - loaded(REFERENCE, 80.0, 100.0).tension_n) > 300


def test_rest_point_names_the_sag():
    slack = Line(300.0, 18.0, Cable(0.5, 4e6), 3.6e3)
    sag = 100 * float(loaded_sag_share(span_of(slack, 15.0), 150 * G_MPS2))
    expected = f"A sag of {sag:.6g} % of the span is over 6 %: slack, or a wrong tension or unit."
    assert rest_point(slack, 150.0).sentence == loaded(slack, 150.0, 10.0).sentence == expected
