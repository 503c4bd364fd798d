"""The ranges of a line's figures to the digit: at a bound answered, beyond it refused with its figures. Own ranges."""

import math
from dataclasses import replace

import pytest

from engineering.line import (
    Cable,
    Line,
    air_density,
    line_problem,
    outside,
    sag_share,
    site_problem,
    slope_problem,
    temperature_problem,
    tension_problem,
)
from engineering.refusal import refuse

LINE = Line(300.0, 18.0, Cable(1.0, 10e6), 15e3)
ROPE = LINE.cable
RANGES = [
    (lambda v: replace(LINE, span_m=v, drop_m=1.0), "span", 20.0, 1500.0),
    (lambda v: replace(LINE, cable=replace(ROPE, mass_kg_per_m=v, stiffness_n=v * 10e6)), "cable-mass", 0.2, 3.0),
    (lambda v: replace(LINE, cable=replace(ROPE, stiffness_n=v, mass_kg_per_m=min(v / 8e6, 3))), "stiffness", 2e6, 4e7),
    (lambda v: replace(LINE, cable=replace(ROPE, stiffness_n=v, mass_kg_per_m=0.2)), "stiffness", 1e6, 5.4e6),
    (lambda v: replace(LINE, cable=replace(ROPE, expansion_per_k=v)), "expansion", 5e-6, 2.5e-5),
]


@pytest.mark.parametrize(("made", "code", "low", "high"), [RANGES[0], RANGES[1], RANGES[4]])
def test_ranges_of_a_site(made, code, low, high):
    for value in (low, high):
        assert site_problem(made(value)) is None
    for value in (low * 0.99, high * 1.01):
        assert site_problem(made(value)) == refuse(f"{code}-range", value=value, low=low, high=high)


def test_range_of_the_stiffness():
    """1 to 40 MN, and what belongs to the weight of a steel rope."""
    assert site_problem(RANGES[2][0](4e7)) is None
    assert site_problem(RANGES[2][0](4.01e7)) == refuse("stiffness-range", value=4.01e7, low=1e6, high=4e7)
    assert site_problem(RANGES[3][0](1e6)) is None
    assert site_problem(RANGES[3][0](0.99e6)) == refuse("stiffness-range", value=0.99e6, low=1e6, high=4e7)
    assert site_problem(RANGES[3][0](5.4e6)) is None
    assert site_problem(RANGES[3][0](5.41e6)) == refuse("stiffness-mass")
    assert site_problem(replace(LINE, cable=Cable(1.0, 3.5e6))) is None
    assert site_problem(replace(LINE, cable=Cable(1.0, 3.49e6))) == refuse("stiffness-mass")


def test_the_first_of_two_faults_is_named():
    """In the order in which one enters them; no source."""
    assert line_problem(Line(None, None, Cable(None, None), None, None)) == refuse("span-missing")
    assert line_problem(Line(300.0, None, Cable(None, None), None, None)) == refuse("drop-missing")
    assert line_problem(Line(300.0, 18.0, Cable(None, None), None, None)) == refuse("cable-mass-missing")
    assert line_problem(Line(300.0, 18.0, Cable(1.0, None), None, None)) == refuse("stiffness-missing")
    bad = Cable(1.0, 10e6, math.nan)
    assert line_problem(Line(300.0, 18.0, bad, None, None, 0.0)) == refuse("figure-missing")
    assert line_problem(Line(300.0, 18.0, ROPE, None, None, 0.0)) == refuse("anchor-range")
    assert line_problem(Line(300.0, 18.0, ROPE, None, None)) == refuse("tension-missing")
    assert line_problem(Line(300.0, 18.0, ROPE, -1.0, None)) == refuse("temperature-missing")
    assert line_problem(Line(300.0, 18.0, ROPE, -1.0)) == refuse("tension-impossible", value=-1.0)


