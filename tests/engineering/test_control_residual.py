"""What a test ride differs from what was expected, which rides are charted, and which plans can be. Our own rules."""

import math
from dataclasses import replace
from datetime import date

import pytest

from engineering import control_residual
from engineering.control import follow
from engineering.control_arrival import arrival_model
from engineering.control_residual import ARRIVAL_SPEED, Dropped, MorningRide, Plan, Residual, residual
from engineering.line import Cable, Line, Rider
from engineering.refusal import refuse
from tests.engineering.control_rides import FIRST, GOOD, PLAN, model, rides, today


def test_residual_is_measured_less_expected():
    one = MorningRide(FIRST, 2.5, 80.0, 0.5, 12.0)
    found = residual(one, PLAN, lambda ride: 2.0 + 0.1 * ride.head_mps)
    assert found.value == pytest.approx(0.45)
    assert (found.ride, found.at, found.day) == (one, FIRST, date(2026, 4, 1))


@pytest.mark.parametrize(
    ("changed", "code"),
    [
        ({"at": None}, "time-missing"),
        ({"arrived": False}, "not-arrived"),
        ({"measured": None}, "value-missing"),
        ({"measured": math.nan}, "value-missing"),
        ({"measured": math.inf}, "value-impossible"),
        ({"measured": -0.01}, "value-impossible"),
        ({"measured": 100.1}, "value-impossible"),
        ({"mass_kg": None}, "ballast-missing"),
        ({"mass_kg": 78.9}, "ballast-other"),
        ({"mass_kg": 81.1}, "ballast-other"),
        ({"head_mps": None}, "wind-missing"),
        ({"head_mps": math.nan}, "wind-missing"),
        ({"cross_mps": None}, "wind-missing"),
        ({"head_mps": 3.01}, "wind-other"),
        ({"head_mps": -3.01}, "wind-other"),
        ({"temperature_c": None}, "temperature-missing"),
        ({"temperature_c": -math.inf}, "value-impossible"),
    ],
)
def test_rides_that_cannot_be_charted(changed, code):
    one = replace(MorningRide(FIRST, 2.5, 80.0, 0.5, 12.0), **changed)
    found = residual(one, PLAN, model)
    assert isinstance(found, Dropped)
    assert found.note.code == code
    assert found.ride is one
    assert found.because is None
    assert found.note.sentence


@pytest.mark.parametrize(
    "changed",
    [
        {"measured": 0.0},
        {"measured": 100.0},
        {"mass_kg": 79.0},
        {"mass_kg": 81.0},
        {"head_mps": 3.0},
        {"head_mps": -3.0},
    ],
)
def test_edges_are_charted(changed):
    assert isinstance(residual(replace(MorningRide(FIRST, 2.5, 80.0, 0.5, 12.0), **changed), PLAN, model), Residual)


def test_fastest_arrival_that_is_possible():
    plan = replace(PLAN, quantity=ARRIVAL_SPEED)
    one = MorningRide(FIRST, 60.0, 80.0, 0.5, 12.0)
    assert isinstance(residual(one, plan, lambda ride: 60.0), Residual)
    assert residual(replace(one, measured=60.1), plan, model).note.code == "value-impossible"
    assert residual(one, plan, lambda ride: 60.1).note.code == "model-refused"


def test_a_computation_that_refuses_is_told_on():
    why = refuse("wind-range", value=40, low=-25, high=25)
    one = MorningRide(FIRST, 2.5, 80.0, 0.5, 12.0)
    found = residual(one, PLAN, lambda ride: why)
    assert (found.ride, found.note.code, found.because) == (one, "model-refused", why)
    for figure in (math.nan, math.inf, -0.1, 100.1):
        found = residual(one, PLAN, lambda ride, figure=figure: figure)
        assert (found.ride, found.note.code, found.because) == (one, "model-refused", None)
    assert isinstance(residual(one, PLAN, lambda ride: 0.0), Residual)


def test_quantity_outside_the_list_is_a_mistake_of_the_programmer():
    with pytest.raises(ValueError, match="not a charted quantity"):
        replace(PLAN, quantity="colour")


@pytest.mark.parametrize(
    "changed",
    [
        {"ballast_low_kg": 82.0},
        {"ballast_low_kg": 0.0},
        {"ballast_low_kg": math.nan},
        {"ballast_high_kg": math.inf},
        {"head_low_mps": 4.0},
        {"head_high_mps": math.nan},
        {"gauge_u": -0.1},
        {"gauge_u": 1e-9},
        {"gauge_u": math.nan},
        {"charts": 0},
        {"charts": math.nan},
        {"gap_days": 0},
    ],
)
def test_plans_that_cannot_be(changed):
    found = follow(rides(GOOD), [], replace(PLAN, **changed), model, today=today(19))
    assert found.status.code == "setting-impossible"
    assert (found.low, found.high, found.baseline, found.points) == (None, None, None, ())


def test_residuals_of_the_arrival_speed_are_free_of_the_wind():
    """Speeds made by the ride's own computation plus 0.2 m/s: whatever wind, weight and warmth, 0.2 is left."""
    line, ballast = Line(300.0, 20.0, Cable(1.05, 10e6), 15_000.0), Rider(None)
    plan = Plan(ARRIVAL_SPEED, 75.0, 90.0, -3.0, 3.0, charts=12)
    expect = arrival_model(line, ballast)
    for mass, head, warm in ((80.0, 0.0, 15.0), (80.0, 1.0, 15.0), (80.0, -2.0, 5.0), (88.0, 0.5, 28.0)):
        one = MorningRide(FIRST, 0.0, mass, head, warm)
        speed = expect(one)
        assert residual(replace(one, measured=speed + 0.2), plan, expect).value == pytest.approx(0.2, abs=1e-9)
    assert expect(MorningRide(FIRST, 0.0, 80.0, 1.0, 15.0)) < expect(MorningRide(FIRST, 0.0, 80.0, 0.0, 15.0))
    assert expect(MorningRide(FIRST, 0.0, None, 1.0, 15.0)).code == "figure-missing"
    assert expect(MorningRide(FIRST, 0.0, 500.0, 1.0, 15.0)).code == "mass-range"


@pytest.mark.parametrize(
    "changed",
    [
        {"ballast_low_kg": 80.0, "ballast_high_kg": 80.0},
        {"head_low_mps": 0.5, "head_high_mps": 0.5},
        {"gauge_u": 1e-6},
        {"gauge_u": 100.0},
        {"charts": 1},
        {"gap_days": 1},
    ],
)
def test_plans_at_their_edges(changed):
    assert control_residual.plan_problem(replace(PLAN, **changed)) is None


def test_gauge_beyond_every_figure_is_a_slip():
    assert control_residual.plan_problem(replace(PLAN, gauge_u=100.1)).code == "setting-impossible"
