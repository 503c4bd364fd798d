"""Cables in general against printed cases (source and how it was seen stand in the case file), MoorPy and integrals."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from engineering import parabola
from engineering.catenary import catenary_of_length, catenary_of_mean_tension, catenary_of_tension
from engineering.elastic_catenary import hanging, unstretched_length
from engineering.point_loads import cable_under_loads, moment
from engineering.refusal import Refusal
from engineering.tension_cubic import positive_root
from tests.engineering.mechanics_cases import cases, only

G = 9.80665


def test_level_span_of_known_length():
    inputs, expect, tolerance = only("C1")

    found = catenary_of_length(inputs["L"], inputs["S"])

    assert found.parameter == pytest.approx(expect["c"], abs=tolerance["c"])
    assert found.sag == pytest.approx(expect["sag"], abs=tolerance["sag"])


@pytest.mark.parametrize(("name", "inputs", "expect", "tolerance"), cases("C3"))
def test_sag_table_of_a_conductor(name, inputs, expect, tolerance):
    found = catenary_of_mean_tension(inputs["span_ft"], inputs["w_lb_ft"], inputs["T_lb"])

    assert found.sag == pytest.approx(expect["sag_ft"], abs=tolerance)


@pytest.mark.parametrize(
    ("weight", "tension", "sag"),
    [(2.509, 9054, 34.86), (1.094, 4399, 31.25), (1.094, 3990, 34.49), (1.094, 3638, 37.87)],
)
def test_other_rows_of_that_table(weight, tension, sag):
    """Aluminum Company of America, sag and tension data, Drake, 1000 ft (READ; meaning of tension inferred)."""
    assert catenary_of_mean_tension(1000.0, weight, tension).sag == pytest.approx(sag, abs=0.015)


def test_taut_span_without_a_lowest_point():
    """Span 20, one support 5 higher, 20.7 long: c = 61.9388 (READ, forum thread on cables without a low point)."""
    found = catenary_of_length(20.0, 20.7, 5.0)
    assert found.parameter == pytest.approx(61.9388, abs=0.03)
    assert found.lowest_x > 20


def test_stiff_elastic_catenary_against_stored_values_of_moorpy():
    """NREL/MoorPy tests/test_catenary.py @9191d188: 400 × 200 m, 500 m long, 200 N/m, all but rigid (READ)."""
    found = hanging(400.0, 200.0, 500.0, 200.0, 7.51e12)
    assert found.tension_n == pytest.approx(43694.580989, abs=0.05)
    assert found.vertical_first_n == pytest.approx(77634.400650, abs=0.01)
    assert found.vertical_last_n == pytest.approx(-22365.599350, abs=0.01)


def test_lowest_point_outside_the_span():
    inputs, expect, tolerance = only("C6")

    found = parabola.lowest_point(inputs["w"], inputs["L"], inputs["T"], inputs["h"])

    middle = found.above_lower(inputs["L"] / 2)
    assert found.from_lower == pytest.approx(expect["x_low"], abs=tolerance)
    assert middle == pytest.approx(expect["mid_above_lower"], abs=tolerance)
    assert middle + 30 == pytest.approx(expect["clearance"], abs=tolerance)  # the lower support stands 30 m up
    assert found.below_lower == pytest.approx(250**2 / 4000)
    assert found.below_upper == pytest.approx(550**2 / 4000)
    assert parabola.lowest_point(inputs["w"], inputs["L"], inputs["T"], -inputs["h"]) == found


def test_change_of_state():
    inputs, expect, tolerance = only("C8")
    in_wind = math.hypot(inputs["w"], inputs["wind"])

    found = parabola.change_of_state(
        inputs["T1"],
        in_wind,
        inputs["w"],
        inputs["L"],
        inputs["E"] * inputs["A"],
        inputs["alpha"],
        inputs["dT"],
    )

    assert found / inputs["A"] == pytest.approx(expect["stress2"], abs=tolerance["stress2"])
    assert parabola.sag_of_tension(inputs["w"], inputs["L"], found) == pytest.approx(
        expect["sag"], abs=tolerance["sag"]
    )


def test_elastic_catenary_against_stored_values_of_moorpy():
    inputs, expect, tolerance = only("C9")

    found = hanging(inputs["x"], inputs["z"], inputs["L0"], inputs["w"], inputs["EA"])

    assert found.tension_n == pytest.approx(expect["H"], abs=tolerance)
    assert found.vertical_first_n == pytest.approx(expect["V_top"], abs=tolerance)
    assert found.vertical_last_n == pytest.approx(expect["V_bottom"], abs=tolerance)


def test_single_loads_on_a_weightless_cable():
    _, expect, tolerance = only("C11")

    found = cable_under_loads(8.0, -2.0, [(2.0, 400.0), (4.0, 600.0), (6.0, 400.0)], 4.0, 2.25 - 2.0)

    assert found.tension == pytest.approx(expect["H"], abs=tolerance)
    assert found.vertical_last == pytest.approx(expect["V"], abs=tolerance)
    assert found.vertical_first == pytest.approx(1400 - expect["V"], abs=tolerance)
    assert found.height[-1] - found.height[-2] == pytest.approx(expect["y_E"], abs=tolerance)
    assert found.height[0] == 0
    assert found.greatest_tension == pytest.approx(expect["T_max"], abs=tolerance)
    assert math.degrees(math.atan(found.steepest)) == pytest.approx(expect["slope_deg"], abs=tolerance)


@pytest.mark.parametrize("drop", [0.0, 5.0, -5.0, 60.0])
@pytest.mark.parametrize("excess", [1e-4, 1e-2, 0.5, 20.0])
def test_catenary_is_as_long_as_its_curve(drop, excess):
    """The definition: arc length by numerical integration, and the ends where they were asked for."""
    chord = math.hypot(100.0, drop)
    found = catenary_of_length(100.0, chord * (1 + excess), drop)

    def slope(x):
        return math.sinh((x - found.lowest_x) / found.parameter)

    length, _ = quad(
        lambda x: math.hypot(1, slope(x)),
        0,
        100,
        points=[found.lowest_x] if 0 < found.lowest_x < 100 else None,
        limit=400,
    )
    assert length == pytest.approx(chord * (1 + excess), rel=1e-7)
    assert found.length == pytest.approx(length, rel=1e-7)
    assert found.height(0.0) == 0
    assert found.height(100.0) == pytest.approx(-drop, abs=1e-6)
    assert found.tension(30.0, 2.0) == pytest.approx(2 * found.parameter * math.hypot(1, slope(30.0)))


@pytest.mark.parametrize("excess", [1e-9, 1e-7, 1e-6, 1e-5])
def test_all_but_straight_cable(excess):
    """Textbook, shallow: the length exceeds the span by 8 f² / (3 L)."""
    found = catenary_of_length(100.0, 100.0 * (1 + excess))
    assert found.sag == pytest.approx(math.sqrt(3 / 8 * 100.0 * 100.0 * excess), rel=1e-4)


@pytest.mark.parametrize("weight", [1e-3, 0.3, 3.0, 300.0])
@pytest.mark.parametrize("ratio", [0.99, 1.001, 1.3])
def test_elastic_catenary_by_integration(weight, ratio):
    """The definition: dx = (H/T)(1 + T/EA) ds and the same for the depth, summed up numerically."""
    length = math.hypot(100.0, 5.0) * ratio
    found = hanging(100.0, 5.0, length, weight, 1e6)
    s = np.linspace(0.0, length, 200_001)
    force = found.vertical_first_n - weight * s
    stretched = 1 / np.hypot(found.tension_n, force) + 1e-6
    assert np.trapezoid(found.tension_n * stretched, s) == pytest.approx(100.0, abs=1e-6)
    assert np.trapezoid(force * stretched, s) == pytest.approx(5.0, abs=1e-6)


def test_loads_of_nothing_change_nothing():
    """Statics: a load of a millionth of a newton here and there moves nothing."""
    one = hanging(100.0, 5.0, 101.0, 10.0, 1e6, [(40.0, 800.0)])
    more = hanging(100.0, 5.0, 101.0, 10.0, 1e6, [(70.0, 1e-6), (10.0, 1e-6), (40.0, 800.0)])
    assert more.tension_n == pytest.approx(one.tension_n, rel=1e-8)
    assert more.points[1].x == pytest.approx(one.points[0].x, abs=1e-6)
    assert more.points[1].depth == pytest.approx(one.points[0].depth, abs=1e-6)
    assert one.greatest_tension_n == pytest.approx(math.hypot(one.tension_n, one.vertical_first_n))


def test_taut_parabola_and_catenary_agree():
    """Textbook: the parabola is the catenary's first approximation; at 2.5 % sag they differ by about (f/L)² of sag."""
    weight = 1.05 * G
    flat = parabola.sag_of_tension(parabola.horizontal_weight(weight, 300.0, 18.0), 300.0, 15e3)
    hung = catenary_of_tension(300.0, weight, 15e3, 18.0)

    assert flat == pytest.approx(hung.sag, rel=2e-3)
    assert parabola.length(parabola.horizontal_weight(weight, 300, 18), 300, 15e3, 18.0) == pytest.approx(
        hung.length, rel=2e-6
    )
    assert parabola.tension_of_sag(weight, 300.0, parabola.sag_of_tension(weight, 300.0, 15e3)) == pytest.approx(15e3)


