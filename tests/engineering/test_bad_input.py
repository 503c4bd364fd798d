"""What is typed wrongly or not at all, one slip after the other: each has its name and its sentence, and no figure.

Ten slips of a morning on a course, then figures of every kind drawn into every place. No source; a promise of ours.
"""

import math
from dataclasses import fields, is_dataclass, replace
from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engineering.brakes import Cord, Eddy, Friction, Spring
from engineering.brakes_stop import Zone, stop
from engineering.brakes_worn import Wear, worn
from engineering.cable import loaded, loaded_exact, tension_at
from engineering.calibrate import ALLOWED, Calibration, fit_both, fit_drag
from engineering.calibrate_predict import predict
from engineering.calibrate_rides import BallastRide, Gauge
from engineering.control import follow
from engineering.control_residual import MorningRide
from engineering.envelope import (
    RIDER_DRAG_M2,
    TROLLEY_ROLLING,
    Landing,
    Plan,
    outcome,
    plan_problem,
    weight_wind_map,
)
from engineering.envelope_band import Posted, day_band
from engineering.envelope_cells import StopLimits
from engineering.envelope_draws import Spread, draw
from engineering.envelope_sensitivity import sensitivities
from engineering.line import Air, Cable, Line, Rider, Wind
from engineering.quality_runs import repeat_hint
from engineering.refusal import Refusal
from engineering.rest_point import rest_point
from engineering.return_wave import TIME_S, stopwatch_sag, stopwatch_tension
from engineering.ride import ride
from engineering.wear import FALLING, forecast
from engineering.wear_gauge import gauge_u
from engineering.wear_outlook import Ahead, Reading, outlook
from tests.engineering.control_rides import GOOD, at, model, rides, today
from tests.engineering.control_rides import PLAN as CHART

NAN, INF = math.nan, math.inf
LINE = Line(300.0, 18.0, Cable(1.05, 10e6, breaking_force_n=1e5), 15e3, 15.0, 1e6)
PACK = Spring(1200.0, 200.0, 3.0, travel_m=3.5, bind_rate_n_per_m=1e5)
LIMITS = StopLimits(3.0, 6.0, 0.04, 0.9, 1.0, 12.0)
PLAN = Plan(LINE, Landing(294.0, 5.0, 0.02, 1.0), [PACK], Rider(None), Air(15.0), LIMITS, cable_c=15.0)
CALM, MILD = Wind(0.0), Air(15.0)


# --- ten slips


def test_drop_typed_in_feet():
    feet = replace(LINE, drop_m=59.06)
    for found in (
        ride(feet, Rider(80.0), CALM, MILD),
        loaded(feet, 80.0, 100.0),
        tension_at(feet, 15.0),
        outcome(replace(PLAN, line=feet), 80.0, 0.0),
        fit_drag(feet, [], Gauge(300.0)),
        stopwatch_tension(feet, [15.0], 3),
    ):
        assert found.code == "drop-feet"
        assert found.sentence.endswith("if it was measured in feet it is 18.0015 m.")


def test_sag_over_six_per_cent():
    slack = replace(LINE, tension_n=6e3)
    for found in (ride(slack, Rider(80.0), CALM, MILD), loaded(slack, 80.0, 100.0), tension_at(slack, 15.0)):
        assert found.code == "sag-high"
        assert found.sentence.endswith("% of the span is over 6 %: slack, or a wrong tension or unit.")


@pytest.mark.parametrize("wind", [None, Wind(None), Wind(NAN), Wind(0.0, None)])
def test_wind_not_measured(wind):
    for found in (
        ride(LINE, Rider(80.0), wind, MILD),
        stop([PACK], Zone(5.0, 0.0), Rider(80.0), 5.0, wind, MILD),
    ):
        assert (found.code, found.sentence) == ("wind-missing", "The wind is not measured.")
    assert outcome(PLAN, 80.0, None).code == "wind-missing"
    maps = {"new": weight_wind_map(PLAN, [40.0, 120.0], [-4.0, 4.0], steps=20)}
    assert day_band(maps, Posted(40.0, 120.0, 4.0, 4.0), None, 0.0).code == "wind-missing"


