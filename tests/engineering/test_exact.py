"""Exact numbers written for people: rounded by hand here, never laxer than the limit, as many decimals as needed."""

from decimal import Decimal
from fractions import Fraction

import pytest

from engineering.exact import as_decimal, decimals_of, exact_text, parse_exact, rounded, shown, shown_bound

THIRDS = Fraction(176, 15)  # 11.7333...


@pytest.mark.parametrize(
    ("value", "how", "written"),
    [
        ("11.4", {}, "11.4"),
        ("11.4", {"least": 2}, "11.40"),
        ("11.4", {"least": 1}, "11.4"),
        ("12", {}, "12"),
        ("12", {"least": 1}, "12.0"),
        ("1.2345", {}, "1.2345"),
        ("1.23455", {}, "1.2346"),
        ("1.23455", {"toward": "down"}, "1.2345"),
        ("1.23451", {"toward": "up"}, "1.2346"),
        ("1.2345", {"most": 2}, "1.23"),
        ("1.235", {"most": 2}, "1.24"),
        ("-1.235", {"most": 2}, "-1.24"),
        ("0.05", {"most": 1}, "0.1"),
        ("0.004", {"most": 2}, "0.00"),
        ("-0.5", {}, "-0.5"),
        ("-12", {}, "-12"),
        ("0", {"least": 2}, "0.00"),
    ],
)
def test_a_figure_is_shown_with_the_decimals_it_has(value, how, written):
    assert shown(Fraction(value), **how) == written


def test_a_figure_without_end_is_cut_where_it_is_asked():
    assert shown(Fraction(40, 3)) == "13.3333"
    assert shown(Fraction(40, 3), most=2) == "13.33"
    assert shown(Fraction(40, 3), most=0) == "13"


@pytest.mark.parametrize(
    ("bound", "value", "low", "least", "written"),
    [
        (THIRDS, None, True, 0, "11.734"),
        (THIRDS, None, False, 0, "11.733"),
        (Fraction(5), None, True, 0, "5"),
        (Fraction(5), None, True, 2, "5.00"),
        (Fraction("11.4"), Fraction("11.39"), True, 2, "11.40"),
        (Fraction("11.4"), Fraction("11.4"), True, 1, "11.4"),
        # 11.7334 is more than the bound: it has to stand above it, which takes five decimals of the bound.
        (THIRDS, Fraction("11.7334"), True, 4, "11.73334"),
        (THIRDS, Fraction("11.73"), True, 2, "11.734"),
        (THIRDS, Fraction("11.733"), False, 3, "11.7333"),
        (THIRDS, Fraction("11.7333"), False, 4, "11.73333"),
        (THIRDS, Fraction("11.74"), False, 2, "11.733"),
        # Nothing that can be read shows the difference: the bound alone.
        (THIRDS, THIRDS, True, 0, "11.734"),
        (THIRDS, THIRDS, False, 0, "11.733"),
    ],
)
def test_a_bound_stands_on_the_right_side_of_the_value(bound, value, low, least, written):
    assert shown_bound(bound, value, low=low, least=least) == written


def test_a_bound_is_shown_with_no_more_decimals_than_it_has():
    assert shown_bound(Fraction("11.4"), None, low=True) == "11.4"
    assert shown_bound(Fraction(5), Fraction(4), low=True) == "5"


@pytest.mark.parametrize(
    ("value", "most", "expected"),
    [
        ("12", 4, 0),
        ("11.4", 4, 1),
        ("11.40", 4, 1),
        ("1.2345", 4, 4),
        ("1.23456", 4, 4),
        ("1.23456", 9, 5),
        ("1/3", 6, 6),
    ],
)
def test_decimals_are_counted(value, most, expected):
    assert decimals_of(parse_exact(value), most) == expected


def test_four_decimals_are_enough_unless_more_are_asked_for():
    assert decimals_of(Fraction(1, 3)) == 4
    assert decimals_of(Fraction("1.234567")) == 4


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("11.40", Fraction(57, 5)),
        ("-0.5", Fraction(-1, 2)),
        ("100/3", Fraction(100, 3)),
        ("0.1/3", Fraction(1, 30)),
        ("7/1", Fraction(7)),
        ("0/5", Fraction(0)),
        ("1" * 40, Fraction(int("1" * 40))),
    ],
)
def test_the_stored_grammar_is_read(text, value):
    assert parse_exact(text) == value


@pytest.mark.parametrize(
    "text", ["", "1e3", "1,5", " 1", "1.", ".5", "+1", "--1", "1/", "1/2/3", "1/-2", "1/0.5", "x", "1" * 41]
)
def test_anything_else_is_no_stored_number(text):
    with pytest.raises(ValueError, match=r"^not an exact number: "):
        parse_exact(text)


def test_nothing_is_divided_by_nought():
    for text in ("1/0", "0/00"):
        with pytest.raises(ValueError, match=f"^nothing can be divided by zero: '{text}'$"):
            parse_exact(text)


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (Fraction("11.40"), "11.4"), (Fraction(-5), "-5"), (Fraction(1, 3), "1/3"), (Fraction(-1, 3), "-1/3"),
        (Fraction(1, 8), "0.125"), (Fraction(1, 25), "0.04"), (Fraction(3, 40), "0.075"), (Fraction(0), "0"),
        (Fraction(7, 30), "7/30"), (Fraction(125, 9), "125/9"), (Fraction(-1, 1000), "-0.001"),
    ],
)  # fmt: skip
def test_a_number_is_stored_as_a_decimal_or_a_quotient(value, text):
    assert exact_text(value) == text
    assert parse_exact(text) == value


def test_a_decimal_of_twenty_eight_digits():
    assert as_decimal(Fraction("11.4")) == Decimal("11.4")
    assert as_decimal(Fraction(1, 3)) == Decimal("0." + "3" * 28)
    assert as_decimal(Fraction(2, 3)) == Decimal("0." + "6" * 27 + "7")


@pytest.mark.parametrize(
    ("value", "toward", "expected"),
    [
        ("-0.125", "nearest", "-0.13"), ("-0.125", "up", "-0.12"), ("-0.125", "down", "-0.13"),
        ("0.125", "nearest", "0.13"), ("0.124", "up", "0.13"), ("0.129", "down", "0.12"),
        ("0.12", "up", "0.12"), ("0.12", "down", "0.12"),
    ],
)  # fmt: skip
def test_up_and_down_are_along_the_number_line(value, toward, expected):
    assert rounded(Fraction(value), 2, toward) == Fraction(expected)
