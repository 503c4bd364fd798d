"""States of cells at the limits themselves, from rides and stops laid by hand. Definitions; limits of lifts: READ."""

from dataclasses import FrozenInstanceError, fields, replace

import numpy as np
import pytest

from engineering.brakes_stop import Stop
from engineering.envelope_cells import CELL_NAMES, StopLimits, after_ride, after_stop, worst
from engineering.ride import Ride

LIMITS = StopLimits(1.0, 2.5, 0.04, 0.9, 1.0, 12.0)


def stopped(state=0, **figures):
    names = [one.name for one in fields(Stop) if one.name != "state"]
    usual = {**dict.fromkeys(names, 0.0), "stroke_m": 1.0, "left_m": 1.0, "used": 0.5, **figures}
    return Stop(np.array([state], np.int8), *(np.array([usual[name]]) for name in names))


def ridden(arrival, state=0):
    one = np.array([arrival])
    return Ride(np.array([state], np.int8), one, one, one, one, one)


def by_stop(capture=0.5, limits=LIMITS, **figures):
    return CELL_NAMES[int(after_stop(stopped(**figures), limits, capture)[0])]


def by_ride(arrival, interval=0.0, state=0, limits=LIMITS):
    return CELL_NAMES[int(after_ride(ridden(arrival, state), limits, interval)[0])]


def test_planning_limits_are_those_of_lift_buffers():
    """1 g mean, 2.5 g for more than 1/25 s: California Code of Regulations, Title 8, 3108, READ; the rest judgement."""
    one = StopLimits()
    assert (one.mean_g, one.peak_g, one.peak_s) == (1.0, 2.5, 0.04)
    assert (one.travel_share, one.least_mps, one.rated_mps) == (0.9, 1.0, None)
    with pytest.raises(FrozenInstanceError):
        one.mean_g = 2.0


@pytest.mark.parametrize(
    ("figures", "state"),
    [
        ({}, "ok"),
        ({"stroke_m": 0.5}, "ok"),
        ({"stroke_m": 0.499}, "short"),
        ({"used": 0.9}, "ok"),
        ({"used": 0.901}, "near-bind"),
        ({"used": np.nan, "left_m": np.nan}, "ok"),
        ({"mean_g": 1.0}, "ok"),
        ({"mean_g": 1.001}, "hard"),
        ({"over_s": 0.04}, "ok"),
        ({"over_s": 0.041}, "hard"),
        ({"left_m": 1e-9}, "ok"),
        ({"left_m": 0.0}, "bind"),
        ({"left_m": -0.1, "mean_g": 9.0, "used": 1.1, "stroke_m": 0.1}, "bind"),
        ({"mean_g": 9.0, "used": 0.95}, "hard"),
        ({"stroke_m": 0.1, "used": 0.95}, "near-bind"),
        ({"state": 1, "left_m": -0.1}, "passed"),
        ({"state": 3, "left_m": -0.1}, "outside"),
        ({"state": 2, "left_m": -0.1}, "unknown"),
    ],
)
def test_stop_at_the_limits(figures, state):
    assert by_stop(**figures) == state


def test_ride_at_the_limits():
    assert by_ride(1.0) == "ok"
    assert by_ride(0.999) == "slow"
    assert by_ride(1.5, 0.5) == "ok"
    assert by_ride(1.499, 0.5) == "slow"
    assert by_ride(12.0) == "ok"
    assert by_ride(12.001) == "fast"
    assert by_ride(11.5, 0.5) == "ok"
    assert by_ride(11.501, 0.5) == "fast"
    assert by_ride(39.0, limits=replace(LIMITS, rated_mps=None)) == "ok"
    assert by_ride(np.nan, state=1) == "short"
    assert by_ride(np.nan, state=2) == "unknown"
    assert by_ride(np.nan, state=3) == "outside"
    assert by_ride(5.0, np.nan) == "unknown"
    assert by_ride(0.0, limits=replace(LIMITS, least_mps=0.0)) == "ok"


def test_worst_of_several():
    first, second = np.array([0, 3, 9], np.int8), np.array([1, 2, 0], np.int8)
    assert worst(first, second).tolist() == [1, 3, 9]
    assert worst(first[:, None], second[None, :]).shape == (3, 3)


@pytest.mark.parametrize(
    ("name", "low", "high"),
    [
        ("mean_g", 0.05, 6.0),
        ("peak_g", 0.05, 10.0),
        ("peak_s", 0.0, 1.0),
        ("travel_share", 0.1, 1.0),
        ("least_mps", 0.0, 10.0),
        ("rated_mps", 1.0, 40.0),
    ],
)
def test_limits_within_reason(name, low, high):
    for value in (low, high):
        assert replace(LIMITS, **{name: value}).problem() is None
    for value in (low - 1e-6, high + 1e-6):
        code = "limit-speed-range" if name.endswith("_mps") else "limit-range"
        assert replace(LIMITS, **{name: value}).problem().code == code
    missing = replace(LIMITS, **{name: None}).problem()
    assert missing is None if name == "rated_mps" else missing.code == "limit-missing"


def test_limits_unlooked_at_are_the_programmers_error():
    with pytest.raises(TypeError):
        by_stop(limits=replace(LIMITS, mean_g=None))
    with pytest.raises(TypeError):
        by_ride(5.0, limits=replace(LIMITS, least_mps=None))
