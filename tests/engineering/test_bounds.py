"""Where a rule draws its lines: every kind's bounds worked out by hand, and what is said where there are none.

Figures are round ones, done in the head; the rules on shares are those of the module's text (a gauge takes at most a
fifth of the allowance, a part that grew by more than a fifth was measured wrongly: both judgement).
"""

from datetime import date
from fractions import Fraction

import pytest

from engineering.bounds import (
    Bounds,
    Unknowable,
    age_start,
    applies,
    bounds_of,
    chosen,
    day_of,
    months_later,
    number,
    positive,
)
from tests.engineering.test_rules import rule

FACTS = {"nominal": "100", "baseline": "90", "outer_wire": "2", "rope_diameter": "15"}
HALF = Fraction(1, 2)
LEFT = {"kind": "remaining_percent", "compare": "<"}
UP = {"kind": "max", "compare": ">"}
DOWN = {"kind": "min", "compare": "<"}
SIZES = {"by": "rope_diameter", "row": "upto", "table": "10:2 20:3 30:5"}


def drawn(facts=FACTS, **changes):
    return bounds_of(rule(**changes), facts)


def of_nominal(kind, **params):
    return {"kind": kind, "params": {"from": "nominal", **params}}


def of_baseline(kind, **params):
    return {"kind": kind, "params": {"from": "baseline", **params}}


def lines(found):
    return (found.low, found.high, found.watch_low, found.watch_high)


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        ({**UP, "params": {"limit": "50", "watch": "40"}}, (None, 50, None, 40)),
        ({**UP, "params": {"limit": "50", "watch_from": "0.6"}}, (None, 50, None, 30)),
        ({**UP, "params": {"limit": "50", "watch_from": "0.5", "origin": "40"}}, (None, 50, None, 45)),
        ({**UP, "params": {"limit": "3", "watch": "2", "limit_of": "outer_wire"}}, (None, 6, None, 4)),
        ({**UP, "params": {**SIZES, "limit": "2", "watch": "1"}}, (None, 6, None, 3)),
        ({**UP, "params": {**SIZES, "limit": "2", "limit_of": "outer_wire"}}, (None, 12, None, None)),
        ({**DOWN, "params": {"limit": "50", "watch": "60"}}, (50, None, 60, None)),
        ({**DOWN, "params": {"limit": "50", "watch_from": "0.6", "origin": "100"}}, (50, None, 70, None)),
        ({"kind": "range", "params": {"min": "10", "max": "30"}}, (10, 30, None, None)),
        ({"kind": "range", "params": {"min": "10", "max": "30", "watch_from": "0.8"}}, (10, 30, 12, 28)),
        (of_nominal("loss", limit="7", watch="5"), (93, None, 95, None)),
        (of_nominal("loss", limit="8", watch_from="0.5"), (92, None, 96, None)),
        (of_nominal("loss", limit="2", limit_of="outer_wire"), (96, None, None, None)),
        (of_baseline("loss_percent", limit="10", watch="5"), (81, None, 85 + HALF, None)),
        (of_baseline("loss_percent", of="nominal", limit="10"), (80, None, None, None)),
        (of_baseline("gain_percent", limit="10", watch="5"), (None, 99, None, 94 + HALF)),
        (of_nominal("deviation", limit="3", watch="2"), (97, 103, 98, 102)),
        (of_nominal("deviation", limit="4", watch_from="0.5"), (96, 104, 98, 102)),
        (of_baseline("deviation_percent", limit="10", watch="5"), (81, 99, 85 + HALF, 94 + HALF)),
        ({**LEFT, "params": {"of": "nominal", "limit": "20", "watch": "30"}}, (None, 80, None, 70)),
        ({**LEFT, "params": {"of": "nominal", "limit": "20", "watch_from": "0.5"}}, (None, 80, None, 40)),
        ({"kind": "equals", "compare": "!=", "params": {"to": "nominal"}}, (100, 100, None, None)),
    ],
)  # fmt: skip
def test_every_kind_draws_its_lines(changes, expected):
    assert lines(drawn(**changes)) == expected


