"""What the pages of the set-up share: finding the course, offering a change, doing a deed."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from accounts import proof
from accounts.forms import DeedForm
from accounts.policy import Right
from courses import actions, calendar, documents, outlook, wording
from courses.access import course_for
from courses.errors import Refused
from courses.forms.base import VersionForm, digest_of
from courses.looked_band import BandLooked
from courses.models import Component, Place, StoredFile, Version
from courses.naming import names_of
from courses.queries import Setup, newest_of, setup_at, subject_of
from ledger.errors import AlreadyRecorded

IN_FORCE = "in-force"
NEXT_DAY = "next-day"
asks = require_http_methods(["GET", "HEAD", "POST"])


def setup_for(request: HttpRequest, course: UUID, right: Right, *, at: datetime) -> Setup:
    """Return the course as it is set up now, or raise Http404 or PermissionDenied."""
    return setup_at(course_for(request.user, course, right, at=at), at)


def start_with(request: HttpRequest, setup: Setup, kind: str, about: Any) -> Version | None:
    """Return the version that a form begins with: the newest that was not refused, or with ``?from=in-force`` that one.

    Something that must count at once is a change of what is in force, not of a proposal that waits.
    """
    if request.GET.get("from") == IN_FORCE:
        return setup.version(kind, about)
    return newest_of(subject_of(kind, about))


def offer(
    request: HttpRequest, form: VersionForm, setup: Setup, kind: str, *, back: str, title: str, lead: str = "",
    place: Place | None = None, component: Component | None = None, names: dict[str, str] | None = None,
    done: str = "", looked: Callable[[dict[str, Any]], list[tuple[str, str]]] | None = None,
    band: Callable[[dict[str, Any]], BandLooked | None] | None = None,
) -> HttpResponse:  # fmt: skip
    """Show a form that proposes a version; look at what it changes; propose it when it comes back unchanged.

    ``looked`` says what is to be seen in the figures themselves: states of notices with their sentences; ``band``
    which weights and winds would be computed from them.
    """
    about = (place or component or setup.course).pk
    current = setup.version(kind, about)
    old = current.content if current else None
    names = names_of(setup) | (names or {})
    context: dict[str, Any] = {
        "course": setup.course, "setup": setup, "form": form, "back": back, "title": title, "lead": lead,
        "in_general": outlook.in_general(setup, kind), "waits": _waits(request, kind, about),
        "holds": kind == Version.Kind.CHECKLIST,
    }  # fmt: skip
    if request.method == "POST" and form.is_valid():
        try:
            content = documents.clean(kind, form.content())
            if wording.is_same(old, content):
                raise Refused("no-change", _("Nothing would change: this is what is in force."))
            stored = _store(request, form, setup)
            if form.cleaned_data["seen"] == digest_of(content):
                version = actions.propose(
                    setup.course, kind, content, source=form.cleaned_data["source"], source_file=stored, place=place,
                    component=component, deed=proof.deed(request, at=setup.at, id=form.cleaned_data["deed_id"]),
                    from_next_day=kind == Version.Kind.CHECKLIST and request.POST.get("counts") == NEXT_DAY,
                )  # fmt: skip
                messages.success(request, _said(version, setup))
                return redirect(done or back)
            form.remember(seen=digest_of(content), stored=stored)
            context["changes"] = wording.differences(kind, old, content, names=names)
            context["outlook"] = outlook.outlook(setup, kind, old, content)
            context["looked"] = looked(content) if looked else []
            context["band"] = band(content) if band else None
        except Refused as refused:
            form.refuse(refused)
        except AlreadyRecorded:
            messages.info(request, _("This was received already."))
            return redirect(done or back)
    return render(request, "courses/propose.html", context)


def do(
    request: HttpRequest, form: DeedForm, deed: Callable[[dict[str, Any]], str], *, template: str, back: str,
    context: dict[str, Any],
) -> HttpResponse:  # fmt: skip
    """Show a form of one deed, or do the deed and go on; a refusal is said in the form, a repetition is no fault."""
    if request.method == "POST" and form.is_valid():
        try:
            return redirect(deed(form.cleaned_data))
        except Refused as refused:
            form.refuse(refused)
        except AlreadyRecorded:
            messages.info(request, _("This was received already."))
            return redirect(back)
    return render(request, template, {**context, "form": form, "back": back})


def _waits(request: HttpRequest, kind: str, about: Any) -> Version | None:
    """Return the proposal that the form began with, if it is one that nobody has decided yet."""
    newest = newest_of(subject_of(kind, about)) if "from" not in request.GET else None
    return newest if newest is not None and newest.confirmed_at is None else None


def _store(request: HttpRequest, form: VersionForm, setup: Setup) -> str:
    """Keep the attached source and return its hash; a file that came with an earlier look is known by its hash."""
    given = form.cleaned_data["source_file"]
    if given:
        data, media_type = given
        deed = proof.deed(request, at=setup.at)
        operator = setup.course.operator
        return actions.store_bytes(
            operator, data, kind=StoredFile.Kind.SOURCE, media_type=media_type, deed=deed
        ).sha256  # fmt: skip
    stored: str = form.cleaned_data["stored"]
    known = StoredFile.objects.filter(
        operator_id=setup.course.operator_id, kind=StoredFile.Kind.SOURCE, sha256=stored
    )  # fmt: skip
    return stored if stored and known.exists() else ""


def _said(version: Version, setup: Setup) -> str:
    if version.tightens and version.from_at is not None and version.from_at > setup.at:
        day = calendar.local_day(version.from_at, setup.course.zone, setup.course.day_change_hour)
        told = {"number": version.number, "day": date_format(day, "l j F")}
        return _("Version %(number)s counts from %(day)s.") % told
    if version.tightens:
        return _("Version %(number)s is in force.") % {"number": version.number}
    return _("Version %(number)s is proposed and waits for somebody else.") % {"number": version.number}
