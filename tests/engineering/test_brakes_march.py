"""The march through the brake zone with few steps: energies by hand, and closed forms that hold with any step.

Own algebra unless a source is named; the eddy brake's closed form is compared with a solver in test_brakes_forms.
"""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from engineering.brakes import Cord, Eddy, Friction, Spring
from engineering.brakes_forms import eddy_distance, spring_stroke
from engineering.brakes_march import Braked, _eddy_reach, _nodes, course
from engineering.line import G_MPS2

SPRING, FRICTION = Spring(1200.0, 200.0, 3.0, start_m=1.0), Friction(300.0, 0.5)
EDDY = Eddy(1500.0, 6.0, 2.0, start_m=1.0)


def braked(speed, mass=80.0, slope=0.0, growth=0.0, rolling=0.0, drag=0.0, head=0.0, cross=0.0, parts=()):
    """Return riders of these speeds; every other figure one number for all."""
    speed = np.atleast_1d(np.asarray(speed, float))
    figures = [np.broadcast_to(one, speed.shape).astype(float) for one in (slope, growth, rolling, drag, head, cross)]
    placed = [part for part in parts if not isinstance(part, Eddy)]
    begins = [np.broadcast_to(part.starts(speed), speed.shape).astype(float) for part in placed]
    eddies = [part for part in parts if isinstance(part, Eddy)]
    return Braked(np.broadcast_to(mass, speed.shape).astype(float), speed, *figures, placed, begins, eddies)


def test_what_the_place_takes_up():
    """g (slope + mu + growth s / 2) s, and the work of each part over the mass."""
    one = braked(8.0, 100.0, 0.02, 0.004, 0.01, parts=[SPRING, FRICTION])
    at = np.array([2.5])
    by_spring, by_friction = 200 * 1.5 + 600 * 1.5**2, 300 * 2.0
    assert one.energy(at) == pytest.approx(G_MPS2 * (0.03 + 0.005) * 2.5 + (by_spring + by_friction) / 100)
    assert one.by_place(at) == pytest.approx(G_MPS2 * 0.04 + (200 + 1800 + 300) / 100)
    assert braked(8.0, slope=0.02, rolling=0.01).by_place(at) == pytest.approx(G_MPS2 * 0.03)


def test_what_the_speed_takes_up():
    """rho CdA / 2m |Vrel| (v + head): 5 m/s against 3 with 6 across is 8 · 10; before 13 m/s it drives."""
    assert braked(1.0, drag=0.01, head=3.0, cross=6.0).wind_part(np.array([5.0])) == pytest.approx(0.01 * 10 * 8)
    assert braked(1.0, drag=0.01, head=-13.0, cross=6.0).wind_part(np.array([5.0])) == pytest.approx(-0.01 * 10 * 8)
    one = braked(8.0, 100.0, 0.02, drag=0.01, parts=[FRICTION, EDDY, replace(EDDY, length_m=1.0, speed_mps=3.0)])
    slowing = one.deceleration(np.array([[0.9], [1.0], [2.0], [2.5], [3.0], [3.1]]), np.array([4.0]))
    steady = G_MPS2 * 0.02 + 3 + 0.16
    first, second = 2 * 1500 / (4 / 6 + 6 / 4) / 100, 2 * 1500 / (4 / 3 + 3 / 4) / 100
    expected = [steady, steady + first + second, steady + first + second, steady + first, steady + first, steady]
    assert slowing[:, 0] == pytest.approx(expected)


@pytest.mark.parametrize("steps", [10, 37])
def test_stops_by_energy_alone_are_exact(steps):
    """A spring's closed form, to the last digits, whatever the steps."""
    speeds = np.array([0.0, 0.5, 3.0, 8.0])
    found = course(braked(speeds, slope=0.03, rolling=0.01, parts=[replace(SPRING, start_m=0.0)]), 4.0, steps)
    strokes = [spring_stroke(80.0, v, 1200.0, 200.0, -80 * G_MPS2 * 0.04) for v in speeds]
    assert found.stopped.all()
    assert found.end == pytest.approx(strokes, abs=1e-11)
    assert (found.out_square == 0).all()
    assert not found.faded.any()
    assert (found.lost == 0).all()
    at = np.array([[0.0, 0.1, 0.3, 1.0]])
    taken = G_MPS2 * 0.04 * at + (200 * at + 600 * at**2) / 80
    assert found.square(at)[0] == pytest.approx(np.maximum(speeds**2 - 2 * taken[0], 0.0), abs=1e-12)


def test_who_passes_keeps_the_rest():
    found = course(braked([3.0, 9.0], slope=0.05, rolling=0.02, parts=[FRICTION]), 4.0, 10)
    taken = G_MPS2 * 0.07 * 4 + 300 * 3.5 / 80
    assert found.stopped.tolist() == [True, False]
    assert found.end.tolist() == [pytest.approx((9 / 2 + 300 * 0.5 / 80) / (G_MPS2 * 0.07 + 300 / 80)), 4.0]
    assert found.out_square.tolist() == [0.0, pytest.approx(81 - 2 * taken)]


