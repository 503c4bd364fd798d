"""One day of one course as of one moment, read in a fixed number of queries; board, walk and signing all ask this.

``Spot`` is what filling in and signing the sheets of one place needs; ``Picture`` is the whole day of the course.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from functools import cached_property
from typing import Any, NamedTuple
from uuid import UUID

from django.db.models import Max, Q, QuerySet

from courses import calendar
from courses.models import Component, Course, Place
from courses.queries import Setup, setup_at
from inspections.entering import day_row
from inspections.models import (
    Closing,
    Day,
    Draft,
    Finding,
    FindingStep,
    Hold,
    ItemState,
    Reading,
    Ride,
    Sheet,
    SignOff,
    Verdict,
)
from inspections.phones import Seen, phones_of
from ledger.reading import at_one_moment

BADNESS = {"": 0, Verdict.OK: 1, Verdict.WATCH: 2, Verdict.UNKNOWN: 3, Verdict.WITHDRAW: 4}
RIDE_DAYS = 7
RACK = "rack:"
SHARED_SLOTS = frozenset({"house", "platform", "rescue"})
AFTER_WORK = "event:brake_work"


@dataclass(frozen=True)
class Section:
    """One sheet's worth of a place: what is due in it and what was signed."""

    place: Place
    name: str
    items: tuple[dict[str, Any], ...]
    sheets: tuple[Sheet, ...]

    @property
    def signed(self) -> Sheet | None:
        return self.sheets[-1] if self.sheets else None

    @property
    def is_rack(self) -> bool:
        return self.name.startswith(RACK)


class State(NamedTuple):
    """The newest signed reading of an item, as ``ItemState`` keeps it."""

    component: UUID | None
    day_date: dt.date
    text: str
    value: str
    verdict: str
    seq: int


