"""Holds during the day: called by anybody who sees the reason, lifted by the rule of its cause."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import timedelta
from decimal import Decimal
from fractions import Fraction
from typing import Any
from uuid import uuid5

from django.db import transaction
from django.utils.translation import gettext as _

from accounts import policy
from accounts.deeds import Deed, note
from accounts.policy import Right
from courses.models import Place
from engineering import typed
from engineering.exact import shown
from inspections.entering import begin, day_for_deed, enter
from inspections.errors import Refused
from inspections.models import Finding, Hold, Ride
from inspections.picture import Picture
from inspections.reopening import reopening_of
from ledger.actions import as_text
from ledger.models import Entry

COURSE_WIDE = frozenset({"gust", "thunder", "storm", "ice", "wet"})
OF_A_COURSE = frozenset({"authority", "injury", "other"})  # may hold all lines as well as one
REPORTS = frozenset({"hard_stop", "short_stop", "emergency_brake", "not_reset", "stuck", "object", "person"})
NEEDS_FINDING = {"hard_stop": _("Hard stop"), "emergency_brake": _("Emergency brake engaged: cable at that spot")}
MANAGER_ONLY = frozenset({"injury", "authority"})
PERSON_TICKS = ("seen", "counted", "radio")


@transaction.atomic
def call_hold(
    picture: Picture, line: Place | None, *, cause: str, text: str = "", photos: tuple[str, ...] = (), deed: Deed
) -> Entry:
    """Hold a line, or the whole course where ``line`` is None. Counts at once.

    A strike or an engaged emergency brake also opens a critical finding: the spot is inspected and released.
    """
    course = picture.course
    rights = policy.rights_of(deed.by, course.operator_id, at=deed.at)
    if Right.HOLD not in rights and not (Right.REPORT in rights and cause in REPORTS):
        raise Refused("no-right", _("Your role at this operator does not include this."))
    if cause not in Hold.Cause.values:
        raise Refused("no-such-cause", _("Choose the cause."))
    if cause in COURSE_WIDE:
        line = None
    elif line is None and cause not in OF_A_COURSE:
        raise Refused("line-needed", _("Choose the line."))
    begin(course, deed)
    same = Hold.objects.filter(course=course, place=line, cause=cause, lifted_at__isnull=True).first()
    # Who called it without a signal knew nothing of the other: a second hold stands beside it until both are lifted.
    # What they saw may be two things: lifted is only the one that somebody looked at.
    beside = cause == "person" or (deed.signing is not None and deed.signing.alone)
    if same is not None and cause in COURSE_WIDE and not beside:
        return enter(course, "hold-renewed", {"hold": str(same.pk), "date": picture.date.isoformat()}, deed=deed)
    if same is not None and not beside:
        raise Refused("held-already", _("This is held for that cause already."))
    day = day_for_deed(course, picture.date, opens_at=picture.opens_at, deed=deed)
    judged: dict[str, Any] = {}
    if cause in NEEDS_FINDING and line is not None:
        judged["findings"] = [
            {
                "id": str(uuid5(deed.id, "finding")),
                "severity": "critical",
                "title": NEEDS_FINDING[cause],
                "slot": "emergency" if cause == "emergency_brake" else "",
                "needs_ride": cause == "emergency_brake",
            }
        ]
        judged["findings"] = [{n: v for n, v in found.items() if v} for found in judged["findings"]]
    if cause in reopening_of(picture.setup.reopening).ride:
        # One that was called alone yesterday takes away what was ridden this morning too: nobody knew of it then.
        lines = Ride.objects.filter(day__course=course, day__date__gte=picture.date, voided_by=None)
        judged["voids"] = [str(ride.pk) for ride in (lines.filter(place=line) if line else lines)]
    body = {
        "day": str(day.pk),
        "date": picture.date.isoformat(),
        "place": str(line.pk) if line else "",
        "cause": cause,
        "note": note(course.operator.log, text),
        "photos": list(photos),
    }
    return enter(course, "hold", body, deed=deed, judged={n: v for n, v in judged.items() if v} or None)


@transaction.atomic
def renew_hold(picture: Picture, hold: Hold, *, deed: Deed) -> Entry:
    """Thunder again, a gust again: the clock starts anew."""
    _demand(picture, deed, Right.HOLD)
    hold = _open(picture, hold, deed)
    return enter(picture.course, "hold-renewed", {"hold": str(hold.pk), "date": picture.date.isoformat()}, deed=deed)


@transaction.atomic
def tell_hold(picture: Picture, hold: Hold, *, where: str, text: str, deed: Deed) -> Entry:
    """Enter who confirmed the hold by radio at the launch or at the landing."""
    _demand(picture, deed, Right.HOLD)
    hold = _open(picture, hold, deed)
    if where not in {"launch", "landing"} or not text.strip():
        raise Refused("who-needed", _("Say who confirmed by radio."))
    told = {**hold.told, where: note(picture.course.operator.log, text), f"{where}_at": as_text(deed.said_at)}
    return enter(
        picture.course, "hold-told", {"hold": str(hold.pk), "date": picture.date.isoformat(), "told": told}, deed=deed
    )


@transaction.atomic
def lift_hold(picture: Picture, hold: Hold, *, given: Mapping[str, str], text: str = "", deed: Deed) -> Entry:
    """Lift a hold by the rule of its cause. ``given`` are the confirmations and readings that the rule asks for.

    What they are is in ``inspections.reopening``: a floor, and what the course's engineer demands beyond it.
    """
    _demand(picture, deed, Right.LIFT)
    hold = _open(picture, hold, deed)
    rights = policy.rights_of(deed.by, picture.course.operator_id, at=deed.at)
    detail: dict[str, str] = {}
    if hold.cause in MANAGER_ONLY:
        if Right.SIGN_OFF not in rights:
            raise Refused("manager-needed", _("Only a manager lifts this, on the authority's word."))
        detail["authority"] = note(picture.course.operator.log, given.get("authority", ""))
        if not detail["authority"]:
            raise Refused("authority-needed", _("Name who allowed it and how."))
    rules = reopening_of(picture.setup.reopening)
    wait = rules.wait(hold.cause)
    if wait is not None and deed.at - hold.renewed_at < wait:
        minutes = {"minutes": wait // timedelta(minutes=1)}
        if hold.cause == "thunder":
            raise Refused("too-soon", _("%(minutes)s minutes after the last thunder, not before.") % minutes)
        raise Refused("too-soon", _("The wind must be below the limit for %(minutes)s minutes.") % minutes)
    if hold.cause == "gust":
        detail |= _calm(picture, given)
    if hold.cause in rules.look:
        if given.get("looked") != "yes":
            raise Refused("look-needed", _("Confirm that you looked along every line concerned and found it clear."))
        detail["looked"] = "yes"
    if hold.cause == "person" and deed.by.ref != hold.called_by_ref:
        if not all(given.get(tick) == "yes" for tick in PERSON_TICKS):
            raise Refused(
                "person-ticks",
                _("The person who called this lifts it. For somebody else all three confirmations are needed."),
            )
        detail |= dict.fromkeys(PERSON_TICKS, "yes")
    if given.get("untold") == "yes":
        detail["untold"] = "yes"
    if (
        hold.cause in NEEDS_FINDING
        and Finding.objects.filter(seq=hold.seq, course=picture.course, state="open").exists()
    ):
        raise Refused("finding-open", _("The finding that came with this hold is not released yet."))
    return enter(
        picture.course,
        "hold-lifted",
        {
            "hold": str(hold.pk),
            "date": picture.date.isoformat(),
            "detail": detail,
            "note": note(picture.course.operator.log, text),
        },
        deed=deed,
    )


def _calm(picture: Picture, given: Mapping[str, str]) -> dict[str, str]:
    try:
        figure = typed.read_figure(given.get("wind", ""), "m/s")
    except typed.Unclear as question:
        raise Refused("unclear", question.sentence) from None
    limits = [
        Decimal(value)
        for line in picture.setup.lines
        for value in picture.setup.document(line).get("wind", {}).values()
        if value and value.replace(".", "", 1).isdigit()
    ]
    if limits and figure.value > Fraction(min(limits)):
        raise Refused(
            "still-windy",
            _("%(wind)s m/s is above the lowest limit on the course, %(limit)s m/s.")
            % {"wind": given.get("wind", ""), "limit": min(limits)},
        )
    return {"wind": given.get("wind", ""), "wind_mps": shown(figure.value, most=6)}


def _demand(picture: Picture, deed: Deed, right: Right) -> None:
    from accounts.deeds import demand

    demand(deed, picture.course.operator_id, right)


def _open(picture: Picture, hold: Hold, deed: Deed) -> Hold:
    begin(picture.course, deed)
    hold = Hold.objects.get(pk=hold.pk)
    if hold.lifted_at is not None:
        raise Refused("lifted", _("This hold was lifted already."))
    return hold
