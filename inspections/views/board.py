"""The board: every line's status with its reasons, at a glance, refreshed by itself."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_safe

from accounts import policy
from accounts.policy import Right
from courses.access import course_for
from courses.models import Course
from courses.queries import waiting
from engineering.clearance import Limits
from inspections.band_words import short_of
from inspections.coming import will_hold
from inspections.coming_words import sentence
from inspections.explain import reasons_of, state_of
from inspections.facts import OPEN, LineStatus, line_statuses
from inspections.figures import number
from inspections.measures import Shown, in_both, shown_most, shown_weights
from inspections.models import Hold
from inspections.owing import debts_of
from inspections.phone_words import told
from inspections.picture import Picture, picture_of
from inspections.reopening import reopening_of
from inspections.ways import ways_of
from inspections.wear_record import outlooks

SIDES = {
    "head": gettext_lazy("head wind"),
    "tail": gettext_lazy("tail wind"),
    "cross": gettext_lazy("cross wind"),
}


@require_safe
def board(request: HttpRequest, course: UUID) -> HttpResponse:
    at = timezone.now()
    place = course_for(request.user, course, Right.SEE, at=at)
    timezone.activate(place.zone)
    context = board_context(place, at, request.user)
    return render(request, "inspections/board.html", context)


@require_safe
def board_part(request: HttpRequest, course: UUID) -> HttpResponse:
    at = timezone.now()
    place = course_for(request.user, course, Right.SEE, at=at)
    timezone.activate(place.zone)
    return render(request, "inspections/_board.html", board_context(place, at, request.user))


def board_context(course: Course, at: datetime, user: Any) -> dict[str, Any]:
    """Return everything the board shows, from one picture of the day."""
    picture = picture_of(course, at=at)
    statuses = line_statuses(picture)
    rights = policy.rights_of(user, course.operator_id, at=at)
    rows = [row_of(picture, status, inspects=Right.INSPECT in rights) for status in statuses]
    open_now = sum(1 for status in statuses if status.is_open)
    findings = sorted(
        picture.open_findings(), key=lambda f: (f.is_watch, ("critical", "major", "minor").index(f.severity))
    )
    return {
        "course": course,
        "at": at,
        "picture": picture,
        "rows": rows,
        "open_now": open_now,
        "all": len(rows),
        "ready": sum(1 for status in statuses if status.word == "ready"),
        "date": picture.date,
        "operating": picture.operating,
        "opens_at": picture.opens_at,
        "sign_off": picture.sign_off,
        "closing": picture.closing,
        "phones": told(picture),
        "ways": ways_of(picture.setup),
        "holds": [hold_of(picture, hold) for hold in picture.holds if hold.lifted_at is None],
        "findings": findings,
        "rights": rights,
        "wind": wind_of(picture),
        "waiting": len(waiting(course)) if Right.CONFIRM in rights else 0,
        "rulings": [finding for finding in findings if finding.ruling_until and finding.ruling_until >= picture.date],
        "owing": [finding for finding in findings if debts_of(finding)],
        "coming": coming_of(picture) if Right.READ_HISTORY in rights else [],
    }


def coming_of(picture: Picture) -> list[dict[str, Any]]:
    """Return what will hold a line within 14 days, in words. It is told beside the lines and changes none of them."""
    found = will_hold(picture.setup, outlooks(picture.setup, picture.states))
    return [{"one": one, "sentence": sentence(one)} for one in found]


def row_of(picture: Picture, status: LineStatus, *, inspects: bool) -> dict[str, Any]:
    """Return one line as shown on the board."""
    units = picture.course.units
    return {
        "line": status.line,
        "state": state_of(status),
        "reasons": reasons_of(picture, status, inspects=inspects),
        "done": status.done,
        "of": status.of,
        "band": band_of(status.clearance.limits, units) if status.clearance.is_ready else None,
        "winds": winds_of(status.clearance.limits, units) if status.clearance.is_ready else [],
        "computed": short_of(picture, status.line) if status.clearance.is_ready else "",
        "card": _old_card(picture, status) if status.is_open else "",
        "opened_at": _opened_at(picture, status),
    }


def _opened_at(picture: Picture, status: LineStatus) -> datetime | None:
    """Return when a line was signed open that is held by what came since, if no hold tells of it by itself."""
    if status.decision != OPEN or status.word != "held" or status.ended or status.facts.holds:
        return None
    return picture.sign_off.signed_at if picture.sign_off else None


def _old_card(picture: Picture, status: LineStatus) -> str:
    """Return what the launch card says where the line may do less by now: weights, and winds; empty where it fits."""
    decided = picture.sign_off.lines.get(str(status.line.pk), {}) if picture.sign_off else {}
    limits, now = decided.get("limits", {}), status.clearance.limits
    low, high = number(limits.get("mass_min_kg")), number(limits.get("mass_max_kg"))
    if low is None or high is None or now.mass_min_kg is None or now.mass_max_kg is None:
        return ""
    winds = {name.removesuffix("_mps"): number(value) for name, value in limits.get("wind", {}).items()}
    units = picture.course.units
    calmer = [name for name, value in now.wind_mps if (before := winds.get(name)) is None or value < before]
    if not calmer and now.mass_min_kg <= low and now.mass_max_kg >= high:
        return ""
    said = [str(shown_weights(f"{low:f}", f"{high:f}", units))]
    for name in calmer:
        before = winds.get(name)
        most = f"≤ {shown_most(f'{before:f}', 'm/s', units)}" if before is not None else _("without a limit")
        said.append(f"{SIDES[name]} {most}" if name in SIDES else most)
    return ", ".join(said)


def band_of(limits: Limits, units: str) -> Shown | None:
    """Return the weight band as shown in the units of a course; None where there is none."""
    if limits.mass_min_kg is None or limits.mass_max_kg is None:
        return None
    return shown_weights(f"{limits.mass_min_kg:f}", f"{limits.mass_max_kg:f}", units)


def winds_of(limits: Limits, units: str) -> list[tuple[str, Shown]]:
    """Return the wind limits by the side that the wind comes from, as shown in the units of a course."""
    return [(name, shown_most(f"{value:f}", "m/s", units)) for name, value in limits.wind_mps]


def hold_of(picture: Picture, hold: Hold) -> dict[str, Any]:
    """Return a hold with the line it is on and where it is not told yet."""
    line = picture.setup.places.get(hold.place_id) if hold.place_id else None
    return {
        "hold": hold,
        "line": line,
        "not_told": [where for where in ("launch", "landing") if where not in hold.told],
        # Of the others nothing more is seen or heard: it would be the time at which a phone's hold arrived.
        "heard": hold.renewed_at != hold.called_at
        and reopening_of(picture.setup.reopening).wait(hold.cause) is not None,
    }


def wind_of(picture: Picture) -> dict[str, Any] | None:
    """Return the newest wind reading of the day, never without its time."""
    found: list[tuple[datetime, str, str]] = []
    for house in picture.setup.houses:
        for item in picture.items(house):
            if str(item.get("measures", "")).startswith("weather.wind"):
                found += [
                    (reading.read_at, reading.value, str(house))
                    for reading in picture.readings_of(house.pk, item["key"])
                    if number(reading.value) is not None
                ]
    for ride in picture.rides:
        if ride.day.date == picture.date and number(ride.fields.get("wind_mps")) is not None:
            place = picture.setup.places.get(ride.place_id)
            found.append((ride.rode_at, ride.fields["wind_mps"], str(place or "")))
    if not found:
        return None
    at, value, where = max(found)
    return {"at": at, "value": in_both(value, "m/s", picture.course.units, toward="up"), "where": where}
