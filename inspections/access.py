"""The only way a view comes by a sheet, a finding, a hold: 404 to a stranger, 403 to a colleague without the right."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from uuid import UUID

from django.http import Http404

from accounts.access import demand
from accounts.policy import Right
from courses.models import Course
from inspections.models import Draft, Finding, Hold, Ride, Sheet


def finding_for(user: Any, course: Course, pk: UUID, right: Right, *, at: datetime) -> Finding:
    demand(user, course.operator_id, right, at=at)
    finding = Finding.objects.select_related("place", "component").filter(course=course, pk=pk).first()
    if finding is None:
        raise Http404
    finding.course = course
    return finding


def hold_for(user: Any, course: Course, pk: UUID, right: Right, *, at: datetime) -> Hold:
    demand(user, course.operator_id, right, at=at)
    hold = Hold.objects.select_related("place").filter(course=course, pk=pk).first()
    if hold is None:
        raise Http404
    hold.course = course
    return hold


def sheet_for(user: Any, course: Course, pk: UUID, right: Right, *, at: datetime) -> Sheet:
    demand(user, course.operator_id, right, at=at)
    sheet = Sheet.objects.select_related("place", "day").filter(day__course=course, pk=pk).first()
    if sheet is None:
        raise Http404
    return sheet


def ride_for(user: Any, course: Course, pk: UUID, right: Right, *, at: datetime) -> Ride:
    demand(user, course.operator_id, right, at=at)
    ride = Ride.objects.select_related("place", "day").filter(day__course=course, pk=pk).first()
    if ride is None:
        raise Http404
    return ride


def draft_for_person(user: Any, course: Course, pk: UUID, *, at: datetime) -> Draft:
    """Return a person's own draft; a colleague's draft is nobody else's business and answers 404."""
    demand(user, course.operator_id, Right.INSPECT, at=at)
    draft = Draft.objects.select_related("place").filter(course=course, pk=pk, person=user).first()
    if draft is None:
        raise Http404
    draft.place.course = course
    return draft
