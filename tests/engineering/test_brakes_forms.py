"""Brakes in closed form: printed cases (READ as the case says), scipy's solver, and the energy balance."""

import doctest
import math
from importlib import import_module

import pytest
from scipy.integrate import solve_ivp

from engineering.brakes_forms import (
    eddy_creep,
    eddy_distance,
    eddy_force,
    eddy_time,
    helical_free_length,
    helical_rate,
    in_g,
    in_line,
    pad_wear,
    rope_hold,
    rope_load,
    run_out,
    speed_thrown_back,
    spring_for_peak,
    spring_stroke,
    spring_stroke_to_bind,
    stroke_for_mean,
)
from engineering.line import G_MPS2
from engineering.refusal import Refusal
from tests.engineering.mechanics_cases import only

NAN, INF = float("nan"), float("inf")


@pytest.mark.parametrize("name", ["brakes", "brakes_forms", "brakes_stop", "brakes_worn"])
def test_examples(name):
    found = doctest.testmod(import_module(f"engineering.{name}"))
    assert found.attempted
    assert not found.failed


def test_cart_into_a_spring_bumper():
    """University Physics, 14th ed., 7.68, worked at gradesaver.com: READ (case B1)."""
    inputs, expect, tolerance = only("B1")
    peak = inputs["a_max_g"] * inputs["g"]

    stroke, rate = spring_for_peak(inputs["m"], inputs["v"], peak)

    assert stroke == pytest.approx(expect["x"], abs=tolerance["x"])
    assert inputs["m"] * peak / expect["x"] == pytest.approx(expect["k"], abs=tolerance["k"])
    # the page computes with the rounded stroke
    assert rate == pytest.approx(expect["k"], rel=tolerance["x"] / expect["x"] + 1e-3)
    assert spring_stroke(inputs["m"], inputs["v"], rate) == pytest.approx(stroke)
    assert rate * stroke / inputs["m"] == pytest.approx(peak)


def test_railroad_car_into_a_bumper():
    """study.com: inputs READ, answer computed (case B2)."""
    inputs, expect, tolerance = only("B2")
    assert spring_stroke(inputs["m"], inputs["v"], inputs["k"]) == pytest.approx(expect["x"], abs=tolerance)


def test_helical_spring():
    """Textbook companion FOSSEE/Scilab-TBC-Uploads 764/CH10/EX10.7: READ (case B3)."""
    inputs, expect, tolerance = only("B3")
    rate = helical_rate(inputs["G"], inputs["d"], inputs["D"], inputs["n"])
    gaps = (inputs["Nt"] - 1) * inputs["gap"]
    free = helical_free_length(inputs["P"], rate, inputs["d"], inputs["Nt"], gaps)

    assert rate == pytest.approx(expect["k_N_mm"], abs=tolerance)
    assert free == pytest.approx(expect["free_length_mm"], abs=tolerance)


def test_a_second_helical_spring():
    """The companion's example 10.1, d 7, D 42, n 8, Nt 10, 1250 N: free length 109.337611 mm, READ in the dossier."""
    rate = helical_rate(81_370, 7, 42, 8)
    assert helical_free_length(1250, rate, 7, 10, 9) == pytest.approx(109.337611, abs=1e-5)


def test_lift_buffer_rule():
    """California Code of Regulations, Title 8, 3108(a)(3), S = V²/19320: READ (case B5)."""
    inputs, expect, tolerance = only("B5")
    metres = stroke_for_mean(inputs["V_fpm"] * 0.3048 / 60)
    assert metres / 0.0254 == pytest.approx(expect["S_in"], abs=tolerance)
    assert stroke_for_mean(10.0, 2.0) == pytest.approx(stroke_for_mean(10.0) / 2)


def test_rope_round_a_post():
    """Exercise 27, pickedshares.com: READ (case B6)."""
    inputs, expect, tolerance = only("B6")
    angle = math.radians(inputs["angle_deg"])
    hold = rope_hold(inputs["m"] * inputs["g"], inputs["mu"], angle)
    assert hold == pytest.approx(expect["F"], abs=tolerance)
    assert rope_load(hold, inputs["mu"], angle) == pytest.approx(inputs["m"] * inputs["g"])


