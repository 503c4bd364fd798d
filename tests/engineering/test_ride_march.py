"""The march of riders along x with a few steps: every node against a closed form (own algebra)."""

import math

import numpy as np
import pytest
from scipy.optimize import brentq

from engineering.incline import speed_down_slope
from engineering.line import G_MPS2
from engineering.march import _mean_fade, _wind_part, march


def marched(slope, drag, rolling=0.0, head=0.0, cross=0.0, launch=0.0, inertia=0.0, length=60.0, steps=12):
    """March riders down one slope, as if the cable were a beam; each figure one number or one per rider."""
    x = np.linspace(0.0, length, steps + 1)
    secant = math.hypot(1.0, slope)
    arc = np.full((steps, 1), secant * length / steps)
    return x, march(x, (slope * x)[:, None], arc, np.atleast_1d(drag), rolling, head, cross, launch, inertia)


def test_without_air_the_square_of_the_speed_is_a_straight_line():
    """Energy: (1 + e) (u - u0) = -2 g (slope + mu) x, at every node and with any number of steps."""
    for inertia in (0.0, 0.01):
        x, found = marched(-0.1, 0.0, 0.02, launch=3.0, inertia=inertia)
        assert found.square[:, 0] == pytest.approx(9 + 2 * G_MPS2 * 0.08 * x / (1 + inertia), rel=1e-12)
        assert np.isnan(found.stall_x).all()


def test_time_of_a_steady_acceleration():
    """Way over mean speed, along the path; from rest too."""
    for launch in (0.0, 3.0):
        _, found = marched(-0.75, 0.0, 0.05, launch=launch)
        end = math.sqrt(launch**2 + 2 * G_MPS2 * 0.7 * 60)
        assert found.time_s[0] == pytest.approx(2 * 75 / (launch + end), rel=1e-12)


def test_who_stops_stops_where_the_energy_ends():
    """u0 = 2 g (slope + mu) x; nothing is told of him beyond, and no time."""
    x, found = marched(0.03, np.array([0.0, 0.0]), np.array([0.01, 0.02]), launch=np.array([4.0, 6.0]))
    ends = np.array([16 / (2 * G_MPS2 * 0.04), 36 / (2 * G_MPS2 * 0.05)])
    assert found.stall_x == pytest.approx(ends, rel=1e-12)
    for rider in range(2):
        assert (found.square[x >= ends[rider], rider] == 0).all()
        assert (found.square[x < ends[rider], rider] > 0).all()
    assert np.isnan(found.time_s).all()
    _, both = marched(0.03, np.array([0.0, 0.0]), 0.01, launch=np.array([4.0, 8.0]))
    assert both.stall_x[0] == pytest.approx(ends[0])
    assert np.isnan(both.stall_x[1])
    assert np.isnan(both.time_s[0])
    assert both.time_s[1] == pytest.approx(
        2 * 60 * math.hypot(1, 0.03) / (8 + math.sqrt(64 - 2 * G_MPS2 * 0.04 * 60)), rel=1e-12
    )


def test_who_cannot_start_stops_at_once():
    _, found = marched(-0.01, 0.0, 0.02)
    assert found.stall_x[0] == 0.0
    assert (found.square == 0).all()
    assert np.isnan(found.time_s[0])


def test_a_stop_in_the_first_and_in_the_last_step():
    """Between the nodes by a straight line, which is the truth without air."""
    for way in (1.0, 4.9, 5.1, 55.5, 59.0):
        _, found = marched(0.05, 0.0, launch=math.sqrt(2 * G_MPS2 * 0.05 * way))
        assert found.stall_x[0] == pytest.approx(way, rel=1e-9)
    _, at_end = marched(0.05, 0.0, launch=math.sqrt(2 * G_MPS2 * 0.05 * 60.001))
    assert np.isnan(at_end.stall_x[0])


def test_still_air_is_exact_at_every_node():
    """The closed form of a straight slope; turning sheaves take their share of pull and drag alike."""
    sine, secant = 0.1 / math.hypot(1, 0.1), math.hypot(1, 0.1)
    x, found = marched(-0.1, 1.225 * 0.6 / 80.0, 0.01, launch=2.0)
    for i in range(1, len(x)):
        form = speed_down_slope(x[i] * secant, sine, 80.0, 0.6, 0.01, 1.225, 2.0)
        assert math.sqrt(found.square[i, 0]) == pytest.approx(form, rel=1e-12)
    _, heavy = marched(-0.1, 1.225 * 0.6 / 80.0, 0.01, launch=2.0, inertia=0.05)
    as_if = speed_down_slope(60 * secant, sine, 80 * 1.05, 0.6, 0.01, 1.225, 2.0, G_MPS2)
    slower = speed_down_slope(60 * secant, sine, 80 * 1.05, 0.6, 0.01, 1.225, 2.0, G_MPS2 / 1.05)
    assert math.sqrt(heavy.square[-1, 0]) == pytest.approx(slower, rel=1e-12)
    assert slower < as_if


