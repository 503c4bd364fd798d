"""A signed sheet as it was judged, what corrected it, and the beginning of a correction."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from accounts import policy, proof
from accounts.access import demand
from accounts.policy import Right
from courses.access import course_for, place_for
from courses.calendar import local_day
from courses.models import Course
from inspections import actions
from inspections.access import sheet_for
from inspections.entries import act_of, gauges_of, said_apart
from inspections.measures import said
from inspections.models import Finding, Reading, Sheet
from inspections.picture import RACK, picture_of
from inspections.telling import disclosed, name
from inspections.views.frame import with_paper
from inspections.views.here import shown_code
from inspections.words import MARKS, VERDICTS, section_label
from ledger.models import Entry


@require_safe
def signed(request: HttpRequest, course: UUID, sheet: UUID) -> HttpResponse:
    """A signed sheet with its readings as judged; where it was corrected, both values."""
    at = timezone.now()
    where = _course_to_read(request, course, at)
    one = sheet_for(request.user, where, sheet, _reading_right(request, where, at), at=at)
    section = list(Sheet.objects.filter(day=one.day_id, place=one.place_id, section=one.section).order_by("seq"))
    readings = list(Reading.objects.filter(sheet__in=section).select_related("component").order_by("position"))
    own = [reading for reading in readings if reading.sheet_id == one.pk]
    names = disclosed(
        [one.signer_commit, one.reason_commit, *(s.signer_commit for s in section), *_commits(own)]
    )  # fmt: skip
    now = {reading.key: reading for reading in _of(readings, [s.pk for s in section if s.amends_id == one.pk])}
    before = {reading.key: reading for reading in _of(readings, [one.amends_id])} if one.amends_id else {}
    entry = Entry.objects.get(log=where.operator.log, seq=one.seq)
    act, said_at = entry.record["act"], said_apart(entry.record)
    gauges = gauges_of(act)
    out = list(
        Finding.objects.filter(place=one.place_id, state=Finding.State.OPEN, out_of_service=True).order_by("seq")
    )
    may = Right.INSPECT in policy.rights_of(request.user, where.operator_id, at=at)
    context = {
        "course": where,
        "sheet": one,
        "rows": [
            _row(where, reading, names, before.get(reading.key), now.get(reading.key))
            | {"gauge": gauges.get(reading.key, ""), "out": _out_of(out, reading)}
            for reading in own
        ],
        "here": shown_code(act.get("here", {})),
        "said_at": said_at,
        "label": section_label(one.section),
        "who": name(names, one.signer_commit),
        "reason": names.get(one.reason_commit, ""),
        "others": [(other, name(names, other.signer_commit)) for other in section if other.pk != one.pk],
        "may_correct": may and one.day.date == local_date(where, at),
        "again_url": with_paper(request, _again(where, one)),
    }
    return render(request, "inspections/signed.html", context)


def _of(readings: list[Reading], sheets: Iterable[UUID | None]) -> list[Reading]:
    wanted = set(sheets)
    return [reading for reading in readings if reading.sheet_id in wanted]


def _out_of(out: list[Finding], reading: Reading) -> Finding | None:
    """Return what of the open findings takes out of service what was read, whatever was answered of it."""
    about = (one for one in out if one.key == reading.key or one.component_id == (reading.component_id or ""))
    return next(about, None)


def _commits(readings: list[Reading]) -> list[str]:
    return [commit for reading in readings for commit in (reading.note_commit, reading.reason)]


def _row(
    course: Course, reading: Reading, names: dict[str, str], before: Reading | None, now: Reading | None
) -> dict[str, Any]:
    return {
        "reading": reading,
        "word": VERDICTS[reading.verdict],
        "said": _said(reading),
        "before": _said(before) if before is not None and _said(before) != _said(reading) else "",
        "now": _said(now) if now is not None and _said(now) != _said(reading) else "",
        "note": names.get(reading.note_commit, "") or names.get(reading.reason, ""),
        "photos": reading.photos,
    }


def _said(reading: Reading) -> str:
    """Return an answer as it was given: the figure as typed with its unit, or the mark in words."""
    return said(reading.text, reading.unit) if reading.text else str(MARKS.get(reading.mark, ""))


def _again(course: Course, sheet: Sheet) -> str:
    if sheet.section.startswith(RACK):
        return reverse("inspections:rack", args=[course.pk, sheet.place_id, sheet.section.removeprefix(RACK)])
    return reverse("inspections:sheet", args=[course.pk, sheet.place_id, sheet.section])


def local_date(course: Course, at: datetime) -> date:
    """Return the course's day at an instant."""
    return local_day(at, course.zone, course.day_change_hour)


def _reading_right(request: HttpRequest, course: Course, at: datetime) -> Right:
    rights = policy.rights_of(request.user, course.operator_id, at=at)
    return Right.SEE if Right.SEE in rights else Right.READ_HISTORY


def _course_to_read(request: HttpRequest, course: UUID, at: datetime) -> Course:
    found = Course.objects.select_related("operator__log").filter(pk=course).first()
    if found is None:
        raise Http404
    demand(request.user, found.operator_id, _reading_right(request, found, at), at=at)
    timezone.activate(found.zone)
    return found


@require_POST
def correct(request: HttpRequest, course: UUID, sheet: UUID) -> HttpResponse:
    """Begin a correction of a signed sheet: a draft that starts from what was signed."""
    at = timezone.now()
    where = course_for(request.user, course, Right.INSPECT, at=at)
    one = sheet_for(request.user, where, sheet, Right.INSPECT, at=at)
    spot = place_for(request.user, where, one.place_id, Right.INSPECT, at=at)
    picture = picture_of(where, at=at, on=one.day.date)
    draft = actions.draft_for(picture, spot, one.section, deed=proof.deed(request, at=at), amends=one.pk)
    if not draft.content:
        readings = list(Reading.objects.filter(sheet=one))
        names = disclosed(_commits(readings))
        gauges = gauges_of(act_of(where.operator.log, one.seq))
        answers = {reading.key: _answer(reading, names, gauges.get(reading.key, "")) for reading in readings}
        actions.keep_answers(draft, answers, at=at)
    return redirect("inspections:draft", course=where.pk, draft=draft.pk)


def _answer(reading: Reading, names: dict[str, str], gauge: str) -> dict[str, Any]:
    return {
        "mark": reading.mark,
        "text": reading.text,
        "kept": reading.text or reading.mark,
        "note": names.get(reading.note_commit, "") or names.get(reading.reason, ""),
        "photos": reading.photos,
        "gauge": gauge,
    }
