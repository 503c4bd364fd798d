"""The only way a view comes by a course or anything on it: 404 to a stranger, 403 to a colleague without the right."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from uuid import UUID

from django.http import Http404

from accounts.access import demand
from accounts.policy import Right
from courses.models import Component, Course, Place, StoredFile, Version


def course_for(user: Any, pk: UUID, right: Right, *, at: datetime) -> Course:
    course = Course.objects.select_related("operator__log").filter(pk=pk).first()
    if course is None:
        raise Http404
    demand(user, course.operator_id, right, at=at)
    return course


def place_for(user: Any, course: Course, pk: UUID, right: Right, *, at: datetime) -> Place:
    """``course`` came from ``course_for``; the right is asked again because it may be a stronger one."""
    demand(user, course.operator_id, right, at=at)
    place = Place.objects.select_related("launch", "landing").filter(course=course, pk=pk).first()
    if place is None:
        raise Http404
    place.course = course
    return place


def component_for(user: Any, course: Course, pk: UUID, right: Right, *, at: datetime) -> Component:
    demand(user, course.operator_id, right, at=at)
    component = Component.objects.filter(course=course, pk=pk).first()
    if component is None:
        raise Http404
    component.course = course
    return component


def version_for(user: Any, course: Course, pk: UUID, right: Right, *, at: datetime) -> Version:
    demand(user, course.operator_id, right, at=at)
    version = Version.objects.select_related("place", "component", "proposed_by").filter(course=course, pk=pk).first()
    if version is None:
        raise Http404
    version.course = course
    return version


def file_for(user: Any, course: Course, sha256: str, right: Right, *, at: datetime) -> StoredFile:
    demand(user, course.operator_id, right, at=at)
    stored = StoredFile.objects.filter(operator_id=course.operator_id, sha256=sha256).first()
    if stored is None:
        raise Http404
    return stored
