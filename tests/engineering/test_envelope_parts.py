"""One map from another, and each figure of a plan by itself: a cell against its own ride, cable and edges of ranges.

No outside figures: what has to be equal by the meaning of the arguments. Few steps, so that it is quick.
"""

from dataclasses import replace

import numpy as np
import pytest

from engineering.brakes import Spring
from engineering.cable import loaded
from engineering.envelope import Landing, outcome, plan_problem, weight_wind_map, zone_of
from engineering.envelope_cells import CELL_NAMES, StopLimits
from engineering.line import Air, Rider, Wind
from engineering.refusal import Refusal
from engineering.ride import ride
from tests.engineering.test_envelope_map import LIMITS, LINE, MILD, PLAN

MASSES, WINDS = [60.0, 100.0], [-4.0, 1.0]


def small(plan, masses=MASSES, winds=WINDS, steps=30, beside=None):
    return weight_wind_map(plan, masses, winds, steps=steps, beside=beside)


@pytest.mark.parametrize(
    "changed",
    [
        {},
        {"parts": [Spring(2500.0, 300.0, 2.0)]},
        {"limits": replace(LIMITS, mean_g=0.5)},
        {"interval_mps": 0.4},
        {"landing": Landing(294.0, 4.0, 0.03, 0.5)},
    ],
)
def test_a_map_beside_another_takes_its_rides_over(changed):
    first, plan = small(PLAN), replace(PLAN, **changed)
    taken, anew = small(plan, beside=first), small(plan)

    assert taken.cells.ride is first.cells.ride
    assert taken.names() == anew.names()
    np.testing.assert_array_equal(taken.cells.stop.stroke_m, anew.cells.stop.stroke_m)
    assert (taken.plan, taken.steps, taken.masses_kg.tolist(), taken.winds_mps.tolist()) == (plan, 30, MASSES, WINDS)


@pytest.mark.parametrize(
    "changed",
    [
        {"line": replace(LINE, span_m=299.0)},
        {"rider": Rider(None, 0.51)},
        {"air": Air(16.0)},
        {"cross_mps": 1.0},
        {"launch_mps": 0.5},
        {"cable_c": 20.0},
        {"drag_by_weight": True},
        {"landing": replace(PLAN.landing, start_m=293.0)},
    ],
)
def test_a_map_of_other_rides_is_not_beside(changed):
    first = small(PLAN)

    with pytest.raises(ValueError, match=r"^the map beside is one of other rides$"):
        small(replace(PLAN, **changed), beside=first)


@pytest.mark.parametrize(
    "other", [{"masses": [60.0, 101.0]}, {"winds": [-4.0, 1.5]}, {"steps": 31}, {"masses": [60.0, 80.0, 100.0]}]
)
def test_a_map_of_other_axes_is_not_beside(other):
    first = small(PLAN)

    with pytest.raises(ValueError, match=r"^the map beside is one of other rides$"):
        small(PLAN, beside=first, **other)


@pytest.mark.parametrize(
    ("masses", "winds"),
    [([80.0], WINDS), (MASSES, [0.0]), ([100.0, 60.0], WINDS), (MASSES, [1.0, 1.0]), ([MASSES, MASSES], WINDS)],
)
def test_axes_are_single_growing_rows(masses, winds):
    with pytest.raises(ValueError, match=r"^weights and winds are rows of at least two growing figures$"):
        small(PLAN, masses, winds)


def test_a_map_that_cannot_be_is_the_refusal_itself():
    found = small(replace(PLAN, air=Air(None)))

    assert isinstance(found, Refusal)
    assert found.code == "temperature-missing"


def arrival(plan=PLAN, mass=100.0, head=-1.0, **more):
    return float(outcome(plan, mass, head, steps=40, **more).ride.arrival_mps)


def ridden(mass=100.0, head=-1.0, rider=PLAN.rider, cross=0.0, air=MILD, **more):
    found = ride(LINE, replace(rider, mass_kg=mass), Wind(head, cross), air, end_m=294.0, steps=40, **more)
    return float(found.arrival_mps)


