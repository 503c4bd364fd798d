"""The end of the day: riders per line, from which the cycles of the fitted components are counted."""

from __future__ import annotations

from django.db import transaction
from django.utils.translation import gettext as _

from accounts.deeds import Deed, demand, note
from accounts.policy import Right
from courses.models import Course, Place
from inspections.entering import begin, day_for_deed, enter
from inspections.errors import Refused
from inspections.picture import Picture
from ledger.models import Entry

MOST_RIDERS = 5000


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
