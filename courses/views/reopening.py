"""What reopening after a hold needs on this course, beyond what is asked everywhere."""

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
from courses.forms.reopening import ReopeningForm
from courses.models import Version
from courses.naming import names_of
from courses.queries import history_of, subject_of
from courses.views.shared import asks, offer, setup_for, start_with

KIND = Version.Kind.REOPENING


@require_safe
def reopening(request: HttpRequest, course: UUID) -> HttpResponse:
    setup = setup_for(request, course, Right.READ_SETUP, at=timezone.now())
    return render(
        request,
        "courses/reopening.html",
        {
            "course": setup.course,
            "version": setup.version(KIND, setup.course.pk),
            "data": wording.grouped(KIND, setup.reopening, names=names_of(setup)),
            "history": history_of(subject_of(KIND, setup.course.pk)),
        },
    )


@asks
def reopening_edit(request: HttpRequest, course: UUID) -> HttpResponse:
    setup = setup_for(request, course, Right.PROPOSE, at=timezone.now())
    last = start_with(request, setup, KIND, setup.course.pk)
    form = ReopeningForm(request.POST or None, request.FILES or None, document=last.content if last else {})
    return offer(
        request,
        fill(form, request),
        setup,
        KIND,
        title=_("Reopening after a hold"),
        back=reverse("courses:reopening", args=[setup.course.pk]),
    )
