"""Findings as rows: what was found, the work on it, the second look, and how it ended, each with its person."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from typing import Any

from courses.models import Course
from inspections.models import Finding
from inspections.telling import RETIRED, STEPS, look_in_words, plain_figures, steps_told
from ledger.actions import as_text
from reports.export_words import blocks, class_word, times

FINDINGS = (
    "opened_on",
    "place",
    "component",
    "title",
    "class",
    "watch",
    "out_of_service",
    "tag_number",
    "limit",
    "source_of_limit",
    "state",
    "opened_at_utc",
    "opened_at_local",
    "opened_by",
    "watch_until",
    "ruling_until",
    "work",
    "work_note",
    "new_component",
    "work_made_by",
    "work_confirmed",
    "work_recorded_at_utc",
    "work_recorded_at_local",
    "work_recorded_by",
    "looked_at_again",
    "looked_at_again_at_utc",
    "looked_at_again_at_local",
    "looked_at_again_by",
    "closed_at_utc",
    "closed_at_local",
    "closed_by",
    "closing_note",
    "closing_confirmed",
    "steps",
    "entry",
    "time_zone",
)
NONE: dict[str, Any] = {
    "at": None, "who": "", "note": "", "details": [], "made_by": "", "new_tag": "", "look": None, "sentence": "",
}  # fmt: skip


def findings(course: Course, first: date, last: date) -> Iterator[Sequence[Any]]:
    """Yield one row for each finding. Of work and looks the newest stand in columns of their own, all in ``steps``."""
    found = (
        Finding.objects.filter(course=course, opened_on__range=(first, last))
        .select_related("place", "component")
        .order_by("seq")
    )
    for block in blocks(found):
        steps = steps_told(block)
        for one in block:
            told = steps[one.pk]
            opened, work, look, closed = (_newest(told, kind) for kind in ("opened", "work", "reinspection", "release"))
            yield (
                one.opened_on,
                one.place,
                one.component,
                one.title,
                class_word(one),
                one.is_watch,
                one.out_of_service,
                one.tag_number,
                plain_figures(one.limit),
                one.clause,
                _state(one, closed),
                *times(one.opened_at, course.zone),
                opened["who"],
                one.watch_until,
                one.ruling_until,
                _after(work["sentence"]),
                work["note"],
                work["new_tag"],
                work["made_by"],
                _confirmed(work),
                *times(work["at"], course.zone),
                work["who"],
                look_in_words(look["look"]) if look["look"] else _after(look["sentence"]),
                *times(look["at"], course.zone),
                look["who"],
                *times(one.released_at, course.zone),
                closed["who"],
                closed["note"],
                _confirmed(closed),
                "; ".join(
                    f"{as_text(step['at'])} {step['sentence']}, {step['who']}, entry {step['entry']}" for step in told
                ),
                one.seq,
                course.tz,
            )


def _newest(told: list[dict[str, Any]], kind: str) -> dict[str, Any]:
    return next((step for step in reversed(told) if step["kind"] == kind), NONE)


def _state(one: Finding, closed: dict[str, Any]) -> str:
    if one.state != Finding.State.RELEASED:
        return "Open"
    return str(RETIRED) if closed.get("retired") else str(STEPS["release"])


def _after(sentence: str) -> str:
    """Return what stands behind the word of the step: of "Work recorded: Repair" only what was done."""
    return sentence.partition(": ")[2]


def _confirmed(step: dict[str, Any]) -> str:
    """Return what was confirmed, without the maker of the work, who has a column."""
    return " ".join(step["details"][1:] if step["made_by"] else step["details"])
