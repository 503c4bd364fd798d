"""The figures of a stop one by one, with ten steps of the zone; ranges to the digit. By hand, own ranges."""

import math
from dataclasses import replace

import numpy as np
import pytest

from engineering import brakes_stop
from engineering.brakes import Cord, Eddy, Friction, Spring
from engineering.brakes_stop import STATE_SENTENCES, STATES, Stop, Zone, _share_above, stop
from engineering.line import G_MPS2, Air, Rider, Wind
from engineering.refusal import refuse

ZONE, RIDER = Zone(10.0, 0.0), Rider(80.0, 0.0, 0.0)
SPRING, EDDY = Spring(1200.0, 200.0, 3.0, start_m=2.0), Eddy(1500.0, 6.0, 2.0, start_m=1.0)
G = G_MPS2


def one(parts=(SPRING,), zone=ZONE, rider=RIDER, speed=4.0, head=0.0, cross=0.0, temperature=15.0, **more):
    air = Air(temperature, more.pop("pressure", 101_325.0))
    return stop(parts, zone, rider, speed, Wind(head, cross), air, **{"steps": 10, **more})


RANGES = [
    (lambda v: one(speed=v), "speed", 0.0, 40.0),
    (lambda v: one(rider=replace(RIDER, mass_kg=v)), "mass", 25.0, 150.0),
    (lambda v: one(rider=replace(RIDER, drag_area_m2=v)), "drag", 0.0, 1.2),
    (lambda v: one(rider=replace(RIDER, rolling=v)), "rolling", 0.0, 0.05),
    (lambda v: one(zone=Zone(10.0, v)), "zone-slope", -0.3, 0.5),
    (lambda v: one(zone=Zone(10.0, 0.0, v)), "zone-slope", -0.02, 0.02),
    (lambda v: one(head=v), "wind", -15.0, 15.0),
    (lambda v: one(cross=v), "wind", -15.0, 15.0),
    (lambda v: one(temperature=v), "temperature", -50.0, 60.0),
    (lambda v: one(pressure=v), "pressure", 50e3, 110e3),
]
IDS = ["speed", "mass", "drag", "rolling", "slope", "growth", "head", "cross", "air", "pressure"]


@pytest.mark.parametrize(("put", "code", "low", "high"), RANGES, ids=IDS)
def test_ranges(put, code, low, high):
    below, beyond = low - 0.01 * max(1.0, abs(low)), high * 1.01
    for value in (low, high):
        assert isinstance(put(value), Stop)
    for value in (below, beyond):
        assert put(value) == refuse(f"{code}-range", value=value, low=low, high=high)
    assert put(math.nan) == refuse(f"{code}-missing")
    many = put(np.array([low, high, below, beyond, math.nan])).names()
    assert not {"outside", "unknown"} & set(many[:2])
    assert many[2:] == ["outside", "outside", "unknown"]


def test_ranges_of_the_zone():
    assert one(zone=Zone(None, 0.0)) == refuse("zone-missing")
    assert one([], Zone(0.09, 0.0)) == refuse("zone-range", value=0.09, low=0.1, high=100)
    assert one([], Zone(101.0, 0.0)) == refuse("zone-range", value=101.0, low=0.1, high=100)
    for length in (0.1, 100.0):
        assert isinstance(one([], Zone(length, 0.0)), Stop)
    for capture in (0.0, 10.0):
        assert isinstance(one(zone=Zone(10.0, 0.0, capture_m=capture)), Stop)
    for capture in (-0.5, 10.5):
        expected = refuse("capture-range", value=capture, low=0, high=10)
        assert one(zone=Zone(10.0, 0.0, capture_m=capture)) == expected
    assert one(zone=Zone(10.0, 0.0, capture_m=math.nan)) == refuse("figure-missing")
    assert one([replace(SPRING, bind_m=None)]) == refuse("bind-missing")


def test_missing_wind_and_air():
    assert stop([], ZONE, RIDER, 4.0, None, Air(15.0)) == refuse("wind-missing")
    assert stop([], ZONE, RIDER, 4.0, Wind(0.0), None) == refuse("temperature-missing")
    assert stop([], Zone(None, 0.0), RIDER, 4.0, None, None) == refuse("zone-missing")
    assert one(speed=None) == refuse("speed-missing")
    assert one(rider=replace(RIDER, mass_kg=None)) == refuse("mass-missing")


