"""The library as it stands, what is composed from it, and which changes only make a checklist stricter.

The daily budget of 30 items and 6 figures is this project's own judgement, no published figure. Quantities, their
units and their kinds of reading are checked against ``engineering/criteria/QUANTITIES.md``.
"""

import json
import re
from copy import deepcopy
from itertools import combinations_with_replacement, product
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from courses import checklists
from courses.checklists import ChecklistError, changed, compose, differences, loosens, with_item, without_item
from courses.documents import ANCHORS, BRAKE_KINDS, END_KINDS, clean
from courses.models import Component
from engineering import criteria
from engineering.units import UNITS

QUANTITIES = Path(criteria.__file__).with_name("criteria") / "QUANTITIES.md"
FITTINGS = ("turnbuckle", "shackle", "backup")

SMALL = """
[[item]]
code = "MC-04"
text = "What is the diameter at the marked station?"
look = "Two readings at right angles, crown to crown."
kind = "pair"
unit = "mm"
class = "critical"
sheet = "cable"
slot = "cable"
every = "180"
reach = "hand"
measures = "rope.diameter"
needs = ["calliper"]
sources = ["R-120 (8 CCR 5036(a)(2)(B), READ)", "R-121 (30 CFR 56.19024(g), READ)"]
laws = ["MD:rope"]

[[item]]
code = "TA-06"
text = "Is the turnbuckle locked?"
look = "Both ends fully engaged, locked, straight."
kind = "look"
class = "major"
sheet = "end"
slot = "end"
every = "1"
reach = "hand"
measures = "turnbuckle.condition"
sources = ["R-414 (FAA AC 43.13-1B, READ)"]
when.turnbuckle = "yes"

[[item]]
code = "BS-2"
text = "Are the coils sound?"
look = "No crack, no rust, even gaps."
kind = "look"
class = "critical"
sheet = "landing"
slot = "brake"
every = "event:strike"
reach = "platform"
measures = "spring.condition"
sources = ["common practice, no source"]
laws = ["FL:f"]
when.brake = ["spring"]
when.role = ["primary"]
"""


def line(
    primary: tuple[str, ...] = ("spring",), emergency: str = "cord", *, launch: str = "clips", landing: str = "sleeve",
    anchor: str = "tower", at_launch: tuple[str, ...] = (), at_landing: tuple[str, ...] = (),
    construction: str = "6x36WS",
) -> dict[str, Any]:  # fmt: skip
    """Return a line's data; of the fittings exactly those named are there."""

    def end(kind: str, fitted: tuple[str, ...]) -> dict[str, str]:
        return {"kind": kind, "anchor": anchor} | {name: "yes" if name in fitted else "no" for name in FITTINGS}

    brakes = [{"slot": f"primary-{n}", "role": "primary", "kind": kind} for n, kind in enumerate(primary, 1)]
    return {
        "cable": {"construction": construction},
        "ends": {"launch": end(launch, at_launch), "landing": end(landing, at_landing)},
        "brakes": [*brakes, {"slot": "emergency-1", "role": "emergency", "kind": emergency}],
        "speed_instrument": "light gate",
    }


def small(document: dict[str, Any] | None = None) -> dict[str, Any]:
    document = line(at_launch=("turnbuckle",)) if document is None else document
    return compose("line", document, items=checklists.library_from_toml(SMALL))


def keys(content: dict[str, Any]) -> list[str]:
    return [item["key"] for item in content["items"]]


# --- the library as it stands


def quantities() -> dict[str, tuple[str, str]]:
    """Return unit and kind of reading of every quantity in the published list."""
    rows = re.findall(r"^\| `([a-z0-9_.]+)` \| ([^|]+) \| ([^|]+) \| [^|]+ \| [^|]+ \|$", QUANTITIES.read_text(), re.M)
    return {name: (unit.split()[0].strip(), reading.split()[0].strip()) for name, unit, reading in rows}


