"""What a checklist refuses, what loosens it, and how it is changed. The project's own rules, no outside source."""

import re
from copy import deepcopy
from typing import Any

import pytest

from courses import checklists
from courses.checklists import ChecklistError, changed, differences, loosens, with_item, without_item
from tests.courses.checklist_parts import SMALL, keys, line, small

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
