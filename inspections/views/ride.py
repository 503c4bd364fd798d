"""One test ride with ballast, nobody on the line."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, JsonResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.html import format_html, strip_tags
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from accounts import policy, proof
from accounts.keep import fill
from accounts.models import Role
from accounts.policy import Right
from accounts.receiving import is_sending, say_refused
from courses.access import place_for
from courses.models import Place
from inspections import actions
from inspections.actions.rides import judge_ride, lacking, ride_items
from inspections.actions.sheets import Incomplete, questions, wanted
from inspections.alone import ride_pattern
from inspections.authority import demand_authority
from inspections.control import compared_ballast
from inspections.control_words import said_of
from inspections.errors import Refused
from inspections.explain import sheet_address
from inspections.forms.items import answer_from, shown
from inspections.forms.ride import RideForm
from inspections.judging import TYPED_KINDS, Answer, Judged
from inspections.limit_text import limit_of
from inspections.measures import in_both, shown_travel
from inspections.models import Hold, Ride
from inspections.phone_rules import ride_rules
from inspections.photos import Unusable
from inspections.picture import Picture, picture_of
from inspections.riding import barred, checks_before, covered_weights, posted_weights, ride_row, still_short
from inspections.telling import disclosed, name
from inspections.views.frame import (
    frame,
    is_paper,
    picture_for,
    received,
    refused_page,
    walk_address,
    with_next,
)
from inspections.views.keeping import answer_of
from inspections.views.papers import paper_of
from inspections.ways import ways_of
from inspections.words import ride_meaning, section_label
from ledger.errors import AlreadyRecorded
from ledger.models import Entry


@require_http_methods(["GET", "HEAD", "POST"])
def ride(request: HttpRequest, course: UUID, line: UUID) -> HttpResponse:
    picture = picture_for(request, course, Right.INSPECT, at=timezone.now())
    one = place_for(request.user, picture.course, line, Right.INSPECT, at=picture.at)
    if (known := received(request, picture)) is not None:
        return known
    try:
        demand_authority(request.user, picture.course, picture.setup, one, "ride", picture.date)  # type: ignore[arg-type]
    except Refused as refused:
        return refused_page(request, picture, refused)
    answers = _answers(request, picture, one)
    if request.method == "POST" and request.POST.get("item"):
        return _judged(picture, one, answers, request.POST["item"])
    form = _form(request, picture, one, answers)
    if request.method == "POST" and "keep" not in request.POST:
        try:
            return _record(request, picture, one, form, answers)
        except Incomplete as incomplete:
            form = _form(request, picture, one, answers, wrong=incomplete.wanted)
        except Refused as refused:
            form.add_error(None, refused.sentence)
        except Unusable as unusable:
            form.add_error("paper_photo", unusable.sentence)
        if is_sending(request):
            say_refused(request, " ".join(strip_tags(str(one)) for found in form.errors.values() for one in found))
    return _page(request, picture, one, form)


def _answers(request: HttpRequest, picture: Picture, line: Place) -> dict[str, Answer]:
    """Return what was entered about the items, by key; after a log-in, what was entered before it ran out."""
    kept = getattr(request, "kept", None)
    posted: QueryDict = request.POST if request.method == "POST" else kept.fields if kept is not None else QueryDict()
    units = picture.course.units
    return {
        item["key"]: Answer.of(answer_from(posted, item, units)) for item in ride_items(picture, line)
    }  # fmt: skip


def _judged(picture: Picture, line: Place, answers: Mapping[str, Answer], key: str) -> HttpResponse:
    """Tell what an answer would mean. Nothing is kept: a ride is entered as a whole."""
    one = next((found for found in judge_ride(picture, line, answers) if found.item["key"] == key), None)
    if one is None:
        return JsonResponse({"item": {}, "gone": True}, status=422)
    saved = timezone.localtime(picture.at).strftime("%H:%M")
    return JsonResponse({"item": {key: answer_of(_drawn(picture, line, one))}, "saved": saved})


def _drawn(picture: Picture, line: Place, one: Judged, need: str = "") -> dict[str, Any]:
    asked = questions(picture, line, [one], at_signing=True).get(one.item["key"], "")
    if not need and not asked and not one.answer.is_empty:
        need = wanted([one], rack=True).get(one.item["key"], "") if one.question is None else ""
    return shown(
        one,
        limit=limit_of(picture, line, one.item) if one.item["kind"] in TYPED_KINDS else "",
        ask=asked,
        need="" if asked else need,
        withdraw=False,
        keeps=False,
        units=picture.course.units,
    )


def _form(
    request: HttpRequest, picture: Picture, line: Place, answers: Mapping[str, Answer], *,
    wrong: Mapping[str, str] | None = None,
) -> RideForm:  # fmt: skip
    items = [
        _drawn(picture, line, one, (wrong or {}).get(one.item["key"], ""))
        for one in judge_ride(picture, line, answers)
    ]  # fmt: skip
    paper = ""
    if request.method == "POST" and is_paper(request):
        try:
            paper = paper_of(request, picture.course, deed=proof.deed(request, at=picture.at))
        except Unusable:
            paper = ""
    form = RideForm(
        request.POST if request.method == "POST" else None, request.FILES or None,
        items=items, units=picture.course.units,
        autosave=request.get_full_path(), paper=is_paper(request), kept_paper=paper,
        keep=f"{getattr(request.user, 'ref', '')}:{line.pk}:{picture.date}:{'paper' if is_paper(request) else ''}",
        asks_wind="wind_again" in (wrong or {}) or bool(request.POST.get("wind_again")),
    )  # fmt: skip
    fill(form, request)
    if wrong:
        form.full_clean()
        form.wrong(wrong)
    return form


def _record(
    request: HttpRequest, picture: Picture, line: Place, form: RideForm, answers: Mapping[str, Answer]
) -> HttpResponse:
    deed = proof.deed(request, at=picture.at)
    paper = paper_of(request, picture.course, deed=deed) if is_paper(request) else ""
    if is_paper(request) and not paper:
        wrong = {"paper_photo": _("Add the photo of the sheet of paper.")}
        raise Incomplete(lacking(picture, line, form.raw(), answers) | wrong)
    sense = ride_meaning(line, paper=is_paper(request))
    try:
        entry = actions.record_ride(
            picture, line, raw=form.raw(), answers=answers, meaning=sense, paper=paper, deed=deed
        )
        said = _say(request, picture, line, entry)
        ridden = picture_of(picture.course, at=picture.at, setup=picture.setup)
        messages.success(request, with_next(request, ridden, line, "ride", said))
    except AlreadyRecorded as known:
        messages.info(request, _("This was received already, as entry %(seq)s.") % {"seq": known.seq})
    return redirect(walk_address(request, picture))


def _say(request: HttpRequest, picture: Picture, line: Place, entry: Entry) -> str:
    """Return that a ride was received and how it went; what asks for a look is said by itself, as a warning."""
    received = _("Test ride received as entry %(seq)s.") % {"seq": entry.seq}
    told = said_of(entry.record["judged"].get("control", {}), picture.course.units)
    asking = " ".join(one.sentence for one in told if one.asks)
    calm = " ".join(one.sentence for one in told if not one.asks)
    link = (reverse("reports:rides", args=[picture.course.pk, line.pk]), _("Test rides as a chart"))
    if asking:
        messages.warning(request, format_html('{} <a href="{}">{}</a>', asking, *link))
        return f"{received} {calm}".strip()
    return format_html('{} {} <a href="{}">{}</a>', received, calm, *link) if calm else received


def _page(request: HttpRequest, picture: Picture, line: Place, form: RideForm) -> HttpResponse:
    rides = list(reversed(picture.rides_of(line)))
    names = disclosed(ride.signer_commit for ride in rides)
    units = picture.course.units
    short = still_short(picture, line)
    told = [told_ride(picture, one, names) | {"still_short": str(one.pk) in short} for one in rides]
    left = ride_row(picture, line)
    context = frame(request, picture, line=line) | {
        "line": line,
        "form": form,
        "posted": [(one, in_both(one.weight, "kg", units)) for one in posted_weights(picture, line)],
        "early": [
            {"title": section_label(one.name), "url": sheet_address(picture, line, one.name, inspects=True)}
            for one in checks_before(picture, line)
        ],
        "covered": [in_both(one, "kg", units) for one in covered_weights(picture, line)],
        "compared": [
            in_both(f"{kg:.1f}".removesuffix(".0"), "kg", units) for kg in compared_ballast(picture.setup, line)
        ],
        "newest": newest_told(rides, units),
        "today": [one for one in told if one["ride"].day.date == picture.date],
        "before": [one for one in told if one["ride"].day.date != picture.date],
        "blocked": [hold for hold in picture.holds_on(line) if hold.cause == Hold.Cause.PERSON],
        "barred": barred(picture, line),
        "row": {"ride": left, "weights": _(" and ").join(in_both(one, "kg", units) for one in left.due)},
        "meaning": ride_meaning(line, paper=is_paper(request)),
        "pattern": _pattern(request, picture, line),
        "ways": ways_of(picture.setup),
        "judge": ride_rules(picture, line),
        "people": _people(request, picture),
        "back_url": walk_address(request, picture),
    }
    return render(request, "inspections/ride.html", context)


def _pattern(request: HttpRequest, picture: Picture, line: Place) -> dict[str, Any] | None:
    """Return what lets a phone sign a ride alone; nothing from paper."""
    if is_paper(request):
        return None
    person: Any = request.user
    return ride_pattern(picture, line, ride_items(picture, line), meaning=ride_meaning(line), signer=person)


def told_ride(picture: Picture, ride: Ride, names: dict[str, str]) -> dict[str, Any]:
    """Return one ride as told on a page."""
    units = picture.course.units
    return {
        "ride": ride,
        "mass": in_both(ride.mass, "kg", units),
        "wind": in_both(ride.fields["wind_mps"], "m/s", units) if ride.fields.get("wind_mps") else "",
        "stroke": shown_travel(ride.stroke_used, ride.stroke_available, units),
        "who": name(names, ride.signer_commit),
        "is_emergency": ride.fields.get("kind") == "emergency",
        "is_short": ride.fields.get("reached") == "no",
        "said": said_of(ride.control, units),
    }


def _people(request: HttpRequest, picture: Picture) -> list[str]:
    """Return the names of the people who work here, to be offered where one names somebody."""
    return list(
        Role.objects.filter(policy.current(picture.at), operator_id=picture.course.operator_id)
        .exclude(user=request.user)  # type: ignore[misc]
        .values_list("user__name", flat=True)
        .distinct()
        .order_by("user__name")
    )


def newest_told(rides: Sequence[Ride], units: str) -> dict[str, Any] | None:
    """Return the newest ride of which something is told for the charts, in words; ``rides`` are newest first."""
    for ride in rides:
        if said := said_of(ride.control, units):
            return {"ride": ride, "said": said}
    return None
