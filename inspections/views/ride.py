"""One test ride with ballast, nobody on the line."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from accounts import proof
from accounts.keep import fill
from accounts.policy import Right
from courses.access import course_for, place_for
from courses.models import Place
from inspections import actions
from inspections.actions.rides import judge_ride, ride_items
from inspections.actions.sheets import Incomplete
from inspections.errors import Refused
from inspections.forms.items import answer_from, shown
from inspections.forms.ride import RideForm
from inspections.judging import TYPED_KINDS, Answer
from inspections.limit_text import limit_of
from inspections.picture import Picture, picture_of
from inspections.telling import disclosed
from ledger.errors import AlreadyRecorded


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
            need=wrong.get(one.item["key"], ""),
            withdraw=False,
        )
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