def test_weight_outside_the_tested_range():
    """Told, but marked as beyond what was tested; beyond what can be computed there is no figure at all."""
    masses = np.linspace(50.0, 120.0, 6)
    line = replace(LINE, drop_m=24.0)
    true = ride(line, Rider(masses), CALM, MILD)
    taken = [BallastRide(float(m), float(v), 0.0, 15.0) for m, v in zip(masses, true.arrival_mps, strict=True)]
    made = fit_drag(line, taken, Gauge(300.0))
    assert isinstance(made, Calibration)
    found = predict(made, line, np.array([49.9, 50.0, 120.0, 120.1, 150.1]), CALM, MILD)
    assert found.extrapolated[:4].tolist() == [True, False, False, True]
    assert found.names()[4] == "beyond"
    assert np.isnan(found.arrival_mps[4])
    alone = ride(line, Rider(176.0), CALM, MILD)
    assert (alone.code, alone.sentence) == ("mass-range", "A weight of 176 kg is outside 25 to 150 kg.")


def test_bind_shorter_than_the_preload():
    """A pack of 1000 N/m preloaded by 400 N has used up 0.4 m of its travel."""
    found = stop([Spring(1000.0, 400.0, travel_m=0.4)], Zone(5.0, 0.0), Rider(80.0), 5.0, CALM, MILD)
    assert found.code == "bind-preload"
    assert found.sentence.endswith(".")
    assert "0.4" in found.sentence


@pytest.mark.parametrize(
    ("rider", "code"),
    [
        (Rider(None, 0.0), "drag-range"),
        (Rider(None, 0.05), "drag-range"),  # typed for 0.5
        (Rider(None, 0.099), "drag-range"),
        (Rider(None, 1.21), "drag-range"),
        (Rider(None, None), "drag-missing"),
        (Rider(None, 0.5, 0.0), "rolling-range"),
        (Rider(None, 0.5, 0.00099), "rolling-range"),
        (Rider(None, 0.5, 0.051), "rolling-range"),
        (Rider(None, 0.5, NAN), "rolling-missing"),
    ],
)
def test_a_rider_without_air_or_rolling(rider, code):
    """Such a ride can be computed, and is the check against sqrt(2 g h); as the rider of a line it is a slip."""
    for found in (
        outcome(replace(PLAN, rider=rider), 80.0, 0.0),
        weight_wind_map(replace(PLAN, rider=rider), [60.0, 80.0], [0.0, 1.0], steps=20),
        draw(replace(PLAN, rider=rider), 80.0, 0.0, seed=1, count=100),
        sensitivities(replace(PLAN, rider=rider), 80.0, 0.0),
    ):
        assert found.code == code
        assert found.sentence.endswith(".")


@pytest.mark.parametrize("rider", [Rider(None, 0.10, 0.001), Rider(None, 1.2, 0.05)])
def test_the_bounds_of_a_rider_can_be_entered(rider):
    assert plan_problem(replace(PLAN, rider=rider)) is None
    assert [low for low, _ in ALLOWED.values()] == [TROLLEY_ROLLING[0], RIDER_DRAG_M2[0]]  # what was fitted can be kept


@pytest.mark.parametrize("tension", [0.0, -15e3, INF, 1e5, 2e5])
def test_impossible_tension(tension):
    """Not above nought, endless, at and beyond the breaking force."""
    line = replace(LINE, tension_n=tension)
    for found in (ride(line, Rider(80.0), CALM, MILD), loaded(line, 80.0, 100.0)):
        assert found.code == "tension-impossible"
        assert found.sentence == f"A tension of {tension:.6g} N is not possible on this cable."


START = date(2026, 3, 1)
WORN = [Reading(START.toordinal() + 10.0 * k, 12.0 - 0.28 * k, 2.0 * k) for k in range(6)]
TODAY = START + timedelta(days=60)
AHEAD = Ahead(TODAY, [TODAY + timedelta(days=k) for k in range(300)], [0.2] * 30, 12.0)


def no_day(found, status):
    assert (found.status, found.early, found.middle) == (status, None, None)
    assert found.sentence.endswith((".", "?"))


