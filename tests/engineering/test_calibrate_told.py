"""What a calibration says of a ride, from one written down by hand: each figure against the ride and Student's t.

t (0.975, 5 degrees of freedom) = 2.5706, printed tables, MEMORY. No fit is made here, so that it is quick.
"""

from dataclasses import replace

import numpy as np
import pytest

from engineering.brakes import Spring
from engineering.calibrate import Calibration
from engineering.calibrate_predict import BELOW_NOUGHT_MPS, calibrated_plan, predict
from engineering.calibrate_rides import Gauge
from engineering.envelope import INTERVAL_MPS, Landing, Plan
from engineering.envelope_cells import StopLimits
from engineering.line import Air, Cable, Line, Rider, Wind
from engineering.ride import ride

LINE = Line(300.0, 24.0, Cable(1.05, 10e6), 15e3)
MILD, CALM = Air(15.0), Wind(0.0)
T5 = 2.5706
SD_ROLLING, SD_AREA, TOGETHER = 0.002, 0.02, -0.00003
MADE = Calibration(
    kind="drag",
    rolling=0.012,
    drag_area_m2=0.45,
    covariance=((SD_ROLLING**2, TOGETHER), (TOGETHER, SD_AREA**2)),
    scatter=1.5,
    freedom=5,
    condition=100.0,
    rides=6,
    least_kg=50.0,
    most_kg=120.0,
    residuals_mps=(0.0,) * 6,
    left_out=(),
    gauge=Gauge(294.0, 0.15),
    notes=("ballast-drag",),
)
PLAN = Plan(LINE, Landing(294.0, 5.0), [Spring(1500.0, 200.0, 4.0)], Rider(None, 0.7, 0.02), MILD, StopLimits())


def arrival(mass=85.0, wind=CALM, area=0.45, rolling=0.012, end=294.0, **more):
    return float(ride(LINE, Rider(mass, area, rolling), wind, MILD, end_m=end, **more).arrival_mps)


def test_the_two_deviations_and_how_they_hang_together():
    assert (MADE.rolling_sd, MADE.drag_area_sd) == (pytest.approx(SD_ROLLING), pytest.approx(SD_AREA))
    assert MADE.correlation == pytest.approx(-0.75)


@pytest.mark.parametrize(
    ("asked", "alone"),
    [
        ({}, lambda: arrival()),
        ({"end_m": 300.0}, lambda: arrival(end=300.0)),
        ({"cable_c": 40.0}, lambda: arrival(cable_c=40.0)),
        ({"launch_mps": 2.0}, lambda: arrival(launch_mps=2.0)),
    ],
)
def test_the_prediction_is_the_ride_at_those_very_figures(asked, alone):
    told = float(predict(MADE, LINE, 85.0, CALM, MILD, **asked).arrival_mps)

    assert told == pytest.approx(alone(), abs=1e-9)
    assert not asked or abs(told - arrival()) > 0.01


@pytest.mark.parametrize(("scatter", "widened"), [(1.5, 1.5), (1.0, 1.0), (0.2, 1.0)])
def test_the_interval_is_by_propagation_of_both_and_of_the_gauge(scatter, widened):
    """Variance a r² + 2 b r s + c s² (law of propagation of uncertainty, textbook), by central differences."""
    found = predict(replace(MADE, scatter=scatter), LINE, 85.0, CALM, MILD)
    by_rolling = (arrival(rolling=0.0121) - arrival(rolling=0.0119)) / 2e-4
    by_area = (arrival(area=0.451) - arrival(area=0.449)) / 2e-3
    variance = (SD_ROLLING * by_rolling) ** 2 + 2 * TOGETHER * by_rolling * by_area + (SD_AREA * by_area) ** 2

    assert float(found.mean_sd) == pytest.approx(variance**0.5, rel=1e-6)
    half = T5 * (variance + (0.15 * widened) ** 2) ** 0.5
    assert float(found.half_mps) == pytest.approx(half, rel=1e-4)
    assert float(found.high_mps - found.arrival_mps) == pytest.approx(half, rel=1e-4)


