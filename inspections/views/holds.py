"""Holds and the closing of the day."""

from __future__ import annotations

from datetime import timedelta
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.utils.text import capfirst
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from accounts import policy, proof
from accounts.keep import fill
from accounts.policy import Right
from courses.access import course_for
from inspections import actions, lifting
from inspections.access import hold_for
from inspections.actions.closing import carried
from inspections.actions.holds import REPORTS
from inspections.alone import hold_pattern
from inspections.entries import said_apart
from inspections.facts import CLOSED
from inspections.forms import hold as forms
from inspections.models import Hold
from inspections.picture import picture_of
from inspections.reopening import reopening_of
from inspections.telling import disclosed, name
from inspections.views.asking import ask
from inspections.views.frame import next_address, signed_on
from ledger.models import Entry

asks = require_http_methods(["GET", "HEAD", "POST"])


@asks
def hold(request: HttpRequest, course: UUID) -> HttpResponse:
    """Hold a line or the whole course. Counts at once."""
    at = timezone.now()
    where = course_for(request.user, course, Right.REPORT, at=at)
    timezone.activate(where.zone)
    picture = picture_of(where, at=at, on=signed_on(request, where, at=at))
    board = reverse("inspections:board", args=[where.pk])
    back = next_address(request.POST, board)
    rights = policy.rights_of(request.user, where.operator_id, at=at)
    causes = Hold.Cause.values if Right.HOLD in rights else REPORTS
    initial = {"line": request.GET.get("line", ""), "cause": request.GET.get("cause", "")}
    form = fill(
        forms.HoldForm(request.POST or None, back=back, lines=picture.setup.lines, causes=causes, initial=initial),
        request,
    )

    def do(data: dict[str, Any]) -> str:
        line = next((one for one in picture.setup.lines if str(one.pk) == data["line"]), None)
        entry = actions.call_hold(
            picture, line, cause=data["cause"], text=data["text"], deed=proof.deed(request, at=at, id=data["deed_id"])
        )
        called = Hold.objects.filter(course=where, seq=entry.seq).first()
        if called is None or back != board:
            return back  # one tap on the walk leads back to the walk
        messages.warning(request, _("Held. Tell launch and landing by radio now, and enter here who confirmed."))
        return reverse("inspections:lift", args=[where.pk, called.pk])

    rules = reopening_of(picture.setup.reopening)
    lead = _("It counts at once. Then tell launch and landing by radio and enter who confirmed.")
    context = {
        "course": where,
        "title": _("Hold"),
        "lead": lead,
        "pattern": hold_pattern(picture, request.user),  # type: ignore[arg-type]
        "lifting": lifting.table(rules),
        "thunder": lifting.thunder_clock(picture.holds, rules) if Right.HOLD in rights else None,
    }
    return ask(request, form, do, back=back, template="inspections/hold.html", context=context)


