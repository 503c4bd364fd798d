"""What each place of a course still lacks, and what the course itself lacks, as of one set-up."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext as _

from courses.gaps import Gap, line_gaps, platform_gaps
from courses.models import Place, Version
from courses.queries import Setup


@dataclass(frozen=True)
class Standing:
    """One place, the version of its data in force, and what is missing there."""

    place: Place
    version: Version | None
    checklist: Version | None
    gaps: list[Gap]


def of_place(setup: Setup, place: Place) -> Standing:
    """Return what a place lacks before it can be cleared."""
    checklist = setup.checklist(place)
    items = checklist.content if checklist else None
    if place.kind == Place.Kind.LINE:
        slots = {fitted.slot for fitted in setup.at_place(place)}
        fitted = [slot for slot in slots if setup.component_at(place, slot) is not None]
        gaps = line_gaps(
            setup.document(place), fitted_slots=fitted, limits=setup.limits(place), checklist=items
        )  # fmt: skip
    elif place.kind == Place.Kind.PLATFORM:
        gaps = platform_gaps(setup.document(place))
    else:
        gaps = []
    if place.kind != Place.Kind.LINE and not items:
        gaps.append(Gap("checklist", _("Checklist in force")))
    return Standing(place, setup.version(place.kind, place.pk), checklist, gaps)


def of_places(setup: Setup) -> list[Standing]:
    """Return the standing of every place in use: lines, platforms, gear store, course house."""
    return [
        of_place(setup, place) for place in (*setup.lines, *setup.platforms, *setup.stores, *setup.houses)
    ]  # fmt: skip


def of_course(setup: Setup) -> list[Gap]:
    """Return what holds every line because the course itself lacks it."""
    found = []
    if setup.calendar is None:
        found.append(Gap("calendar", _("Season calendar")))
    if setup.version(Version.Kind.CRITERIA, setup.course.pk) is None:
        found.append(Gap("criteria", _("Criteria sets")))
    if not setup.lines:
        found.append(Gap("lines", _("A line")))
    return found