LOADS = st.lists(st.tuples(st.floats(0.05, 0.95), st.floats(50, 3000)), max_size=3)


@given(st.floats(-30, 60), st.floats(0.98, 1.5), st.floats(0.5, 60), st.floats(1e5, 1e9), LOADS)
def test_elastic_catenary_balances(drop, ratio, weight, stiffness, loads):
    """Statics, no outside source: ends where they were asked for, moments balance, loads carried by the supports."""
    length = math.hypot(100.0, drop) * ratio
    placed = sorted((share * length, force) for share, force in loads)

    found = hanging(100.0, drop, length, weight, stiffness, placed)

    assert not isinstance(found, Refusal)
    total = weight * length + sum(force for _, force in placed)
    assert found.vertical_first_n - found.vertical_last_n == pytest.approx(total)
    for point, (_, force) in zip(found.points, placed, strict=True):
        assert (point.slope_after - point.slope_before) * found.tension_n == pytest.approx(force, abs=1e-6 * total)


def test_nearly_weightless_piece_joins_the_heavy_one_smoothly():
    """The series for light cables and the closed form have to give one curve; no outside source."""
    tensions = [hanging(100.0, 5.0, 100.0, w, 1e6, [(50.0, 400.0)]).tension_n for w in (0.0, 1e-3, 0.02, 0.1, 1.0)]
    assert tensions == sorted(tensions)
    assert tensions[1] - tensions[0] == pytest.approx((tensions[3] - tensions[0]) / 100, rel=0.02)


