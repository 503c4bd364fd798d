"""Units against the definitions they rest on: SI Brochure, agreement of 1959 on yard and pound, fixed points."""

from fractions import Fraction

import pytest

from engineering.units import UNITS, convert, unit_named, with_unit

# NIST SP 811, appendix B.8 (from memory): factors in bold are exact, the others are printed to seven digits.
SP_811 = [
    ("in", "mm", "25.4", 0),
    ("ft", "m", "0.3048", 0),
    ("lb", "kg", "0.45359237", 0),
    ("mph", "m/s", "0.44704", 0),
    ("kn", "m/s", "0.5144444", "5e-8"),
    ("km/h", "m/s", "0.2777778", "5e-8"),
    ("lbf", "N", "4.448222", "5e-7"),
    ("ft-lb", "Nm", "1.355818", "5e-7"),
    ("in-lb", "Nm", "0.1129848", "5e-8"),
    ("lb/ft", "kg/m", "1.488164", "5e-7"),
    ("lbf/in", "N/m", "175.1268", "5e-5"),
    ("ft2", "m2", "0.09290304", 0),
    ("inHg", "Pa", "3386.389", "5e-4"),
    ("g0", "m/s2", "9.80665", 0),
]


@pytest.mark.parametrize(("unit", "other", "factor", "last_digit"), SP_811)
def test_factors_are_the_published_ones(unit, other, factor, last_digit):
    assert abs(convert(Fraction(1), unit, other) - Fraction(factor)) <= Fraction(last_digit)
    assert convert(convert(Fraction(7), unit, other), other, unit) == 7


# Ice point and steam point, the scales' one common figure, and absolute zero in both (common knowledge, exact).
@pytest.mark.parametrize(
    ("celsius", "fahrenheit"), [("0", "32"), ("100", "212"), ("-40", "-40"), ("-273.15", "-459.67")]
)
def test_temperature_scales_meet_at_their_fixed_points(celsius, fahrenheit):
    assert convert(Fraction(celsius), "degC", "degF") == Fraction(fahrenheit)
    assert convert(Fraction(fahrenheit), "degF", "degC") == Fraction(celsius)


def test_an_expansion_per_fahrenheit_degree_is_nine_fifths_of_it_per_kelvin():
    # 12 ppm/K of steel is 6.7 ppm/degF in imperial tables (common practice, no source).
    assert round(convert(Fraction(12), "ppm/K", "ppm/degF"), 1) == Fraction("6.7")
    assert convert(Fraction(1), "ppm/K", "1/K") == Fraction(1, 10**6)


@pytest.mark.parametrize(("one", "other"), [("mm", "kg"), ("N", "Nm"), ("degC", "1/K"), ("count", "1")])
def test_units_of_different_things_are_never_converted(one, other):
    with pytest.raises(ValueError, match=f"^{one} and {other} do not measure the same thing$"):
        convert(Fraction(1), one, other)


def test_capitals_decide_only_where_no_unit_is_written_so_letter_for_letter():
    # SI Brochure: symbols are case-sensitive, G is not g; here a newton is never a metre, whichever is asked for.
    assert unit_named("N", dimension="length").name == "N"
    assert unit_named("M", dimension="length").name == "m"
    assert unit_named("MM", dimension="length").name == "mm"
    assert unit_named("KNOTS", dimension="speed").name == "kn"
    assert unit_named("c", dimension="temperature").name == "degC"
    assert unit_named("furlong", dimension="length") is None


def test_a_symbol_of_two_dimensions_is_taken_in_the_one_asked_for():
    assert unit_named("g", dimension="mass").name == "g"
    assert unit_named("g", dimension="acceleration").name == "g0"
    assert unit_named("G", dimension="acceleration").name == "g0"
    assert unit_named("g", dimension="length").dimension == "mass"


@pytest.mark.parametrize(
    ("unit", "written"),
    [
        # SI Brochure 5.4.3: a space before the unit, none before the degree of an angle.
        ("mm", "7 mm"),
        ("deg", "7°"),
        ("degC", "7 °C"),
        ("%", "7 %"),
        ("m2", "7 m²"),
        ("g0", "7 g"),
        # What is counted and what is a ratio has no unit to write; a unit that is not in the table is written as given.
        ("count", "7"),
        ("1", "7"),
        ("-", "7"),
        ("", "7"),
        ("strands", "7 strands"),
    ],
)
def test_figure_is_written_with_its_unit(unit, written):
    assert with_unit("7", unit) == written


def test_every_unit_is_found_by_each_way_of_writing_it():
    for unit in UNITS.values():
        for text in (unit.name, *unit.aliases):
            assert unit_named(text, dimension=unit.dimension) is unit
