"""How readings are taken: for the manager alone, computed anew at each look, kept nowhere."""

from __future__ import annotations

from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from reports.access import led_course
from reports.hints import hints_of


@require_safe
def hints(request: HttpRequest, course: UUID) -> HttpResponse:
    at = timezone.now()
    where = led_course(request.user, course, at=at)
    context = {"course": where, "hints": hints_of(where, at=at)}
    response = render(request, "reports/hints.html", context)
    response["Cache-Control"] = "private, no-store"  # no phone keeps it for somebody else's eyes
    return response