def test_moorpy_and_the_exact_form_agree():
    """MoorPy 1.3.0 (NREL): two lines and a mass between them, a rider at quarter points, to 0.01 N and 0.1 mm."""
    moorpy = pytest.importorskip("moorpy", reason="MoorPy is not installed: the comparison with it was left out")
    weight, stiffness = 1.05 * G, 10e6
    length = unstretched_length(300.0, 18.0, 15e3, weight, stiffness)
    for mass in (80, 160):
        for share in (0.25, 0.5, 0.75):
            ours = hanging(300.0, 18.0, length, weight, stiffness, [(share * length, mass * G)])
            system = moorpy.System(depth=500, rho=0.0, g=G)
            system.lineTypes["c"] = {
                "name": "c",
                "d_vol": 0.016,
                "m": 1.05,
                "w": weight,
                "EA": stiffness,
                "material": "x",
                "cost": 0,
                "input_type": "x",
                "input_d": 0.016,
            }
            system.addPoint(1, [0, 0, -100])
            system.addPoint(1, [300, 0, -118])
            system.addPoint(0, [ours.points[0].x + 1, 0, -105], m=mass)
            system.addLine(share * length, "c", pointA=1, pointB=3)
            system.addLine((1 - share) * length, "c", pointA=3, pointB=2)
            system.initialize()
            system.solveEquilibrium(tol=1e-7)
            theirs = system.pointList[2].r

            assert ours.points[0].x == pytest.approx(theirs[0], abs=1e-4)
            assert ours.points[0].depth == pytest.approx(-(theirs[2] + 100), abs=1e-4)
            assert ours.tension_n == pytest.approx(abs(system.lineList[0].fA[0]), abs=0.01)


@given(st.floats(1e-8, 10), st.floats(-1e4, 1e4), st.floats(1e-3, 1e12))
def test_cubic_has_the_root_that_numpy_finds(compliance, shortage, pull):
    found = float(positive_root(compliance, shortage, pull))

    assert compliance * found**3 - shortage * found**2 == pytest.approx(
        pull, rel=1e-7, abs=1e-12 * abs(shortage) * found**2
    )
    roots = np.roots([compliance, -shortage, 0.0, -pull])
    assert np.min(np.abs(roots - found)) <= 1e-6 * found