def test_slopes():
    """-5 to 15 %, and a drop in feet taken for metres where the metres would do."""
    for drop in (-15.0, 0.0, 45.0):
        assert slope_problem(replace(LINE, drop_m=drop)) is None
    found = slope_problem(replace(LINE, drop_m=45.3))
    assert found == refuse("drop-feet", value=45.3, slope=15.1, metres=45.3 * 0.3048)
    assert slope_problem(replace(LINE, drop_m=45 / 0.3048)).code == "drop-feet"
    assert slope_problem(replace(LINE, drop_m=-15 / 0.3048)).code == "drop-feet"
    assert slope_problem(replace(LINE, drop_m=150.0)) == refuse("slope-range", value=50.0, low=-5, high=15)
    assert slope_problem(replace(LINE, drop_m=-60.0)) == refuse("slope-range", value=-20.0, low=-5, high=15)
    for missing in (replace(LINE, drop_m=None), replace(LINE, span_m=None), replace(LINE, drop_m=math.nan)):
        assert slope_problem(missing) == refuse("drop-missing")


def test_anchors():
    for stiffness in (0.0, -1.0, math.nan):
        assert site_problem(replace(LINE, anchor_n_per_m=stiffness)) == refuse("anchor-range")
    assert site_problem(replace(LINE, anchor_n_per_m=0.5)) is None


def test_temperatures():
    assert temperature_problem(-50.0) is None
    assert temperature_problem(60.0) is None
    assert temperature_problem(60.5) == refuse("temperature-range", value=60.5, low=-50, high=60)
    assert temperature_problem(-50.5) == refuse("temperature-range", value=-50.5, low=-50, high=60)


def test_what_is_outside():
    assert outside(None, "mass", (25.0, 150.0)) == refuse("mass-missing")
    assert outside(math.nan, "mass", (25.0, 150.0)) == refuse("mass-missing")
    assert outside(None, "mass", (25.0, 150.0), missing="figure-missing") == refuse("figure-missing")
    assert outside(25.0, "mass", (25.0, 150.0)) is None
    assert outside(150.5, "mass", (25.0, 150.0)) == refuse("mass-range", value=150.5, low=25.0, high=150.0)


def test_tensions():
    """Sag 1 to 6 % of the span, f / L = w_h L / 8 H (textbook parabola); from the breaking force on it is broken."""
    level = Line(300.0, 0.0, Cable(1.0, 10e6, breaking_force_n=50e3), None)
    pull = 9.80665 * 300 / 8
    assert sag_share(level, 10_000.0) == pytest.approx(pull / 10_000)
    assert sag_share(replace(level, drop_m=225.0), 10_000.0) == pytest.approx(1.25 * pull / 10_000)
    assert tension_problem(level, pull / 0.0599) is None
    assert tension_problem(level, pull / 0.0101) is None
    assert tension_problem(level, pull / 0.0625) == refuse("sag-high", value=6.25, limit=6)
    assert tension_problem(level, pull / 0.0075) == refuse("sag-low", value=0.75, limit=1)
    assert tension_problem(level, 50e3) == refuse("tension-impossible", value=50e3)
    assert tension_problem(level, 49.9e3) == refuse("sag-low", value=100 * pull / 49.9e3, limit=1)
    for value in (0.0, -1.0, math.inf, math.nan):
        assert tension_problem(level, value) == refuse("tension-impossible", value=value)
    assert tension_problem(level, 1.0).code == "sag-high"


@pytest.mark.parametrize(
    "line", [replace(LINE, span_m=None), replace(LINE, drop_m=None), replace(LINE, cable=Cable(None, 10e6))]
)
def test_sag_without_its_figures_is_the_programmers_error(line):
    with pytest.raises(TypeError, match=r"^span, drop and cable mass are needed$"):
        sag_share(line, 15e3)


def test_air():
    """The gas law, p / (R T), R = 287.05 J/(kg K), 0 °C = 273.15 K."""
    assert air_density(0.0, 287.05 * 273.15) == pytest.approx(1.0, rel=1e-12)
    assert air_density(26.85, 287.05 * 600.0) == pytest.approx(2.0, rel=1e-12)
    assert air_density(26.85) == pytest.approx(101_325 / 287.05 / 300, rel=1e-12)
