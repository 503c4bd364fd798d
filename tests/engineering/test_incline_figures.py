"""Straight slopes and weightless cables asked with one figure spoilt: refused by its name, at a bound answered.

No source; a promise. The figures besides are by hand: energy, and the moments of a simple beam (textbook).
"""

import math

import pytest

from engineering.incline import speed_down_slope, speed_with_steady_loss, terminal_speed
from engineering.line import G_MPS2
from engineering.point_loads import Funicular, cable_under_loads, moment
from engineering.refusal import refuse

SLOPE = {
    "distance_m": 100.0,
    "sine": 0.1,
    "mass_kg": 80.0,
    "drag_area_m2": 0.5,
    "rolling": 0.01,
    "density": 1.2,
    "launch_mps": 1.0,
    "gravity": 9.8,
}
FALL = {"mass_kg": 80.0, "drag_area_m2": 0.5, "density": 1.2, "sine": 0.5, "gravity": 9.8}
LOSS = {"distance_m": 100.0, "sine": 0.1, "loss_mps2": 0.5, "gravity": 9.8}
NAMES = {"distance_m": "distance", "mass_kg": "mass", "drag_area_m2": "drag area", "launch_mps": "launch"}
NAMES["loss_mps2"] = "loss"
ABOVE = ("distance_m", "mass_kg", "gravity")
SPOILT = [
    *((speed_down_slope, SLOPE, figure, figure in ABOVE) for figure in SLOPE),
    *((terminal_speed, FALL, figure, True) for figure in FALL),
    *((speed_with_steady_loss, LOSS, figure, figure in ABOVE) for figure in LOSS),
]


@pytest.mark.parametrize(("form", "good", "figure", "above"), SPOILT)
def test_a_spoilt_figure_is_refused_by_its_name(form, good, figure, above):
    assert isinstance(form(**good), float)
    for missing in (None, math.nan):
        assert form(**{**good, figure: missing}) == refuse("figure-missing")
    for value in (0.0, -1.0, math.inf) if above else (math.inf, -math.inf):
        expected = refuse("figure-impossible", name=NAMES.get(figure, figure), value=value)
        assert form(**{**good, figure: value}) == expected


def test_bounds_of_a_slope():
    """A sine is from -1 to 1, resistance and launch from nought on; who is at rest at the end did not come through."""
    down = {**SLOPE, "rolling": 0.0, "drag_area_m2": 0.0}
    assert speed_down_slope(**{**down, "sine": 1.0}) == pytest.approx(math.sqrt(1 + 2 * 9.8 * 100))
    assert speed_down_slope(**{**down, "sine": -1.0, "launch_mps": 50.0}) == pytest.approx(math.sqrt(2500 - 1960))
    for sine in (1.5, -1.5):
        assert speed_down_slope(**{**SLOPE, "sine": sine}) == refuse("figure-impossible", name="sine", value=sine)
    for figure in ("drag_area_m2", "density", "rolling", "launch_mps"):
        assert isinstance(speed_down_slope(**{**SLOPE, figure: 0.0}), float)
        found = speed_down_slope(**{**SLOPE, figure: -0.25})
        assert found == refuse("figure-impossible", name="resistance or launch speed", value=-0.25)
    assert speed_down_slope(**{**SLOPE, "density": 0.0}) == speed_down_slope(**{**SLOPE, "drag_area_m2": 0.0})
    # 0.3 m/s are left of 1 m/s
    assert speed_down_slope(**{**down, "distance_m": 1.0, "sine": -0.91 / 19.6}) == pytest.approx(0.3)
    assert speed_down_slope(**{**down, "distance_m": 1.0, "sine": -1.01 / 19.6}) == refuse("no-solution")
    assert speed_down_slope(**{**down, "distance_m": 1.0, "sine": 0.0, "launch_mps": 0.0}) == refuse("no-solution")
    assert speed_with_steady_loss(100.0, 0.1, 0.97, 9.8) == pytest.approx(math.sqrt(2))
    assert speed_with_steady_loss(1.0, 0.1, 0.88, 9.8) == pytest.approx(math.sqrt(0.2))
    assert speed_with_steady_loss(100.0, 0.1, 0.99, 9.8) == refuse("no-solution")


def test_slope_by_the_differential_equation():
    """v dv/ds = g (sin - mu cos) - K v² by numbers: the derivative of v²/2 along the closed form."""

    def speed(distance):
        return speed_down_slope(**{**SLOPE, "distance_m": distance})

    for distance in (0.5, 20.0, 300.0):
        grown = (speed(distance + 1e-3) ** 2 - speed(distance - 1e-3) ** 2) / 4e-3
        pull = 9.8 * (0.1 - 0.01 * math.sqrt(0.99))
        assert grown == pytest.approx(pull - 1.2 * 0.5 / 160 * speed(distance) ** 2, rel=1e-5)
    assert speed(1e-9) == pytest.approx(1.0)
    assert terminal_speed(**FALL) == pytest.approx(math.sqrt(2 * 80 * 9.8 * 0.5 / 0.6))
    assert speed_down_slope(50.0, 0.1, 80.0, 0.5) == speed_down_slope(50.0, 0.1, 80.0, 0.5, 0.0, 1.225, 0.0, G_MPS2)