def test_fall_arrest_force_in_g():
    """Washington Administrative Code 296-880-40020(3): limit READ (case B7)."""
    inputs, expect, tolerance = only("B7")
    assert in_g(inputs["F"], inputs["m"]) == pytest.approx(expect["g"], abs=tolerance)


def test_spring_in_the_dossiers_cases():
    """G1, G2, G7: COMPUTED with scipy's solver before this code."""
    for case in ("G1", "G2", "G7"):
        i, expect, tolerance = only(case)
        pull = -i["m"] * G_MPS2 * (i.get("slope", 0.0) + i["mu"])
        start = i.get("gap", 0.0)
        speed = math.sqrt(i["v"] ** 2 + 2 * pull * start / i["m"])
        if "sb" in i:
            stroke = spring_stroke_to_bind(i["m"], speed, i["k"], i["sb"], i["kb"], i["F0"], pull)
        else:
            stroke = spring_stroke(i["m"], speed, i["k"], i["F0"], pull)
        assert start + stroke == pytest.approx(expect["stroke"], abs=tolerance["stroke"])
    i, expect, tolerance = only("G6")
    assert run_out(i["v"], i["slope"], i["mu"]) == pytest.approx(expect["stroke"], abs=tolerance["stroke"])


@pytest.mark.parametrize("preload", [0.0, 300.0])
@pytest.mark.parametrize("pull", [-500.0, 0.0, 300.0, 800.0])
@pytest.mark.parametrize("speed", [0.0, 0.01, 7.0])
def test_spring_takes_up_the_energy(preload, pull, speed):
    """Energy balance, textbook: F0 s + k s²/2 = m v²/2 + Fg s, with the spring at its furthest."""
    s = spring_stroke(80.0, speed, 1500.0, preload, pull)
    assert preload * s + 1500 * s**2 / 2 == pytest.approx(80 * speed**2 / 2 + pull * s, rel=1e-12, abs=1e-12)
    assert s >= 0
    if speed == 0.0:
        assert s == pytest.approx(max(0.0, 2 * (pull - preload) / 1500))


def test_bind_takes_up_what_the_travel_did_not():
    def taken(s, bind=1.5):
        return 200 * s + 1200 * min(s, bind) ** 2 / 2 + (1200 * bind + 2e5 * (s - bind) / 2) * max(s - bind, 0)

    for pull in (-200.0, 0.0, 150.0):
        s = spring_stroke_to_bind(80.0, 8.0, 1200.0, 1.5, 2e5, 200.0, pull)
        assert s > 1.5
        assert taken(s) == pytest.approx(80 * 64 / 2 + pull * s)
    free = spring_stroke(80.0, 8.0, 1200.0, 200.0)
    assert spring_stroke_to_bind(80.0, 8.0, 1200.0, free + 1e-9, 2e5, 200.0) == free
    assert spring_stroke_to_bind(80.0, 8.0, 1200.0, free - 1e-3, 2e5, 200.0) < free


def test_springs_in_line():
    """1/k = sum 1/k_i, textbook; each carries the same force, so the pack binds with the one that binds first."""
    rate, travel = in_line((1000.0, 1.0), (3000.0, 0.2), (6000.0, 5.0))
    assert rate == pytest.approx(1 / (1 / 1000 + 1 / 3000 + 1 / 6000))
    assert travel == pytest.approx(600 / rate)
    assert in_line((1000.0, 0.4)) == (1000.0, 0.4)
    assert in_line().code == "figure-missing"
    assert in_line((1000.0, 0.4), (0.0, 1.0)).code == "figure-impossible"


