"""The map of weights and winds: each cell as its own ride and stop; states by name; cases COMPUTED in the dossier."""

import doctest
from dataclasses import replace
from importlib import import_module

import numpy as np
import pytest

from engineering.brakes import Eddy, Friction, Spring
from engineering.brakes_stop import Zone, stop
from engineering.cable import loaded
from engineering.envelope import Landing, Map, Plan, outcome, weight_wind_map, zone_of
from engineering.envelope_cells import CELL_NAMES, CELLS, StopLimits, drag_area_by_weight
from engineering.line import Air, Cable, Line, Rider, Wind
from engineering.refusal import Refusal
from engineering.ride import ride

LINE = Line(300.0, 18.0, Cable(1.05, 10e6), 15e3)
MILD = Air(15.0)
LIMITS = StopLimits(mean_g=3.0, peak_g=6.0)
PACK = Spring(1200.0, 200.0, 3.0)
PLAN = Plan(LINE, Landing(294.0, 5.0), [PACK], Rider(None), MILD, LIMITS)
NAN = float("nan")


@pytest.mark.parametrize(
    "name", ["envelope", "envelope_band", "envelope_cells", "envelope_draws", "envelope_notes", "calibrate_rides"]
)
def test_examples(name):
    found = doctest.testmod(import_module(f"engineering.{name}"))
    assert found.attempted
    assert not found.failed


def state(plan, mass, head, **more):
    found = outcome(plan, mass, head, **more)
    assert not isinstance(found, Refusal), found.sentence
    assert found.state.shape == ()
    return found.names()[0]


def test_arrivals_are_those_of_the_ride():
    """Reference line to its support, head wind -6 to 2 m/s: arrival table of the dossier, COMPUTED, printed digit."""
    expected = [[10.9, 8.6, 5.8, NAN, NAN], [13.2, 11.7, 9.9, 7.7, 4.8]]
    plan = replace(PLAN, landing=Landing(300.0, 5.0))
    found = weight_wind_map(plan, [60.0, 120.0], [-6.0, -4.0, -2.0, 0.0, 2.0])
    np.testing.assert_allclose(found.cells.ride.arrival_mps, expected, atol=0.055)


def test_each_cell_is_its_own_ride_and_stop():
    found = weight_wind_map(PLAN, [50.0, 80.0, 110.0], [-4.0, -1.0, 2.0])

    for i, mass in enumerate((50.0, 80.0, 110.0)):
        for j, head in enumerate((-4.0, -1.0, 2.0)):
            ridden = ride(LINE, Rider(mass), Wind(head), MILD, end_m=294.0)
            if ridden.stalled:
                assert found.names()[i][j] == "short"
                assert np.isnan(found.cells.stop.stroke_m[i, j])
                continue
            begin, end = (loaded(LINE, mass, at).driving_slope for at in (294.0, 299.0))
            zone = Zone(5.0, begin, (end - begin) / 5.0)
            one = stop([PACK], zone, Rider(mass), float(ridden.arrival_mps), Wind(head), MILD, over_g=6.0)
            assert found.cells.stop.stroke_m[i, j] == pytest.approx(float(one.stroke_m), abs=1e-9)
            assert found.cells.stop.peak_g[i, j] == pytest.approx(float(one.peak_g), abs=1e-9)


def test_light_ones_stop_short_and_heavy_ones_bind():
    """The dossier's finding for the reference line: stalls at 2 m/s head wind, binds the spring at 4 m/s tail wind."""
    found = weight_wind_map(PLAN, [60.0, 110.0], [-4.0, 2.0])
    assert found.names() == [["ok", "short"], ["bind", "ok"]]
    assert [CELL_NAMES[one] for one in found.state[:, 0]] == ["ok", "bind"]


