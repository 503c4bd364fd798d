"""What is missing, mixed up or outside the model is refused by name, beyond the bound and not at it. Own ranges."""

import math
from dataclasses import replace

import pytest

from engineering import refusal
from engineering.line import Cable, Line, air_density, line_problem, sag_share, site_problem, temperature_problem
from engineering.refusal import SENTENCES, refuse

NAN, INF = float("nan"), float("inf")
LINE = Line(300.0, 18.0, Cable(1.05, 10e6), 15e3)


FEET = "A drop of 59.06 m is a slope of 19.6867 %; if it was measured in feet it is 18.0015 m."


def taut(sag):
    """Return the reference line with a sag in parts of the span."""
    return replace(LINE, tension_n=1.05 * 9.80665 * math.hypot(1, 0.06) * 300 / 8 / sag)


def cable(**changes):
    return replace(LINE, cable=replace(LINE.cable, **changes))


@pytest.mark.parametrize(
    ("line", "code"),
    [
        (LINE, None),
        (replace(LINE, span_m=None), "span-missing"),
        (replace(LINE, span_m=NAN), "span-missing"),
        (replace(LINE, span_m=19.9), "span-range"),
        (replace(LINE, span_m=1500.1), "span-range"),
        (replace(LINE, span_m=-300.0), "span-range"),
        (replace(LINE, span_m=INF), "span-range"),
        (replace(LINE, drop_m=None), "drop-missing"),
        (replace(LINE, drop_m=NAN), "drop-missing"),
        (replace(LINE, drop_m=45.0), None),
        (replace(LINE, drop_m=45.1), "drop-feet"),
        (replace(LINE, drop_m=59.06), "drop-feet"),
        (replace(LINE, drop_m=45 / 0.3048 + 1), "slope-range"),
        (replace(LINE, drop_m=INF), "slope-range"),
        (replace(LINE, drop_m=-15.0), None),
        (replace(LINE, drop_m=-50.0), "slope-range"),
        (replace(LINE, drop_m=-15.1), "drop-feet"),
        (cable(mass_kg_per_m=None), "cable-mass-missing"),
        (cable(mass_kg_per_m=0.19), "cable-mass-range"),
        (cable(mass_kg_per_m=3.01), "cable-mass-range"),
        (cable(stiffness_n=None), "stiffness-missing"),
        (cable(stiffness_n=0.99e6), "stiffness-range"),
        (cable(stiffness_n=4.01e7), "stiffness-range"),
        (cable(stiffness_n=10e6 / 4.448), "stiffness-mass"),  # typed in pounds-force
        (cable(stiffness_n=1.05 * 3.51e6), None),
        (cable(stiffness_n=1.05 * 3.49e6), "stiffness-mass"),
        (cable(stiffness_n=1.05 * 2.69e7), None),
        (cable(stiffness_n=1.05 * 2.71e7), "stiffness-mass"),
        (cable(expansion_per_k=4e-6), "expansion-range"),
        (cable(expansion_per_k=2.6e-5), "expansion-range"),
        (cable(expansion_per_k=NAN), "figure-missing"),
        (cable(breaking_force_n=15e3), "tension-impossible"),
        (cable(breaking_force_n=15.1e3), None),
        (replace(LINE, anchor_n_per_m=0.0), "anchor-range"),
        (replace(LINE, anchor_n_per_m=NAN), "anchor-range"),
        (replace(LINE, anchor_n_per_m=1.0), None),
        (replace(LINE, tension_n=None), "tension-missing"),
        (replace(LINE, tension_n=NAN), "tension-missing"),
        (replace(LINE, tension_n=0.0), "tension-impossible"),
        (replace(LINE, tension_n=-15e3), "tension-impossible"),
        (replace(LINE, tension_n=INF), "tension-impossible"),
        (replace(LINE, tension_n=15.0), "sag-high"),  # typed in kN
        (taut(0.0599), None),
        (taut(0.0601), "sag-high"),
        (taut(0.0101), None),
        (taut(0.0099), "sag-low"),
        (replace(LINE, reference_c=None), "temperature-missing"),
        (replace(LINE, reference_c=60.0), None),
        (replace(LINE, reference_c=60.1), "temperature-range"),
        (replace(LINE, reference_c=-50.1), "temperature-range"),
    ],
)
def test_line_as_entered(line, code):
    found = line_problem(line)
    assert (found and found.code) == code
    assert found is None or "%" not in found.sentence.replace(" %", "")


@pytest.mark.parametrize(
    ("line", "sentence"),
    [
        (
            replace(LINE, drop_m=59.06),
            FEET,
        ),
        (replace(LINE, drop_m=150.0), "A slope of 50 % is outside -5 to 15 %."),
        (replace(LINE, span_m=19.0), "A span of 19 m is outside 20 to 1500 m."),
        (taut(0.0625), "A sag of 6.25 % of the span is over 6 %: slack, or a wrong tension or unit."),
        (taut(0.0075), "A sag of 0.75 % of the span is under 1 %: too taut for this method, or a wrong unit."),
        (replace(LINE, tension_n=-15e3), "A tension of -15000 N is not possible on this cable."),
    ],
)
def test_reasons_name_their_figures(line, sentence):
    assert line_problem(line).sentence == sentence


def test_a_rope_may_be_as_stiff_as_a_bar_of_steel():
    """E / density of steel 210e9 / 7850 = 2.68e7 (textbook); the bounds themselves are allowed."""
    for stiffness in (2.7e7, 3.5e6):
        assert site_problem(replace(LINE, cable=Cable(1.0, stiffness))) is None
    assert site_problem(replace(LINE, span_m=20.0, drop_m=1.0)) is None
    for mass, stiffness in ((0.2, 2e6), (3.0, 3e7)):
        assert site_problem(replace(LINE, cable=Cable(mass, stiffness))) is None
    assert site_problem(replace(LINE, span_m=1500.0, drop_m=225.0)) is None


def test_site_does_not_need_a_tension():
    assert site_problem(replace(LINE, tension_n=None)) is None
    assert site_problem(replace(LINE, drop_m=None)).code == "drop-missing"


def test_temperature_in_fahrenheit_is_noticed():
    assert temperature_problem(72.0).code == "temperature-range"
    assert temperature_problem(-50.0) is None


def test_sag_needs_its_figures():
    with pytest.raises(TypeError):
        sag_share(replace(LINE, span_m=None), 15e3)


def test_density_of_the_standard_atmosphere():
    """1.225 kg/m³ at 15 °C and 101 325 Pa; 1.007 at 2 °C and 79 495 Pa (2000 m) (standard atmosphere, from memory)."""
    assert air_density(15.0) == pytest.approx(1.225, abs=2e-4)
    assert air_density(2.0, 79_495.0) == pytest.approx(1.0066, abs=1e-3)


def test_only_listed_reasons_are_given():
    with pytest.raises(KeyError):
        refuse("because")
    with pytest.raises(KeyError):
        refuse("mass-range", value=3.0)
    assert refuse("mass-range", value=1 / 3, low=25, high=150).params[0] == ("value", "0.333333")
    named = refuse("figure-impossible", name="lay", value=-1)
    assert named.params == (("name", "lay"), ("value", "-1"))


def test_sentences_are_whole():
    for code, sentence in SENTENCES.items():
        assert sentence.endswith("."), code
        assert sentence[0].isupper(), code
    assert refusal.Refusal("wind-missing").sentence == "The wind is not measured."
