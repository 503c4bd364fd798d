"""A rule that could be misread is refused, with a sentence that says why."""

import copy
import pickle
from fractions import Fraction

import pytest

from engineering.bounds import applies
from engineering.limits import Reading, Verdict, judge, limit_line, promoted, tightest, worse_of, worst
from engineering.rules import RuleError, rule_from_dict, rule_to_dict

GOOD = {
    "id": "C-1",
    "on": "rope.diameter",
    "kind": "loss_percent",
    "compare": ">",
    "unit": "mm",
    "source": "maker's manual, page 7",
    "got": "COURSE",
    "params": {"from": "nominal", "limit": "5"},
}
TABLE = {"from": "nominal", "limit": "1", "by": "nominal", "row": "upto", "table": "10:1 20:2"}


def rule(**changes):
    return rule_from_dict({**GOOD, **changes})


def params(**changes):
    merged = {**GOOD["params"], **changes}
    return {"params": {key: value for key, value in merged.items() if value is not None}}


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"wacth": "1"}, "unknown-key"),
        (params(wacth="1"), "unknown-parameter"),
        (params(signed="yes"), "unknown-parameter"),
        (params(limit=None), "missing-parameter"),
        (params(limit="5,0"), "number"),
        (params(limit="5e0"), "number"),
        (params(limit="-5"), "number"),
        (params(limit=5), "text"),
        (params(limit=5.0), "text"),
        (params(watch="6"), "watch"),
        (params(watch="4", watch_from="0.6"), "watch"),
        (params(watch_from="1.2"), "watch"),
        ({"verdict": "watch", **params(watch="4")}, "watch"),
        ({"verdict": "ok"}, "verdict"),
        ({"kind": "formula"}, "kind"),
        ({"compare": "<"}, "compare"),
        ({"compare": "=="}, "compare"),
        ({"unit": "furlong"}, "unit"),
        ({"source": " "}, "source"),
        ({"got": "hearsay"}, "got"),
        ({"law": "yes"}, "law"),
        ({"id": ""}, "id"),
        ({"id": "x" * 41}, "id"),
        ({"on": []}, "on"),
        ({"on": [""]}, "on"),
        ({"when": {"rope_class": ["standng"]}}, "when"),
        ({"when": {"colour": ["red"]}}, "when"),
        ({"when": {"rope_class": []}}, "when"),
        ({"kind": "loss", "params": {**TABLE, "row": "nearest"}}, "table"),
        ({"kind": "loss", "params": {**TABLE, "table": "20:2 10:1"}}, "table"),
        ({"kind": "loss", "params": {**TABLE, "table": "10:1 10:2"}}, "table"),
        ({"kind": "loss", "params": {**TABLE, "table": "10=1"}}, "table"),
        ({"kind": "loss", "params": {**TABLE, "table": "10:0"}}, "table"),
        ({"kind": "loss", "params": {key: value for key, value in TABLE.items() if key != "by"}}, "table"),
        ({"kind": "range", "params": {"min": "2", "max": "1"}}, "range"),
        ({"kind": "age_days", "unit": "days", "params": {"from": "fitted", "limit": "30.5"}}, "age"),
        ({"kind": "age_days", "unit": "days", "params": {"from": "fitted", "limit": "0"}}, "age"),
        ({"kind": "min", "compare": "<", "params": {"limit": "5", "watch_from": "0.5"}}, "watch"),
        ({"kind": "min", "compare": "<", "params": {"limit": "5", "watch": "4"}}, "watch"),
        ({"kind": "max", "params": {"limit": "5", "signed": "no"}}, "signed"),
    ],
)
def test_a_rule_open_to_misreading_is_refused(changes, code):
    with pytest.raises(RuleError) as refused:
        rule(**changes)

    assert refused.value.code == code
    assert refused.value.sentence.endswith(".")


@pytest.mark.parametrize("missing", ["id", "on", "kind", "compare", "unit", "source", "got"])
def test_a_rule_lacking_a_part_is_refused(missing):
    with pytest.raises(RuleError, match="lacks"):
        rule_from_dict({key: value for key, value in GOOD.items() if key != missing})


