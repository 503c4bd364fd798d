"""A judgement read in full: what the record keeps, what the technician is told, which of several rules is named.

The arithmetic is of whole numbers and done in the head; the rules are made up for the purpose, but for those that the
vectors of published rules hold.
"""

from decimal import Decimal
from fractions import Fraction

import pytest

from engineering.explain import FACT_NAMES, Phrase, missing_phrase
from engineering.limits import Judgement, Reading, Verdict, judge, limit_line, tightest, worse_of
from tests.engineering.test_rules import params, rule

TWELVE = {"nominal": "12"}
AGE = rule(id="A-1", kind="age_days", unit="days", params={"from": "fitted", "limit": "30", "watch": "25"}, law=True)
AGED = {"fitted": "2025-05-13", "day": "2025-06-02"}  # twenty days
LOOK = rule(id="L-1", kind="answer", compare="is", unit="-", params={})
CONTRA, MADE = "The register contradicts itself: ", "the date of manufacture"
SWING = {"kind": "max", "unit": "deg", "on": "swing"}


def mm(text):
    return Reading("figure", text, Fraction(text), unit="mm")


def mark(name):
    return Reading("mark", name, mark=name)


def test_a_figure_is_kept_whole():
    own = {"law": True, "text": "Five percent."}
    found = judge(mm("11.5"), [rule(**own), rule(id="C-2", **params(limit="6"))], TWELVE)

    assert found.as_dict() == {
        "verdict": "ok",
        "rule": "C-1",
        "source": "maker's manual, page 7",
        "got": "COURSE",
        "law": True,
        "code": "ok",
        "params": {"value": "11.5 mm", "limit": "at least 11.4 mm"},
        "limit": "at least 11.4 mm",
        "value": "11.5 mm",
        "margin": "0.1",
        "others": [{"rule": "C-2", "verdict": "ok"}],
    }
    assert found.sentence == "11.5 mm is within the limit (at least 11.4 mm)."


def test_a_margin_is_written_out_however_small():
    assert judge(mm("11.4000001"), [rule()], TWELVE).as_dict()["margin"] == "0.0000001"
    assert judge(mm("11.39"), [rule()], TWELVE).as_dict()["margin"] == "-0.01"
    assert judge(mm("11.4"), [rule()], {}).as_dict()["margin"] == ""


@pytest.mark.parametrize(
    ("value", "verdict", "sentence"),
    [
        ("11.39", "withdraw", "11.39 mm is past the limit (at least 11.40 mm)."),
        (
            "11.4",
            "watch",
            "11.4 mm is within the limit (at least 11.4 mm) but past the point from which it is watched.",
        ),
        ("11.7", "ok", "11.7 mm is within the limit (at least 11.4 mm)."),
        ("113", "unknown", "113 mm cannot be. Measure again, and have the register checked."),
    ],
)
def test_a_figure_is_told_with_its_limit(value, verdict, sentence):
    found = judge(mm(value), [rule(**params(watch="4"))], TWELVE)

    assert (str(found.verdict), found.sentence) == (verdict, sentence)


def test_a_reading_is_a_fraction_and_never_a_binary_float():
    read = Reading("figure", "11.4", Decimal("11.4")).value

    assert (read, type(read)) == (Fraction(57, 5), Fraction)
    with pytest.raises(TypeError, match=r"^a reading is exact: Fraction, Decimal or int$"):
        Reading("figure", "11.4", 11.4)


def test_a_figure_is_told_with_six_decimals_and_its_limit_with_as_many_as_tell_them_apart():
    found = judge(mm("11.1234567"), [rule()], TWELVE)
    assert found.value_text == "11.123457 mm"
    # A third of 2 mm from 12: 11.333...; 11.3334 passes, so the limit is told with five decimals.
    third = rule(kind="loss", params={"from": "nominal", "limit": "1/3", "limit_of": "outer_wire"})
    found = judge(mm("11.3334"), [third], {**TWELVE, "outer_wire": "2"})
    assert (found.code, found.limit_text) == ("ok", "at least 11.33334 mm")


def test_a_gauge_that_cannot_be_is_named():
    found = judge(mm("11.7"), [rule()], {**TWELVE, "gauge_u": "-1"})

    assert found.sentence == "The uncertainty of the gauge cannot be used as entered: -1."


