"""The line, its rider, the wind and the air, as the mechanics of cable, ride and brakes take them. SI units.

Axes: x is horizontal, from the launch support to the landing support; height is counted from the launch support, up.
A figure that is not known is ``None`` (or ``nan`` in an array), never nought. ``Rider`` and ``Wind`` may hold arrays
of one shape (or shapes that broadcast): a map of masses and winds is one call. Nothing here decides anything: the
figures are the designer's and the maker's, and only they can say that these hold for a line.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from engineering.refusal import Refusal, refuse

FloatArray: TypeAlias = NDArray[np.float64]
Figure: TypeAlias = float | FloatArray

G_MPS2 = 9.80665  # standard gravity, 3rd General Conference on Weights and Measures, 1901, exact
AIR_GAS_CONSTANT = 287.05  # J/(kg K), dry air (from memory: ICAO standard atmosphere 287.05287)
KELVIN = 273.15

# Ranges of the model: our comparison with the exact cable (COMPUTED), and what the trade builds (from memory).
SPAN_M = (20.0, 1500.0)
SLOPE = (-0.05, 0.15)
SAG = (0.01, 0.06)
CABLE_KG_PER_M = (0.2, 3.0)
STIFFNESS_N = (1e6, 4e7)
# A bar of steel has E / density = 210e9 / 7850; a rope never more. The lower end is a soft, new rope (from memory).
STIFFNESS_PER_KG_PER_M = (3.5e6, 2.7e7)
EXPANSION_PER_K = (5e-6, 2.5e-5)
TEMPERATURE_C = (-50.0, 60.0)
PRESSURE_PA = (50_000.0, 110_000.0)
MASS_KG = (25.0, 150.0)
DRAG_AREA_M2 = (0.0, 1.2)
ROLLING = (0.0, 0.05)
WIND_MPS = (-15.0, 15.0)
LAUNCH_MPS = (0.0, 4.0)


@dataclass(frozen=True)
class Cable:
    """A steel rope: mass in kg per metre, axial stiffness E·A in N, expansion per kelvin, breaking force in N.

    The figures are those of the rope's certificate. ``breaking_force_n`` is used only to call a tension impossible;
    whether a tension is allowed is the designer's to say.
    """

    mass_kg_per_m: float | None
    stiffness_n: float | None
    expansion_per_k: float = 1.2e-5  # steel 11.5 to 12.5e-6 per kelvin (from memory)
    breaking_force_n: float | None = None


@dataclass(frozen=True)
class Line:
    """One span with one cable.

    ``span_m`` is horizontal, ``drop_m`` is launch above landing. ``tension_n`` is the horizontal tension of the
    unloaded cable at ``reference_c``. ``anchor_n_per_m`` is the stiffness of both anchors together along the cable,
    ``None`` for anchors that do not give. With ``constant_tension`` a counterweight or ram keeps ``tension_n``.
    """

    span_m: float | None
    drop_m: float | None
    cable: Cable
    tension_n: float | None
    reference_c: float | None = 15.0
    anchor_n_per_m: float | None = None
    constant_tension: bool = False


@dataclass(frozen=True)
class Rider:
    """What rolls on the cable: rider with gear in kg, drag area Cd·A in m², rolling resistance as a share of weight.

    ``sheave_kg`` is the turning mass of the sheaves, J / R² (less than a hundredth of the rider: usually left out).
    Seated riders have about 0.3 to 0.8 m², trolleys about 0.005 to 0.03 (both from memory; no measured figure was
    found): a line is calibrated with test rides.
    """

    mass_kg: Figure | None
    drag_area_m2: Figure | None = 0.50
    rolling: Figure | None = 0.010
    sheave_kg: Figure = 0.0


@dataclass(frozen=True)
class Wind:
    """Wind in m/s: ``head_mps`` along the line against the rider (a tail wind is negative), ``cross_mps`` across it."""

    head_mps: Figure | None
    cross_mps: Figure | None = 0.0


@dataclass(frozen=True)
class Air:
    """Air temperature in °C, which the cable is taken to have too, and pressure in Pa."""

    temperature_c: Figure | None
    pressure_pa: Figure | None = 101_325.0


def air_density(temperature_c: Figure, pressure_pa: Figure = 101_325.0) -> Figure:
    """Return the density of dry air in kg/m³, rho = p / (287.05 T). Temperature in °C, pressure in Pa.

    Source: gas law; 1.225 kg/m³ at 15 °C and 101 325 Pa is the standard atmosphere's figure (from memory).

    >>> round(air_density(15.0), 4)
    1.225
    """
    return pressure_pa / (AIR_GAS_CONSTANT * (temperature_c + KELVIN))


def sag_share(line: Line, tension_n: float) -> float:
    """Return the mid-span sag of the unloaded cable as a share of the span: f / L = w_h L / (8 H), parabola.

    ``w_h`` is the weight per horizontal metre. Needs span, drop and cable mass; raises ``TypeError`` without them.

    >>> line = Line(300.0, 18.0, Cable(1.05, 10e6), 15_000.0)
    >>> round(sag_share(line, 15_000.0), 4)
    0.0258
    """
    if line.span_m is None or line.drop_m is None or line.cable.mass_kg_per_m is None:
        raise TypeError("span, drop and cable mass are needed")
    weight = line.cable.mass_kg_per_m * G_MPS2 * math.hypot(1.0, line.drop_m / line.span_m)
    return weight * line.span_m / (8.0 * tension_n)


def line_problem(line: Line) -> Refusal | None:
    """Return why nothing can be computed for a line as entered, or ``None``.

    Looks for what is missing, for what is outside the model, and for the usual mix-ups of units: a drop in feet, a
    stiffness in pounds-force, a temperature in °F.

    >>> line_problem(Line(300.0, 18.0, Cable(1.05, 10e6), 15_000.0)) is None
    True
    >>> print(line_problem(Line(300.0, 59.06, Cable(1.05, 10e6), 15_000.0)).sentence)
    A drop of 59.06 m is a slope of 19.6867 %; if it was measured in feet it is 18.0015 m.
    """
    return site_problem(line) or _tension_problem(line)


def site_problem(line: Line) -> Refusal | None:
    """Return why span, drop, cable or anchors cannot be used, or ``None``; the tension is not looked at.

    >>> site_problem(Line(300.0, None, Cable(1.05, 10e6), None)).code
    'drop-missing'
    """
    cable = line.cable
    found = outside(line.span_m, "span", SPAN_M) or slope_problem(line)
    found = found or outside(cable.mass_kg_per_m, "cable-mass", CABLE_KG_PER_M)
    found = found or outside(cable.stiffness_n, "stiffness", STIFFNESS_N)
    found = found or outside(cable.expansion_per_k, "expansion", EXPANSION_PER_K, missing="figure-missing")
    if found or cable.stiffness_n is None or cable.mass_kg_per_m is None:
        return found
    low, high = STIFFNESS_PER_KG_PER_M
    if not low <= cable.stiffness_n / cable.mass_kg_per_m <= high:
        return refuse("stiffness-mass")
    if line.anchor_n_per_m is not None and not line.anchor_n_per_m > 0:
        return refuse("anchor-range")
    return None


def temperature_problem(temperature_c: float | None) -> Refusal | None:
    """Return why a temperature in °C cannot be used, or ``None``.

    >>> temperature_problem(15.0) is None, temperature_problem(68.0).code, temperature_problem(None).code
    (True, 'temperature-range', 'temperature-missing')
    """
    return outside(temperature_c, "temperature", TEMPERATURE_C)


def outside(value: float | None, name: str, within: tuple[float, float], *, missing: str = "") -> Refusal | None:
    """Return ``NAME-missing`` for ``None`` or nan, ``NAME-range`` for a value outside ``within``, else ``None``."""
    if value is None or math.isnan(value):
        return refuse(missing or f"{name}-missing")
    low, high = within
    if not low <= value <= high:
        return refuse(f"{name}-range", value=value, low=low, high=high)
    return None


def slope_problem(line: Line) -> Refusal | None:
    """Return why span and drop cannot belong together, or ``None``; a drop that was measured in feet is named."""
    drop, span = line.drop_m, line.span_m
    if drop is None or span is None or math.isnan(drop):
        return refuse("drop-missing")
    low, high = SLOPE
    slope = drop / span
    if low <= slope <= high:
        return None
    metres = drop * 0.3048
    if low <= metres / span <= high:
        return refuse("drop-feet", value=drop, slope=100 * slope, metres=metres)
    return refuse("slope-range", value=100 * slope, low=100 * low, high=100 * high)


def _tension_problem(line: Line) -> Refusal | None:
    tension = line.tension_n
    if tension is None or math.isnan(tension):
        return refuse("tension-missing")
    found = temperature_problem(line.reference_c)
    return found or tension_problem(line, tension)


def tension_problem(line: Line, tension_n: float) -> Refusal | None:
    """Return why a horizontal tension in N cannot be that of the unloaded cable, or ``None``.

    Not above nought, above the breaking force, or a sag outside 1 to 6 % of the span.

    >>> line = Line(300.0, 18.0, Cable(1.05, 10e6), None)
    >>> [getattr(tension_problem(line, h), "code", None) for h in (-1.0, 1500.0, 15e3, 150e3)]
    ['tension-impossible', 'sag-high', None, 'sag-low']
    """
    strength = line.cable.breaking_force_n
    if not 0.0 < tension_n < math.inf or (strength is not None and tension_n >= strength):
        return refuse("tension-impossible", value=tension_n)
    share = sag_share(line, tension_n)
    low, high = SAG
    if share > high:
        return refuse("sag-high", value=100 * share, limit=100 * high)
    if share < low:
        return refuse("sag-low", value=100 * share, limit=100 * low)
    return None
