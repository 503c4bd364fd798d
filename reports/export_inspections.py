"""Readings and test rides as rows."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import date, datetime
from typing import Any

from courses.models import Course
from inspections.models import FindingStep, Reading, Ride
from inspections.telling import disclosed, name, plain_figures, question_of
from inspections.words import section_label
from ledger.models import Entry
from reports.export_words import blocks, judged_value, mark_word, note_of, result_in_words, times, verdict_word

READINGS = (
    "date",
    "place",
    "section",
    "item",
    "component",
    "question",
    "mark",
    "reading_as_typed",
    "unit",
    "value_in_unit",
    "verdict",
    "limit",
    "judged_value",
    "result_in_words",
    "rule",
    "source_of_limit",
    "signed_at_utc",
    "signed_at_local",
    "received_at_utc",
    "received_at_local",
    "signed_by",
    "note",
    "from_paper",
    "amends_entry",
    "entry",
    "time_zone",
)
RIDES = (
    "date",
    "line",
    "rode_at_utc",
    "rode_at_local",
    "received_at_utc",
    "received_at_local",
    "ballast_kg",
    "wind_m_per_s",
    "wind_from",
    "air_degc",
    "cable",
    "reached_landing",
    "test",
    "arrival_speed_m_per_s",
    "brake_travel_used_m",
    "brake_travel_there_is_m",
    "verdict",
    "result_in_words",
    "does_not_count_since_entry",
    "signed_by",
    "landing_clear_by",
    "from_paper",
    "entry",
    "time_zone",
)


def readings(course: Course, first: date, last: date) -> Iterator[Sequence[Any]]:
    found = (
        Reading.objects.filter(day__course=course, day__date__range=(first, last))
        .select_related("day", "place", "component", "sheet", "sheet__amends")
        .order_by("seq", "position")
    )
    for block in blocks(found):
        again, received = _looks(course, block), _received(course, block)
        signer = {one.pk: one.sheet.signer_commit if one.sheet else again.get(one.seq, "") for one in block}
        names = disclosed(
            [*signer.values(), *(commit for one in block for commit in (one.note_commit, one.reason))],
        )
        for one in block:
            sheet = one.sheet
            yield (
                one.day.date,
                one.place,
                section_label(sheet.section) if sheet else "Looked at again",
                one.key,
                one.component,
                question_of(one),
                mark_word(one.mark),
                one.text,
                one.unit,
                one.value,
                verdict_word(one.verdict),
                plain_figures(one.limit),
                judged_value(one),
                result_in_words(one),
                one.rule,
                one.clause,
                *times(one.read_at, course.zone),
                *times(received[one.seq], course.zone),
                name(names, signer[one.pk]),
                " ".join(filter(None, (note_of(names, one.note_commit), note_of(names, one.reason)))),
                bool(sheet and sheet.from_paper),
                sheet.amends.seq if sheet and sheet.amends else "",
                one.seq,
                course.tz,
            )


def rides(course: Course, first: date, last: date) -> Iterator[Sequence[Any]]:
    found = (
        Ride.objects.filter(day__course=course, day__date__range=(first, last))
        .select_related("day", "place")
        .order_by("seq")
    )
    for block in blocks(found):
        names = disclosed(
            commit for one in block for commit in (one.signer_commit, one.fields.get("landing_clear", ""))
        )
        received = _received(course, block)
        for one in block:
            fields = one.fields
            yield (
                one.day.date,
                one.place,
                *times(one.rode_at, course.zone),
                *times(received[one.seq], course.zone),
                one.mass,
                fields.get("wind_mps"),
                fields.get("wind_from"),
                fields.get("air_c"),
                fields.get("state"),
                fields.get("reached"),
                fields.get("kind"),
                one.speed,
                one.stroke_used,
                one.stroke_available,
                verdict_word(one.verdict),
                " ".join(said for judged in one.judgements if (said := judged.get("sentence", ""))),
                one.voided_by,
                name(names, one.signer_commit),
                note_of(names, fields.get("landing_clear", "")),
                one.from_paper,
                one.seq,
                course.tz,
            )


def _received(course: Course, block: Iterable[Reading | Ride]) -> dict[int, datetime]:
    """Return when each was received, by the number of its entry: what was signed without a signal came later."""
    seqs = {one.seq for one in block}
    return dict(Entry.objects.filter(log=course.operator.log_id, seq__in=seqs).values_list("seq", "t"))


def _looks(course: Course, block: list[Reading]) -> dict[int, str]:
    """Return who signed the readings that belong to no sheet: re-inspections, by the number of their entry."""
    seqs = {one.seq for one in block if one.sheet is None}
    if not seqs:
        return {}
    return dict(FindingStep.objects.filter(finding__course=course, seq__in=seqs).values_list("seq", "person_commit"))
