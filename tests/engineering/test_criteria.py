"""The criteria files: whole, unambiguous, and known to the list of quantities."""

import re
import tomllib

import pytest

from engineering.bounds import Unknowable
from engineering.criteria import FOLDER, all_sets, defaults_for, places, quantities, rules_for, set_from_toml
from engineering.explain import FACT_NAMES
from engineering.limits import Reading, RuleError, Verdict, judge
from engineering.rules import AGES, FACT_VALUES

QUANTITIES = (FOLDER / "QUANTITIES.md").read_text(encoding="utf-8")
FACTS_PART, QUANTITIES_PART = QUANTITIES.split("## Wire rope")
LISTED = dict(re.findall(r"^\| `([^`]+)` \| (.*)$", QUANTITIES_PART, re.MULTILINE))
FACTS_LISTED = set(re.findall(r"`([a-z_]+)`", "".join(re.findall(r"^\| (`[^|]+) \|", FACTS_PART, re.MULTILINE))))
RULES = [rule for one in all_sets().values() for rule in one.rules]


def test_rule_ids_are_unique():
    ids = [rule.id for rule in RULES]

    assert len(ids) == len(set(ids))


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.id)
def test_rule_has_a_source_words_and_listed_quantities(rule):
    assert rule.source.strip()
    assert len(rule.source) <= 300
    assert rule.text.endswith(".")
    for name in rule.on:
        unit, kind = (cell.strip() for cell in LISTED[name].split("|")[:2])
        assert rule.kind == "answer" or rule.kind in AGES or rule.unit == unit, name
        assert (rule.kind == "answer") == (kind == "mark"), name
        assert (rule.kind in AGES) == (kind == "dates"), name


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.id)
def test_facts_of_a_rule_are_listed_and_have_a_name_for_people(rule):
    for fact in rule.facts_needed():
        assert fact in FACTS_LISTED
        assert fact in FACT_NAMES


@pytest.mark.parametrize("rule", [rule for rule in RULES if rule.kind != "answer"], ids=lambda rule: rule.id)
def test_a_rule_without_its_facts_is_unknown_and_says_which(rule):
    if not rule.facts_needed():
        return
    reading = Reading("count" if rule.unit == "count" else "figure", "1", 1, unit=rule.unit)

    judgement = judge(reading, [rule], {})

    assert judgement.verdict is Verdict.UNKNOWN
    assert judgement.code == "fact-missing"
    assert judgement.sentence.endswith(" is not entered.")


def test_quantities_without_a_published_limit_say_so():
    own = {name for name, rest in LISTED.items() if "own limit" in rest}

    assert set(LISTED) - own == set(quantities())
    assert not own & set(quantities())


def test_facts_with_a_closed_list_of_values_are_described_with_it():
    for fact, values in FACT_VALUES.items():
        row = next(line for line in FACTS_PART.splitlines() if line.startswith(f"| `{fact}`"))
        assert set(re.findall(r"`([a-z_]+)`", row)) - {fact} == set(values)


def test_every_look_has_a_rule_by_default():
    defaults = defaults_for("")
    for name, rest in LISTED.items():
        if rest.split("|")[1].strip() == "mark":
            verdict = judge(Reading("mark", mark="defect"), rules_for(name, defaults), {}).verdict
            assert verdict is Verdict.WITHDRAW, name


def test_defaults_are_the_places_law_and_one_rope_set():
    # Decision: law of the course's place and one rope set; all others are the engineer's choice.
    assert defaults_for("DE") == ("found-defective", "osha-1926-1413")
    assert defaults_for("US-PA") == ("found-defective", "osha-1926-1413", "pennsylvania-139-77")
    assert "iowa-875-62" in defaults_for("US-IA")
    assert "queensland-major" in defaults_for("AU-QLD")


def test_law_is_law_only_at_its_place():
    assert all(rule.law for rule in rules_for("rope.broken_wires_lay", ["pennsylvania-139-77"], place="US-PA"))
    assert not any(rule.law for rule in rules_for("rope.broken_wires_lay", ["pennsylvania-139-77"], place="US-NJ"))
    # Iowa's chapter was being rewritten: proposed in Iowa, but not called law.
    assert not any(rule.law for rule in rules_for("rope.broken_wires_lay", ["iowa-875-62"], place="US-IA"))


def test_rules_written_for_cranes_say_so():
    for one in all_sets().values():
        assert one.applies.endswith(".")
        if "CFR 1926" in one.title or "CFR 56" in one.title or "WAC" in one.title:
            assert "not law that applies by itself" in one.applies


def test_places_are_iso_codes():
    assert places()
    assert all(re.fullmatch(r"[A-Z]{2}(-[A-Z]{2,3})?", place) for place in places())


def test_rules_that_must_not_be_used_are_absent():
    # R-127 superseded, R-180 never overrides a table, R-309 contested and not adopted, R-506 inflatables only.
    names = {re.match(r"R-\d+", rule.id).group() for rule in RULES if rule.id.startswith("R-")}

    assert not names & {"R-127", "R-180", "R-309", "R-506"}


