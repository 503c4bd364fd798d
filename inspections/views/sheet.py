"""A sheet: filled in one-handed, kept as one goes, judged at once, signed in one's own words."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal, InvalidOperation
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from accounts import policy, proof
from accounts.access import demand
from accounts.keep import fill
from accounts.policy import Right
from courses.access import course_for, place_for
from courses.calendar import local_day
from courses.models import Course, Place
from inspections import actions
from inspections.access import draft_for_person, sheet_for
from inspections.actions.drafts import versions_shown
from inspections.actions.sheets import Incomplete, judge_draft, meaning_of, questions, wanted
from inspections.authority import demand_authority
from inspections.errors import Refused
from inspections.forms.items import answer_from, shown
from inspections.forms.sheet import SheetForm
from inspections.judging import REGISTER_KINDS, TYPED_KINDS, Judged, title_of
from inspections.limit_text import limit_of
from inspections.models import Draft, Reading, Sheet
from inspections.photos import Unusable, store_photo
from inspections.picture import Picture, picture_of
from inspections.telling import disclosed, name
from inspections.views.asking import photos_of
from inspections.words import VERDICTS, section_label
from ledger.errors import AlreadyRecorded


@require_http_methods(["GET", "HEAD", "POST"])
def sheet(request: HttpRequest, course: UUID, place: UUID, section: str) -> HttpResponse:
    """Today's sheet of one section, as this person fills it in."""
    at = timezone.now()
    where = course_for(request.user, course, Right.INSPECT, at=at)
    timezone.activate(where.zone)
    spot = place_for(request.user, where, place, Right.INSPECT, at=at)
    picture = picture_of(where, at=at)
    paper = request.GET.get("paper") == "1"
    try:
        if request.method == "POST":
            draft = actions.draft_for(picture, spot, section, deed=proof.deed(request, at=at), from_paper=paper)
        else:
            draft = _own_draft(request, picture, spot, section, paper)
    except Refused as refused:
        return render(request, "inspections/refused.html", {"course": where, "sentence": refused.sentence}, status=200)
    draft.place = spot
    return _page(request, picture, draft, at)


@require_http_methods(["GET", "HEAD", "POST"])
def draft(request: HttpRequest, course: UUID, draft: UUID) -> HttpResponse:
    """A draft by its own address: a correction of a signed sheet."""
    at = timezone.now()
    where = course_for(request.user, course, Right.INSPECT, at=at)
    timezone.activate(where.zone)
    one = draft_for_person(request.user, where, draft, at=at)
    return _page(request, picture_of(where, at=at, on=one.date), one, at)


def _own_draft(request: HttpRequest, picture: Picture, place: Place, section: str, paper: bool) -> Draft:
    """Return the person's draft, or one that is not stored yet: looking at a sheet creates nothing."""
    person: Any = request.user
    found = next(
        (
            one
            for one in picture.drafts
            if (one.place_id, one.section, one.person_id, one.amends) == (place.pk, section, person.pk, None)
        ),
        None,
    )
    if found is not None:
        return found
    if picture.section(place, section) is None:
        raise Http404
    demand_authority(person, picture.course, picture.setup, place, section, picture.date)
    return Draft(
        course=picture.course,
        date=picture.date,
        place=place,
        section=section,
        person=person,
        from_paper=paper,
        started_at=picture.at,
        changed_at=picture.at,
        versions=versions_shown(picture, place),
    )


def _page(request: HttpRequest, picture: Picture, draft: Draft, at: datetime) -> HttpResponse:
    wrong: dict[str, str] = {}
    if request.method == "POST":
        single = request.POST.get("item", "")
        wrong = _keep(request, picture, draft, [single] if single else None, at)
        if single:
            return _answer(picture, draft, single, wrong)
        if "withdraw" in request.POST:
            return _to_withdraw(picture, draft, request.POST["withdraw"])
        if "sign" in request.POST and not wrong:
            try:
                return _sign(request, picture, draft, at)
            except Incomplete as incomplete:
                wrong = incomplete.wanted
            except (Refused, Unusable) as refused:
                messages.error(request, refused.sentence)
        elif not wrong:
            messages.success(request, _("Kept. Not signed yet."))
    return _shown(request, picture, draft, wrong)


def _judged(picture: Picture, draft: Draft) -> list[Judged]:
    return judge_draft(picture, draft, draft.place)


def _keep(request: HttpRequest, picture: Picture, draft: Draft, keys: list[str] | None, at: datetime) -> dict[str, str]:
    """Keep what was posted, per item; return what could not be kept, per item. A kept withdrawal counts at once."""
    wrong: dict[str, str] = {}
    items = {one.item["key"]: one.item for one in _judged(picture, draft)}
    deed = proof.deed(request, at=at)
    for key in keys if keys is not None else items:
        if key not in items:
            continue
        fields: dict[str, Any] = answer_from(request.POST, key, items[key]["kind"])
        try:
            new = photos_of(request, picture.course, deed, name=f"photo-{key}")
            if new:
                fields["photos"] = [*draft.content.get(key, {}).get("photos", []), *new]
        except Unusable as unusable:
            wrong[key] = unusable.sentence
        if request.POST.get("keep") == key:
            fields["kept"] = fields.get("text") or fields.get("mark") or ""
        if fields and fields != {k: draft.content.get(key, {}).get(k) for k in fields}:
            draft = _stored(draft, key, fields, at)
    if request.POST.get("keep"):
        _withdraw_kept(picture, draft, request.POST["keep"], deed)
    return wrong


