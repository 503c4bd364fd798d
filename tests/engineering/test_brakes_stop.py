"""Stops in the brake zone: cases computed before with scipy's solver (COMPUTED), closed forms, the solver itself."""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from engineering.brakes import Cord, Eddy, Friction, Spring
from engineering.brakes_forms import eddy_creep, eddy_distance, spring_stroke_to_bind
from engineering.brakes_stop import STATE_SENTENCES, STATES, Stop, Zone, stop
from engineering.line import G_MPS2, Air, Rider, Wind, air_density
from tests.engineering.mechanics_cases import only

CALM, MILD = Wind(0.0), Air(15.0)
PACK = Spring(1200.0, 200.0, 3.0)


def stopped(parts, zone, mass, speed, area=0.0, rolling=0.01, wind=CALM, **more):
    found = stop(parts, zone, Rider(mass, area, rolling), speed, wind, MILD, **more)
    assert isinstance(found, Stop), found
    return found


def checked(found, expect, tolerance):
    assert found.names() == ["stopped"]
    assert float(found.stroke_m) == pytest.approx(expect["stroke"], abs=tolerance["stroke"])
    if "peak_g" in expect:
        assert float(found.peak_g) == pytest.approx(expect["peak_g"], abs=tolerance["peak_g"])


def test_spring_uphill():
    i, expect, tolerance = only("G1")
    found = stopped([Spring(i["k"], i["F0"], 3.0)], Zone(4.0, i["slope"]), i["m"], i["v"])
    checked(found, expect, tolerance)
    assert float(found.left_m) == pytest.approx(3.0 - expect["stroke"], abs=2e-3)
    assert float(found.used) == pytest.approx(expect["stroke"] / 3.0, abs=1e-3)


def test_spring_into_bind():
    """From 3.2 g to 24 g: the pack is 0.38 m too short (COMPUTED)."""
    i, expect, tolerance = only("G2")
    pack = Spring(i["k"], i["F0"], i["sb"], bind_rate_n_per_m=i["kb"])
    found = stopped([pack], Zone(4.0, i["slope"]), i["m"], i["v"])
    checked(found, expect, tolerance)
    assert float(found.left_m) == pytest.approx(i["sb"] - expect["stroke"], abs=2e-3)
    assert found.used > 1


def test_hand_brake_after_the_reaction_time():
    i, expect, tolerance = only("G4")
    for brake in (Friction(i["F"], 0.0, i["start"] / i["v"]), Friction(i["F"], i["start"])):
        found = stopped([brake], Zone(20.0, i["slope"]), i["m"], i["v"])
        checked(found, expect, tolerance)
        assert np.isnan(found.left_m)
        assert np.isnan(found.used)


def test_elastic_cord():
    i, expect, tolerance = only("G5")
    found = stopped([Cord(i["k"], i["A"], i["xc"], 8.0)], Zone(10.0, 0.0), i["m"], i["v"])
    checked(found, expect, tolerance)
    assert float(found.left_m) == pytest.approx(8.0 - expect["stroke"], abs=3e-3)


def test_run_out():
    i, expect, tolerance = only("G6")
    found = stopped([], Zone(40.0, i["slope"]), i["m"], i["v"])
    checked(found, expect, tolerance)
    assert float(found.mean_g) == pytest.approx(i["slope"] + i["mu"])
    assert float(found.peak_g) == pytest.approx(i["slope"] + i["mu"])
    assert float(found.time_s) == pytest.approx(i["v"] / (G_MPS2 * 0.13))


def test_emergency_spring_alone():
    i, expect, tolerance = only("G7")
    spring = Spring(i["k"], i["F0"], 4.0, start_m=i["gap"])
    checked(stopped([spring], Zone(8.0, 0.0), i["m"], i["v"]), expect, tolerance)