@dataclass
class Spot:
    """The day at one place, or at all of them. Every question after ``spot_of`` is answered without another query."""

    setup: Setup
    date: date
    at: datetime
    day: Day | None
    sheets: list[Sheet]
    readings: list[Reading]
    findings: list[Finding]
    holds: list[Hold]
    states: dict[tuple[UUID, str], State]
    floors: dict[tuple[UUID, str], int]
    works: dict[tuple[UUID, str], int]  # newest work on each slot; what is asked after work is read after it
    _readings_by: dict[tuple[UUID, str], list[Reading]] = field(default_factory=lambda: defaultdict(list))
    _sheets_by: dict[tuple[UUID, str], list[Sheet]] = field(default_factory=lambda: defaultdict(list))
    _findings_by: dict[UUID, list[Finding]] = field(default_factory=lambda: defaultdict(list))

    _items: dict[UUID, list[dict[str, Any]]] = field(default_factory=dict)
    _sections: dict[UUID, list[Section]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for reading in self.readings:
            self._readings_by[reading.place_id, reading.key].append(reading)
        for sheet in self.sheets:
            self._sheets_by[sheet.place_id, sheet.section].append(sheet)
        for finding in self.findings:
            self._findings_by[finding.place_id].append(finding)

    @cached_property
    def _after_work(self) -> dict[tuple[UUID, str], int]:
        spots = {place_id for place_id, _slot in self.works}
        return {
            (place.pk, item["key"]): self.works[place.pk, item["slot"]]
            for place in self.setup.places.values()
            if place.pk in spots
            for item in self.items(place)
            if item["every"] == AFTER_WORK and (place.pk, item["slot"]) in self.works
        }

    @cached_property
    def _fitted(self) -> dict[UUID, set[UUID]]:
        found: dict[UUID, set[UUID]] = defaultdict(set)
        for item in self.setup.fitted:
            found[item.place_id].add(item.component.pk)
        return found

    @cached_property
    def _first_sheets(self) -> dict[UUID | None, Sheet]:
        """By sheet the one that it corrects, through all corrections; a sheet that corrects none stands for itself."""
        found: dict[UUID | None, Sheet] = {}
        for sheet in self.sheets:
            found[sheet.pk] = found.get(sheet.amends_id, sheet)
        return found

    # --- the day
    @property
    def course(self) -> Course:
        return self.setup.course

    @cached_property
    def opens_at(self) -> datetime | None:
        """When the course opens today: as copied into the day by its first deed, else by the calendar in force."""
        if self.day is not None:
            return self.day.opens_at
        content = self.setup.calendar
        return None if content is None else calendar.opening(content, self.date, self.course.zone)

    @property
    def operating(self) -> bool:
        return self.opens_at is not None

    # --- items
    def items(self, place: Place) -> list[dict[str, Any]]:
        """Return the items of the place's checklist in force, gear of the store added one per component."""
        if place.pk not in self._items:
            self._items[place.pk] = self._read_items(place)
        return self._items[place.pk]

    def _read_items(self, place: Place) -> list[dict[str, Any]]:
        version = self.setup.checklist(place)
        items = [item for item in (version.content["items"] if version else ()) if item["sheet"] != "ride"]
        if place.kind == Place.Kind.STORE:
            items = [item for item in items if item["sheet"] != "gear"]
            items += [
                gear_item(fitted.component, fitted.slot)
                for fitted in self.setup.at_place(place)
                if fitted.component.is_pooled
            ]
        return items

    def component_of(self, place: Place, item: Mapping[str, Any]) -> Component | None:
        return component_of(self.setup, place, item)

    def readings_of(self, place_id: UUID, key: str) -> list[Reading]:
        """Return today's readings of an item that still count: since the last release naming it, of what is fitted.

        A reading of a part that was taken off says nothing about the one in its place.
        """
        floor = max(self.floors.get((place_id, key), -1), self._after_work.get((place_id, key), -1))
        fitted = self._fitted[place_id]
        return [
            reading
            for reading in self._readings_by[place_id, key]
            if reading.seq >= floor and (reading.component_id is None or reading.component_id in fitted)
        ]

    def answered(self, place: Place, key: str) -> bool:
        """Tell whether somebody read the item today. A sheet on its way may hold all that was not read as it began."""
        return any(reading.verdict != Verdict.UNKNOWN for reading in self.readings_of(place.pk, key))

    def is_due(self, place: Place, item: Mapping[str, Any]) -> bool:
        """Tell whether an item belongs to today's inspection. Never read, or read of another part, is due."""
        if self._readings_by[place.pk, item["key"]]:
            return True
        state = self.states.get((place.pk, item["key"]))
        if state is None:
            return True
        component = self.component_of(place, item)
        if component is not None and state.component not in (None, component.pk):
            return True
        if any(f.key == item["key"] and f.state == "open" for f in self._findings_by[place.pk]):
            return True  # a watch or a defect is looked at every day until it is released: R-156, READ
        every = str(item["every"])
        if every == AFTER_WORK:
            return self.works.get((place.pk, str(item["slot"])), -1) > state.seq
        if every.startswith("event:"):
            return self._event_since(every.removeprefix("event:"), place, state.day_date)
        return self.date - state.day_date >= timedelta(days=int(every))

    def _event_since(self, event: str, place: Place, last: dt.date) -> bool:
        causes = {
            "wind": {"gust", "storm"},
            "storm": {"storm"},
            "wet": {"wet"},
            "strike": {"emergency_brake", "thunder"},
        }
        return any(
            hold.cause in causes.get(event, {event})
            and hold.place_id in (None, place.pk)
            and hold.renewed_at.astimezone(self.course.zone).date() >= last
            for hold in self.holds
        )

    def worst(self, place: Place, key: str) -> str:
        """Return how an item stands by today's readings; ``unknown`` where there is none."""
        reading = self.deciding(place, key)
        return reading.verdict if reading is not None else Verdict.UNKNOWN

    def deciding(self, place: Place, key: str) -> Reading | None:
        """Return the reading by which an item stands: of today's that count the worst; None where there is none.

        That somebody could not check it counts until it is read again, and hides no worse reading.
        """
        readings = self.readings_of(place.pk, key)
        checked = [reading for reading in readings if reading.verdict != Verdict.UNKNOWN]
        unchecked = [
            reading
            for reading in readings
            if reading.verdict == Verdict.UNKNOWN and not any(self._is_read_after(one, reading) for one in checked)
        ]
        return max((*checked, *unchecked), key=lambda one: (BADNESS[one.verdict], one.seq), default=None)

    def _is_read_after(self, one: Reading, other: Reading) -> bool:
        """Tell whether ``one`` was read after ``other``, both by its time and in the order of arrival.

        A correction says anew how it was when the sheet was signed that it corrects: that is no new look at the part,
        and is newer only than what the same sheet said before.
        """
        seq, at = one.seq, one.read_at
        first = self._first_sheets.get(one.sheet_id)
        if first is not None and first != self._first_sheets.get(other.sheet_id):
            seq, at = first.seq, first.signed_at
        return seq > other.seq and at >= other.read_at

    # --- sections
    def sections(self, place: Place) -> list[Section]:
        """Return the sheets that this place asks for today, in the order in which they are filled in."""
        if place.pk not in self._sections:
            self._sections[place.pk] = self._read_sections(place)
        return self._sections[place.pk]

    def _read_sections(self, place: Place) -> list[Section]:
        grouped: dict[str, list[dict[str, Any]]] = {}
        for item in self.items(place):
            grouped.setdefault(item["sheet"], [])
            if self.is_due(place, item):
                grouped[item["sheet"]].append(item)
        return [
            Section(place, name, tuple(items), tuple(self._sheets_by[place.pk, name]))
            for name, items in grouped.items()
            if items or self._sheets_by[place.pk, name]
        ]

    def section(self, place: Place, name: str) -> Section | None:
        return next((section for section in self.sections(place) if section.name == name), None)

    # --- findings, rides, holds
    def open_findings(self, place: Place | None = None) -> list[Finding]:
        source: Iterable[Finding] = self.findings if place is None else self._findings_by[place.pk]
        return [finding for finding in source if finding.state == Finding.State.OPEN]


@dataclass
class Picture(Spot):
    """The day of the whole course, with what is only known of it as a whole: rides, signing, closing, drafts."""

    rides: list[Ride] = field(default_factory=list)
    sign_offs: list[SignOff] = field(default_factory=list)
    closings: list[Closing] = field(default_factory=list)
    drafts: list[Draft] = field(default_factory=list)
    phones: list[Seen] = field(default_factory=list)

    @property
    def sign_off(self) -> SignOff | None:
        return self.sign_offs[-1] if self.sign_offs else None

    @property
    def closing(self) -> Closing | None:
        return self.closings[-1] if self.closings else None

    def holds_on(self, line: Place) -> list[Hold]:
        return [hold for hold in self.holds if hold.lifted_at is None and hold.place_id in (None, line.pk)]

    def rides_of(self, line: Place) -> list[Ride]:
        return [ride for ride in self.rides if ride.place_id == line.pk]


def component_of(setup: Setup, place: Place, item: Mapping[str, Any]) -> Component | None:
    """Return the part that an item is asked of, or None where it is asked of the place itself."""
    if "component" in item:
        return item["component"]  # type: ignore[no-any-return]
    if item["slot"] in SHARED_SLOTS and item["kind"] in {"look", "function"}:
        return None  # a look round the place is not about the one thing in its register that has sizes and dates
    if item["slot"] == "house" and not str(item.get("measures", "")).startswith("scale."):
        return None  # wind, rescuers and forecast are not read off the weigh scale, which stands there too
    return setup.component_at(place, item["slot"])


def gear_item(component: Component, slot: str) -> dict[str, Any]:
    """Return the one item that a piece of pooled gear is on its rack's sheet."""
    return {
        "key": f"gear@{component.tag}",
        "code": "GEAR",
        "slot": slot,
        "sheet": RACK + slot,
        "text": component.tag,
        "look": component.label,
        "kind": "look",
        "unit": "",
        "class": "minor",
        "every": 1,
        "reach": "hand",
        "measures": "general.sound",
        "component": component,
        "gear": True,
    }


@at_one_moment()
def picture_of(course: Course, *, at: datetime, on: date | None = None, setup: Setup | None = None) -> Picture:
    """Read a day. ``on`` is a local date, today by default; its set-up is that in force at ``at``."""
    read = _read(course, setup or setup_at(course, at), at, on, None)
    since = read["date"] - timedelta(days=RIDE_DAYS - 1)
    in_day = _in_day(read["day"])
    rides = Ride.objects.filter(day__course=course, day__date__range=(since, read["date"]))
    return Picture(
        **read,
        rides=list(rides.select_related("day").order_by("seq")),
        sign_offs=list(SignOff.objects.filter(**in_day).order_by("revision")),
        closings=list(Closing.objects.filter(**in_day).order_by("seq")),
        drafts=list(Draft.objects.filter(course=course, date=read["date"])),
        phones=phones_of(course, at=at),
    )


@at_one_moment()
def spot_of(place: Place, *, at: datetime, on: date | None = None) -> Spot:
    """Read what bears on the sheets of one place on a day, as ``picture_of`` reads the whole day."""
    return Spot(**_read(place.course, setup_at(place.course, at, place=place), at, on, place))


def _in_day(day: Day | None) -> dict[str, Any]:
    return {"day": day} if day else {"pk__isnull": True}


def _read(course: Course, setup: Setup, at: datetime, on: date | None, place: Place | None) -> dict[str, Any]:
    """Return the fields of a ``Spot``, of one place or (``place`` is None) of all."""
    on = on or setup.today
    day = day_row(course, on)
    here: dict[str, Any] = {"place": place} if place else {}
    in_day = {**_in_day(day), **here}
    findings = list(
        Finding.objects.filter(course=course, **here)
        .filter(Q(state=Finding.State.OPEN) | Q(pk__in=FindingStep.objects.filter(on=on).values("finding")))
        .select_related("component", "place")
        .order_by("seq")
    )
    holds = Hold.objects.filter(course=course).order_by("seq")
    holds = holds.filter(Q(lifted_at__isnull=True) | Q(called_at__gte=at - timedelta(days=7)))
    floors: dict[tuple[UUID, str], int] = {}
    for finding in findings:
        if finding.state == Finding.State.RELEASED and finding.key and finding.reinspection_seq is not None:
            spot = (finding.place_id, finding.key)
            floors[spot] = max(floors.get(spot, -1), finding.reinspection_seq)
    return {
        "setup": setup,
        "date": on,
        "at": at,
        "day": day,
        "sheets": list(Sheet.objects.filter(**in_day).order_by("seq")),
        "readings": _readings(setup, Reading.objects.filter(**in_day)),
        "findings": findings,
        "holds": list(holds) if place is None or _asks_after(setup, place, "event:") else [],
        "states": states_of(setup),
        "floors": floors,
        "works": _works(course, here) if place is None or _asks_after(setup, place, AFTER_WORK) else {},
    }


def _asks_after(setup: Setup, place: Place, event: str) -> bool:
    """Tell whether a place has items that come due by such an event; where it has none, nobody asks for the events."""
    version = setup.checklist(place)
    return any(str(item["every"]).startswith(event) for item in (version.content["items"] if version else ()))


def _works(course: Course, here: dict[str, Any]) -> dict[tuple[UUID, str], int]:
    found = Finding.objects.filter(course=course, work_seq__isnull=False, **here)
    newest = found.values_list("place_id", "slot").annotate(newest=Max("work_seq"))
    return {(place_id, slot): seq for place_id, slot, seq in newest}


def _readings(setup: Setup, rows: QuerySet[Reading]) -> list[Reading]:
    """Return readings in their order. Their parts are those of the set-up; only what was taken off since is read."""
    readings = list(rows.order_by("seq", "position"))
    parts = {item.component.pk: item.component for item in setup.fitted}
    gone = {one.component_id for one in readings if one.component_id is not None} - set(parts)
    if gone:
        parts |= Component.objects.in_bulk(gone)
    for one in readings:
        if one.component_id is not None:
            one.component = parts[one.component_id]
    return readings


def states_of(setup: Setup) -> dict[tuple[UUID, str], State]:
    """Return the newest reading of every item of the set-up's places."""
    rows = ItemState.objects.filter(place__in=setup.places).values_list("pk", *State._fields)
    places = {str(pk): pk for pk in setup.places}
    found = {}
    for name, *fields in rows:
        place, _slash, key = name.partition("/")  # reading the place as a column would make a UUID of each
        found[places[place], key] = State(*fields)
    return found
