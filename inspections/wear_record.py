"""What an outlook of wear is computed from, read in a fixed number of queries, and the outlooks kept in between.

An outlook stands until something that it rests on changes: a reading of the part, a correction, a release, a closing, a
version of limits or data, where the part is fitted, or the day. All of that is in the key it is kept under, so nothing
that was kept is ever told of another state. The store is this process's own; each process computes for itself.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from functools import cached_property
from typing import Any, NamedTuple
from uuid import UUID

from django.db.models import Count, Exists, F, OuterRef, Q, QuerySet, Subquery, Value, Window
from django.db.models.functions import RowNumber

from courses.models import Component, Course, Place, Placement, Version
from courses.queries import Setup
from inspections.figures import number
from inspections.models import Closing, Finding, Reading, RiderCount, Sheet, Verdict
from inspections.picture import State
from inspections.wear import Figure, Life, Season, Seen, Told, day_of, figures_at, life_of, resets_of, told

READINGS = 120  # of one item, the newest: enough for any line, and a part read every day stays quick
MOST = 4000
WEEK = timedelta(days=7)
_figures: dict[tuple[Any, ...], list[Figure]] = {}
_told: dict[tuple[Any, ...], Told] = {}


class Row(NamedTuple):
    """A reading as it is read for an outlook; ``frees``: a finding was released upon it."""

    component: UUID
    seq: int
    on: date
    at: datetime
    value: str
    verdict: str
    key: str
    wording: str
    sheet: UUID | None
    amends: UUID | None
    frees: bool


@dataclass
class Record:
    """Readings, placements and riders of some parts. ``counts``: riders by line and day."""

    seen: dict[UUID, list[Seen]] = field(default_factory=dict)
    stays: dict[UUID, list[Placement]] = field(default_factory=dict)
    counts: dict[UUID, dict[date, int]] = field(default_factory=dict)
    lives: dict[UUID, Life | None] = field(default_factory=dict)

    def life(self, setup: Setup, part: Component) -> Life | None:
        """Return the riders over a part, counted once."""
        if part.pk not in self.lives:
            self.lives[part.pk] = life_of(part, self.stays.get(part.pk, ()), self._by_day, setup)
        return self.lives[part.pk]

    @cached_property
    def _by_day(self) -> dict[UUID, list[tuple[date, int]]]:
        return {line: sorted(days.items()) for line, days in self.counts.items()}

    def of_figure(self, figure: Figure) -> list[Seen]:
        """Return the newest readings of one figure, oldest first."""
        return [one for one in self.seen.get(figure.component.pk, ()) if figure.asks(one.key, one.wording)][-READINGS:]

    def told(self, setup: Setup, season: Season, figure: Figure) -> Told:
        """Return the outlook of one figure."""
        seen = self.of_figure(figure)
        life, riders = self.life(setup, figure.component), self.counts.get(figure.place.pk, {})
        return told(figure, seen, resets_of(figure, setup, seen), life, riders, season)


def figures_of(setup: Setup) -> list[Figure]:
    """Return every measured figure of every part fitted on a course; without a query."""
    found = []
    for place in setup.places.values():
        key = _stand_of(setup, place)
        kept = _figures.get(key)
        if kept is None:
            kept = figures_at(setup, place)
            _keep(_figures, {key: kept})
        found += kept
    return found


def outlooks(setup: Setup, states: Mapping[tuple[UUID, str], State]) -> list[Told]:
    """Return the outlook of every figure of a course that was ever read: one query, four where one is computed anew.

    ``states`` are the newest readings of the items (``inspections.picture.states_of``).
    """
    figures = [one for one in figures_of(setup) if (one.place.pk, one.key) in states]
    course = _stand_of_course(setup)
    stands = {place.pk: _stand_of(setup, place) for place in setup.places.values()}
    keys = [
        (*course, *stands[one.place.pk], one.component.pk, one.key, states[one.place.pk, one.key].seq)
        for one in figures
    ]
    found = {key: one for key in keys if (one := _told.get(key)) is not None}
    missing = [(key, one) for key, one in zip(keys, figures, strict=True) if key not in found]
    if missing:
        season, record = Season.of(setup), record_of(setup, {one.component.pk for _key, one in missing})
        fresh = {key: record.told(setup, season, one) for key, one in missing}
        _keep(_told, fresh)
        found |= fresh
    return [found[key] for key in keys]


def forget() -> None:
    """Forget everything that was kept."""
    _figures.clear()
    _told.clear()


def _keep(store: dict[Any, Any], fresh: Mapping[Any, Any]) -> None:
    """Keep what was computed; a store that is full begins anew. Several threads may be at it: nothing counts on it."""
    if len(store) + len(fresh) > MOST:
        store.clear()
    store.update(fresh)


def _stand_of(setup: Setup, place: Place) -> tuple[Any, ...]:
    """Return what the figures of a place rest on: its versions, the course's criteria, what is fitted and its data."""
    kinds = Version.Kind
    subjects = [(place.kind, place.pk), (kinds.CHECKLIST, place.pk), (kinds.LIMITS, place.pk)]
    subjects.append((kinds.CRITERIA, setup.course.pk))
    fitted = setup.at_place(place)
    subjects += [(kinds.COMPONENT, one.component.pk) for one in fitted]
    versions = tuple(getattr(setup.version(kind, about), "pk", None) for kind, about in subjects)
    spots = tuple((one.component.pk, one.slot, one.since) for one in fitted)
    return (place.pk, str(place), setup.course.law_place, versions, spots)


