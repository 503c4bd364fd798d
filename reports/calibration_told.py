"""The calibration page in words and in the units of a course: the result, and the test rides sorted for reading.

A season has more rides than a phone's page can hold: the newest of those used stand there, the rest is folded, and so
are those not used, by the reason why.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.utils.translation import gettext_lazy as L

from courses.refusals import figure
from reports.calibration import Found, Row
from reports.course_units import CourseUnits

NEWEST = 10
FROM = {"head": L("head"), "tail": L("tail"), "cross": L("cross"), "calm": L("calm")}


@dataclass(frozen=True)
class ToldRide:
    """One ride as its row shows it; ``computed`` and ``apart`` are empty where nothing was computed for it."""

    pk: str
    at: datetime
    day: date
    weight: str
    wind: str
    speed: str
    computed: str
    apart: str
    left_out: bool


@dataclass(frozen=True)
class Unused:
    """Rides that are not used for one and the same reason."""

    why: str
    rides: tuple[ToldRide, ...]


@dataclass(frozen=True)
class Rides:
    """All rides, newest first in each part: those used (``newest``, then ``older``), those left out, those refused.

    Where they could not be looked at, they are ``not_looked``, and ``used``, their number, is ``None``.
    """

    count: int
    used: int | None
    newest: tuple[ToldRide, ...]
    older: tuple[ToldRide, ...]
    left_out: tuple[ToldRide, ...]
    refused: tuple[Unused, ...]
    not_looked: tuple[ToldRide, ...] = ()


@dataclass(frozen=True)
class Result:
    """What the rides say: drag area and rolling resistance with their standard deviations, and for what they hold."""

    drag: str
    drag_sd: str
    rolling: str
    rolling_sd: str
    rides: int
    least: str
    most: str
    interval: str


def rides_told(found: Found, units: CourseUnits) -> Rides:
    """Sort the rides and write them in the units of a course."""
    left_out = tuple(_ride(row, units) for row in found.rows if row.left_to)
    if not found.is_looked:
        others = tuple(_ride(row, units) for row in found.rows if not row.left_to)
        return Rides(len(found.rows), None, (), (), left_out, (), others)
    used = [_ride(row, units) for row in found.rows if not row.why]
    refused: dict[str, list[ToldRide]] = {}
    for row in found.rows:
        if row.why and not row.left_to:
            refused.setdefault(row.why, []).append(_ride(row, units))
    return Rides(
        count=len(found.rows),
        used=len(used),
        newest=tuple(used[:NEWEST]),
        older=tuple(used[NEWEST:]),
        left_out=left_out,
        refused=tuple(Unused(why, tuple(rides)) for why, rides in _most_first(refused.items())),
    )


def _most_first(groups: Iterable[tuple[str, list[ToldRide]]]) -> list[tuple[str, list[ToldRide]]]:
    return sorted(groups, key=lambda one: -len(one[1]))


def _ride(row: Row, units: CourseUnits) -> ToldRide:
    ride, fields = row.ride, row.ride.fields
    return ToldRide(
        pk=str(ride.pk),
        at=ride.rode_at,
        day=ride.day.date,
        weight=_measured(ride.mass, "kg", units),
        wind=" ".join(filter(None, (_measured(fields.get("wind_mps"), "m/s", units), _direction(fields)))) or "–",
        speed=_measured(ride.speed, "m/s", units) or "–",
        computed="" if row.computed_mps is None else units.text("interval", row.computed_mps),
        apart="" if row.apart_mps is None else _signed(units.own("interval", row.apart_mps)),
        left_out=row.left_to,
    )


def _signed(value: float) -> str:
    return f"{value:+.2f}".replace("-", "−")


def _direction(fields: Any) -> str:
    return str(FROM.get(str(fields.get("wind_from", "")), ""))


def _measured(text: Any, unit: str, units: CourseUnits) -> str:
    """Return a figure of the record, which is metric; on a metric course digit by digit."""
    if not text:
        return ""
    return figure(float(text), unit, units.units)


def result_told(found: Found, units: CourseUnits) -> Result | None:
    """Return what the rides say; ``None`` where they say nothing that can be handed over."""
    if found.made is None or found.by is None:
        return None
    made, by = found.made, found.by
    return Result(
        drag=units.text("area", made.drag_area_m2),
        drag_sd=units.number("area", made.drag_area_sd),
        rolling=f"{made.rolling:.4f}",
        rolling_sd=f"{made.rolling_sd:.4f}",
        rides=by.rides,
        least=units.number("weight", by.least_kg),
        most=units.text("weight", by.most_kg),
        interval=units.text("interval", by.interval_mps),
    )