def test_a_spring_by_hand():
    """80 kg at 4 m/s are 640 J; 2 m on a spring of 200 N + 1200 N/m: 200 s + 600 s² = 640 at s = 0.8796 m."""
    found = one()
    s = (-200 + math.sqrt(200**2 + 4 * 600 * 640)) / 1200
    assert found.names() == ["stopped"]
    assert float(found.stroke_m) == pytest.approx(2 + s)
    assert float(found.left_m) == pytest.approx(3 - s)
    assert float(found.used) == pytest.approx(s / 3)
    assert float(found.peak_g) == pytest.approx((200 + 1200 * s) / 80 / G)
    assert float(found.mean_g) == pytest.approx(16 / (2 * G * s))
    assert float(found.step_g) == pytest.approx(200 / 80 / G)
    assert float(found.onset_g_per_s) == pytest.approx(1200 * 4 / 80 / G, rel=1e-6)  # k v / m at the contact
    # half a swing about the place where the spring would be free, after 2 m at 4 m/s
    omega = math.sqrt(1200 / 80)
    quarter = (math.pi / 2 - math.atan2(200 / 1200 * omega, 4.0)) / omega
    assert float(found.time_s) == pytest.approx(0.5 + quarter, rel=2e-3)
    back = math.sqrt(2 * 0.9 * 640 / 80)
    assert float(found.back_mps) == pytest.approx(back)
    assert found.rolls_away.tolist() is True  # level and without rolling nothing holds him behind the zone
    assert np.isnan(found.out_mps)


def test_time_above_a_limit():
    """The spring's acceleration grows as sin: from asin of the share to a quarter; the whole time above nought."""
    found = one([replace(SPRING, preload_n=0.0)], over_g=0.2)
    omega, peak = math.sqrt(15.0), 4 * math.sqrt(15.0) / G
    assert float(found.peak_g) == pytest.approx(peak)
    assert float(found.over_s) == pytest.approx((math.pi / 2 - math.asin(0.2 / peak)) / omega, rel=5e-3)
    assert float(one([replace(SPRING, preload_n=0.0)]).over_s) == 0.0  # 2.5 g are not reached
    assert float(one([replace(SPRING, preload_n=0.0)], over_g=peak * 1.001).over_s) == 0.0


def test_share_of_a_step_above_the_limit():
    """A straight line from the one value to the other."""
    ends = np.array([[0.0, 2.0, 0.0, 2.0, 1.0, 2.0, 0.9], [2.0, 0.5, 1.0, 3.0, 1.0, 2.0, 0.9]])
    assert _share_above(ends, 1.0)[0] == pytest.approx([0.5, 2 / 3, 0.0, 1.0, 0.0, 1.0, 0.0])


def test_friction_and_a_slope_by_hand():
    """A steady 480 N on 80 kg is 6 m/s², from 1 m on; 0.1 + 0.02 of g all the way."""
    found = one([Friction(480.0, 1.0)], Zone(10.0, 0.1), replace(RIDER, rolling=0.02), over_g=0.5)
    before = G * 0.12
    left = 16 - 2 * before
    way = left / (2 * (before + 6))
    assert float(found.stroke_m) == pytest.approx(1 + way)
    assert float(found.peak_g) == pytest.approx((before + 6) / G)
    assert float(found.mean_g) == pytest.approx(left / (2 * G * way))
    assert float(found.step_g) == pytest.approx(6 / G)
    assert float(found.onset_g_per_s) == 0.0
    assert float(found.over_s) == pytest.approx(math.sqrt(left) / (before + 6), rel=0.01)
    assert float(found.time_s) == pytest.approx((4 - math.sqrt(left)) / before + math.sqrt(left) / (before + 6))
    assert np.isnan(found.left_m)
    assert np.isnan(found.used)
    # friction gives nothing back; the slope does, less rolling, and behind him it falls away
    assert float(found.back_mps) == pytest.approx(math.sqrt(2 * G * 0.08 * float(found.stroke_m)))
    assert found.rolls_away.tolist() is True
    assert np.isnan(found.back_m)


def test_growing_slope_counts_on_the_way_back():
    """The mean of the slope to the stop: slope + growth s / 2; at the beginning of the zone only the slope holds."""
    found = one([Friction(480.0)], Zone(10.0, -0.02, 0.02), replace(RIDER, rolling=0.01), speed=6.0)
    s = float(found.stroke_m)
    assert 2 * (G * (-0.01 + 0.01 * s) + 6) * s == pytest.approx(36)
    assert float(found.peak_g) == pytest.approx(-0.01 + 0.02 * s + 6 / G)
    assert float(found.back_mps) == 0.0  # -0.03 + 0.01 s is still downhill to the landing
    up = one([Friction(100.0)], Zone(10.0, 0.0, 0.02), replace(RIDER, rolling=0.01), speed=4.0)
    s = float(up.stroke_m)
    assert float(up.back_mps) == pytest.approx(math.sqrt(2 * G * (-0.01 + 0.01 * s) * s))
    assert float(up.back_m) == pytest.approx((-0.01 + 0.01 * s) * s / 0.01)
    assert not up.rolls_away


