"""What to do where no test ride of a line has an arrival speed: its checklist does not ask for one.

The question belongs to a line whose data name an instrument for it (``courses/library/ride.toml``); the checklist of a
place is a copy, so that the question comes into it only when somebody adds it there.
"""

from __future__ import annotations

from typing import NamedTuple

from django.urls import reverse
from django.utils.translation import gettext as _

from courses.advised import how_far
from courses.models import Place, Version
from courses.queries import Setup, newest_of, subject_of

MEASURES = "arrival.speed"


class Way(NamedTuple):
    """What to do, and where."""

    sentence: str
    url: str
    link: str


def way_to_speeds(setup: Setup, line: Place) -> Way | None:
    """Return what brings the arrival speed into the checklist in force; ``None`` where it is asked for already.

    What is proposed or counts later is looked at too, so that nobody is told to enter what waits; two queries for it.
    """
    if _asks(setup.checklist(line)):
        return None
    coming = newest_of(subject_of(Version.Kind.CHECKLIST, line.pk))
    if coming is not None and _asks(coming):
        return Way(
            _("The checklist will ask for the arrival speed. %(how)s.") % {"how": how_far(coming, setup.course)},
            reverse("courses:proposal", args=[setup.course.pk, coming.pk]),
            _("Version %(number)s") % {"number": coming.number},
        )
    described = newest_of(subject_of(Version.Kind.LINE, line.pk))
    if described is None or not described.content.get("speed_instrument"):
        return Way(
            _(
                "The checklist of this line does not ask for the arrival speed, because its data name no instrument. "
                "Enter it in the line's data under “Instrument for the arrival speed”; then add the question, which "
                "stands in the checklist among what the library has besides. It is asked at test rides from the day "
                "on which the checklist counts."
            ),
            reverse("courses:place_edit", args=[setup.course.pk, line.pk]),
            _("Line data"),
        )
    return Way(
        _(
            "The checklist of this line does not ask for the arrival speed yet, although an instrument is entered. Add "
            "the question: it stands in the checklist among what the library has besides."
        ),
        reverse("courses:checklist_edit", args=[setup.course.pk, line.pk]),
        _("Checklist"),
    )


def _asks(checklist: Version | None) -> bool:
    return checklist is not None and any(item.get("measures") == MEASURES for item in checklist.content["items"])
