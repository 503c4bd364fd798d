"""The calendar of a year: what was signed, late or missing, for the course or for one line."""

from __future__ import annotations

from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.dates import WEEKDAYS
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from courses.models import Course, Place
from reports.access import history_of
from reports.season import season

FIRST_YEAR, LAST_YEAR = 2000, 2100
LEGEND = ("day_signed", "day_late", "day_missing", "day_off", "day_ahead")


@require_safe
def calendar(request: HttpRequest, course: UUID) -> HttpResponse:
    at = timezone.now()
    where = history_of(request.user, course, at=at)
    lines = list(Place.objects.filter(course=where, kind=Place.Kind.LINE).order_by("number"))
    line = next((one for one in lines if str(one.pk) == request.GET.get("line")), None)
    year = _year(request, where, at.astimezone(where.zone).year)
    found = season(where, year, at=at, line=line)
    tail = f"&line={line.pk}" if line else ""
    context = {
        "course": where,
        "season": found,
        "lines": lines,
        "line": line,
        "today_year": year,
        "years": [{"url": f"?year={one}{tail}", "label": str(one), "active": one == year} for one in found.years],
        "chosen": [{"url": f"?year={year}", "label": _("Whole course"), "active": line is None}]
        + [
            {"url": f"?year={year}&line={one.pk}", "label": f"{one.number} {one.name}", "active": one == line}
            for one in lines
        ],
        "legend": [*LEGEND, *(["closed_today"] if line else [])],
        "weekday_names": [str(WEEKDAYS[n]) for n in range(7)],
        "late": found.counts.get("day_late", 0),
        "missing": found.counts.get("day_missing", 0),
        "signed": found.counts.get("day_signed", 0),
    }
    return render(request, "reports/calendar.html", context)


def _year(request: HttpRequest, course: Course, otherwise: int) -> int:
    text = request.GET.get("year", "")
    return int(text) if text.isdecimal() and FIRST_YEAR <= int(text) <= LAST_YEAR else otherwise
