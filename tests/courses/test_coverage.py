"""Which law point is covered by what. The points are those of the published texts, named beside each test."""

from typing import Any

import pytest

from courses import checklists, coverage
from courses.checklists import ChecklistError, compose, without_item
from courses.coverage import laws_for, missing
from courses.documents import BRAKE_KINDS, END_KINDS

WITH_RIDE_AND_GEAR = {"ride", "gear", "day_record"}

LINE: dict[str, Any] = {
    "cable": {"construction": "6x36WS"},
    "ends": {
        "launch": {"kind": "clips", "anchor": "tree", "backup": "yes", "turnbuckle": "no", "shackle": "no"},
        "landing": {"kind": "sleeve", "anchor": "pole", "backup": "yes", "turnbuckle": "yes", "shackle": "no"},
    },
    "brakes": [
        {"slot": "primary-1", "role": "primary", "kind": "spring"},
        {"slot": "emergency-1", "role": "emergency", "kind": "cord"},
    ],
}
PLATFORM = {"support": "tree", "guys": "2", "way_off": "stairs", "gate": "yes", "padding": "yes"}


def course(**more: Any) -> dict[str, Any]:
    """Return the checklists of a course of one line, as composed from the library."""
    places = {
        "Line 1": compose("line", LINE, launch_document=PLATFORM, landing_document=PLATFORM),
        "Platform 1": compose("platform", PLATFORM),
        "Platform 2": compose("platform", PLATFORM),
        "Gear store": compose("store", {}),
        "Course house": compose("house", {}),
    }
    return places | more


def letters(contents: dict[str, Any], law: str, also: set[str] = WITH_RIDE_AND_GEAR) -> str:
    """Return the letters of one law that nothing covers."""
    return " ".join(point.letter for found, point in missing(contents, also) if found.id == law)


def stripped(contents: dict[str, Any], tag: str) -> dict[str, Any]:
    """Take every item for one point out of every checklist."""
    return {
        place: content | {"items": [item for item in content["items"] if tag not in item["laws"]]}
        for place, content in contents.items()
    }


def points(law: str) -> list[str]:
    return next([point.letter for point in found.points] for found in coverage.laws() if found.id == law)


# --- the texts


def test_points_are_those_of_the_texts() -> None:
    # Florida 5J-18.009 a to k; Quebec S-3 r.1 s.47, 1 to 8; WHS Reg. 238(2)(a)-(c). All READ.
    assert points("FL") == list("abcdefghijk")
    assert points("QC") == list("12345678")
    assert points("WHS") == list("abc")


def test_every_text_says_how_it_was_seen() -> None:
    # As in the list of published rules: R-227 was recalled, R-225 read in a summary, the others in their own words.
    seen = {law.id: law.got for law in coverage.laws()}

    assert {name for name, got in seen.items() if got != "READ"} == {"EN", "ASTM"}
    assert (seen["EN"], seen["ASTM"]) == ("READ-2", "MEMORY")
    assert all(point.got == law.got for law in coverage.laws() for point in law.points)


def test_law_of_a_place() -> None:
    assert [law.id for law in laws_for("US-FL")] == ["FL"]
    assert [law.id for law in laws_for("AU-QLD")] == ["WHS"]
    assert laws_for("AT-7") == ()


def test_items_name_only_points_that_exist() -> None:
    known = {f"{law.id}:{point.letter}" for law in coverage.laws() for point in law.points}
    strange = {(item.code, tag) for item in checklists.library() for tag in item.laws if tag not in known}

    assert strange == set()


# --- the library as it stands


def test_typical_course_covers_every_letter_of_florida() -> None:
    # Florida 5J-18.009 a to k, R-206, READ.
    assert letters(course(), "FL") == ""


def test_typical_course_covers_every_number_of_quebec() -> None:
    # Quebec S-3 r.1 s.47, 1 to 8, R-223, READ.
    assert letters(course(), "QC") == ""


@pytest.mark.parametrize("law", ["WHS", "TX", "PA", "MD", "UT", "EN"])
def test_typical_course_covers_what_other_texts_want_looked_at(law: str) -> None:
    # R-212 (READ), R-225 (READ-2). Signing and keeping are no items.
    assert letters(course(), law, set(coverage.recordable())) == ""


@pytest.mark.parametrize("tag", [f"{law}:{point}" for law in ("FL", "QC") for point in points(law)])
def test_without_its_items_a_letter_is_named(tag: str) -> None:
    # FL, R-206, READ; QC, R-223, READ. Points that gear racks or the ride meet are looked at without those.
    law, letter = tag.split(":")
    before = course()
    after = stripped(before, tag)

    assert before != after, f"No item of the library says that it is for {tag}."
    assert letter not in letters(before, law, set()).split()
    assert letter in letters(after, law, set()).split()


@pytest.mark.parametrize("landing", list(END_KINDS))
@pytest.mark.parametrize("kind", list(BRAKE_KINDS))
def test_every_kind_of_line_has_its_own_daily_items_for_what_each_line_needs(kind: str, landing: str) -> None:
    # Brakes: FL f, QC 2, PA 139.79(a); wire rope every day: MD 09.12.62.08; each line checked: WHS 238(2)(a). All READ.
    ends = {"launch": LINE["ends"]["launch"], "landing": {"kind": landing, "anchor": "wall"}}
    other = LINE | {"ends": ends, "brakes": [{"slot": "primary-1", "role": "primary", "kind": kind}]}
    contents = course(**{"Line 2": compose("line", other)})

    lacking = [
        (law.id, point.letter, point.lacking_at) for law, point in missing(contents, WITH_RIDE_AND_GEAR) if point.each
    ]

    assert lacking == []