@pytest.mark.parametrize(("first", "last"), [(12.0, 1.0), (6.0, 0.5), (20.0, 2.0)])
def test_eddy_brake_against_the_solver(first, last):
    mass, force, critical = 90.0, 1500.0, 6.0

    def change(_, z):
        return [z[1], -2 * force * z[1] * critical / (z[1] ** 2 + critical**2) / mass]

    def slow(_, z):
        return z[1] - last

    slow.terminal = True
    solved = solve_ivp(change, [0, 100], [0, first], rtol=1e-11, atol=1e-12, events=slow)

    assert eddy_distance(mass, first, last, force, critical) == pytest.approx(solved.y[0, -1], abs=1e-7)
    assert eddy_time(mass, first, last, force, critical) == pytest.approx(solved.t[-1], abs=1e-7)


def test_eddy_brake_never_holds():
    """No force at rest: READ (redcrab-software.com). On a slope it creeps where force and pull are equal."""
    pull = 90 * G_MPS2 * 0.05
    creep = eddy_creep(pull, 1500.0, 6.0)
    assert 0 < creep < 6
    assert eddy_force(creep, 1500.0, 6.0) == pytest.approx(pull)
    assert eddy_creep(1500.0, 1500.0, 6.0) == pytest.approx(6.0)
    assert eddy_creep(1500.1, 1500.0, 6.0).code == "no-solution"
    assert eddy_force(0.0, 1500.0, 6.0) == 0
    assert eddy_force(6.0, 1500.0, 6.0) == pytest.approx(1500)
    assert eddy_force(12.0, 1500.0, 6.0) == pytest.approx(eddy_force(3.0, 1500.0, 6.0))  # falls beyond vc as it rose
    assert eddy_time(90.0, 6.0, 0.0, 1500.0, 6.0).code == "figure-impossible"
    assert eddy_distance(90.0, 3.0, 3.0, 1500.0, 6.0) == 0


def test_thrown_back_and_worn():
    assert speed_thrown_back(8.0, 0.0) == 0
    assert speed_thrown_back(8.0, 1.0) == 8
    assert pad_wear(1000.0, 0.4, 1e-14, 0.001) == pytest.approx(1e-14 * 1000 / 0.4 / 0.001)


@pytest.mark.parametrize(
    ("found", "code"),
    [
        (spring_stroke(0.0, 8.0, 1200.0), "figure-impossible"),
        (spring_stroke(80.0, -1.0, 1200.0), "figure-impossible"),
        (spring_stroke(80.0, 8.0, 0.0), "figure-impossible"),
        (spring_stroke(80.0, 8.0, 1200.0, -1.0), "figure-impossible"),
        (spring_stroke(80.0, NAN, 1200.0), "figure-missing"),
        (spring_stroke(80.0, 8.0, 1200.0, 0.0, INF), "figure-impossible"),
        (spring_stroke_to_bind(80.0, 8.0, 1200.0, 0.0, 2e5), "figure-impossible"),
        (spring_stroke_to_bind(80.0, 8.0, NAN, 1.0, 2e5), "figure-missing"),
        (spring_for_peak(80.0, 8.0, 0.0), "figure-impossible"),
        (helical_rate(81_370, 5, 40, 0), "figure-impossible"),
        (helical_free_length(-1.0, 20, 5, 7, 6), "figure-impossible"),
        (eddy_force(1.0, 0.0, 6.0), "figure-impossible"),
        (eddy_distance(90.0, 3.0, 3.1, 1500.0, 6.0), "figure-impossible"),
        (eddy_creep(0.0, 1500.0, 6.0), "figure-impossible"),
        (rope_load(-1.0, 0.2, 1.0), "figure-impossible"),
        (rope_hold(1.0, -0.2, 1.0), "figure-impossible"),
        (stroke_for_mean(5.0, 0.0), "figure-impossible"),
        (run_out(9.0, -0.01, 0.01), "no-solution"),
        (run_out(9.0, NAN, 0.01), "figure-missing"),
        (run_out(-9.0, 0.1, 0.01), "figure-impossible"),
        (in_g(8000.0, 0.0), "figure-impossible"),
        (speed_thrown_back(8.0, 1.01), "figure-impossible"),
        (pad_wear(1.0, 0.0, 1e-14, 0.001), "figure-impossible"),
    ],
)
def test_impossible_figures_are_refused(found, code):
    assert isinstance(found, Refusal)
    assert found.code == code
    assert found.sentence.endswith(".")
