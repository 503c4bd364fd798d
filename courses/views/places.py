"""Platforms and lines: what is there, what is entered about each, what is missing."""

from __future__ import annotations

from functools import partial
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from accounts import proof
from accounts.keep import fill
from accounts.policy import Right
from courses import actions, readiness, slots, wording
from courses.access import place_for
from courses.forms.lines import LineForm
from courses.forms.places import LinePlaceForm, PlatformForm, PlatformPlaceForm, RetirePlaceForm
from courses.looked import line_looked
from courses.looked_band import BandLooked, band_looked
from courses.models import Place
from courses.naming import names_of
from courses.queries import Setup, history_of, subject_of
from courses.views.shared import asks, do, offer, setup_for, start_with


@require_safe
def lines(request: HttpRequest, course: UUID) -> HttpResponse:
    setup = setup_for(request, course, Right.READ_SETUP, at=timezone.now())
    found = [readiness.of_place(setup, place) for place in setup.lines]
    return render(request, "courses/lines.html", {"course": setup.course, "lines": found, "setup": setup})


@require_safe
def platforms(request: HttpRequest, course: UUID) -> HttpResponse:
    setup = setup_for(request, course, Right.READ_SETUP, at=timezone.now())
    found = [readiness.of_place(setup, place) for place in setup.platforms]
    return render(request, "courses/platforms.html", {"course": setup.course, "platforms": found, "setup": setup})


@require_safe
def place(request: HttpRequest, course: UUID, place: UUID) -> HttpResponse:
    """Show one place with its data in force, what is missing, what is fitted there and the versions before."""
    setup = setup_for(request, course, Right.READ_SETUP, at=timezone.now())
    found = place_for(request.user, setup.course, place, Right.READ_SETUP, at=setup.at)
    names = names_of(setup)
    context: dict[str, Any] = {
        "course": setup.course, "place": found, "standing": readiness.of_place(setup, found),
        "data": wording.grouped(found.kind, setup.document(found), names=names) if _has_data(found) else [],
        "history": history_of(subject_of(found.kind, found.pk)) if _has_data(found) else [],
        "fitted": slots.fitted_at(setup, found), "setup": setup, "has_data": _has_data(found),
        "lines": [line for line in setup.lines if found.pk in (line.launch_id, line.landing_id)],
    }  # fmt: skip
    return render(request, "courses/place.html", context)


@asks
def place_add(request: HttpRequest, course: UUID, kind: str) -> HttpResponse:
    setup = setup_for(request, course, Right.PROPOSE, at=timezone.now())
    if kind == Place.Kind.LINE:
        form: PlatformPlaceForm = LinePlaceForm(request.POST or None, platforms=setup.platforms)
        title, back = _("Add a line"), reverse("courses:lines", args=[setup.course.pk])
    else:
        form = PlatformPlaceForm(request.POST or None)
        title, back = _("Add a platform"), reverse("courses:platforms", args=[setup.course.pk])
    form.fields["number"].initial = 1 + max((one.number for one in setup.of_kind(kind)), default=0)
    fill(form, request)

    def deed(data: dict[str, Any]) -> str:
        ends = {name: form.platforms[data[name]] for name in ("launch", "landing") if name in data}  # type: ignore[attr-defined]
        new = actions.add_place(
            setup.course, kind=kind, number=data["number"], name=data["name"], **ends,
            deed=proof.deed(request, at=setup.at, id=data["deed_id"]),
        )  # fmt: skip
        return reverse("courses:place", args=[setup.course.pk, new.pk])

    context = {"course": setup.course, "title": title, "send": title}
    return do(request, form, deed, template="courses/ask.html", back=back, context=context)


@asks
def place_edit(request: HttpRequest, course: UUID, place: UUID) -> HttpResponse:
    setup = setup_for(request, course, Right.PROPOSE, at=timezone.now())
    found = place_for(request.user, setup.course, place, Right.PROPOSE, at=setup.at)
    document, lead = _start_from(request, setup, found)
    posted = (request.POST or None, request.FILES or None)
    if found.kind == Place.Kind.LINE:
        form: Any = LineForm(*posted, document=document, units=setup.course.units)
    elif found.kind == Place.Kind.PLATFORM:
        form = PlatformForm(*posted, document=document, place=found, setup=setup)
    else:
        raise Http404
    return offer(
        request, fill(form, request), setup, found.kind, place=found, title=_("Data of %(place)s") % {"place": found},
        lead=lead, back=reverse("courses:place", args=[setup.course.pk, found.pk]),
        looked=partial(line_looked, units=setup.course.units) if found.kind == Place.Kind.LINE else None,
        band=partial(_band, setup, found) if found.kind == Place.Kind.LINE else None,
    )  # fmt: skip


@require_safe
def line_copy(request: HttpRequest, course: UUID, place: UUID) -> HttpResponse:
    """Let one choose the line whose data the form of this one begins with."""
    setup = setup_for(request, course, Right.PROPOSE, at=timezone.now())
    found = place_for(request.user, setup.course, place, Right.PROPOSE, at=setup.at)
    if found.kind != Place.Kind.LINE:
        raise Http404
    others = [readiness.of_place(setup, line) for line in setup.lines if line.pk != found.pk]
    usable = [one for one in others if one.version is not None]
    return render(request, "courses/copy.html", {"course": setup.course, "place": found, "others": usable})


@asks
def place_retire(request: HttpRequest, course: UUID, place: UUID) -> HttpResponse:
    setup = setup_for(request, course, Right.PROPOSE, at=timezone.now())
    found = place_for(request.user, setup.course, place, Right.PROPOSE, at=setup.at)
    form = fill(RetirePlaceForm(request.POST or None), request)
    back = reverse("courses:place", args=[setup.course.pk, found.pk])

    def deed(data: dict[str, Any]) -> str:
        actions.retire_place(found, why=data["why"], deed=proof.deed(request, at=setup.at, id=data["deed_id"]))
        messages.success(request, _("%(place)s is retired.") % {"place": found})
        return reverse("courses:setup", args=[setup.course.pk])

    context = {
        "course": setup.course, "title": _("Retire %(place)s?") % {"place": found}, "send": _("Retire it"),
        "danger": True, "points": [
            _("It is inspected no more and can no longer be opened."),
            _("Its past stays readable. Its number becomes free."),
            _("This cannot be taken back."),
        ],
    }  # fmt: skip
    return do(request, form, deed, template="courses/ask.html", back=back, context=context)


def _band(setup: Setup, line: Place, content: dict[str, Any]) -> BandLooked | None:
    """Return which weights and winds would be computed with other data of a line, its mechanics as in force."""
    mechanics = setup.mechanics(line)
    if not mechanics:
        return None
    return band_looked(
        content, mechanics, setup.course.units, line_now=setup.document(line), mechanics_now=mechanics
    )  # fmt: skip


def _has_data(place: Place) -> bool:
    return place.kind in {Place.Kind.LINE, Place.Kind.PLATFORM}


def _start_from(request: HttpRequest, setup: Setup, place: Place) -> tuple[dict[str, Any], str]:
    """Return what the form begins with, and a word about it: another line's data, or a version of this place."""
    origin = next((line for line in setup.lines if str(line.pk) == request.GET.get("from")), None)
    if origin is not None and place.kind == Place.Kind.LINE:
        return setup.document(origin), _("Begun with the data of %(line)s. Check every figure.") % {"line": origin}
    version = start_with(request, setup, place.kind, place.pk)
    return version.content if version else {}, ""