def test_every_item_measures_a_quantity_of_the_list_in_its_unit_and_kind() -> None:
    known = quantities()
    readings = {"look": "mark", "function": "mark", "figure": "figure", "pair": "pair", "count": "count",
                "dates": "dates", "date": "date"}  # fmt: skip
    wrong = {
        (item.code, item.slot): (item.measures, item.unit, item.kind, known.get(item.measures))
        for item in checklists.library()
        if known.get(item.measures) != (item.unit or "-", readings[item.kind])
    }

    assert len(known) > 100
    assert wrong == {}, f"These items say another quantity, unit or kind than QUANTITIES.md: {wrong}"


def test_every_rule_on_an_items_quantity_can_read_its_unit() -> None:
    # A rule in another dimension would leave the item unknown for ever, and the line held.
    every_set = tuple(criteria.all_sets())
    wrong = [
        (item.code, rule.id)
        for item in checklists.library()
        if item.unit
        for rule in criteria.rules_for(item.measures, every_set)
        if rule.unit in UNITS and UNITS[rule.unit].dimension not in {UNITS[item.unit].dimension, "days", "months"}
    ]

    assert wrong == []


def test_every_source_says_how_it_was_seen() -> None:
    marks = ("READ", "MEMORY", "DERIVED", "judgement", "common practice", "starting value",
             "no published number", "designer of record")  # fmt: skip
    unmarked = [
        (item.code, source)
        for item in checklists.library()
        for source in item.sources
        if not any(mark in source for mark in marks) or "dossier" in source
    ]

    assert unmarked == []


def test_gear_guidance_is_by_kind_and_never_an_item() -> None:
    kinds = {kind for item in checklists.library() if item.slot == "gear" for kind in item.when.get("gear", ())}
    harness = checklists.gear_guidance("harness")

    assert kinds <= set(Component.Kind.values)
    assert harness
    assert all("harness" in item.when.get("gear", ("harness",)) for item in harness)
    assert not any(
        item["sheet"] == "gear" or item["slot"] == "gear"
        for kind in checklists.PLACE_SLOTS
        for item in compose(kind, line() if kind == "line" else {})["items"]
    )


def test_conditions_of_the_library_name_answers_that_the_forms_give() -> None:
    answers = {"brake": set(BRAKE_KINDS), "end": set(END_KINDS), "anchor": set(ANCHORS), "support": set(ANCHORS),
               "role": {"primary", "emergency"}, "way_off": {"walk", "stairs", "lowering", "line"}}  # fmt: skip
    wrong = [
        (item.code, name, values)
        for item in checklists.library()
        for name, values in item.when.items()
        if name in answers and not set(values) <= answers[name]
    ]

    assert wrong == []


@pytest.mark.parametrize("kind", ["line", "platform", "store", "house"])
def test_composed_checklists_are_taken_as_documents_and_survive_being_stored(kind: str) -> None:
    content = compose(kind, line() if kind == "line" else {"support": "tree", "guys": "2"})

    assert content["items"]
    assert clean("checklist", content) == content
    checklists.validate(json.loads(json.dumps(content)))


# --- the budget of a morning

ENDS = list(product(END_KINDS, END_KINDS, ANCHORS))


def over(documents: list[dict[str, Any]]) -> list[tuple[tuple[int, int], Any]]:
    found = []
    for document in documents:
        content = compose("line", document)
        items, figures = checklists.daily_budget(content)
        assert len(set(keys(content))) == len(content["items"])
        if items > 30 or figures > 6:
            found.append(((items, figures), document))
    return found


def test_daily_items_of_a_line_stay_within_30_and_6_figures_whatever_its_brakes_ends_and_fittings() -> None:
    documents = [
        line((primary,), emergency, launch=launch, landing=landing, anchor=anchor, at_launch=FITTINGS,
             at_landing=FITTINGS)
        for primary, emergency in product(BRAKE_KINDS, BRAKE_KINDS)
        for launch, landing, anchor in ENDS
    ]  # fmt: skip

    assert len(documents) == 2000
    assert over(documents) == []


