"""Figures as typed. Conversions are checked against the units' definitions (1959 agreement, SI, standard gravity)."""

from datetime import date
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engineering.exact import exact_text, parse_exact, rounded, rounded_to, shown_bound
from engineering.typed import (
    SENTENCES,
    SUGGESTIONS,
    Unclear,
    doubtful,
    read_count,
    read_date,
    read_figure,
    read_mark,
    read_pair,
    read_yes_no,
)
from engineering.units import UNITS, convert


@pytest.mark.parametrize(
    ("text", "unit", "exact", "typed_unit"),
    [
        ("11.8", "mm", "11.8", "mm"),
        ("11,8", "mm", "11.8", "mm"),
        ("11,80", "mm", "11.8", "mm"),
        ("11.8mm", "mm", "11.8", "mm"),
        ("11.8 mm", "mm", "11.8", "mm"),
        ("11.8 MM", "mm", "11.8", "mm"),
        ("11.8\u202fmm", "mm", "11.8", "mm"),  # narrow no-break space
        (" 11.8 ", "mm", "11.8", "mm"),
        ("+11.8", "mm", "11.8", "mm"),
        (".5", "mm", "0.5", "mm"),
        ("1.250", "m", "1.25", "m"),
        ("0", "mm", "0", "mm"),
        ("\u0661\u0661\u066b\u0668", "mm", "11.8", "mm"),  # Arabic-Indic digits and decimal sign
        ("\uff11\uff11\uff0e\uff18", "mm", "11.8", "mm"),  # full-width
        ("\u0967\u0967.\u096e", "mm", "11.8", "mm"),  # Devanagari digits
        ("\u200f11.8", "mm", "11.8", "mm"),  # mark of writing direction
        # 1 in = 25.4 mm exactly.
        ("0.46 in", "mm", "11.684", "in"),
        ('0.46"', "mm", "11.684", "in"),
        ("0.46 Inches", "mm", "11.684", "in"),
        ("15/32 in", "mm", "11.90625", "in"),
        ('1 1/2"', "mm", "38.1", "in"),
        ("1-1/2 in", "mm", "38.1", "in"),
        ("1\u00bd in", "mm", "38.1", "in"),  # one and a half, not eleven halves
        ("15/32", "in", "0.46875", "in"),
        ("11.8 cm", "mm", "118", "cm"),
        ("500 g", "kg", "0.5", "g"),
        ("1.2 g", "g0", "1.2", "g0"),
        ("176 lb", "kg", "79.83225712", "lb"),  # 0.45359237 kg
        ("65 ft-lb", "Nm", "88.128166641541026", "ft-lb"),  # 1.3558179483314004 Nm
        ("15 mph", "m/s", "6.7056", "mph"),  # 15 mph = 6.706 m/s
        ("24 km/h", "m/s", "20/3", "km/h"),
        ("32 F", "degC", "0", "degF"),
        ("-40 \u00b0F", "degC", "-40", "degF"),
        ("20 %", "%", "20", "%"),
        ("45\u00b0", "deg", "45", "deg"),
    ],
)
def test_figure_is_read_exactly(text, unit, exact, typed_unit):
    figure = read_figure(text, unit, signed=unit == "degC")

    assert (figure.exact, figure.unit, figure.typed_unit) == (exact, unit, typed_unit)
    assert figure.is_converted == (typed_unit != unit)
    assert figure.text == text.strip()


