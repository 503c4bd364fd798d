"""Cables and rides: the cases of the project's mechanics notes that no other test holds, MoorPy and scipy's solver.

READ: the source's text was opened and says so. COMPUTED: a study with scipy and MoorPy made before this code.
"""

import math
import re
from pathlib import Path

import moorpy
import numpy as np
import pytest
from moorpy.Catenary import catenary
from scipy.integrate import solve_ivp

from engineering.cable import Span, loaded, loaded_exact, span_of
from engineering.catenary import catenary_of_length
from engineering.control_run_length import cusum_run_length
from engineering.elastic_catenary import hanging, unstretched_length
from engineering.line import G_MPS2, Air, Cable, Line, Rider, Wind, air_density
from engineering.march import march
from engineering.parabola import lowest_point
from engineering.return_wave import sag_of_return
from engineering.ride import ride
from tests.engineering.mechanics_cases import PATH, only
from tests.engineering.tables import FOLDER

REFERENCE = Line(300.0, 18.0, Cable(1.05, 10e6), 15e3)
CALM, MILD = Wind(0.0), Air(15.0)
WEIGHT, STIFFNESS = 1.05 * G_MPS2, 10e6
LENGTH = unstretched_length(300.0, 18.0, 15e3, WEIGHT, STIFFNESS)


def _sources():
    return "\n".join(one.read_text(encoding="utf-8") for one in Path(__file__).parent.glob("*.py"))


def test_every_case_of_the_file_is_asked_for():
    ids = {name.split(".")[0] for name in re.findall(r'"id": "([^"]+)"', PATH.read_text(encoding="utf-8"))}
    asked = set(re.findall(r'(?:only|cases)\("(\w+)"\)', _sources()))
    for group in re.findall(r"for case in \(([^)]+)\)", _sources()):
        asked |= set(re.findall(r'"(\w+)"', group))
    assert len(ids) == 27
    assert ids <= asked


def test_every_published_table_is_asked_for():
    used = _sources()
    for name in sorted(one.stem for one in FOLDER.glob("*.csv")):
        assert name in used or any(name.startswith(part) for part in re.findall(r'f"(\w+_)\{', used)), name


# --- closed forms


def test_taut_span_keeps_its_length():
    """2c sinh(d / 2c) = sqrt(s² - h²) = 20.087 for d 20, h 5, s 20.7 (READ, forum thread on taut spans)."""
    parameter = catenary_of_length(20.0, 20.7, 5.0).parameter
    assert 2 * parameter * math.sinh(20 / (2 * parameter)) == pytest.approx(20.087, abs=1e-3)


def test_lowest_point_of_a_second_span():
    """FOSSEE/Scilab-TBC-Uploads 2273/CH3/EX3.13, x1 = L/2 - T h / (W L): formula READ; 56.25 m and sags computed."""
    found = lowest_point(0.8, 300.0, 1500.0, 15.0)
    assert found.from_lower == pytest.approx(300 / 2 - 1500 * 15 / (0.8 * 300), abs=1e-9)
    assert found.from_lower == pytest.approx(56.25, abs=1e-9)
    assert found.below_lower == pytest.approx(0.8 * 56.25**2 / 3000, abs=1e-9)
    assert found.below_upper - found.below_lower == pytest.approx(15.0, abs=1e-9)  # the supports stand 15 m apart


def test_elastic_catenary_as_stored_and_as_solved():
    """NREL/MoorPy tests/test_catenary.py @9191d188: stored to 1e-2 N (READ); solved by it closer, to 1e-6 N."""
    found = hanging(89.9, 59.2, 130.0, 881.05, 7.51e8)
    ours = [found.tension_n, found.vertical_first_n, found.vertical_last_n]
    assert ours == pytest.approx([31373.229006023103, 87886.15872988368, -26650.341270116318], abs=1e-2)
    theirs = catenary(89.9, 59.2, 130.0, 7.51e8, 881.05, CB=-200.0, Tol=1e-12)  # hung clear of any ground
    assert ours == pytest.approx([theirs[0], -theirs[3], theirs[1]], abs=1e-6)


def test_constants_of_the_return_wave():
    """USDA RUS Bulletin 1726C-115, eq. (1): 48.3 (t / 2N)² inches, READ; 0.3065 (t/N)² m follows."""
    assert sag_of_return(1.0, 1) == pytest.approx(0.3065, abs=5e-5)
    assert sag_of_return(1.0, 1, 32.2) * 12 == pytest.approx(48.3 / 4, abs=1e-9)
    assert sag_of_return(5.0, 5, 32.2) * 12 == pytest.approx(48.3 / 4, abs=1e-9)


# --- the loaded cable