def test_two_primary_brakes_in_series_stay_within_the_budget_with_the_usual_fittings() -> None:
    # Usual: one turnbuckle, at the landing, and a backup at either end. With all fittings at both ends it can be 33.
    documents = [
        line(pair, emergency, launch=launch, landing=landing, anchor=anchor, at_launch=("backup",),
             at_landing=("turnbuckle", "backup"))
        for pair in combinations_with_replacement(BRAKE_KINDS, 2)
        for emergency in BRAKE_KINDS
        for launch, landing, anchor in ENDS
        if anchor == "wall"  # an anchor adds the same items whatever the brakes are, and no other adds more
    ]  # fmt: skip

    assert len(documents) == 1200
    assert over(documents) == []


@pytest.mark.parametrize("kind", list(BRAKE_KINDS))
def test_every_kind_of_brake_is_looked_at_every_day_in_either_role(kind: str) -> None:
    # R-208 (PA, READ) and R-206 f (FL, READ): brakes are inspected on each day.
    content = compose("line", line((kind, "spring"), kind))
    daily = {item["slot"] for item in content["items"] if item["every"] == "1" and item["class"] == "critical"}

    assert {"primary-1", "primary-2", "emergency-1"} <= daily


def test_budget_counts_neither_the_ride_nor_what_is_due_later() -> None:
    assert checklists.daily_budget(small()) == (1, 0)

    often = changed(small(), "MC-04@cable", every="1")

    assert checklists.daily_budget(often) == (2, 1)
    assert checklists.daily_budget(changed(often, "MC-04@cable", sheet="ride")) == (1, 0)


# --- composing


def test_items_are_composed_for_the_spots_that_meet_their_conditions() -> None:
    assert keys(small()) == ["TA-06@end-launch", "MC-04@cable", "BS-2@primary-1"]
    assert keys(small(line(("cord", "spring"), "spring"))) == ["MC-04@cable", "BS-2@primary-2"]
    assert keys(small(line(("hand",), "spring", at_landing=("turnbuckle",)))) == ["MC-04@cable", "TA-06@end-landing"]


def test_a_fitting_that_nobody_has_entered_is_composed() -> None:
    document = line()
    del document["ends"]["launch"]["turnbuckle"]

    assert "TA-06@end-launch" in keys(small(document))
    assert "TA-06@end-landing" not in keys(small(document))


@pytest.mark.parametrize(
    ("construction", "stranded"), [("1x19", False), ("1 × 19 compacted", False), ("7x19", True), ("", True)]
)
def test_spiral_ropes_have_no_strands(construction: str, stranded: bool) -> None:
    only = SMALL.split("[[item]]")[1]
    items = checklists.library_from_toml(f'[[item]]{only}\nwhen.stranded = "yes"')

    assert bool(compose("line", line(construction=construction), items=items)["items"]) is stranded


def test_platform_conditions_are_asked_of_the_platform() -> None:
    guys = SMALL.split("[[item]]")[2].replace("turnbuckle = ", "guys = ").replace('"end"', '"platform"')
    items = checklists.library_from_toml(f"[[item]]{guys}")

    assert keys(compose("platform", {"guys": "3"}, items=items)) == ["TA-06@platform"]
    assert keys(compose("platform", {"guys": "0"}, items=items)) == []
    assert keys(compose("platform", {}, items=items)) == ["TA-06@platform"]


def test_condition_on_brake_and_role_is_met_by_one_and_the_same_brake() -> None:
    ride = SMALL.split("[[item]]")[3].replace('"brake"', '"ride"').replace('"landing"', '"ride"')
    items = checklists.library_from_toml(f"[[item]]{ride}")

    assert keys(compose("line", line(("spring",), "cord"), items=items)) == ["BS-2@ride"]
    assert keys(compose("line", line(("cord",), "spring"), items=items)) == []


@pytest.mark.parametrize(
    ("slot", "expected"),
    [
        ("brake", ["BS-2@primary-1", "BS-2@primary-2", "BS-2@emergency-1"]),
        ("primary", ["BS-2@primary-1", "BS-2@primary-2"]),
        ("emergency", ["BS-2@emergency-1"]),
    ],
)
def test_items_of_a_role_are_composed_for_every_brake_of_that_role(slot: str, expected: list[str]) -> None:
    text = (
        SMALL.split("[[item]]")[3].replace('slot = "brake"', f'slot = "{slot}"').replace('when.role = ["primary"]', "")
    )
    items = checklists.library_from_toml(f"[[item]]{text}")

    assert keys(compose("line", line(("spring", "spring"), "spring"), items=items)) == expected


