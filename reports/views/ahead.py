"""What lies ahead: as a page and as a table to take away."""

from __future__ import annotations

from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from courses.calendar import local_day
from reports.access import history_of
from reports.ahead import OPEN_DAYS, ahead_of, as_csv


@require_safe
def parts_ahead(request: HttpRequest, course: UUID) -> HttpResponse:
    at = timezone.now()
    where = history_of(request.user, course, at=at)
    context = {"course": where, "ahead": ahead_of(where, at=at), "open_days": OPEN_DAYS}
    return render(request, "reports/ahead.html", context)


@require_safe
def parts_ahead_table(request: HttpRequest, course: UUID) -> HttpResponse:
    at = timezone.now()
    where = history_of(request.user, course, at=at)
    today = local_day(at, where.zone, where.day_change_hour)
    table = "".join(as_csv(ahead_of(where, at=at)))
    response = HttpResponse(table, content_type="text/csv; charset=utf-8; header=present")
    response["Content-Disposition"] = f'attachment; filename="parts-ahead-{today.isoformat()}.csv"'
    response["X-Content-Type-Options"] = "nosniff"
    response["Cache-Control"] = "private, no-store"
    return response
