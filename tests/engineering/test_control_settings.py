"""Settings of a chart that cannot be, named; the model of the arrival speed; the baseline's own breaks and slips."""

import math
from dataclasses import replace
from datetime import date

import pytest

from engineering.control_arrival import arrival_model
from engineering.control_baseline import baseline_of
from engineering.control_residual import MorningRide, plan_problem, residual
from engineering.control_run_rules import NELSON, run_rules
from engineering.line import Air, Cable, Line, Rider, Wind
from engineering.ride import ride
from tests.engineering.control_rides import FIRST, GOOD, PLAN, model, rides

LINE, BALLAST = Line(300.0, 18.0, Cable(1.05, 10e6), 15_000.0), Rider(None, 0.4, 0.012)


@pytest.mark.parametrize(
    ("changed", "name", "value"),
    [
        ({"ballast_low_kg": 82.0}, "ballast", "82"),
        ({"ballast_low_kg": 0.0}, "ballast", "0"),
        ({"ballast_low_kg": -1.0}, "ballast", "-1"),
        ({"ballast_high_kg": math.inf}, "ballast", "inf"),
        ({"head_low_mps": 4.0}, "wind", "4"),
        ({"head_low_mps": -math.inf}, "wind", "-inf"),
        ({"gauge_u": 9e-7}, "gauge", "9e-07"),
        ({"gauge_u": -0.1}, "gauge", "-0.1"),
        ({"gauge_u": 101.0}, "gauge", "101"),
        ({"charts": 0}, "charts", "0"),
        ({"charts": math.inf}, "charts", "inf"),
        ({"gap_days": 0}, "gap", "0"),
    ],
)
def test_a_setting_that_cannot_be_is_named_with_its_value(changed, name, value):
    found = plan_problem(replace(PLAN, **changed))

    assert found.code == "setting-impossible"
    assert (dict(found.params)["name"], dict(found.params)["value"]) == (name, value)


@pytest.mark.parametrize(
    "changed",
    [
        {"ballast_low_kg": 0.5, "ballast_high_kg": 0.5},
        {"gauge_u": 0.0},
        {"gauge_u": 1e-6},
        {"gauge_u": 100.0},
        {"charts": 1},
        {"gap_days": 1},
    ],
)
def test_a_setting_at_the_edge_can_be(changed):
    assert plan_problem(replace(PLAN, **changed)) is None


def test_the_expected_speed_is_that_of_the_ride_at_the_mornings_conditions():
    one = MorningRide(FIRST, 0.0, 85.0, 0.5, 20.0, 3.0)
    expect = arrival_model(LINE, BALLAST, launch_mps=1.5, end_m=290.0)
    wanted = ride(LINE, Rider(85.0, 0.4, 0.012), Wind(0.5, 3.0), Air(20.0), launch_mps=1.5, end_m=290.0).arrival_mps

    assert expect(one) == pytest.approx(float(wanted), abs=1e-12)
    for name in ("launch_mps", "end_m"):  # each of them tells
        given = {"launch_mps": 1.5, "end_m": 290.0}
        del given[name]
        assert arrival_model(LINE, BALLAST, **given)(one) != pytest.approx(float(wanted), abs=1e-3)
    assert expect(replace(one, cross_mps=0.0)) > expect(one) + 0.01
    unpushed = ride(LINE, Rider(85.0, 0.4, 0.012), Wind(0.5, 3.0), Air(20.0)).arrival_mps
    assert arrival_model(LINE, BALLAST)(one) == pytest.approx(float(unpushed), abs=1e-12)


@pytest.mark.parametrize("name", ["mass_kg", "head_mps", "temperature_c"])
def test_without_one_figure_there_is_no_expected_speed(name):
    one = MorningRide(FIRST, 0.0, 85.0, 0.5, 20.0)

    assert arrival_model(LINE, BALLAST)(replace(one, **{name: None})).code == "figure-missing"


