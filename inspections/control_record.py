"""The rows that the charts of test rides rest on, read in a fixed number of queries, and the charts kept in between.

A chart stands until something that it rests on changes: a ride of the line, work or a release on it, a part fitted, a
version of its data, mechanics, limits or checklist, how many charts the course has, or the day. All of that is in the
key it is kept under. What was computed for a ride stands in its entry and is not computed again, unless the line's data
or mechanics changed since: then all rides since the last service are computed by what is in force, so that one chart
never mixes two computations.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from datetime import datetime
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db.models import Max

from courses.models import Place, Version
from courses.queries import Setup
from engineering.control import Control
from engineering.control_residual import ARRIVAL_SPEED, STROKE, Plan
from engineering.control_words import Note
from inspections.control import (
    CHARTED_KIND,
    FINDING_KEY,
    WORKED_ON,
    Basis,
    Charted,
    Deed,
    Expected,
    Seen,
    anew,
    basis_of,
    charted,
    charts_in,
    expectations,
    marks_for,
    morning,
    on_day,
    plan_for,
    usable,
    with_arrival,
)
from inspections.control_kept import air_in, expected_in, frozen_in
from inspections.figures import number
from inspections.models import Finding, FindingStep, Ride

NEWEST = 400  # rides of a line that are looked at: more than a year of mornings
MOST = 512
_kept: dict[tuple[Any, ...], dict[str, Charted]] = {}


def charts_of(setup: Setup, lines: Collection[Place]) -> dict[UUID, dict[str, Charted]]:
    """Return the charts of lines by line and quantity; none of a line without mechanics.

    Two queries, and two or three more where one is made anew.
    """
    bases = {line.pk: basis for line in lines if (basis := basis_of(setup, line)) is not None}
    if not bases:
        return {}
    keys = _stands(setup, bases)
    found = {pk: _kept[key] for pk, key in keys.items() if key in _kept}
    missing = [line for line in lines if line.pk in bases and line.pk not in found]
    if missing:
        rides, deeds = rides_of(missing, setup.course.zone), deeds_on(missing, setup.course.zone)
        airs = airs_for([one for line in missing for one in rides[line.pk]])
        for line in missing:
            found[line.pk] = charts_from(setup, line, bases[line.pk], rides[line.pk], deeds[line.pk], airs)
        if len(_kept) + len(missing) > MOST:
            _kept.clear()
        _kept.update({keys[line.pk]: found[line.pk] for line in missing})
    return found


def charts_from(
    setup: Setup,
    line: Place,
    basis: Basis,
    rides: list[Seen],
    deeds: list[Deed],
    airs: Mapping[UUID, float],
) -> dict[str, Charted]:
    """Return the charts of one line from what was read, as of the day of the set-up."""
    rides = [one for one in rides if one.at.date() <= setup.today]
    plans = {name: plan_for(setup, line, basis, name) for name in basis.quantities}
    with_air = [(one, airs.get(one.pk)) for one in rides]
    usables = {name: plan for name, plan in plans.items() if isinstance(plan, Plan)}
    expected = _expected(basis, usables, with_air)
    found = {}
    for name, plan in plans.items():
        if isinstance(plan, Note):
            found[name] = Charted(name, Control(plan))
            continue
        marks = marks_for(name, deeds, [*_fitted(setup, line), *anew(basis.setting, setup.course.zone)])
        frozen = frozen_in(rides, basis, name)
        found[name] = charted(
            plan, with_air, expected, marks, today=setup.today, frozen=frozen, struck=basis.setting.struck
        )
    return with_arrival(found)


def _expected(
    basis: Basis, plans: Mapping[str, Plan], rides: Iterable[tuple[Seen, float | None]]
) -> dict[UUID, Expected]:
    """Return what was to be expected of each ride: as kept, and in one computation for those that keep nothing."""
    found, missing = {}, {}
    for seen, air_c in rides:
        mornings = {name: morning(seen, name, air_c) for name in plans}
        asked = {name: ride for name, ride in mornings.items() if usable(ride, plans[name])}
        known = {name: expected_in(seen.kept, basis, ride, name) for name, ride in asked.items()}
        if None in known.values():
            missing[seen.pk] = next(iter(asked.values()))
        elif known:
            found[seen.pk] = Expected({name: figure for name, figure in known.items() if figure is not None})
    made = expectations(basis, list(missing.values()))
    return found | dict(zip(missing, made, strict=True))


def rides_of(lines: Collection[Place], zone: ZoneInfo, *, newest: int = NEWEST) -> dict[UUID, list[Seen]]:
    """Return the newest test rides of each line, oldest first; those of an emergency brake by itself left out."""
    columns = ("pk", "seq", "place_id", "day__date", "rode_at", "mass", "fields", "stroke_used", "speed", "verdict")
    rows = Ride.objects.filter(place__in=[line.pk for line in lines]).order_by("-seq")
    found: dict[UUID, list[Seen]] = {line.pk: [] for line in lines}
    for pk, seq, place, on, at, mass, fields, stroke, speed, verdict, kept in rows.values_list(*columns, "control")[
        : newest * len(lines)
    ]:
        if fields.get("kind") == CHARTED_KIND:
            figures = {STROKE: stroke, ARRIVAL_SPEED: speed}
            found[place].append(Seen(pk, seq, on_day(on, at, zone), mass, fields, figures, verdict, kept))
    return {place: rides[::-1] for place, rides in found.items()}


def deeds_on(lines: Collection[Place], zone: ZoneInfo) -> dict[UUID, list[Deed]]:
    """Return work and releases on each line; one query."""
    rows = FindingStep.objects.filter(finding__place__in=[line.pk for line in lines], kind__in=("work", "release"))
    found: dict[UUID, list[Deed]] = {line.pk: [] for line in lines}
    for place, at, *about in rows.values_list(
        "finding__place", "at", "kind", "finding__slot", "finding__key", "finding__title"
    ):
        found[place].append(Deed(at.astimezone(zone), *about))
    return found


def airs_for(rides: Collection[Seen]) -> dict[UUID, float]:
    """Return the air's temperature for each ride, in °C: with which it was judged, else entered at it, else before it.

    Once a morning is enough: the newest that was entered earlier on that day on the course holds for the rides after.
    A query only where a ride was not judged with one.
    """
    found = {}
    asked = []
    for one in rides:
        known, own = air_in(one.kept), number(one.fields.get("air_c"))
        if known is not None or own is not None:
            found[one.pk] = known if known is not None else float(own or 0)
        elif not one.kept:
            asked.append(one.pk)
    if asked:
        found |= _entered_before(asked)
    return found


def _entered_before(asked: Collection[UUID]) -> dict[UUID, float]:
    days = Ride.objects.filter(pk__in=asked).values("day")
    read: dict[Any, list[tuple[int, float]]] = {}
    rows = list(Ride.objects.filter(day__in=days).order_by("seq").values_list("pk", "day", "seq", "fields"))
    for _pk, day, seq, fields in rows:
        if (air := number(fields.get("air_c"))) is not None:
            read.setdefault(day, []).append((seq, float(air)))
    found = {}
    for pk, day, seq, _fields in rows:
        before = [air for other, air in read.get(day, ()) if other < seq]
        if pk in set(asked) and before:
            found[pk] = before[-1]
    return found


def air_before(course_day: UUID) -> float | None:
    """Return the newest air temperature entered on a day so far, in °C; one query."""
    for fields in Ride.objects.filter(day=course_day).order_by("-seq").values_list("fields", flat=True):
        if (air := number(fields.get("air_c"))) is not None:
            return float(air)
    return None


def watched(line: Place) -> set[str]:
    """Return the keys of the findings that alarms of a line opened and that still stand; one query."""
    rows = Finding.objects.filter(place=line, state=Finding.State.OPEN, key__startswith=FINDING_KEY)
    return set(rows.values_list("key", flat=True))


def forget() -> None:
    """Forget everything that was kept."""
    _kept.clear()


def _fitted(setup: Setup, line: Place) -> list[tuple[str, datetime]]:
    """Return the parts of a line whose fitting begins a new baseline, with since when they are fitted."""
    zone = setup.course.zone
    return [
        (one.component.tag, one.since.astimezone(zone))
        for one in setup.at_place(line)
        if one.slot.startswith(WORKED_ON)
    ]


def _stands(setup: Setup, bases: Mapping[UUID, Basis]) -> dict[UUID, tuple[Any, ...]]:
    """Return what the charts of each line rest on; two queries. Rides and steps are never taken away."""
    rides = dict(Ride.objects.filter(place__in=bases).values_list("place").annotate(newest=Max("seq")))
    steps = FindingStep.objects.filter(finding__place__in=bases)
    deeds = dict(steps.values_list("finding__place").annotate(newest=Max("seq")))
    shared = (setup.course.tz, setup.today, charts_in(setup))
    kinds = (Version.Kind.CHECKLIST, Version.Kind.LIMITS)
    found = {}
    for pk, basis in bases.items():
        line = setup.places[pk]
        versions = tuple(getattr(setup.version(kind, pk), "pk", None) for kind in kinds)
        about = (basis.line.pk, basis.mechanics.pk, *versions, *_fitted(setup, line))
        found[pk] = (pk, *shared, rides.get(pk), deeds.get(pk), *about)
    return found
