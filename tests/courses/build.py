"""A course that is set up, for the tests: one complete line, its platforms, and what is fitted there."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from accounts.models import User
from courses import actions, checklists
from courses.models import Component, Course, Place, Version
from tests import make

LINE: dict[str, Any] = {
    "length_m": "240",
    "drop_m": "14.5",
    "mass_min_kg": "35",
    "mass_max_kg": "120",
    "mass_as": "with_harness",
    "wind": {"head_mps": "8", "tail_mps": "6", "cross_mps": "6"},
    "arrival_speed_mps": "7.5",
    "designer": "Ing. Ada Muster",
    "stroke_available_m": "9",
    "cable": {"construction": "6x36WS", "diameter_mm": "16", "core": "steel", "lay": "ordinary", "mbf_kn": "160"},
    "ends": {
        "launch": {
            "kind": "clips",
            "anchor": "tower",
            "clips": {"count": "4", "size_mm": "16", "torque_nm": "129", "table": "drop_forged"},
        },
        "landing": {"kind": "sleeve", "anchor": "pole", "turnbuckle": "yes"},
    },
    "brakes": [
        {"slot": "primary-1", "role": "primary", "kind": "spring"},
        {"slot": "emergency-1", "role": "emergency", "kind": "cord"},
    ],
}
PLATFORM = {"support": "tower", "guys": "2", "way_off": "stairs", "gate": "yes", "padding": "yes", "load_limit": "6"}
CALENDAR: dict[str, Any] = {
    "seasons": [{"from": "2026-04-01", "to": "2026-11-01"}],
    "weekdays": [1, 2, 3, 4, 5, 6, 7],
    "opens": "09:30",
    "closes": "17:00",
}
FITTED = (
    ("cable", "cable", "CB-01"), ("end-launch", "termination", "TL-01"), ("end-landing", "termination", "TG-01"),
    ("primary-1", "spring", "SP-01"), ("emergency-1", "cord", "EC-01"),
)  # fmt: skip
SOURCE = "Designer's folder, sheet 4"


def settle(
    course: Course, kind: str, content: dict[str, Any], *, people: dict[str, User], at: datetime = make.FOUNDED,
    **about: Any,
) -> Version:  # fmt: skip
    """Propose as the engineer and, where a second person is needed, confirm as the manager."""
    version = actions.propose(course, kind, content, source=SOURCE, **about, deed=make.deed(people["engineer"], at=at))
    if version.confirmed_at is None:
        version = actions.confirm(version, deed=make.deed(people["manager"], at=at))
    return version


def component(course: Course, kind: str, tag: str, *, at: datetime = make.FOUNDED) -> Component:
    founder = make.founder_of(course.operator)
    return actions.add_component(course, kind=kind, tag=tag, label="", deed=make.deed(founder, at=at))


def complete_line(course: Course, line: Place, people: dict[str, User]) -> None:
    """Enter everything that clearing a line needs; all of it counts from the day after ``make.FOUNDED``."""
    settle(course, "calendar", CALENDAR, people=people)
    settle(course, "criteria", {"sets": ["found-defective", "osha-1926-1413"]}, people=people)
    settle(course, "line", LINE, people=people, place=line)
    for platform in (line.launch, line.landing):
        assert platform is not None
        settle(course, "platform", PLATFORM, people=people, place=platform)
        settle(course, "checklist", checklists.compose("platform", PLATFORM), people=people, place=platform)
    composed = checklists.compose("line", LINE, launch_document=PLATFORM, landing_document=PLATFORM)
    settle(course, "checklist", composed, people=people, place=line)
    for slot, kind, tag in FITTED:
        founder = make.founder_of(course.operator)
        actions.fit(component(course, kind, tag), line, slot, deed=make.deed(founder))