def test_every_state_is_met():
    """Each state by its own cause, and just inside of it a better one."""
    arrival = float(ride(LINE, Rider(100.0), Wind(0.0), MILD, end_m=294.0).arrival_mps)
    base = outcome(PLAN, 100.0, 0.0)
    peak, mean, used = (float(getattr(base.stop, name)) for name in ("peak_g", "mean_g", "used"))
    over = float(base.stop.stroke_m)

    def limited(**limits):
        return state(replace(PLAN, limits=replace(LIMITS, **limits)), 100.0, 0.0)

    assert state(PLAN, 100.0, 0.0) == "ok"
    assert limited(least_mps=arrival + 1e-6) == "slow"
    assert limited(least_mps=arrival - 1e-6) == "ok"
    assert limited(rated_mps=arrival - 1e-6) == "fast"
    assert limited(rated_mps=arrival + 1e-6) == "ok"
    assert limited(travel_share=used - 1e-6) == "near-bind"
    assert limited(travel_share=used + 1e-6) == "ok"
    assert limited(mean_g=mean - 1e-6) == "hard"
    assert limited(mean_g=mean + 1e-6) == "ok"
    assert limited(peak_g=peak - 0.5, peak_s=0.0) == "hard"
    assert limited(peak_g=peak + 1e-6, peak_s=0.0) == "ok"
    how_long = float(outcome(replace(PLAN, limits=replace(LIMITS, peak_g=peak - 0.5)), 100.0, 0.0).stop.over_s)
    assert 0 < how_long < 1
    assert limited(peak_g=peak - 0.5, peak_s=how_long - 1e-6) == "hard"
    assert limited(peak_g=peak - 0.5, peak_s=how_long + 1e-6) == "ok"
    assert state(replace(PLAN, parts=[replace(PACK, bind_m=over - 1e-6)]), 100.0, 0.0) == "bind"
    assert state(replace(PLAN, parts=[replace(PACK, bind_m=over + 1e-6)]), 100.0, 0.0) == "near-bind"
    assert state(replace(PLAN, landing=replace(PLAN.landing, capture_m=over + 1e-6)), 100.0, 0.0) == "short"
    assert state(replace(PLAN, landing=replace(PLAN.landing, capture_m=over - 1e-6)), 100.0, 0.0) == "ok"
    assert state(PLAN, 50.0, 2.0) == "short"
    assert state(replace(PLAN, parts=[Eddy(200.0, 6.0, 5.0)]), 100.0, 0.0) == "passed"
    assert state(replace(PLAN, parts=[Friction(100.0, 0.0, 2.0)]), 100.0, 0.0) == "passed"


def test_the_worst_state_that_applies():
    both = replace(LIMITS, mean_g=0.1, travel_share=0.1, rated_mps=2.0)
    assert state(replace(PLAN, limits=both), 100.0, 0.0) == "fast"
    assert state(replace(PLAN, limits=replace(both, rated_mps=None)), 100.0, 0.0) == "hard"
    assert state(replace(PLAN, limits=both), 110.0, -4.0) == "bind"
    assert CELL_NAMES.index("ok") == 0
    assert all(one.endswith(".") for one in CELLS.values())


def test_interval_judges_at_the_faster_and_the_slower_speed():
    arrival = float(ride(LINE, Rider(100.0), Wind(0.0), MILD, end_m=294.0).arrival_mps)
    wide = replace(PLAN, interval_mps=arrival - 1.0 + 1e-6)
    assert state(replace(wide, limits=replace(LIMITS, mean_g=6.0, peak_g=10.0)), 100.0, 0.0) == "bind"
    assert (
        state(replace(PLAN, interval_mps=0.5, limits=replace(LIMITS, least_mps=arrival - 0.49)), 100.0, 0.0) == "slow"
    )
    assert state(replace(PLAN, interval_mps=0.5, limits=replace(LIMITS, least_mps=arrival - 0.51)), 100.0, 0.0) == "ok"
    assert (
        state(replace(PLAN, interval_mps=0.5, limits=replace(LIMITS, rated_mps=arrival + 0.49)), 100.0, 0.0) == "fast"
    )
    assert state(replace(PLAN, interval_mps=0.5, limits=replace(LIMITS, rated_mps=arrival + 0.51)), 100.0, 0.0) == "ok"
    unsaid = outcome(replace(PLAN, interval_mps=np.array([0.1, NAN])), np.array([100.0, 100.0]), 0.0)
    assert unsaid.names() == ["ok", "unknown"]
    exact = outcome(PLAN, 100.0, 0.0).stop.stroke_m
    assert float(outcome(replace(PLAN, interval_mps=0.5), 100.0, 0.0).stop.stroke_m) == float(exact)


def test_zone_slope_entered_or_from_the_cable():
    zone = zone_of(LINE, Landing(294.0, 8.0), 80.0, 15.0)
    at_end = loaded(LINE, 80.0, 300.0).driving_slope
    assert float(zone.slope + 6.0 * zone.slope_per_m) == pytest.approx(at_end)
    assert zone_of(LINE, Landing(294.0, 8.0, 0.02, 1.0), 80.0, 15.0) == Zone(8.0, 0.02, 0.0, 1.0)
    assert float(zone_of(LINE, Landing(300.0, 8.0), 80.0, 15.0).slope_per_m) == 0.0
    assert zone_of(LINE, Landing(None, 8.0), 80.0, 15.0).code == "landing-missing"
    assert zone_of(LINE, Landing(294.0, 8.0), None, 15.0).code == "mass-missing"
    assert zone_of(LINE, Landing(294.0, 8.0), 80.0, None).code == "temperature-missing"


