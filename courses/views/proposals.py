"""What waits for a second person, and the versions as they were."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_safe

from accounts import policy, proof
from accounts.keep import fill
from accounts.policy import Right
from courses import actions, outlook, slots, wording
from courses.access import version_for
from courses.errors import Refused
from courses.forms.proposals import ConfirmForm, RefuseForm
from courses.looked import Looked, line_looked, mechanics_looked
from courses.looked_band import BandLooked, band_looked
from courses.models import Version
from courses.naming import names_of, title_of
from courses.queries import Setup, before, waiting
from courses.views.shared import asks, setup_for
from ledger.errors import AlreadyRecorded


@require_safe
def proposals(request: HttpRequest, course: UUID) -> HttpResponse:
    setup = setup_for(request, course, Right.READ_SETUP, at=timezone.now())
    found = [
        (version, title_of(version), wording.differences(
            version.kind, _old(setup, version), version.content, names=names_of(setup)))
        for version in waiting(setup.course)
    ]  # fmt: skip
    return render(request, "courses/proposals.html", {"course": setup.course, "proposals": found})


@sensitive_post_parameters("password")
@asks
def proposal(request: HttpRequest, course: UUID, version: UUID) -> HttpResponse:
    """Show one version: what it changes, who stands behind it; let a second person confirm it."""
    setup = setup_for(request, course, Right.READ_SETUP, at=timezone.now())
    found = version_for(request.user, setup.course, version, Right.READ_SETUP, at=setup.at)
    form = fill(ConfirmForm(request.POST or None), request)
    here = reverse("courses:proposals", args=[setup.course.pk])
    if request.method == "POST":
        version_for(request.user, setup.course, version, Right.CONFIRM, at=setup.at)
        if form.is_valid():
            try:
                deed = proof.deed_with_password(
                    request, form.cleaned_data["password"], at=setup.at, id=form.cleaned_data["deed_id"]
                )
                actions.confirm(found, deed=deed)
                messages.success(request, _("%(what)s is confirmed.") % {"what": title_of(found)})
                return redirect(here)
            except Refused as refused:
                form.refuse(refused)
            except AlreadyRecorded:
                return redirect(here)
    return render(request, "courses/proposal.html", _context(request, setup, found) | {"form": form})


@asks
def proposal_refuse(request: HttpRequest, course: UUID, version: UUID) -> HttpResponse:
    setup = setup_for(request, course, Right.PROPOSE, at=timezone.now())
    found = version_for(request.user, setup.course, version, Right.PROPOSE, at=setup.at)
    form = fill(RefuseForm(request.POST or None), request)
    back = reverse("courses:proposals", args=[setup.course.pk])
    if request.method == "POST" and form.is_valid():
        try:
            deed = proof.deed(request, at=setup.at, id=form.cleaned_data["deed_id"])
            actions.refuse(found, why=form.cleaned_data["why"], deed=deed)
            messages.success(request, _("The proposal is turned down."))
            return redirect(back)
        except Refused as refused:
            form.refuse(refused)
        except AlreadyRecorded:
            return redirect(back)
    title = _("Turn down: %(what)s?") % {"what": title_of(found)}
    return render(
        request, "courses/ask.html",
        {"course": setup.course, "form": form, "title": title, "send": _("Turn it down"), "back": back, "danger": True},
    )  # fmt: skip


def _old(setup: Setup, version: Version) -> Any:
    """Return what a version is compared with: what is in force while it waits, else the version before it."""
    if version.confirmed_at is None:
        current = setup.versions.get(version.subject)
        return current.content if current else None
    previous = before(version)
    return previous.content if previous else None


def _looked(setup: Setup, version: Version) -> Looked:
    """Return what the computation says of a proposal about a line, for who confirms it."""
    if version.place is None or version.kind not in {Version.Kind.LINE, Version.Kind.MECHANICS}:
        return []
    if version.kind == Version.Kind.LINE:
        return line_looked(version.content, setup.course.units)
    kinds = slots.brake_kinds(setup, version.place)
    words = {slot: slots.words_for(slot, kinds) for slot in kinds}
    return mechanics_looked(setup.document(version.place), version.content, words, setup.course.units)


def _band(setup: Setup, version: Version) -> BandLooked | None:
    """Return which weights and winds a proposal about a line would give, beside what is in force."""
    if version.place is None or version.kind not in {Version.Kind.LINE, Version.Kind.MECHANICS}:
        return None
    document, mechanics = setup.document(version.place), setup.mechanics(version.place)
    now = {"line_now": document, "mechanics_now": mechanics}
    if version.kind == Version.Kind.LINE:
        return band_looked(version.content, mechanics, setup.course.units, **now) if mechanics else None
    return band_looked(document, version.content, setup.course.units, **now)


def _context(request: HttpRequest, setup: Setup, version: Version) -> dict[str, Any]:
    names = names_of(setup)
    old = _old(setup, version)
    rights = policy.rights_of(request.user, setup.course.operator_id, at=setup.at)
    waits = version.confirmed_at is None and version.refused_at is None
    own = version.proposed_by_id == request.user.pk
    return {
        "course": setup.course, "setup": setup, "version": version, "title": title_of(version), "waits": waits,
        "changes": wording.differences(version.kind, old, version.content, names=names),
        "data": wording.grouped(version.kind, version.content, names=names), "own": own,
        "may_confirm": waits and Right.CONFIRM in rights and not own,
        "may_refuse": waits and Right.PROPOSE in rights,
        "outlook": outlook.outlook(setup, version.kind, old, version.content) if waits else None,
        "looked": _looked(setup, version) if waits else [],
        "band": _band(setup, version) if waits else None,
    }  # fmt: skip