# --- how covering is reckoned

LAWS = """
[recorded]
ride = "A ride."
[[law]]
id = "XX"
title = "A made-up text"
where = ["XX"]
source = "invented for this test"
got = "MEMORY"
point = [
  { letter = "a", text = "brakes", each = "line" },
  { letter = "b", text = "signs" },
  { letter = "c", text = "a run, and a look at the wheels", recorded = ["ride"] },
]
"""


def item(
    tag: str, *, slot: str = "cable", every: str = "1", sheet: str = "cable", code: str = "AA-1"
) -> dict[str, Any]:
    return {"key": f"{code}@{slot}", "code": code, "slot": slot, "sheet": sheet, "every": every, "text": "Sound?",
            "laws": [tag]}  # fmt: skip


def listed(*items: dict[str, Any]) -> dict[str, Any]:
    return {"format": 1, "items": list(items), "left_out": []}


def uncovered(contents: dict[str, Any], *also: str) -> list[str]:
    of = coverage.laws_from_toml(LAWS)
    return [point.letter for _law, point in missing(contents, also, of=of, items=())]


BRAKES, SIGNS = item("XX:a"), item("XX:b", slot="house", sheet="house")


def test_one_item_taken_out_names_its_letter() -> None:
    contents = {"Line 1": listed(BRAKES), "House": listed(SIGNS)}

    assert uncovered(contents, "ride") == []
    assert uncovered({"Line 1": listed(BRAKES), "House": listed(item("XX:z", slot="house"))}, "ride") == ["b"]
    assert uncovered(contents) == ["c"]


def test_every_line_needs_its_own_where_the_point_says_so() -> None:
    contents = {"Line 1": listed(BRAKES), "Line 2": listed(item("XX:b")), "House": listed(SIGNS)}
    [law] = coverage.coverage(contents, ["ride"], of=coverage.laws_from_toml(LAWS), items=())

    assert [(point.letter, point.missing, point.lacking_at) for point in law.points] == [
        ("a", True, ("Line 2",)), ("b", False, ()), ("c", False, ()),
    ]  # fmt: skip
    assert [(cover.place, cover.key, cover.text) for cover in law.points[0].covered_by] == [
        ("Line 1", "AA-1@cable", "Sound?")
    ]
    assert [(cover.place, cover.key, cover.text) for cover in law.points[2].covered_by] == [
        ("", "ride", coverage.recordable()["ride"])
    ]


def test_a_place_without_any_item_is_named_and_not_passed_over() -> None:
    assert uncovered({"Line 1": listed(BRAKES), "Line 2": {}, "House": listed(SIGNS)}, "ride") == ["a"]
    assert uncovered({}, "ride") == ["a", "b"]


@pytest.mark.parametrize("every", ["7", "30", "event:wind"])
def test_an_item_that_is_not_due_every_day_covers_nothing(every: str) -> None:
    # The texts speak of each day, READ.
    contents = {"Line 1": listed(item("XX:a", every=every)), "House": listed(SIGNS)}

    assert uncovered(contents, "ride") == ["a"]
    contents["Line 1"]["items"][0]["sheet"] = "ride"
    assert uncovered(contents, "ride") == []


def test_items_left_out_are_shown_with_their_reason() -> None:
    contents = course()
    key = next(item["key"] for item in contents["Course house"]["items"] if "FL:i" in item["laws"])
    contents["Course house"] = without_item(contents["Course house"], key, "The signs hang at the lifts.")

    [law] = coverage.coverage(contents, of=laws_for("US-FL"))
    signs = next(point for point in law.points if point.letter == "i")

    assert [(cover.place, cover.key, cover.text) for cover in signs.left_out] == [
        ("Course house", key, "The signs hang at the lifts.")
    ]


def test_what_takes_two_things_is_not_met_by_one() -> None:
    # Texas 28 TAC 5.9004: signed by the inspector and by the supervisor. R-207, READ.
    assert "signatures" in letters({}, "TX", {"signed_at_completion"}).split()
    assert "signatures" in letters({}, "TX", {"second_signature"}).split()
    assert "signatures" not in letters({}, "TX", {"signed_at_completion", "second_signature"}).split()


def test_a_name_that_no_record_holds_is_refused() -> None:
    with pytest.raises(ChecklistError) as refused:
        coverage.coverage({}, {"rides"}, items=())

    assert refused.value.code == "recorded"


@pytest.mark.parametrize(
    ("old", "new", "code"),
    [
        ('where = ["XX"]', "", "law"),
        ('got = "MEMORY"', 'got = "SEEN"', "law"),
        ('source = "invented for this test"', 'source = ""', "law"),
        ('title = "A made-up text"', 'title = "A made-up text"\nclause = "1"', "law"),
        ('letter = "b"', 'letter = "a"', "law"),
        ('letter = "b"', 'letter = "b", items = ["SC-01"]', "point"),
        ('recorded = ["ride"]', 'recorded = ["rides"]', "point"),
        ('each = "line"', 'each = "platform"', "point"),
        ("[recorded]", "[record]", "laws"),
    ],
)
def test_laws_that_could_be_misread_are_refused(old: str, new: str, code: str) -> None:
    assert old in LAWS
    with pytest.raises(ChecklistError) as refused:
        coverage.laws_from_toml(LAWS.replace(old, new, 1))

    assert refused.value.code == code


def test_two_laws_of_one_name_are_refused() -> None:
    with pytest.raises(ChecklistError) as refused:
        coverage.laws_from_toml(LAWS + "[[law]]" + LAWS.split("[[law]]")[1])

    assert refused.value.code == "twice"
