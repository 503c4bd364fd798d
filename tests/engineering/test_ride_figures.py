"""The ride's figures with few steps, its ranges to the digit, and what is told of whom. Closed forms and own ranges."""

import math
from dataclasses import replace

import numpy as np
import pytest

import engineering.ride as riding
from engineering.cable import loaded_sag_share, span_of
from engineering.line import G_MPS2, Air, Cable, Line, Rider, Wind
from engineering.refusal import Refusal, refuse
from engineering.ride import ARRIVED, OUTSIDE, STALLED, STATE_SENTENCES, STATES, UNKNOWN, Ride, ride

LINE = Line(300.0, 18.0, Cable(1.05, 10e6), 15e3)
FREE = Rider(80.0, 0.0, 0.0)  # nothing holds him: v² = 2 g (what he has come down, and what the cable lends)


def one(line=LINE, rider=FREE, head=0.0, cross=0.0, temperature=15.0, pressure=101_325.0, **more):
    return ride(line, rider, Wind(head, cross), Air(temperature, pressure), **{"steps": 10, **more})


# How a figure is put in, what its refusals are called, and the range.
RANGES = [
    (lambda v: one(rider=replace(FREE, mass_kg=v)), "mass", 25.0, 150.0),
    (lambda v: one(rider=replace(FREE, drag_area_m2=v)), "drag", 0.0, 1.2),
    (lambda v: one(rider=replace(FREE, rolling=v)), "rolling", 0.0, 0.05),
    (lambda v: one(rider=replace(FREE, sheave_kg=v)), "sheave", 0.0, 5.0),
    (lambda v: one(head=v), "wind", -15.0, 15.0),
    (lambda v: one(cross=v), "wind", -15.0, 15.0),
    (lambda v: one(temperature=v), "temperature", -50.0, 60.0),
    (lambda v: one(cable_c=v), "temperature", -50.0, 60.0),
    (lambda v: one(pressure=v), "pressure", 50e3, 110e3),
    (lambda v: one(launch_mps=v), "launch", 0.0, 4.0),
]
IDS = ["mass", "drag", "rolling", "sheave", "head", "cross", "air", "cable", "pressure", "launch"]


@pytest.mark.parametrize(("put", "code", "low", "high"), RANGES, ids=IDS)
def test_ranges_of_a_single_figure(put, code, low, high):
    for value in (low, high):
        assert isinstance(put(value), Ride)
    for value in (low - 0.01 * max(1.0, abs(low)), high * 1.01):
        assert put(value) == refuse(f"{code}-range", value=value, low=low, high=high)


@pytest.mark.parametrize(("put", "code", "low", "high"), RANGES, ids=IDS)
def test_ranges_of_many_at_once(put, code, low, high):
    """The one beside the range is marked, and what is missing is unknown."""
    values = np.array([low, high, low - 0.01 * max(1.0, abs(low)), high * 1.01, math.nan])
    found = put(values)
    assert not set(found.state[:2].tolist()) & {UNKNOWN, OUTSIDE}
    assert found.state[2:].tolist() == [OUTSIDE, OUTSIDE, UNKNOWN]


@pytest.mark.parametrize(("put", "code", "low", "high"), [one for one in RANGES if one[1] != "sheave"])
def test_missing_figures(put, code, low, high):
    assert put(math.nan) == refuse(f"{code}-missing")


def test_missing_wind_and_air():
    assert ride(LINE, FREE, None, Air(15.0)) == refuse("wind-missing")
    assert ride(LINE, FREE, Wind(0.0), None) == refuse("temperature-missing")
    assert ride(LINE, FREE, None, None) == refuse("wind-missing")
    assert ride(replace(LINE, span_m=None), FREE, None, None) == refuse("span-missing")
    assert ride(LINE, replace(FREE, mass_kg=None), Wind(0.0), Air(15.0)) == refuse("mass-missing")


def test_nothing_among_figures_is_unknown():
    """A list may hold ``None`` where nothing was measured, and whole numbers."""
    assert one(rider=Rider([80, None, 90])).names() == ["arrived", "unknown", "arrived"]
    assert one(head=[None, 0]).names() == ["unknown", "arrived"]


def test_places_on_the_line():
    """From beyond the launch to the landing support itself; the first that is not is named."""
    assert isinstance(one(end_m=300.0, gates_m=(0.5, 300.0)), Ride)
    assert isinstance(one(end_m=0.5), Ride)
    for place in (0.0, -1.0, 300.5):
        assert one(end_m=place) == refuse("position-range", value=place)
        assert one(gates_m=(10.0, place)) == refuse("position-range", value=place)
    assert one(end_m=301.0, gates_m=(302.0,)) == refuse("position-range", value=301.0)


