"""What is uncertain, one figure at a time and together: draws that do not hang together, and central differences."""

import math
from dataclasses import fields, replace

import numpy as np
import pytest

from engineering.envelope import Landing, outcome, weight_wind_map
from engineering.envelope_draws import Spread, draw
from engineering.envelope_notes import trace, warnings
from engineering.envelope_sensitivity import sensitivities, share_lost_per_head_wind
from engineering.line import Air
from tests.engineering.test_envelope_map import PLAN

NONE = Spread(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
# A side wind to begin with, so that its changes tell at once and not by their square alone.
BLOWN = replace(PLAN, cross_mps=6.0)
SMALL = {
    "rolling": 0.002,
    "drag_area_m2": 0.03,
    "tension_share": 0.03,
    "head_mps": 0.5,
    "cross_mps": 1.0,
    "mass_kg": 5.0,
    "temperature_k": 15.0,
}
# What can be drawn, in a ring: each is asked about with its two neighbours.
RING = ("rolling", "drag_area_m2", "tension_share", "head_mps", "cross_mps", "mass_kg", "temperature_k")
MOST = {
    "tension_share": 0.3,
    "rolling": 0.05,
    "drag_area_m2": 0.5,
    "head_mps": 10.0,
    "cross_mps": 10.0,
    "mass_kg": 30.0,
    "temperature_k": 30.0,
}


def width(**sds):
    low, _, high = draw(BLOWN, 100.0, -1.0, replace(NONE, **sds), seed=3, count=3000, steps=40).arrival_mps
    return high - low


@pytest.mark.parametrize("number", range(len(RING)))
def test_two_uncertain_figures_add_up_as_squares(number):
    """Variances of what is independent add (textbook); what hung together would be wider by two fifths, or narrower."""
    first, second = RING[number], RING[(number + 1) % len(RING)]
    alone = [width(**{name: SMALL[name]}) for name in (first, second)]
    smaller = min(alone) / max(alone)
    # Made equally wide, so that a sum would show.
    scaled = {first: SMALL[first], second: SMALL[second]}
    wider = first if alone[0] > alone[1] else second
    scaled[wider] *= smaller
    equal = min(alone)

    assert width(**scaled) == pytest.approx(math.sqrt(2) * equal, rel=0.12)


@pytest.mark.parametrize("name", list(MOST))
def test_spreads_within_reason(name):
    for value in (0.0, MOST[name]):
        assert replace(NONE, **{name: value}).problem() is None
    for value in (-1e-9, MOST[name] + 1e-6):
        assert replace(NONE, **{name: value}).problem().code == "spread-range"
    assert replace(NONE, **{name: None}).problem().code == "spread-missing"
    assert {one.name for one in fields(Spread)} == {*MOST, "correlation"}


def test_a_correlation_is_one_between_minus_one_and_one():
    for value in (-1.0, 1.0):
        assert replace(NONE, correlation=value).problem() is None
    for value in (-1.0001, 1.0001):
        assert replace(NONE, correlation=value).problem().code == "spread-range"


def test_rolling_and_drag_are_kept_within_their_ranges():
    wide = draw(PLAN, 100.0, -1.0, replace(NONE, rolling=0.05, drag_area_m2=0.5), seed=3, count=500)

    assert (wide.shares["outside"], wide.shares["unknown"]) == (0.0, 0.0)


SHIFTS = {
    "tension": lambda sd: {"tension_n": PLAN.line.tension_n + sd},
    "rolling": lambda sd: {"rider": replace(PLAN.rider, rolling=PLAN.rider.rolling + sd)},
    "drag": lambda sd: {"rider": replace(PLAN.rider, drag_area_m2=PLAN.rider.drag_area_m2 + sd)},
    "wind": lambda sd: {"head": sd},
    "mass": lambda sd: {"mass": sd},
    "temperature": lambda sd: {"air": replace(PLAN.air, temperature_c=PLAN.air.temperature_c + sd), "cable": sd},
}


def arrival(plan, *, head=0.0, mass=0.0, cable=0.0, **changes):
    if plan.cable_c is not None:
        plan = replace(plan, cable_c=plan.cable_c + cable)
    return float(outcome(plan, 100.0 + mass, -1.0 + head, **changes).ride.arrival_mps)


@pytest.mark.parametrize("cable_c", [None, 25.0])
def test_a_sensitivity_is_half_of_what_one_deviation_more_and_less_change(cable_c):
    plan = replace(PLAN, cable_c=cable_c)
    rows = {one.name: one for one in sensitivities(plan, 100.0, -1.0)}
    spread = Spread()
    sds = {
        "tension": 0.05 * plan.line.tension_n,
        "rolling": spread.rolling,
        "drag": spread.drag_area_m2,
        "wind": spread.head_mps,
        "mass": spread.mass_kg,
        "temperature": spread.temperature_k,
    }
    for name, shift in SHIFTS.items():
        change = (arrival(plan, **shift(sds[name])) - arrival(plan, **shift(-sds[name]))) / 2
        assert rows[name].sd == pytest.approx(sds[name]), name
        assert rows[name].change_mps == pytest.approx(change, abs=1e-9), name
    total = sum(one.change_mps**2 for one in rows.values())
    assert all(one.share == pytest.approx(one.change_mps**2 / total) for one in rows.values())


def test_where_nothing_is_uncertain_nothing_has_a_share():
    rows = sensitivities(PLAN, 100.0, -1.0, NONE)

    assert [(one.change_mps, one.share, one.status) for one in rows] == [(0.0, None, "told")] * 6


def test_a_wind_outside_the_method_is_named_before_any_share():
    plan = replace(PLAN, landing=Landing(300.0, 5.0))

    assert share_lost_per_head_wind(plan, 80.0, 16.0).code == "wind-range"
    assert share_lost_per_head_wind(replace(plan, air=Air(None)), 80.0, 0.0).code == "temperature-missing"


def test_a_trace_keeps_how_it_was_drawn():
    small = weight_wind_map(replace(PLAN, drag_by_weight=True), [60.0, 100.0], [-1.0, 1.0])
    kept = trace(small, seed=7, draws=100)

    assert (kept.steps, kept.seed, kept.draws) == (small.steps, 7, 100)
    given = {one.key: one.value for one in kept.given}
    assert (given["drag_by_weight"], given["part 1.caught"]) == ("yes", "no")
    assert "the launch" in warnings(PLAN, (60.0, 100.0), "the launch", None, 60.0)[2].sentence


def test_a_trace_names_an_array_by_its_ends():
    gone = replace(PLAN, interval_mps=np.array([[np.nan, np.nan], [np.nan, np.nan]]))
    some = replace(PLAN, interval_mps=np.array([[np.nan, 0.2], [0.1, np.nan]]))
    small = weight_wind_map(PLAN, [60.0, 100.0], [-1.0, 1.0])

    def told(plan):
        return next(one.value for one in trace(replace(small, plan=plan)).given if one.key == "interval_mps")

    assert told(gone) == "none"
    assert told(some) == "0.1 to 0.2, 4 figures"