def test_no_other_kind_of_place_has_a_checklist() -> None:
    with pytest.raises(ChecklistError) as refused:
        compose("rack", {}, items=())

    assert refused.value.code == "place"


LINES = st.builds(
    line,
    st.lists(st.sampled_from(list(BRAKE_KINDS)), min_size=1, max_size=3).map(tuple),
    st.sampled_from(list(BRAKE_KINDS)),
    launch=st.sampled_from(list(END_KINDS)),
    landing=st.sampled_from(list(END_KINDS)),
    anchor=st.sampled_from(list(ANCHORS)),
    at_launch=st.sets(st.sampled_from(FITTINGS)).map(tuple),
    at_landing=st.sets(st.sampled_from(FITTINGS)).map(tuple),
)


@given(LINES)
def test_composing_is_deterministic_and_leaves_its_document_alone(document: dict[str, Any]) -> None:
    before = deepcopy(document)
    backwards = dict(reversed(list(document.items())))

    first, second = compose("line", document), compose("line", backwards)

    assert json.dumps(first) == json.dumps(second)
    assert document == before
    assert not differences(first, second)
    assert not checklists.lacking(first, second)


@given(LINES, st.data())
def test_adding_never_loosens_and_taking_out_always_does(document: dict[str, Any], data: st.DataObject) -> None:
    content = compose("line", document)
    key = data.draw(st.sampled_from(keys(content)))
    item = next(item for item in content["items"] if item["key"] == key)

    less = without_item(content, key, "There is none.")
    again = with_item(less, item)

    assert loosens(content, less)
    assert not loosens(less, again)
    assert sorted(keys(again)) == sorted(keys(content))
    assert again["left_out"] == []
    assert not loosens(content, again)


# --- refusals


@pytest.mark.parametrize(
    ("old", "new", "code"),
    [
        ('code = "MC-04"', 'code = "MC-04"\nevry = "1"', "unknown"),
        ('every = "180"', 'every = "60"', "choice"),
        ('every = "180"', 'every = "event:rain"', "choice"),
        ('class = "critical"', 'class = "crit"', "choice"),
        ('reach = "hand"', 'reach = "drone"', "choice"),
        ('kind = "pair"', 'kind = "photo"', "choice"),
        ('unit = "mm"', "", "unit"),
        ('unit = "mm"', 'unit = "furlong"', "unit"),
        ('unit = "mm"', 'unit = "count"', "unit"),
        ('measures = "rope.diameter"', "", "missing"),
        ('measures = "rope.diameter"', 'measures = "Rope diameter"', "measures"),
        ('needs = ["calliper"]', 'needs = "calliper"', "type"),
        ('text = "What is', 'text = "  What is', "type"),
        ('slot = "cable"', 'slot = "rope"', "slot"),
        ('slot = "cable"', 'slot = "end"', "sheet"),
        ('laws = ["MD:rope"]', 'laws = ["MD:rope"]\nwhen.turnbukle = "yes"', "when"),
        ('laws = ["MD:rope"]', 'laws = ["MD:rope"]\nwhen.support = "tree"', "when"),
        ('laws = ["MD:rope"]', 'laws = ["MD:rope"]\nwhen.stranded = "maybe"', "when"),
        ('laws = ["MD:rope"]', 'laws = ["MD:rope"]\nwhen.brake = []', "when"),
        ('laws = ["MD:rope"]', 'laws = ["MD:rope"]\nallow_negative = false', "type"),
        ('code = "TA-06"', 'code = "ta 06"', "key"),
        ('code = "TA-06"', 'code = "MC-04"', None),
        ('sheet = "end"\nslot = "end"', 'sheet = "cable"\nslot = "cable"', None),
    ],
)
def test_library_refuses_what_could_be_misread(old: str, new: str, code: str | None) -> None:
    assert old in SMALL
    text = SMALL.replace(old, new, 1)
    if code is None:
        assert len(checklists.library_from_toml(text)) == 3
        return
    with pytest.raises(ChecklistError) as refused:
        checklists.library_from_toml(text)

    assert refused.value.code == code
    assert refused.value.sentence.endswith(".")