def test_drag_area_by_weight():
    """CdA goes with m^(2/3): geometric similarity, MEMORY."""
    assert float(drag_area_by_weight(0.5, 80.0)) == 0.5
    assert float(drag_area_by_weight(0.5, 10.0)) == pytest.approx(0.125)
    by_weight = outcome(replace(PLAN, drag_by_weight=True), 120.0, 0.0)
    wide = outcome(replace(PLAN, rider=Rider(None, 0.5 * 1.5 ** (2 / 3))), 120.0, 0.0)
    assert float(by_weight.ride.arrival_mps) == pytest.approx(float(wide.ride.arrival_mps))


@pytest.mark.parametrize(
    ("found", "code"),
    [
        (outcome(PLAN, None, 0.0), "mass-missing"),
        (outcome(PLAN, 80.0, None), "wind-missing"),
        (outcome(PLAN, 151.0, 0.0), "mass-range"),
        (outcome(replace(PLAN, cross_mps=None), 80.0, 0.0), "wind-missing"),
        (outcome(replace(PLAN, air=Air(None)), 80.0, 0.0), "temperature-missing"),
        (outcome(replace(PLAN, launch_mps=None), 80.0, 0.0), "launch-missing"),
        (outcome(replace(PLAN, line=replace(LINE, tension_n=None)), 80.0, 0.0), "tension-missing"),
        (outcome(replace(PLAN, line=replace(LINE, drop_m=59.06)), 80.0, 0.0), "drop-feet"),
        (outcome(replace(PLAN, landing=Landing(None, 5.0)), 80.0, 0.0), "landing-missing"),
        (outcome(replace(PLAN, landing=Landing(149.9, 5.0)), 80.0, 0.0), "landing-range"),
        (outcome(replace(PLAN, landing=Landing(300.1, 5.0)), 80.0, 0.0), "landing-range"),
        (outcome(replace(PLAN, landing=Landing(294.0, None)), 80.0, 0.0), "zone-missing"),
        (outcome(replace(PLAN, landing=Landing(294.0, 2.9)), 80.0, 0.0), "zone-short"),
        (outcome(replace(PLAN, landing=Landing(294.0, 5.0, 0.6)), 80.0, 0.0), "zone-slope-range"),
        (outcome(replace(PLAN, landing=Landing(294.0, 5.0, None, 5.1)), 80.0, 0.0), "capture-range"),
        (outcome(replace(PLAN, interval_mps=None), 80.0, 0.0), "interval-missing"),
        (outcome(replace(PLAN, interval_mps=-0.1), 80.0, 0.0), "interval-range"),
        (outcome(replace(PLAN, parts=[Spring(1200.0, 200.0, travel_m=0.15)]), 80.0, 0.0), "bind-preload"),
        (outcome(replace(PLAN, limits=StopLimits(mean_g=None)), 80.0, 0.0), "limit-missing"),
        (outcome(replace(PLAN, limits=StopLimits(peak_g=25.0)), 80.0, 0.0), "limit-range"),
        (outcome(replace(PLAN, limits=StopLimits(travel_share=1.01)), 80.0, 0.0), "limit-range"),
        (outcome(replace(PLAN, limits=StopLimits(rated_mps=0.5)), 80.0, 0.0), "limit-speed-range"),
        (outcome(replace(PLAN, limits=StopLimits(rated_mps=NAN)), 80.0, 0.0), "limit-missing"),
        (weight_wind_map(replace(PLAN, rider=Rider(None, None)), [60.0, 80.0], [0.0, 1.0]), "drag-missing"),
        (weight_wind_map(replace(PLAN, air=Air(99.0)), [60.0, 80.0], [0.0, 1.0]), "temperature-range"),
    ],
)
def test_bad_figures_are_refused_by_name(found, code):
    assert isinstance(found, Refusal)
    assert found.code == code
    assert found.sentence.endswith((".", ")."))


def test_bad_elements_are_named():
    found = outcome(PLAN, np.array([100.0, NAN, 151.0]), np.array([0.0, 0.0, 0.0]))
    assert found.names() == ["ok", "unknown", "outside"]
    assert np.isnan(found.stop.stroke_m[1:]).all()
    beyond = weight_wind_map(PLAN, [100.0, 150.0, 151.0], [0.0, 15.1])
    assert beyond.names()[2] == ["outside", "outside"]
    assert [row[1] for row in beyond.names()] == ["outside"] * 3


def test_axes_that_do_not_grow_are_the_programmers_error():
    for masses, winds in (([80.0], [0.0, 1.0]), ([80.0, 80.0], [0.0, 1.0]), ([60.0, 80.0], [1.0, 0.0])):
        with pytest.raises(ValueError, match="growing"):
            weight_wind_map(PLAN, masses, winds)
    assert isinstance(weight_wind_map(PLAN, [60.0, 80.0], [0.0, 1.0]), Map)
