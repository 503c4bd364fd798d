"""What must hold for every rule, fact and reading: worse never judges better. No outside source; a promise."""

from fractions import Fraction

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from engineering.bounds import Unknowable, applies, bounds_of
from engineering.limits import Reading, Verdict, judge
from engineering.rules import AGES, promoted, rule_from_dict
from tests.engineering.strategies import PUBLISHED, VALUED, course_rules, facts_of, figure, numbers

HOLDS = {Verdict.UNKNOWN, Verdict.WITHDRAW}


def reading_for(rule, value):
    if rule.kind == "answer":
        return Reading("mark", mark="sound")
    if rule.kind in AGES:
        return None
    return Reading("figure", str(value), value, unit=rule.unit)


@settings(max_examples=150)
@given(st.data())
def test_nothing_entered_or_nothing_known_is_never_ok(data):
    rules = data.draw(st.lists(st.sampled_from(PUBLISHED), min_size=1, max_size=4))
    facts = data.draw(facts_of(rules))

    for reading in (Reading("figure", unit="mm"), Reading("mark"), Reading("mark", mark="not_done"), Reading("date")):
        assert judge(reading, [rule for rule in rules if rule.kind not in AGES], facts).verdict in HOLDS
    assert judge(Reading("mark", mark="not_done"), rules, facts).verdict in HOLDS


@settings(max_examples=250)
@given(st.data())
def test_more_wear_never_betters(data):
    # Further from where the part began, on the same side of it, within what can be.
    rule = data.draw(st.one_of(st.sampled_from(VALUED), course_rules()))
    facts = data.draw(facts_of([rule], whole=data.draw(st.integers(0, 5)) > 0))
    try:
        assume(applies(rule, facts))
        bounds = bounds_of(rule, facts)
    except Unknowable:
        assume(False)
    low_side = bounds.low is not None and (bounds.high is None or data.draw(st.booleans()))
    start = bounds.origin if bounds.origin is not None else (bounds.low * 2 if low_side else Fraction(0))
    first, second = sorted(data.draw(st.tuples(numbers, numbers)))
    edge = bounds.impossible_low if low_side else bounds.impossible_high
    if edge is not None:  # a share of the way to where nothing can be, 200 being all of it
        first, second = (share * abs(edge - start) / 200 for share in (first, second))
    step = -1 if low_side else 1
    less_worn, more_worn = start + step * first, start + step * second
    assume(not bounds.impossible(less_worn) and not bounds.impossible(more_worn))
    # For a lower limit without a value when new, wear begins anywhere above.
    verdicts = [judge(reading_for(rule, value), [rule], facts).verdict for value in (less_worn, more_worn)]

    assert verdicts[0].badness <= verdicts[1].badness


@settings(max_examples=250)
@given(st.data())
def test_less_known_never_turns_a_hold_into_a_pass(data):
    rules = data.draw(st.lists(st.one_of(st.sampled_from(PUBLISHED), course_rules()), min_size=1, max_size=4))
    facts = data.draw(facts_of(rules))
    assume(set(facts) - {"gauge_u"})
    dropped = data.draw(st.sampled_from(sorted(set(facts) - {"gauge_u"})))
    reading = reading_for(rules[0], data.draw(numbers))
    fewer = {name: text for name, text in facts.items() if name != dropped}

    before, after = judge(reading, rules, facts).verdict, judge(reading, rules, fewer).verdict

    # What is not known cannot be called withdrawn, but it holds the line as well.
    assert after.badness >= before.badness or after in HOLDS


@settings(max_examples=250)
@given(st.data())
def test_one_rule_more_never_betters(data):
    rules = data.draw(st.lists(course_rules(), min_size=1, max_size=4))
    more = data.draw(course_rules())
    facts = data.draw(facts_of([*rules, more]))
    reading = figure(data.draw(numbers))
    before = judge(reading, rules, facts)
    assume(before.code != "no-rule-applies")  # the first rule that speaks ends the silence

    after = judge(reading, [*rules, more], facts)

    assert after.verdict.badness >= before.verdict.badness