def test_library_refuses_twins_an_unsourced_item_and_parts_that_nobody_reads() -> None:
    for text, code in (
        (SMALL + "[[item]]" + SMALL.split("[[item]]")[1], "twice"),
        (re.sub(r"sources = .*", "sources = []", SMALL, count=1), "source"),
        (SMALL.replace("[[item]]", "[[itm]]", 1), "library"),
    ):
        with pytest.raises(ChecklistError) as refused:
            checklists.library_from_toml(text)
        assert refused.value.code == code


def without(name: str) -> Any:
    return lambda item: item.pop(name)


def setting(**fields: Any) -> Any:
    return lambda item: item.update(fields)


@pytest.mark.parametrize(
    ("spoil", "code"),
    [
        (without("measures"), "missing"),
        (without("caution"), "item"),
        (without("key"), "item"),
        (setting(key="MC-4@cable"), "key"),
        (setting(slot="end-launch"), "key"),
        (setting(slot="gear", key="MC-04@gear"), "key"),
        (setting(**{"class": "grave"}), "choice"),
        (setting(every=1), "type"),
        (setting(sources=[]), "missing"),
        (setting(sources=[""]), "type"),
        (setting(limit="12"), "unknown"),
        (setting(allow_negative="yes"), "type"),
        (setting(kind="look"), "unit"),
    ],
)
def test_a_checklist_that_could_be_misread_is_refused(spoil: Any, code: str) -> None:
    content = small()
    spoil(content["items"][1])

    with pytest.raises(ChecklistError) as refused:
        checklists.validate(content)

    assert refused.value.code == code


@pytest.mark.parametrize(
    ("part", "code"),
    [
        ({"format": 2}, "format"),
        ({"items": {}}, "items"),
        ({"limits": {}}, "unknown"),
        ({"left_out": [{"code": "MC-01"}]}, "left_out"),
        ({"left_out": [{"code": "MC-01", "why": "  "}]}, "why"),
    ],
)
def test_a_checklist_of_another_shape_is_refused(part: dict[str, Any], code: str) -> None:
    with pytest.raises(ChecklistError) as refused:
        checklists.validate(small() | part)

    assert refused.value.code == code


def test_an_item_that_stands_twice_is_refused() -> None:
    content = small()
    content["items"].append(deepcopy(content["items"][0]))

    with pytest.raises(ChecklistError) as refused:
        checklists.validate(content)

    assert refused.value.code == "twice"


# --- what loosens

CABLE, BRAKE = "MC-04@cable", "BS-2@primary-1"


@pytest.mark.parametrize(
    ("key", "fields", "looser"),
    [
        (CABLE, {"class": "critical"}, False),
        (CABLE, {"class": "major"}, True),
        (CABLE, {"class": "minor"}, True),
        ("TA-06@end-launch", {"class": "critical"}, False),
        (CABLE, {"every": "90"}, False),
        (CABLE, {"every": "1"}, False),
        (CABLE, {"every": "365"}, True),
        (CABLE, {"every": "event:storm"}, True),
        (BRAKE, {"every": "1"}, False),
        (BRAKE, {"every": "7"}, True),
        (BRAKE, {"every": "event:storm"}, True),
        (CABLE, {"text": "Is the diameter all right?"}, True),
        (CABLE, {"look": "Measure once."}, True),
        (CABLE, {"kind": "figure"}, True),
        (CABLE, {"unit": "in"}, True),
        (CABLE, {"measures": "rope.sag"}, True),
        (CABLE, {"reach": "platform"}, True),
        (CABLE, {"sheet": "ride"}, True),
        (CABLE, {"caution": "None needed."}, True),
        (CABLE, {"photo": "The calliper on the cable."}, True),
        (CABLE, {"allow_negative": True}, True),
        (CABLE, {"laws": ["MD:rope", "FL:h"]}, True),
        (CABLE, {"sources": ["R-120 (8 CCR 5036(a)(2)(B), READ)"]}, True),
        (CABLE, {"sources": ["R-120 (another page)", "R-121 (30 CFR 56.19024(g), READ)"]}, True),
        (CABLE, {"needs": []}, True),
        (CABLE, {"needs": ["calliper", "lamp"]}, False),
        (CABLE, {"class": "major", "every": "1"}, True),
    ],
)
def test_only_a_graver_class_and_a_shorter_interval_do_not_loosen(key: str, fields: Any, looser: bool) -> None:
    old = small()
    new = changed(old, key, **fields)

    assert loosens(old, new) is looser
    assert {change.key for change in differences(old, new)} <= {key}


