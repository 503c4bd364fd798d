"""The end of the day: riders per line, from which the cycles of the fitted components are counted."""

from __future__ import annotations

from django.db import transaction
from django.utils.translation import gettext as _

from accounts.deeds import Deed, demand, note
from accounts.policy import Right
from courses.models import Course, Place
from inspections.entering import begin, day_for_deed, enter
from inspections.errors import Refused
from inspections.facts import OPEN
from inspections.picture import Picture
from ledger.models import Entry

MOST_RIDERS = 5000


def carried(picture: Picture) -> list[Place]:
    """Return the lines that may have carried riders today: every line that any signature of the day opened.

    A line that was closed again counts, and so does one retired since. Where nothing was opened, all lines are asked.
    """
    opened = {key for one in picture.sign_offs for key, decided in one.lines.items() if decided.get("decision") == OPEN}
    opened |= set(picture.closing.riders) if picture.closing else set()
    lines = list(Place.objects.lines().filter(course=picture.course).order_by("number"))
    return [line for line in lines if str(line.pk) in opened] if opened else list(picture.setup.lines)


@transaction.atomic
def close_day(picture: Picture, *, riders: dict[str, int], text: str = "", deed: Deed) -> Entry:
    """Close the day with the riders counted per line. A line without a count is left out, never taken as none.

    Closing again corrects the counts; both stay in the history.
    """
    course: Course = picture.course
    demand(deed, course.operator_id, Right.CLOSE)
    begin(course, deed)
    known = {str(line.pk) for line in Place.objects.lines().filter(course=course)}
    for line, count in riders.items():
        if line not in known:
            raise Refused("no-such-line", _("This line is not on the course."))
        if not 0 <= count <= MOST_RIDERS:
            raise Refused("riders-absurd", _("%(count)s riders on one line in a day cannot be.") % {"count": count})
    day = day_for_deed(course, picture.date, opens_at=picture.opens_at, deed=deed)
    return enter(
        course,
        "closing",
        {
            "day": str(day.pk),
            "date": picture.date.isoformat(),
            "riders": riders,
            "note": note(course.operator.log, text),
        },
        deed=deed,
    )