@settings(max_examples=150)
@given(st.data())
def test_the_order_of_rules_does_not_matter(data):
    rules = data.draw(st.lists(course_rules(), min_size=1, max_size=4, unique_by=lambda rule: rule.id))
    facts = data.draw(facts_of(rules))
    reading = figure(data.draw(numbers))

    first, second = judge(reading, rules, facts), judge(reading, data.draw(st.permutations(rules)), facts)

    assert first == second


@settings(max_examples=250)
@given(st.data())
def test_the_gauge_only_widens_the_watch_band(data):
    rule = data.draw(course_rules())
    facts = {name: text for name, text in data.draw(facts_of([rule])).items() if name != "gauge_u"}
    reading = figure(data.draw(numbers))
    small, large = sorted(data.draw(st.tuples(numbers, numbers)))
    without = judge(reading, [rule], facts).verdict

    verdicts = [judge(reading, [rule], {**facts, "gauge_u": str(u)}).verdict for u in (small, large)]

    assert without.badness <= verdicts[0].badness <= verdicts[1].badness
    if without is not Verdict.OK:
        assert set(verdicts) == {without}
    assert verdicts[1] in {without, Verdict.WATCH}


@given(st.integers(10, 100), st.integers(1, 90), st.sampled_from([">", ">="]))
def test_the_gauge_band_takes_at_most_a_fifth_of_the_allowance(nominal, percent, compare):
    # Judgement: decision on the amber band.
    rule = rule_from_dict(
        {
            "id": "C",
            "on": "rope.diameter",
            "kind": "loss_percent",
            "compare": compare,
            "unit": "mm",
            "source": "maker",
            "got": "COURSE",
            "params": {"from": "nominal", "limit": str(percent)},
        }
    )
    facts = {"nominal": str(nominal), "gauge_u": "1000"}
    limit = nominal * (1 - Fraction(percent, 100))
    fifth = nominal * Fraction(percent, 500)

    assert judge(figure(limit + fifth * Fraction(11, 10)), [rule], facts).verdict is Verdict.OK
    assert judge(figure(limit + fifth * Fraction(9, 10)), [rule], facts).verdict is Verdict.WATCH


@settings(max_examples=150)
@given(st.data())
def test_a_promoted_caution_never_betters(data):
    rule = data.draw(course_rules())
    facts = data.draw(facts_of([rule]))
    reading = figure(data.draw(numbers))

    assert judge(reading, [promoted(rule)], facts).verdict.badness >= judge(reading, [rule], facts).verdict.badness


@settings(max_examples=150)
@given(st.data())
def test_a_defect_found_never_betters(data):
    rules = data.draw(st.lists(course_rules(), max_size=3))
    facts = data.draw(facts_of(rules))
    value = data.draw(numbers)

    plain = judge(figure(value), rules, facts).verdict
    marked = judge(Reading("figure", "1", value, mark="defect", unit="mm"), rules, facts).verdict

    assert marked is Verdict.WITHDRAW
    assert plain.badness <= marked.badness


@settings(max_examples=150)
@given(st.data())
def test_every_judgement_can_be_said_and_written(data):
    rules = data.draw(st.lists(st.one_of(st.sampled_from(PUBLISHED), course_rules()), max_size=4))
    facts = data.draw(facts_of(rules))
    reading = reading_for(rules[0], data.draw(numbers)) if rules else None

    judgement = judge(reading, rules, facts)

    assert judgement.sentence.endswith(".")
    assert "%(" not in judgement.sentence + judgement.limit_text
    assert judgement.as_dict()["verdict"] == judgement.verdict


@pytest.mark.parametrize(
    "value", ["11.40", "11.399999999999999999999999", "11.400000000000000000000001"], ids=["at", "under", "over"]
)
def test_the_unrounded_value_is_judged_and_shown_in_its_true_order(value):
    rule = next(rule for rule in PUBLISHED if rule.id == "R-120")

    judgement = judge(figure(Fraction(value)), [rule], {"nominal": "12"})

    assert (judgement.verdict is Verdict.WITHDRAW) == (Fraction(value) < Fraction("11.4"))
