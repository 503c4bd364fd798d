"""The sentence by which a rule is refused, and the nearest rule that is not: what an engineer mends it by."""

from dataclasses import replace
from fractions import Fraction

import pytest

from engineering.rules import RuleError, Verdict, promoted, rule_from_dict, rule_to_dict
from tests.engineering.test_rules import GOOD, TABLE, params, rule

AGE = {"kind": "age_days", "unit": "days"}
LOWER = {"kind": "min", "compare": "<"}
NOT_MADE = "its table is not made of key:value pairs of exact numbers."
RISING = "its table needs rising keys and a row of upto, from or exact."
ABOVE = "a table's values and their multiple are above nought."
BY_AND_ROW = "a table needs by (the fact that chooses the row) and row (upto, from or exact)."
SHARE = "watch_from is a share of the way to the limit, between 0 and 1."
BEYOND = "its watch lies beyond its limit."
WHOLE = "an age is a whole number of days or months."


def table(**changes):
    merged = {**TABLE, **changes}
    return {"kind": "loss", "params": {key: value for key, value in merged.items() if value is not None}}


@pytest.mark.parametrize(
    ("changes", "code", "sentence"),
    [
        ({"id": " C-1"}, "id", "an id of 1 to 40 characters is needed."),
        ({"on": ["rope.diameter", " "]}, "on", "it names no quantity."),
        ({"on": "rope.diameter "}, "on", "it names no quantity."),
        ({"kind": "formula"}, "kind", "there is no kind 'formula'."),
        ({"compare": "<"}, "compare", "a rule of kind loss_percent compares by > or >=."),
        ({"unit": "furlong"}, "unit", "there is no unit 'furlong'."),
        ({"source": "  "}, "source", "it has no source."),
        (
            {"got": "heard"},
            "got",
            "how its source was seen is one of READ-2, READ, MEMORY, JUDGEMENT, DERIVED, COURSE.",
        ),
        ({"params": {}}, "missing-parameter", "from, limit is missing."),
        (
            params(highest="9", by="nominal", wacth="1"),
            "unknown-parameter",
            "a rule of kind loss_percent has no highest, wacth.",
        ),
        (params(limit="5,0"), "number", "limit = '5,0' is not an exact number."),
        (params(limit="-1"), "number", "a limit of this kind is not negative."),
        (table(by=None), "table", BY_AND_ROW),
        (table(row=None), "table", BY_AND_ROW),
        (table(table=None), "table", BY_AND_ROW),
        (table(table="10:1 20"), "table", NOT_MADE),
        (table(table=""), "table", RISING),
        (table(table="20:2 10:1"), "table", RISING),
        (table(row="nearest"), "table", RISING),
        (table(table="10:1 20:0"), "table", ABOVE),
        (table(limit="0"), "table", ABOVE),
        (params(watch="4", watch_from="0.6"), "watch", "it has both watch and watch_from."),
        ({"verdict": "watch", **params(watch="4")}, "watch", "a caution has no watch band before it."),
        ({"verdict": "watch", **params(watch_from="0.5")}, "watch", "a caution has no watch band before it."),
        (params(watch_from="0"), "watch", SHARE),
        (params(watch_from="1"), "watch", SHARE),
        (
            {**LOWER, "params": {"limit": "5", "watch_from": "0.5"}},
            "watch",
            "watch_from of a lower limit needs origin, the value when new.",
        ),
        ({"kind": "max", "params": {"limit": "5", "signed": "no"}}, "signed", "signed is yes or absent."),
        (
            {"kind": "range", "params": {"min": "2", "max": "2"}},
            "range",
            "the lower end of its range is not below the upper one.",
        ),
        ({**AGE, "params": {"from": "fitted", "limit": "1/2"}}, "age", WHOLE),
        ({**AGE, "params": {"from": "fitted", "limit": "0"}}, "age", WHOLE),
        ({**AGE, "params": {"from": "fitted", "limit": "30", "watch": "20.5"}}, "age", WHOLE),
        ({**AGE, "params": {"from": "fitted", "limit": "30", "watch": "31"}}, "watch", BEYOND),
        (params(watch="5.01"), "watch", BEYOND),
        ({**LOWER, "params": {"limit": "5", "watch": "4.99"}}, "watch", BEYOND),
        (
            {"when": {"rope_class": ["standing", "hung"]}},
            "when",
            "the condition rope_class = standing, hung can never be met.",
        ),
        ({"when": {"rope_class": []}}, "when", "the condition rope_class =  can never be met."),
    ],
)
def test_the_refusal_names_the_rule_and_what_to_mend(changes, code, sentence):
    with pytest.raises(RuleError) as refused:
        rule(**changes)

    name = changes.get("id", "C-1")
    assert (refused.value.code, refused.value.sentence) == (code, f"Rule {name!r}: {sentence}")
    assert str(refused.value) == refused.value.sentence
    assert refused.value.params == {"rule": name}