LOADS = [(2.0, 300.0), (5.0, 100.0)]


def test_funicular_by_hand():
    """Span 10, 1 m down: supports 290 and 110 N, moments 580 and 550 N m, chord 0.5 m down at 5; 550 N m / 1 m = H."""
    found = cable_under_loads(10.0, 1.0, LOADS, 5.0, 1.5)
    assert found.tension == pytest.approx(550.0)
    assert found.x == (0.0, 2.0, 5.0, 10.0)
    assert found.height == pytest.approx((0.0, -0.2 - 580 / 550, -1.5, -1.0))
    assert found.vertical_first == pytest.approx(290 + 55)
    assert found.vertical_last == pytest.approx(110 - 55)
    assert found.steepest == pytest.approx((0.2 + 580 / 550) / 2)
    assert found.greatest_tension == pytest.approx(math.hypot(550, 345))
    assert Funicular(3.0, 1.0, 1.0, (0.0, 1.0, 4.0), (0.0, -1.0, 3.0)).greatest_tension == 5.0
    assert [moment(10.0, LOADS, x) for x in (0.0, 2.0, 5.0, 10.0)] == pytest.approx([0.0, 580.0, 550.0, 0.0])
    together = cable_under_loads(10.0, 1.0, [(2.0, 100.0), *LOADS, (2.0, 50.0)], 5.0, 1.5)
    assert together.x == (0.0, 2.0, 5.0, 10.0)


@pytest.mark.parametrize(
    ("figures", "refusal"),
    [
        ((0.0, 1.0, LOADS, 5.0, 1.5), refuse("figure-impossible", name="span", value=0.0)),
        ((None, 1.0, LOADS, 5.0, 1.5), refuse("figure-missing")),
        ((10.0, math.inf, LOADS, 5.0, 1.5), refuse("figure-impossible", name="drop", value=math.inf)),
        ((10.0, math.nan, LOADS, 5.0, 1.5), refuse("figure-missing")),
        ((10.0, 1.0, LOADS, math.inf, 1.5), refuse("figure-impossible", name="known x", value=math.inf)),
        ((10.0, 1.0, LOADS, None, 1.5), refuse("figure-missing")),
        ((10.0, 1.0, LOADS, 5.0, math.inf), refuse("figure-impossible", name="known depth", value=math.inf)),
        ((10.0, 1.0, LOADS, 5.0, math.nan), refuse("figure-missing")),
        ((10.0, 1.0, [], 5.0, 1.5), refuse("figure-missing")),
        ((10.0, 1.0, [(2.0, 0.0)], 5.0, 1.5), refuse("figure-impossible", name="load", value=0.0)),
        ((10.0, 1.0, [(math.inf, 3.0)], 5.0, 1.5), refuse("figure-impossible", name="place", value=math.inf)),
        ((10.0, 1.0, [(0.0, 3.0)], 5.0, 1.5), refuse("figure-impossible", name="place of a load", value=0.0)),
        ((10.0, 1.0, [(10.0, 3.0)], 5.0, 1.5), refuse("figure-impossible", name="place of a load", value=10.0)),
        (
            (10.0, 1.0, [(11.0, 3.0), (2.0, -1.0)], 5.0, 1.5),
            refuse("figure-impossible", name="place of a load", value=11.0),
        ),
        ((10.0, 1.0, LOADS, 0.0, 1.5), refuse("figure-impossible", name="place of the known depth", value=0.0)),
        ((10.0, 1.0, LOADS, 10.0, 1.5), refuse("figure-impossible", name="place of the known depth", value=10.0)),
        ((10.0, 1.0, LOADS, 5.0, 0.5), refuse("figure-impossible", name="depth below the chord", value=0.0)),
        ((10.0, 1.0, LOADS, 5.0, 0.25), refuse("figure-impossible", name="depth below the chord", value=-0.25)),
    ],
)
def test_impossible_shapes_are_refused_by_name(figures, refusal):
    assert cable_under_loads(*figures) == refusal


def test_places_just_inside_the_supports():
    for at in (0.5, 9.5):
        found = cable_under_loads(10.0, 0.0, [(at, 100.0)], at, 0.01)
        assert found.tension == pytest.approx(100 * at * (10 - at) / 10 / 0.01)
