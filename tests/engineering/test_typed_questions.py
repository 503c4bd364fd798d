"""The question put to a technician whose figure is not clear: its words, what it names, what it offers for a tap."""

from datetime import date
from fractions import Fraction

import pytest

from engineering.typed import Unclear, doubtful, read_count, read_date, read_figure, read_mark, read_pair, read_yes_no

TON = "t of 1000 kg, long ton or short ton"
ISO = "Type year-month-day, as in 2025-03-04."


@pytest.mark.parametrize(
    ("text", "unit", "sentence", "suggestion"),
    [
        ("", "mm", "Nothing was entered.", ""),
        ("1" * 16, "mm", "That is too long for a figure.", ""),
        ("~11.8", "mm", "“~11.8” is not a figure.", ""),
        ("1_000", "mm", "“1_000” is not a figure.", ""),
        ("11,", "mm", "“11,” ends with its decimal sign.", "Type 11, or the missing digits."),
        ("1,250", "m", "Does “1,250” mean a decimal or thousands?", "Type 1.250 or 1250."),
        (",250", "m", "Does “,250” mean a decimal or thousands?", "Type 0.250 or 250."),
        ("0,000", "m", "Does “0,000” mean a decimal or thousands?", "Type 0.000 or 0."),
        ("1,250.5", "mm", "“1,250.5” has two decimal signs.", "Type it without a sign for thousands."),
        ("11.8 11.7", "mm", "“11.8 11.7” holds more than one number.", "Type one figure."),
        ("1/2 kg", "kg", "“1/2 kg” holds more than one number.", "Type one figure."),
        ("-5", "mm", "A figure below nought cannot be here.", ""),
        ("5 ton", "kg", f"“ton” can mean different things ({TON}).", "Type the figure in kg."),
        ("8 kg", "mm", "This figure is asked for in mm; “kg” measures something else.", "Type the figure in mm."),
        (
            "3 mm",
            "count",
            "This figure is asked for in a plain number; “mm” measures something else.",
            "Type the figure in a plain number.",
        ),
        ("8 wires", "mm", "“wires” is not a unit known here.", "Type the figure in mm."),
        ("1 2/2 in", "in", "“1 2/2 in” is not a fraction of an inch gauge (halves to 128ths).", ""),
        ("15/32", "mm", "A fraction is read in inches only: type the unit too.", "Type 15/32 in."),
    ],
)
def test_the_question_names_what_was_typed_and_offers_a_way_out(text, unit, sentence, suggestion):
    with pytest.raises(Unclear) as asked:
        read_figure(text, unit)

    assert (asked.value.sentence, asked.value.suggestion) == (sentence, suggestion)
    assert str(asked.value) == sentence


@pytest.mark.parametrize(
    ("text", "sentence", "suggestion"),
    [
        ("11.8", "Two readings are needed, at right angles.", "Type both, as in 11.8 / 11.7."),
        (" 11.8/11.7/11.6 ", "“11.8/11.7/11.6” holds more than one number.", "Type one figure."),
        ("11.8 / -11.7", "A figure below nought cannot be here.", ""),
        ("-11.8", "A figure below nought cannot be here.", ""),
        (
            "10 / 15.1",
            "The two readings differ too much to be of one diameter.",
            "Measure again; if the rope is flat, mark its condition.",
        ),
    ],
)
def test_an_unclear_pair_is_asked_about_likewise(text, sentence, suggestion):
    with pytest.raises(Unclear) as asked:
        read_pair(text, "mm")

    assert (asked.value.sentence, asked.value.suggestion) == (sentence, suggestion)


def test_fifteen_digits_are_a_figure_and_sixteen_a_slip():
    assert read_figure("123456789012345", "mm").exact == "123456789012345"
    assert read_figure("0.12345678901234", "mm").exact == "0.12345678901234"
    with pytest.raises(Unclear, match="too long"):
        read_figure("1234567890123456", "mm")


