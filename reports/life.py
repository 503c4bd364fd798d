"""The life of one component: where it was fitted, what was read of it, how far each reading is from the limit."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _

from courses.calendar import local_day
from courses.models import Component, Course, Placement, Version
from courses.queries import newest_of, subject_of
from inspections.facts import number
from inspections.measures import has_unit, said
from inspections.models import Finding, Reading, RiderCount
from inspections.telling import disclosed

NUMBER = re.compile(r"-?\d+(?:\.\d+)?")
SHOWN = 60  # readings of one item on the page; the export has all of them


@dataclass(frozen=True)
class Gauge:
    """Places on the picture as whole numbers 0 to 1000, and the texts beside them."""

    sentence: str
    new_at: int
    limit_at: int
    today_at: int
    last_at: int | str
    new: str
    limit: str
    today: str
    last: str


@dataclass
class Series:
    """The readings of one item, newest first."""

    key: str
    wording: str
    readings: list[dict[str, Any]]
    total: int
    gauge: Gauge | None


@dataclass(frozen=True)
class Stay:
    """One placement with the riders that passed over it; None where the component has no count of its own."""

    placement: Placement
    riders: int | None


def stays(component: Component, placements: list[Placement], course: Course) -> list[Stay]:
    """Return each placement with its riders, from the closings of those days; one query.

    The days on which a component was fitted and taken off are both counted in full: rather too many than too few.
    Pooled gear is handed out from the store, so no line's riders are its own.
    """
    lines = {one.place_id for one in placements if one.place.kind == "line"}
    if component.is_pooled or not lines:
        return [Stay(one, None) for one in placements]
    counts: dict[Any, list[tuple[date, int]]] = {}
    for place, on, riders in RiderCount.objects.filter(place__in=lines).values_list("place_id", "date", "riders"):
        counts.setdefault(place, []).append((on, riders))
    found = []
    for one in placements:
        if one.place_id not in lines:
            found.append(Stay(one, None))
            continue
        first = local_day(one.since, course.zone, course.day_change_hour)
        last = local_day(one.until, course.zone, course.day_change_hour) if one.until else date.max
        found.append(Stay(one, sum(riders for on, riders in counts.get(one.place_id, []) if first <= on <= last)))
    return found


def series_of(component: Component, placements: list[Placement]) -> list[Series]:
    """Return the readings of a component by item, those with figures first; five queries, however many there are."""
    rows = list(
        Reading.objects.filter(component=component).select_related("sheet", "day").order_by("-seq", "position")[:4000]
    )
    names = disclosed(row.note_commit for row in rows)
    data: Version | None = newest_of(subject_of(Version.Kind.COMPONENT, component.pk))
    figures = data.content.get("figures", {}) if data and data.confirmed_at else {}
    measured = _quantities(placements)
    grouped: dict[str, list[Reading]] = {}
    for row in rows:
        grouped.setdefault(row.key, []).append(row)
    found = []
    for key, readings in grouped.items():
        shown = [
            {
                "reading": one,
                "note": names.get(one.note_commit, _("note erased")) if one.note_commit else "",
                "unit": "" if one.unit == "count" or has_unit(one.text) else one.unit,
            }
            for one in readings[:SHOWN]
        ]
        typical = figures.get(measured.get(key, ""), {})
        new = number(typical.get("baseline") or typical.get("nominal") or typical.get("reference"))
        found.append(Series(key, readings[0].wording, shown, len(readings), gauge_of(readings, new)))
    return sorted(found, key=lambda one: (not any(row["reading"].text for row in one.readings), one.key))


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
    texts = {"new": f"{new:f}{unit}", "limit": newest.limit, "today": said(newest.text, newest.unit)}
    sentence = _("New %(new)s, limit %(limit)s, newest reading %(today)s.") % texts
    return Gauge(
        sentence,
        place(new),
        place(limit),
        place(value),
        place(before[1]) if before else "",
        texts["new"],
        texts["limit"],
        texts["today"],
        said(before[0].text, before[0].unit) if before else "",
    )


def findings_of(component: Component) -> list[Finding]:
    return list(Finding.objects.filter(component=component).select_related("place").order_by("-seq"))