@pytest.mark.parametrize(
    ("changes", "impossible"),
    [
        ({**UP, "params": {"limit": "50"}}, (0, None)),
        ({**UP, "params": {"limit": "50", "signed": "yes"}}, (None, None)),
        ({**UP, "params": {"limit": "50", "highest": "180"}}, (0, 180)),
        ({"kind": "range", "params": {"min": "1", "max": "3", "highest": "9"}}, (0, 9)),
        (of_nominal("deviation", limit="3", signed="yes", highest="200"), (None, 200)),
        (of_nominal("loss", limit="7"), (0, 120)),
        (of_nominal("loss_percent", limit="7", impossible_percent="5"), (0, 105)),
        (of_nominal("loss_percent", limit="7", impossible_percent="0"), (0, 100)),
        (of_nominal("gain_percent", limit="7"), (80, None)),
        (of_nominal("gain_percent", limit="7", impossible_percent="5"), (95, None)),
        ({**LEFT, "params": {"of": "nominal", "limit": "20"}}, (0, None)),
    ],
)  # fmt: skip
def test_beyond_what_can_be_a_reading_is_not_believed(changes, impossible):
    found = drawn(**changes)

    assert (found.impossible_low, found.impossible_high) == impossible
    low, high = impossible
    assert low is None or (found.impossible(Fraction(low) - 1) and not found.impossible(Fraction(low)))
    assert high is None or (found.impossible(Fraction(high) + 1) and not found.impossible(Fraction(high)))


@pytest.mark.parametrize(
    ("compare", "kind", "at"), [(">", "max", False), (">=", "max", True), ("<", "min", False), ("<=", "min", True)]
)
def test_the_line_itself_is_past_the_limit_only_where_the_rule_says_so(compare, kind, at):
    found = drawn(kind=kind, compare=compare, params={"limit": "50", "watch": "50"})

    assert found.breach_at is at
    assert found.breached_by(Fraction(50)) is at
    assert found.watched_by(Fraction(50)) is at
    worse = Fraction(51) if kind == "max" else Fraction(49)
    assert found.breached_by(worse)
    assert not found.breached_by(100 - worse)


@pytest.mark.parametrize(("compare", "at"), [("<", False), ("<=", True)])
def test_what_is_left_at_the_very_share_is_past_only_where_the_rule_says_so(compare, at):
    found = drawn(kind="remaining_percent", compare=compare, params={"of": "nominal", "limit": "20", "watch": "30"})

    assert found.breach_at is at
    assert (found.breached_by(Fraction(80)), found.watched_by(Fraction(70))) == (at, at)
    assert found.breached_by(Fraction(81))


def test_an_equal_figure_is_not_past_and_any_other_is():
    found = drawn(kind="equals", compare="!=", params={"to": "nominal"})

    assert [found.breached_by(Fraction(value)) for value in (99, 100, 101)] == [True, False, True]
    assert (found.breach_at, found.origin) == (False, 100)


def test_the_way_left_is_that_to_the_nearer_line():
    both = Bounds(Fraction(10), Fraction(30), False)

    assert [both.margin(Fraction(value)) for value in (9, 12, 20, 25, 31)] == [-1, 2, 10, 5, -1]
    assert Bounds(Fraction(10), None, False).margin(Fraction(50)) == 40
    assert Bounds(None, Fraction(30), False).margin(Fraction(50)) == -20
    assert Bounds(None, None, False).margin(Fraction(50)) is None


@pytest.mark.parametrize(
    ("bounds", "value", "gauge", "near"),
    [
        # Allowance 10, so at most 2 of gauge: lower line 90 of 100.
        (Bounds(Fraction(90), None, False, Fraction(100)), "90.9", "1", True),
        (Bounds(Fraction(90), None, False, Fraction(100)), "91", "1", False),
        (Bounds(Fraction(90), None, True, Fraction(100)), "91", "1", True),
        (Bounds(Fraction(90), None, False, Fraction(100)), "91.9", "7", True),
        (Bounds(Fraction(90), None, False, Fraction(100)), "92", "7", False),
        (Bounds(Fraction(90), None, False, Fraction(100)), "90", "0", False),
        (Bounds(Fraction(90), None, True, Fraction(100)), "90", "0", False),
        # Upper line 110, and one counted from nought: a fifth of 110 is 22.
        (Bounds(None, Fraction(110), False, Fraction(100)), "109.1", "1", True),
        (Bounds(None, Fraction(110), False, Fraction(100)), "109", "1", False),
        (Bounds(None, Fraction(110), False, Fraction(100)), "108.1", "7", True),
        (Bounds(None, Fraction(110), False, Fraction(100)), "108", "7", False),
        (Bounds(None, Fraction(110), False), "88.1", "70", True),
        (Bounds(None, Fraction(110), False), "88", "70", False),
        # Both lines, 10 from the middle each.
        (Bounds(Fraction(90), Fraction(110), False, Fraction(100)), "91.9", "7", True),
        (Bounds(Fraction(90), Fraction(110), False, Fraction(100)), "108.1", "7", True),
        (Bounds(Fraction(90), Fraction(110), False, Fraction(100)), "100", "7", False),
    ],
)
def test_a_gauge_hides_at_most_a_fifth_of_the_allowance(bounds, value, gauge, near):
    assert bounds.near(Fraction(value), Fraction(gauge)) is near