def test_sixty_signs_are_kept_and_one_more_is_too_long():
    assert read_figure("1" + " " * 59, "mm").exact == "1"
    with pytest.raises(Unclear, match="too long"):
        read_figure("1" + " " * 60, "mm")


# Signs that keyboards put in place of the plain ones (Unicode names in brackets).
@pytest.mark.parametrize(
    ("text", "unit", "exact"),
    [
        ("11\uff0c8", "mm", "11.8"),  # fullwidth comma
        ("15\u204432 in", "in", "0.46875"),  # fraction slash
        ("15\u221532 in", "in", "0.46875"),  # division slash
        ("5\u2032", "ft", "5"),  # prime
        ("5\u2019", "ft", "5"),  # right single quotation mark
        ("5\u2033", "in", "5"),  # double prime
        ("5\u201d", "in", "5"),  # right double quotation mark
        ("\uff0d5", "degC", "-5"),  # fullwidth hyphen-minus
        ("\u22125", "degC", "-5"),  # minus sign
        ("\u20135", "degC", "-5"),  # en dash
        ("\u20105", "degC", "-5"),  # hyphen
        ("\u20115", "degC", "-5"),  # non-breaking hyphen
    ],
)
def test_a_sign_from_another_key_means_the_same(text, unit, exact):
    assert read_figure(text, unit, signed=True).exact == exact


@pytest.mark.parametrize("quotes", ["\u2033", "\u201d", "''", "\u2032\u2032", "\u2019\u2019"])
def test_a_fraction_before_any_inch_sign_is_one_reading(quotes):
    with pytest.raises(Unclear) as asked:
        read_pair(f"15/32{quotes}", "mm")

    assert asked.value.code == "one-reading"


@pytest.mark.parametrize("text", ["9.81 m/s2", "9.81 m/s^2", "9.81 m/s\u00b2", "9.81m/s2"])
def test_the_digit_in_a_unit_is_no_second_number(text):
    assert read_figure(text, "m/s2").exact == "9.81"


@pytest.mark.parametrize(("text", "code"), [("5X3", "nonsense"), ("5 X3", "two-numbers"), ("5;3", "two-numbers")])
def test_a_second_number_is_told_from_a_slip(text, code):
    with pytest.raises(Unclear) as asked:
        read_figure(text, "mm")

    assert asked.value.code == code


def test_a_plus_is_not_offered_back():
    with pytest.raises(Unclear) as asked:
        read_figure("+1,250", "mm")

    assert asked.value.choices == ("1.250", "1250")


def test_half_a_foot_is_written_as_a_fraction_too():
    # 1 ft = 304.8 mm exactly.
    assert read_figure("1/2 ft", "mm").exact == "152.4"
    assert read_figure("1 1/2", "ft").exact == "1.5"


def test_two_readings_half_as_far_apart_again_are_still_a_pair():
    assert read_pair("10 / 15", "mm").value == Fraction(25, 2)  # judgement: from one and a half times on it is no rope


def test_a_pair_keeps_what_was_typed():
    inches, plain = read_pair(" 0.46 / 0.45 in ", "mm"), read_pair("11.8/11.7", "mm")

    assert (inches.unit, inches.text, inches.typed_unit, inches.is_converted) == ("mm", "0.46 / 0.45 in", "in", True)
    assert inches.parts == (Fraction("11.684"), Fraction("11.43"))  # 1 in = 25.4 mm
    assert (plain.unit, plain.typed_unit, plain.is_converted) == ("mm", "mm", False)


@pytest.mark.parametrize(
    ("text", "unit"), [("15/32", "in"), ("15/32 in", "mm"), ('15/32"', "mm"), ("15/32 inches", "mm")]
)
def test_an_inch_fraction_is_one_reading_and_not_two(text, unit):
    with pytest.raises(Unclear) as asked:
        read_pair(text, unit)

    assert asked.value.code == "one-reading"