def test_strokes_by_the_closed_form():
    """Linear spring, any speed: the closed form to a tenth of a millimetre, in bind too."""
    speeds = np.linspace(0.0, 11.0, 34)
    pull = -80 * G_MPS2 * 0.04
    found = stopped([replace(PACK, bind_m=1.5, bind_rate_n_per_m=2e5)], Zone(4.0, 0.03), 80.0, speeds)
    wanted = [spring_stroke_to_bind(80.0, v, 1200.0, 1.5, 2e5, 200.0, pull) for v in speeds]
    np.testing.assert_allclose(found.stroke_m, wanted, atol=1e-9)
    at_end = 200 + 1200 * np.minimum(wanted, 1.5) + 2e5 * np.maximum(np.array(wanted) - 1.5, 0)
    np.testing.assert_allclose(found.peak_g[1:], (at_end / 80 / G_MPS2 + 0.04)[1:], rtol=1e-9)
    np.testing.assert_allclose(found.mean_g[1:], (speeds**2)[1:] / (2 * G_MPS2 * np.array(wanted)[1:]), rtol=1e-9)
    np.testing.assert_allclose(found.left_m, 1.5 - np.array(wanted), atol=1e-9)
    assert found.step_g[1:] == pytest.approx(200 / 80 / G_MPS2)


def test_a_spring_is_half_a_swing():
    """No preload, level: a quarter of the period, pi/2 sqrt(m/k); onset k v / m at the contact (textbook)."""
    found = stopped([Spring(1200.0, 0.0, 5.0)], Zone(6.0, 0.0), 80.0, 8.0, rolling=0.0)
    assert float(found.time_s) == pytest.approx(math.pi / 2 * math.sqrt(80 / 1200), rel=1e-3)
    assert float(found.onset_g_per_s) == pytest.approx(1200 * 8 / 80 / G_MPS2)
    assert float(found.peak_g) == pytest.approx(2 * float(found.mean_g))
    assert float(found.step_g) == 0
    # above half of the peak for 2/3 of the quarter period: sin(30°) = 1/2
    half = stopped([Spring(1200.0, 0.0, 5.0)], Zone(6.0, 0.0), 80.0, 8.0, rolling=0.0, over_g=float(found.peak_g) / 2)
    assert float(half.over_s) == pytest.approx(float(found.time_s) * 2 / 3, rel=2e-3)
    never = stopped([Spring(1200.0, 0.0, 5.0)], Zone(6.0, 0.0), 80.0, 8.0, over_g=10.0)
    assert float(never.over_s) == 0


def test_mean_counts_from_where_the_brake_grips():
    near, far = (stopped([replace(PACK, start_m=at)], Zone(9.0, 0.0), 80.0, 8.0, rolling=0.0) for at in (0.0, 5.0))
    assert float(far.mean_g) == pytest.approx(float(near.mean_g))
    assert float(far.stroke_m) == pytest.approx(5 + float(near.stroke_m))
    assert float(far.time_s) == pytest.approx(5 / 8 + float(near.time_s), rel=1e-3)


def test_eddy_brake_alone_comes_to_rest_but_never_in_time():
    found = stopped([Eddy(1500.0, 6.0, 6.0)], Zone(20.0, 0.0), 90.0, 12.0, rolling=0.0)
    assert float(found.stroke_m) == pytest.approx(eddy_distance(90.0, 12.0, 0.0, 1500.0, 6.0), abs=1e-4)
    assert float(found.peak_g) == pytest.approx(1500 / 90 / G_MPS2, rel=1e-3)
    assert float(found.step_g) == pytest.approx(2 * 1500 / 2.5 / 90 / G_MPS2)
    assert np.isnan(found.time_s)
    slow = stopped([Eddy(1500.0, 6.0, 6.0)], Zone(20.0, 0.0), 90.0, 3.0, rolling=0.0)
    assert float(slow.peak_g) == pytest.approx(2 * 1500 / 2.5 / 90 / G_MPS2)


def test_eddy_brake_too_short():
    """What it leaves over a known way, by the closed form."""
    found = stopped([Eddy(1500.0, 6.0, 3.0, start_m=1.0)], Zone(4.0, 0.0), 90.0, 12.0, rolling=0.0)
    assert found.names() == ["passed"]
    assert eddy_distance(90.0, 12.0, float(found.out_mps), 1500.0, 6.0) == pytest.approx(3.0, abs=1e-9)


def test_eddy_brake_down_a_slope_creeps():
    """At the speed of the closed form; with the steps one gets unasked a little faster, never slower."""
    creep = eddy_creep(90 * G_MPS2 * 0.05, 1500.0, 6.0)
    coarse, fine = (
        stopped([Eddy(1500.0, 6.0, 8.0)], Zone(8.0, -0.05), 90.0, 12.0, rolling=0.0, steps=n) for n in (None, 8000)
    )
    assert coarse.names() == fine.names() == ["passed"]
    assert float(fine.out_mps) == pytest.approx(creep, rel=0.01)
    assert creep < float(coarse.out_mps) < creep + 0.1