def by_moorpy(mass, along):
    """Let MoorPy find where a mass between two lines comes to rest: (x, depth, horizontal tension)."""
    system = moorpy.System(depth=500, rho=0.0, g=G_MPS2)
    kind = {"name": "c", "d_vol": 0.016, "m": 1.05, "w": WEIGHT, "EA": STIFFNESS, "material": "x", "cost": 0}
    system.lineTypes["c"] = kind | {"input_type": "x", "input_d": 0.016}
    system.addPoint(1, [0, 0, -100])
    system.addPoint(1, [300, 0, -118])
    system.addPoint(0, [along * 300 / LENGTH, 0, -110], m=mass)
    system.addLine(along, "c", pointA=1, pointB=3)
    system.addLine(LENGTH - along, "c", pointA=3, pointB=2)
    system.initialize()
    system.solveEquilibrium(tol=1e-7)
    place = system.pointList[2].r
    return place[0], -(place[2] + 100), abs(system.lineList[0].fA[0])


@pytest.mark.parametrize("mass", [40.0, 80.0, 150.0])
@pytest.mark.parametrize("share", [0.1, 0.5, 0.9])
def test_exact_and_fast_form_against_moorpy(mass, share):
    """MoorPy 1.3.0: exact form to 0.01 N and 0.1 mm; fast form to 0.24 % of tension and 16 mm (COMPUTED)."""
    x, depth, tension = by_moorpy(mass, share * LENGTH)

    exact = loaded_exact(REFERENCE, mass, x)
    assert exact.tension_n == pytest.approx(tension, abs=0.01)
    assert exact.points[0].depth == pytest.approx(depth, abs=1e-4)
    assert exact.points[0].x == pytest.approx(x, abs=1e-6)

    fast = loaded(REFERENCE, mass, x)
    assert fast.tension_n == pytest.approx(tension, rel=0.0024)
    assert fast.height_m == pytest.approx(-depth, abs=0.016)


def test_fast_form_under_the_heaviest_load_of_the_study():
    """160 kg, beyond what a ride is computed for: H 0.24 %, height 16 mm, slope 3e-4 (COMPUTED, printed digits)."""
    span, load = span_of(REFERENCE, 15.0), 160 * G_MPS2
    assert isinstance(span, Span)
    for share in (0.02, 0.1, 0.25, 0.5, 0.75, 0.9, 0.98):
        exact = hanging(300.0, 18.0, LENGTH, WEIGHT, STIFFNESS, [(share * LENGTH, load)])
        point = exact.points[0]
        tension = float(span.tension(point.x, load))
        assert tension == pytest.approx(exact.tension_n, rel=0.00245)
        assert float(span.height(point.x, load, tension)) == pytest.approx(-point.depth, abs=0.0165)
        slope = float(span.driving_slope(point.x, load, tension))
        assert slope == pytest.approx((point.slope_before + point.slope_after) / 2, abs=3.5e-4)


# --- the ride


def marched(x, potential, heights, mass, area=0.5, rolling=0.01):
    """March along a path of given heights, driven by a potential; return the arrival speed."""
    arc = np.hypot(np.diff(x), np.diff(heights))[:, None]
    drag = np.array([air_density(15.0) * area / mass])
    found = march(x, potential[:, None], arc, drag, rolling, 0.0, 0.0, 0.0)
    return math.sqrt(found.square[-1, 0])


def test_slope_of_the_path_or_of_the_chord_would_be_far_off():
    """80 kg, reference line: 4.48 m/s; by the slope of the loaded path 3.20, by the chord 10.73 (COMPUTED)."""
    x = np.linspace(0.0, 300.0, 601)
    span, load = span_of(REFERENCE, 15.0), 80 * G_MPS2
    tension = span.tension(x, load)
    path, chord = span.height(x, load, tension), -18 * x / 300

    assert marched(x, span.potential(x, load, tension), path, 80.0) == pytest.approx(4.48, abs=0.005)
    assert marched(x, path, path, 80.0) == pytest.approx(3.20, abs=0.005)
    assert marched(x, chord, chord, 80.0) == pytest.approx(10.73, abs=0.005)
    for potential in (span.potential(x, load, tension), path, chord):  # without losses the three agree
        assert marched(x, potential, path, 80.0, 0.0, 0.0) == pytest.approx(math.sqrt(2 * G_MPS2 * 18), abs=1e-6)


SEVEN = [
    (40.0, 0.01, 0.5, 0.0),
    (80.0, 0.01, 0.5, 0.0),
    (120.0, 0.01, 0.5, 0.0),
    (80.0, 0.02, 0.6, 3.0),
    (80.0, 0.01, 0.5, -4.0),
    (55.0, 0.015, 0.55, 2.0),
    (120.0, 0.008, 0.4, -6.0),
]


def by_solver(mass, rolling, area, head):
    """Newton's law in time along the loaded path, solved by scipy: (arrival speed or nan, last place)."""
    span, load = span_of(REFERENCE, 15.0), mass * G_MPS2

    def height(x):
        return float(span.height(x, load, span.tension(x, load)))

    def change(_, state):
        x, v = min(max(state[0], 0.0), 300.0), state[1]
        low, high = max(x - 1e-3, 0.0), min(x + 1e-3, 300.0)
        secant = math.hypot(1.0, (height(high) - height(low)) / (high - low))
        drive = -G_MPS2 * (float(span.driving_slope(x, load, span.tension(x, load))) + rolling)
        drag = air_density(15.0) * area / (2 * mass) * abs(v + head) * (v + head) * secant
        return [v / secant, (drive - drag) / secant]

    def at_end(_, state):
        return state[0] - 300.0

    def halts(_, state):
        return state[1] - 1e-6

    at_end.terminal = halts.terminal = True
    halts.direction = -1
    found = solve_ivp(change, [0, 400], [0.0, 1e-4], rtol=1e-9, atol=1e-9, events=[at_end, halts])
    return (found.y[1, -1] if len(found.t_events[0]) else math.nan), found.y[0, -1]