def test_a_count_is_counted_in_nothing_but_numbers():
    assert (read_count(" 12 ").unit, read_count(" 12 ").text) == ("count", "12")
    with pytest.raises(Unclear, match=r"^This is counted in whole numbers\.$"):
        read_count("3.5")
    with pytest.raises(Unclear) as asked:
        read_count("3 mm")
    assert asked.value.suggestion == "Type the figure in a plain number."


@pytest.mark.parametrize(
    ("text", "meant"),
    [("sound", "sound"), ("ok", "sound"), ("WATCH", "watch"), ("defect", "defect"), ("Defective", "defect")],
)
def test_a_mark_is_read(text, meant):
    assert read_mark(text) == meant


@pytest.mark.parametrize(
    ("text", "meant"),
    [("yes", True), ("Y", True), ("true", True), ("no", False), ("N", False), ("False", False)],
)
def test_an_answer_is_read(text, meant):
    assert read_yes_no(text) is meant


@pytest.mark.parametrize(
    ("read", "sentence", "choices"),
    [
        (read_mark, "“perhaps” says neither sound nor defective.", ("sound", "defect")),
        (read_yes_no, "“perhaps” says neither yes nor no.", ("yes", "no")),
    ],
)
def test_what_is_neither_is_asked_back_with_both(read, sentence, choices):
    with pytest.raises(Unclear) as asked:
        read(" perhaps ")

    assert (asked.value.sentence, asked.value.choices) == (sentence, choices)
    for choice in choices:
        read(choice)


@pytest.mark.parametrize(
    ("text", "sentence", "suggestion"),
    [
        (" 03/04/2025 ", "Day and month of “03/04/2025” could be swapped.", ISO),
        (" 2025-02-29 ", "“2025-02-29” is not a date.", ISO),
        ("1899-12-31 ", "“1899-12-31” is not a date.", ISO),
        ("2201-01-01", "“2201-01-01” is not a date.", ISO),
        ("2025-06-02", "2025-06-02 lies ahead of 2025-06-01.", ""),
    ],
)
def test_an_unclear_date_is_asked_about_in_its_own_words(text, sentence, suggestion):
    with pytest.raises(Unclear) as asked:
        read_date(text, not_after=date(2025, 6, 1) if text.startswith("2025-06") else None)

    assert (asked.value.sentence, asked.value.suggestion) == (sentence, suggestion)


@pytest.mark.parametrize("day", ["1900-01-01", "2200-12-31"])
def test_the_first_and_the_last_date_are_dates(day):
    assert read_date(day).isoformat() == day


# Judgement: five times more or less, or inches within 15 % (1 in = 25.4 mm exactly).
@pytest.mark.parametrize(
    ("value", "last", "nominal", "sentence"),
    [
        ("118", "11.8", "12", "118 mm is at least five times more or less than last time (11.8 mm)."),
        ("118", None, "12", "118 mm is at least five times more or less than the nominal figure (12 mm)."),
        ("0.5", None, "12", "0.5 mm looks like inches: 0.5 in would be 12.7 mm."),
        # 12.7 is 15 % of 12.7 / 1.15 over it: just in, and just out.
        ("0.5", None, "127/11.5", "0.5 mm looks like inches: 0.5 in would be 12.7 mm."),
        ("0.5", None, "127/11.51", None),
        ("0.1", "0.5", None, "0.1 mm is at least five times more or less than last time (0.5 mm)."),
    ],
)
def test_a_doubt_names_both_figures_with_their_unit(value, last, nominal, sentence):
    doubt = doubtful(
        Fraction(value),
        Fraction(last) if last else None,
        _fraction(nominal) if nominal else None,
        unit="mm",
    )

    if sentence:
        assert doubt.sentence == sentence
    else:
        assert doubt is None or doubt.code != "inches"


def _fraction(text):
    above, _, below = text.partition("/")
    return Fraction(above) / Fraction(below or 1)


def test_a_doubt_in_a_field_without_a_unit_names_plain_figures():
    doubt = doubtful(Fraction(50), Fraction(5), None)

    assert doubt.sentence == "50 is at least five times more or less than last time (5)."
