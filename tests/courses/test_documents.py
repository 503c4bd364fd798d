"""Shapes of the versions, and what a line still lacks. Published thresholds carry their rule and how it was seen."""

from copy import deepcopy
from typing import Any

import pytest

from courses import checklists, documents
from courses.documents import clean, line_gaps, platform_gaps
from courses.errors import Refused
from courses.shapes import without_typed
from tests.courses.build import LINE

FITTED = {"cable", "end-launch", "end-landing", "primary-1", "emergency-1"}
CHECKLIST = {"items": [{"key": "MC-01@cable", "text": "Look along the cable."}]}


def gaps(
    document: dict[str, Any], fitted: set[str] = FITTED, checklist: dict[str, Any] | None = CHECKLIST
) -> list[str]:
    return [
        gap.field for gap in line_gaps(document, fitted_slots=fitted, limits={"items": {}}, checklist=checklist)
    ]  # fmt: skip


def changed(**changes: Any) -> dict[str, Any]:
    return deepcopy(LINE) | changes


def test_complete_line_has_no_gap() -> None:
    assert gaps(clean("line", LINE)) == []


def test_line_without_data_lacks_everything_that_clearing_needs() -> None:
    missing = line_gaps({}, fitted_slots=(), limits={}, checklist=None)

    assert [gap.label for gap in missing] == [
        "Designer of record",
        "Length of the line",
        "Drop of the line",
        "Posted minimum weight",
        "Posted maximum weight",
        "How riders are weighed",
        "Headwind limit",
        "Tailwind limit",
        "Crosswind limit",
        "Arrival speed",
        "Brake travel available",
        "Construction of the cable",
        "Diameter of the cable",
        "Core of the cable",
        "Breaking force of the cable",
        "Launch end: kind of end connection",
        "Launch end: what it is anchored to",
        "Landing end: kind of end connection",
        "Landing end: what it is anchored to",
        "Primary brake",
        "Component fitted as cable",
        "Component fitted as launch end",
        "Component fitted as landing end",
        "Checklist in force",
    ]


@pytest.mark.parametrize(
    ("speed", "lacking"),
    [
        ("2.682", []),  # 6 mph: no emergency brake asked for (R-301, READ, an advisory)
        ("2.683", ["brakes.emergency"]),  # above it primary and emergency brake (R-302, READ-2)
        ("2.70", ["brakes.emergency"]),  # under 10 km/h yet over 6 mph: the stricter counts (R-301)
    ],
)
def test_emergency_brake_is_asked_for_above_walking_speed(speed: str, lacking: list[str]) -> None:
    document = changed(arrival_speed_mps=speed, brakes=[{"slot": "primary-1", "role": "primary", "kind": "spring"}])

    assert gaps(document) == lacking


@pytest.mark.parametrize(
    "emergency",
    [
        {"kind": "hand"},  # a guide-activated brake is no emergency brake: R-304, READ-2
        {"kind": "cord", "shares": ["anchor"]},  # not independent: R-304, READ-2
    ],
)
def test_emergency_brake_that_needs_a_hand_or_shares_a_part_does_not_count(emergency: dict[str, Any]) -> None:
    primary, _second = LINE["brakes"]
    document = changed(brakes=[primary, {"slot": "emergency-1", "role": "emergency", **emergency}])

    assert gaps(document) == ["brakes.emergency"]


def test_components_that_are_not_fitted_are_named_by_their_slot() -> None:
    assert gaps(LINE, fitted=FITTED - {"end-launch", "emergency-1"}) == ["fitted.end-launch", "fitted.emergency-1"]


def test_gravity_run_out_needs_nothing_fitted() -> None:
    document = changed(arrival_speed_mps="2", brakes=[{"slot": "primary-1", "role": "primary", "kind": "runout"}])

    assert gaps(document, fitted=FITTED - {"primary-1"}) == []


def test_clips_need_number_size_and_torque() -> None:
    document = deepcopy(LINE)
    document["ends"]["launch"]["clips"] = {"count": "4"}

    assert gaps(document) == ["ends.launch.clips.size_mm", "ends.launch.clips.torque_nm"]


@pytest.mark.parametrize("construction", ["1x19", "Herringbone 12"])
def test_clips_are_refused_on_a_spiral_strand_and_on_a_construction_nobody_knows(construction: str) -> None:
    # R-176: not for spiral ropes such as 1x19 (EN 13411-5 abstract READ; "not for spiral ropes" READ-2)
    document = deepcopy(LINE)
    document["cable"]["construction"] = construction

    assert gaps(document) == ["ends.launch.suits"]


def test_figure_without_a_published_number_needs_a_limit_of_the_course() -> None:
    # QUANTITIES.md: air.gap is an own limit, no published number was found
    item = {"key": "BM-5@primary-1", "code": "BM-5", "text": "Air gap", "measures": "air.gap"}
    asked = {"document": LINE, "fitted_slots": FITTED, "checklist": {"items": [item]}}

    assert [gap.field for gap in line_gaps(limits={}, **asked)] == ["limits.BM-5@primary-1"]
    assert line_gaps(limits={"items": {item["key"]: {"rules": [OWN]}}}, **asked) == []


