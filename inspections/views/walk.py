"""The walk: today's sheets in the order in which one comes past them, the racks, the test rides; and one line today."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any
from uuid import UUID

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from accounts.policy import Right
from courses.access import place_for
from courses.advised import waiting_of
from inspections.band_words import for_line
from inspections.explain import reasons_of, state_of
from inspections.facts import line_statuses
from inspections.measures import in_both
from inspections.phone_words import told
from inspections.picture import Picture
from inspections.riding import RideRow, ride_rows, still_short
from inspections.stops import Row, next_row, on_lines, row_of, stops
from inspections.telling import disclosed, name
from inspections.views.board import band_of, winds_of
from inspections.views.frame import address_of, frame, picture_for, shown_row, with_paper
from inspections.views.ride import newest_told, told_ride
from inspections.ways import ways_of


@require_safe
def walk(request: HttpRequest, course: UUID) -> HttpResponse:
    picture = picture_for(request, course, Right.SEE, at=timezone.now())
    around = frame(request, picture)
    way, rides = stops(picture, request.user), ride_rows(picture)
    left, ride = next_row(way), next((one for one in rides if not one.is_done), None)
    rows = [row for stop in way for row in stop.rows]
    open_rows, open_rides = [row for row in rows if not row.is_done], [one for one in rides if not one.is_done]
    ridden = [one for ride in rides for one in ride.rides]
    names = disclosed([row.sheet.signer_commit for row in rows if row.sheet] + [one.signer_commit for one in ridden])
    shown = iter(_rows(request, picture, rows, around["rights"], names))
    context = around | {
        "stops": [{"stop": stop, "rows": [next(shown) for _row in stop.rows]} for stop in way],
        "rides": [_ride(request, picture, one, around["rights"], names) for one in rides],
        "left": len(open_rows) + len(open_rides),
        "left_sheets": [{"title": row.title, "url": address_of(request, picture, row)} for row in open_rows],
        "left_rides": [_ride(request, picture, one) for one in open_rides],
        "rides_done": sum(1 for one in rides if one.is_done and one.barred is None),
        "rides_of": sum(1 for one in rides if one.barred is None),
        "phones": told(picture),
        "ways": ways_of(picture.setup),
        "holds": on_lines(picture),
        "held": _held_all_the_same(picture, inspects=Right.INSPECT in around["rights"]),
        "operating": picture.operating,
        "done": sum(stop.done for stop in way) + sum(1 for one in rides if one.is_done and one.barred is None),
        "of": sum(len(stop.rows) for stop in way) + sum(1 for one in rides if one.barred is None),
        "next": left,
        "next_url": address_of(request, picture, left)
        if left
        else _ride(request, picture, ride)["url"]
        if ride
        else "",
        "next_ride": None if left else ride,
        "walk_url": reverse("inspections:walk", args=[picture.course.pk]),
    }
    return render(request, "inspections/walk.html", context)


def _held_all_the_same(picture: Picture, *, inspects: bool) -> list[dict[str, Any]]:
    """Return the lines that are held with every sheet of theirs signed, with the first reason; holds are told above."""
    return [
        {"line": status.line, "why": reasons_of(picture, status, inspects=inspects)[0]}
        for status in line_statuses(picture)
        if state_of(status) == "held" and status.done == status.of and not picture.holds_on(status.line)
    ]


def _rows(
    request: HttpRequest, picture: Picture, rows: Sequence[Row], rights: frozenset[Right], names: dict[str, str]
) -> list[dict[str, Any]]:
    """Return rows with their addresses and who signed."""
    return [
        shown_row(request, picture, row, rights) | {"who": name(names, row.sheet.signer_commit) if row.sheet else ""}
        for row in rows
    ]


def _ride(
    request: HttpRequest,
    picture: Picture,
    one: RideRow,
    rights: frozenset[Right] = frozenset({Right.INSPECT}),
    names: dict[str, str] | None = None,
) -> dict[str, Any]:
    units = picture.course.units
    address = with_paper(request, reverse("inspections:ride", args=[picture.course.pk, one.line.pk]))
    return {
        "ride": one,
        "url": address if Right.INSPECT in rights else "",
        "weights": _(" and ").join(in_both(weight, "kg", units) for weight in one.due),
        "rode": [
            {"ride": ride, "mass": in_both(ride.mass, "kg", units), "who": name(names or {}, ride.signer_commit)}
            for ride in one.rides
        ],
    }


@require_safe
def line(request: HttpRequest, course: UUID, line: UUID) -> HttpResponse:
    """One line today: why it is open or held, its sheets, its test rides."""
    picture = picture_for(request, course, Right.SEE, at=timezone.now())
    one = place_for(request.user, picture.course, line, Right.SEE, at=picture.at)
    status = next((status for status in line_statuses(picture) if status.line.pk == one.pk), None)
    if status is None:
        raise Http404
    around = frame(request, picture, line=one)
    rows = [row_of(picture, section, request.user) for section in picture.sections(one)]
    rides, short = list(reversed(picture.rides_of(one))), still_short(picture, one)
    names = disclosed([row.sheet.signer_commit for row in rows if row.sheet] + [ride.signer_commit for ride in rides])
    computed = for_line(picture, one)
    context = around | {
        "line": one,
        "state": state_of(status),
        "reasons": reasons_of(picture, status, inspects=Right.INSPECT in around["rights"]),
        "band": band_of(status.clearance.limits, picture.course.units) if status.clearance.is_ready else None,
        "winds": winds_of(status.clearance.limits, picture.course.units) if status.clearance.is_ready else [],
        "computed": computed,
        "waiting": [] if computed else waiting_of(picture.setup, one),
        "rows": _rows(request, picture, rows, around["rights"], names),
        "rides": [told_ride(picture, ride, names) | {"still_short": str(ride.pk) in short} for ride in rides],
        "newest": newest_told(rides, picture.course.units),
        "findings": picture.open_findings(one),
        "phones": told(picture, one),
        "ways": ways_of(picture.setup),
    }
    return render(request, "inspections/line.html", context)