def test_a_ballast_that_would_stop_short_has_no_figure():
    assert math.isnan(arrival_model(LINE, BALLAST)(MorningRide(FIRST, 0.0, 40.0, 6.0, 20.0)))


def residuals(strokes, days=None):
    made = [residual(one, PLAN, model) for one in rides(strokes)]
    if days is None:
        return made
    at = [one.at.replace(day=1, month=4) for one in made]
    return [
        replace(one, at=date_at(at[i], day), ride=replace(one.ride, at=date_at(at[i], day)))
        for i, (one, day) in enumerate(zip(made, days, strict=True))
    ]


def date_at(moment, day):
    return moment.replace(year=2026, month=1, day=1) + (date.fromordinal(day) - date.fromordinal(1))


def test_no_moving_range_reaches_across_a_long_gap():
    """Two levels, apart by 1, with over a week between: the step is no scatter (mean range / 1.128, printed tables)."""
    low, high = [0.1 * (k % 2) for k in range(10)], [1.0 + 0.1 * (k % 2) for k in range(10)]
    strokes = [2.0 + one for one in (*low, *high)]
    near = list(range(1, 11)) + list(range(18, 28))  # eight days from the tenth to the eighteenth

    apart = baseline_of(residuals(strokes, near), PLAN)
    together = baseline_of(residuals(strokes), PLAN)

    assert apart.sigma == pytest.approx(0.1 / 1.128, rel=2e-4)
    assert together.sigma > 1.1 * apart.sigma


def test_one_slip_moves_neither_centre_nor_scatter():
    slipped = list(GOOD)
    slipped[7] = 12.0
    found = baseline_of(residuals(slipped), PLAN)
    plain = baseline_of(residuals(GOOD), PLAN)

    assert [one.code for one in found.notes][:1] == ["baseline-wild"]
    assert len(found.wild) == 1
    ordered = sorted(one - 2.0 for one in slipped)
    assert found.centre == pytest.approx((ordered[9] + ordered[10]) / 2)  # the median
    assert found.sigma < 2 * plain.sigma


# The rules' own words: beyond is strict, a window needs all its points since the break, and both sides of the centre.
@pytest.mark.parametrize(
    ("sigmas", "rule", "at"),
    [
        ([3.0], "1-beyond-3", ()),
        ([3.0001], "1-beyond-3", (0,)),
        ([-3.0001], "1-beyond-3", (0,)),
        ([2.1, -2.1, 2.1], "2-of-3-beyond-2", (2,)),
        ([2.1, 0.0, -2.1], "2-of-3-beyond-2", ()),
        ([-2.1, 0.0, -2.1], "2-of-3-beyond-2", (2,)),
        ([2.1, 2.1, 2.0], "2-of-3-beyond-2", ()),
        ([1.5, 0.0, 2.1], "2-of-3-beyond-2", ()),
        ([1.5, 1.5, 1.5, 1.5, 1.5, 1.5, 1.5, 1.5], "8-outside-1", ()),
        ([1.5, 1.5, 1.5, 1.5, 1.5, 1.5, 1.5, -1.5], "8-outside-1", (7,)),
        ([-1.5, 1.5, 1.5, 1.5, 1.5, 1.5, 1.5, -1.0], "8-outside-1", ()),
        ([0.1] * 9, "9-on-one-side", (8,)),
        ([0.0] + [0.1] * 8, "9-on-one-side", ()),
        ([1.0] * 15, "15-within-1", (14,)),
        ([1.0] * 14 + [1.01], "15-within-1", ()),
    ],
)
def test_a_run_rule_at_its_edge(sigmas, rule, at):
    assert run_rules(sigmas, NELSON)[rule] == at


def test_a_break_at_the_first_point_breaks_nothing():
    points = [0.1] * 9

    assert run_rules(points, NELSON, breaks=(0,))["9-on-one-side"] == (8,)
    assert run_rules(points, NELSON, breaks=(1,))["9-on-one-side"] == ()