def test_platform_lacks_support_and_way_off() -> None:
    assert [gap.field for gap in platform_gaps({})] == ["support", "way_off"]
    assert platform_gaps({"support": "tower", "way_off": "stairs"}) == []


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"length_m": "240,5"}, "length: This is not a plain decimal number."),
        ({"length_m": 240}, "length: This is not a plain decimal number."),
        ({"length_m": "1e3"}, "length: This is not a plain decimal number."),
        ({"length_m": "0"}, "length: This must be more than 0 m."),
        ({"cable": {"diameter_mm": "0.625"}}, "nominal diameter: Less than 3 mm cannot be right."),  # inches were meant
        ({"mass_max_kg": "1200"}, "heaviest rider: More than 500 kg cannot be right."),
        ({"mass_min_kg": "120"}, "The lightest rider must weigh less than the heaviest one."),
        ({"drop_m": "240"}, "The drop must be less than the length of the line."),
        ({"lenght_m": "240"}, "This document: lenght_m is no name that is used here."),
        ({"wind": {"head_mps": "-3"}}, "headwind limit: This is not a plain decimal number."),
        ({"brakes": [LINE["brakes"][0]] * 2}, "Two brakes have the same place on this line."),
        (
            {"brakes": [{"slot": "primary-1", "role": "emergency", "kind": "cord"}]},
            "A brake is named by its role and a number, such as primary-1.",
        ),
    ],
)
def test_line_data_of_another_shape_are_refused_in_words(change: dict[str, Any], sentence: str) -> None:
    with pytest.raises(Refused) as refusal:
        clean("line", changed(**change))

    assert refusal.value.sentence == sentence


def test_empty_values_are_left_out_and_what_was_typed_stays_beside_its_number() -> None:
    cleaned = clean("line", {"length_m": "137.16", "length_m_typed": "450 ft", "drop_m": "", "drop_m_typed": "9 ft"})

    assert cleaned == {"length_m": "137.16", "length_m_typed": "450 ft"}
    assert without_typed(cleaned) == {"length_m": "137.16"}


def test_cleaning_twice_changes_nothing() -> None:
    once = clean("line", LINE)

    assert clean("line", once) == once


def test_way_off_is_a_word_or_another_line() -> None:
    line = "line:4b2f0bb0-2f0a-4f0e-9a58-0a4a64f4f6b5"

    assert clean("platform", {"way_off": line}) == {"way_off": line}
    with pytest.raises(Refused):
        clean("platform", {"way_off": "line:2"})


def test_baseline_needs_its_date_and_gauge() -> None:
    figure = {"nominal": "16", "baseline": "16.3"}

    with pytest.raises(Refused) as refusal:
        clean("component", {"figures": {"rope.diameter": figure}})

    assert refusal.value.sentence == "The baseline of rope.diameter needs its date and its gauge."
    complete = {"rope.diameter": figure | {"baseline_date": "2026-04-12", "gauge": "calliper C-2"}}
    assert clean("component", {"figures": complete}) == {"figures": complete}


CALENDAR = {
    "seasons": [{"from": "2026-04-01", "to": "2026-11-01"}],
    "weekdays": [7, 1, 6],
    "opens": "09:30",
    "closes": "17:00",
    "closed": ["2026-06-24", "2026-06-24"],
}


def test_calendar_is_put_in_order() -> None:
    cleaned = clean("calendar", CALENDAR)

    assert cleaned["weekdays"] == [1, 6, 7]
    assert cleaned["closed"] == ["2026-06-24"]
    assert cleaned["extra"] == []


@pytest.mark.parametrize(
    "change",
    [
        {"opens": "9:30"},
        {"closes": "09:00"},
        {"weekdays": [0]},
        {"weekdays": ["1"]},
        {"seasons": [{"from": "2026-11-01", "to": "2026-04-01"}]},
        {"closed": ["24.06.2026"]},
        {"extra": ["2026-06-24"]},
    ],
)
def test_calendar_that_cannot_be_meant_is_refused(change: dict[str, Any]) -> None:
    with pytest.raises(Refused):
        clean("calendar", CALENDAR | change)


OWN = {
    "id": "own-1", "on": ["air.gap"], "kind": "max", "params": {"limit": "4"}, "compare": ">", "unit": "mm",
    "source": "Maker's manual, page 12", "got": "COURSE",
}  # fmt: skip


def test_own_limit_is_kept_as_its_rule() -> None:
    kept = clean("limits", {"items": {"BM-5@primary-1": {"rules": [OWN], "gauge_u": "0.02"}}})

    rule = kept["items"]["BM-5@primary-1"]["rules"][0]
    assert (rule["params"], rule["compare"], rule["verdict"]) == ({"limit": "4"}, ">", "withdraw")
    assert kept["items"]["BM-5@primary-1"]["gauge_u"] == "0.02"


@pytest.mark.parametrize("change", [{"source": " "}, {"got": "READ"}, {"params": {"limit": "4,0"}}, {"kind": "about"}])
def test_own_limit_that_cannot_be_relied_on_is_refused(change: dict[str, Any]) -> None:
    with pytest.raises(Refused):
        clean("limits", {"items": {"BM-5@primary-1": {"rules": [OWN | change]}}})


def test_checklist_with_two_items_of_one_key_is_refused() -> None:
    composed = checklists.compose("house", {})
    twice = composed | {"items": [composed["items"][0], composed["items"][0]]}

    assert clean("checklist", composed) == composed
    with pytest.raises(Refused) as refusal:
        clean("checklist", twice)
    assert "stands twice" in refusal.value.sentence


def test_criteria_sets_that_do_not_exist_are_refused() -> None:
    assert clean("criteria", {"sets": ["osha-1926-1413"]}) == {"sets": ["osha-1926-1413"], "promote": []}
    with pytest.raises(Refused):
        clean("criteria", {"sets": ["osha-1926"]})


def test_words_for_choices_exist_for_every_kind_of_brake_that_clearance_knows() -> None:
    # engineering.clearance.BrakeFact: hand, spring, magnetic, cord, runout
    assert list(documents.BRAKE_KINDS) == ["hand", "spring", "magnetic", "cord", "runout"]
