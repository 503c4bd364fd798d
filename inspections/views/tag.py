"""Where a label's address leads: to what is to be done there today by who opens it, or to what may be read of it."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from urllib.parse import urlencode

from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_safe

from accounts import policy
from accounts.policy import Right
from courses.models import Component, Course, Place
from inspections.here import code_here
from inspections.picture import Picture, picture_of
from inspections.stops import row_of
from inspections.tags import pk_of
from inspections.views.frame import address_of, shown_row
from inspections.views.here import LED


@require_safe
def tag(request: HttpRequest, token: str) -> HttpResponse:
    """Lead on from a label. Nothing is noted or begun by looking: its code waits in the field of the sheet."""
    at = timezone.now()
    pk = pk_of(token)
    part = Component.objects.select_related("course__operator__log").filter(pk=pk).first() if pk else None
    spot = Place.objects.select_related("course__operator__log").filter(pk=pk).first() if pk and not part else None
    thing = part or spot
    if thing is None:
        raise Http404
    course: Course = thing.course
    rights = policy.rights_of(request.user, course.operator_id, at=at)
    if not rights:
        raise Http404
    timezone.activate(course.zone)
    address = None
    if Right.SEE in rights and thing.retired_at is None and (Right.INSPECT in rights or isinstance(thing, Place)):
        address = _todays(request, picture_of(course, at=at), thing, rights)
    response = redirect(address) if address else _page(course, thing, rights, at)
    response["Cache-Control"] = "private, no-store"  # where it leads depends on the day and on who asks
    return response


def _todays(request: HttpRequest, picture: Picture, thing: Component | Place, rights: frozenset[Right]) -> str | None:
    """Return the address of today's sheet that a part or a place is looked at on; None where there is none to open."""
    slot = ""
    if isinstance(thing, Place):
        place = picture.setup.places.get(thing.pk)
    else:
        fitted = next((one for one in picture.setup.fitted if one.component.pk == thing.pk), None)
        place, slot = (picture.setup.places.get(fitted.place_id), fitted.slot) if fitted else (None, "")
    if place is None:
        return None
    if isinstance(thing, Place) and place.kind == Place.Kind.LINE:
        return _line(picture, place)  # both of its ends have a sheet of their own
    sections = picture.sections(place)
    if slot:
        sections = [one for one in sections if any(item["slot"] == slot for item in one.items)] or sections
    rows = [row_of(picture, section, request.user) for section in sections]
    row = next((one for one in rows if one.begun or not one.is_done), rows[0] if rows else None)
    url = shown_row(request, picture, row, rights)["url"] if row else ""
    if row is None or row.is_rack or url != address_of(request, picture, row):
        return url or None
    code = code_here(picture.setup, place, row.section, thing)
    return f"{url}?{urlencode({LED: code})}" if code else url


def _line(picture: Picture, line: Place) -> str:
    response: Any = redirect("inspections:line", course=picture.course.pk, line=line.pk)
    return str(response.url)


def _page(course: Course, thing: Component | Place, rights: frozenset[Right], at: datetime) -> HttpResponse:
    """Lead to the page of a part or a place that says what it is, where it is, or since when it is not any more."""
    if Right.READ_SETUP not in rights:
        raise PermissionDenied
    if isinstance(thing, Component):
        return redirect("courses:component", course=course.pk, component=thing.pk)
    return redirect("courses:place", course=course.pk, place=thing.pk)
