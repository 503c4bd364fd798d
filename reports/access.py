"""The only way a view comes by a paper, a day, a component of the history: 404 to a stranger, 403 without the right."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from uuid import UUID

from django.http import Http404
from django.utils import timezone

from accounts import policy
from accounts.access import demand
from accounts.policy import Right
from courses.access import course_for
from courses.models import Course
from inspections.models import Paper

# What hangs at the launch or on a part is for everybody who works there; a day sheet is for readers of the history.
FOR_EVERYBODY = {Paper.Kind.LAUNCH_CARD, Paper.Kind.TAG}


def history_of(user: Any, pk: UUID, *, at: datetime) -> Course:
    """Return a course whose history the person may read, and show times as its clocks do."""
    course = course_for(user, pk, Right.READ_HISTORY, at=at)
    timezone.activate(course.zone)
    return course


def led_course(user: Any, pk: UUID, *, at: datetime) -> Course:
    """Return a course whose days the person signs: what is for the manager alone, and for no other reader."""
    course = course_for(user, pk, Right.SIGN_OFF, at=at)
    timezone.activate(course.zone)
    return course


def paper_for(user: Any, course_id: UUID, pk: UUID, *, at: datetime) -> Paper:
    course = Course.objects.filter(pk=course_id).first()
    if course is None:
        raise Http404
    rights = policy.rights_of(user, course.operator_id, at=at)
    right = Right.READ_HISTORY if Right.READ_HISTORY in rights or Right.SEE not in rights else Right.SEE
    demand(user, course.operator_id, right, at=at)
    paper = Paper.objects.select_related("course").filter(course=course, pk=pk).first()
    if paper is None:
        raise Http404
    if paper.kind not in FOR_EVERYBODY:
        demand(user, course.operator_id, Right.READ_HISTORY, at=at)
    return paper
