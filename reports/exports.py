"""Readings, findings and rides as rows for a spreadsheet: RFC 4180, UTF-8, units in the names of the columns.

A cell that a spreadsheet would take for a formula gets an apostrophe before it. Rows come in blocks, so that a history
of ten years takes no more memory than a day.
"""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterator, Sequence
from datetime import date, datetime
from itertools import islice
from typing import Any

from courses.models import Course
from inspections.models import Finding, FindingStep, Reading, Ride
from inspections.telling import disclosed, name
from ledger.actions import as_text

FORMULA = ("=", "+", "-", "@", "\t", "\r")
BLOCK = 500

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
    "rule",
    "source_of_limit",
    "signed_at_utc",
    "signed_by",
    "note",
    "from_paper",
    "amends_entry",
    "entry",
)
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
    "opened_by",
    "watch_until",
    "ruling_until",
    "released_at_utc",
    "released_by",
    "steps",
    "entry",
)
RIDES = (
    "date",
    "line",
    "rode_at_utc",
    "ballast_kg",
    "wind_m_per_s",
    "wind_from",
    "cable",
    "reached_landing",
    "test",
    "arrival_speed_m_per_s",
    "brake_travel_used_m",
    "brake_travel_there_is_m",
    "verdict",
    "does_not_count_since_entry",
    "signed_by",
    "landing_clear_by",
    "from_paper",
    "entry",
)


def _blocks(rows: Any) -> Iterator[list[Any]]:
    """Yield the rows of a query in lists of at most BLOCK, without ever holding more."""
    source = rows.iterator(BLOCK)
    while block := list(islice(source, BLOCK)):
        yield block


class _Line:
    """Takes what the writer writes and hands it back."""

    def write(self, text: str) -> str:
        return text


def rows_as_text(columns: Sequence[str], rows: Iterator[Sequence[Any]]) -> Iterator[str]:
    """Yield the file line by line, each ended by CR LF."""
    writer = csv.writer(_Line())
    yield writer.writerow(columns)
    for row in rows:
        yield writer.writerow([cell(value) for value in row])


def cell(value: Any) -> str:
    """Return a value as text that no spreadsheet takes for a formula.

    >>> cell("=1+1"), cell("-2.5"), cell("2.5"), cell(None), cell(True)
    ("'=1+1", "'-2.5", '2.5', '', 'yes')
    """
    if value is None or value is False:
        return ""
    if value is True:
        return "yes"
    text = (
        as_text(value) if isinstance(value, datetime) else value.isoformat() if isinstance(value, date) else str(value)
    )
    return f"'{text}" if text.startswith(FORMULA) else text


def export(course: Course, what: str, first: date, last: date) -> Iterator[str]:
    """Yield one export of the days from ``first`` to ``last``, both included."""
    columns, rows = _EXPORTS[what]
    return rows_as_text(columns, rows(course, first, last))


def _readings(course: Course, first: date, last: date) -> Iterator[Sequence[Any]]:
    found = (
        Reading.objects.filter(day__course=course, day__date__range=(first, last))
        .select_related("day", "place", "component", "sheet", "sheet__amends")
        .order_by("seq", "position")
    )
    for block in _blocks(found):
        again = _looks(course, block)
        signer = {one.pk: one.sheet.signer_commit if one.sheet else again.get(one.seq, "") for one in block}
        names = disclosed(
            [*signer.values(), *(commit for one in block for commit in (one.note_commit, one.reason))],
        )
        for one in block:
            sheet = one.sheet
            yield (
                one.day.date,
                one.place,
                sheet.section if sheet else "reinspection",
                one.key,
                one.component,
                one.wording,
                one.mark,
                one.text,
                one.unit,
                one.value,
                one.verdict,
                one.limit,
                one.rule,
                one.clause,
                one.read_at,
                name(names, signer[one.pk]),
                " ".join(filter(None, (_note(names, one.note_commit), _note(names, one.reason)))),
                bool(sheet and sheet.from_paper),
                sheet.amends.seq if sheet and sheet.amends else "",
                one.seq,
            )


def _findings(course: Course, first: date, last: date) -> Iterator[Sequence[Any]]:
    found = (
        Finding.objects.filter(course=course, opened_on__range=(first, last))
        .select_related("place", "component")
        .order_by("seq")
    )
    for block in _blocks(found):
        steps: dict[Any, list[FindingStep]] = {}
        for step in FindingStep.objects.filter(finding__in=[one.pk for one in block]).order_by("seq"):
            steps.setdefault(step.finding_id, []).append(step)
        names = disclosed(step.person_commit for row in steps.values() for step in row)
        for one in block:
            told = steps.get(one.pk, [])
            by = {step.kind: name(names, step.person_commit) for step in told}
            yield (
                one.opened_on,
                one.place,
                one.component,
                one.title,
                one.severity,
                one.is_watch,
                one.out_of_service,
                one.tag_number,
                one.limit,
                one.clause,
                one.state,
                one.opened_at,
                by.get("opened", ""),
                one.watch_until,
                one.ruling_until,
                one.released_at,
                by.get("release", ""),
                "; ".join(f"{as_text(step.at)} {step.kind}" for step in told),
                one.seq,
            )


def _rides(course: Course, first: date, last: date) -> Iterator[Sequence[Any]]:
    found = (
        Ride.objects.filter(day__course=course, day__date__range=(first, last))
        .select_related("day", "place")
        .order_by("seq")
    )
    for block in _blocks(found):
        names = disclosed(
            commit for one in block for commit in (one.signer_commit, one.fields.get("landing_clear", ""))
        )
        for one in block:
            fields = one.fields
            yield (
                one.day.date,
                one.place,
                one.rode_at,
                one.mass,
                fields.get("wind_mps"),
                fields.get("wind_from"),
                fields.get("state"),
                fields.get("reached"),
                fields.get("kind"),
                one.speed,
                one.stroke_used,
                one.stroke_available,
                one.verdict,
                one.voided_by,
                name(names, one.signer_commit),
                _note(names, fields.get("landing_clear", "")),
                one.from_paper,
                one.seq,
            )


def _looks(course: Course, block: list[Reading]) -> dict[int, str]:
    """Return who signed the readings that belong to no sheet: re-inspections, by the number of their entry."""
    seqs = {one.seq for one in block if one.sheet is None}
    if not seqs:
        return {}
    return dict(FindingStep.objects.filter(finding__course=course, seq__in=seqs).values_list("seq", "person_commit"))


def _note(names: dict[str, str], commit: str) -> str:
    return names.get(commit, "note erased") if commit else ""


_EXPORTS: dict[str, tuple[Sequence[str], Callable[[Course, date, date], Iterator[Sequence[Any]]]]] = {
    "readings": (READINGS, _readings),
    "findings": (FINDINGS, _findings),
    "rides": (RIDES, _rides),
}