def test_told_is_what_is_above_nought_with_its_whole_interval():
    winds = np.linspace(0.0, 7.0, 141)
    found = predict(MADE, LINE, 85.0, Wind(winds), MILD)
    names = found.names()

    assert names == sorted(names, key=["told", "near-stall", "stalls"].index)
    assert set(names) == {"told", "near-stall", "stalls"}
    low = found.low_mps[np.array(names) == "told"]
    assert (low > 0.0).all()
    assert low.min() < 0.5


def test_one_who_just_arrives_may_stop_short():
    """The strongest wind in which the ride itself arrives: with any more rolling it would not."""
    arrives, stops = 0.0, 7.0
    for _ in range(6):
        winds = np.linspace(arrives, stops, 65)
        last = int(ride(LINE, Rider(85.0, 0.45, 0.012), Wind(winds), MILD, end_m=294.0).arrived.sum()) - 1
        arrives, stops = winds[last], winds[last + 1]

    assert predict(MADE, LINE, 85.0, Wind(arrives), MILD).names() == ["near-stall"]
    assert predict(MADE, LINE, 85.0, Wind(stops), MILD).names() == ["stalls"]


def test_the_cells_of_a_calibrated_plan_are_the_predictions():
    masses, winds = np.array([60.0, 90.0]), np.array([-1.0, 0.5])
    for plan in (PLAN, replace(PLAN, cable_c=40.0), replace(PLAN, launch_mps=1.5), replace(PLAN, cross_mps=2.0)):
        made, by = calibrated_plan(plan, MADE, masses, winds)
        told = predict(
            MADE,
            LINE,
            masses[:, None],
            Wind(winds[None, :], plan.cross_mps),
            MILD,
            launch_mps=plan.launch_mps,
            cable_c=plan.cable_c,
        )
        np.testing.assert_allclose(made.interval_mps, told.half_mps, rtol=1e-12)
        assert by.interval_mps == pytest.approx(told.half_mps.max())
        assert made == replace(plan, rider=Rider(None, 0.45, 0.012), interval_mps=made.interval_mps)


def test_beside_a_stall_the_interval_reaches_below_nought():
    winds = np.linspace(0.0, 7.0, 71)
    names = predict(MADE, LINE, 85.0, Wind(winds), MILD).names()
    near = names.index("near-stall")
    made, _ = calibrated_plan(PLAN, MADE, np.array([85.0]), winds)

    assert made.interval_mps[0, near] == pytest.approx(arrival(wind=Wind(winds[near])) + BELOW_NOUGHT_MPS)
    assert made.interval_mps[0, -1] == BELOW_NOUGHT_MPS


@pytest.mark.parametrize(
    ("masses", "inside"), [([120.0, 130.0], 120.0), ([40.0, 50.0], 50.0), ([121.0, 130.0], None), ([40.0, 49.0], None)]
)
def test_the_widest_interval_is_that_of_the_weights_that_were_ridden(masses, inside):
    _, by = calibrated_plan(PLAN, MADE, np.array(masses), np.array([-2.0]))
    told = None if inside is None else float(predict(MADE, LINE, inside, Wind(-2.0), MILD).half_mps)

    assert by.interval_mps == pytest.approx(INTERVAL_MPS[1] if told is None else told)
    assert (by.rides, by.least_kg, by.most_kg) == (6, 50.0, 120.0)


def test_a_drag_that_grows_with_the_weight_stays_so():
    """By geometric similarity, (m / 80)^(2/3) (MEMORY): in the prediction and in the plan made of it."""
    grown = replace(MADE, by_weight=True)
    told = predict(grown, LINE, 120.0, CALM, MILD)

    assert float(told.arrival_mps) == pytest.approx(arrival(120.0, area=0.45 * 1.5 ** (2 / 3)), abs=1e-9)
    assert calibrated_plan(PLAN, grown, np.array([80.0]), np.array([0.0]))[0].drag_by_weight is True
    assert calibrated_plan(PLAN, MADE, np.array([80.0]), np.array([0.0]))[0].drag_by_weight is False
