"""The library as it stands, what is composed from it, and which changes only make a checklist stricter.

The daily budget of 30 items and 6 figures is this project's own judgement, no published figure. Quantities, their
units and their kinds of reading are checked against ``engineering/criteria/QUANTITIES.md``.
"""

import json
import re
from copy import deepcopy
from itertools import combinations_with_replacement, product
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
from tests.courses.checklist_parts import FITTINGS, QUANTITIES, SMALL, keys, line, small

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


@pytest.mark.slow
def test_daily_items_of_a_line_stay_within_30_and_6_figures_whatever_its_brakes_ends_and_fittings() -> None:
    documents = [
        line((primary,), emergency, launch=launch, landing=landing, anchor=anchor, at_launch=FITTINGS,
             at_landing=FITTINGS)
        for primary, emergency in product(BRAKE_KINDS, BRAKE_KINDS)
        for launch, landing, anchor in ENDS
    ]  # fmt: skip

    assert len(documents) == 2000
    assert over(documents) == []


@pytest.mark.slow
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