def test_air_takes_its_share():
    """Level, still air: v0 exp(-K s), at every node and between nodes, to the midpoint rule's digits."""
    k = 0.02
    found = course(braked([8.0, 5.0], drag=k), 5.0, 50)
    assert found.out_square == pytest.approx(np.array([64.0, 25.0]) * math.exp(-2 * k * 5), rel=1e-6)
    at = np.array([[0.33, 1.77], [4.0, 4.95]])
    assert found.square(at) == pytest.approx(np.array([64.0, 25.0]) * np.exp(-2 * k * at), rel=1e-5)
    slow = course(braked([0.8], drag=k), 5.0, 50)
    assert slow.out_square == pytest.approx(0.64 * math.exp(-2 * k * 5), rel=1e-6)
    against = course(braked([8.0], drag=k, head=4.0), 5.0, 50)

    def still(t):  # dr/dt = -K r², r = v + 4
        return math.log1p(k * 12 * t) / k - 4 * t

    t = next(one for one in np.linspace(0, 3, 300_001) if still(one) >= 5.0)
    assert math.sqrt(against.out_square[0]) == pytest.approx(12 / (1 + k * 12 * t) - 4, abs=1e-4)
    across = course(braked([8.0], drag=k, cross=5.0), 5.0, 50)
    assert math.sqrt(across.out_square[0]) == pytest.approx(5 * math.sinh(math.asinh(8 / 5) - k * 5), rel=1e-5)


@pytest.mark.parametrize("steps", [10, 33])
def test_eddy_brakes_on_level_ground_are_exact(steps):
    """Their closed form over their length, wherever they begin, one behind the other; nothing before and behind."""
    one = course(braked([12.0, 8.5], 90.0, parts=[EDDY]), 4.0, steps)
    for rider, speed in enumerate((12.0, 8.5)):
        assert eddy_distance(90.0, speed, math.sqrt(one.out_square[rider]), 1500.0, 6.0) == pytest.approx(2.0, rel=1e-9)
    # within a step the loss is taken as a straight line
    inside = one.square(np.array([[2.0, 2.0]]))[0]
    assert eddy_distance(90.0, 12.0, math.sqrt(inside[0]), 1500.0, 6.0) == pytest.approx(1.0, rel=0.01)
    assert one.square(np.array([[0.9, 1.0]]))[0] == pytest.approx([144.0, 72.25])
    assert one.square(np.array([[3.0, 3.7]]))[0] == pytest.approx(one.out_square)
    second = Eddy(800.0, 4.0, 0.5, start_m=3.1)
    two = course(braked([12.0], 90.0, parts=[EDDY, second]), 4.0, steps)
    between = math.sqrt(one.out_square[0])
    assert eddy_distance(90.0, between, math.sqrt(two.out_square[0]), 800.0, 4.0) == pytest.approx(0.5, rel=1e-9)


def test_eddy_brake_alone_brings_to_rest_without_end():
    """(m / 2 Fm) [v³ / (3 vc) + vc v]: the way is finite, the time is not."""
    long = replace(EDDY, start_m=0.0, length_m=8.0)
    found = course(braked([3.0, 9.0], 90.0, parts=[long]), 8.0, 80)
    reach = [eddy_distance(90.0, v, 0.0, 1500.0, 6.0) for v in (3.0, 9.0)]
    assert found.stopped.all()
    assert found.faded.all()
    assert found.end == pytest.approx(reach, abs=5e-4)
    assert _eddy_reach(np.array([3.0, 9.0]), 1500.0, 6.0, np.array([90.0, 90.0])) == pytest.approx(reach, rel=1e-12)
    behind = course(braked([9.0, 3.0], 90.0, parts=[replace(long, length_m=1.0), Friction(900.0, 1.0)]), 8.0, 80)
    assert behind.stopped.all()
    assert behind.faded.tolist() == [False, True]  # the other by friction behind the eddy brake


@pytest.mark.parametrize("slope", [0.01, 0.08, 0.4])
@pytest.mark.parametrize("speed", [0.05, 0.3, 0.9])
def test_slow_stop_within_one_step(slope, speed):
    """Far below vc the force is c m v: the way is [v - (a/c) ln(1 + c v / a)] / c. In the first of ten steps."""
    eddy = replace(EDDY, start_m=0.0, length_m=8.0)
    found = course(braked([speed], 90.0, slope=slope, parts=[eddy]), 8.0, 10)
    c, a = 2 * 1500.0 * 6.0 / (90 * (36.0 + speed**2)), G_MPS2 * slope
    assert found.end[0] == pytest.approx((speed - a / c * math.log1p(c * speed / a)) / c, rel=1e-6)
    assert found.stopped[0]

    def change(_, z):
        return [z[1], -2 * 1500 * z[1] * 6 / (z[1] ** 2 + 36) / 90 - a]

    def halt(_, z):
        return z[1]

    halt.terminal = True
    solved = solve_ivp(change, [0, 30], [0, speed], rtol=1e-10, atol=1e-12, events=halt)
    assert found.end[0] == pytest.approx(solved.y[0, -1], rel=0.03)


