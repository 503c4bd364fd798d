"""A change of limits counts as a tightening only if no reading could come out better. No outside source; a promise."""

from fractions import Fraction

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from engineering.exact import exact_text
from engineering.limits import is_tightening, judge, rule_from_dict, stricter
from engineering.rules import UPPER, RuleError, rule_to_dict
from tests.engineering.strategies import course_rules, facts_of, figure, numbers

MAX = {"id": "C", "on": "swing", "kind": "max", "compare": ">", "unit": "deg", "source": "maker", "got": "COURSE"}
MAX["params"] = {"limit": "45", "watch": "40"}


def rule(base=MAX, **changes):
    return rule_from_dict({**base, **changes})


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        ({}, True),
        ({"source": "another page", "got": "READ", "law": True, "text": "other words"}, True),
        ({"params": {"limit": "44", "watch": "40"}}, True),
        ({"params": {"limit": "46", "watch": "40"}}, False),
        ({"params": {"limit": "45", "watch": "39"}}, True),
        ({"params": {"limit": "45", "watch": "41"}}, False),
        ({"params": {"limit": "45"}}, False),
        ({"params": {"limit": "45", "watch_from": "0.5"}}, None),
        ({"params": {"limit": "45", "watch": "40", "highest": "180"}}, True),
        ({"params": {"limit": "45", "watch": "40", "signed": "yes"}}, False),
        ({"params": {"limit": "45", "watch": "40", "origin": "1"}}, None),
        ({"params": {"limit": "0.4", "watch": "0.1", "limit_of": "nominal"}}, None),
        ({"compare": ">="}, True),
        ({"verdict": "watch", "params": {"limit": "45"}}, False),
        ({"unit": "mm"}, None),
        ({"kind": "min", "compare": "<", "params": {"limit": "45"}}, None),
        ({"when": {"rope_class": ["standing"]}}, None),
        ({"on": ["swing", "air.gap"]}, True),
        ({"on": ["air.gap"]}, None),
    ],
)
def test_single_change(changes, expected):
    assert stricter(rule(), rule(**changes)) is expected


LOWER = {**MAX, "kind": "min", "compare": "<", "params": {"limit": "5", "watch": "6"}}
TABLE = {**MAX, "params": {"limit": "1", "by": "nominal", "row": "upto", "table": "10:2 20:4"}}
RANGE = {**MAX, "kind": "range", "params": {"min": "0", "max": "10"}}


@pytest.mark.parametrize(
    ("base", "params", "expected"),
    [
        (LOWER, {"limit": "5.1", "watch": "6"}, True),
        (LOWER, {"limit": "4.9", "watch": "6"}, False),
        (LOWER, {"limit": "5", "watch": "5.9"}, False),
        (TABLE, {**TABLE["params"], "table": "10:2 20:3"}, True),
        (TABLE, {**TABLE["params"], "table": "10:2 20:5"}, False),
        (TABLE, {**TABLE["params"], "table": "10:1 30:3"}, None),
        (TABLE, {**TABLE["params"], "row": "from"}, None),
        (TABLE, {**TABLE["params"], "last": "15"}, None),
        (RANGE, {"min": "1", "max": "9"}, True),
        (RANGE, {"min": "-1", "max": "9"}, False),
        # With the other end moved in alone, the gauge's band at the first end gets narrower: a watch could become ok.
        (RANGE, {"min": "0", "max": "5"}, False),
        (RANGE, {"min": "0", "max": "10", "watch_from": "0.8"}, True),
    ],
)
def test_single_change_of_other_kinds(base, params, expected):
    assert stricter(rule(base), rule(base, params=params)) is expected


LOSS = {**MAX, "unit": "mm", "kind": "loss_percent", "params": {"from": "nominal", "limit": "5"}}


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        ({"compare": ">="}, {"compare": ">"}, False),
        ({}, {"verdict": "watch"}, False),
        ({"verdict": "watch"}, {}, True),
        ({}, {"params": {**LOSS["params"], "impossible_percent": "30"}}, False),
        ({}, {"params": {**LOSS["params"], "impossible_percent": "10"}}, True),
        ({"params": {**LOSS["params"], "impossible_percent": "10"}}, {}, False),
    ],
)
def test_comparison_verdict_and_what_is_believed(old, new, expected):
    assert stricter(rule(LOSS, **old), rule(LOSS, **new)) is expected


SHARED = {**MAX, "params": {"limit": "45", "watch_from": "0.5"}}
SIGNED = {**MAX, "params": {"limit": "45", "signed": "yes"}}
HIGHEST = {**MAX, "params": {"limit": "45", "highest": "180"}}
LEAST = {**LOWER, "params": {"limit": "1", "by": "nominal", "row": "upto", "table": "10:2 20:4"}}
WATCHED = {**RANGE, "params": {"min": "0", "max": "10", "watch_from": "0.8"}}


