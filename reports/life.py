"""The life of one component: where it was fitted, what was read of it, how far each reading is from the limit."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db.models import Count, F, Q, Window
from django.db.models.functions import RowNumber
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from courses.calendar import local_day
from courses.models import Component, Course, Placement, Version
from inspections.figures import number
from inspections.measures import said
from inspections.models import Finding, FindingStep, Reading
from inspections.telling import GEAR, disclosed, name, plain_figures, question_of, steps_told
from inspections.words import MARKS

NUMBER = re.compile(r"-?\d+(?:\.\d+)?")
ISO_DATE = re.compile(r"\d{4}-\d{2}-\d{2}")
SHOWN = 30  # readings of one item on the page; the export has all of them
DATED = ("until ", "before ")  # how a limit begins that is a date: ``engineering.explain.LIMITS``


@dataclass(frozen=True)
class Gauge:
    """Places on the picture as whole numbers 0 to 1000, the texts beside them, and the readings they are of."""

    new_at: int
    limit_at: int
    today_at: int
    last_at: int | str
    new: str
    limit: str
    read: str
    before: str
    newest: Reading
    earlier: Reading | None


@dataclass
class Series:
    """The readings of one item, newest first. ``dated``: the newest limit of it that is a date, as it stands."""

    key: str
    wording: str
    readings: list[dict[str, Any]]
    total: int
    gauge: Gauge | None
    newest: Reading
    dated: str = ""

    @property
    def is_gear(self) -> bool:
        return self.key.startswith(GEAR)


@dataclass(frozen=True)
class Stay:
    """One placement with the riders that passed over it; None where the component has no count of its own.

    ``before`` and ``after`` are what was fitted at the same spot; None where that was nothing, and for pooled gear.
    """

    placement: Placement
    riders: int | None
    before: Placement | None = None
    after: Placement | None = None


@dataclass
class Told:
    """A finding with its timeline (``inspections.telling.steps_told``); ``word`` is how it ended, empty while open."""

    finding: Finding
    steps: list[dict[str, Any]] = field(default_factory=list)

    @property
    def word(self) -> str:
        return str(self.steps[-1]["sentence"]) if self.finding.state == Finding.State.RELEASED and self.steps else ""

    @property
    def state(self) -> str:
        return str(self.steps[-1]["state"]) if self.word else ""


def stays(
    component: Component, placements: list[Placement], course: Course, counts: Mapping[UUID, Mapping[date, int]]
) -> list[Stay]:
    """Return each placement with its riders, from the closings of those days; one query.

    The days on which a component was fitted and taken off are both counted in full: rather too many than too few.
    Pooled gear is handed out from the store, so no line's riders are its own. ``counts``: riders by line and day.
    """
    lines = {one.place_id for one in placements if one.place.kind == "line"}
    beside = neighbours(component, placements)
    if component.is_pooled or not lines:
        return [Stay(one, None, *beside[one.pk]) for one in placements]
    found = []
    for one in placements:
        if one.place_id not in lines:
            found.append(Stay(one, None, *beside[one.pk]))
            continue
        first = local_day(one.since, course.zone, course.day_change_hour)
        last = local_day(one.until, course.zone, course.day_change_hour) if one.until else date.max
        riders_then = sum(riders for on, riders in counts.get(one.place_id, {}).items() if first <= on <= last)
        found.append(Stay(one, riders_then, *beside[one.pk]))
    return found


def neighbours(
    component: Component, placements: list[Placement]
) -> dict[Any, tuple[Placement | None, Placement | None]]:
    """Return what was fitted before and after each placement at its spot, with its component; at most one query."""
    if component.is_pooled or not placements:
        return {one.pk: (None, None) for one in placements}
    spots = Q()
    for one in placements:
        spots |= Q(place=one.place_id, slot=one.slot)
    others = Placement.objects.filter(spots).exclude(component=component).select_related("component").order_by("since")
    found = {}
    for one in placements:
        same = [row for row in others if (row.place_id, row.slot) == (one.place_id, one.slot)]
        earlier = [row for row in same if row.since < one.since]
        later = [row for row in same if one.until is not None and row.since >= one.until]
        found[one.pk] = (earlier[-1] if earlier else None, later[0] if later else None)
    return found


def rows_of(component: Component) -> tuple[list[Reading], dict[str, int]]:
    """Return the newest readings of each item of a component, newest first, and how many there are by item key.

    Two queries. Readings are ranked and counted by themselves; only the newest are then read whole.
    """
    every = Reading.objects.filter(component=component)
    newest = Window(RowNumber(), partition_by=[F("key")], order_by=[F("seq").desc(), F("pk").desc()])
    ranked = every.annotate(nth=newest).filter(nth__lte=SHOWN)
    rows = Reading.objects.filter(pk__in=ranked.values("pk")).select_related("sheet", "day")
    totals = dict(every.order_by().values_list("key").annotate(many=Count("pk")))
    return list(rows.order_by("-seq", "position")), totals


def series_of(
    rows: list[Reading], totals: Mapping[str, int], placements: list[Placement], data: Mapping[str, Any]
) -> list[Series]:
    """Return the readings of a component by item, those with figures first; three queries, however many there are.

    ``rows`` and ``totals`` are of ``rows_of``, ``data`` the register's content in force (``courses/documents.py``).
    """
    figures = data.get("figures", {})
    measured = _quantities(placements)
    grouped: dict[str, list[Reading]] = {}
    for row in rows:
        grouped.setdefault(row.key, []).append(row)
    shown = _shown(rows)
    found = []
    for key, readings in grouped.items():
        typical = figures.get(measured.get(key, ""), {})
        new = number(typical.get("baseline") or typical.get("nominal") or typical.get("reference"))
        newest = readings[0]
        found.append(
            Series(
                key,
                question_of(newest),
                [shown[one.pk] for one in readings],
                totals[key],
                gauge_of(readings, new),
                newest,
                limit_in_words(newest.limit) if newest.limit.startswith(DATED) else "",
            )
        )
    return sorted(found, key=lambda one: (not any(row["reading"].text for row in one.readings), one.key))


def _shown(readings: list[Reading]) -> dict[str, dict[str, Any]]:
    """Return the rows of readings by their key: who read it, on which entry, against which limit; two queries."""
    loose = {one.seq for one in readings if one.sheet is None}
    again = dict(
        FindingStep.objects.filter(
            seq__in=loose, finding__in={one.finding for one in readings if one.sheet is None}
        ).values_list("seq", "person_commit")
    )
    signer = {one.pk: one.sheet.signer_commit if one.sheet else again.get(one.seq, "") for one in readings}
    names = disclosed([*signer.values(), *(one.note_commit for one in readings)])
    return {
        one.pk: {
            "reading": one,
            "note": names.get(one.note_commit, _("note erased")) if one.note_commit else "",
            "text": said(one.text, one.unit) if one.text else str(MARKS.get(one.mark, "")),
            "limit": limit_in_words(one.limit),
            "who": name(names, signer[one.pk]),
            "again": one.sheet is None,
        }
        for one in readings
    }


def limit_in_words(limit: str) -> str:
    """Return a limit as read on a page: figures in one way, dates as everywhere else."""
    return ISO_DATE.sub(lambda day: date_format(date.fromisoformat(day[0]), "j F Y"), plain_figures(limit))


def _quantities(placements: list[Placement]) -> dict[str, str]:
    """Return what each item of the checklists of these places measures; later checklists win."""
    found: dict[str, str] = {}
    places = {one.place_id for one in placements}
    rows = Version.objects.filter(kind=Version.Kind.CHECKLIST, place__in=places, confirmed_at__isnull=False)
    for content in rows.order_by("number").values_list("content", flat=True):
        found |= {item["key"]: item.get("measures", "") for item in content.get("items", ())}
    return found


def gauge_of(readings: list[Reading], new: Decimal | None) -> Gauge | None:
    """Return how far the newest figure is from new to the limit; None unless all three are single plain numbers.

    ``readings`` are newest first. The limit is the one that the newest reading was judged by.
    """
    measured = [(one, value) for one in readings if (value := number(one.value)) is not None]
    if not measured or new is None:
        return None
    newest, value = measured[0]
    limits = NUMBER.findall(newest.limit)
    if len(limits) != 1 or Decimal(limits[0]) == new:
        return None
    limit = Decimal(limits[0])
    before = measured[1] if len(measured) > 1 else None
    ends = [new, limit, value, *([before[1]] if before else [])]
    low, high = min(ends), max(ends)
    room = (high - low) / 20
    low, high = low - room, high + room

    def at(x: Decimal) -> int:
        return int((x - low) / (high - low) * 1000)

    # Always drawn from new on the left to the limit on the right.
    turned = limit < new
    place = (lambda x: 1000 - at(x)) if turned else at
    unit = "" if newest.unit == "count" else f" {newest.unit}"
    return Gauge(
        place(new),
        place(limit),
        place(value),
        place(before[1]) if before else "",
        plain_figures(f"{new:f}{unit}"),
        plain_figures(newest.limit),
        said(newest.text, newest.unit),
        said(before[0].text, before[0].unit) if before else "",
        newest,
        before[0] if before else None,
    )


def findings_of(component: Component) -> list[Told]:
    """Return the findings on a component with their timelines, newest first; at most five queries."""
    found = list(Finding.objects.filter(component=component).select_related("place").order_by("-seq"))
    steps = steps_told(found)
    return [Told(one, steps[one.pk]) for one in found]
