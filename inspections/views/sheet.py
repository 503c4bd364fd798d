"""A sheet: filled in one-handed, kept as one goes, judged at once, signed in one's own words."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.db import transaction
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from accounts import proof
from accounts.keep import fill
from accounts.policy import Right
from accounts.receiving import is_sending, say_refused
from courses.access import course_for, place_for
from courses.models import Place
from inspections import actions, alone
from inspections.access import draft_for_person
from inspections.actions.debts import pay_debts
from inspections.actions.drafts import added_since, versions_shown
from inspections.actions.sheets import Incomplete, due_items
from inspections.authority import demand_authority
from inspections.corrected import as_before
from inspections.errors import Refused
from inspections.forms.items import answer_from
from inspections.forms.sheet import SheetForm
from inspections.here import codes_for
from inspections.judging import Judged
from inspections.models import Draft
from inspections.phone_rules import sheet_rules
from inspections.photos import Unusable
from inspections.picture import Picture, picture_of
from inspections.stops import own_draft
from inspections.tools import tools_for
from inspections.views import keeping
from inspections.views.frame import (
    frame,
    is_paper,
    is_received,
    picture_for,
    received,
    refused_page,
    walk_address,
    with_next,
)
from inspections.views.here import NOTED, code_of, here_of, here_shown, note_code
from inspections.views.opened import shown_as, shown_of
from inspections.views.papers import paper_of
from inspections.words import meaning, section_label
from ledger.errors import AlreadyRecorded


@require_http_methods(["GET", "HEAD", "POST"])
def sheet(request: HttpRequest, course: UUID, place: UUID, section: str) -> HttpResponse:
    """Today's sheet of one section, as this person fills it in."""
    at = timezone.now()
    picture = picture_for(request, course, Right.INSPECT, at=at)
    spot = place_for(request.user, picture.course, place, Right.INSPECT, at=at)
    if "sign" in request.POST and (known := received(request, picture)) is not None:
        return known
    if request.POST.get("item") and not request.POST.get("keep") and is_received(request, picture):
        return keeping.gone()  # an answer that was slow to come, of a sheet that is signed since: it begins no other
    try:
        if request.method == "POST":
            shown = shown_of(request)
            draft = actions.draft_for(
                picture, spot, section, deed=proof.deed(request, at=at), from_paper=is_paper(request),
                opened=shown.opened if shown else None, alone=is_sending(request),
            )  # fmt: skip
        else:
            draft = _looked_at(request, picture, spot, section)
    except Refused as refused:
        return refused_page(request, picture, refused)
    draft.place = spot
    return _page(request, picture, draft, at)


@require_http_methods(["GET", "HEAD", "POST"])
def draft(request: HttpRequest, course: UUID, draft: UUID) -> HttpResponse:
    """A draft by its own address: a correction of a signed sheet."""
    at = timezone.now()
    where = course_for(request.user, course, Right.INSPECT, at=at)
    timezone.activate(where.zone)
    if "sign" in request.POST and (known := received(request, picture_of(where, at=at))) is not None:
        return known
    one = draft_for_person(request.user, where, draft, at=at)
    return _page(request, as_before(picture_of(where, at=at, on=one.date), one), one, at)


def _looked_at(request: HttpRequest, picture: Picture, place: Place, section: str) -> Draft:
    """Return the person's draft, or one that is not stored yet: looking at a sheet creates nothing."""
    person: Any = request.user
    if place.retired_at is not None and place.retired_at <= picture.at:
        raise Refused("place-retired", _("%(place)s was retired and is not inspected any more.") % {"place": place})
    found = own_draft(picture.drafts, place, section, person)
    if found is None and picture.section(place, section) is None:
        raise Http404
    demand_authority(person, picture.course, picture.setup, place, section, picture.date)
    if found is not None:
        found.from_paper = found.from_paper or is_paper(request)
        return found
    return Draft(
        course=picture.course, date=picture.date, place=place, section=section, person=person,
        from_paper=is_paper(request), started_at=picture.at, changed_at=picture.at,
        versions=versions_shown(picture, place),
    )  # fmt: skip


