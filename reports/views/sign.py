"""The manager signs the day: open or closed for every line, with the password in the same request."""

from __future__ import annotations

import logging
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from accounts import policy, proof
from accounts.deeds import Deed
from accounts.errors import Refused
from accounts.keep import fill
from accounts.policy import Right
from courses.access import course_for
from courses.models import Course
from inspections import actions
from inspections.actions.signing import NotReady
from inspections.models import SignOff
from inspections.owing import lacking
from inspections.phone_words import photos_of, told
from inspections.phones import SHOWN, to_ask
from inspections.picture import Picture, picture_of
from inspections.stops import is_walked
from inspections.views.board import wind_of
from ledger.actions import recorded
from ledger.errors import AlreadyRecorded
from reports.actions import issue_papers
from reports.forms import WIND_TOLD, SignForm, field_name
from reports.signing import line_rows, meaning, signers, unsigned, watches, wind_age

log = logging.getLogger(__name__)


@sensitive_post_parameters("password")
@require_http_methods(["GET", "HEAD", "POST"])
def sign(request: HttpRequest, course: UUID) -> HttpResponse:
    at = timezone.now()
    where = course_for(request.user, course, Right.SIGN_OFF, at=at)
    timezone.activate(where.zone)
    picture = picture_of(where, at=at)
    form = fill(_form(request, picture), request)
    if request.method == "POST":
        deed_id = proof.deed_id_of(request)
        if recorded(where.operator.log, deed_id) is not None:
            return received(request, where, picture.date)
        if form.is_valid() and (done := _sign(request, where, form, at, deed_id)) is not None:
            return done
        picture = picture_of(where, at=at)  # somebody may have signed, or something may have come up, in the meantime
    return render(request, "reports/sign.html", _context(request, picture, form))


def _form(request: HttpRequest, picture: Picture) -> SignForm:
    lines = picture.setup.lines
    before = picture.sign_off.lines if picture.sign_off else {}
    chosen = {key: decided.get("decision", "") for key, decided in before.items()}
    revision = picture.sign_off.revision if picture.sign_off else 0
    return SignForm(
        request.POST if request.method == "POST" else None,
        lines=lines,
        chosen=chosen,
        revision=revision,
        wind_old=wind_age(picture) is not None,
    )


def _sign(request: HttpRequest, course: Course, form: SignForm, at: datetime, deed_id: UUID) -> HttpResponse | None:
    """Sign, draw the papers and go to the day; None where it was refused, which then stands in the form."""
    data = form.cleaned_data
    try:
        deed = proof.deed_with_password(request, data["password"], at=at, id=deed_id)
        entry = actions.sign_off(
            course,
            decisions=form.decisions(),
            meaning=meaning(),
            seen_revision=data["seen_revision"],
            asked=form.asked_after(),
            wind_told=str(WIND_TOLD) if data.get("wind_told") else "",
            deed=deed,
        )
    except NotReady as held:
        for line in form.lines:
            if str(line.pk) in held.lines:
                form.add_error(field_name(line), " ".join([_("It cannot be opened."), *held.lines[str(line.pk)]]))
        return None
    except Refused as refused:
        form.refuse(refused)
        return None
    except AlreadyRecorded:
        return received(request, course, picture_of(course, at=at).date)
    signed = SignOff.objects.select_related("day__course__operator__log").get(day__course=course, seq=entry.seq)
    draw_papers(request, signed, deed)
    messages.success(request, _("The day is signed, as entry %(seq)s.") % {"seq": entry.seq})
    return redirect("reports:day", course=course.pk, on=signed.day.date)


def draw_papers(request: HttpRequest, signed: SignOff, deed: Deed) -> None:
    # The signature stands in the history by now. A paper that cannot be drawn is said, and drawn later by the command.
    try:
        issue_papers(signed, deed=deed)
    except Exception:
        log.exception("The papers of %s were not drawn.", signed.pk)
        messages.error(
            request, _("Signed, but the day sheet could not be drawn. It is drawn later from the same signature.")
        )


def received(request: HttpRequest, course: Course, on: date) -> HttpResponse:
    messages.info(request, _("This signature was received already."))
    return redirect("reports:day", course=course.pk, on=on)


def _context(request: HttpRequest, picture: Picture, form: SignForm) -> dict[str, Any]:
    user: Any = request.user
    inspects = Right.INSPECT in policy.rights_of(user, picture.course.operator_id, at=picture.at)
    rows = [
        {"row": row, "field": form[field_name(row.line)], "value": form[field_name(row.line)].value()}
        for row in line_rows(picture, user.ref, inspects=inspects)
    ]
    missing = list(unsigned(picture, inspects=inspects))
    asked = to_ask(picture.phones, picture.date, picture.at, walked=is_walked(picture))
    shown = " ".join(sorted(asked))
    form.show(shown)
    return {
        "course": picture.course,
        "picture": picture,
        "form": form,
        "rows": rows,
        "date": picture.date,
        "revision": picture.sign_off.revision if picture.sign_off else 0,
        "sign_off": picture.sign_off,
        "operating": picture.operating,
        "opens_at": picture.opens_at,
        "meaning": meaning(),
        "watches": watches(picture),
        "signers": signers(picture),
        "wind": wind_of(picture),
        "wind_age": wind_age(picture),
        "now": picture.at,
        "phones": told(picture),
        "photos": photos_of(lacking(picture.course, since=picture.at - SHOWN)),
        "shown": shown,
        "missing": missing,
        "ready": sum(1 for one in rows if one["row"].may_open),
        "back": reverse("inspections:board", args=[picture.course.pk]),
    }
