"""The season calendar: which dates are operating days, and the hours on them."""

from __future__ import annotations

from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from accounts.keep import fill
from accounts.policy import Right
from courses import wording
from courses.forms.places import CalendarForm
from courses.models import Version
from courses.naming import names_of
from courses.queries import history_of, subject_of
from courses.season import months_ahead
from courses.views.shared import asks, offer, setup_for


@require_safe
def calendar(request: HttpRequest, course: UUID) -> HttpResponse:
    setup = setup_for(request, course, Right.READ_SETUP, at=timezone.now())
    content = setup.calendar or {}
    return render(
        request, "courses/calendar.html",
        {"course": setup.course, "setup": setup, "version": setup.version(Version.Kind.CALENDAR, setup.course.pk),
         "data": wording.grouped(Version.Kind.CALENDAR, content, names=names_of(setup)),
         "weekday_names": list(wording.WEEKDAYS.values()),
         "months": months_ahead(content, setup.today, 4) if content else [],
         "history": history_of(subject_of(Version.Kind.CALENDAR, setup.course.pk))},
    )  # fmt: skip


@asks
def calendar_edit(request: HttpRequest, course: UUID) -> HttpResponse:
    setup = setup_for(request, course, Right.PROPOSE, at=timezone.now())
    form = CalendarForm(request.POST or None, request.FILES or None, document=setup.calendar or {})
    return offer(
        request, fill(form, request), setup, Version.Kind.CALENDAR, title=_("Season calendar"),
        back=reverse("courses:calendar", args=[setup.course.pk]),
    )  # fmt: skip