def test_a_caution_is_told_as_one():
    found = judge(mm("11.3"), [rule(verdict="watch")], TWELVE)

    assert (found.verdict, found.code) == (Verdict.WATCH, "caution")
    assert found.sentence == "11.3 mm is past the caution (at least 11.4 mm)."
    ok = judge(mm("11.41"), [rule(verdict="watch")], {**TWELVE, "gauge_u": "0.5"})
    assert ok.code == "ok"  # a gauge widens the band before a limit, not before a caution


# The whole allowance is 0.6 mm; the gauge's band before the limit is at most a fifth of it, 0.12 mm (module docstring).
@pytest.mark.parametrize(
    ("value", "gauge", "code"),
    [
        ("11.45", "0.06", "gauge"),
        ("11.46", "0.06", "ok"),  # at worst it is 11.40, which is allowed
        ("11.519", "9", "gauge"),
        ("11.52", "9", "ok"),
        ("11.41", "", "ok"),
        ("11.41", "0", "ok"),
        ("11.41", "-1", "fact-unreadable"),
        ("11.41", "much", "fact-unreadable"),
    ],
)
def test_the_gauge_could_hide_a_limit_that_is_near(value, gauge, code):
    assert judge(mm(value), [rule()], {**TWELVE, "gauge_u": gauge}).code == code


def test_a_count_has_no_gauge():
    counted = rule(kind="max", unit="count", params={"limit": "5"})

    assert judge(Reading("count", "5", 5), [counted], {"gauge_u": "1"}).code == "ok"


@pytest.mark.parametrize(
    ("reading", "sentence"),
    [
        (None, "Nothing was entered."),
        (Reading("figure"), "Nothing was entered."),
        (mark("not_done"), "Not done."),
        (mark("sound"), "This item asks for a figure, and a mark was entered."),
        (Reading("date", "2025-06-01", 1), "This item asks for a figure, and a date was entered."),
        (Reading("count", "3.5", Fraction(7, 2)), "3.5 is not a count."),
        (Reading("figure", "3", 3, unit="kg"), "The limit is in mm and the reading in kg."),
        (Reading("figure", "3", 3), "The limit is in mm and the reading in no unit."),
        (Reading("count", "3", 3), "The limit is in mm and the reading in count."),
    ],
)
def test_what_is_no_reading_of_the_rule_is_not_checked(reading, sentence):
    found = judge(reading, [rule()], TWELVE)

    assert (found.verdict, found.sentence, found.rule_id) == (Verdict.UNKNOWN, sentence, "C-1")


@pytest.mark.parametrize(
    ("unit", "rule_unit"), [("count", "1"), ("1", "count"), ("-", "1"), ("", "count"), ("count", "count")]
)
def test_units_that_are_not_written_are_one(unit, rule_unit):
    counted = rule(kind="max", unit=rule_unit, params={"limit": "5"})

    assert judge(Reading("figure", "5", 5, unit=unit), [counted], {}).code == "ok"


def test_an_age_is_kept_whole():
    assert judge(None, [AGE], AGED).as_dict() == {
        "verdict": "ok",
        "rule": "A-1",
        "source": "maker's manual, page 7",
        "got": "COURSE",
        "law": True,
        "code": "ok",
        "params": {"value": "20 days", "limit": "until 2025-06-12"},
        "limit": "until 2025-06-12",
        "value": "20 days",
        "margin": "10",
        "others": [],
    }


@pytest.mark.parametrize(
    ("day", "verdict", "margin"),
    [
        ("2025-06-07", "ok", 5),  # the twenty-fifth day is the last before the watch
        ("2025-06-08", "watch", 4),
        ("2025-06-12", "watch", 0),
        ("2025-06-13", "withdraw", -1),
    ],
)
def test_an_age_passes_its_limit_in_a_night(day, verdict, margin):
    found = judge(None, [AGE], {**AGED, "day": day})

    assert (str(found.verdict), found.margin) == (verdict, margin)


def test_an_age_may_start_at_the_date_on_the_label():
    label = rule(kind="age_days", compare=">=", unit="days", params={"from": "reading made", "limit": "30"})
    facts = {"made": "2025-04-13", "day": "2025-06-02"}

    read = judge(Reading("date", "2025-05-03"), [label], facts)
    assert (read.code, read.sentence) == ("past", "30 days is past the limit (before 2025-06-02).")
    assert judge(Reading("mark", "2025-05-03", mark="sound"), [label], facts).value_text == "50 days"
    assert judge(mark("not_done"), [AGE], AGED).sentence == "Not done."
    caution = rule(kind="age_days", unit="days", params={"from": "fitted", "limit": "10"}, verdict="watch")
    assert (judge(None, [caution], AGED).code, judge(None, [caution], AGED).verdict) == ("caution", Verdict.WATCH)


