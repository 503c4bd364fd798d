"""The cases of ``tests/vectors/limits.json``: expectations from the published rules, named in each case's ``source``.

The phone's script reads the same file, so that both programs judge alike.
"""

import json
from pathlib import Path

import pytest

from engineering.criteria import all_sets
from engineering.exact import parse_exact
from engineering.limits import Reading, judge, rule_from_dict, rule_to_dict

VECTORS = json.loads((Path(__file__).parents[1] / "vectors" / "limits.json").read_text(encoding="utf-8"))
RULES = {key: rule_from_dict(data) for key, data in VECTORS["rules"].items()}


def reading_of(data):
    if data is None:
        return None
    value = parse_exact(data["value"]) if "value" in data else None
    return Reading(data["kind"], data.get("text", ""), value, data.get("mark", ""), data.get("unit", ""))


@pytest.mark.parametrize("case", VECTORS["cases"], ids=lambda case: case["name"])
def test_case_has_the_published_verdict_and_names_the_rule(case):
    judgement = judge(reading_of(case["reading"]), [RULES[key] for key in case["rules"]], case["facts"])

    assert (str(judgement.verdict), judgement.rule_id) == (case["verdict"], case["rule"])
    assert case.get("code", judgement.code) == judgement.code
    assert judgement.sentence
    assert len(judgement.sentence) <= 400
    assert len(judgement.limit_text) <= 200


def test_there_are_enough_cases_of_every_kind_and_verdict():
    assert len(VECTORS["cases"]) >= 60
    assert {case["verdict"] for case in VECTORS["cases"]} == {"ok", "watch", "withdraw", "unknown"}
    used = {RULES[key].kind for case in VECTORS["cases"] for key in case["rules"]}
    from engineering.rules import KINDS

    assert used == set(KINDS)


def test_rules_in_the_vectors_are_those_of_the_sets():
    published = {rule.id: rule for one in all_sets().values() for rule in one.rules}
    for key, data in VECTORS["rules"].items():
        if data["set"]:
            assert {**rule_to_dict(published[data["id"]]), "verdict": data["verdict"]} == data, key


def test_every_rule_survives_being_written_and_read():
    for key, data in VECTORS["rules"].items():
        assert rule_to_dict(RULES[key]) == data
        assert rule_from_dict(rule_to_dict(RULES[key])) == RULES[key]
