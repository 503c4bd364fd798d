"""The calibration of a line by its test rides, as a page: anybody who reads the set-up looks, few propose."""

from __future__ import annotations

from datetime import date
from typing import Any
from uuid import UUID

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from accounts.policy import Right
from courses.access import course_for, place_for
from courses.advised import advised_setup, told
from courses.handed_over import MOST_WHY
from courses.models import Place
from courses.queries import setup_at
from courses.refusals import figure
from engineering import typed
from engineering.calibrate import GOOD_SPREAD_KG
from engineering.calibrate_rides import GAUGE_MPS, WIND_SD_MPS
from engineering.envelope_notes import RIDES_NEEDED
from inspections.models import Ride
from reports import calibration as fitting
from reports.calibration_told import result_told, rides_told
from reports.calibration_way import way_to_speeds
from reports.course_units import CourseUnits


@require_safe
def calibration(request: HttpRequest, course: UUID, line: UUID) -> HttpResponse:
    """What is asked comes in the address, so that nothing is stored by looking and another person sees the same."""
    at = timezone.now()
    where = course_for(request.user, course, Right.READ_SETUP, at=at)
    timezone.activate(where.zone)
    one = place_for(request.user, where, line, Right.READ_SETUP, at=at)
    if one.kind != Place.Kind.LINE:
        raise Http404
    (setup, waiting), units = advised_setup(setup_at(where, at), one), CourseUnits(where.units)
    wrong: dict[str, str] = {}
    since = _day(request.GET.get("since", ""), fitting.usual_since(setup, one), setup.today, wrong)
    speed_sd = _figure(request, "speed_sd", fitting.SPEED_SD_MPS, GAUGE_MPS, wrong, units)
    wind_sd = _figure(request, "wind_sd", fitting.WIND_SD_MPS, WIND_SD_MPS, wrong, units)
    without, why = set(request.GET.getlist("without")), request.GET.get("why", "").strip()[:MOST_WHY]
    rides = fitting.rides_of(one, since, setup.today)
    days = {ride.day_id for ride in rides}
    air = fitting.air_of(rides, list(Ride.objects.filter(day_id__in=days, fields__has_key="air_c")))
    found = None if wrong else fitting.find(
        setup, one, rides, air, without=without, because=why, speed_sd=speed_sd, wind_sd=wind_sd
    )  # fmt: skip
    hands_over = "hand_over" in request.GET and found is not None and found.asks_why
    if hands_over and found is not None and found.propose:
        return redirect(found.propose)
    context: dict[str, Any] = {
        "course": where, "line": one, "found": found, "since": since.isoformat(), "wrong": wrong,
        "speed_sd": request.GET.get("speed_sd", _bare(fitting.SPEED_SD_MPS, units)),
        "wind_sd": request.GET.get("wind_sd", _bare(fitting.WIND_SD_MPS, units)), "speed_unit": units.unit("speed"),
        "needed": RIDES_NEEDED, "why": why, "most_why": MOST_WHY, "without": sorted(without),
        "wrong_why": _("Say why rides are left out: without a reason the figures are not proposed.")
        if hands_over else "",
        "waiting": told(where, waiting), "way": way_to_speeds(setup, one),
        "wide": units.text("weight", GOOD_SPREAD_KG), "usual_weight": units.text("weight", 80.0),
    }  # fmt: skip
    if found is not None:
        context |= {"result": result_told(found, units), "rides": rides_told(found, units)}
    return render(request, "reports/calibration.html", context)


def _day(text: str, usual: date, today: date, wrong: dict[str, str]) -> date:
    if not text:
        return usual
    try:
        found = date.fromisoformat(text)
    except ValueError:
        wrong["since"] = _("This is not a date.")
        return usual
    if found > today:
        wrong["since"] = _("This date still lies ahead.")
    return found


def _figure(
    request: HttpRequest, name: str, usual: float, within: tuple[float, float], wrong: dict[str, str],
    units: CourseUnits,
) -> float:  # fmt: skip
    """Return a speed in m/s that was typed in the unit of the course; the usual one where none or a wrong one was."""
    text = request.GET.get(name, "").strip()
    if not text or text == _bare(usual, units):
        return usual
    try:
        value = float(units.computed("speed", typed.read_figure(text, units.name("speed")).value))
    except typed.Unclear as question:
        wrong[name] = f"{question.sentence} {question.suggestion}".strip()
        return usual
    if not within[0] <= value <= within[1]:
        low, high = (figure(edge, "m/s", units.units) for edge in within)
        wrong[name] = _("Enter a figure from %(low)s to %(high)s.") % {"low": low, "high": high}
    return value


def _bare(speed_mps: float, units: CourseUnits) -> str:
    """Return a speed as it stands in its field, whose label names the unit."""
    return figure(speed_mps, "m/s", units.units).split()[0]