@pytest.mark.parametrize(("mass", "rolling", "area", "head"), SEVEN)
def test_the_seven_rides_of_the_study(mass, rolling, area, head):
    """scipy.integrate.solve_ivp: 1 mm/s at 200 steps, 0.1 at 800, stops within 1 cm at 800; three of them stop."""
    speed, place = by_solver(mass, rolling, area, head)
    few, many = (ride(REFERENCE, Rider(mass, area, rolling), Wind(head), MILD, steps=n) for n in (200, 800))
    if (mass, rolling) in ((40.0, 0.01), (80.0, 0.02), (55.0, 0.015)):
        assert math.isnan(speed)
        assert few.stalled
        assert float(many.stall_m) == pytest.approx(place, abs=0.01)
    else:
        assert float(few.arrival_mps) == pytest.approx(speed, abs=1e-3)
        assert float(many.arrival_mps) == pytest.approx(speed, abs=1e-4)


FIVE = [
    (Line(300.0, 18.0, Cable(1.05, 10e6), 15e3), 0.010),
    (Line(300.0, 24.0, Cable(1.05, 10e6), 15e3), 0.010),
    (Line(150.0, 15.0, Cable(0.6, 5e6), 3e3), 0.012),
    (Line(600.0, 72.0, Cable(1.3, 13e6), 25e3), 0.010),
    # In the study 4 kN: a sag of 0.7 % of the span, which the product refuses as too taut.
    (Line(60.0, 3.0, Cable(0.4, 3.5e6), 2.9e3), 0.012),
]


@pytest.mark.parametrize(("line", "rolling"), FIVE)
@pytest.mark.parametrize("mass", [50.0, 120.0])
def test_five_lines_along_the_exact_cable(line, rolling, mass):
    """60 to 600 m, 5 to 12 %, sag to 4.8 %: fast and exact form arrive within 0.025 m/s, as printed (COMPUTED)."""
    weight, ea = line.cable.mass_kg_per_m * G_MPS2, line.cable.stiffness_n
    length = unstretched_length(line.span_m, line.drop_m, line.tension_n, weight, ea)
    shares = np.concatenate([np.linspace(0.002, 0.05, 12), np.linspace(0.06, 0.94, 81), np.linspace(0.95, 0.998, 12)])
    states = [hanging(line.span_m, line.drop_m, length, weight, ea, [(s * length, mass * G_MPS2)]) for s in shares]
    points = [one.points[0] for one in states]
    x = np.linspace(0.0, line.span_m, 801)
    places = [one.x for one in points]
    slopes = np.interp(x, places, [(one.slope_before + one.slope_after) / 2 for one in points])
    potential = np.concatenate([[0], np.cumsum((slopes[1:] + slopes[:-1]) / 2 * np.diff(x))])
    heights = np.interp(x, [0, *places, line.span_m], [0, *(-one.depth for one in points), -line.drop_m])
    arc = np.hypot(np.diff(x), np.diff(heights))[:, None]
    drag = np.array([air_density(15.0) * 0.5 / mass])
    exact = march(x, potential[:, None], arc, drag, rolling, 0.0, 0.0, 0.0)

    fast = ride(line, Rider(mass, 0.5, rolling), CALM, MILD)

    if np.isnan(exact.stall_x[0]):
        assert float(fast.arrival_mps) == pytest.approx(math.sqrt(exact.square[-1, 0]), abs=0.0255)
    else:
        assert fast.stalled
        assert float(fast.stall_m) == pytest.approx(exact.stall_x[0], abs=0.005 * line.span_m)


def test_a_gate_beyond_the_end_of_the_ride_tells_nothing():
    """A speed beyond the place where the ride was computed to would be a guess."""
    found = ride(REFERENCE, Rider(80.0), CALM, MILD, end_m=200.0, gates_m=(200.1,))
    assert found.code == "position-range"
    to_end = ride(REFERENCE, Rider(80.0), CALM, MILD, end_m=200.0, gates_m=(200.0,))
    assert float(to_end.gates_mps[0]) == pytest.approx(float(to_end.arrival_mps), abs=1e-12)


def test_two_sided_sums_by_markov_chain():
    """k 0.5, h 5: 465 mornings in control, 10.4 and 4.0 at one and two sigmas (case G15, COMPUTED)."""
    _, expect, tolerance = only("G15")
    for shift, name in ((0.0, "ARL0"), (1.0, "ARL1"), (2.0, "ARL2")):
        found = cusum_run_length(shift, slack=0.5, decision=5.0, both_sides=True)
        assert found == pytest.approx(expect[name], abs=tolerance[name])
