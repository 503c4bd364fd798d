"""The band of weights and winds for a weather that somebody typed, beside what is posted. Never what a day goes by.

The day's own band is computed from what was read that day (``inspections.band``) and stands on the board.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime

from django.utils.translation import gettext as _

from courses.mechanics import calibrated_by, posted_of
from courses.models import Place, Version
from engineering.clearance import ComputedFact
from engineering.envelope import Plan
from engineering.envelope_band import EDGES, Band
from engineering.envelope_cross import OBLIQUE
from inspections.band import Computed, Today, Weather, computed_of, fact_of
from inspections.band_words import LOOKED_AT, WHICH, across_said, said
from inspections.measures import in_both
from reports.course_units import CourseUnits
from reports.mechanics import asked_mechanics
from reports.what_if import Asked


@dataclass(frozen=True)
class EdgeRow:
    """One end of the band: computed beside posted, and what lies beyond what was computed."""

    label: str
    computed: str
    posted: str
    why: str
    narrows: bool


@dataclass(frozen=True)
class AskedBand:
    """The band, or only a ``problem``; with it what it was computed from and the warnings."""

    weather: str
    problem: str
    rows: tuple[EdgeRow, ...]
    left_out: tuple[str, ...]
    given: tuple[tuple[str, str], ...]
    warnings: tuple[str, ...]
    calibration: str
    across: str


def asked_band(
    line: Place, described: Version, entered: Version, plan: Plan, asked: Asked, *, at: datetime
) -> AskedBand:
    """Return the band for the asked wind, air and launch speed, over all arrangements of brakes that can be computed.

    A wind may fall to nothing at any time, so the band is of everything from no wind to the one that was asked for; of
    the wind across a part may blow along the line, from ahead or from behind, as in the day's own band.
    """
    head, cross, air = asked.figure("wind"), asked.figure("cross"), asked.figure("air")
    if head is None or cross is None or air is None:
        raise ValueError("a band needs wind and air; without them there is no plan either")
    part = OBLIQUE * cross
    weather = Weather(min(head, -part, 0.0), max(head, part, 0.0), cross, air, at, at)
    found = computed_of(described.content, asked_mechanics(entered.content, asked), weather)
    fact = fact_of(found, described.content)
    # The warnings go with every figure of the page, also where the band alone is not computed.
    whole = replace(found, plan=found.plan or plan)
    today = Today(whole, weather, described, entered, fact, calibrated_by(entered.content))
    units, zone = line.course.units, line.course.zone
    told = said(today, place=str(line), units=units, zone=zone)
    # The weather was typed here and read at no test ride: it is told in other words.
    given = said(replace(today, weather=None), place=str(line), units=units, zone=zone).given
    asked_for = _asked_for(head, cross, air, asked, CourseUnits(units))
    return AskedBand(
        weather=asked_for,
        problem=told.problem,
        rows=tuple(_rows(found, fact, described, units)),
        left_out=told.left_out,
        given=((_("Weather and launch"), asked_for), *given),
        warnings=told.warnings,
        calibration=told.calibration,
        across=across_said() if cross or told.across else "",
    )


def _asked_for(head: float, cross: float, air: float, asked: Asked, units: CourseUnits) -> str:
    values = {
        "wind": units.wind(head),
        "across": units.text("speed", cross),
        "air": units.text("temperature", air),
        "launch": units.text("speed", asked.figure("launch") or 0.0),
    }
    is_along, is_across = abs(head) >= 0.05, cross >= 0.05
    if is_along and is_across:
        told = _(
            "From no wind to %(wind)s and %(across)s cross wind, %(air)s, %(launch)s at the launch; as typed above."
        )
    elif is_across:
        told = _("From no wind to %(across)s cross wind, %(air)s, %(launch)s at the launch; as typed above.")
    elif is_along:
        told = _("From no wind to %(wind)s, %(air)s, %(launch)s at the launch; as typed above.")
    else:
        told = _("No wind, %(air)s, %(launch)s at the launch; as typed above.")
    return told % values


def _rows(found: Computed, fact: ComputedFact | None, described: Version, units: str) -> Iterator[EdgeRow]:
    band, posted = found.band, posted_of(described.content)
    if band is None or fact is None:
        return
    winds = dict(fact.wind_mps)
    computed = {
        "least": fact.mass_min_kg,
        "most": fact.mass_max_kg,
        "head": winds.get("head"),
        "tail": winds.get("tail"),
        "cross": winds.get("cross"),
    }
    bounds = {
        "least": posted.least_kg, "most": posted.most_kg,
        "head": posted.head_mps, "tail": posted.tail_mps, "cross": posted.cross_mps,
    }  # fmt: skip
    for name, unit, toward in (
        ("least", "kg", "up"), ("most", "kg", "down"),
        ("head", "m/s", "down"), ("tail", "m/s", "down"), ("cross", "m/s", "down"),
    ):  # fmt: skip
        if getattr(band, name) is None:
            continue
        told, bound = computed[name], in_both(f"{bounds[name]:g}", unit, units)
        edge = _edge(band, name)
        yield EdgeRow(
            label=str(WHICH[name]),
            computed=bound if told is None else in_both(f"{told:f}", unit, units, toward=toward),
            posted=bound,
            why=edge,
            narrows=getattr(band, name).set_by != "posted",
        )


def _edge(band: Band, name: str) -> str:
    edge = getattr(band, name)
    why = str(_(EDGES[edge.set_by]))
    return why if edge.of_map in ("", "new") else f"{why} ({LOOKED_AT[edge.of_map]})"