@pytest.mark.parametrize(
    ("head", "launch", "length"), [(4.0, 8.0, 20.0), (-3.0, 8.0, 20.0), (-12.0, 8.0, 20.0), (4.0, 0.9, 0.5)]
)
def test_wind_along_level_ground(head, launch, length):
    """r = v + head falls as 1/r = 1/r0 + K t; the way is ln(1 + K r0 t)/K - head t (from behind, r < 0, it drives)."""
    k = 0.004
    x, found = marched(0.0, 2 * k, head=head, launch=launch, length=length, steps=40)
    r = launch + head
    sign = math.copysign(1.0, r)

    def way(t):
        return sign * math.log1p(k * abs(r) * t) / k - head * t

    t = brentq(lambda t: way(t) - length, 0.0, 20.0 if launch > 1 else 1.0)
    assert math.sqrt(found.square[-1, 0]) == pytest.approx(r / (1 + k * abs(r) * t) - head, abs=5e-6)
    assert found.time_s[0] == pytest.approx(t, abs=1e-3)
    assert x[-1] == length


def test_wind_across_level_ground():
    """dv/ds = -K sqrt(v² + c²): v = c sinh(asinh(v0/c) - K s); from either side the same."""
    k = 0.01
    for cross in (5.0, -5.0):
        x, found = marched(0.0, 2 * k, cross=cross, launch=8.0, length=20.0, steps=40)
        speeds = 5 * np.sinh(np.arcsinh(8 / 5) - k * x)
        assert np.sqrt(found.square[:, 0]) == pytest.approx(speeds, abs=2e-6)


def test_a_breath_of_wind_is_no_wind():
    """The way reckoned without wind is the limit of the other."""
    _, still = marched(-0.1, 0.02, 0.01, launch=1.0)
    for wind in ({"head": 1e-12}, {"cross": 1e-7}):
        _, breath = marched(-0.1, 0.02, 0.01, launch=1.0, **wind)
        assert breath.square == pytest.approx(still.square, rel=1e-10)
        assert breath.time_s == pytest.approx(still.time_s, rel=1e-10)


def test_riders_do_not_mix():
    """Each as if alone: masses, winds and launches of one shape, one of them stopping."""
    drag, rolling = np.array([0.01, 0.02, 0.005]), np.array([0.01, 0.04, 0.03])
    head, cross, launch = np.array([0.0, 6.0, -3.0]), np.array([2.0, 0.0, -4.0]), np.array([0.0, 1.0, 3.0])
    _, together = marched(-0.05, drag, rolling, head, cross, launch)
    for i in range(3):
        _, alone = marched(-0.05, drag[i], rolling[i], head[i], cross[i], launch[i])
        assert together.square[:, i] == pytest.approx(alone.square[:, 0], rel=1e-12)
        assert together.stall_x[i] == pytest.approx(alone.stall_x[0], nan_ok=True)
        assert together.time_s[i] == pytest.approx(alone.time_s[0], nan_ok=True)
    assert np.isnan(together.stall_x).tolist() == [True, False, True]


def test_riders_on_cables_of_their_own():
    """As many riders as the energy has columns; without a word about sheaves none turn."""
    x = np.linspace(0.0, 60.0, 13)
    potential = np.stack([-0.1 * x, -0.2 * x], axis=1)
    found = march(x, potential, np.full((12, 1), 5.0), 0.0, 0.0, 0.0, 0.0, 1.0)
    assert found.square[-1] == pytest.approx([1 + 2 * G_MPS2 * 6, 1 + 2 * G_MPS2 * 12], rel=1e-12)


def test_what_the_wind_adds():
    """|Vrel| (v + head) - v², by hand: at 2 m/s against 3 m/s 5 · 5 - 4, with 1 m/s against and 4 across 5 · 3 - 4."""
    u = np.array([4.0])
    assert _wind_part(u, 3.0, None).tolist() == [21.0]
    assert _wind_part(u, -5.0, None).tolist() == [-13.0]
    assert _wind_part(u, 1.0, np.array([16.0])).tolist() == [11.0]
    assert _wind_part(u, 0.0, None).tolist() == [0.0]


def test_mean_of_a_fading_exponential():
    """(1 - exp(-z)) / z = 1 - z/2 + z²/6 - ..., 1 at nought."""
    z = np.array([0.0, 1e-9, 5e-7, 9.99e-7, 1.01e-6, 1e-3])
    assert _mean_fade(z) == pytest.approx(1 - z / 2 + z**2 / 6 - z**3 / 24, rel=1e-12)
    assert _mean_fade(np.array([2.0, 20.0])) == pytest.approx([(1 - math.exp(-2)) / 2, 0.05], rel=1e-8)
    assert float(_mean_fade(0.0)) == 1.0
