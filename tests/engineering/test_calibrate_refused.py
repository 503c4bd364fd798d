"""No fit, with the figures of the sentence: how many rides, which weight, how far off, within which limits.

Simulated test rides of known rolling and drag area; limits are our own judgement, of rolling and drag from memory.
"""

from dataclasses import replace

import numpy as np
import pytest

from engineering.calibrate import fit_both, fit_drag
from engineering.calibrate_rides import BallastRide
from engineering.line import Air, Rider, Wind
from engineering.ride import ride
from tests.engineering.test_calibrate import FREE, GATED, GATES, GAUGE, LINE, MASSES, changed, rides

NARROW = replace(GAUGE, gates_m=(296.0, 298.0))


def figures(found):
    return found.code, dict(found.params)


@pytest.mark.parametrize(
    ("fit", "code", "expected"),
    [
        (lambda: fit_drag(LINE, [], GAUGE), "rides-few", {"accepted": "0", "all": "0", "needed": "6"}),
        (
            lambda: fit_drag(LINE, changed(0, rides(), head_mps=None), GAUGE),
            "rides-few",
            {"accepted": "5", "all": "6", "needed": "6"},
        ),
        (
            lambda: fit_drag(LINE, rides(np.linspace(60, 89, 6)), GAUGE),
            "masses-narrow",
            {"value": "29", "needed": "30"},
        ),
        (lambda: fit_drag(LINE, [replace(one, arrival_mps=7.0) for one in rides()], GAUGE), "speeds-equal", {}),
        (lambda: fit_both(LINE, rides(), GAUGE), "gates-missing", {}),
        (
            lambda: fit_drag(LINE, rides(area=0.08), GAUGE),
            "fit-impossible",
            {"name": "drag area", "value": "0.08", "low": "0.1", "high": "1.2"},
        ),
        (
            lambda: fit_both(LINE, rides(gates=GATES, rolling=0.0005), GATED),
            "fit-impossible",
            {"name": "rolling resistance", "value": "0.0005", "low": "0.001", "high": "0.05"},
        ),
        # A tail wind at the end of the range, of which the uncertainty reaches beyond it.
        (lambda: fit_drag(LINE, rides(head=-14.9), replace(GAUGE, wind_sd_mps=0.5)), "fit-lost", {}),
    ],
)
def test_why_there_is_no_fit_and_its_figures(fit, code, expected):
    assert figures(fit()) == (code, expected)


def test_a_tail_wind_at_the_end_of_the_range_that_is_known_exactly():
    assert fit_drag(LINE, rides(head=-14.9), GAUGE).drag_area_m2 == pytest.approx(0.50, abs=1e-5)


def test_rides_that_cannot_tell_the_two_apart_say_how_far_from_it():
    found = fit_both(LINE, rides(gates=(296.0, 298.0)), NARROW)

    assert found.code == "fit-singular"
    assert float(dict(found.params)["value"]) > 1e4
    assert dict(found.params)["limit"] == "10000"


def test_the_weights_of_thirty_kilograms_are_enough():
    assert fit_drag(LINE, rides(np.linspace(60, 90, 6)), GAUGE).notes == ("ballast-drag", "spread-narrow")


@pytest.mark.parametrize("number", [0, 3, 5])
def test_the_ride_that_does_not_fit_is_named_by_its_weight(number):
    """Two metres a second off, where the gauge is exact to 0.15: told is its distance from the fit of the others."""
    taken = changed(number, rides(), arrival_mps=rides()[number].arrival_mps + 2.0)
    found = fit_drag(LINE, taken, GAUGE)

    assert found.code == "ride-wild"
    told = dict(found.params)
    assert float(told["mass"]) == pytest.approx(MASSES[number])
    assert float(told["value"]) == pytest.approx(2.0, rel=0.1)


def test_a_gate_that_does_not_fit_names_the_ride_it_belongs_to():
    taken = rides(gates=GATES)
    speeds = list(taken[2].gates_mps)
    speeds[1] += 1.5
    found = fit_drag(LINE, changed(2, taken, gates_mps=tuple(speeds)), GATED)

    assert (found.code, float(dict(found.params)["mass"])) == ("ride-wild", pytest.approx(MASSES[2]))


def test_what_was_fitted_tells_all_of_it():
    taken = rides(noise=0.1, seed=3)
    found = fit_drag(LINE, taken, GAUGE)

    assert (found.kind, found.freedom, found.rides, found.least_kg, found.most_kg) == ("drag", 5, 6, 50.0, 120.0)
    assert (found.left_out, found.gauge, found.by_weight) == ((), GAUGE, False)
    assert len(found.residuals_mps) == 6
    assert found.scatter == pytest.approx((sum(one**2 for one in found.residuals_mps) / 5) ** 0.5 / 0.15)
    both = fit_both(LINE, rides(gates=GATES, noise=0.1, seed=3), GATED)
    assert (both.kind, both.freedom, len(both.residuals_mps)) == ("both", 22, 6)
    assert both.condition < 1e4


def test_a_prior_that_is_far_off_pulls_as_its_weight_says():
    """With arrival speeds alone the two cannot be told apart, so that rolling stays near where it is said to be."""
    taken = rides(rolling=0.010, area=0.50)
    near = fit_drag(LINE, taken, GAUGE, (0.016, 0.0005))
    free = fit_drag(LINE, taken, GAUGE, FREE)

    assert near.rolling == pytest.approx(0.016, abs=0.0002)
    assert near.drag_area_m2 < 0.47
    assert free.rolling == pytest.approx(0.010, abs=1e-5)


def test_rides_that_by_the_computation_all_stop_short_tell_nothing():
    """A line so flat that nobody reaches its end, whatever the drag: no speed computed hangs on either figure."""
    flat = replace(LINE, drop_m=3.0)
    taken = [BallastRide(float(mass), 0.2 + 0.02 * i, 0.0, 15.0) for i, mass in enumerate(MASSES)]

    for found in (
        fit_drag(flat, taken, GAUGE),
        fit_both(flat, [replace(one, gates_mps=(0.2,)) for one in taken], replace(GAUGE, gates_m=(280.0,))),
    ):
        assert figures(found) == ("fit-singular", {"value": "inf", "limit": "10000"})


def test_speeds_are_compared_where_they_were_taken():
    """Twenty metres before the support riders are faster than at it."""
    true = ride(LINE, Rider(MASSES, 0.5, 0.010), Wind(np.zeros(6)), Air(15.0), end_m=280.0).arrival_mps
    taken = [BallastRide(float(mass), float(speed), 0.0, 15.0) for mass, speed in zip(MASSES, true, strict=True)]

    assert fit_drag(LINE, taken, replace(GAUGE, end_m=280.0)).drag_area_m2 == pytest.approx(0.50, abs=1e-5)
    assert (true > np.array([one.arrival_mps for one in rides()])).all()