def _page(request: HttpRequest, picture: Picture, draft: Draft, at: datetime) -> HttpResponse:
    wrong: dict[str, str] = {}
    if request.method == "POST":
        single = request.POST.get("item", "")
        wrong = keeping.keep(request, picture, draft, single, at)
        if single:
            if request.POST.get("keep") or request.POST.get(f"kept-{single}"):
                # What was insisted on may be out of service by now.
                picture = as_before(picture_of(picture.course, at=at, on=draft.date), draft)
            return keeping.told(picture, draft, single, wrong)
        if "here" in request.POST:
            return _shown(request, picture, draft, wrong, not_here=note_code(request, picture, draft))
        if "withdraw" in request.POST:
            return _to_withdraw(request, picture, draft, request.POST["withdraw"])
        if "sign" in request.POST and not wrong:
            try:
                return _sign(request, picture, draft, at)
            except Incomplete as incomplete:
                wrong = incomplete.wanted
            except Refused as refused:
                wrong = {"": refused.sentence}
            except Unusable as unusable:
                wrong = {"paper": unusable.sentence}
        elif not wrong:
            messages.success(request, _("Kept. Not signed yet."))
        if wrong and is_sending(request):
            say_refused(request, _in_one(picture, draft, wrong))
    return _shown(request, picture, draft, wrong)


def _in_one(picture: Picture, draft: Draft, wrong: dict[str, str]) -> str:
    """Return in one text what is wrong, for who does not see the page."""
    texts = {one.item["key"]: one.item["text"] for one in keeping.judged_of(picture, draft)}
    return " ".join(f"{texts.get(key, '')} {sentence}".strip() for key, sentence in wrong.items())


def _shown(
    request: HttpRequest, picture: Picture, draft: Draft, wrong: dict[str, str], not_here: str = ""
) -> HttpResponse:  # fmt: skip
    _lay_kept_over(request, picture, draft)
    judged = keeping.judged_of(picture, draft)
    new = added_since(picture, draft, [one.item["key"] for one in judged])
    form = fill(
        SheetForm(
            None, items=list(_items(picture, draft, judged, wrong, new)), autosave=request.get_full_path(),
            amends=bool(draft.amends), paper=draft.from_paper, reason=request.POST.get("reason", ""),
            kept_paper=_paper_kept(request, picture, draft),
            opened=shown_as(draft, code_of(request, picture, draft)),
        ),
        request,
    )  # fmt: skip
    done, of = keeping.progress(picture, draft.place, judged)
    texts = {one.item["key"]: one.item["text"] for one in judged}
    says = meaning(draft.place, draft.section, paper=draft.from_paper, correction=bool(draft.amends))
    context = frame(request, picture, line=draft.place if draft.place.kind == Place.Kind.LINE else None) | {
        "place": draft.place,
        "section": section_label(draft.section),
        "form": form,
        "done": done,
        "of": of,
        "meaning": says,
        "pattern": _pattern(request, picture, draft, judged, says),
        "judge": sheet_rules(picture, draft, judged),
        "draft": draft,
        "date": draft.date,
        "back_url": walk_address(request, picture),
        "wrong": [(key, texts.get(key, ""), sentence) for key, sentence in wrong.items()],
        "new": [texts[key] for key in texts if key in new],
        "signed": [
            sheet for sheet in picture.sheets if sheet.place_id == draft.place_id and sheet.section == draft.section
        ],
        "asks_here": not (draft.amends or draft.from_paper),
        "here": here_shown(request, picture, draft, not_here),
        "codes": codes_for(picture.setup, draft.place, draft.section),
        "paper_url": "" if draft.from_paper or draft.amends else f"{request.path}?paper=1",
    }
    return render(request, "inspections/sheet.html", context)


