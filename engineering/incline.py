"""Speeds on a straight slope, in closed form: what the ride is checked with, and textbook cases. SI units.

Own algebra on u = v²: du/ds = 2 (g (sin - mu cos) - K u), K = rho CdA / (2 m). No wind.
"""

from __future__ import annotations

import math

from engineering.line import G_MPS2
from engineering.plain_figures import finite, positive
from engineering.refusal import Refusal, refuse


def speed_down_slope(
    distance_m: float,
    sine: float,
    mass_kg: float,
    drag_area_m2: float,
    rolling: float = 0.0,
    density: float = 1.225,
    launch_mps: float = 0.0,
    gravity: float = G_MPS2,
) -> float | Refusal:
    """Return the speed in m/s after a distance along a slope of constant sine (positive: down).

    u = uT + (u0 - uT) exp(-2 K s), uT = g (sin - mu cos) / K. Refuses ``no-solution`` where the rider stops before.

    >>> round(speed_down_slope(301.496, 0.0995037, 90.0, 0.5, 0.01), 3)
    14.997
    >>> round(speed_down_slope(20.0, 1.0, 80.0, 0.0), 3) == round((2 * G_MPS2 * 20) ** 0.5, 3)
    True
    """
    bad = positive(mass=mass_kg, gravity=gravity, distance=distance_m)
    bad = bad or finite(sine=sine, drag_area=drag_area_m2, rolling=rolling, density=density, launch=launch_mps)
    if not bad and not -1.0 <= sine <= 1.0:
        bad = refuse("figure-impossible", name="sine", value=sine)
    if not bad and (drag_area_m2 < 0 or density < 0 or rolling < 0 or launch_mps < 0):
        worst = min(drag_area_m2, density, rolling, launch_mps)
        bad = refuse("figure-impossible", name="resistance or launch speed", value=worst)
    if bad:
        return bad
    pull = gravity * (sine - rolling * math.sqrt(1.0 - sine * sine))
    drag = density * drag_area_m2 / (2.0 * mass_kg)
    z = 2.0 * drag * distance_m
    grown = 2.0 * distance_m * pull * (-math.expm1(-z) / z if z > 0.0 else 1.0)
    u = launch_mps**2 * math.exp(-z) + grown
    return math.sqrt(u) if u > 0.0 else refuse("no-solution")


def terminal_speed(
    mass_kg: float, drag_area_m2: float, density: float = 1.225, sine: float = 1.0, gravity: float = G_MPS2
) -> float | Refusal:
    """Return the speed in m/s at which drag holds the pull, v = sqrt(2 m g sin / (rho CdA)); ``sine`` 1 is free fall.

    >>> round(terminal_speed(70.0, 1.5 * 1.1, 1.22, gravity=9.8), 1)
    26.1
    """
    bad = positive(mass=mass_kg, drag_area=drag_area_m2, density=density, sine=sine, gravity=gravity)
    return bad or math.sqrt(2.0 * mass_kg * gravity * sine / (density * drag_area_m2))


def speed_with_steady_loss(
    distance_m: float, sine: float, loss_mps2: float, gravity: float = G_MPS2
) -> float | Refusal:
    """Return v = sqrt(2 (g sin - loss) d) in m/s, for one steady loss of acceleration in m/s², as some lines measured.

    >>> round(speed_with_steady_loss(215.0, 0.0746, 0.45, 9.81), 2)
    11.01
    """
    bad = positive(distance=distance_m, gravity=gravity) or finite(sine=sine, loss=loss_mps2)
    if bad:
        return bad
    u = 2.0 * (gravity * sine - loss_mps2) * distance_m
    return math.sqrt(u) if u >= 0.0 else refuse("no-solution")
