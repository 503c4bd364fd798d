"""Gear by the rack: counted, exceptions tapped, confirmed once."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.db import transaction
from django.http import Http404, HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from accounts import proof
from accounts.deeds import Deed
from accounts.keep import fill
from accounts.policy import Right
from courses import checklists
from courses.access import place_for
from courses.models import Place
from inspections import actions
from inspections.actions.drafts import Opened, versions_shown
from inspections.actions.sheets import judge_draft
from inspections.alone import rack_pattern
from inspections.authority import demand_authority
from inspections.errors import Refused
from inspections.forms.rack import OUT, Piece, RackForm
from inspections.judging import Judged
from inspections.models import Draft
from inspections.photos import Unusable
from inspections.picture import RACK, Picture
from inspections.stops import out_of_service
from inspections.views.asking import ask
from inspections.views.frame import (
    frame,
    is_paper,
    picture_for,
    received,
    refused_page,
    walk_address,
    with_next,
)
from inspections.views.opened import shown_as, shown_of
from inspections.views.papers import paper_of, photos_kept
from inspections.words import meaning, section_label


@require_http_methods(["GET", "HEAD", "POST"])
def rack(request: HttpRequest, course: UUID, place: UUID, slot: str) -> HttpResponse:
    picture = picture_for(request, course, Right.INSPECT, at=timezone.now())
    store = place_for(request.user, picture.course, place, Right.INSPECT, at=picture.at)
    if (known := received(request, picture)) is not None:
        return known
    section = RACK + slot
    if picture.section(store, section) is None:
        raise Http404
    try:
        demand_authority(request.user, picture.course, picture.setup, store, section, picture.date)  # type: ignore[arg-type]
    except Refused as refused:
        return refused_page(request, picture, refused)
    blank = _blank(request, picture, store, section)
    judged = judge_draft(picture, blank, store)
    pieces = list(_pieces(picture, judged))
    form, unusable = _form(request, picture, pieces, shown_as(blank, {}))

    def do(data: dict[str, Any]) -> str:
        return _sign(request, picture, store, section, form)

    context = frame(request, picture) | {
        "title": section_label(section),
        "store": store,
        "register": len([piece for piece in pieces if not piece.out]),
        "out": [piece.tag for piece in pieces if piece.out],
        "guidance": _guidance(picture, store, section),
        "signed": picture.section(store, section).signed,  # type: ignore[union-attr]
        "meaning": meaning(store, section, paper=is_paper(request)),
        "pattern": None if is_paper(request) else _pattern(blank, judged, pieces),
    }
    if unusable and form.is_bound:
        form.add_error(None, unusable)
    return ask(
        request, form, do, back=walk_address(request, picture), template="inspections/rack.html", context=context
    )


def _blank(request: HttpRequest, picture: Picture, store: Place, section: str) -> Draft:
    """Return the sheet of this rack with nothing in it, as it is shown or, where it comes back, as it was first."""
    person: Any = request.user
    shown = shown_of(request)
    opened = shown.opened if shown else Opened(picture.at, versions_shown(picture, store))
    return Draft(course=picture.course, date=picture.date, place=store, section=section, person=person,
                 started_at=opened.at, versions=opened.versions)  # fmt: skip


def _pattern(blank: Draft, judged: list[Judged], pieces: list[Piece]) -> dict[str, Any]:
    """Return what lets a phone sign this rack alone."""
    return rack_pattern(
        blank, judged, frozenset(one.key for one in pieces if one.out), signer=blank.person, reason=str(OUT),
        title=section_label(blank.section), meaning=meaning(blank.place, blank.section),
    )  # fmt: skip


def _pieces(picture: Picture, judged: list[Judged]) -> Any:
    """Yield what this rack's sheet asks for: everything, or what is still open where it was signed already."""
    out = out_of_service(picture)
    for one in judged:
        component = one.item["component"]
        yield Piece(one.item["key"], component.tag, component.label, component.pk in out)


def _form(request: HttpRequest, picture: Picture, pieces: list[Piece], opened: str) -> tuple[RackForm, str]:
    """Return the form, with the photos that came with it kept, and what is wrong with one that cannot be."""
    photos: dict[str, list[str]] = {}
    paper, unusable = "", ""
    if request.method == "POST":
        deed = proof.deed(request, at=picture.at)
        try:
            for piece in pieces:
                photos[piece.tag] = photos_kept(
                    request, picture.course, f"photo-{piece.tag}", f"kept-{piece.tag}", deed=deed
                )
            paper = paper_of(request, picture.course, deed=deed)
        except Unusable as error:
            unusable = error.sentence
    form = RackForm(
        request.POST if request.method == "POST" else None, request.FILES or None,
        opened=opened, pieces=pieces, photos=photos, paper=is_paper(request),
        kept_paper=paper, kept=getattr(getattr(request, "kept", None), "fields", None),
    )  # fmt: skip
    return fill(form, request), unusable


def _sign(request: HttpRequest, picture: Picture, store: Place, section: str, form: RackForm) -> str:
    deed = proof.deed(request, at=picture.at, id=form.cleaned_data["deed_id"])
    with transaction.atomic():
        entry = actions.sign_sheet(
            _filled(request, picture, store, section, form, deed),
            meaning=meaning(store, section, paper=is_paper(request)),
            paper=paper_of(request, picture.course, deed=deed),
            deed=deed,
        )
    said = _("Signed: %(what)s. Received as entry %(seq)s.") % {"what": section_label(section), "seq": entry.seq}
    tags = sorted({*form.cleaned_data["defect"], *form.cleaned_data["missing"]})
    if tags:
        said += " " + _("Not to be issued: %(tags)s.") % {"tags": ", ".join(tags)}
    level = messages.WARNING if tags else messages.SUCCESS
    messages.add_message(request, level, with_next(request, picture, store, section, said))
    return walk_address(request, picture)


def _filled(
    request: HttpRequest, picture: Picture, store: Place, section: str, form: RackForm, deed: Deed
) -> Draft:  # fmt: skip
    shown = shown_of(request)
    draft = actions.draft_for(
        picture, store, section, deed=deed, from_paper=is_paper(request), opened=shown.opened if shown else None
    )
    draft = actions.keep_answers(draft, {one.key: form.answer_of(one) for one in form.pieces}, at=picture.at)
    draft.place = store
    return draft


def _guidance(picture: Picture, store: Place, section: str) -> list[Any]:
    found = picture.section(store, section)
    kinds = {item["component"].kind for item in found.items} if found else set()
    return [item for kind in sorted(kinds) for item in checklists.gear_guidance(kind)]