@pytest.mark.parametrize(
    ("changes", "code", "sentence"),
    [
        ({"b": "1", "a": "2"}, "unknown-key", "Rule 'C-1' has keys that nobody reads: a, b."),
        ({"law": "yes"}, "law", "Rule 'C-1': law is true or false."),
        ({"law": 1}, "law", "Rule 'C-1': law is true or false."),
        ({"verdict": "ok"}, "verdict", "Rule 'C-1': a breach means withdraw or watch, not 'ok'."),
        ({"verdict": 1}, "text", "Rule 'C-1': verdict must be text, so that no number is ever rounded."),
        ({"unit": 1}, "text", "Rule 'C-1': unit must be text, so that no number is ever rounded."),
        ({"on": [1]}, "text", "Rule 'C-1': on must be text, so that no number is ever rounded."),
        ({"text": 1}, "text", "Rule 'C-1': text must be text, so that no number is ever rounded."),
        ({"set": 1}, "text", "Rule 'C-1': set must be text, so that no number is ever rounded."),
        (params(limit=5), "text", "Rule 'C-1': limit must be text, so that no number is ever rounded."),
        ({"when": {"lay": 1}}, "text", "Rule 'C-1': lay must be text, so that no number is ever rounded."),
        ({"params": "5"}, "table", "Rule 'C-1': params is a table of texts."),
        ({"when": "standing"}, "table", "Rule 'C-1': when is a table of texts."),
    ],
)
def test_a_rule_that_is_not_even_read_says_which_part(changes, code, sentence):
    with pytest.raises(RuleError) as refused:
        rule(**changes)

    assert (refused.value.code, refused.value.sentence) == (code, sentence)
    assert refused.value.params == {"rule": "C-1"}


def test_what_a_rule_lacks_is_named_in_the_order_of_writing():
    with pytest.raises(RuleError) as refused:
        rule_from_dict({"kind": "max", "on": "swing"})

    assert refused.value.code == "missing-key"
    assert refused.value.sentence == "Rule '' lacks id, compare, unit, source, got."
    assert refused.value.params == {"rule": ""}


@pytest.mark.parametrize(
    "changes",
    [
        {"id": "x" * 40},
        {"got": "MEMORY (med)"},
        params(limit="0"),
        params(watch="5"),
        params(watch_from="0.01"),
        params(watch_from="0.99"),
        {**LOWER, "params": {"limit": "5", "watch": "5"}},
        {**LOWER, "params": {"limit": "-5"}},
        {**LOWER, "params": {"limit": "5", "watch_from": "0.5", "origin": "8"}},
        {"kind": "max", "params": {"limit": "-5", "watch": "-6", "signed": "yes"}},
        {"kind": "max", "compare": ">=", "params": {"limit": "0"}},
        {"kind": "max", "params": {"limit": "5", "watch_from": "0.5"}},
        {"kind": "range", "params": {"min": "1.99", "max": "2"}},
        {**AGE, "params": {"from": "fitted", "limit": "1", "watch": "1"}},
        {"kind": "age_months", "unit": "months", "params": {"from": "fitted", "limit": "12", "watch": "0"}},
        table(row="from"),
        table(row="exact", table="10:1/3"),
        {"verdict": "watch"},
        {"when": {"rope_class": ["standing", "running"], "lay": "lang"}},
    ],
)
def test_a_rule_at_the_edge_of_what_is_clear_is_taken(changes):
    assert rule(**changes).id == changes.get("id", "C-1")


def test_a_rule_is_written_out_whole():
    whole = {
        **GOOD,
        "on": ["rope.diameter", "rope.other"],
        "params": {"from": "nominal", "limit": "5"},
        "verdict": "watch",
        "when": {"rope_class": ["standing"], "lay": ["lang", "ordinary"]},
        "law": True,
        "text": "Five percent.",
        "set": "own",
    }

    assert rule_to_dict(rule_from_dict(whole)) == whole
    bare = rule_to_dict(rule())
    assert (bare["verdict"], bare["law"], bare["text"], bare["set"], bare["when"]) == ("withdraw", False, "", "", {})
    assert bare["on"] == ["rope.diameter"]
    assert rule_to_dict(rule(when={"lay": "lang"}))["when"] == {"lay": ["lang"]}


def test_a_table_is_read_row_by_row():
    one = rule(**table(table="10:1 20:2.5 30:1/3"))

    assert one.table() == ((10, 1), (20, Fraction(5, 2)), (30, Fraction(1, 3)))
    assert rule().table() == ()
    assert (rule().number("limit"), rule().number("watch")) == (5, None)


def test_facts_are_asked_for_once_and_the_reading_is_none():
    one = rule(when={"lay": "lang"}, kind="loss", params={**TABLE, "limit_of": "outer_wire", "from": "nominal reading"})
    to = rule(kind="equals", compare="!=", params={"to": "posted"})

    assert one.facts_needed() == ("lay", "nominal", "outer_wire")
    assert to.facts_needed() == ("posted",)


def test_the_fact_that_chooses_the_row_is_asked_for():
    assert rule(**table(by="rope_diameter")).facts_needed() == ("nominal", "rope_diameter")


def test_a_rule_made_by_hand_is_looked_at_too():
    whole = rule(when={"lay": "lang"})

    with pytest.raises(RuleError) as refused:
        replace(whole, verdict=Verdict.OK)
    assert (refused.value.code, refused.value.sentence) == ("verdict", "Rule 'C-1': a breach means withdraw or watch.")
    with pytest.raises(TypeError):
        whole.when["lay"] = ("ordinary",)
    with pytest.raises(RuleError, match="pairs of exact numbers"):
        rule(**table(table="10:1:2"))


def test_two_rules_of_one_id_in_two_sets_are_two():
    # Equality decides; the hash may only not stand in its way.
    own, other = rule(set="own"), rule(set="other")

    assert len({own, other, rule(set="own")}) == 2
    assert hash(own) == hash(rule(set="own"))


def test_promoting_changes_nothing_but_the_verdict():
    caution = rule(verdict="watch", text="Look.")

    assert rule_to_dict(promoted(caution)) == {**rule_to_dict(caution), "verdict": "withdraw"}
    assert caution.verdict is Verdict.WATCH