def test_cubic_without_a_positive_root_gives_no_figure():
    assert np.isnan(positive_root(1.0, -1.0, 0.0))
    assert np.isnan(positive_root(1.0, float("nan"), 1.0))
    assert np.isnan(positive_root(-1.0, 1.0, 1.0))
    assert np.isnan(positive_root(1.0, 1.0, -1.0))
    assert float(positive_root(0.0, -2.0, 8.0)) == pytest.approx(2.0)  # a cable that does not stretch
    assert positive_root(np.ones(3), 0.0, np.array([1.0, 8.0, 27.0])).tolist() == pytest.approx([1, 2, 3])


NAN, INF = float("nan"), float("inf")


@pytest.mark.parametrize(
    ("found", "code"),
    [
        (catenary_of_length(100.0, 100.0), "length-short"),
        (catenary_of_length(100.0, 104.0, 30.0), "length-short"),
        (catenary_of_length(100.0, NAN), "figure-missing"),
        (catenary_of_length(None, 100.0), "figure-missing"),
        (catenary_of_length(0.0, 100.0), "figure-impossible"),
        (catenary_of_length(-1.0, 100.0), "figure-impossible"),
        (catenary_of_length(100.0, INF), "figure-impossible"),
        (catenary_of_length(100.0, 200.0, INF), "figure-impossible"),
        (catenary_of_tension(300.0, 10.0, 0.0), "figure-impossible"),
        (catenary_of_tension(300.0, 10.0, 10.0), "no-solution"),
        (catenary_of_mean_tension(1000.0, 1.0, 200.0), "no-solution"),
        (catenary_of_mean_tension(1000.0, 1.0, 1e-6), "no-solution"),
        (parabola.sag_of_tension(1.0, 300.0, -1.0), "figure-impossible"),
        (parabola.tension_of_sag(1.0, 300.0, 0.0), "figure-impossible"),
        (parabola.length(1.0, 300.0, 1000.0, NAN), "figure-missing"),
        (parabola.lowest_point(0.0, 300.0, 2000.0, 60.0), "figure-impossible"),
        (parabola.change_of_state(4000.0, 1.0, 1.0, 300.0, 0.0), "figure-impossible"),
        (parabola.change_of_state(4000.0, 1.0, 1.0, 300.0, 2e6, 1e-5, NAN), "figure-missing"),
        (hanging(100.0, 0.0, 101.0, 10.0, 1e6, [(102.0, 5.0)]), "position-range"),
        (hanging(100.0, 0.0, 101.0, 10.0, 1e6, [(-0.1, 5.0)]), "position-range"),
        (hanging(100.0, 0.0, 101.0, 10.0, 1e6, [(50.0, -5.0)]), "figure-impossible"),
        (hanging(100.0, 0.0, 101.0, -1.0, 1e6), "figure-impossible"),
        (hanging(100.0, 0.0, 101.0, 0.0, 1e6), "figure-impossible"),
        (hanging(100.0, 0.0, NAN, 1.0, 1e6), "figure-missing"),
        (unstretched_length(100.0, 0.0, 1e4, 10.0, 0.0), "figure-impossible"),
        (unstretched_length(100.0, 0.0, -1e4, 10.0, 1e6), "figure-impossible"),
        (cable_under_loads(8.0, 0.0, [], 4.0, 1.0), "figure-missing"),
        (cable_under_loads(8.0, 0.0, [(8.0, 1.0)], 4.0, 1.0), "figure-impossible"),
        (cable_under_loads(8.0, 0.0, [(0.0, 1.0)], 4.0, 1.0), "figure-impossible"),
        (cable_under_loads(8.0, 0.0, [(4.0, 1.0)], 8.0, 1.0), "figure-impossible"),
        (cable_under_loads(8.0, 2.0, [(4.0, 1.0)], 4.0, 1.0), "figure-impossible"),
        (cable_under_loads(8.0, 2.0, [(4.0, NAN)], 4.0, 2.0), "figure-missing"),
    ],
)
def test_bad_figures_are_refused_by_name(found, code):
    assert isinstance(found, Refusal)
    assert found.code == code
    assert found.sentence.endswith(".")


def test_moment_of_a_beam():
    """Textbook: a single load P at mid-span bends with P L / 4; at a quarter with 3 P L / 16."""
    assert moment(8.0, [(4.0, 100.0)], 4.0) == 200
    assert moment(8.0, [(2.0, 100.0)], 2.0) == 150
    assert moment(8.0, [(2.0, 100.0)], 4.0) == 100