def test_eddy_brake_with_gap_and_warmth():
    """1 mm at 60 mm pole pitch: -10 %; magnets twice 0.12 % per kelvin; +60 K: vc 6.0 to 7.4 (COMPUTED / MEMORY)."""
    assert Eddy(1500.0, 6.0, 8.0, gap_more_m=0.001).figures()[0] == pytest.approx(1350, abs=2)
    assert Eddy(1500.0, 6.0, 8.0, gap_more_m=0.002, pole_pitch_m=0.12).figures()[0] == pytest.approx(1350, abs=2)
    assert Eddy(1500.0, 6.0, 8.0, magnet_warmer_k=10.0).figures()[0] == pytest.approx(1500 * 0.988**2)
    force, critical = Eddy(1500.0, 6.0, 8.0, conductor_warmer_k=60.0).figures()
    assert (force, critical) == (1500.0, pytest.approx(7.4, abs=0.01))


def by_solver(parts, slope, growth, mass, speed, area, rolling, head, cross):
    """Integrate in time with scipy: stroke, greatest deceleration, duration."""
    density = air_density(15.0)

    def slowing(s, v):
        force = 0.0
        for part in parts:
            if isinstance(part, Eddy):
                if part.start_m <= s <= part.ends_m():
                    force += 2 * part.force_n / (v / part.speed_mps + part.speed_mps / max(v, 1e-12))
            elif isinstance(part, Spring):
                z = s - part.start_m
                if z >= 0:
                    stiff = 100 * part.rate_n_per_m
                    force += part.preload_n + part.rate_n_per_m * min(z, part.bind_m) + stiff * max(z - part.bind_m, 0)
            elif isinstance(part, Cord):
                z = max(s - part.start_m, 0.0)
                force += part.first_force_n * (1 - math.exp(-z / part.first_length_m)) + part.rate_n_per_m * z
            elif s >= part.start_m + part.reaction_s * speed:
                force += part.force_n
        air = density * area / 2 / mass * math.hypot(v + head, cross) * (v + head)
        return force / mass + G_MPS2 * (slope + growth * s + rolling) + air

    def halt(_, z):
        return z[1] - 1e-5

    halt.terminal = True
    solved = solve_ivp(
        lambda _, z: [z[1], -slowing(z[0], z[1])],
        [0, 60],
        [0.0, speed],
        rtol=1e-9,
        atol=1e-11,
        events=halt,
        max_step=5e-3,
    )
    peak = max(slowing(s, max(v, 0.0)) for s, v in solved.y.T)
    return solved.y[0, -1], peak / G_MPS2, solved.t[-1]


SERIES = [
    ([Eddy(1500.0, 6.0, 3.0), Spring(1200.0, 200.0, 3.0, start_m=3.0)], 0.03, 0.0, 80.0, 11.0, 0.5, 0.0, 0.0),
    (
        [Eddy(900.0, 4.0, 5.0, start_m=1.0), Spring(2500.0, 300.0, 3.0, start_m=4.0)],
        -0.02,
        0.001,
        110.0,
        9.0,
        0.5,
        -4.0,
        3.0,
    ),
    ([Friction(300.0, 1.0), Cord(180.0, 150.0, 0.3, 8.0, start_m=2.0)], 0.0, 0.0, 70.0, 7.0, 0.4, 3.0, 0.0),
    ([Spring(1200.0, 200.0, 1.0), Spring(4000.0, 500.0, 2.0, start_m=1.0)], 0.05, 0.0, 120.0, 8.0, 0.6, 0.0, -5.0),
    ([Friction(200.0, 0.0, 1.25)], 0.04, 0.001, 75.0, 6.0, 0.5, 2.0, 0.0),
    ([], 0.05, 0.001, 60.0, 8.0, 0.5, -2.0, 0.0),
    ([Eddy(800.0, 5.0, 20.0)], 0.03, 0.0, 60.0, 10.0, 0.5, 2.0, 1.0),
]