# Worked by hand: watched below 1 and above 9, and a gauge's band of 1 within each end (a fifth of half the range).
@pytest.mark.parametrize(
    ("base", "params", "expected"),
    [
        (SHARED, {"limit": "45", "watch_from": "0.5"}, True),
        (SHARED, {"limit": "45", "watch_from": "0.4"}, True),
        (SHARED, {"limit": "45", "watch_from": "0.6"}, False),
        (SHARED, {"limit": "45"}, False),
        (SHARED, {"limit": "45", "watch": "1"}, None),
        (SIGNED, {"limit": "45"}, True),
        (SIGNED, {"limit": "45", "signed": "yes"}, True),
        (HIGHEST, {"limit": "45", "highest": "180"}, True),
        (HIGHEST, {"limit": "45", "highest": "179"}, True),
        (HIGHEST, {"limit": "45", "highest": "181"}, False),
        (HIGHEST, {"limit": "45"}, False),
        (LEAST, LEAST["params"], True),
        (LEAST, {**LEAST["params"], "table": "10:2 20:5"}, True),
        (LEAST, {**LEAST["params"], "table": "10:2 20:3"}, False),
        (RANGE, {"min": "0", "max": "9"}, False),
        (RANGE, {"min": "0.1", "max": "9"}, False),
        (RANGE, {"min": "1", "max": "10"}, False),
        (RANGE, {"min": "0", "max": "11"}, False),
        (WATCHED, {"min": "0", "max": "10", "watch_from": "0.8"}, True),
        (WATCHED, {"min": "0", "max": "10", "watch_from": "0.7"}, True),
        (WATCHED, {"min": "0", "max": "10", "watch_from": "0.81"}, False),
        (WATCHED, {"min": "1", "max": "9", "watch_from": "0.99"}, True),
        (WATCHED, {"min": "0.3", "max": "8", "watch_from": "0.9"}, False),  # watched below 0.685 only
        (WATCHED, {"min": "2", "max": "9.7", "watch_from": "0.9"}, False),  # watched above 9.315 only
    ],
)
def test_what_is_believed_and_what_is_watched_may_only_get_narrower(base, params, expected):
    assert stricter(rule(base), rule(base, params=params)) is expected


def test_a_lower_limit_that_is_itself_past_is_the_stricter():
    assert stricter(rule(LOWER), rule(LOWER, compare="<=")) is True
    assert stricter(rule(LOWER, compare="<="), rule(LOWER)) is False
    assert stricter(rule(LOWER, compare="<="), rule(LOWER, compare="<=")) is True


def test_a_watch_band_of_a_range_may_not_be_dropped():
    watched = rule(RANGE, params={"min": "0", "max": "10", "watch_from": "0.8"})

    assert stricter(watched, rule(RANGE)) is False


def test_a_first_rule_is_no_tightening_for_it_ends_an_unknown():
    assert is_tightening([], [rule()]) is False
    assert is_tightening([rule()], []) is False
    assert is_tightening([], []) is True


def test_a_further_rule_is_a_tightening_only_where_one_spoke_already():
    standing = {"when": {"rope_class": ["standing"]}}
    further = rule(id="D", params={"limit": "30"})

    assert is_tightening([rule()], [rule(), further]) is True
    assert is_tightening([rule()], [rule(), rule(id="D", **standing)]) is True
    assert is_tightening([rule(**standing)], [rule(**standing), further]) is False
    assert is_tightening([rule()], [rule(), rule(id="D", on=["air.gap"])]) is False


def test_dropping_a_rule_is_no_tightening_unless_a_stricter_one_stays():
    strict = rule(id="D", params={"limit": "30", "watch": "20"})

    assert is_tightening([rule(), strict], [rule()]) is False
    assert is_tightening([rule(), strict], [strict]) is True


@st.composite
def changed(draw, rules):
    """The rules after a change such as an engineer could make: numbers, comparison, verdict, band, one more or less."""
    made = []
    for one in rules:
        data = rule_to_dict(one)
        for name in ("limit", "watch", "min", "max", "watch_from"):
            if name in data["params"] and draw(st.booleans()):
                down = one.compare in UPPER and name != "min"
                factors = [Fraction(1, 2), Fraction(9, 10)] if down else [Fraction(11, 10), Fraction(2)]
                factor = draw(st.sampled_from([*factors * 3, Fraction(3, 4), Fraction(4, 3)]))  # mostly stricter
                data["params"][name] = exact_text(Fraction(data["params"][name]) * factor)
        if draw(st.integers(0, 3)) == 0:
            data["compare"] = data["compare"][0] + draw(st.sampled_from(["", "="]))
        if draw(st.integers(0, 5)) == 0:
            data["verdict"] = draw(st.sampled_from(["withdraw", "watch"]))
        if draw(st.integers(0, 5)) == 0:
            data["params"].pop("watch", None)
        try:
            made.append(rule_from_dict(data))
        except RuleError:
            assume(False)
    if draw(st.integers(0, 4)) == 0:
        made.append(draw(course_rules()))
    if len(made) > 1 and draw(st.integers(0, 4)) == 0:
        made.pop()
    return made


def never_betters(data):
    old = data.draw(st.lists(course_rules(), min_size=1, max_size=2))
    new = data.draw(changed(old))
    assume(is_tightening(old, new))
    facts = data.draw(facts_of([*old, *new]))

    for value in data.draw(st.lists(numbers, min_size=8, max_size=8)):
        before, after = judge(figure(value), old, facts), judge(figure(value), new, facts)
        assert after.verdict.badness >= before.verdict.badness, (value, facts, before.sentence, after.sentence)


@settings(max_examples=200, suppress_health_check=[HealthCheck.filter_too_much])
@given(st.data())
def test_a_tightening_never_betters_any_verdict(data):
    never_betters(data)


@pytest.mark.slow
@settings(max_examples=5000, suppress_health_check=[HealthCheck.filter_too_much])
@given(st.data())
def test_a_tightening_never_betters_any_verdict_in_thousands_of_changes(data):
    never_betters(data)


@settings(max_examples=100)
@given(st.data())
def test_an_unchanged_set_is_a_tightening_of_itself(data):
    rules = data.draw(st.lists(course_rules(), max_size=3))

    assert is_tightening(rules, rules)
