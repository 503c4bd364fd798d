"""The mechanics of one line: what is computed for a weather and a rider that somebody types."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from uuid import UUID

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from accounts.policy import Right
from courses.access import course_for, place_for
from courses.advised import advised, told
from courses.calendar import local_day
from courses.models import Course, Place, Version
from courses.queries import history_of, subject_of, versions_in_force
from courses.refusals import sentence_of
from engineering.refusal import Refusal, refuse
from reports.asked_band import asked_band
from reports.course_units import CourseUnits
from reports.look_ahead import to_mind
from reports.map_page import map_shown
from reports.mechanics import OneRide, asked_plan, from_the_side, one_ride, problem_of
from reports.tension import air_rides, tension_of
from reports.what_if import BRAKES, Start, asked_of, start_of

PARTS = {"": "mechanics", "ride": "_mechanics_ride", "all": "_mechanics_results"}


@require_safe
def mechanics(request: HttpRequest, course: UUID, line: UUID) -> HttpResponse:
    """Show the whole page, or the part of it that ``?part=`` names: ``ride`` alone, or ``all`` that is computed."""
    at = timezone.now()
    where = course_for(request.user, course, Right.READ_SETUP, at=at)
    timezone.activate(where.zone)
    one = place_for(request.user, where, line, Right.READ_SETUP, at=at)
    part = PARTS.get(request.GET.get("part", ""))
    if one.kind != Place.Kind.LINE or part is None:
        raise Http404
    subjects = {kind: subject_of(kind, one.pk) for kind in (Version.Kind.LINE, Version.Kind.MECHANICS)}
    versions = versions_in_force(where, at, about=list(subjects.values()))
    ahead = advised(versions, one)
    described, entered = (ahead.version(kind, one) for kind in subjects)
    context: dict[str, Any] = {"course": where, "line": one, "waiting": told(where, ahead.waiting)}
    if entered is None:
        context["missing"] = sentence_of(refuse("mechanics-missing"), where.units)
        return render(request, "reports/mechanics.html", context)
    document, units = described.content if described else {}, CourseUnits(where.units)
    if part == PARTS[""]:
        rides = air_rides(one, at=at)
        context["tension"] = tension_of(where, document, history_of(subjects[Version.Kind.MECHANICS]), rides)
    start = start_of(one, document, entered.content, at=at)
    asked = asked_of(request.GET, start, units)
    context |= {"start": start, "asked": asked, "brakes": BRAKES.items(), "is_old": _is_old(start, where, at)}
    plan = asked_plan(document, entered.content, asked)
    problem = asked.wrong or (problem_of(plan, entered.content, asked, units) if isinstance(plan, Refusal) else "")
    if problem or isinstance(plan, Refusal):
        return render(request, f"reports/{part}.html", context | {"ride": OneRide(problem=problem)})
    context["ride"] = one_ride(plan, asked, units)
    if part != PARTS["ride"] and not context["ride"].problem and described is not None:
        context["side"] = from_the_side(plan, document, asked, units)
        context["map"] = map_shown(plan, document, asked, start.tested, units)
        if ahead.waiting:
            contents = described.content, entered.content
            context["mind"] = to_mind(plan, *contents, asked.figure("wind"), place=str(one), units=where.units)
        else:
            context["band"] = asked_band(one, described, entered, plan, asked, at=at)
        context["across"] = bool(asked.figure("cross"))
        context["units"] = {name: units.unit(name) for name in ("weight", "speed")}
    return render(request, f"reports/{part}.html", context)


def _is_old(start: Start, where: Course, at: datetime) -> bool:
    """Tell whether a wind or a temperature that the page begins with was read before today."""
    today = local_day(at, where.zone, where.day_change_hour)
    read = [one for one in (start.wind_at, start.air_at) if one is not None]
    return any(local_day(one, where.zone, where.day_change_hour) != today for one in read)
