"""A sheet while it is being filled in: what was posted is kept, judged, and told back."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal, InvalidOperation
from typing import Any

from django.http import HttpRequest, JsonResponse
from django.urls import reverse
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from accounts import proof
from accounts.deeds import Deed
from accounts.receiving import is_sending
from courses.models import Place
from inspections import actions
from inspections.actions.sheets import MAX_PHOTOS, due_items, judge_draft, questions, wanted
from inspections.errors import Refused
from inspections.forms.items import answer_from, shown
from inspections.judging import REGISTER_KINDS, TYPED_KINDS, Answer, Judged, title_of
from inspections.limit_text import limit_of
from inspections.measures import said
from inspections.models import Draft, Verdict
from inspections.owing import following
from inspections.phone_words import time_of
from inspections.photos import Unusable
from inspections.picture import Picture
from inspections.tools import Tools
from inspections.views.asking import photos_of
from inspections.views.papers import photos_named
from ledger.errors import AlreadyRecorded


def judged_of(picture: Picture, draft: Draft) -> list[Judged]:
    return judge_draft(picture, draft, draft.place)


def keep(request: HttpRequest, picture: Picture, draft: Draft, only: str, at: datetime) -> dict[str, str]:
    """Keep what was posted about one item, or about all; return what could not be kept, by item.

    What a person insists on and what is past its limit goes out of service at once, not when the sheet is signed.
    """
    wrong: dict[str, str] = {}
    deed = proof.deed(request, at=at)
    answers = {}
    asked = {one.item["key"]: one.item for one in judged_of(picture, draft)}
    due = {} if draft.amends else due_items(picture, draft, draft.place)
    for key, item in {**due, **asked}.items():
        if only and key != only:
            continue
        before = draft.content.get(key, {})
        fields: dict[str, Any] = answer_from(request.POST, item, picture.course.units)
        has_photo = f"photo-{key}" in request.FILES
        if key not in asked and Answer.of(fields).is_empty and not has_photo:
            continue  # not asked any more, and nothing said of it by a form that still did
        try:
            # A form that was signed alone names all photos that it had when it was: its draft may be gone by now.
            had = photos_named(request, picture.course, request.POST.getlist(f"had-{key}"))
            new = photos_of(request, picture.course, deed, name=f"photo-{key}")
            here = [] if is_sending(request) else before.get("photos", [])  # none that came from another phone since
            photos = _with_new([*here, *had], new)
            if photos != before.get("photos", []):
                fields["photos"] = photos
        except Unusable as unusable:
            wrong[key] = unusable.sentence
        if any(before.get(name) != value for name, value in fields.items()):
            answers[key] = fields
    if answers:
        place = draft.place
        draft.content = actions.keep_answers(draft, answers, at=at).content
        draft.place, draft.changed_at = place, at
    # What was insisted on without a signal comes with its item when that is opened again, and not as a press.
    insisted = request.POST.get("keep") or (only if request.POST.get(f"kept-{only}") else "")
    if insisted:
        _withdraw_kept(picture, draft, insisted, deed)
    return wrong


def _with_new(before: list[str], new: tuple[str, ...]) -> list[str]:
    # A photo that is sent again, because the answer to its first sending was lost, is the same photo.
    found = list(dict.fromkeys([*before, *new]))
    if len(found) > MAX_PHOTOS:
        raise Unusable(_("At most %(most)s photos belong to one item.") % {"most": MAX_PHOTOS})
    return found


def _withdraw_kept(picture: Picture, draft: Draft, key: str, deed: Deed) -> None:
    judged = next((one for one in judged_of(picture, draft) if one.item["key"] == key), None)
    if judged is None or judged.verdict != Verdict.WITHDRAW or not judged.answer.kept:
        return
    try:
        actions.take_out_of_service(
            picture,
            draft.place,
            title=title_of(judged),
            component=judged.component,
            slot=judged.item["slot"],
            key=key,
            severity=str(judged.item["class"]),
            text=judged.answer.note,
            photos=judged.answer.photos,
            clause=judged.judgement.source,
            limit=judged.judgement.limit_text,
            typed=judged.answer.text,
            deed=deed.part(f"withdraw:{draft.pk}:{key}"),
        )
    except (Refused, AlreadyRecorded):
        return  # it is out of service already: that is what was wanted


def told(picture: Picture, draft: Draft, only: str, wrong: dict[str, str]) -> JsonResponse:
    """Answer the script that keeps a sheet as one goes: the judgement of one item, and how far the sheet is."""
    judged = judged_of(picture, draft)
    one = next((found for found in judged if found.item["key"] == only), None)
    if one is None:
        return gone()
    item = drawn(picture, draft, one, judged, wrong)
    answer = answer_of(item) | {"out": item["out"]}
    done, of = progress(picture, draft.place, judged)
    saved = timezone.localtime(draft.changed_at).strftime("%H:%M")
    return JsonResponse(
        {"item": {only: answer}, "progress": {"done": done, "of": of}, "saved": saved}, status=422 if wrong else 200
    )


def gone() -> JsonResponse:
    """Answer the script that what it keeps is not asked for here."""
    return JsonResponse({"item": {}, "gone": True}, status=422)


def answer_of(item: dict[str, Any]) -> dict[str, Any]:
    """Return what the script draws of an item: see "Autosave" in templates/ui/README.md."""
    names = ("verdict", "word", "sentence", "clause", "limit", "last", "difference", "need", "choices")
    return {name: item.get(name, "") for name in names} | {
        "ask": item.get("ask"),
        "photos": list(item.get("photos", ())),
    }


def progress(picture: Picture, place: Place, judged: list[Judged]) -> tuple[int, int]:
    """Return how many items are answered so that they could be signed, of how many that ask for an answer."""
    asked = [one for one in judged if one.item["kind"] not in REGISTER_KINDS]
    left = set(wanted(judged)) | set(questions(picture, place, judged))
    return sum(1 for one in asked if one.item["key"] not in left), len(asked)


def drawn(
    picture: Picture,
    draft: Draft,
    one: Judged,
    judged: list[Judged],
    wrong: dict[str, str],
    tools: Tools | None = None,
    **more: Any,
) -> dict[str, Any]:
    """Return one item of a draft as its partial takes it. ``tools`` are wanted where the whole page is drawn."""
    key, place = one.item["key"], draft.place
    last, difference = last_of(picture, place, one)
    asked = questions(picture, place, [one]).get(key, "")
    # What is simply not answered yet is said only once somebody wanted to sign.
    need = "" if asked or one.answer.is_empty or one.question else wanted([one]).get(key, "")
    addresses = {sha: reverse("inspections:photo", args=[picture.course.pk, sha]) for sha in one.answer.photos}
    return shown(
        one,
        limit=limit_of(picture, place, one.item) if one.item["kind"] in TYPED_KINDS else "",
        last=last,
        difference=difference,
        ask=asked,
        need=wrong.get(key, "") if wrong.get(key, "") != asked else need,
        photos=tuple(addresses.values()),
        tool=(tools or Tools()).shown(picture.setup, one, draft.content.get(key, {}).get("gauge")),
        units=picture.course.units,
        **more,
    ) | {
        "photos_owed": [addresses[sha] for sha in following(picture.course.operator_id, addresses)],
        "out": out_of(picture, place, one),
    }


def out_of(picture: Picture, place: Place, one: Judged) -> str:
    """Return since when what an item looks at is out of service, in a sentence; whatever is answered of it today."""
    part = one.component.pk if one.component else None
    since = [
        found.opened_at
        for found in picture.open_findings(place)
        if found.out_of_service and (found.key == one.item["key"] or (part is not None and found.component_id == part))
    ]
    if not since:
        return ""
    time = time_of(min(since), picture.at, picture.course.zone)
    return _("Out of service since %(time)s, until it is released.") % {"time": time}


def last_of(picture: Picture, place: Place, one: Judged) -> tuple[str, str]:
    """Return (last figure with its day, difference to it): shown only after the new one was typed."""
    state = picture.states.get((place.pk, one.item["key"]))
    if state is None or not state.text:
        return "", ""
    last = f"{said(state.text.replace(',', '.'), one.item['unit'])} ({date_format(state.day_date, 'j M')})"
    try:
        difference = Decimal(one.value) - Decimal(state.value)
    except InvalidOperation:
        return last, ""
    return last, f"{difference:+f}"