@pytest.mark.parametrize(
    ("cell", "alone"),
    [
        (lambda: arrival(), lambda: ridden()),
        (lambda: arrival(cross_mps=4.0), lambda: ridden(cross=4.0)),
        (lambda: arrival(replace(PLAN, cross_mps=4.0)), lambda: ridden(cross=4.0)),
        (lambda: arrival(replace(PLAN, cross_mps=4.0), cross_mps=0.0), lambda: ridden()),
        (lambda: arrival(replace(PLAN, launch_mps=2.0)), lambda: ridden(launch_mps=2.0)),
        (lambda: arrival(replace(PLAN, air=Air(30.0))), lambda: ridden(air=Air(30.0), cable_c=30.0)),
        (lambda: arrival(air=Air(30.0)), lambda: ridden(air=Air(30.0), cable_c=30.0)),
        (lambda: arrival(replace(PLAN, cable_c=30.0)), lambda: ridden(cable_c=30.0)),
        (lambda: arrival(tension_n=17e3), lambda: ridden(tension_n=17e3)),
        (lambda: arrival(rider=Rider(None, 0.4, 0.02)), lambda: ridden(rider=Rider(None, 0.4, 0.02))),
        (
            lambda: arrival(replace(PLAN, drag_by_weight=True), rider=Rider(None, 0.4)),
            lambda: ridden(rider=Rider(None, 0.4 * 1.25 ** (2 / 3))),  # geometric similarity, MEMORY
        ),
    ],
)
def test_a_cell_is_the_ride_with_those_very_figures(cell, alone):
    assert cell() == pytest.approx(alone(), abs=1e-9)


def test_each_of_those_figures_tells():
    plain = arrival()
    others = [
        arrival(cross_mps=4.0),
        arrival(replace(PLAN, launch_mps=2.0)),
        arrival(air=Air(30.0)),
        arrival(replace(PLAN, cable_c=30.0)),
        arrival(tension_n=17e3),
        arrival(rider=Rider(None, 0.4, 0.02)),
    ]
    assert all(abs(one - plain) > 0.01 for one in others)


def test_the_zone_has_the_slopes_of_the_loaded_cable():
    """At its two ends, the far one not beyond the support; at the temperature and the tension that are given."""
    for start, length, end in ((280.0, 10.0, 290.0), (296.0, 12.0, 300.0)):
        zone = zone_of(LINE, Landing(start, length, None, 0.5), 90.0, 25.0)
        begins, ends = (loaded(LINE, 90.0, place, 25.0).driving_slope for place in (start, end))
        assert float(zone.slope) == pytest.approx(begins)
        assert float(zone.slope_per_m) == pytest.approx((ends - begins) / (end - start))
        assert (zone.length_m, zone.capture_m) == (length, 0.5)
    tight = zone_of(LINE, Landing(280.0, 10.0), 90.0, 15.0, 17e3)
    assert float(tight.slope) == pytest.approx(loaded(replace(LINE, tension_n=17e3), 90.0, 280.0).driving_slope)
    assert float(tight.slope) < float(zone_of(LINE, Landing(280.0, 10.0), 90.0, 15.0).slope) - 1e-3


@pytest.mark.parametrize(
    ("line", "landing", "mass", "cable_c", "code"),
    [
        (LINE, Landing(294.0, None), 80.0, 15.0, "landing-missing"),
        (LINE, Landing(None, 8.0), 80.0, 15.0, "landing-missing"),
        (replace(LINE, span_m=None), Landing(294.0, 8.0), 80.0, 15.0, "landing-missing"),
        (LINE, Landing(294.0, 8.0), None, 15.0, "mass-missing"),
        (LINE, Landing(294.0, 8.0), 80.0, None, "temperature-missing"),
        (replace(LINE, tension_n=None), Landing(294.0, 8.0), 80.0, 15.0, "tension-missing"),
    ],
)
def test_a_zone_that_cannot_be_told(line, landing, mass, cable_c, code):
    assert zone_of(line, landing, mass, cable_c).code == code


@pytest.mark.parametrize(
    "changed",
    [
        {"landing": Landing(150.0, 5.0)},
        {"landing": Landing(300.0, 5.0)},
        {"landing": replace(PLAN.landing, capture_m=0.0)},
        {"landing": replace(PLAN.landing, capture_m=5.0)},
        {"interval_mps": 0.0},
        {"interval_mps": 10.0},
        {"interval_mps": np.array([-1.0, 20.0])},  # each cell by itself
        {"rider": Rider(None, 0.1)},
        {"rider": Rider(None, 1.2)},
        {"rider": Rider(None, 0.5, 0.001)},
        {"rider": Rider(None, 0.5, 0.05)},
        {"rider": Rider(None, np.array([0.01, 2.0]), np.array([0.5, 0.0]))},
    ],
)
def test_a_plan_at_the_edge_of_its_ranges(changed):
    assert plan_problem(replace(PLAN, **changed)) is None