@pytest.mark.parametrize(
    ("text", "unit", "code"),
    [
        ("", "mm", "empty"),
        (" \u2009 ", "mm", "empty"),
        ("abc", "mm", "nonsense"),
        ("O.8", "mm", "nonsense"),
        ("--5", "mm", "nonsense"),
        ("nan", "mm", "nonsense"),
        ("inf", "mm", "nonsense"),
        ("0x1f", "mm", "nonsense"),
        ("1_000", "mm", "nonsense"),
        ("1'250", "mm", "nonsense"),
        ("11\u00b78", "mm", "nonsense"),
        ("11\u00b2", "mm", "nonsense"),  # a superscript is no digit
        ("~11.8", "mm", "nonsense"),
        ("<11.8", "mm", "nonsense"),
        ("11.", "mm", "unfinished"),
        ("11,", "mm", "unfinished"),
        ("1,250", "mm", "comma-three"),
        ("0,250", "m", "comma-three"),
        ("1,250.5", "mm", "two-signs"),
        ("1.250,5", "mm", "two-signs"),
        ("1,250,000", "mm", "two-signs"),
        ("1 250", "mm", "two-numbers"),
        ("1\u2009250", "mm", "two-numbers"),  # a thin space between thousands is not guessed either
        ("11.8 11.7", "mm", "two-numbers"),
        ("11.8/11.7", "mm", "two-numbers"),
        ("11-12", "mm", "two-numbers"),
        ("11 / 12", "mm", "two-numbers"),
        ("1e3", "mm", "exponent"),
        ("1.5E-3 m", "m", "exponent"),
        ("3 x 10", "mm", "exponent"),
        ("-5", "mm", "negative"),
        ("\u22125", "mm", "negative"),  # minus sign
        ("15/32", "mm", "fraction-unit"),
        ("15/33 in", "mm", "fraction-odd"),
        ("1 33/32 in", "mm", "fraction-odd"),
        ("1/0 in", "mm", "fraction-odd"),
        ("1/2 kg", "kg", "two-numbers"),
        ("11.8 kg", "mm", "unit-other"),
        ("11.8 wires", "mm", "unit-unknown"),
        ("3 mm", "count", "unit-other"),
        ("5 kN", "m/s", "unit-other"),  # not knots
        ("12 kn", "kN", "unit-other"),  # not kilonewtons
        ("200 lb", "kN", "unit-other"),  # pounds of weight are no force
        ("5 ton", "kg", "unit-ambiguous"),
        ("1234567890123456", "mm", "too-long"),
        ("1" + " " * 60, "mm", "too-long"),
    ],
)
def test_unclear_figure_is_asked_back(text, unit, code):
    with pytest.raises(Unclear) as asked:
        read_figure(text, unit)

    assert asked.value.code == code
    assert "%(" not in asked.value.sentence + asked.value.suggestion
    assert asked.value.sentence.endswith((".", "?"))


@pytest.mark.parametrize(
    ("text", "unit", "choices"),
    [
        ("1,250", "m", ("1.250", "1250")),
        ("-1,250", "degC", ("-1.250", "-1250")),
        ("11.", "mm", ("11",)),
        ("15/32", "mm", ("15/32 in",)),
    ],
)
def test_question_offers_what_may_be_meant_and_each_choice_is_clear(text, unit, choices):
    with pytest.raises(Unclear) as asked:
        read_figure(text, unit, signed=True)

    assert asked.value.choices == choices
    for choice in choices:
        assert read_figure(choice, unit, signed=True).value


def test_every_question_has_its_sentence():
    assert set(SUGGESTIONS) <= set(SENTENCES)


@pytest.mark.parametrize(("text", "value"), [("0", 0), ("12", 12), ("\u0663", 3)])
def test_count_is_whole(text, value):
    assert read_count(text).value == value


@pytest.mark.parametrize(
    ("text", "code"), [("3.5", "not-whole"), ("3.0", "not-whole"), ("-1", "negative"), ("three", "nonsense")]
)
def test_anything_but_a_whole_number_is_no_count(text, code):
    with pytest.raises(Unclear) as asked:
        read_count(text)

    assert asked.value.code == code