def test_run_out_without_a_brake():
    """Nothing grips, so that the mean is over the whole way; nothing binds and nothing is sudden."""
    found = one([], Zone(10.0, 0.15), replace(RIDER, rolling=0.05))
    assert float(found.stroke_m) == pytest.approx(16 / (2 * G * 0.2))
    assert float(found.mean_g) == pytest.approx(0.2)
    assert float(found.step_g) == float(found.onset_g_per_s) == 0.0
    # who stops before the brake was held by the slope alone
    short = one([Friction(300.0, 9.0)], Zone(10.0, 0.15), replace(RIDER, rolling=0.05))
    assert float(short.mean_g) == pytest.approx(0.2)
    assert float(short.step_g) == 0.0
    still = one([], Zone(10.0, 0.1), speed=0.0)
    assert float(still.stroke_m) == pytest.approx(0.0, abs=1e-9)
    assert float(still.mean_g) == float(still.time_s) == 0.0
    assert float(one([], Zone(10.0, 0.0, capture_m=5.0), replace(RIDER, rolling=0.05)).out_mps) == pytest.approx(
        math.sqrt(16 - 2 * G * 0.5)
    )


def test_two_springs_and_a_cord():
    """The one nearest to its bind, and the most used; both throw back, each its share."""
    parts = [Spring(500.0, 0.0, 2.0, returned=0.8), Cord(300.0, 0.0, 0.5, 1.0, start_m=0.5, returned=0.5)]
    found = one(parts)
    s = float(found.stroke_m)
    assert 250 * s**2 + 150 * (s - 0.5) ** 2 == pytest.approx(640)
    assert float(found.left_m) == pytest.approx(min(2.0 - s, 1.5 - s))
    assert float(found.used) == pytest.approx(max(s / 2, s - 0.5))
    by_cord = 150 * (s - 0.5) ** 2
    assert float(found.back_mps) == pytest.approx(math.sqrt(2 * (0.8 * 250 * s**2 + 0.5 * by_cord) / 80))
    grip = one([replace(parts[0], start_m=4.0), Friction(100.0, 3.0)])
    s = float(grip.stroke_m)
    assert float(grip.mean_g) == pytest.approx(16 / (2 * G * (s - 3)))
    assert float(grip.left_m) == pytest.approx(2.0 - max(s - 4.0, 0.0))


def test_eddy_brake_by_hand():
    """Entry at 8 m/s of vc 6: 2 · 1500 / (8/6 + 6/8); the sudden force counts for who came so far."""
    parts = [EDDY, replace(SPRING, start_m=4.0)]
    found = one(parts, speed=8.0)
    entry = 2 * 1500 / (8 / 6 + 6 / 8) / 80 / G
    assert float(found.step_g) == pytest.approx(max(entry, 200 / 80 / G))
    assert float(found.peak_g) >= 1500 / 80 / G * 0.999
    slow = one([replace(EDDY, start_m=2.0)], speed=1.0, zone=Zone(10.0, 0.1))
    assert float(slow.stroke_m) < 2.0
    assert float(slow.step_g) == 0.0
    assert float(slow.mean_g) == pytest.approx(0.1)
    alone = one([EDDY], speed=2.0)
    assert np.isnan(alone.time_s)
    assert float(alone.mean_g) == pytest.approx(4 / (2 * G * (float(alone.stroke_m) - 1)))
    passed = one([EDDY], speed=12.0)
    assert passed.names() == ["passed"]
    assert np.isnan(passed.stroke_m)
    assert np.isnan(passed.left_m)


def test_onset_of_an_eddy_brake():
    """dF/dv dv/dt / m: beyond vc the force grows while he slows, most where he enters (or later): v 12, vc 3."""
    found = one([replace(EDDY, speed_mps=3.0, length_m=4.0), Friction(2000.0, 6.0)], speed=12.0)
    v, vc = 12.0, 3.0
    force = 2 * 1500 * v * vc / (v**2 + vc**2)
    by_speed = 2 * 1500 * vc * (vc**2 - v**2) / (v**2 + vc**2) ** 2
    assert float(found.onset_g_per_s) >= -by_speed * force / 80 / 80 / G
    rising = one([replace(EDDY, speed_mps=30.0, length_m=9.0)], speed=2.0, zone=Zone(10.0, 0.0))
    assert float(rising.onset_g_per_s) == 0.0  # below vc the force only falls