def test_tension_that_replaces_the_lines():
    """Looked at as the line's own is, and used in its place."""
    assert one(tension_n=-1.0) == refuse("tension-impossible", value=-1.0)
    assert one(tension_n=math.nan) == refuse("tension-missing")
    low = 1.05 * G_MPS2 * math.hypot(1, 0.06) * 300 / 8 / 0.009
    assert one(tension_n=low) == refuse("sag-low", value=0.9, limit=1)
    by_line = one(replace(LINE, tension_n=16e3), rider=Rider(80.0))
    by_draw = one(rider=Rider(80.0), tension_n=16e3)
    assert float(by_draw.arrival_mps) == pytest.approx(float(by_line.arrival_mps), rel=1e-12)
    several = one(rider=Rider(80.0), tension_n=np.array([16e3, math.nan, 0.5, 2e7]))
    assert several.names() == ["arrived", "unknown", "outside", "outside"]
    assert several.arrival_mps[0] == pytest.approx(float(by_line.arrival_mps), rel=1e-12)


def test_cable_warmer_than_the_air():
    """The cable's temperature changes its tension, the air's its density."""
    sun = one(rider=Rider(80.0), cable_c=35.0)
    assert float(sun.arrival_mps) < float(one(rider=Rider(80.0)).arrival_mps)
    warm = one(rider=Rider(80.0), temperature=35.0)
    assert float(sun.arrival_mps) != pytest.approx(float(warm.arrival_mps))
    same_air = one(rider=Rider(80.0), temperature=35.0, cable_c=15.0, pressure=101_325 * 308.15 / 288.15)
    assert float(same_air.arrival_mps) == pytest.approx(float(one(rider=Rider(80.0)).arrival_mps), rel=1e-12)


def test_speeds_by_energy():
    """v² = v0² - 2 g (phi(x) - phi(0)), phi the energy of cable and rider per newton."""
    found = one(launch_mps=2.0, gates_m=(75.0, 150.0, 290.0), traced=True, steps=40)
    span, load = span_of(LINE, 15.0), 80 * G_MPS2
    x = np.linspace(0.0, 300.0, 41)
    phi = span.potential(x, load, span.tension(x, load))
    speeds = np.sqrt(4 - 2 * G_MPS2 * (phi - phi[0]))
    assert found.trace.x_m == pytest.approx(x)
    assert found.trace.speed_mps == pytest.approx(speeds)
    assert found.trace.height_m == pytest.approx(span.height(x, load, span.tension(x, load)))
    assert found.trace.speed_mps.shape == (41,)
    assert found.arrival_mps.shape == ()
    assert float(found.arrival_mps) == pytest.approx(math.sqrt(4 + 2 * G_MPS2 * 18))
    assert float(found.top_mps) == pytest.approx(speeds.max())
    # at a node, at a node, and between two by a straight line in v²
    third = math.sqrt((speeds[38] ** 2 + 2 * speeds[39] ** 2) / 3)
    assert found.gates_mps == pytest.approx([speeds[10], speeds[20], third])
    assert np.isnan(found.stall_m)
    heights = span.height(x, load, span.tension(x, load))
    way = np.hypot(np.diff(x), np.diff(heights))
    assert float(found.time_s) == pytest.approx(np.sum(2 * way / (speeds[1:] + speeds[:-1])))
    assert one(gates_m=()).gates_mps.shape == (0,)
    assert one().trace is None
    half = one(end_m=150.0, launch_mps=2.0, steps=20)
    assert float(half.arrival_mps) == pytest.approx(speeds[20])


def test_what_is_told_of_whom():
    """Who stops has a place, a top speed and gates before it; who arrives has speed and time."""
    found = one(rider=Rider(np.array([40.0, 80.0])), gates_m=(100.0, 299.0), traced=True, steps=60)
    assert found.state.tolist() == [STALLED, ARRIVED]
    assert (found.arrived.tolist(), found.stalled.tolist()) == ([False, True], [True, False])
    assert np.isnan(found.arrival_mps).tolist() == [True, False]
    assert np.isnan(found.time_s).tolist() == [True, False]
    assert np.isnan(found.stall_m).tolist() == [False, True]
    assert not np.isnan(found.top_mps).any()
    assert np.isnan(found.gates_mps).tolist() == [[False, False], [True, False]]
    assert not np.isnan(found.trace.speed_mps).any()
    assert found.trace.speed_mps.shape == found.trace.height_m.shape == (61, 2)
    grid = one(rider=Rider(np.array([[70.0], [80.0], [90.0]])), head=np.array([[0.0, -2.0]]), gates_m=(100.0,))
    assert grid.state.shape == grid.arrival_mps.shape == grid.time_s.shape == (3, 2)
    assert grid.gates_mps.shape == (1, 3, 2)
    assert grid.arrival_mps[2, 1] == pytest.approx(float(one(rider=Rider(90.0), head=-2.0).arrival_mps), rel=1e-12)