def _pattern(
    request: HttpRequest, picture: Picture, draft: Draft, judged: list[Judged], says: str
) -> dict[str, Any] | None:
    """Return what lets a phone sign this sheet alone; nothing where a photo of paper belongs to it."""
    if draft.from_paper:
        return None
    person: Any = request.user
    title = f"{draft.place}, {section_label(draft.section)}"
    if draft.amends is not None:
        title = _("Correction: %(title)s") % {"title": title}
    here = code_of(request, picture, draft)
    return alone.sheet_pattern(draft, judged, meaning=says, signer=person, title=title, here=here)


def _items(
    picture: Picture, draft: Draft, judged: list[Judged], wrong: dict[str, str], new: set[str]
) -> Any:  # fmt: skip
    """Yield the items to draw. A caution stands at the first of the items in a row that share it."""
    before = ""
    tools = tools_for(picture.setup, draft.place, draft.section, draft.person)
    for one in judged:
        caution = one.item.get("caution", "")
        told = caution if caution != before else ""
        yield keeping.drawn(picture, draft, one, judged, wrong, tools, caution=told, added=one.item["key"] in new)
        before = caution


def _lay_kept_over(request: HttpRequest, picture: Picture, draft: Draft) -> None:
    """Show again what was posted when the log-in had run out; it is kept in the draft with the next field."""
    kept = getattr(request, "kept", None)
    if kept is None:
        return
    for one in keeping.judged_of(picture, draft):
        key = one.item["key"]
        draft.content[key] = {**draft.content.get(key, {}), **answer_from(kept.fields, one.item, picture.course.units)}


def _sign(request: HttpRequest, picture: Picture, draft: Draft, at: datetime) -> HttpResponse:
    deed = proof.deed(request, at=at)
    paper = paper_of(request, picture.course, deed=deed) if draft.from_paper else ""
    what = f"{draft.place}, {section_label(draft.section)}"
    judged = keeping.judged_of(picture, draft)
    here = here_of(request, picture, draft)
    if is_sending(request) and not request.POST.get(NOTED) and (shown := shown_of(request)) is not None:
        here = shown.here
    try:
        with transaction.atomic():
            entry = actions.sign_sheet(
                draft,
                meaning=meaning(draft.place, draft.section, paper=draft.from_paper, correction=bool(draft.amends)),
                deed=deed,
                reason=request.POST.get("reason", ""),
                paper=paper,
                here=here,
                only_answered=deed.signing is not None and deed.signing.alone,
            )
            pay_debts(picture, draft.place, judged, deed=deed)
        said = _("Signed: %(what)s. Received as entry %(seq)s.") % {"what": what, "seq": entry.seq}
        messages.success(request, with_next(request, picture, draft.place, draft.section, said))
    except AlreadyRecorded as known:
        messages.info(request, _("This was received already, as entry %(seq)s.") % {"seq": known.seq})
    return redirect(walk_address(request, picture))


def _paper_kept(request: HttpRequest, picture: Picture, draft: Draft) -> str:
    if request.method != "POST" or not draft.from_paper:
        return ""
    try:
        return paper_of(request, picture.course, deed=proof.deed(request, at=picture.at))
    except Unusable:
        return ""


def _to_withdraw(request: HttpRequest, picture: Picture, draft: Draft, key: str) -> HttpResponse:
    # A page that was shown before has items that are asked no more.
    items = due_items(picture, draft, draft.place) | {
        one.item["key"]: one.item for one in keeping.judged_of(picture, draft)
    }
    if key not in items:
        raise Http404
    part = picture.component_of(draft.place, items[key])
    component = part.pk if part else ""
    slot = items[key]["slot"] if part else ""
    address = reverse("inspections:withdraw", args=[picture.course.pk])
    return redirect(f"{address}?place={draft.place_id}&slot={slot}&component={component}")