@pytest.mark.parametrize(
    ("text", "unit", "exact"),
    [
        ("11.8 / 11.7", "mm", "11.75"),  # the mean of two readings at right angles: ISO 4309 (READ-2)
        ("11.8/11.7", "mm", "11.75"),
        ("11,8;11,7", "mm", "11.75"),
        ("11.8 / 11.7 mm", "mm", "11.75"),
        ("11.8 mm / 11.7 mm", "mm", "11.75"),
        ("0.46 / 0.45 in", "mm", "11.557"),
        ("15/32 in / 29/64 in", "mm", "11.7078125"),
        ("15/32 / 29/64", "in", "0.4609375"),
        ("12.00 / 12.01", "mm", "12.005"),
    ],
)
def test_pair_is_the_mean(text, unit, exact):
    figure = read_pair(text, unit)

    assert figure.exact == exact
    assert sum(figure.parts) / 2 == figure.value


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("11.8", "one-reading"),
        ("15/32 in", "one-reading"),  # not fifteen and thirty-two
        ("15/32", "far-apart"),
        ("11.8 / 11.7 / 11.6", "two-numbers"),
        ("11.8 11.7", "two-numbers"),
        ("11.8 mm / 0.46 in", "mixed-units"),
        ("1,250 / 11.7", "comma-three"),
        ("", "empty"),
        ("11.8 / ", "nonsense"),
    ],
)
def test_unclear_pair_is_asked_back(text, code):
    with pytest.raises(Unclear) as asked:
        read_pair(text, "mm")

    assert asked.value.code == code


def test_marks_and_answers():
    assert [read_mark(text) for text in ("sound", "OK", " Watch", "defective")] == ["sound", "sound", "watch", "defect"]
    assert [read_yes_no(text) for text in ("Yes", "n")] == [True, False]
    for read, text in ((read_mark, "yes"), (read_mark, "no"), (read_mark, "fine"), (read_yes_no, "ok")):
        with pytest.raises(Unclear):
            read(text)


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("03/04/2025", "date-order"),
        ("3.4.25", "date-order"),
        ("2025-13-01", "date"),
        ("2025-02-29", "date"),
        ("2025-W01-1", "date"),
        ("20250304", "date"),
        ("0001-01-01", "date"),
        ("yesterday", "date"),
        ("2025-06-02", "date-ahead"),
    ],
)
def test_unclear_date_is_asked_back(text, code):
    with pytest.raises(Unclear) as asked:
        read_date(text, not_after=date(2025, 6, 1))

    assert asked.value.code == code


def test_date_is_read():
    assert read_date("2025-06-01", not_after=date(2025, 6, 1)) == date(2025, 6, 1)


# Judgement: five times more or less, or inches within 15 %.
@pytest.mark.parametrize(
    ("value", "last", "nominal", "code"),
    [
        ("118", "11.8", "12", "tenfold-last"),
        ("1.18", "11.8", "12", "tenfold-last"),
        ("59", "11.8", None, "tenfold-last"),
        ("58.9", "11.8", None, None),
        ("2.36", "11.8", None, "tenfold-last"),
        ("2.37", "11.8", None, None),
        ("118", None, "12", "tenfold-nominal"),
        ("0.46", "11.8", "12", "inches"),
        ("0.46", None, "12", "inches"),
        ("0.3", None, "12", "tenfold-nominal"),  # 7.6 mm, more than 15 % off
        ("0", "11.8", "12", "tenfold-last"),
        ("3", "0", None, None),
        ("11.7", "11.8", "12", None),
        ("11.7", None, None, None),
    ],
)
def test_doubtful_figures_are_asked_again(value, last, nominal, code):
    doubt = doubtful(
        Fraction(value),
        None if last is None else Fraction(last),
        None if nominal is None else Fraction(nominal),
        unit="mm",
    )

    assert (doubt.code if doubt else None) == code
    if doubt:
        assert "%(" not in doubt.sentence


def test_inches_are_only_suspected_in_a_millimetre_field():
    assert doubtful(Fraction("0.46"), None, Fraction(12), unit="m").code == "tenfold-nominal"