def test_a_rule_survives_writing_copying_and_caching():
    one = rule(when={"rope_class": ["standing"]}, **params(watch_from="0.6"))

    assert rule_from_dict(rule_to_dict(one)) == one
    assert copy.deepcopy(one) == one
    assert pickle.loads(pickle.dumps(one)) == one  # noqa: S301 - its own bytes
    assert len({one, copy.deepcopy(one)}) == 1


def test_a_rule_cannot_be_altered():
    one = rule()

    with pytest.raises(TypeError):
        one.params["limit"] = "6"
    with pytest.raises(AttributeError):
        one.unit = "in"


def test_facts_needed_are_named():
    one = rule(when={"rope_class": ["standing"]}, **params(of="baseline"))
    age = rule(kind="age_days", unit="days", params={"from": "reading fitted made", "limit": "30"})

    assert one.facts_needed() == ("rope_class", "nominal", "baseline")
    assert age.facts_needed() == ("fitted", "made", "day")


def test_a_condition_plainly_not_met_skips_the_rule_whatever_is_missing():
    one = rule(when={"rope_class": ["standing"], "stranded": ["yes"]})

    assert applies(one, {"rope_class": "running"}) is False
    assert applies(one, {"rope_class": "standing", "stranded": "yes"}) is True


def test_readings_are_exact():
    with pytest.raises(TypeError):
        Reading("figure", "11.4", 11.4, unit="mm")
    with pytest.raises(TypeError):
        Reading("count", "1", True)


def test_worst_of_nothing_is_unknown_and_unknown_is_worse_than_watch():
    assert worst([]) is Verdict.UNKNOWN
    assert worst([Verdict.OK, Verdict.WATCH]) is Verdict.WATCH
    assert worst([Verdict.WATCH, Verdict.UNKNOWN]) is Verdict.UNKNOWN
    assert worst([Verdict.UNKNOWN, Verdict.WITHDRAW]) is Verdict.WITHDRAW


def test_the_stricter_of_two_judgements_is_kept_with_the_other_beside_it():
    reading = Reading("figure", "11.3", Fraction("11.3"), unit="mm")
    old = judge(reading, [rule(id="old", **params(limit="20"))], {"nominal": "12"})
    new = judge(reading, [rule(id="new", **params(limit="5"))], {"nominal": "12"})

    for first, second in ((old, new), (new, old)):
        kept = worse_of(first, second)
        assert (kept.rule_id, kept.verdict) == ("new", Verdict.WITHDRAW)
        assert [other.rule_id for other in kept.others] == ["old"]


def test_a_judgement_can_be_written_as_text():
    reading = Reading("figure", "1139", 1139, unit="mm")
    written = judge(reading, [rule(), rule(id="C-2", **params(limit="6"))], {"nominal": "12"}).as_dict()

    assert written["verdict"] == "unknown"  # 1139 mm of a 12 mm rope cannot be
    assert written["code"] == "impossible"
    assert written["others"] == [{"rule": "C-2", "verdict": "unknown"}]


def test_the_limit_is_shown_in_the_readings_unit_and_never_laxer():
    assert str(limit_line(rule(), {"nominal": "12"})) == "at least 11.4 mm"
    third = rule(kind="loss", params={"from": "nominal", "limit": "1/3", "limit_of": "outer_wire"})
    assert str(limit_line(third, {"nominal": "12", "outer_wire": "0.8"})) == "at least 11.734 mm"


def test_the_nearest_bounds_of_several_rules_are_drawn():
    rules = [
        rule(**params(watch="3")),
        rule(id="C-2", **params(limit="6")),
        rule(id="C-3", verdict="watch", **params(limit="1")),
    ]

    bounds = tightest(rules, {"nominal": "100"})

    assert (bounds.low, bounds.watch_low, bounds.high) == (95, 97, None)
    assert tightest(rules, {}) is None
    assert tightest([], {"nominal": "100"}) is None


def test_a_promoted_caution_withdraws():
    caution = rule(verdict="watch")

    assert promoted(caution).verdict is Verdict.WITHDRAW
    assert promoted(caution).params == caution.params