@pytest.mark.parametrize(
    ("changed", "code", "figures"),
    [
        ({"line": replace(LINE, span_m=None)}, "span-missing", {}),
        ({"landing": Landing(149.0, 5.0)}, "landing-range", {"value": "149", "low": "150", "high": "300"}),
        ({"landing": Landing(301.0, 5.0)}, "landing-range", {"value": "301", "low": "150", "high": "300"}),
        ({"landing": Landing(None, 5.0)}, "landing-missing", {}),
        ({"landing": Landing(294.0, None)}, "zone-missing", {}),
        ({"landing": Landing(294.0, 5.0, None, -0.1)}, "capture-range", {"value": "-0.1", "low": "0", "high": "5"}),
        ({"landing": Landing(294.0, 5.0, None, float("nan"))}, "figure-missing", {}),
        ({"interval_mps": None}, "interval-missing", {}),
        ({"interval_mps": 10.5}, "interval-range", {"value": "10.5", "low": "0", "high": "10"}),
        ({"interval_mps": np.array(-0.5)}, "interval-range", {"value": "-0.5", "low": "0", "high": "10"}),
        ({"limits": StopLimits(mean_g=None)}, "limit-missing", {}),
        ({"rider": Rider(None, None)}, "drag-missing", {}),
        ({"rider": Rider(None, 0.5, None)}, "rolling-missing", {}),
        ({"rider": Rider(None, 0.09)}, "drag-range", {"value": "0.09", "low": "0.1", "high": "1.2"}),
        ({"rider": Rider(None, 1.21)}, "drag-range", {"value": "1.21", "low": "0.1", "high": "1.2"}),
        ({"rider": Rider(None, 0.5, 0.0009)}, "rolling-range", {"value": "0.0009", "low": "0.001", "high": "0.05"}),
        (
            {"rider": Rider(None, 0.5, np.array(0.06))},
            "rolling-range",
            {"value": "0.06", "low": "0.001", "high": "0.05"},
        ),
    ],
)
def test_what_is_wrong_with_a_plan_is_named_with_its_figures(changed, code, figures):
    found = plan_problem(replace(PLAN, **changed))

    assert (found.code, dict(found.params)) == (code, figures)
    assert outcome(replace(PLAN, **changed), 100.0, -1.0) == found


def test_the_faster_rider_is_judged_by_the_same_limit_of_the_peak():
    """A limit between the peak at the speed and that at half a metre a second more: hard with it, ok without."""
    at = outcome(PLAN, 100.0, 0.0)
    limited = replace(PLAN, limits=replace(LIMITS, peak_g=float(at.stop.peak_g) + 0.01, peak_s=0.0))

    assert outcome(limited, 100.0, 0.0).names() == ["ok"]
    assert outcome(replace(limited, interval_mps=0.5), 100.0, 0.0).names() == ["hard"]


def test_who_does_not_arrive_is_not_judged_by_a_stop():
    found = outcome(replace(PLAN, interval_mps=0.2), np.array([50.0, 100.0]), np.array([2.0, 0.0]))

    assert found.names() == ["short", "ok"]
    assert found.state.dtype == np.int8
    assert [CELL_NAMES[one] for one in found.state] == found.names()


def test_the_zone_is_that_of_the_tension_and_the_warmth_of_the_ride():
    """A tension given instead of the line's own, and the stop of the same arrival on a warmer, slacker cable."""
    given = outcome(PLAN, 100.0, -1.0, tension_n=17e3)
    own = outcome(replace(PLAN, line=replace(LINE, tension_n=17e3)), 100.0, -1.0)
    assert float(given.stop.stroke_m) == pytest.approx(float(own.stop.stroke_m), abs=1e-9)

    cold = outcome(PLAN, 100.0, -1.0)
    warm = outcome(replace(PLAN, cable_c=45.0), 100.0, -1.0, ridden=cold.ride)
    assert warm.ride is cold.ride
    # Slacker, so steeper uphill at the end of the line: the same rider is stopped sooner.
    assert float(warm.stop.stroke_m) < float(cold.stop.stroke_m) - 1e-4


def test_a_map_of_whole_figures_is_one_of_figures_and_of_its_own_steps():
    found = small(PLAN, [60, 100], [-4, 1])

    assert (found.masses_kg.dtype, found.winds_mps.dtype) == (np.dtype(float), np.dtype(float))
    coarse = outcome(PLAN, np.array(MASSES)[:, None], np.array(WINDS)[None, :], steps=30).ride.arrival_mps
    np.testing.assert_array_equal(found.cells.ride.arrival_mps, coarse)
    assert not np.array_equal(coarse, small(PLAN, steps=60).cells.ride.arrival_mps, equal_nan=True)


def test_a_stop_that_cannot_be_computed_is_the_refusal_itself():
    assert outcome(replace(PLAN, landing=Landing(294.0, 5.0, 0.6)), 100.0, -1.0, steps=20).code == "zone-slope-range"
