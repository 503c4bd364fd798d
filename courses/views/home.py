"""Where one begins: the courses of a person, and the set-up of one course with what is missing."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import NoReverseMatch, reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from accounts import policy, proof
from accounts.access import demand
from accounts.keep import fill
from accounts.policy import Right
from courses import actions, readiness
from courses.forms.places import CourseForm
from courses.queries import courses_for, waiting
from courses.views.shared import asks, do, setup_for


@require_safe
def home(request: HttpRequest) -> HttpResponse:
    at = timezone.now()
    found = [(course, _first_page(request.user, course, at)) for course in courses_for(request.user, at)]
    if len(found) == 1:
        return redirect(found[0][1])
    return render(request, "courses/home.html", {"courses": found})


def _first_page(user: Any, course: Any, at: Any) -> str:
    """Return where a person begins: the board, or the history for somebody who reads nothing else."""
    sees = policy.may(user, course.operator_id, Right.SEE, at=at)
    try:
        return reverse("inspections:board" if sees else "reports:calendar", args=[course.pk])
    except NoReverseMatch:
        return reverse("courses:setup", args=[course.pk])


@require_safe
def setup(request: HttpRequest, course: UUID) -> HttpResponse:
    setup = setup_for(request, course, Right.READ_SETUP, at=timezone.now())
    places = readiness.of_places(setup)
    return render(
        request, "courses/setup.html",
        {"course": setup.course, "setup": setup, "places": places, "waiting": len(waiting(setup.course)),
         "lacking": [one for one in places if one.gaps], "course_gaps": readiness.of_course(setup)},
    )  # fmt: skip


@require_safe
def course_data(request: HttpRequest, course: UUID) -> HttpResponse:
    setup = setup_for(request, course, Right.READ_SETUP, at=timezone.now())
    return render(request, "courses/course.html", {"course": setup.course, "setup": setup})


@asks
def course_edit(request: HttpRequest, course: UUID) -> HttpResponse:
    setup = setup_for(request, course, Right.PROPOSE, at=timezone.now())
    course_ = setup.course
    initial = {name: getattr(course_, name) for name in ("name", "town", "units", "retention_years")}
    form = fill(CourseForm(request.POST or None, initial=initial), request)
    back = reverse("courses:course_data", args=[course_.pk])

    def deed(data: dict[str, Any]) -> str:
        demand(request.user, course_.operator_id, Right.PROPOSE, at=setup.at)
        changes = form.changes(course_)
        if changes:
            actions.change_course(course_, changes=changes, deed=proof.deed(request, at=setup.at, id=data["deed_id"]))
            messages.success(request, _("The course data were changed."))
        return back

    context = {"course": course_, "title": _("Change the course data"), "send": _("Save")}
    return do(request, form, deed, template="courses/ask.html", back=back, context=context)
