"""The history as tables to take away."""

from __future__ import annotations

from datetime import timedelta
from uuid import UUID

from django.http import HttpRequest, HttpResponse, HttpResponseBase, StreamingHttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from courses import calendar
from reports.access import history_of
from reports.exports import export as lines_of
from reports.forms import RangeForm

USUAL = timedelta(days=29)


@require_safe
def exports(request: HttpRequest, course: UUID) -> HttpResponse:
    """Ask for the dates; the three tables are buttons of one form."""
    at = timezone.now()
    where = history_of(request.user, course, at=at)
    today = calendar.local_day(at, where.zone, where.day_change_hour)
    form = RangeForm(initial={"first": today - USUAL, "last": today})
    return render(request, "reports/exports.html", {"course": where, "form": form})


@require_safe
def export(request: HttpRequest, course: UUID, what: str) -> HttpResponseBase:
    """Stream one table as CSV; dates that cannot be read or are turned round come back with the question."""
    at = timezone.now()
    where = history_of(request.user, course, at=at)
    form = RangeForm(request.GET)
    if not form.is_valid():
        return render(request, "reports/exports.html", {"course": where, "form": form}, status=400)
    first, last = form.cleaned_data["first"], form.cleaned_data["last"]
    name = f"{what}-{first.isoformat()}-{last.isoformat()}.csv"
    response = StreamingHttpResponse(
        (line.encode() for line in lines_of(where, what, first, last)),
        content_type="text/csv; charset=utf-8; header=present",
    )
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    response["X-Content-Type-Options"] = "nosniff"
    response["Cache-Control"] = "private, no-store"
    return response