def test_gate_at_the_very_stop_is_passed():
    at = float(one(rider=Rider(40.0)).stall_m)
    assert np.isnan(one(rider=Rider(40.0), gates_m=(at, at + 0.01)).gates_mps).tolist() == [False, True]


def test_many_riders_go_in_bundles(monkeypatch):
    """So many at once as was found to be fast, each once; who is outside is left out."""
    whole, widths = riding.march, []

    def counted(x, potential, *figures):
        widths.append(potential.shape[1])
        return whole(x, potential, *figures)

    monkeypatch.setattr(riding, "AT_ONCE", 3)
    monkeypatch.setattr(riding, "march", counted)
    masses = np.array([40.0, 80.0, 10.0, 60.0, 70.0, 80.0, 90.0, 100.0])
    found = one(rider=Rider(masses), head=1.0)
    assert widths == [2, 3, 2]
    alone = [float(one(rider=Rider(mass), head=1.0).arrival_mps) for mass in masses if mass > 25]
    assert np.delete(found.arrival_mps, 2) == pytest.approx(alone, nan_ok=True)


SLACK = Line(300.0, 18.0, Cable(0.5, 4e6), 3.6e3)
FAST = Line(1500.0, 225.0, Cable(3.0, 3e7), 160e3)


def test_outside_the_method():
    """A single ride is refused with its figure; among many it is marked and carries none, the others theirs."""
    sag = 100 * float(loaded_sag_share(span_of(SLACK, 15.0), 150 * G_MPS2))
    assert one(SLACK, Rider(150.0)) == refuse("sag-high", value=sag, limit=6)
    some = one(SLACK, Rider(np.array([30.0, 150.0])), gates_m=(10.0,), traced=True)
    assert some.state[1] == OUTSIDE
    assert some.state[0] != OUTSIDE
    gate, height = some.gates_mps[0], some.trace.height_m[3]
    for figures in (some.arrival_mps, some.time_s, some.stall_m, some.top_mps, gate, height):
        assert np.isnan(figures[1])
    fast = one(FAST, replace(FREE, mass_kg=150.0))
    assert isinstance(fast, Refusal)
    assert (fast.code, dict(fast.params)["limit"]) == ("speed-wave", "25")
    both = one(FAST, Rider(np.array([150.0, 150.0]), np.array([0.0, 1.0]), 0.0))
    assert both.state.tolist() == [OUTSIDE, ARRIVED]
    for figures in (both.arrival_mps, both.time_s, both.top_mps):
        assert np.isnan(figures).tolist() == [True, False]
    strong = replace(LINE, cable=replace(LINE.cable, breaking_force_n=20e3))
    assert one(strong, tension_n=np.array([19e3, 20e3])).state.tolist() == [ARRIVED, OUTSIDE]
    low = 1.05 * G_MPS2 * math.hypot(1, 0.06) * 300 / 8
    taut = one(tension_n=np.array([low / 0.0101, low / 0.0099]))
    assert taut.state.tolist() == [ARRIVED, OUTSIDE]


def test_share_of_the_wave_speed():
    """c² = T / m along the chord, H sec / m (textbook); the greatest share on the way, of the tension there."""
    kept = replace(FAST, constant_tension=True, tension_n=150e3)
    found = one(kept, replace(FREE, mass_kg=25.0), steps=10)
    share = math.sqrt(2 * G_MPS2 * 225 / (150e3 * math.hypot(1, 0.15) / 3.0))
    assert share > 0.25
    assert found == refuse("speed-wave", value=100 * share, limit=25)


def test_states():
    assert STATES == ("arrived", "stalled", "unknown", "outside")
    assert set(STATE_SENTENCES) == set(STATES)
    assert (ARRIVED, STALLED, UNKNOWN, OUTSIDE) == (0, 1, 2, 3)
    for steps in (9, 0):
        with pytest.raises(ValueError, match=r"^a ride needs at least ten steps$"):
            one(steps=steps)
    assert isinstance(one(steps=10), Ride)