def test_negative_and_falling_cycles():
    no_day(outlook(WORN, 9.0, FALLING, 0.0577, replace(AHEAD, cycles=-1.0)), "cycles-negative")
    no_day(outlook([replace(WORN[0], cycles=-5.0), *WORN[1:]], 9.0, FALLING, 0.0577, AHEAD), "cycles-negative")
    no_day(outlook(WORN, 9.0, FALLING, 0.0577, replace(AHEAD, cycles=9.0)), "cycles-back")


def test_replaced_part_that_nobody_recorded():
    renewed = [*WORN, *(replace(one, day=one.day + 60.0, cycles=one.cycles + 12.0) for one in WORN)]
    ahead = replace(AHEAD, today=START + timedelta(days=120), cycles=24.0)
    no_day(outlook(renewed, 9.0, FALLING, 0.0577, ahead), "grew")


def test_ten_equal_readings():
    """No wear seen: no day by which it is worn out, and no hint on people where the gauge is too coarse to tell."""
    equal = [replace(WORN[0], day=WORN[0].day + 5 * k, cycles=1.0 * k) for k in range(10)]
    no_day(outlook(equal, 9.0, FALLING, gauge_u(0.1, 0.05), AHEAD), "no-wear-resolved")
    no_day(outlook(equal, 9.0, FALLING, None, AHEAD), "no-gauge")
    silent = repeat_hint(["12.0"] * 10, "0.1", 0.05)
    assert (silent.status, silent.reason, silent.sentences) == ("not-applicable", "coarse", [])
    assert silent.why_not.endswith(".")
    assert follow(rides([2.3] * 22), [], CHART, model, today=today(21)).status.code == "no-scatter"


def test_one_wild_reading():
    """It is named and measured again; it neither hides the wear nor moves a day silently."""
    points = [(float(2 * k), 12.0 - 0.28 * k) for k in range(9)]
    points[4] = (8.0, 30.0)
    found = forecast(points, 9.0, FALLING, 0.0577)
    assert (found.status, found.wild, found.notes) == ("no-wear-resolved", 4, ("outlier", "differs"))
    assert (found.early, found.at_limit, found.not_before) == (None, None, None)
    assert all(sentence.endswith((".", "?")) for sentence in found.note_sentences)
    wild = follow(rides([*GOOD[:7], 9.0, *GOOD[8:], 2.1]), [], CHART, model, today=today(20))
    assert wild.baseline.wild == (at(7),)
    assert "baseline-wild" in [one.code for one in wild.notes]


# --- any figure in any place

WHAT = st.sampled_from([None, NAN, INF, -INF, 0.0, -1.0, 1e-300, 1e300, -1e9])


@st.composite
def spoilt(draw_, good):
    """Draw a dataclass with up to two of its figures replaced, in whatever it holds as well."""
    for _ in range(draw_(st.integers(0, 2))):
        good = _one_spoilt(draw_, good)
    return good


def _one_spoilt(draw_, good):
    places = [one.name for one in fields(good) if not isinstance(getattr(good, one.name), (bool, list, tuple))]
    name = draw_(st.sampled_from(places))
    value = getattr(good, name)
    return replace(good, **{name: _one_spoilt(draw_, value) if is_dataclass(value) else draw_(WHAT)})


def figure(good):
    return st.one_of(st.just(good), st.just(good), WHAT)


def told_or_refused(found):
    if isinstance(found, Refusal):
        assert found.sentence.endswith((".", ")."))
    return not isinstance(found, Refusal)


@settings(max_examples=60)
@given(
    spoilt(LINE), spoilt(Rider(80.0, 0.5, 0.01, 0.5)), spoilt(Wind(1.0, 1.0)), spoilt(MILD), figure(1.0), figure(15.0)
)
def test_a_ride_never_raises(line, rider, wind, air, launch, cable):
    found = ride(line, rider, wind, air, launch_mps=launch, cable_c=cable, steps=20, gates_m=(100.0,))
    if told_or_refused(found):
        assert found.names()[0] in ("arrived", "stalled")
        assert np.isfinite(found.arrival_mps) == found.arrived


