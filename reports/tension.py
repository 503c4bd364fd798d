"""The tension of a line over the years, and what the morning's temperature makes of it: rows, and the charts of them.

A tension belongs to a temperature: to be compared, each is told as it would be at 15 °C, by the change of state of
``engineering.cable``. A tension that falls from one measuring to the next has been lost by stretch, slip or a change at
an anchor; what is to be done about it is the designer's to say.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from fractions import Fraction
from typing import Any, NamedTuple

from django.utils.formats import date_format
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from courses.mechanics import line_of
from courses.mechanics_shape import TENSION_HOW
from courses.models import Course, Place, Version
from courses.refusals import sentence_of
from engineering.cable import tension_at
from engineering.refusal import Refusal
from engineering.units import convert, with_unit
from inspections.figures import number
from inspections.measures import asked_in, in_both
from inspections.models import Ride
from reports.charts import Chart, Drawing, Point, drawn, svg
from reports.wear_charts import date_ticks

COMPARED_C = 15.0
MORNINGS = 60


class Measured(NamedTuple):
    """One tension that was entered: as measured, and at 15 °C with its change since the one before."""

    on: date
    version: Version
    how: str
    told: str
    compared: str
    change: str
    kn: float | None
    problem: str


class Morning(NamedTuple):
    """One morning with its air temperature, and the tension that the cable then had by computation."""

    on: date
    air: str
    told: str
    kn: float | None


@dataclass(frozen=True)
class Tension:
    """Everything about it; newest first. Without a measured tension there is none."""

    measured: tuple[Measured, ...]
    mornings: tuple[Morning, ...]
    drawings: tuple[Drawing, ...]

    @property
    def charts(self) -> list[tuple[str, SafeString]]:
        """Return the charts for a page, each with its title."""
        return [(one.title, svg(one, f"tension-{n}")) for n, one in enumerate(self.drawings)]


def tension_of(
    course: Course, document: Mapping[str, Any], versions: Iterable[Version], rides: Iterable[Ride]
) -> Tension:
    """Return the tensions of a line: ``versions`` are of its mechanics, ``rides`` the course's with a temperature."""
    measured = _measured(course, document, versions)
    newest = next((one for one in reversed(measured) if not one.problem), None)
    mornings = [] if newest is None else _mornings(course, document, newest.version.content, rides)
    drawings = [
        made
        for made in (
            _chart(_("Tension at 15 °C, each time it was entered"), [(one.on, one.kn) for one in measured], course),
            _chart(_("Tension by the air of each morning"), [(one.on, one.kn) for one in mornings], course),
        )
        if made is not None
    ]
    return Tension(tuple(reversed(measured)), tuple(reversed(mornings)), tuple(drawings))


def air_rides(line: Place, *, at: datetime) -> list[Ride]:
    """Return the course's rides of the last weeks that say the air temperature, oldest first, in one query."""
    since = at - timedelta(days=MORNINGS)
    found = Ride.objects.filter(
        place__course=line.course_id, rode_at__gt=since, rode_at__lte=at, fields__has_key="air_c"
    )
    return list(found.select_related("day").only("day__date", "rode_at", "fields").order_by("rode_at"))


def _measured(course: Course, document: Mapping[str, Any], versions: Iterable[Version]) -> list[Measured]:
    found: list[Measured] = []
    seen = set()
    for one in sorted((one for one in versions if one.confirmed_at is not None), key=lambda one: one.number):
        content = one.content
        key = tuple(content.get(name) for name in ("tension_kn", "reference_c", "tension_date", "tension_how"))
        if not all(key) or key in seen:
            continue
        seen.add(key)
        made = tension_at(line_of(document, content), COMPARED_C)
        kn = None if isinstance(made, Refusal) else made / 1000.0
        before = next((other.kn for other in reversed(found) if other.kn is not None), None)
        found.append(
            Measured(
                on=date.fromisoformat(content["tension_date"]),
                version=one,
                how=str(TENSION_HOW[content["tension_how"]]),
                told=_("%(tension)s at %(warm)s") % {
                    "tension": in_both(content["tension_kn"], "kN", course.units),
                    "warm": in_both(content["reference_c"], "degC", course.units),
                },
                compared="" if kn is None else in_both(f"{kn:.2f}", "kN", course.units),
                change="" if kn is None or before is None else f"{100.0 * (kn / before - 1.0):+.1f} %",
                kn=kn,
                problem=sentence_of(made, course.units) if isinstance(made, Refusal) else "",
            )
        )  # fmt: skip
    return sorted(found, key=lambda one: (one.on, one.version.number))


def _mornings(
    course: Course, document: Mapping[str, Any], content: Mapping[str, Any], rides: Iterable[Ride]
) -> list[Morning]:
    """Return each day's first temperature with the tension it makes."""
    line = line_of(document, content)
    found: dict[date, Morning] = {}
    for ride in rides:
        air = number(ride.fields.get("air_c"))
        if air is None or ride.day.date in found:
            continue
        made = tension_at(line, float(air))
        kn = None if isinstance(made, Refusal) else made / 1000.0
        told = "" if kn is None else in_both(f"{kn:.2f}", "kN", course.units)
        found[ride.day.date] = Morning(ride.day.date, in_both(f"{air:f}", "degC", course.units), told, kn)
    return list(found.values())


def _chart(title: str, figures: Sequence[tuple[date, float | None]], course: Course) -> Drawing | None:
    """Draw tensions against the date; nothing of fewer than two."""
    known = [(on, kn) for on, kn in figures if kn is not None]
    if len(known) < 2:
        return None
    unit = asked_in("kN", course.units)
    factor = float(convert(Fraction(1), "kN", unit))
    first, last = known[0][0].toordinal(), known[-1][0].toordinal()
    room = max((last - first) * 0.04, 1.0)
    low, high = min(kn for _on, kn in known) * factor, max(kn for _on, kn in known) * factor
    about = ngettext(
        "%(count)s figure from %(first)s to %(last)s, %(low)s to %(high)s.",
        "%(count)s figures from %(first)s to %(last)s, %(low)s to %(high)s.",
        len(known),
    ) % {
        "count": len(known),
        "first": date_format(known[0][0], "j F Y"),
        "last": date_format(known[-1][0], "j F Y"),
        "low": with_unit(f"{low:.4g}", unit),
        "high": with_unit(f"{high:.4g}", unit),
    }
    return drawn(
        Chart(
            title=f"{title}, {unit}",
            about=about,
            points=tuple(Point(float(on.toordinal()), kn * factor) for on, kn in known),
            levels=(),
            instants=(),
            ticks=date_ticks(first - room, last + room),
            x_low=first - room,
            x_high=last + room,
        )
    )
