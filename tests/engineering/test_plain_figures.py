"""Closed forms asked with one figure spoilt at a time: refused, and by that figure's name. No source; a promise."""

import math

import pytest

from engineering import brakes_forms as forms
from engineering import incline, return_wave
from engineering.refusal import Refusal

POSITIVE, NOT_NEGATIVE, FINITE = "above nought", "not below nought", "finite"

# Function, figures that it answers for, and of each its name in the sentence and what it has to be.
CASES = [
    (
        forms.spring_stroke,
        {"mass_kg": 80.0, "speed_mps": 6.0, "rate_n_per_m": 1200.0, "preload_n": 100.0, "pull_n": -20.0},
        {
            "mass_kg": ("mass", POSITIVE),
            "rate_n_per_m": ("rate", POSITIVE),
            "speed_mps": ("speed", NOT_NEGATIVE),
            "preload_n": ("preload", NOT_NEGATIVE),
            "pull_n": ("pull", FINITE),
        },
    ),
    (
        forms.spring_for_peak,
        {"mass_kg": 80.0, "speed_mps": 6.0, "peak_mps2": 15.0},
        {
            "mass_kg": ("mass", POSITIVE),
            "speed_mps": ("speed", POSITIVE),
            "peak_mps2": ("deceleration", POSITIVE),
        },
    ),
    (
        forms.helical_rate,
        {"shear_modulus": 79e9, "wire": 0.01, "mean_diameter": 0.1, "active_coils": 10.0},
        {
            "shear_modulus": ("shear modulus", POSITIVE),
            "wire": ("wire", POSITIVE),
            "mean_diameter": ("diameter", POSITIVE),
            "active_coils": ("coils", POSITIVE),
        },
    ),
    (
        forms.helical_free_length,
        {"load": 500.0, "rate": 1200.0, "wire": 0.01, "all_coils": 12.0, "gaps": 0.02},
        {
            "load": ("load", NOT_NEGATIVE),
            "rate": ("rate", POSITIVE),
            "wire": ("wire", POSITIVE),
            "all_coils": ("coils", POSITIVE),
            "gaps": ("gaps", NOT_NEGATIVE),
        },
    ),
    (
        forms.eddy_force,
        {"speed_mps": 6.0, "force_n": 1500.0, "critical_mps": 5.0},
        {
            "speed_mps": ("speed", NOT_NEGATIVE),
            "force_n": ("force", POSITIVE),
            "critical_mps": ("critical speed", POSITIVE),
        },
    ),
    (
        forms.eddy_creep,
        {"pull_n": 100.0, "force_n": 1500.0, "critical_mps": 5.0},
        {
            "pull_n": ("pull", POSITIVE),
            "force_n": ("force", POSITIVE),
            "critical_mps": ("critical speed", POSITIVE),
        },
    ),
    (
        forms.eddy_distance,
        {"mass_kg": 80.0, "from_mps": 8.0, "to_mps": 2.0, "force_n": 1500.0, "critical_mps": 5.0},
        {
            "mass_kg": ("mass", POSITIVE),
            "from_mps": ("speed", NOT_NEGATIVE),
            "to_mps": ("end speed", NOT_NEGATIVE),
            "force_n": ("force", POSITIVE),
            "critical_mps": ("critical speed", POSITIVE),
        },
    ),
    (
        forms.eddy_time,
        {"mass_kg": 80.0, "from_mps": 8.0, "to_mps": 2.0, "force_n": 1500.0, "critical_mps": 5.0},
        {"mass_kg": ("mass", POSITIVE), "to_mps": ("end speed", POSITIVE)},
    ),
    (
        forms.rope_load,
        {"hold_n": 100.0, "friction": 0.3, "angle_rad": 6.0},
        {
            "hold_n": ("hold", NOT_NEGATIVE),
            "friction": ("friction", NOT_NEGATIVE),
            "angle_rad": ("angle", NOT_NEGATIVE),
        },
    ),
    (
        forms.rope_hold,
        {"load_n": 100.0, "friction": 0.3, "angle_rad": 6.0},
        {
            "load_n": ("load", NOT_NEGATIVE),
            "friction": ("friction", NOT_NEGATIVE),
            "angle_rad": ("angle", NOT_NEGATIVE),
        },
    ),
    (
        forms.stroke_for_mean,
        {"speed_mps": 6.0, "mean_g": 1.0, "gravity": 9.8},
        {"speed_mps": ("speed", NOT_NEGATIVE), "mean_g": ("mean", POSITIVE), "gravity": ("gravity", POSITIVE)},
    ),
    (
        forms.run_out,
        {"speed_mps": 6.0, "slope": 0.05, "rolling": 0.01, "gravity": 9.8},
        {
            "speed_mps": ("speed", NOT_NEGATIVE),
            "slope": ("slope", FINITE),
            "rolling": ("rolling", NOT_NEGATIVE),
            "gravity": ("gravity", POSITIVE),
        },
    ),
    (
        forms.in_g,
        {"force_n": 800.0, "mass_kg": 80.0},
        {"force_n": ("force", FINITE), "mass_kg": ("mass", POSITIVE)},
    ),
    (
        forms.speed_thrown_back,
        {"speed_mps": 6.0, "returned": 0.5},
        {"speed_mps": ("speed", NOT_NEGATIVE), "returned": ("returned", NOT_NEGATIVE)},
    ),
    (
        forms.pad_wear,
        {"heat_j": 5000.0, "friction": 0.3, "wear_m3_per_nm": 1e-14, "area_m2": 0.001},
        {
            "heat_j": ("heat", NOT_NEGATIVE),
            "friction": ("friction", POSITIVE),
            "wear_m3_per_nm": ("wear", POSITIVE),
            "area_m2": ("area", POSITIVE),
        },
    ),
    (
        incline.terminal_speed,
        {"mass_kg": 80.0, "drag_area_m2": 0.5, "sine": 0.06, "density": 1.2, "gravity": 9.8},
        {
            "mass_kg": ("mass", POSITIVE),
            "drag_area_m2": ("drag area", POSITIVE),
            "sine": ("sine", POSITIVE),
            "density": ("density", POSITIVE),
            "gravity": ("gravity", POSITIVE),
        },
    ),
    (
        incline.speed_down_slope,
        {"distance_m": 200.0, "sine": 0.06, "mass_kg": 80.0, "drag_area_m2": 0.5, "rolling": 0.01, "launch_mps": 1.0},
        {
            "mass_kg": ("mass", POSITIVE),
            "distance_m": ("distance", POSITIVE),
            "sine": ("sine", FINITE),
            "drag_area_m2": ("drag area", FINITE),
            "rolling": ("rolling", FINITE),
            "density": ("density", FINITE),
            "launch_mps": ("launch", FINITE),
            "gravity": ("gravity", POSITIVE),
        },
    ),
    (
        incline.speed_with_steady_loss,
        {"distance_m": 200.0, "sine": 0.06, "loss_mps2": 0.1},
        {
            "distance_m": ("distance", POSITIVE),
            "sine": ("sine", FINITE),
            "loss_mps2": ("loss", FINITE),
            "gravity": ("gravity", POSITIVE),
        },
    ),
    (
        return_wave.sag_of_return,
        {"time_s": 4.0, "returns": 1, "gravity": 9.8},
        {"time_s": ("time", POSITIVE), "gravity": ("gravity", POSITIVE)},
    ),
    (
        return_wave.tension_of_return,
        {"time_s": 4.0, "returns": 1, "mass_kg_per_m": 1.05, "span_m": 300.0, "drop_m": 18.0},
        {
            "time_s": ("time", POSITIVE),
            "mass_kg_per_m": ("mass", POSITIVE),
            "span_m": ("span", POSITIVE),
            "drop_m": ("drop", FINITE),
        },
    ),
    (
        return_wave.time_of_returns,
        {"tension_n": 15e3, "returns": 1, "mass_kg_per_m": 1.05, "span_m": 300.0, "drop_m": 18.0},
        {
            "tension_n": ("tension", POSITIVE),
            "mass_kg_per_m": ("mass", POSITIVE),
            "span_m": ("span", POSITIVE),
            "drop_m": ("drop", FINITE),
        },
    ),
]
SPOILT = [(form, good, figure, *told) for form, good, names in CASES for figure, told in names.items()]
IDS = [f"{form.__name__}-{figure}" for form, _, figure, *_ in SPOILT]


