"""A day as it stood at an instant that has passed: what a signature on paper is judged by when it is typed in later.

What cannot be told to have counted then does not count for a line. A sheet typed in from paper has no time but the one
on its photo: it is taken for the morning's, and whoever reads the photo sees when it was filled in.
"""

from __future__ import annotations

from dataclasses import fields
from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import Q

from courses.calendar import local_day
from courses.models import Course
from inspections.models import Finding, Hold
from inspections.picture import Picture, picture_of
from ledger.models import Entry

WEEK = timedelta(days=7)


def picture_as_of(course: Course, then: datetime) -> Picture:
    """Return the day of ``then`` as it stood then, by the set-up in force then.

    Sheets and rides that were typed in from paper belong to the morning whenever they were typed; others count if they
    were here by then. What was held or found by then is held and open, whatever became of it since.
    """
    on = local_day(then, course.zone, course.day_change_hour)
    now = picture_of(course, at=then, on=on)
    newest = _newest_by(course, then)
    sheets = [sheet for sheet in now.sheets if sheet.from_paper or sheet.seq <= newest]
    kept = {sheet.pk for sheet in sheets}
    readings = [one for one in now.readings if (one.sheet_id in kept if one.sheet_id else one.seq <= newest)]
    counted = {one.pk for one in readings}
    left_out = {(one.place_id, one.key) for one in now.readings if one.pk not in counted}
    typed_in = {sheet.seq for sheet in now.sheets if sheet.from_paper}
    typed_in |= {ride.seq for ride in now.rides if ride.from_paper}
    changed = {
        "sheets": sheets,
        "readings": readings,
        # What was read later says nothing of then: without a state an item is due, and so asked for.
        "states": {spot: state for spot, state in now.states.items() if not _later(state, spot, on, left_out)},
        "rides": _rides(course, now, then, newest),
        "holds": _holds(course, then),
        "findings": _findings(course, now, then, typed_in),
        "drafts": [],
        "phones": [],  # what they say is of now
    }
    given = {one.name: getattr(now, one.name) for one in fields(Picture) if not one.name.startswith("_")}
    return Picture(**{**given, **changed})


def _later(state: Any, spot: tuple[Any, str], on: date, left_out: set[tuple[Any, str]]) -> bool:
    return bool(state.day_date > on or (state.day_date == on and spot in left_out))


def _newest_by(course: Course, then: datetime) -> int:
    """Return the number of the newest entry by then. What was signed alone and came later was not here yet."""
    entries = Entry.objects.filter(log=course.operator.log_id, t__lte=then).order_by("-seq")
    return entries.values_list("seq", flat=True).first() or 0


def _rides(course: Course, now: Picture, then: datetime, newest: int) -> list[Any]:
    rides = [ride for ride in now.rides if ride.from_paper or ride.seq <= newest]
    voids = {ride.voided_by for ride in rides if ride.voided_by is not None}
    for entry in Entry.objects.filter(log=course.operator.log_id, seq__in=voids):
        record = entry.record
        if datetime.fromisoformat(record["t"]) > then and not record["act"].get("paper"):
            for ride in rides:
                if ride.voided_by == entry.seq:
                    ride.voided_by = None  # it counted then; this row is never saved
    return rides


def _holds(course: Course, then: datetime) -> list[Hold]:
    """Return the holds of the week before; one that was lifted only since is still on."""
    called = Hold.objects.filter(course=course, called_at__lte=then).order_by("seq")
    found = list(called.filter(Q(lifted_at__isnull=True) | Q(lifted_at__gt=then) | Q(called_at__gte=then - WEEK)))
    for hold in found:
        if hold.lifted_at is not None and hold.lifted_at > then:
            hold.lifted_at = None  # as it was then; this row is never saved
    return found


def _findings(course: Course, now: Picture, then: datetime, typed_in: set[int]) -> list[Finding]:
    """Return what had been found by then, or stands on a paper of that day; what was not released by then is open."""
    since = Finding.objects.filter(course=course, released_at__gt=then, opened_at__lte=then)
    found = {finding.pk: finding for finding in [*now.findings, *since.select_related("component", "place")]}
    for finding in found.values():
        if finding.released_at is not None and finding.released_at > then:
            finding.state = Finding.State.OPEN  # as it was then; this row is never saved
    known = [one for one in found.values() if one.opened_at <= then or one.seq in typed_in]
    return sorted(known, key=lambda one: one.seq)