@pytest.mark.parametrize(("parts", "slope", "growth", "mass", "speed", "area", "head", "cross"), SERIES)
def test_series_of_brakes_against_the_solver(parts, slope, growth, mass, speed, area, head, cross):
    found = stopped(parts, Zone(60.0, slope, growth), mass, speed, area, 0.01, Wind(head, cross), steps=4000)
    stroke, peak, duration = by_solver(parts, slope, growth, mass, speed, area, 0.01, head, cross)
    assert float(found.stroke_m) == pytest.approx(stroke, abs=2.5e-3)
    assert float(found.peak_g) == pytest.approx(peak, abs=0.01)
    if not isinstance(parts[-1] if parts else None, Eddy):
        assert float(found.time_s) == pytest.approx(duration, rel=0.01)


def test_few_steps_are_enough():
    """A zone as it is built, with the steps one gets unasked: 2 mm, and 4 mm where an eddy brake alone ends it."""
    for case, apart in ((0, 2e-3), (1, 2e-3), (2, 2e-3), (3, 2e-3), (4, 2e-3), (6, 4e-3)):
        parts, slope, growth, mass, speed, area, head, cross = SERIES[case]
        zone = Zone(20.0 if case == 6 else 12.0, slope, growth)
        few, many = (stopped(parts, zone, mass, speed, area, 0.01, Wind(head, cross), steps=n) for n in (None, 4000))
        assert few.names() == many.names()
        assert float(few.stroke_m) == pytest.approx(float(many.stroke_m), abs=apart, nan_ok=True)


def test_speed_between_the_steps():
    """Air alone before the brake grips: v = v0 exp(-K s), K = rho CdA / 2m (closed form), wherever the grip is."""
    k = air_density(15.0) * 1.0 / (2 * 40.0)
    for start in (0.52, 3.01, 7.777):
        found = stopped([replace(PACK, start_m=start)], Zone(12.0, 0.0), 40.0, 8.0, 1.0, 0.0)
        gripped = 64 * math.exp(-2 * k * start)
        way = float(found.stroke_m) - start
        assert float(found.mean_g) == pytest.approx(gripped / (2 * G_MPS2 * way), rel=1e-5)
    free = stopped([], Zone(100.0, 0.05), 40.0, 8.0, 1.0, 0.0)
    # with a slope: u = (u0 + g s/K) exp(-2 K s) - g s/K, so that 2 K s = ln(1 + K u0 / (g slope))
    assert float(free.stroke_m) == pytest.approx(math.log1p(k * 64 / (G_MPS2 * 0.05)) / (2 * k), abs=2e-3)


def test_peak_where_an_eddy_brake_ends():
    """Beyond vc its force grows while the rider slows: greatest at its end, then a weak friction brake."""
    parts = [Eddy(900.0, 2.0, 3.0), Friction(20.0, 3.0)]
    found = stopped(parts, Zone(60.0, 0.08), 120.0, 9.0, rolling=0.0)
    at_end = stopped([parts[0]], Zone(3.0, 0.08), 120.0, 9.0, rolling=0.0)
    v = float(at_end.out_mps)
    assert v > 2
    assert float(found.peak_g) == pytest.approx(
        (2 * 900 * v * 2 / (v**2 + 4) / 120 + 20 / 120) / G_MPS2 + 0.08, rel=1e-4
    )
    entry = 2 * 900 * 9 * 2 / 85 / 120 / G_MPS2
    assert float(found.step_g) == pytest.approx(entry)
    later = stopped([replace(parts[0], start_m=1.0), Friction(200.0, 4.0)], Zone(60.0, 0.0), 120.0, 9.0, rolling=0.0)
    assert float(later.step_g) == pytest.approx(entry)
    # onset by speed: dF/dv dv/dt at the end, where it is steepest
    a = 2 * 900 * v * 2 / (v**2 + 4) / 120
    slope = 2 * 900 * 2 * (4 - v**2) / (v**2 + 4) ** 2
    assert float(found.onset_g_per_s) >= -slope * a / 120 / G_MPS2 * 0.99


