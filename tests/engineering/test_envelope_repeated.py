"""Draws come out again to the same figures, and what is asked of draws and sensitivities is named. Quick: few draws.

The figures of the first test were computed by this very method (COMPUTED, "cable, ride and brake 1") and are kept here
so that a signed report can be computed again: another figure means another name of the method.
"""

from dataclasses import replace

import numpy as np
import pytest

from engineering.envelope import Landing, outcome
from engineering.envelope_draws import Spread, draw
from engineering.envelope_notes import MODEL
from engineering.envelope_sensitivity import sensitivities, share_lost_per_head_wind
from engineering.line import Air, Rider
from tests.engineering.test_envelope_map import PLAN

SPREAD = Spread(0.04, 0.003, 0.06, 1.2, 0.8, 3.0, 6.0, -0.5)
BLOWN = replace(PLAN, cross_mps=2.0)


@pytest.mark.parametrize(
    ("cable_c", "shares", "arrivals", "strokes", "peaks"),
    [
        (
            20.0,
            {"ok": 0.855, "slow": 0.015, "short": 0.13},
            (2.0664983390668956, 5.406666663953635, 8.658457705117472),
            (0.37050913950485365, 1.2403087768278114, 2.0542679741220935),
            (0.843656632153375, 2.0939554273227285, 3.307045483381405),
        ),
        (
            None,
            {"ok": 0.865, "slow": 0.02, "short": 0.115},
            (1.9254185728382163, 5.460484063571302, 8.688342427982006),
            (0.34008743426079796, 1.257161523375291, 2.06529037966325),
            (0.7979174242018194, 2.093995622744063, 3.3225007763936745),
        ),
    ],
)
def test_what_was_drawn_once_is_drawn_again(cable_c, shares, arrivals, strokes, peaks):
    found = draw(replace(BLOWN, cable_c=cable_c), 85.0, 0.5, SPREAD, seed=7, count=200, steps=20)

    assert MODEL == "cable, ride and brake 1"
    assert {name: share for name, share in found.shares.items() if share} == pytest.approx(shares, abs=1e-12)
    assert found.arrival_mps == pytest.approx(arrivals, rel=1e-7)
    assert found.stroke_m == pytest.approx(strokes, rel=1e-7)
    assert found.peak_g == pytest.approx(peaks, rel=1e-7)
    assert (found.seed, found.count, found.steps, found.spread) == (7, 200, 20, SPREAD)
    assert found.error == pytest.approx(0.5 / 200**0.5)


def test_without_a_spread_the_usual_one_is_drawn():
    usual = draw(PLAN, 85.0, 0.5, seed=7, count=100, steps=20)

    assert usual == draw(PLAN, 85.0, 0.5, Spread(), seed=7, count=100, steps=20)
    assert usual.spread == Spread(0.05, 0.002, 0.08, 1.5, 0.0, 2.0, 8.0, 0.0)


def test_a_hundred_draws_are_enough_and_fewer_the_programmers_error():
    assert draw(PLAN, 85.0, 0.5, seed=7, count=100, steps=20).count == 100
    with pytest.raises(ValueError, match=r"^draws are at least a hundred$"):
        draw(PLAN, 85.0, 0.5, seed=7, count=99, steps=20)


@pytest.mark.parametrize(
    ("plan", "mass", "head", "spread", "code"),
    [
        (PLAN, None, 0.0, None, "mass-missing"),
        (PLAN, 80.0, None, None, "wind-missing"),
        (PLAN, 80.0, 0.0, Spread(mass_kg=None), "spread-missing"),
        (PLAN, 80.0, 0.0, Spread(mass_kg=31.0), "spread-range"),
        (replace(PLAN, cross_mps=None), 80.0, 0.0, None, "wind-missing"),
        (replace(PLAN, air=Air(None)), 80.0, 0.0, None, "temperature-missing"),
        (replace(PLAN, line=replace(PLAN.line, tension_n=None)), 80.0, 0.0, None, "tension-missing"),
        (replace(PLAN, landing=Landing(None, 5.0)), 80.0, 0.0, None, "landing-missing"),
    ],
)
def test_draws_that_cannot_be_made(plan, mass, head, spread, code):
    assert draw(plan, mass, head, spread, seed=1, count=100, steps=20).code == code


