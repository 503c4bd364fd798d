"""Gear by the rack: counted, exceptions tapped, confirmed once."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from accounts import proof
from accounts.keep import fill
from accounts.policy import Right
from courses.access import course_for, place_for
from inspections import actions
from inspections.actions.sheets import meaning_of
from inspections.forms.rack import RackForm
from inspections.picture import RACK, Section, picture_of
from inspections.views.asking import ask, photos_of
from inspections.words import section_label


@require_http_methods(["GET", "HEAD", "POST"])
def rack(request: HttpRequest, course: UUID, place: UUID, slot: str) -> HttpResponse:
    """Gear by the rack: counted, exceptions tapped, confirmed once."""
    at = timezone.now()
    where = course_for(request.user, course, Right.INSPECT, at=at)
    timezone.activate(where.zone)
    store = place_for(request.user, where, place, Right.INSPECT, at=at)
    picture = picture_of(where, at=at)
    section = picture.section(store, RACK + slot)
    if section is None:
        raise Http404
    out = {f.component.tag for f in picture.open_findings(store) if f.component and f.out_of_service}
    tags = [item["text"] for item in section.items]
    form = fill(RackForm(request.POST or None, request.FILES or None, tags=tags, back=""), request)

    def do(data: dict[str, Any]) -> str:
        deed = proof.deed(request, at=at, id=data["deed_id"])
        photos = list(photos_of(request, where, deed))
        draft = actions.draft_for(picture, store, RACK + slot, deed=deed)
        draft.content = {item["key"]: _gear_answer(item["text"], data, photos) for item in section.items}
        draft.save(update_fields=["content"])
        draft.place = store
        entry = actions.sign_sheet(draft, meaning=meaning_of(store, RACK + slot), deed=deed)
        messages.success(
            request,
            _("Signed: %(what)s. Received as entry %(seq)s.") % {"what": section_label(RACK + slot), "seq": entry.seq},
        )
        return reverse("inspections:walk", args=[where.pk])

    context = {
        "course": where,
        "title": section_label(RACK + slot),
        "register": len(tags),
        "out": sorted(out & set(tags)),
        "guidance": _guidance(section),
        "signed": section.signed,
        "meaning": meaning_of(store, RACK + slot),
    }
    return ask(
        request,
        form,
        do,
        back=reverse("inspections:walk", args=[where.pk]),
        template="inspections/rack.html",
        context=context,
    )


def _gear_answer(tag: str, data: dict[str, Any], photos: list[str]) -> dict[str, Any]:
    if tag in data["defect"]:
        return {"mark": "defect", "note": data["note"], "photos": photos, "kept": "defect"}
    return {"mark": "missing" if tag in data["missing"] else "sound"}


def _guidance(section: Section) -> list[Any]:
    from courses import checklists

    kinds = {item["component"].kind for item in section.items}
    return [item for kind in sorted(kinds) for item in checklists.gear_guidance(kind)]