def _stored(draft: Draft, key: str, fields: dict[str, Any], at: datetime) -> Draft:
    place = draft.place
    fresh = actions.keep_answer(draft, key, fields, at=at)
    draft.content = fresh.content
    draft.place = place
    return draft


def _withdraw_kept(picture: Picture, draft: Draft, key: str, deed: Any) -> None:
    judged = next((one for one in _judged(picture, draft) if one.item["key"] == key), None)
    if judged is None or judged.verdict != "withdraw":
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


def _answer(picture: Picture, draft: Draft, key: str, wrong: dict[str, str]) -> JsonResponse:
    """Answer the script that keeps a sheet as one goes."""
    judged = _judged(picture, draft)
    one = next((found for found in judged if found.item["key"] == key), None)
    if one is None:
        return JsonResponse({"item": {}, "gone": True}, status=422)
    drawn = _drawn(picture, draft, one, questions(picture, draft.place, judged), wrong)
    said = {
        "verdict": drawn.get("verdict", ""),
        "word": drawn.get("word", ""),
        "sentence": wrong.get(key) or drawn.get("sentence", ""),
        "limit": drawn.get("limit", ""),
        "last": drawn.get("last", ""),
        "difference": drawn.get("difference", ""),
        "ask": drawn.get("ask"),
    }
    done, of = _progress(picture, draft, judged)
    saved = timezone.localtime(draft.changed_at).strftime("%H:%M")
    return JsonResponse(
        {"item": {key: said}, "progress": {"done": done, "of": of}, "saved": saved}, status=422 if wrong else 200
    )


def _progress(picture: Picture, draft: Draft, judged: list[Judged]) -> tuple[int, int]:
    asked = [one for one in judged if one.item["kind"] not in REGISTER_KINDS]
    open_ = set(wanted(judged)) | set(questions(picture, draft.place, judged))
    return sum(1 for one in asked if one.item["key"] not in open_), len(asked)


def _drawn(picture: Picture, draft: Draft, one: Judged, asked: dict[str, str], wrong: dict[str, str]) -> dict[str, Any]:
    key = one.item["key"]
    last, difference = last_of(picture, draft.place, one)
    return shown(
        one,
        limit=limit_of(picture, draft.place, one.item) if one.item["kind"] in TYPED_KINDS else "",
        last=last,
        difference=difference,
        ask=asked.get(key, ""),
        missing=wrong.get(key, ""),
        photos=len(one.answer.photos),
    )


def last_of(picture: Picture, place: Place, one: Judged) -> tuple[str, str]:
    """Return (last figure with its day, difference to it): shown only after the new one was typed."""
    state = picture.states.get((place.pk, one.item["key"]))
    if state is None or not state.text:
        return "", ""
    last = f"{state.text} {one.item['unit'] if one.item['unit'] != 'count' else ''}".strip()
    last += f" ({date_format(state.day_date, 'j M')})"
    try:
        difference = Decimal(one.value) - Decimal(state.value)
    except InvalidOperation:
        return last, ""
    return last, f"{difference:+f}"


def _shown(request: HttpRequest, picture: Picture, draft: Draft, wrong: dict[str, str]) -> HttpResponse:
    _lay_kept_over(request, picture, draft)
    judged = _judged(picture, draft)
    asked = questions(picture, draft.place, judged)
    address = request.get_full_path()
    items = [_drawn(picture, draft, one, asked, wrong) for one in judged]
    form = fill(
        SheetForm(None, items=items, autosave=address, amends=bool(draft.amends), paper=draft.from_paper), request
    )
    done, of = _progress(picture, draft, judged)
    context = {
        "course": picture.course,
        "place": draft.place,
        "section": section_label(draft.section),
        "form": form,
        "done": done,
        "of": of,
        "meaning": meaning_of(draft.place, draft.section),
        "draft": draft,
        "date": draft.date,
        "summary": [
            (one.item["key"], one.item["text"], wrong[one.item["key"]]) for one in judged if one.item["key"] in wrong
        ],
        "other_wrong": [sentence for key, sentence in wrong.items() if key not in {one.item["key"] for one in judged}],
        "signed": [
            sheet for sheet in picture.sheets if sheet.place_id == draft.place_id and sheet.section == draft.section
        ],
        "cautions": list(dict.fromkeys(one.item["caution"] for one in judged if one.item.get("caution"))),
    }
    return render(request, "inspections/sheet.html", context)