@given(st.decimals(min_value=0, max_value=Decimal("99999999"), places=4))
def test_a_plain_decimal_is_kept_to_the_last_digit(number):
    text = format(number, "f")

    assert read_figure(text, "mm").value == Fraction(number)
    assert parse_exact(read_figure(text, "mm").exact) == Fraction(number)


def outcome(read, text):
    """Return the figure or the question: anything else that is raised is a fault."""
    try:
        return read(text, "mm")
    except Unclear as asked:
        return asked


@given(st.text(max_size=60))
def test_any_text_is_a_figure_or_a_question(text):
    found = outcome(read_figure, text)

    assert found.sentence if isinstance(found, Unclear) else isinstance(found.value, Fraction)


@given(st.text(alphabet="0123456789.,/ -;inm\"'", max_size=30), st.sampled_from([read_figure, read_pair]))
def test_anything_near_a_figure_is_a_figure_or_a_question(text, read):
    found = outcome(read, text)

    if isinstance(found, Unclear):
        assert found.sentence
    else:
        assert found.value >= 0
        assert len(found.exact) <= 60


@given(st.fractions(max_denominator=10**6), st.sampled_from(sorted(UNITS)), st.sampled_from(sorted(UNITS)))
def test_conversion_there_and_back_is_exact(value, first, second):
    if UNITS[first].dimension == UNITS[second].dimension:
        assert convert(convert(value, first, second), second, first) == value
    else:
        with pytest.raises(ValueError, match="same thing"):
            convert(value, first, second)


@given(st.fractions())
def test_exact_text_loses_nothing(value):
    text = exact_text(value)
    if len(text) <= 40:
        assert parse_exact(text) == value


@pytest.mark.parametrize("text", ["1e3", "1,5", " 1", "1/0", "1/-2", "", "--1", ".5", "5.", "1/2/3", "\u0661"])
def test_stored_numbers_have_one_grammar(text):
    with pytest.raises(ValueError, match=r"exact number|divided"):
        parse_exact(text)


def test_a_limit_beside_a_close_value_is_shown_with_more_decimals():
    limit = Fraction(176, 15)  # 11.7333...

    assert shown_bound(limit, Fraction("11.7335"), low=True) == "11.7334"
    assert shown_bound(limit, Fraction("11.73333"), low=True) == "11.734"


@given(st.fractions(min_value=0, max_value=1000), st.fractions(min_value=0, max_value=1000))
def test_a_shown_limit_is_never_laxer_than_the_limit(bound, value):
    assert Fraction(shown_bound(bound, None, low=True)) >= bound
    assert Fraction(shown_bound(bound, None, low=False)) <= bound
    shown_low = Fraction(shown_bound(bound, value, low=True))
    if abs(value - bound) > Fraction(1, 10**6):
        assert (value < bound) == (value < shown_low)


@pytest.mark.parametrize(
    ("value", "places", "toward", "expected"),
    [
        ("0.125", 2, "nearest", "0.13"),
        ("-0.125", 2, "nearest", "-0.13"),
        ("-1.01", 0, "up", "-1"),
        ("-1.01", 0, "down", "-2"),
    ],
)
def test_rounding(value, places, toward, expected):
    assert rounded(Fraction(value), places, toward) == Fraction(expected)


# Significant digits as in any table (common practice); a whole number is never cut, and nought has none to round.
@pytest.mark.parametrize(
    ("value", "digits", "expected"),
    [
        ("0.66666", 4, "0.6667"),
        ("0.000012345", 4, "0.00001235"),  # halves away from zero
        ("12.345", 4, "12.35"),
        ("12.345", 2, "12"),
        ("9.996", 3, "10"),
        ("-12.345", 4, "-12.35"),
        ("1", 3, "1"),
        ("12345.6", 5, "12346"),
        ("12345.6", 4, "12345.6"),
        ("0", 3, "0"),
    ],
)
def test_rounding_to_significant_digits(value, digits, expected):
    assert rounded_to(Fraction(value), digits) == Fraction(expected)