@pytest.mark.parametrize(
    ("given", "verdict", "sentence", "value"),
    [
        (mark("sound"), "ok", "Found sound.", "sound"),
        (mark("watch"), "watch", "To be watched.", "watch"),
        (mark("defect"), "withdraw", "Found defective.", "defect"),
        (mark("not_done"), "unknown", "Not done.", ""),
        (mark("fine"), "unknown", "fine is neither sound nor defective.", ""),
        (None, "unknown", "Nothing was entered.", ""),
        (Reading("mark"), "unknown", "Nothing was entered.", ""),
    ],
)
def test_a_look_is_told_in_plain_words(given, verdict, sentence, value):
    found = judge(given, [LOOK], {})

    assert (str(found.verdict), found.sentence, found.value_text) == (verdict, sentence, value)
    assert found.limit_text == ("no defect" if value else "")


def test_a_defect_that_is_a_caution_only_is_watched():
    found = judge(
        mark("defect"), [rule(id="L-2", kind="answer", compare="is", unit="-", params={}, verdict="watch")], {}
    )

    assert (found.verdict, found.sentence) == (Verdict.WATCH, "Found defective; a caution only.")


@pytest.mark.parametrize(
    ("name", "verdict", "code"), [("watch", "watch", "mark-watch"), ("defect", "withdraw", "defect")]
)
def test_a_mark_beside_a_figure_is_never_lost(name, verdict, code):
    beside = Reading("figure", "12", 12, mark=name, unit="mm")
    found = judge(beside, [rule()], TWELVE)

    assert (str(found.verdict), found.code, found.value_text, found.rule_id) == (verdict, code, name, "")
    assert [other.rule_id for other in found.others] == ["C-1"]
    both = judge(beside, [rule(), LOOK], TWELVE)
    assert [both.rule_id, *[other.rule_id for other in both.others]] == ["L-1", "C-1"]  # said by its rule, and once


def test_without_a_limit_nothing_is_fine():
    running = rule(when={"rope_class": ["running"]})

    assert judge(mm("12"), [], TWELVE).sentence == "No limit is entered for this item."
    assert judge(mm("12"), [running], {**TWELVE, "rope_class": "standing"}).sentence == (
        "None of the limits of this item applies to this part."
    )
    assert judge(None, [], {}).verdict is Verdict.UNKNOWN


def names(found):
    return [found.rule_id, *(other.rule_id for other in found.others)]


def test_the_rule_named_is_the_worst_then_the_nearest_then_the_law_then_by_its_name():
    lax, near = rule(id="B", **params(limit="9")), rule(id="C", **params(limit="5"))
    law = rule(id="D", law=True, **params(limit="5"))
    caution = rule(id="E", verdict="watch", **params(limit="3"))
    blind = rule(id="F", **params(**{"from": "baseline"}))
    rules = [lax, rule(id="A", **params(limit="9")), near, law, caution, blind]

    assert names(judge(mm("11.5"), rules, TWELVE)) == ["F", "E", "D", "C", "A", "B"]
    # Past several limits all are withdraw, whatever the way past them: law first, then by name.
    assert names(judge(mm("10.5"), rules, TWELVE)) == ["D", "A", "B", "C", "F", "E"]


def test_the_other_judgement_is_kept_once_beside_the_stricter():
    old = judge(mm("11.3"), [rule(id="A", **params(limit="20")), rule(id="B", **params(limit="30"))], TWELVE)
    new = judge(mm("11.3"), [rule(id="A", **params(limit="5")), rule(id="B", **params(limit="30"))], TWELVE)

    kept = worse_of(old, new)

    assert (kept.rule_id, kept.verdict, kept.limit_text) == ("A", Verdict.WITHDRAW, "at least 11.4 mm")
    assert [(one.rule_id, one.limit_text) for one in kept.others] == [
        ("A", "at least 9.6 mm"),
        ("B", "at least 8.4 mm"),
    ]
    assert all(one.others == () for one in kept.others)


def test_two_verdicts_of_one_rule_and_limit_are_two():
    far = Judgement(Verdict.OK, Phrase("ok"), rule_id="A", margin=Decimal(2))
    watched = Judgement(Verdict.WATCH, Phrase("watch"), rule_id="A", margin=Decimal(1))
    first = Judgement(Verdict.WITHDRAW, Phrase("past"), rule_id="B", others=(far,))

    assert [one.verdict for one in worse_of(first, watched).others] == [Verdict.WATCH, Verdict.OK]


