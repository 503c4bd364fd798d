"""A link by which somebody without an account reads one day: signed, dated, for an inspector at the gate.

The link is all there is to it: who holds it may read that day's sheets until it ends. It names course, day and end, and
carries the server's signature over them, so that nobody can make one for another day or prolong it. That it was given,
by whom, for what and until when, stands in the record.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from uuid import UUID

from django.core import signing
from django.db import transaction
from django.utils.dateparse import parse_datetime
from django.utils.translation import gettext as _

from accounts.deeds import Deed, demand, note, record
from accounts.errors import Refused
from accounts.policy import Right
from courses.models import Course
from inspections.entering import begin
from inspections.models import Paper
from ledger.actions import as_text

LONGEST_DAYS = 14
_SALT = "reports.day-link"


@dataclass(frozen=True)
class DayLink:
    """What a link opens: one day of one course, until an instant."""

    course: UUID
    on: date
    until: datetime


@transaction.atomic
def give_link(course: Course, on: date, *, days: int, whom: str, deed: Deed) -> str:
    """Enter that a day is shown to somebody without an account, and return what goes into the link.

    Raises Refused where nobody is named, the time is longer than a fortnight, or the day has no day sheet;
    AlreadyRecorded where the deed was received before.
    """
    demand(deed, course.operator_id, Right.SIGN_OFF)
    begin(course, deed)
    if not 1 <= days <= LONGEST_DAYS:
        raise Refused("link-days", _("A link lasts between 1 and %(most)s days.") % {"most": LONGEST_DAYS})
    if not whom.strip():
        raise Refused("link-whom", _("Say for whom the link is."))
    if not sheets_of(course, on):
        raise Refused("link-empty", _("This day has no day sheet yet."))
    until = deed.at.replace(microsecond=0) + timedelta(days=days)
    body = {
        "course": str(course.pk),
        "date": on.isoformat(),
        "until": as_text(until),
        "whom": note(course.operator.log, whom),
    }
    record(course.operator, "day-link", body, deed=deed, begun=True)
    return signing.dumps({"c": str(course.pk), "d": on.isoformat(), "u": until.isoformat()}, salt=_SALT)


def read_link(text: str, *, at: datetime) -> DayLink | None:
    """Return what a link opens; None where it was not made here, was altered, or has ended."""
    try:
        found = signing.loads(text, salt=_SALT)
    except signing.BadSignature:
        return None
    until = parse_datetime(found["u"])
    if until is None or until <= at:
        return None
    return DayLink(UUID(found["c"]), date.fromisoformat(found["d"]), until)


def sheets_of(course: Course, on: date) -> list[Paper]:
    """Return the day's sheets, the newest revision first."""
    return list(
        Paper.objects.filter(course=course, kind=Paper.Kind.DAY_SHEET, sign_off__day__date=on)
        .select_related("sign_off__day", "course")
        .order_by("-seq")
    )
