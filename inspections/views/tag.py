"""Where a label's address leads: to what is to be done there today by who opens it, or to what may be read of it."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode
from uuid import UUID

from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from accounts import policy
from accounts.policy import Right
from courses.models import Component, Course, Place
from inspections.here import code_here
from inspections.picture import Picture, picture_of
from inspections.stops import Row, row_of
from inspections.tags import pk_of, token_of
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
    if Right.SEE in rights and thing.retired_at is None:
        picture = picture_of(course, at=at)
        fitted = next((one.place_id for one in picture.setup.fitted if one.component.pk == thing.pk), thing.pk)
        address = leads(request, picture, rights, only=fitted).get(thing.pk)
    response = redirect(address) if address else _page(course, thing, rights)
    response["Cache-Control"] = "private, no-store"  # where it leads depends on the day and on who asks
    return response


def leads(
    request: HttpRequest, picture: Picture, rights: frozenset[Right], *, only: UUID | None = None
) -> dict[UUID, str]:
    """Return where the label of each part and place leads today, of those that are looked at or can be opened here.

    ``only``: of nothing but the place with this identity and what is fitted there.
    """
    found: dict[UUID, str] = {}
    for place in picture.setup.places.values():
        if only not in (None, place.pk):
            continue
        if place.kind == Place.Kind.LINE:
            line = reverse("inspections:line", args=[picture.course.pk, place.pk])
            found[place.pk] = line  # each of its ends has a sheet of its own
        if Right.INSPECT not in rights:
            continue
        rows = [(one, row_of(picture, one, request.user)) for one in picture.sections(place)]
        if place.kind != Place.Kind.LINE:
            found |= _led(request, picture, rights, place, place, [row for _section, row in rows])
        for fitted in picture.setup.at_place(place):
            there = [row for section, row in rows if any(item["slot"] == fitted.slot for item in section.items)]
            found |= _led(request, picture, rights, place, fitted.component, there or [row for _section, row in rows])
    return found


def _led(
    request: HttpRequest, picture: Picture, rights: frozenset[Right], place: Place, thing: Component | Place,
    rows: list[Row],
) -> dict[UUID, str]:  # fmt: skip
    """Return where the label of one thing leads: to its first sheet that is not signed yet, else to the first."""
    row = next((one for one in rows if one.begun or not one.is_done), rows[0] if rows else None)
    url = shown_row(request, picture, row, rights)["url"] if row else ""
    if row is None or not url:
        return {}
    if row.is_rack or url != address_of(request, picture, row):
        return {thing.pk: url}
    code = code_here(picture.setup, place, row.section, thing)
    return {thing.pk: f"{url}?{urlencode({LED: code})}" if code else url}


def carried(request: HttpRequest, picture: Picture, rights: frozenset[Right]) -> dict[str, Any]:
    """Return the same as a page carries it for the time without a signal: the address's own words to where they lead.

    ``paths``, and ``labels``: token to (place in ``paths``, what stands behind the question mark there).
    """
    paths: dict[str, int] = {}
    labels: dict[str, list[Any]] = {}
    for pk, address in leads(request, picture, rights).items():
        path, _sign, query = address.partition("?")
        labels[token_of(pk)] = [paths.setdefault(path, len(paths)), query]
    return {"paths": list(paths), "labels": labels}


def _page(course: Course, thing: Component | Place, rights: frozenset[Right]) -> HttpResponse:
    """Lead to the page of a part or a place that says what it is, where it is, or since when it is not any more."""
    if Right.READ_SETUP not in rights:
        raise PermissionDenied
    if isinstance(thing, Component):
        return redirect("courses:component", course=course.pk, component=thing.pk)
    return redirect("courses:place", course=course.pk, place=thing.pk)
