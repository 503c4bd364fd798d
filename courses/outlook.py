"""What will happen with a proposal: at once, or by a second person and from which day on. Said before it is sent."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from courses import calendar
from courses.models import Version
from courses.queries import Setup
from courses.tightening import tightens


@dataclass(frozen=True)
class Outlook:
    """``at_once``: it counts as soon as it is sent. ``day``: from when it counts otherwise, if confirmed today.

    ``may_wait``: what would count at once may be sent to count from that day instead.
    """

    at_once: bool
    sentence: str
    day: date | None = None
    may_wait: date | None = None


def start_day(setup: Setup) -> date:
    """Return the operating day from which a proposal counts that is confirmed at this moment."""
    course = setup.course
    start = calendar.next_start(setup.calendar, setup.at, course.zone, course.day_change_hour)
    return calendar.local_day(start, course.zone, course.day_change_hour)


def in_general(setup: Setup, kind: str) -> str:
    """Say what happens with proposals of this kind, before anything is typed."""
    if kind == Version.Kind.CALENDAR:
        return _("A change of the calendar counts as soon as you send it, and is shown with its reason.")
    day = date_format(start_day(setup), "l j F")
    if kind in {Version.Kind.LINE, Version.Kind.LIMITS, Version.Kind.CHECKLIST, Version.Kind.REOPENING}:
        return _(
            "A change that only makes things stricter counts at once. Any other needs a second person: confirmed "
            "today, it counts from %(day)s."
        ) % {"day": day}
    return _("A second person must confirm it: confirmed today, it counts from %(day)s.") % {"day": day}


def outlook(setup: Setup, kind: str, old: Mapping[str, Any] | None, new: Mapping[str, Any]) -> Outlook:
    """Say what happens with this very proposal. ``old`` is the content in force, None where there is none."""
    if kind == Version.Kind.CALENDAR:
        return Outlook(True, _("This counts as soon as you send it."))
    if tightens(kind, old, new):
        # A posted weight or a limit that is too high must not wait; a question more may, until its limit counts.
        may_wait = start_day(setup) if kind == Version.Kind.CHECKLIST else None
        sentence = _("This only makes things stricter: it counts as soon as you send it.")
        return Outlook(True, sentence, may_wait=may_wait)
    if kind == Version.Kind.COMPONENT and old is None:
        return Outlook(
            False, _("These are the component's first data: they count as soon as somebody else confirms them.")
        )
    day = start_day(setup)
    return Outlook(
        False,
        _("Somebody else must confirm this. Confirmed today, it counts from %(day)s; until then nothing changes.")
        % {"day": date_format(day, "l j F")},
        day,
    )