def test_a_rope_class_switches_the_rules():
    standing = rules_for("rope.broken_wires_lay", ["osha-1926-1413"], facts={"rope_class": "standing"})
    running = rules_for("rope.broken_wires_lay", ["osha-1926-1413"], facts={"rope_class": "running"})
    unknown = rules_for("rope.broken_wires_lay", ["osha-1926-1413"], facts={})

    assert [[rule.id for rule in rules] for rules in (standing, running, unknown)] == [
        ["R-105"],
        ["R-101"],
        ["R-101", "R-105"],
    ]


def test_a_caution_withdraws_once_promoted():
    plain = rules_for("rope.diameter", ["outer-wire-by-diameter"])
    promoted = rules_for("rope.diameter", ["outer-wire-by-diameter"], promote=["R-131"])

    assert [rule.verdict for rule in plain] == [Verdict.WATCH]
    assert [rule.verdict for rule in promoted] == [Verdict.WITHDRAW]


@pytest.mark.parametrize(("sets", "promote"), [(["no-such-set"], []), (["osha-1926-1413"], ["R-105"])])
def test_a_set_or_caution_that_does_not_exist_is_an_error(sets, promote):
    with pytest.raises(RuleError, match="There is no"):
        rules_for("rope.diameter", sets, promote=promote)


def test_a_set_with_an_unread_key_is_refused():
    text = (FOLDER / "thunder-30.toml").read_text(encoding="utf-8")

    with pytest.raises(RuleError, match="nobody reads"):
        set_from_toml('color = "red"\n' + text)
    with pytest.raises(RuleError, match="lacks"):
        set_from_toml(text.replace("law_where = []", ""))


def own_set(**changes):
    """A set of the smallest kind, as text; a key given as ``None`` is left out."""
    keys = {
        "id": '"own"',
        "title": '"Own"',
        "applies": '"to a test"',
        "law_where": '["AT", "US-PA"]',
        "default_where": '["CH"]',
        "default": "true",
        **changes,
    }
    rule = 'id = "own-1"\non = ["gauge"]\nkind = "max"\ncompare = ">"\nunit = "mm"\nparams = { limit = "7" }'
    about = 'verdict = "withdraw"\ntext = "At most 7."\nsource = "made up for a test"\ngot = "JUDGEMENT"'
    head = "".join(f"{key} = {value}\n" for key, value in keys.items() if value is not None)
    return f"{head}[[rule]]\n{rule}\n{about}\n"


def test_a_set_is_read_as_it_is_written():
    one = set_from_toml(own_set())

    assert (one.id, one.title, one.applies) == ("own", "Own", "to a test")
    assert (one.law_where, one.default_where, one.is_default) == (("AT", "US-PA"), ("CH",), True)
    assert one.is_law_in("AT")
    assert not one.is_law_in("CH")
    assert [(rule.id, rule.set, rule.kind, rule.params["limit"]) for rule in one.rules] == [
        ("own-1", "own", "max", "7")
    ]


def test_a_set_that_does_not_say_where_is_proposed_nowhere():
    one = set_from_toml(own_set(default_where=None, default=None))

    assert (one.default_where, one.is_default) == ((), False)


@pytest.mark.parametrize(("key", "name"), [("id", ""), ("title", "own"), ("applies", "own"), ("law_where", "own")])
def test_a_set_that_lacks_a_key_is_refused_by_its_name(key, name):
    with pytest.raises(RuleError, match=f"^The set '{name}' has keys that nobody reads, or lacks one.$") as refused:
        set_from_toml(own_set(**{key: None}))

    assert refused.value.code == "set"


def test_a_set_without_rules_is_refused():
    with pytest.raises(RuleError, match="lacks one"):
        set_from_toml(own_set().partition("[[rule]]")[0])


def test_no_number_in_a_criteria_file_is_a_float():
    def refuse(text):
        pytest.fail(f"{text} is a float")

    for path in FOLDER.glob("*.toml"):
        assert tomllib.loads(path.read_text(encoding="utf-8"), parse_float=refuse)["rule"]


def test_tables_end_where_their_source_ends():
    # ISO 4309 rows to n = 220 (Lang 30 d to 200), Mich. R 408.40834 to 1 1/2 in, Table H-2 to 1 1/2 in.
    ends = {"R-117-ordinary-6d": ("iso_row_wires", 220), "R-117-lang-30d": ("iso_row_wires", 200)}
    by_id = {rule.id: rule for rule in RULES}
    from engineering.bounds import bounds_of

    for rule_id, (fact, last) in ends.items():
        assert bounds_of(by_id[rule_id], {fact: str(last)}).high
        with pytest.raises(Unknowable):
            bounds_of(by_id[rule_id], {fact: str(last + 1)})
    for rule_id, fact in (("R-122", "nominal"), ("R-171-h2-forged", "rope_diameter")):
        assert bounds_of(by_id[rule_id], {fact: "38.1"}).low
        with pytest.raises(Unknowable):
            bounds_of(by_id[rule_id], {fact: "38.2"})