@asks
def lift(request: HttpRequest, course: UUID, hold: UUID) -> HttpResponse:
    """The page of one hold: who was told where, what lifting needs, thunder again, and lifting it."""
    at = timezone.now()
    where = course_for(request.user, course, Right.SEE, at=at)
    timezone.activate(where.zone)
    one = hold_for(request.user, where, hold, Right.SEE if request.method != "POST" else Right.LIFT, at=at)
    back = reverse("inspections:board", args=[where.pk])
    picture = picture_of(where, at=at)
    rules = reopening_of(picture.setup.reopening)
    wait = rules.wait(one.cause)
    own = one.called_by_ref == getattr(request.user, "ref", "")
    form = fill(
        forms.LiftForm(
            request.POST or None,
            hold=one,
            look=one.cause in rules.look,
            own=own,
            untold=bool(lifting.not_told(one)),
            back=back,
        ),
        request,
    )
    names = disclosed([one.called_by_commit, one.note_commit])
    record = Entry.objects.get(log=where.operator.log_id, seq=one.seq).record

    def do(data: dict[str, Any]) -> str:
        actions.lift_hold(
            picture, one, given=form.given(), text=data["text"], deed=proof.deed(request, at=at, id=data["deed_id"])
        )
        messages.warning(
            request, _("Lifted. Tell launch and landing by radio; they go on only when both have answered.")
        )
        return back

    context = {
        "course": where,
        "hold": one,
        "title": capfirst(one.get_cause_display()),
        "minutes": wait // timedelta(minutes=1) if wait else None,
        "by": name(names, one.called_by_commit),
        "note": names.get(one.note_commit, "") if one.note_commit else "",
        "said_at": said_apart(record),
        "until": one.renewed_at + wait if wait else None,
        "told": lifting.told_of(one),
        "told_form": forms.ToldForm(back="", not_told=lifting.not_told(one)),
        "not_told": lifting.not_told(one),
        "needs": lifting.needs_of(one.cause, rules),
        "hanging": lifting.finding_of(one),
        "rights": policy.rights_of(request.user, where.operator_id, at=at),
        "thunder": lifting.thunder_clock([one], rules) if one.cause == "thunder" and not one.lifted_at else None,
        "waiting": bool(wait and at < one.renewed_at + wait),
    }
    return ask(request, form, do, back=back, template="inspections/lift.html", context=context)


@require_POST
def renew(request: HttpRequest, course: UUID, hold: UUID) -> HttpResponse:
    at = timezone.now()
    where = course_for(request.user, course, Right.SEE, at=at)
    one = hold_for(request.user, where, hold, Right.HOLD, at=at)
    back = reverse("inspections:lift", args=[where.pk, one.pk])
    form = forms.DeedForm(request.POST)
    picture = picture_of(where, at=at)

    def do(data: dict[str, Any]) -> str:
        actions.renew_hold(picture, one, deed=proof.deed(request, at=at, id=data["deed_id"]))
        return back

    return ask(request, form, do, back=back, context={"course": where, "title": one.get_cause_display()})


@require_POST
def tell(request: HttpRequest, course: UUID, hold: UUID) -> HttpResponse:
    at = timezone.now()
    where = course_for(request.user, course, Right.SEE, at=at)
    one = hold_for(request.user, where, hold, Right.HOLD, at=at)
    back = reverse("inspections:lift", args=[where.pk, one.pk])
    form = forms.ToldForm(request.POST, back=back)
    picture = picture_of(where, at=at)

    def do(data: dict[str, Any]) -> str:
        actions.tell_hold(
            picture, one, where=data["where"], text=data["text"], deed=proof.deed(request, at=at, id=data["deed_id"])
        )
        return back

    return ask(request, form, do, back=back, context={"course": where, "title": _("Told by radio")})


@asks
def close(request: HttpRequest, course: UUID) -> HttpResponse:
    at = timezone.now()
    where = course_for(request.user, course, Right.CLOSE, at=at)
    timezone.activate(where.zone)
    picture = picture_of(where, at=at)
    back = reverse("inspections:board", args=[where.pk])
    before = picture.closing.riders if picture.closing else None
    lines = carried(picture)
    signed = picture.sign_off.lines if picture.sign_off else {}
    shut = [line for line in lines if signed.get(str(line.pk), {}).get("decision") == CLOSED]
    form = fill(forms.ClosingForm(request.POST or None, lines=lines, shut=shut, before=before, back=back), request)

    def do(data: dict[str, Any]) -> str:
        actions.close_day(
            picture, riders=form.riders(), text=data["text"], deed=proof.deed(request, at=at, id=data["deed_id"])
        )
        return back

    lead = _(
        "Riders of every line that was open at any time today: they are the cycles of what is fitted there. Leave a "
        "line empty if nobody counted on it: its cycles then fall behind. Closing closes every line that is open."
    )
    standing = [one for one in picture.holds if one.lifted_at is None]
    context = {"course": where, "title": _("Close the day"), "lead": lead, "standing": standing}
    return ask(request, form, do, back=back, context=context)
