"""How complete the record of a period is: which sheets and test rides were due, which are signed, and which in time.

Due is, on every day that the calendar expects, each sheet with an item that the checklist in force asks daily, and the
test ride of each line with ride items. What is asked at longer intervals, after an event or of a released finding is
not counted. A line that was not opened in any revision of a day's signature was not due that day, nor a platform that
only such lines use. Counts, no estimate (``engineering.reliability_completeness``).
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any
from uuid import UUID

from django.db.models import OuterRef, Subquery
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from courses import calendar
from courses.models import Course, Place, Placement, Version
from courses.queries import calendar_versions
from engineering.reliability_completeness import Completeness, Due, Record, completeness
from engineering.reliability_words import SENTENCES, Note
from inspections.judging import REGISTER_KINDS
from inspections.models import Day, Ride, Sheet, SignOff
from inspections.picture import RACK
from inspections.words import section_label
from ledger.models import Entry
from reports.season import first_day

RIDE, GEAR, DAILY = "ride", "gear", "1"


@dataclass(frozen=True)
class Complete:
    """``found`` counts sheets and rides, or says that nothing was due; ``places`` are the names of its keys."""

    first: date
    last: date
    found: Completeness | Note
    places: Mapping[str, str]

    @property
    def sentences(self) -> list[str]:
        """Return the counts in words, a sentence each."""
        found = self.found
        if isinstance(found, Note):
            return [str(_(SENTENCES[found.code])) % dict(found.params)]
        said = [
            _("Of %(due)s sheets and test rides that were due, %(signed)s are signed: %(percent)s %%.")
            % {"due": found.due, "signed": found.signed, "percent": percent_down(found.signed, found.due)}
        ]
        if found.timed:
            said.append(
                _("%(n)s of those that were due were signed before the opening time: %(percent)s %%.")
                % {"n": found.on_time, "percent": percent_down(found.on_time, found.timed)}
            )
        if found.median_delay is not None:
            said.append(
                ngettext(
                    "%(n)s was signed after it, by %(delay)s.",
                    "%(n)s were signed after it, half of them by %(delay)s or more.",
                    found.late,
                )
                % {"n": found.late, "delay": lasted(found.median_delay)}
            )
        for one in found.notes:
            if one.code == "time-unknown":
                said.append(
                    _("%(count)s were typed in from paper; their time stands on the photo, and they are not counted as "
                      "signed in time.") % dict(one.params)
                )  # fmt: skip
        return said

    @property
    def gaps(self) -> list[str]:
        """Return where nothing at all was entered on one or several successive days on which something was due."""
        if isinstance(self.found, Note):
            return []
        by_days: dict[int, list[str]] = {}
        for place, days in sorted(self.found.longest_gap.items(), key=lambda one: self.places[one[0]]):
            by_days.setdefault(days, []).append(self.places[place])
        return [
            ngettext(
                "On %(n)s day on which it was due: %(places)s.", "On up to %(n)s due days in a row: %(places)s.", days
            )
            % {"n": days, "places": ", ".join(by_days[days])}
            for days in sorted(by_days, reverse=True)
            if days
        ]

    @property
    def never(self) -> list[str]:
        """Return what was due and not signed once."""
        if isinstance(self.found, Note):
            return []
        return [f"{self.places[place]}, {section_label(section)}" for place, section in self.found.never]


def percent_down(part: int, whole: int) -> str:
    """Return a share in percent with one decimal, rounded down: only what is whole is said to be 100.

    >>> percent_down(999, 1000), percent_down(2999, 3000), percent_down(5, 5)
    ('99.9', '99.9', '100')
    """
    whole_percent, tenth = divmod(math.floor(1000 * part / whole), 10)
    return f"{whole_percent}.{tenth}" if tenth else str(whole_percent)


def lasted(delay: timedelta) -> str:
    """Return a duration in days, hours or minutes, the largest that fits, rounded down."""
    minutes = int(delay.total_seconds() // 60)
    if minutes >= 2 * 24 * 60:
        return _("%(n)s days") % {"n": minutes // (24 * 60)}
    if minutes >= 2 * 60:
        return _("%(n)s hours") % {"n": minutes // 60}
    return _("%(n)s min") % {"n": minutes}


def complete_of(course: Course, first: date, last: date, *, at: datetime) -> Complete:
    """Count a period up to yesterday, from the first day of the record on; nine queries, however long it is."""
    today = calendar.local_day(at, course.zone, course.day_change_hour)
    began = first_day(course)
    first, last = max(first, began or today), min(last, today - timedelta(days=1))
    places = {one.pk: one for one in Place.objects.filter(course=course)}
    names = {str(pk): str(one) for pk, one in places.items()}
    if first > last:
        return Complete(first, last, completeness((), ()), names)
    plan = _Plan(course, places, first, last)
    return Complete(first, last, completeness(plan.due(), plan.records()), names)


class _Plan:
    """What was due and what was signed from ``first`` to ``last``."""

    def __init__(self, course: Course, places: Mapping[UUID, Place], first: date, last: date) -> None:
        self.course, self.places, self.first, self.last = course, places, first, last
        self.in_days = {"day__course": course, "day__date__range": (first, last)}
        days = Day.objects.filter(course=course, date__range=(first, last))
        self.opens: dict[date, datetime | None] = dict(days.values_list("date", "opens_at"))
        self.opened: dict[date, set[str]] = {}
        for on, lines in SignOff.objects.filter(**self.in_days).order_by().values_list("day__date", "lines"):
            opened = self.opened.setdefault(on, set())
            opened.update(line for line, one in lines.items() if one.get("decision") == "open")
        self.checklists = _checklists(course)
        stores = [pk for pk, one in places.items() if one.kind == Place.Kind.STORE]
        racks = Placement.objects.filter(place__in=stores).select_related("component")
        self.racks = [one for one in racks if one.component.is_pooled]

    def due(self) -> Iterator[Due]:
        course = self.course
        expected = calendar.expected(
            calendar_versions(course), self.first, self.last, course.zone, course.day_change_hour
        )
        for on, by_calendar in expected:
            opens_at = self.opens.get(on, by_calendar)  # as copied by the first deed of that day
            if opens_at is None:
                continue
            for place in self._used(on, opens_at):
                for section in self._sections(place, opens_at):
                    yield Due(on, str(place.pk), section, opens_at)

    def _used(self, on: date, opens_at: datetime) -> Iterable[Place]:
        there = [one for one in self.places.values() if one.retired_at is None or one.retired_at > opens_at]
        opened = self.opened.get(on)
        if opened is None:
            return there
        lines = [one for one in there if str(one.pk) in opened]
        if not lines:
            return []
        ends = {end for line in lines for end in (line.launch_id, line.landing_id)}
        rest = (one for one in there if one.kind not in {Place.Kind.LINE, Place.Kind.PLATFORM} or one.pk in ends)
        return [*lines, *rest]

    def _sections(self, place: Place, opens_at: datetime) -> Iterable[str]:
        since, found = self.checklists.get(place.pk, ([], []))
        number = bisect_right(since, opens_at)
        sections = found[number - 1] if number else frozenset()
        if place.kind != Place.Kind.STORE:
            return sections
        racks = {
            RACK + one.slot
            for one in self.racks
            if one.place_id == place.pk and one.since <= opens_at and (one.until is None or one.until > opens_at)
        }
        return (sections - {GEAR}) | racks

    def records(self) -> Iterator[Record]:
        sheets = Sheet.objects.filter(**self.in_days).order_by()
        # In time is what was here in time: what was signed without a signal is not known of before.
        log = self.course.operator.log_id
        here = Subquery(Entry.objects.filter(log=log, seq=OuterRef("seq")).values("t")[:1])
        for on, place, section, came_at, paper in sheets.annotate(came_at=here).values_list(
            "day__date", "place_id", "section", "came_at", "from_paper"
        ):
            yield Record(on, str(place), section, None if paper else came_at, signed=True)
        rides = Ride.objects.filter(**self.in_days).order_by()
        for on, place, came_at, paper in rides.annotate(came_at=here).values_list(
            "day__date", "place_id", "came_at", "from_paper"
        ):
            yield Record(on, str(place), RIDE, None if paper else came_at, signed=True)


def _checklists(course: Course) -> dict[UUID, tuple[list[datetime], list[frozenset[str]]]]:
    """Return from when on each place was asked which sheets daily; a later number counts before an older one."""
    found: dict[UUID, tuple[list[datetime], list[frozenset[str]]]] = {}
    rows = Version.objects.filter(course=course, kind=Version.Kind.CHECKLIST, from_at__isnull=False)
    newest: dict[UUID, int] = {}
    for place, from_at, number, content in rows.order_by("from_at", "number").values_list(
        "place", "from_at", "number", "content"
    ):
        if from_at is None or number < newest.get(place, -1):
            continue
        newest[place] = number
        since, sections = found.setdefault(place, ([], []))
        since.append(from_at)
        sections.append(frozenset(_daily(content.get("items", ()))))
    return found


def _daily(items: Iterable[Mapping[str, Any]]) -> Iterator[str]:
    for item in items:
        if str(item["every"]) == DAILY and item["kind"] not in REGISTER_KINDS:  # those are told by the register
            yield item["sheet"]