def test_another_source_besides_and_another_order_do_not_loosen() -> None:
    old = small()
    sources = old["items"][1]["sources"]

    assert not loosens(old, changed(old, CABLE, sources=[*sources, "maker's manual, page 12"]))
    assert not loosens(old, old | {"items": old["items"][::-1]})


def test_what_makes_a_checklist_ambiguous_loosens() -> None:
    old = small()

    assert loosens(old, old | {"items": [*old["items"], old["items"][0]]})
    assert loosens(old, old | {"format": 2})
    assert loosens(old, old | {"items": []})
    assert not loosens(old, deepcopy(old))


# --- changing and showing


def test_taking_out_keeps_the_reason_and_is_named() -> None:
    old = small()

    new = without_item(old, "TA-06@end-launch", " No turnbuckle is fitted. ")

    assert new["left_out"] == [{"code": "TA-06", "key": "TA-06@end-launch", "why": "No turnbuckle is fitted."}]
    assert [(change.what, change.before, change.after) for change in differences(old, new)] == [
        ("removed", "Is the turnbuckle locked?", ""),
        ("left_out", "", "No turnbuckle is fitted."),
    ]
    assert old == small()
    assert checklists.lacking(new, old) == []


def test_an_item_that_the_document_now_asks_for_is_lacking() -> None:
    before, after = small(), small(line(at_launch=("turnbuckle",), at_landing=("turnbuckle",)))

    assert [item["key"] for item in checklists.lacking(before, after)] == ["TA-06@end-landing"]


def test_an_own_item_needs_no_optional_part_and_stands_on_its_sheet() -> None:
    own = {"code": "OWN-1", "slot": "end-landing", "sheet": "landing", "text": "Is the net up?", "look": "Both hooks.",
           "kind": "look", "class": "major", "every": "1", "reach": "platform", "measures": "general.sound",
           "sources": ["Maker's manual, page 12"]}  # fmt: skip
    old = small()

    new = with_item(old, own)

    assert keys(new) == ["TA-06@end-launch", "MC-04@cable", "BS-2@primary-1", "OWN-1@end-landing"]
    assert new["items"][-1]["needs"] == []
    assert [(change.what, change.after) for change in differences(old, new)] == [("added", "Is the net up?")]
    assert not loosens(old, new)
    with pytest.raises(ChecklistError) as refused:
        with_item(new, own)
    assert refused.value.code == "twice"


def test_what_differs_is_said_part_by_part() -> None:
    old = small()

    new = changed(old, CABLE, every="90", needs=["calliper", "lamp"])

    assert sorted((change.what, change.before, change.after) for change in differences(old, new)) == [
        ("every", "180", "90"),
        ("needs", "calliper", "calliper; lamp"),
    ]
    assert [change.what for change in differences(None, old)] == ["added"] * 3


@pytest.mark.parametrize(
    ("deed", "code"),
    [
        (lambda content: changed(content, CABLE, code="MC-05"), "key"),
        (lambda content: changed(content, CABLE, slot="ride"), "key"),
        (lambda content: changed(content, CABLE, every="2"), "choice"),
        (lambda content: changed(content, "MC-99@cable", every="1"), "no-item"),
        (lambda content: without_item(content, "MC-99@cable", "gone"), "no-item"),
        (lambda content: without_item(content, CABLE, " "), "why"),
        (lambda content: with_item(content, {"code": "OWN-1", "slot": "cable"}), "missing"),
    ],
)
def test_a_refused_change_leaves_the_checklist_as_it_was(deed: Any, code: str) -> None:
    content = small()

    with pytest.raises(ChecklistError) as refused:
        deed(content)

    assert refused.value.code == code
    assert content == small()