@pytest.mark.parametrize(
    ("form", "good"), [(form, good) for form, good, _ in CASES], ids=lambda one: getattr(one, "__name__", "")
)
def test_the_good_figures_are_answered(form, good):
    assert not isinstance(form(**good), Refusal)


@pytest.mark.parametrize(("form", "good", "figure", "name", "kind"), SPOILT, ids=IDS)
def test_a_spoilt_figure_is_refused_by_its_name(form, good, figure, name, kind):
    for missing in (None, math.nan):
        assert form(**{**good, figure: missing}).code == "figure-missing"
    impossible = {POSITIVE: (0.0, -1.0, math.inf), NOT_NEGATIVE: (-1e-9, math.inf), FINITE: (math.inf, -math.inf)}[kind]
    for value in impossible:
        found = form(**{**good, figure: value})
        assert isinstance(found, Refusal)
        assert found.code == "figure-impossible"
        assert found.params == (("name", name), ("value", f"{value:.6g}"))


@pytest.mark.parametrize("figure", ["drag_area_m2", "rolling", "launch_mps"])
def test_no_slope_is_run_down_with_a_resistance_or_launch_below_nought(figure):
    good = {"distance_m": 200.0, "sine": 0.06, "mass_kg": 80.0, "drag_area_m2": 0.5, "rolling": 0.01, "launch_mps": 1.0}
    found = incline.speed_down_slope(**{**good, figure: -0.25})

    assert found.sentence == "A figure is not possible here: resistance or launch speed is -0.25."