def _lay_kept_over(request: HttpRequest, picture: Picture, draft: Draft) -> None:
    """Show again what was posted when the log-in had run out; it is kept in the draft with the next field."""
    kept = getattr(request, "kept", None)
    if kept is None:
        return
    for one in _judged(picture, draft):
        key = one.item["key"]
        draft.content[key] = {**draft.content.get(key, {}), **answer_from(kept.fields, key, one.item["kind"])}


def _sign(request: HttpRequest, picture: Picture, draft: Draft, at: datetime) -> HttpResponse:
    deed = proof.deed(request, at=at)
    paper = ""
    if draft.from_paper and request.FILES.get("paper_photo"):
        paper = store_photo(picture.course.operator, request.FILES["paper_photo"], deed=deed).sha256
    try:
        entry = actions.sign_sheet(
            draft,
            meaning=meaning_of(draft.place, draft.section),
            deed=deed,
            reason=request.POST.get("reason", ""),
            paper=paper,
        )
        messages.success(
            request,
            _("Signed: %(what)s. Received as entry %(seq)s.")
            % {"what": f"{draft.place}, {section_label(draft.section)}", "seq": entry.seq},
        )
    except AlreadyRecorded as known:
        messages.info(request, _("This was received already, as entry %(seq)s.") % {"seq": known.seq})
    return redirect("inspections:walk", course=picture.course.pk)


def _to_withdraw(picture: Picture, draft: Draft, key: str) -> HttpResponse:
    judged = next((one for one in _judged(picture, draft) if one.item["key"] == key), None)
    if judged is None:
        raise Http404
    component = judged.component.pk if judged.component else ""
    slot = judged.item["slot"] if judged.component else ""
    address = reverse("inspections:withdraw", args=[picture.course.pk])
    return redirect(f"{address}?place={draft.place_id}&slot={slot}&component={component}")


@require_safe
def signed(request: HttpRequest, course: UUID, sheet: UUID) -> HttpResponse:
    """A signed sheet with its readings as judged, and what corrected it."""
    at = timezone.now()
    where = _course_to_read(request, course, at)
    one = sheet_for(request.user, where, sheet, _reading_right(request, where, at), at=at)
    readings = list(Reading.objects.filter(sheet=one).select_related("component").order_by("position"))
    later = list(Sheet.objects.filter(amends=one).order_by("seq"))
    names = disclosed(
        [one.signer_commit, one.reason_commit, *(r.note_commit for r in readings), *(r.reason for r in readings)]
    )
    corrected: dict[str, Reading] = {}
    for amendment in later:
        corrected |= {r.key: r for r in Reading.objects.filter(sheet=amendment)}
    rows = [
        {
            "reading": r,
            "word": VERDICTS[r.verdict],
            "note": names.get(r.note_commit, "") or names.get(r.reason, ""),
            "now": corrected.get(r.key),
        }
        for r in readings
    ]
    context = {
        "course": where,
        "sheet": one,
        "rows": rows,
        "label": section_label(one.section),
        "who": name(names, one.signer_commit),
        "reason": names.get(one.reason_commit, ""),
        "later": later,
        "may_correct": Right.INSPECT in policy.rights_of(request.user, where.operator_id, at=at)
        and one.day.date == local_date(where, at),
    }
    return render(request, "inspections/signed.html", context)


def local_date(course: Course, at: datetime) -> date:
    """Return the course's day at an instant."""
    return local_day(at, course.zone, course.day_change_hour)


def _reading_right(request: HttpRequest, course: Course, at: datetime) -> Right:
    rights = policy.rights_of(request.user, course.operator_id, at=at)
    return Right.SEE if Right.SEE in rights else Right.READ_HISTORY


def _course_to_read(request: HttpRequest, course: UUID, at: datetime) -> Course:
    found = Course.objects.select_related("operator__log").filter(pk=course).first()
    if found is None:
        raise Http404
    demand(request.user, found.operator_id, _reading_right(request, found, at), at=at)
    timezone.activate(found.zone)
    return found


@require_POST
def correct(request: HttpRequest, course: UUID, sheet: UUID) -> HttpResponse:
    """Begin a correction of a signed sheet: a draft that starts from what was signed."""
    at = timezone.now()
    where = course_for(request.user, course, Right.INSPECT, at=at)
    one = sheet_for(request.user, where, sheet, Right.INSPECT, at=at)
    spot = place_for(request.user, where, one.place_id, Right.INSPECT, at=at)
    picture = picture_of(where, at=at, on=one.day.date)
    draft = actions.draft_for(picture, spot, one.section, deed=proof.deed(request, at=at), amends=one.pk)
    if not draft.content:
        for reading in Reading.objects.filter(sheet=one):
            answer = {
                "mark": reading.mark,
                "text": reading.text,
                "kept": reading.text or reading.mark,
                "photos": reading.photos,
            }
            draft = actions.keep_answer(draft, reading.key, answer, at=at)
    return redirect("inspections:draft", course=where.pk, draft=draft.pk)