@pytest.mark.parametrize(
    ("changes", "facts", "shown"),
    [
        ({**SWING, "params": {"limit": "45"}}, {}, "at most 45°"),
        ({**SWING, "compare": ">=", "params": {"limit": "45"}}, {}, "less than 45°"),
        ({**SWING, "kind": "min", "compare": "<", "params": {"limit": "45"}}, {}, "at least 45°"),
        ({**SWING, "kind": "min", "compare": "<=", "params": {"limit": "45"}}, {}, "more than 45°"),
        ({**SWING, "kind": "range", "params": {"min": "3", "max": "5"}}, {}, "3° to 5°"),
        (
            {**SWING, "kind": "range", "compare": ">=", "params": {"min": "3", "max": "5"}},
            {},
            "more than 3° and less than 5°",
        ),
        (
            {"kind": "equals", "compare": "!=", "unit": "count", "params": {"to": "register_count"}},
            {"register_count": "7"},
            "exactly 7",
        ),
    ],
)
def test_a_limit_is_shown_before_anything_is_typed(changes, facts, shown):
    assert str(limit_line(rule(**changes), facts)) == shown


def bounds(*rules, facts=TWELVE):
    found = tightest(list(rules), facts)
    return found and (found.low, found.high, found.watch_low, found.watch_high, found.breach_at)


def test_the_narrowest_of_all_bounds_is_drawn_at_both_ends():
    high = {**SWING, "unit": "mm"}
    lower = rule(**params(limit="25", watch="20"))  # 9 mm, watched to 9.6

    assert bounds(rule(**high, params={"limit": "20"}), rule(**high, params={"limit": "18", "watch": "15"})) == (
        None, 18, None, 15, False
    )  # fmt: skip
    assert bounds(lower, rule(**high, params={"limit": "20", "watch": "19"})) == (9, 20, Fraction("9.6"), 19, False)
    assert bounds(rule(**high, compare=">=", params={"limit": "18"}), rule(**high, params={"limit": "20"}))[1:] == (
        18, None, None, True
    )  # fmt: skip
    assert bounds(rule(**high, params={"limit": "18"}), rule(**high, compare=">=", params={"limit": "20"}))[4] is False
    # At one and the same limit the one that is breached at it is the tighter.
    assert bounds(rule(**high, params={"limit": "18"}), rule(**high, compare=">=", params={"limit": "18"}))[4] is True
    assert bounds(rule(**params(limit="25")), rule(**params(limit="50"))) == (9, None, None, None, False)


def test_a_look_and_a_caution_and_another_parts_rule_are_not_drawn():
    other = rule(**params(limit="1"), when={"rope_class": ["running"]})
    facts = {**TWELVE, "rope_class": "standing"}

    assert bounds(rule(), LOOK, rule(verdict="watch", **params(limit="1")), other, facts=facts)[0] == Fraction("11.4")
    assert bounds(LOOK) is None


@pytest.mark.parametrize(
    ("code", "given", "sentence"),
    [
        ("fact-missing", {"fact": "nominal"}, "The nominal dimension of this part is not entered."),
        ("fact-missing", {"fact": "colour"}, "colour is not entered."),
        (
            "fact-unreadable",
            {"fact": "gauge_u", "value": "much"},
            "The uncertainty of the gauge cannot be used as entered: much.",
        ),
        ("beyond-table", {"fact": "rope_diameter"}, "The diameter of the rope lies beyond the end of the table."),
        ("dates-contradict", {"fact": "fitted", "other": "made"}, f"{CONTRA}The date of fitting lies before {MADE}."),
        ("dates-contradict", {"fact": "sold", "other": "Bought"}, f"{CONTRA}sold lies before bought."),
        ("dates-contradict", {"fact": "fitted", "other": ""}, f"{CONTRA}The date of fitting lies before ."),
    ],
)
def test_what_is_missing_is_called_by_its_name(code, given, sentence):
    phrase = missing_phrase(code, given)

    assert (phrase.code, str(phrase)) == (code, sentence)
    assert all(phrase.params[key] == value for key, value in given.items())


def test_every_name_begins_a_sentence():
    assert all(name[0].isupper() and not name.endswith(".") for name in FACT_NAMES.values())