def test_catch_and_way_back():
    """What is caught is not thrown back; on the level rolling holds him, v² / (2 g mu)."""
    free = one([SPRING], rider=replace(RIDER, rolling=0.02))
    back = float(free.back_mps)
    assert float(free.back_m) == pytest.approx(back**2 / (2 * G * 0.02))
    caught = one([replace(SPRING, caught=True)])
    assert float(caught.back_mps) == float(caught.back_m) == 0.0
    before = one([replace(SPRING, caught=True)], Zone(10.0, 0.3), speed=1.0)  # stops short of the catch
    assert float(before.back_mps) == pytest.approx(1.0)
    none = one([replace(SPRING, returned=0.0)])
    assert float(none.back_mps) == 0.0
    assert not none.rolls_away
    level = one([SPRING])  # level and without rolling nothing holds him
    assert level.rolls_away.tolist() is True
    assert np.isnan(level.back_m)


def test_who_passes_has_only_a_speed():
    soft = Spring(100.0, 0.0, 8.0)  # 3200 J to its bind, then 100 times as stiff
    found = one([soft], speed=np.array([4.0, 30.0, math.nan]))
    assert found.names() == ["stopped", "passed", "unknown"]
    taken = 3200 + (800 + 1e4 * 2 / 2) * 2
    assert found.out_mps[1] == pytest.approx(math.sqrt(900 - 2 * taken / 80))
    for name in ("stroke_m", "peak_g", "over_s", "time_s", "back_mps", "left_m"):
        assert np.isnan(getattr(found, name)).tolist() == [False, True, True]
    assert found.rolls_away.tolist() == [True, False, False]


def test_nothing_among_figures_is_unknown():
    """A list may hold ``None`` where nothing was measured, and whole numbers."""
    assert one(speed=[4, None]).names() == ["stopped", "unknown"]
    assert one(zone=Zone(10.0, [None, 0])).names() == ["unknown", "stopped"]


def test_shapes():
    grid = one(zone=Zone(10.0, np.array([[0.0], [0.05], [0.1]])), speed=np.array([[3.0, 4.0]]))
    for name in ("state", "stroke_m", "time_s", "rolls_away", "out_mps"):
        assert getattr(grid, name).shape == (3, 2)
    assert grid.stroke_m[1, 1] == pytest.approx(float(one(zone=Zone(10.0, 0.05)).stroke_m), rel=1e-12)
    assert grid.shaped((6,)).stroke_m.tolist() == grid.stroke_m.reshape(6).tolist()
    assert grid.shaped((6,)).names() == grid.names()
    assert one().stroke_m.shape == ()


@pytest.mark.parametrize(("length", "steps"), [(0.3, 10), (0.5, 10), (0.52, 11), (4.0, 80), (20.0, 400), (30.0, 400)])
def test_steps_that_one_gets_unasked(monkeypatch, length, steps):
    """One for each 5 cm, ten at least and 400 at most."""
    asked = []
    whole = brakes_stop.course
    monkeypatch.setattr(brakes_stop, "course", lambda *figures: asked.append(figures[1:]) or whole(*figures))
    one([], Zone(length, 0.0), steps=None)
    one([], Zone(length, 0.0), steps=12)
    assert asked == [(length, steps), (length, 12)]


def test_many_riders_go_in_bundles(monkeypatch):
    monkeypatch.setattr(brakes_stop, "AT_ONCE", 3)
    speeds = np.array([1.0, 2.0, math.nan, 3.0, 3.5, 30.0, 4.0, 4.5])
    found = one(speed=speeds)
    for i, speed in enumerate(speeds):
        if not math.isnan(speed):
            alone = one(speed=speed)
            assert found.names()[i] == alone.names()[0]
            assert found.stroke_m[i] == pytest.approx(float(alone.stroke_m), nan_ok=True)
            assert found.out_mps[i] == pytest.approx(float(alone.out_mps), nan_ok=True)


def test_air_and_density():
    """Half the density, half the drag: rho CdA / 2m; the gas law."""
    thick = one([], Zone(10.0, 0.0), replace(RIDER, drag_area_m2=1.0), speed=8.0, steps=100)
    k = 101_325 / (287.05 * 288.15) / 160
    assert float(thick.out_mps) == pytest.approx(8 * math.exp(-k * 10), rel=1e-5)
    thin = one([], Zone(10.0, 0.0), replace(RIDER, drag_area_m2=1.0), speed=8.0, pressure=101_325 / 2, steps=100)
    assert float(thin.out_mps) == pytest.approx(8 * math.exp(-k * 5), rel=1e-5)
    head, cross = (one([], Zone(10.0, 0.0), replace(RIDER, drag_area_m2=1.0), speed=8.0, **w) for w in WINDS)
    assert float(head.out_mps) < float(cross.out_mps) < float(thick.out_mps)


WINDS = ({"head": 4.0}, {"cross": 4.0})


def test_states():
    assert STATES == ("stopped", "passed", "unknown", "outside")
    assert set(STATE_SENTENCES) == set(STATES)
    with pytest.raises(ValueError, match=r"^a stop needs at least ten steps$"):
        one(steps=9)