@settings(max_examples=60)
@given(spoilt(LINE), figure(80.0), figure(15.0), figure(0.01), st.sampled_from([-1.0, 0.0, 100.0, 300.0, 301.0, NAN]))
def test_a_cable_never_raises(line, mass, temperature, rolling, place):
    for found in (loaded(line, mass, place, temperature), loaded_exact(line, mass, place, temperature)):
        if told_or_refused(found):
            assert found.tension_n > 0
    told_or_refused(tension_at(line, temperature))
    told_or_refused(rest_point(line, mass, rolling, temperature))


PARTS = [PACK, Cord(180.0, 150.0, 0.3, 8.0), Friction(150.0, 0.0, 1.25), Friction(900.0, 1.0), Eddy(1500.0, 6.0, 3.0)]


@settings(max_examples=60)
@given(
    st.sampled_from(PARTS).flatmap(spoilt),
    spoilt(Zone(20.0, 0.02, 0.001, 0.5)),
    spoilt(Rider(80.0)),
    figure(8.0),
    spoilt(Wear(0.1, 10.0, 0.1, 0.001, 10.0)),
)
def test_a_stop_never_raises(part, zone, rider, speed, wear):
    found = stop([part], zone, rider, speed, CALM, MILD, steps=40)
    if told_or_refused(found):
        assert found.names()[0] in ("stopped", "passed")
        assert np.isfinite(found.stroke_m) == (found.names()[0] == "stopped")
    told_or_refused(worn(part, wear))


@settings(max_examples=40)
@given(spoilt(PLAN), figure(80.0), figure(0.0), spoilt(Spread()))
def test_a_cell_a_draw_and_a_sensitivity_never_raise(plan, mass, head, spread):
    cell = outcome(plan, mass, head, steps=20)
    drawn = draw(plan, mass, head, spread, seed=1, count=100, steps=20)
    rows = sensitivities(plan, mass, head, spread)
    if not told_or_refused(cell):
        assert not told_or_refused(drawn)
        assert not told_or_refused(rows)


@settings(max_examples=30)
@given(
    spoilt(replace(LINE, drop_m=24.0)), spoilt(Gauge(300.0)), spoilt(BallastRide(80.0, 9.0, 0.0, 15.0)), figure(150.0)
)
def test_a_calibration_never_raises(line, gauge, one, gate):
    speeds = {50.0: 7.0, 64.0: 8.2, 78.0: 9.0, 92.0: 9.6, 106.0: 10.2, 120.0: 10.6}
    taken = [BallastRide(mass, speed, 0.0, 15.0) for mass, speed in speeds.items()]
    told_or_refused(fit_drag(line, [one, *taken], gauge))
    gated = [replace(each, gates_mps=(5.0,)) for each in taken]
    told_or_refused(fit_both(line, gated, replace(gauge, gates_m=(gate,))))


COUNTS = st.sampled_from([None, NAN, INF, -1, 0, 0.5, 1, 3, 50, 51, 10**9])
TIMES = st.lists(figure(15.07), max_size=3)


@given(spoilt(LINE), TIMES, COUNTS)
def test_a_stopwatch_never_raises(line, times, returns):
    told_or_refused(stopwatch_tension(line, times, returns))
    told_or_refused(stopwatch_sag(times, returns, span_m=300.0))


def test_a_stopwatch_shows_neither_nothing_nor_hours():
    for time in (TIME_S[0] / 2, TIME_S[1] + 1, 1e300, 1e-300):
        assert stopwatch_sag([time], 3).code == "time-impossible"
    assert stopwatch_sag([TIME_S[0]], 3).code == "time-short"
    assert stopwatch_sag([TIME_S[1]], 50).sag_m > 0
    for returns in (None, NAN, INF):
        assert stopwatch_sag([15.0], returns).code == "returns-few"


@given(st.lists(spoilt(MorningRide(at(21), 2.1, 80.0, 0.5, 12.0)), min_size=1, max_size=3))
def test_a_chart_never_raises(spoilt_rides):
    dated = [replace(one, at=at(21) if isinstance(one.at, float) else one.at) for one in spoilt_rides]
    found = follow([*rides(GOOD), *dated], [], CHART, model, today=today(21))
    assert found.status.sentence.endswith(".")
    assert len(found.points) + len(found.dropped) == len(dated)
