"""Speeds on a straight slope: printed cases and closed forms. The march along a slope is compared in test_ride."""

import math

import pytest

from engineering.incline import speed_down_slope, speed_with_steady_loss, terminal_speed
from engineering.line import G_MPS2
from tests.engineering.mechanics_cases import only

NAN = float("nan")


def test_speed_with_a_measured_loss():
    inputs, expect, tolerance = only("R1")

    assert math.hypot(inputs["horizontal"], inputs["drop"]) == pytest.approx(expect["d"], abs=1e-3)
    found = speed_with_steady_loss(inputs["d_rounded"], inputs["sin"], inputs["loss"], inputs["g"])
    assert found == pytest.approx(expect["v"], abs=tolerance)


def test_launch_speed_fades_on_a_slope():
    """Closed form with a launch: level ground without drag keeps the speed; uphill v² - 2 g h is left."""
    assert speed_down_slope(100.0, 0.0, 80.0, 0.0, launch_mps=3.0) == pytest.approx(3.0)
    assert speed_down_slope(4.0, -0.1, 80.0, 0.0, launch_mps=3.0) == pytest.approx(math.sqrt(9 - 2 * G_MPS2 * 0.4))


@pytest.mark.parametrize(
    ("found", "code"),
    [
        (speed_down_slope(100.0, -0.1, 80.0, 0.5), "no-solution"),
        (speed_down_slope(100.0, 1.1, 80.0, 0.5), "figure-impossible"),
        (speed_down_slope(100.0, 0.1, 80.0, -0.5), "figure-impossible"),
        (speed_down_slope(100.0, 0.1, NAN, 0.5), "figure-missing"),
        (speed_down_slope(0.0, 0.1, 80.0, 0.5), "figure-impossible"),
        (terminal_speed(80.0, 0.0), "figure-impossible"),
        (terminal_speed(80.0, 0.5, sine=0.0), "figure-impossible"),
        (speed_with_steady_loss(200.0, 0.05, 0.6), "no-solution"),
        (speed_with_steady_loss(200.0, NAN, 0.6), "figure-missing"),
    ],
)
def test_slopes_refuse_by_name(found, code):
    assert found.code == code


def test_straight_up():
    """Energy: thrown upwards at 10 m/s, a metre higher v² is 100 - 2 g."""
    assert speed_down_slope(1.0, -1.0, 80.0, 0.0, launch_mps=10.0) == pytest.approx(math.sqrt(100 - 2 * G_MPS2))


def test_free_fall_with_drag():
    """80 kg, Cd 0.7, 0.14 m², 1.21 kg/m³, g 9.8: 115 m/s (textbook problem, READ)."""
    assert terminal_speed(80.0, 0.7 * 0.14, 1.21, gravity=9.8) == pytest.approx(115, abs=0.5)


def test_still_air_at_sea_level_is_the_default():
    assert terminal_speed(80.0, 0.5) == terminal_speed(80.0, 0.5, 1.225, 1.0, G_MPS2)
    assert speed_with_steady_loss(100.0, 0.05, G_MPS2 * 0.05) == 0.0
