"""The walk: today's sheets in the order in which one comes past them, the racks, and the test rides."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import FileResponse, Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from accounts import policy, proof
from accounts.keep import fill
from accounts.policy import Right
from courses.access import course_for, place_for
from courses.actions.files import path_of
from courses.models import Course, Place, StoredFile
from inspections import actions
from inspections.actions.rides import judge_ride, ride_items
from inspections.actions.sheets import Incomplete, meaning_of
from inspections.errors import Refused
from inspections.explain import reasons_of, state_of
from inspections.facts import line_statuses
from inspections.forms.items import answer_from, shown
from inspections.forms.sheet import RackForm, RideForm
from inspections.judging import TYPED_KINDS, Answer
from inspections.limit_text import limit_of
from inspections.picture import RACK, Picture, Section, picture_of
from inspections.telling import disclosed, name
from inspections.views.asking import ask, photos_of
from inspections.views.board import band_of
from inspections.words import section_label
from ledger.errors import AlreadyRecorded


@require_safe
def walk(request: HttpRequest, course: UUID) -> HttpResponse:
    at = timezone.now()
    where = course_for(request.user, course, Right.SEE, at=at)
    timezone.activate(where.zone)
    picture = picture_of(where, at=at)
    names = disclosed(sheet.signer_commit for sheet in picture.sheets)
    stops = [stop for stop in _stops(picture) if stop[1]]
    groups = [
        (title, [_row(picture, section, request.user, names) for section in sections]) for title, sections in stops
    ]
    rides = [_ride_row(picture, line) for line in picture.setup.lines]
    rows = [row for _title, found in groups for row in found]
    context = {
        "course": where,
        "groups": groups,
        "rides": rides,
        "date": picture.date,
        "operating": picture.operating,
        "done": sum(1 for row in [*rows, *rides] if row["signed"]),
        "of": len(rows) + len(rides),
        "rights": policy.rights_of(request.user, where.operator_id, at=at),
    }
    return render(request, "inspections/walk.html", context)


def _stops(picture: Picture) -> list[tuple[str, list[Section]]]:
    """Return the places as one walks: the house, each platform with what can be reached from it, the store."""
    setup = picture.setup
    by_line = {line.pk: picture.sections(line) for line in setup.lines}
    found = [(str(house), picture.sections(house)) for house in setup.houses]
    for platform in setup.platforms:
        here = list(picture.sections(platform))
        for line in setup.lines:
            here += [s for s in by_line[line.pk] if line.landing_id == platform.pk and s.name == "landing"]
        for line in setup.lines:
            here += [s for s in by_line[line.pk] if line.launch_id == platform.pk and s.name != "landing"]
        found.append((str(platform), here))
    return found + [(str(store), picture.sections(store)) for store in setup.stores]


def _row(picture: Picture, section: Section, user: Any, names: dict[str, str]) -> dict[str, Any]:
    sheet = section.signed
    draft = next(
        (
            d
            for d in picture.drafts
            if d.place_id == section.place.pk and d.section == section.name and d.person_id == user.pk
        ),
        None,
    )
    page = "inspections:rack" if section.is_rack else "inspections:sheet"
    slot = section.name.removeprefix(RACK)
    address = reverse(page, args=[picture.course.pk, section.place.pk, slot if section.is_rack else section.name])
    title = section_label(section.name)
    if section.place.kind == Place.Kind.LINE:
        title = _("Line %(number)s: %(section)s") % {"number": section.place.number, "section": title}
    return {
        "title": title,
        "url": address,
        "signed": sheet,
        "who": name(names, sheet.signer_commit) if sheet else "",
        "state": sheet.verdict if sheet else "unknown",
        "count": len(section.items),
        "started": bool(draft and draft.content),
        "again": len(section.sheets),
        "sheet_url": reverse("inspections:signed", args=[picture.course.pk, sheet.pk]) if sheet else "",
    }


def _ride_row(picture: Picture, line: Place) -> dict[str, Any]:
    today = [ride for ride in picture.rides_of(line) if ride.day.date == picture.date]
    good = [ride for ride in today if ride.voided_by is None and ride.fields.get("kind") != "emergency"]
    return {
        "title": str(line),
        "url": reverse("inspections:ride", args=[picture.course.pk, line.pk]),
        "signed": bool(good),
        "state": good[-1].verdict if good else "unknown",
        "masses": ", ".join(ride.mass for ride in good),
        "voided": len(today) > len(good),
    }


@require_safe
def line(request: HttpRequest, course: UUID, line: UUID) -> HttpResponse:
    """One line today: why it is open or held, its sheets, its test rides."""
    at = timezone.now()
    where = course_for(request.user, course, Right.SEE, at=at)
    timezone.activate(where.zone)
    one = place_for(request.user, where, line, Right.SEE, at=at)
    picture = picture_of(where, at=at)
    status = next((status for status in line_statuses(picture) if status.line.pk == one.pk), None)
    if status is None:
        raise Http404
    names = disclosed(sheet.signer_commit for sheet in picture.sheets)
    context = {
        "course": where,
        "line": one,
        "state": state_of(status),
        "reasons": reasons_of(picture, status),
        "band": band_of(status.clearance.limits) if status.clearance.is_ready else "",
        "winds": status.facts.wind_limits,
        "rows": [_row(picture, section, request.user, names) for section in picture.sections(one)],
        "rides": list(reversed(picture.rides_of(one))),
        "document": picture.setup.document(one),
        "findings": picture.open_findings(one),
        "rights": policy.rights_of(request.user, where.operator_id, at=at),
        "date": picture.date,
    }
    return render(request, "inspections/line.html", context)


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


@require_http_methods(["GET", "HEAD", "POST"])
def ride(request: HttpRequest, course: UUID, line: UUID) -> HttpResponse:
    """One test ride with ballast, nobody on the line."""
    at = timezone.now()
    where = course_for(request.user, course, Right.INSPECT, at=at)
    timezone.activate(where.zone)
    one = place_for(request.user, where, line, Right.INSPECT, at=at)
    picture = picture_of(where, at=at)
    kept = getattr(request, "kept", None)
    posted = request.POST if request.method == "POST" else kept.fields if kept is not None else None
    answers = _ride_answers(posted, picture, one) if posted is not None else {}
    wrong: dict[str, str] = {}
    form = RideForm(request.POST or None, request.FILES or None, items=[])
    if request.method == "POST" and form.is_valid():
        try:
            return _record_ride(request, picture, one, form, answers, at)
        except Incomplete as incomplete:
            wrong = incomplete.wanted
        except Refused as refused:
            messages.error(request, refused.sentence)
    return _ride_page(request, picture, one, answers, wrong)


def _ride_answers(posted: QueryDict, picture: Picture, line: Place) -> dict[str, Answer]:
    return {
        item["key"]: Answer.of(answer_from(posted, item["key"], item["kind"])) for item in ride_items(picture, line)
    }


def _record_ride(
    request: HttpRequest, picture: Picture, line: Place, form: RideForm, answers: dict[str, Answer], at: datetime
) -> HttpResponse:
    try:
        entry = actions.record_ride(
            picture,
            line,
            raw=form.raw(),
            answers=answers,
            deed=proof.deed(request, at=at, id=form.cleaned_data["deed_id"]),
        )
        messages.success(request, _("Test ride received as entry %(seq)s.") % {"seq": entry.seq})
    except AlreadyRecorded as known:
        messages.info(request, _("This was received already, as entry %(seq)s.") % {"seq": known.seq})
    return redirect("inspections:walk", course=picture.course.pk)


def _ride_page(
    request: HttpRequest, picture: Picture, line: Place, answers: dict[str, Answer], wrong: dict[str, str]
) -> HttpResponse:
    judged = judge_ride(picture, line, answers)
    items = [
        shown(
            one,
            limit=limit_of(picture, line, one.item) if one.item["kind"] in TYPED_KINDS else "",
            missing=wrong.get(one.item["key"], ""),
        )
        | {"photo_name": "", "withdraw_value": ""}
        for one in judged
    ]
    form = fill(RideForm(request.POST or None, items=items), request)
    if wrong and form.is_bound:
        form.is_valid()
        for field, sentence in wrong.items():
            form.add_error(field if field in form.fields else None, sentence)
    rides = list(reversed(picture.rides_of(line)))
    context = {
        "course": picture.course,
        "line": line,
        "form": form,
        "rides": rides,
        "document": picture.setup.document(line),
        "date": picture.date,
        "blocked": [hold for hold in picture.holds_on(line) if hold.cause == "person"],
        "names": disclosed(r.signer_commit for r in rides),
    }
    return render(request, "inspections/ride.html", context)


@require_safe
def photo(request: HttpRequest, course: UUID, sha256: str) -> FileResponse:
    """Serve a photo by its hash to whoever may see the course."""
    at = timezone.now()
    found = Course.objects.filter(pk=course).first()
    if found is None:
        raise Http404
    rights = policy.rights_of(request.user, found.operator_id, at=at)
    where = course_for(request.user, course, Right.SEE if Right.SEE in rights else Right.READ_HISTORY, at=at)
    stored = StoredFile.objects.filter(operator=where.operator_id, sha256=sha256, kind=StoredFile.Kind.PHOTO).first()
    path = path_of(where.operator_id, sha256)
    if stored is None or not path.exists():
        raise Http404
    response = FileResponse(path.open("rb"), content_type="image/jpeg")
    response["Cache-Control"] = "private, max-age=31536000, immutable"
    response["X-Content-Type-Options"] = "nosniff"
    return response
