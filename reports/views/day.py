"""One past day, to be read: decisions, sheets, rides, findings, holds, closing, papers."""

from __future__ import annotations

from datetime import date, timedelta
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from accounts import policy
from courses import calendar
from inspections.models import Paper, SignOff
from inspections.phone_words import told_of
from inspections.phones import phones_of
from reports.access import history_of
from reports.past_day import past_day
from reports.season import first_day, state_of


@require_safe
def day(request: HttpRequest, course: UUID, on: date) -> HttpResponse:
    at = timezone.now()
    where = history_of(request.user, course, at=at)
    found = past_day(where, on, at=at)
    signed: list[SignOff] = [one["sign_off"] for one in found.sign_offs]
    today = calendar.local_day(at, where.zone, where.day_change_hour)
    state, word = state_of(on, found.opens_at, signed, today=today, at=at, began=first_day(where))
    sheets = [one for one in found.papers if one.kind == Paper.Kind.DAY_SHEET and one.sign_off is not None]
    context = {
        "course": where,
        "day": found,
        "state": state,
        "word": word[:1].upper() + word[1:],
        "before": on - timedelta(days=1),
        "after": on + timedelta(days=1) if on < today else None,
        "newest": max(sheets, key=lambda one: one.sign_off.revision, default=None),  # type: ignore[union-attr]
        "rights": policy.rights_of(request.user, where.operator_id, at=at),
        "moved": found.opens_at != found.expected_at,
        "phones": told_of(phones_of(where, at=at), on=on, at=at, zone=where.zone) if on == today else {},
    }
    return render(request, "reports/day.html", context)