def test_two_eddy_brakes_share_a_slow_stop():
    """Their decelerations per speed add up."""
    pair = [replace(EDDY, start_m=0.0, length_m=8.0), Eddy(700.0, 9.0, 8.0)]
    found = course(braked([0.3], 90.0, slope=0.05, parts=pair), 8.0, 10)
    c = 2 * 1500.0 * 6.0 / (90 * (36.0 + 0.09)) + 2 * 700.0 * 9.0 / (90 * (81 + 0.09))
    a = G_MPS2 * 0.05
    assert found.end[0] == pytest.approx((0.3 - a / c * math.log1p(c * 0.3 / a)) / c, rel=1e-6)


def test_spring_that_sets_in_within_the_step_is_not_taken_as_steady():
    """An eddy brake over a spring: the stop by energy, near what a fine march gives."""
    parts = [Eddy(300.0, 6.0, 4.0), Spring(3000.0, 400.0, 3.0, start_m=0.3)]
    coarse, fine = (course(braked([2.0, 1.0], 90.0, parts=parts), 4.0, steps) for steps in (10, 2000))
    assert coarse.stopped.all()
    assert coarse.end == pytest.approx(fine.end, abs=0.02)


def test_speed_falls_to_nothing_at_the_stop():
    """In the step of the stop too what the speed costs is taken as a straight line, from the node to the stop."""
    for parts, drag in (([EDDY, replace(SPRING, start_m=3.2)], 0.0), ([SPRING], 0.01)):
        found = course(braked([8.0, 6.0, 5.0], 90.0, drag=drag, parts=parts), 5.0, 10)
        assert found.stopped.all()
        shares = np.array([1.0, 0.999, 0.99, 0.9, 0.5])[:, None]
        squares = found.square(shares * found.end)
        assert squares[0] == pytest.approx([0.0, 0.0, 0.0], abs=1e-9)
        assert (np.diff(squares, axis=0) > 0).all()
        assert (squares[1] < 0.3).all()


def test_riders_do_not_mix():
    """Each as if alone: stopped before, in and behind the eddy brake, at the spring, and not at all."""
    parts = [Friction(60.0, 0.2), EDDY, Cord(180.0, 150.0, 0.3, 0.8, start_m=3.2)]
    speeds = np.array([0.3, 1.0, 2.5, 6.0, 7.0, 30.0])
    together = course(braked(speeds, 90.0, 0.02, rolling=0.01, drag=0.005, head=1.0, parts=parts), 4.0, 20)
    for i, speed in enumerate(speeds):
        alone = course(braked([speed], 90.0, 0.02, rolling=0.01, drag=0.005, head=1.0, parts=parts), 4.0, 20)
        assert together.end[i] == pytest.approx(alone.end[0], rel=1e-12)
        assert together.stopped[i] == alone.stopped[0]
        assert together.out_square[i] == pytest.approx(alone.out_square[0], rel=1e-12)
        for at in (0.3, 0.7):
            places = np.full((1, 6), at) * together.end
            assert together.square(places)[0, i] == pytest.approx(alone.square(places[:, i : i + 1])[0, 0], rel=1e-9)
    assert together.stopped.tolist() == [True, True, True, True, True, False]
    assert together.out_square[-1] > 0


def test_energy_is_used_up_at_the_stop():
    """Without loss by speed: v² = 2 energy(end); within a step too, and where the bound spring is stiff."""
    parts = [FRICTION, replace(SPRING, bind_m=0.5, bind_rate_n_per_m=1e6)]
    one = braked([1.0, 2.0, 4.0, 8.0, 12.0], slope=-0.02, growth=0.01, parts=parts)
    found = course(one, 4.0, 10)
    assert found.stopped.all()
    assert 2 * one.energy(found.end) == pytest.approx(one.speed**2, rel=1e-9)
    assert found.square(found.end[None, :])[0] == pytest.approx([0.0] * 5, abs=1e-7)


def test_places_of_the_march():
    """Steps of one length, and where an eddy brake begins and ends; none twice."""
    assert _nodes(braked(1.0), 2.0, 4).tolist() == [0.0, 0.5, 1.0, 1.5, 2.0]
    assert _nodes(braked(1.0, parts=[Eddy(1500.0, 6.0, 0.5, 0.75)]), 2.0, 4).tolist() == [
        0.0,
        0.5,
        0.75,
        1.0,
        1.25,
        1.5,
        2.0,
    ]
    near = Eddy(1500.0, 6.0, 1.0, 0.5 + 1e-14)
    assert _nodes(braked(1.0, parts=[near]), 2.0, 4) == pytest.approx([0.0, 0.5, 1.0, 1.5, 2.0])
    assert len(_nodes(braked(1.0, parts=[Eddy(1500.0, 6.0, 1.0, 0.5 + 1e-9)]), 2.0, 4)) == 7
