"""What lies ahead and what to keep in stock: as a page and as tables to take away."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from courses.calendar import local_day
from courses.models import Course
from courses.queries import setup_at
from inspections.wear import Season
from reports import stock
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
    return _table(where, "parts-ahead", as_csv(ahead_of(where, at=at)), at)


@require_safe
def stock_table(request: HttpRequest, course: UUID) -> HttpResponse:
    at = timezone.now()
    where = history_of(request.user, course, at=at)
    setup = setup_at(where, at)
    return _table(where, "stock", stock.as_csv(stock.stocks_of(setup, Season.of(setup))), at)


def _table(where: Course, what: str, lines: Iterator[str], at: datetime) -> HttpResponse:
    today = local_day(at, where.zone, where.day_change_hour)
    response = HttpResponse("".join(lines), content_type="text/csv; charset=utf-8; header=present")
    response["Content-Disposition"] = f'attachment; filename="{what}-{today.isoformat()}.csv"'
    response["X-Content-Type-Options"] = "nosniff"
    response["Cache-Control"] = "private, no-store"
    return response