@pytest.mark.parametrize(
    ("row", "size", "value"),
    [
        ("upto", "5", 2), ("upto", "10", 2), ("upto", "10.01", 3), ("upto", "30", 5),
        ("from", "10", 2), ("from", "19.99", 2), ("from", "20", 3), ("from", "99", 5),
        ("exact", "10", 2), ("exact", "20", 3), ("exact", "30", 5),
    ],
)  # fmt: skip
def test_a_size_between_two_rows_takes_the_row_that_the_rule_says(row, size, value):
    found = drawn({"rope_diameter": size}, **UP, params={**SIZES, "row": row, "limit": "1"})

    assert found.high == value


@pytest.mark.parametrize(("row", "size"), [("upto", "30.01"), ("from", "9.99"), ("exact", "15")])
def test_a_size_that_no_row_fits_is_beyond_the_table(row, size):
    beyond = {"rope_diameter": size}
    with pytest.raises(Unknowable, match=r"^beyond-table$") as asked:
        drawn(beyond, **UP, params={**SIZES, "row": row, "limit": "1"})

    assert asked.value.params == {"fact": "rope_diameter"}


def test_a_table_may_end_before_its_last_row_reaches():
    last = {**SIZES, "row": "from", "limit": "1", "last": "40"}

    assert drawn({"rope_diameter": "40"}, **UP, params=last).high == 5
    with pytest.raises(Unknowable, match=r"^beyond-table$"):
        drawn({"rope_diameter": "40.1"}, **UP, params=last)


@pytest.mark.parametrize(
    ("facts", "code", "params"),
    [
        ({}, "fact-missing", {"fact": "nominal"}),
        ({"nominal": None}, "fact-missing", {"fact": "nominal"}),
        ({"nominal": "  "}, "fact-missing", {"fact": "nominal"}),
        ({"nominal": "ten"}, "fact-unreadable", {"fact": "nominal", "value": "ten"}),
        ({"nominal": "0"}, "fact-unreadable", {"fact": "nominal", "value": "0"}),
        ({"nominal": " -1 "}, "fact-unreadable", {"fact": "nominal", "value": "-1"}),
    ],
)
def test_a_fact_that_is_not_there_or_makes_no_sense_is_named(facts, code, params):
    with pytest.raises(Unknowable) as asked:
        positive("nominal", facts)

    assert (asked.value.code, asked.value.params, str(asked.value)) == (code, params, code)


def test_a_fact_is_read_without_the_spaces_around_it():
    assert positive("nominal", {"nominal": " 0.5 "}) == Fraction(1, 2)
    assert number("nominal", {"nominal": "-3"}) == -3
    assert chosen("lay", {"lay": " lang "}) == "lang"
    assert day_of("day", {"day": " 2025-06-02 "}) == date(2025, 6, 2)
    with pytest.raises(Unknowable) as asked:
        chosen("lay", {"lay": "Lang"})
    assert (asked.value.code, asked.value.params) == ("fact-unreadable", {"fact": "lay", "value": "Lang"})


@pytest.mark.parametrize("text", ["2025-W01-1", "20250602", "2025-02-30", "2.6.2025", "x"])
def test_a_day_is_written_in_one_way_only(text):
    with pytest.raises(Unknowable) as asked:
        day_of("day", {"day": text})

    assert (asked.value.code, asked.value.params) == ("fact-unreadable", {"fact": "day", "value": text})


def test_a_start_of_nought_or_less_is_a_start_only_of_a_deviation():
    assert lines(drawn({"nominal": "-5"}, kind="deviation", params={"from": "nominal", "limit": "3"}))[:2] == (-8, -2)
    for kind in ("loss", "loss_percent", "gain_percent"):
        with pytest.raises(Unknowable, match=r"^fact-unreadable$"):
            drawn({"nominal": "0"}, kind=kind, params={"from": "nominal", "limit": "3"})
    with pytest.raises(Unknowable, match=r"^fact-unreadable$"):
        drawn({"nominal": "0"}, kind="deviation_percent", params={"from": "nominal", "limit": "3"})


def test_a_condition_hangs_on_its_fact_unless_another_is_plainly_not_met():
    one = rule(when={"lay": ["lang"], "stranded": ["yes"]})

    assert applies(rule(), {})
    assert applies(one, {"lay": "lang", "stranded": "yes"})
    assert not applies(one, {"lay": "ordinary", "stranded": "yes"})
    assert not applies(one, {"stranded": "no"})
    with pytest.raises(Unknowable) as asked:
        applies(one, {})
    assert asked.value.params == {"fact": "lay"}  # the first that is asked for
    with pytest.raises(Unknowable) as asked:
        applies(one, {"lay": "lang"})
    assert asked.value.params == {"fact": "stranded"}


