"""The checklist of a place: as it is, adapted, and with an item of the course's own."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from accounts.keep import fill
from accounts.policy import Right
from courses import checklists, naming, new_items, slots
from courses.access import place_for
from courses.forms.checklists import AddItemForm, ChecklistForm
from courses.models import Place, Version
from courses.queries import Setup, history_of, newest_of, subject_of
from courses.tightening import tightens
from courses.views.shared import asks, offer, setup_for, start_with

KIND = Version.Kind.CHECKLIST


@require_safe
def checklist(request: HttpRequest, course: UUID, place: UUID) -> HttpResponse:
    """Show the checklist in force, sheet by sheet, with what the library has besides and what was left out."""
    setup = setup_for(request, course, Right.READ_SETUP, at=timezone.now())
    found = place_for(request.user, setup.course, place, Right.READ_SETUP, at=setup.at)
    version = setup.checklist(found)
    content = version.content if version else {"items": [], "left_out": []}
    sheets: dict[str, list[dict[str, Any]]] = {}
    for item in content["items"]:
        sheets.setdefault(item["sheet"], []).append(_row(item, setup, found))
    composed = _composed(setup, found)
    history = history_of(subject_of(KIND, found.pk))
    newest = next((one for one in history if one.refused_at is None), version)
    bare = new_items.without_limit(setup, found, newest.content["items"] if newest else ())
    daily, figures = checklists.daily_budget(content)
    return render(
        request, "courses/checklist.html",
        {"course": setup.course, "place": found, "version": version, "daily": daily, "figures": figures,
         "sheets": [(naming.sheet_words(sheet), rows) for sheet, rows in sheets.items()],
         "left_out": content.get("left_out", []), "lacking": checklists.lacking(content, composed) if version else [],
         "composed": len(composed["items"]), "history": history,
         "bare": new_items.named(one for one in bare if new_items.holds(found, one))},
    )  # fmt: skip


@asks
def checklist_edit(request: HttpRequest, course: UUID, place: UUID) -> HttpResponse:
    """Adapt the newest checklist, or the one composed from the library where there is none."""
    setup = setup_for(request, course, Right.PROPOSE, at=timezone.now())
    found = place_for(request.user, setup.course, place, Right.PROPOSE, at=setup.at)
    base, composed = _base(request, setup, found), _composed(setup, found)
    lacking = checklists.lacking(base, composed)
    form = ChecklistForm(request.POST or None, request.FILES or None, base=base, lacking=lacking)
    lead = "" if base != composed else _("Composed from the library for what is entered about this place.")
    return offer(
        request, fill(form, request), setup, KIND, place=found, lead=lead,
        title=_("Checklist of %(place)s") % {"place": found},
        back=reverse("courses:checklist", args=[setup.course.pk, found.pk]),
        looked=lambda content: _looked(setup, found, content),
    )  # fmt: skip


@asks
def checklist_add(request: HttpRequest, course: UUID, place: UUID) -> HttpResponse:
    setup = setup_for(request, course, Right.PROPOSE, at=timezone.now())
    found = place_for(request.user, setup.course, place, Right.PROPOSE, at=setup.at)
    form = AddItemForm(
        request.POST or None, request.FILES or None, base=_base(request, setup, found),
        slots=slots.of_items(setup, found), sheets=naming.PLACE_SHEETS[Place.Kind(found.kind)],
    )  # fmt: skip
    return offer(
        request, fill(form, request), setup, KIND, place=found,
        title=_("An item of your own for %(place)s") % {"place": found},
        back=reverse("courses:checklist", args=[setup.course.pk, found.pk]),
        looked=lambda content: _looked(setup, found, content),
    )  # fmt: skip


def _looked(setup: Setup, place: Place, content: dict[str, Any]) -> list[tuple[str, str]]:
    """Return what the new items of a checklist will hold."""
    current = setup.checklist(place)
    at_once = tightens(KIND, current.content if current else None, content)
    return new_items.looked(setup, place, content, at_once=at_once)


def _base(request: HttpRequest, setup: Setup, place: Place) -> dict[str, Any]:
    version = start_with(request, setup, KIND, place.pk)
    return version.content if version else _composed(setup, place)


def _composed(setup: Setup, place: Place) -> dict[str, Any]:
    """Compose the library's checklist for the newest data of a place, so that both can be confirmed together."""
    launch, landing = (setup.places.get(pk) if pk else None for pk in (place.launch_id, place.landing_id))
    return checklists.compose(
        place.kind, _document(place), launch_document=_document(launch) if launch else None,
        landing_document=_document(landing) if landing else None,
    )  # fmt: skip


def _document(place: Place) -> dict[str, Any]:
    version = newest_of(subject_of(place.kind, place.pk))
    return version.content if version else {}


def _row(item: dict[str, Any], setup: Setup, place: Place) -> dict[str, Any]:
    return {
        "code": item["code"], "text": item["text"], "look": item["look"], "caution": item["caution"],
        "slot": slots.words_for(item["slot"], slots.brake_kinds(setup, place)), "kind": naming.KINDS[item["kind"]],
        "unit": item["unit"] if item["unit"] not in {"count", "-", "1"} else "", "every": naming.EVERY[item["every"]],
        "class": item["class"], "reach": naming.REACHES[item["reach"]], "sources": item["sources"],
    }  # fmt: skip