def test_thrown_back():
    """Energy balance: what the spring gives back and the slope gives, less rolling, is m v²/2 at the beginning."""
    found = stopped([PACK], Zone(4.0, 0.03), 80.0, 8.0)
    s = float(found.stroke_m)
    square = 2 * 0.9 * (200 * s + 600 * s**2) / 80 + 2 * G_MPS2 * 0.02 * s
    assert float(found.back_mps) == pytest.approx(math.sqrt(square))
    assert found.rolls_away
    assert np.isnan(found.back_m)
    level = stopped([PACK], Zone(4.0, 0.0), 80.0, 8.0)
    assert float(level.back_m) == pytest.approx(float(level.back_mps) ** 2 / (2 * G_MPS2 * 0.01))
    assert not level.rolls_away
    behind = stopped([PACK], Zone(4.0, -0.04), 80.0, 8.0)  # falling towards the landing: uphill behind the rider
    assert float(behind.back_m) == pytest.approx(float(behind.back_mps) ** 2 / (2 * G_MPS2 * 0.05))
    just = stopped([PACK], Zone(4.0, 0.01), 80.0, 8.0)
    assert just.rolls_away
    run_out = stopped([], Zone(60.0, 0.05, 0.001), 80.0, 6.0)
    s = float(run_out.stroke_m)
    assert float(run_out.back_mps) == pytest.approx(math.sqrt(2 * G_MPS2 * (0.04 + 0.001 * s / 2) * s))


def test_a_catch_holds():
    held = stopped([replace(PACK, caught=True)], Zone(4.0, 0.03), 80.0, 8.0)
    assert float(held.back_mps) == 0
    assert float(held.back_m) == 0
    assert not held.rolls_away
    before = stopped([replace(PACK, caught=True, start_m=0.9)], Zone(4.0, 0.3), 80.0, 2.0)  # stops before the catch
    assert float(before.stroke_m) < 0.9
    assert before.back_mps > 0


def test_who_passes_carries_no_figure_of_a_stop():
    found = stopped([Spring(100.0, 0.0, 2.0, start_m=0.0)], Zone(2.0, 0.0), 100.0, np.array([2.0, 10.0]), rolling=0.0)
    assert found.names() == ["stopped", "passed"]
    for name in ("stroke_m", "left_m", "used", "peak_g", "mean_g", "over_s", "step_g", "onset_g_per_s", "time_s"):
        assert np.isnan(getattr(found, name)[1]), name
        assert not np.isnan(getattr(found, name)[0]), name
    assert np.isnan(found.out_mps[0])
    assert found.out_mps[1] == pytest.approx(math.sqrt(100 - 100 * 4 / 100))


def test_together_or_one_by_one_is_the_same():
    rng = np.random.default_rng(3)
    mass, speed, slope = rng.uniform(30, 140, 2100), rng.uniform(0, 10, 2100), rng.uniform(-0.05, 0.1, 2100)
    parts = SERIES[0][0]
    together = stopped(parts, Zone(8.0, slope), mass, speed, 0.5)
    for i in (0, 2047, 2048, 2099):
        alone = stopped(parts, Zone(8.0, slope[i]), mass[i], speed[i], 0.5)
        assert alone.state == together.state[i]
        np.testing.assert_allclose(alone.stroke_m, together.stroke_m[i], rtol=1e-12)
        np.testing.assert_allclose(alone.peak_g, together.peak_g[i], rtol=1e-12)


def test_bad_elements_are_named_and_carry_no_figure():
    nan = float("nan")
    mass = np.array([80.0, nan, 24.9, 150.1, 80.0, 80.0])
    speed = np.array([8.0, 8.0, 8.0, 8.0, nan, 40.1])
    found = stopped([PACK], Zone(4.0, 0.03), mass, speed)
    assert found.names() == ["stopped", "unknown", "outside", "outside", "unknown", "outside"]
    for name in ("stroke_m", "left_m", "used", "peak_g", "mean_g", "back_mps", "out_mps"):
        assert np.isnan(getattr(found, name)[1:]).all()
    assert not found.rolls_away[1:].any()
    assert stopped([PACK], Zone(4.0, 0.03), np.array([]), 8.0).state.shape == (0,)


def test_states_have_sentences():
    assert set(STATE_SENTENCES) == set(STATES)
    assert all(one.endswith(".") for one in STATE_SENTENCES.values())


def test_too_few_steps_is_the_programmers_error():
    with pytest.raises(ValueError, match="ten"):
        stopped([PACK], Zone(4.0, 0.03), 80.0, 8.0, steps=9)
    stopped([PACK], Zone(4.0, 0.03), 80.0, 8.0, steps=10)
