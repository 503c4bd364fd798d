"""The phone judges as the server does: verdict, rule, sentence, limit, value, way left and the other rules.

The published cases name their sources in ``tests/vectors/limits.json``; the generated ones compare the two programs, of
which ``engineering.limits`` is held to the sources by tests/engineering.
"""

from __future__ import annotations

import json
from pathlib import Path
from random import Random

from engineering import explain, limits, rules, typed
from tests.phone import rules as made
from tests.phone.node import answers

MANY = 10_000
VECTORS = json.loads((Path(__file__).parents[1] / "vectors" / "limits.json").read_text(encoding="utf-8"))


def told(found: limits.Judgement) -> list:
    """Return a judgement as ``judge.mjs`` tells one."""
    margin = "" if found.margin is None else format(found.margin, "f")
    return [
        str(found.verdict), found.rule_id, found.code, found.sentence, found.limit_text, found.value_text, found.source,
        found.law, margin, [[one.rule_id, str(one.verdict), one.code, one.limit_text] for one in found.others],
    ]  # fmt: skip


def reading_of(data: dict[str, str] | None) -> limits.Reading | None:
    """Return the reading that a page has, or none where what was typed is unclear."""
    if data is None:
        return None
    if "typed" not in data:
        return limits.Reading(data["kind"], data.get("text", ""), None, data.get("mark", ""), data.get("unit", ""))
    try:
        value = typed.read_figure(data["text"], data["unit"], signed=True).value
    except typed.Unclear:
        return None
    return limits.Reading(data["kind"], data["text"], value, data.get("mark", ""), data["unit"])


def test_the_published_cases_have_their_verdict_on_the_phone():
    """Sources: each case's own, in tests/vectors/limits.json."""
    tasks = []
    for case in VECTORS["cases"]:
        on = [VECTORS["rules"][key] for key in case["rules"]]
        tasks.append({"task": "judge", "reading": case["reading"], "rules": on, "facts": case["facts"]})
    for case, found in zip(VECTORS["cases"], answers(tasks), strict=True):
        assert found[:2] == [case["verdict"], case["rule"]], case["name"]
        assert case.get("code", found[2]) == found[2], case["name"]


def test_generated_cases_are_judged_alike():
    random = Random(1859)
    tasks, expected = [], []
    for _ in range(MANY):
        unit = random.choice(made.UNITS)
        on, then = made.some_rules(random, unit), made.some_rules(random, unit) if random.random() < 0.2 else []
        facts = made.some_facts(random, [*on, *then])
        data = made.a_reading(random, unit, facts)
        task = {"task": "judge", "reading": data, "rules": [rules.rule_to_dict(rule) for rule in on], "facts": facts}
        found = limits.judge(reading_of(data), on, facts)
        if then:
            task["then"] = [rules.rule_to_dict(rule) for rule in then]
            found = limits.worse_of(found, limits.judge(reading_of(data), then, facts))
        tasks.append(task)
        expected.append(told(found))
    here = answers(tasks)
    assert [(a, b, c) for a, b, c in zip(tasks, here, expected, strict=True) if b != c][:3] == []
    _reaches_everything(expected, tasks)


def _reaches_everything(expected, tasks):
    """Every verdict often, every sentence, every way to say a limit, every kind of rule and comparison."""
    verdicts = [found[0] for found in expected]
    assert all(verdicts.count(str(one)) > MANY / 25 for one in rules.Verdict), {v: verdicts.count(v) for v in verdicts}
    codes = {found[2] for found in expected} | {other[2] for found in expected for other in found[9]}
    assert codes == set(explain.SENTENCES) - {"unit", "no-limit"}  # a field has the unit of its rules, and always some
    judged = {(rule["kind"], rule["compare"]) for task in tasks for rule in task["rules"]}
    assert judged == {(name, compare) for name, kind in rules.KINDS.items() for compare in kind.compares}


def test_a_limit_is_told_alike_before_anything_is_typed():
    random = Random(3)
    tasks, expected = [], []
    for _ in range(1500):
        [rule, *_] = made.some_rules(random, random.choice(made.UNITS))
        if rule.kind == "answer":
            continue
        facts = made.some_facts(random, [rule])
        tasks.append({"task": "line", "rule": rules.rule_to_dict(rule), "facts": facts})
        try:
            expected.append(str(limits.limit_line(rule, facts)))
        except limits.Unknowable as reason:
            expected.append(reason.code)
    here = answers(tasks)
    assert [(a, b, c) for a, b, c in zip(tasks, here, expected, strict=True) if b != c][:3] == []


def test_nothing_and_rules_of_another_unit_are_unknown():
    rule = VECTORS["rules"]["R-101"]
    reading = {"kind": "figure", "text": "3", "unit": "mm", "typed": "yes"}
    cases = [(reading, []), (None, []), (reading, [rule])]
    found = answers(
        [{"task": "judge", "reading": one, "rules": on, "facts": {"rope_class": "running"}} for one, on in cases]
    )
    expected = [
        limits.judge(reading_of(one), [rules.rule_from_dict(each) for each in on], {"rope_class": "running"})
        for one, on in cases
    ]
    assert found == [told(one) for one in expected]
    assert [one[2] for one in found] == ["no-limit", "no-limit", "unit"]


def test_a_rule_that_the_phone_does_not_know_all_of_is_refused_and_never_read_as_another():
    rule = VECTORS["rules"]["R-101"]
    odd = [
        {"kind": "median"}, {"compare": "~"}, {"compare": "<"}, {"verdict": "ok"}, {"but": "x"},
        {"params": {**rule["params"], "wacth": "1"}}, {"when": {"weather": ["wet"]}},
    ]  # fmt: skip
    reading = {"kind": "count", "text": "1", "unit": "count", "typed": "yes"}
    tasks = [{"task": "judge", "reading": reading, "rules": [rule | more], "facts": {}} for more in odd]
    assert answers(tasks) == ["refused: a rule that is not known here: R-101"] * len(odd)


def test_the_kinds_of_rules_are_those_of_the_server():
    tasks = []
    for name, kind in rules.KINDS.items():
        params = dict.fromkeys(sorted(kind.must | kind.may), "1")
        tasks += [{"task": "known", "rule": _rule(name, compare, params)} for compare in sorted(kind.compares)]
        tasks += [{"task": "known", "rule": _rule(name, "<>", params)}]
        tasks += [{"task": "known", "rule": _rule(name, min(kind.compares), params | {"x": "1"})}]
    every = {name for kind in rules.KINDS.values() for name in kind.must | kind.may}
    for name, kind in rules.KINDS.items():
        for odd in sorted(every - kind.must - kind.may):
            tasks.append({"task": "known", "rule": _rule(name, min(kind.compares), {odd: "1"})})
    found = answers(tasks)
    for task, here in zip(tasks, found, strict=True):
        kind, rule = rules.KINDS[task["rule"]["kind"]], task["rule"]
        assert here == (rule["compare"] in kind.compares and set(rule["params"]) <= kind.must | kind.may), rule


def _rule(kind, compare, params):
    return {"id": "R", "kind": kind, "compare": compare, "params": params, "verdict": "withdraw", "unit": "mm"}