@pytest.mark.parametrize(
    ("plan", "mass", "head", "spread", "code"),
    [
        (PLAN, None, 0.0, None, "mass-missing"),
        (PLAN, None, None, None, "mass-missing"),
        (PLAN, 80.0, None, None, "wind-missing"),
        (PLAN, 20.0, 0.0, None, "mass-range"),
        (PLAN, 80.0, 0.0, Spread(mass_kg=None), "spread-missing"),
        (replace(PLAN, air=Air(None)), 80.0, 0.0, None, "figure-missing"),
        (replace(PLAN, line=replace(PLAN.line, tension_n=None)), 80.0, 0.0, None, "tension-missing"),
        (replace(PLAN, cross_mps=None), 80.0, 0.0, None, "wind-missing"),
    ],
)
def test_sensitivities_that_cannot_be_told(plan, mass, head, spread, code):
    assert sensitivities(plan, mass, head, spread).code == code


def test_a_spread_of_one_figure_has_the_others_at_nought():
    """What is not uncertain changes nothing, and has no share; the one that is has all of it."""
    rows = {one.name: one for one in sensitivities(PLAN, 100.0, -1.0, Spread(0.0, 0.0, 0.0, 0.5, 0.0, 0.0, 0.0))}

    assert {name: one.share for name, one in rows.items()} == {name: float(name == "wind") for name in rows}
    assert {name: one.sd for name, one in rows.items()} == {name: 0.5 * (name == "wind") for name in rows}
    change = [float(outcome(PLAN, 100.0, -1.0 + sd).ride.arrival_mps) for sd in (0.5, -0.5)]
    assert rows["wind"].change_mps == pytest.approx((change[0] - change[1]) / 2)


def test_one_who_may_stop_short_by_one_figure_has_no_change_of_it():
    rows = {one.name: one for one in sensitivities(PLAN, 60.0, -0.5)}
    told = {name for name, one in rows.items() if one.status == "told"}

    assert rows["wind"].status == "stalls"
    assert told
    assert "wind" not in told
    assert all((one.change_mps is not None) == (name in told) for name, one in rows.items())
    assert all(one.share is None for one in rows.values())


def test_the_share_lost_is_that_of_the_two_rides():
    now, blown = (float(one) for one in outcome(PLAN, 90.0, np.array([-1.0, 0.0])).ride.arrival_mps)

    assert share_lost_per_head_wind(PLAN, 90.0, -1.0) == pytest.approx(1.0 - blown / now, abs=1e-12)
    assert 0.05 < 1.0 - blown / now < 0.6


def test_one_whom_a_metre_per_second_more_stops_has_no_share():
    arrived = outcome(PLAN, 80.0, np.array([1.5, 2.5])).ride.arrived

    assert arrived.tolist() == [True, False]
    assert share_lost_per_head_wind(PLAN, 80.0, 1.5) is None


def test_one_for_whom_a_metre_per_second_more_is_outside_the_method_is_not_said_to_stop_short():
    """A heavy rider on a steep line arrives in 14.5 m/s of head wind; the method ends at 15."""
    steep = replace(PLAN, line=replace(PLAN.line, drop_m=40.0), rider=Rider(None, 0.2))

    assert outcome(steep, 140.0, 14.5).ride.arrived
    assert share_lost_per_head_wind(steep, 140.0, 14.5).code == "no-solution"
    assert 0.0 < share_lost_per_head_wind(steep, 140.0, 13.9) < 0.2


def test_a_weight_that_may_be_beyond_the_method_says_so():
    rows = {one.name: one for one in sensitivities(PLAN, 149.0, -1.0)}

    assert {name: one.status for name, one in rows.items() if one.status != "told"} == {"mass": "beyond"}
    assert rows["mass"].change_mps is None


@pytest.mark.parametrize(
    ("plan", "mass", "head", "code"),
    [
        (PLAN, None, 0.0, "mass-missing"),
        (PLAN, 80.0, None, "wind-missing"),
        (PLAN, 200.0, 0.0, "mass-range"),
        (PLAN, 80.0, 15.5, "wind-range"),
        (PLAN, 50.0, 3.0, "no-solution"),
        (replace(PLAN, interval_mps=None), 80.0, 0.0, "interval-missing"),
    ],
)
def test_no_share_and_why(plan, mass, head, code):
    assert share_lost_per_head_wind(plan, mass, head).code == code