def _stand_of_course(setup: Setup) -> tuple[Any, ...]:
    """Return what every outlook of a course rests on: day, calendar, closings, corrections, releases; one query.

    None of these rows is ever taken away, so their number says whether there are new ones. A day is closed, and its
    closing corrected, on that day; a week is asked for with room to spare. Corrections are few and are counted over all
    courses, because only they are at hand by an index.
    """
    of_course = {"course": OuterRef("pk"), "state": Finding.State.RELEASED, "reinspection_seq__isnull": False}
    closed = Closing.objects.filter(day__course=OuterRef("pk"), day__date__gt=setup.today - WEEK)
    amended = Sheet.objects.filter(amends__gt=UUID(int=0))  # "is not null" would read every sheet there is
    freed = Finding.objects.filter(**of_course)
    marks = Course.objects.filter(pk=setup.course.pk).values_list(*map(_number_of, (closed, amended, freed)))[0]
    season = setup.version(Version.Kind.CALENDAR, setup.course.pk)
    return (setup.course.pk, setup.course.tz, setup.today, season.pk if season else None, *marks)


def _number_of(rows: QuerySet[Any]) -> Any:
    """Return how many rows there are, as part of another query."""
    return Subquery(rows.order_by().annotate(all=Value(1)).values("all").annotate(many=Count("pk")).values("many"))


def record_of(setup: Setup, parts: Collection[UUID]) -> Record:
    """Read what the outlooks of these parts rest on; three queries."""
    stays: dict[UUID, list[Placement]] = {}
    for stay in Placement.objects.filter(component__in=parts).select_related("place").order_by("since"):
        stays.setdefault(stay.component_id, []).append(stay)
    lines = {one.place_id for each in stays.values() for one in each if one.place.kind == Place.Kind.LINE}
    return Record(readings_of(setup, parts), stays, counts_of(lines))


def counts_of(lines: Collection[UUID]) -> dict[UUID, dict[date, int]]:
    """Return the riders of lines by day; one query."""
    found: dict[UUID, dict[date, int]] = {}
    for line, on, riders in RiderCount.objects.filter(place__in=lines).values_list("place_id", "date", "riders"):
        found.setdefault(line, {})[on] = riders
    return found


def with_releases(rows: QuerySet[Reading]) -> QuerySet[Any]:
    """Mark the readings upon which a finding was released: ``frees``."""
    freed = Finding.objects.filter(
        pk=OuterRef("finding"), reinspection_seq=OuterRef("seq"), state=Finding.State.RELEASED
    )
    return rows.annotate(frees=Exists(freed))


def readings_of(setup: Setup, parts: Collection[UUID]) -> dict[UUID, list[Seen]]:
    """Return the newest readings of each part that bear on its figures, oldest first; one query."""
    newest = Window(RowNumber(), partition_by=[F("component"), F("key")], order_by=[F("seq").desc(), F("pk").desc()])
    amending = Sheet.objects.filter(amends__gt=UUID(int=0)).values("pk")
    bearing = ~Q(value="") | Q(finding__isnull=False) | Q(sheet__in=amending)
    # Ranked by itself, before anything is joined: most readings of a long history are not among the newest.
    ranked = Reading.objects.filter(bearing, component__in=parts).annotate(nth=newest).filter(nth__lte=READINGS)
    rows = with_releases(Reading.objects.filter(pk__in=ranked.values("pk"))).values_list(
        "component_id", "seq", "day__date", "read_at", "value", "verdict", "key", "wording", "sheet_id",
        "sheet__amends_id", "frees",
    )  # fmt: skip
    return seen_of(setup, (Row(*row) for row in rows))


def seen_of(setup: Setup, rows: Iterable[Row]) -> dict[UUID, list[Seen]]:
    """Return readings by part in order of time.

    What was judged impossible, or is not a single number, is no size. A correction stands in place of what it corrects.
    """
    kept = sorted(rows, key=lambda row: (row.on, row.seq))
    corrected = {(row.amends, row.key) for row in kept if row.amends is not None}
    found: dict[UUID, list[Seen]] = {}
    for row in kept:
        value = None if row.verdict == Verdict.UNKNOWN else number(row.value)
        if (value is None and not row.frees) or (row.sheet is not None and (row.sheet, row.key) in corrected):
            continue
        day = day_of(row.on, row.at, setup.course.zone)
        found.setdefault(row.component, []).append(
            Seen(row.seq, row.on, day, value, row.key, row.wording, bool(row.frees))
        )
    return found
