"""What the pages that only advise compute a line from: what is in force, or, where nothing is, what waits to be.

Figures that are proposed, or confirmed and count from a later day, are worth looking at before that day: a tension is
timed, a ride tried out, test rides compared. They are told as what they are, and nothing that a day goes by reads them:
not the line's status, the day's band, the charts of test rides, cards or papers.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple
from uuid import UUID

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from courses.calendar import local_day
from courses.models import Course, Place, Version
from courses.naming import title_of
from courses.queries import Setup, newest_of, subject_of

KINDS = (Version.Kind.LINE, Version.Kind.MECHANICS)


class Waiting(NamedTuple):
    """A version that is not in force, as a page names it: what it is, how far it has come, where it stands."""

    title: str
    said: str
    number: int
    pk: UUID


@dataclass(frozen=True)
class Advised:
    """``versions`` by subject, as in force, completed by those that are ``waiting``."""

    versions: Mapping[str, Version]
    waiting: tuple[Version, ...] = ()

    def version(self, kind: str, line: Place) -> Version | None:
        return self.versions.get(subject_of(kind, line.pk))


def advised(versions: Mapping[str, Version], line: Place) -> Advised:
    """Return data and mechanics of a line: of each the version in force, else the newest that was not turned down.

    ``versions`` are those in force. One query for each of the two of which none is in force, none otherwise.
    """
    waiting = []
    for kind in KINDS:
        if subject_of(kind, line.pk) in versions or (newest := newest_of(subject_of(kind, line.pk))) is None:
            continue
        newest.place = line  # its title needs no query
        waiting.append(newest)
    if not waiting:
        return Advised(versions)
    return Advised({**versions, **{one.subject: one for one in waiting}}, tuple(waiting))


def advised_setup(setup: Setup, line: Place) -> tuple[Setup, tuple[Version, ...]]:
    """Return the course with what waits for one line in place of nothing, and what that is; for pages that advise."""
    found = advised(setup.versions, line)
    if not found.waiting:
        return setup, ()
    made = Setup(setup.course, setup.at, setup.places, dict(found.versions), setup.fitted)
    return made, found.waiting


def waiting_of(setup: Setup, line: Place) -> list[Waiting]:
    """Return what waits for a line where nothing is in force, as a page names it."""
    return told(setup.course, advised(setup.versions, line).waiting)


def told(course: Course, versions: tuple[Version, ...]) -> list[Waiting]:
    """Return versions that wait, as a page names them."""
    return [Waiting(title_of(one), how_far(one, course), one.number, one.pk) for one in versions]


def how_far(version: Version, course: Course) -> str:
    """Say how far a version has come that is not in force yet."""
    if version.from_at is None:
        return _("Proposed, waits for a second person")
    day = local_day(version.from_at, course.zone, course.day_change_hour)
    return _("Confirmed, counts from %(day)s") % {"day": date_format(day, "j F")}