# A month later is the same day of the month, or the month's last (as in civil law, e.g. section 188 BGB; from memory).
@pytest.mark.parametrize(
    ("start", "months", "end"),
    [
        ("2024-01-31", 1, "2024-02-29"), ("2025-01-31", 1, "2025-02-28"), ("2024-02-29", 12, "2025-02-28"),
        ("2024-02-29", 48, "2028-02-29"), ("2024-11-15", 1, "2024-12-15"), ("2024-12-15", 1, "2025-01-15"),
        ("2024-11-30", 3, "2025-02-28"), ("2024-05-31", 0, "2024-05-31"), ("2024-05-31", 25, "2026-06-30"),
    ],
)  # fmt: skip
def test_some_months_later(start, months, end):
    assert months_later(date.fromisoformat(start), months) == date.fromisoformat(end)


DAYS = {"kind": "age_days", "unit": "days", "compare": ">"}
MONTHS = {"kind": "age_months", "unit": "months", "compare": ">="}


def ordinal(text):
    return date.fromisoformat(text).toordinal()


def test_an_age_ends_on_a_day():
    facts = {"fitted": "2024-01-31", "day": "2024-06-01"}
    days = drawn(facts, **DAYS, params={"from": "fitted", "limit": "30", "watch": "20"})
    months = drawn(facts, **MONTHS, params={"from": "fitted", "limit": "13", "watch_from": "0.5"})

    assert lines(days) == (None, ordinal("2024-03-01"), None, ordinal("2024-02-20"))
    assert (days.breach_at, days.origin) == (False, ordinal("2024-01-31"))
    assert (months.high, months.breach_at) == (ordinal("2025-02-28"), True)
    assert months.watch_high == (ordinal("2024-01-31") + ordinal("2025-02-28")) / Fraction(2)
    assert (days.impossible_low, days.impossible_high) == (None, None)


def age(facts, names, text=""):
    return age_start(rule(**DAYS, params={"from": names, "limit": "30"}), facts, text)


def test_an_age_counts_from_the_first_date_that_is_there():
    facts = {"first_use": "2024-05-01", "made": "2023-01-01", "fitted": " "}

    assert age(facts, "fitted first_use made") == date(2024, 5, 1)
    assert age(facts, "made") == date(2023, 1, 1)
    assert age(facts, "reading made", "2024-01-02 ") == date(2024, 1, 2)
    assert age({"first_use": "2024-05-01", "made": "2024-05-01"}, "first_use made") == date(2024, 5, 1)


@pytest.mark.parametrize(
    ("facts", "names", "code", "params"),
    [
        ({}, "fitted made", "fact-missing", {"fact": "made"}),
        ({}, "reading", "reading-missing", {"fact": "reading"}),
        ({}, "reading made", "fact-missing", {"fact": "made"}),
        ({"fitted": "soon"}, "fitted", "fact-unreadable", {"fact": "fitted", "value": "soon"}),
        (
            {"fitted": "2024-01-01", "made": "2024-01-02"},
            "fitted made",
            "dates-contradict",
            {"fact": "fitted", "other": "made"},
        ),
        (
            {"fitted": "2024-03-01", "first_use": "2024-02-01", "made": "2024-02-02"},
            "fitted first_use made",
            "dates-contradict",
            {"fact": "first_use", "other": "made"},
        ),
    ],
)
def test_a_register_without_a_date_or_with_two_that_cannot_be(facts, names, code, params):
    with pytest.raises(Unknowable) as asked:
        age(facts, names)

    assert (asked.value.code, asked.value.params) == (code, params)


def test_a_part_fitted_tomorrow_has_no_age():
    params = {"from": "fitted", "limit": "30"}

    assert drawn({"fitted": "2024-06-01", "day": "2024-06-01"}, **DAYS, params=params).high == ordinal("2024-07-01")
    with pytest.raises(Unknowable) as asked:
        drawn({"fitted": "2024-06-02", "day": "2024-06-01"}, **DAYS, params=params)
    assert (asked.value.code, asked.value.params) == ("date-ahead", {"date": "2024-06-02", "day": "2024-06-01"})


@pytest.mark.parametrize("kind", [DAYS, {**MONTHS, "compare": ">"}])
def test_an_age_beyond_the_calendar_is_not_worked_out(kind):
    with pytest.raises(Unknowable) as asked:
        drawn(
            {"fitted": "2024-06-01", "day": "2024-06-01"}, **kind, params={"from": "reading fitted", "limit": "9999999"}
        )

    assert (asked.value.code, asked.value.params) == ("fact-unreadable", {"fact": "fitted", "value": "2024-06-01"})


def test_an_age_beyond_the_calendar_names_the_oldest_deed():
    params = {"from": "reading fitted made", "limit": "9999999"}
    with pytest.raises(Unknowable) as asked:
        drawn({"fitted": "2024-06-01", "day": "2024-06-01"}, **DAYS, params=params)

    assert asked.value.params == {"fact": "made", "value": "2024-06-01"}
