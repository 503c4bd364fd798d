"""For engineers who want the numbers in a notebook: a line as the computation takes it, its rides, its map, its band.

Start a notebook or a shell with Django set up (``manage.py shell``, on the demo ``make demo-manage DO=shell``)::

    from django.utils import timezone
    from reports.notebook import line
    two = line("Fernhollow Zip Course", 2, at=timezone.now())   # a course's name, a line's number, as of when
    two.plan(air_c=12)                         # everything that is computed with, in SI units
    two.ride([40, 80, 115], head_mps=1.5, air_c=12)
    two.map(air_c=12).names()                  # a state for every weight and wind
    two.band(head_mps=1.5, gust_mps=1.0, air_c=12)
    two.draws(80, head_mps=1.5, air_c=12, seed=7)
    two.rides(since="2026-09-01")              # the test rides as they are in the record
    two.calibration(since="2026-09-01")

Everything reads and nothing writes. What cannot be computed is a ``Refusal`` with its ``sentence``, never an exception
and never a guess. The functions of ``engineering`` take the same objects, such as ``two.plan(air_c=12).line``. A
planning aid: none of it opens a line or clears anything.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any

import numpy as np

from courses import origins
from courses.mechanics import plan_of, posted_of
from courses.mechanics_sources import sources_of
from courses.models import Course, Place, Version
from courses.queries import Setup, setup_at
from engineering.brakes_worn import ARRANGEMENTS
from engineering.calibrate import Calibration, fit_drag
from engineering.calibrate_rides import Gauge
from engineering.envelope import Map, Plan, outcome, weight_wind_map
from engineering.envelope_band import Band, day_band, grid
from engineering.envelope_cross import cross_edge
from engineering.envelope_draws import Drawn, Spread, draw
from engineering.envelope_notes import Source
from engineering.refusal import Refusal
from inspections.models import Ride
from reports import calibration as fitting

ORDER = ("new", "worn", "emergency-alone")


@dataclass(frozen=True)
class Row:
    """One computed ride: its state by name, and figures in SI units (``None`` where the state has none)."""

    mass_kg: float
    state: str
    arrival_mps: float | None
    travel_m: float | None
    used: float | None
    mean_g: float | None
    peak_g: float | None


@dataclass(frozen=True)
class Line:
    """One line of a course, as its documents in force describe it."""

    setup: Setup
    place: Place

    @property
    def document(self) -> Mapping[str, Any]:
        """Return the line's data in force: decimal text in metric units."""
        return self.setup.document(self.place)

    @property
    def mechanics(self) -> Mapping[str, Any]:
        """Return the line's mechanics in force, empty where none are entered."""
        return self.setup.mechanics(self.place)

    @property
    def sources(self) -> dict[str, Source]:
        """Return where each figure is from, by its key in ``engineering.envelope_notes.trace``; all brakes as new."""
        return self.sources_with("new")

    def sources_with(self, arrangement: str) -> dict[str, Source]:
        """Return where each figure of a plan with these brakes is from: the version since which it stands unchanged."""
        described, entered = (
            self.setup.version(kind, self.place.pk) for kind in (Version.Kind.LINE, Version.Kind.MECHANICS)
        )
        found = origins.of_versions([described, entered])
        return sources_of(
            self.document,
            self.mechanics,
            where=entered.source if entered else "",
            line_where=described.source if described else "",
            origins=found[entered.pk] if entered else None,
            line_origins=found[described.pk] if described else None,
            arrangement_of=arrangement,
            asked="typed by who asks",
            zone=self.setup.course.zone,
        )

    def plan(
        self, *, air_c: float | None, cross_mps: float = 0.0, cable_c: float | None = None, arrangement: str = "new"
    ) -> Plan | Refusal:
        """Return what is computed with. ``arrangement``: a key of ``engineering.brakes_worn.ARRANGEMENTS``."""
        _ = ARRANGEMENTS[arrangement]
        return plan_of(
            self.document, self.mechanics, air_c=air_c, cross_mps=cross_mps, cable_c=cable_c, arrangement_of=arrangement
        )

    def ride(
        self, masses_kg: Sequence[float], *, head_mps: float | None, air_c: float | None, **more: Any
    ) -> list[Row] | Refusal:
        """Ride these weights against ``head_mps`` (a tail wind is negative); ``more`` as for ``plan``."""
        plan = self.plan(air_c=air_c, **more)
        if isinstance(plan, Refusal):
            return plan
        masses = np.atleast_1d(np.asarray(masses_kg, float))
        found = outcome(plan, masses, head_mps)
        if isinstance(found, Refusal):
            return found
        return [
            Row(
                mass_kg=float(mass),
                state=name,
                arrival_mps=_known(found.ride.arrival_mps[i]),
                travel_m=_known(found.stop.stroke_m[i]),
                used=_known(found.stop.used[i]),
                mean_g=_known(found.stop.mean_g[i]),
                peak_g=_known(found.stop.peak_g[i]),
            )
            for i, (mass, name) in enumerate(zip(masses, found.names(), strict=True))
        ]

    def map(
        self,
        *,
        air_c: float | None,
        masses_kg: Sequence[float] | None = None,
        winds_mps: Sequence[float] | None = None,
        **more: Any,
    ) -> Map | Refusal:
        """Return the map of weights and winds; without them over all that is posted."""
        plan, axes = self.plan(air_c=air_c, **more), grid(posted_of(self.document))
        if isinstance(plan, Refusal):
            return plan
        if (masses_kg is None or winds_mps is None) and isinstance(axes, Refusal):
            return axes
        if not isinstance(axes, Refusal):
            masses_kg = axes[0].tolist() if masses_kg is None else masses_kg
            winds_mps = axes[1].tolist() if winds_mps is None else winds_mps
        return weight_wind_map(plan, masses_kg or (), winds_mps or ())

    def band(
        self, *, head_mps: float | None, gust_mps: float | None, air_c: float | None, cross_mps: float = 0.0,
        **more: Any,
    ) -> Band | Refusal:  # fmt: skip
        """Return the band of weights good in a wind of ``head_mps`` give or take ``gust_mps``, in all arrangements.

        An arrangement that cannot be computed (no worn limit entered, no emergency brake) is left out; the brakes as
        new never are. A wind across may fall to nothing: it is looked at beside none, not in its place. Where one is
        posted, the band says up to which it holds.
        """
        maps: dict[str, Map] = {}
        for name in ORDER:
            found = self.map(air_c=air_c, arrangement=name, **more)
            if isinstance(found, Map):
                maps[name] = found
            elif name == "new":
                return found
        if cross_mps:
            across = self.map(air_c=air_c, cross_mps=cross_mps, **more)
            if isinstance(across, Refusal):
                return across
            maps["cross wind"] = across
        posted, still = posted_of(self.document), maps["new"]
        band = day_band(maps, posted, head_mps, gust_mps)
        if isinstance(band, Refusal) or posted.cross_mps is None:
            return band
        return replace(band, cross=cross_edge(still.plan, still.masses_kg, band, posted.cross_mps))

    def draws(
        self, mass_kg: float, *, head_mps: float, air_c: float, seed: int, spread: Spread | None = None, **more: Any
    ) -> Drawn | Refusal:
        """Return what becomes of one weight where its figures are uncertain; the same seed gives the same draws."""
        plan = self.plan(air_c=air_c, **more)
        return plan if isinstance(plan, Refusal) else draw(plan, mass_kg, head_mps, spread, seed=seed)

    def rides(self, *, since: str | date) -> list[Ride]:
        """Return the line's ballast rides that arrived since a day, newest first."""
        return fitting.rides_of(self.place, _day(since), self.setup.today)

    def calibration(
        self, *, since: str | date, speed_sd: float = fitting.SPEED_SD_MPS, wind_sd: float = fitting.WIND_SD_MPS
    ) -> Calibration | Refusal:
        """Fit the drag area to the rides since a day; rolling is held near what the mechanics say."""
        rides = self.rides(since=since)
        air = fitting.air_of(
            rides, list(Ride.objects.filter(day_id__in={one.day_id for one in rides}, fields__has_key="air_c"))
        )
        plan = self.plan(air_c=float(np.median(list(air.values()))) if air else None)
        if isinstance(plan, Refusal):
            return plan
        given = [fitting.as_ballast(one, air.get(one.pk), plan, accepted=True) for one in rides]
        gauge = Gauge(plan.landing.start_m, speed_sd, wind_sd)
        return fit_drag(plan.line, given, gauge, by_weight=plan.drag_by_weight)


def line(course: str, number: int, *, at: datetime) -> Line:
    """Return a line by its course's name (or the beginning of its id) and its number, as of ``at``.

    Raises ``LookupError`` where there is none, or more than one course of that name.
    """
    found = [one for one in Course.objects.all() if course in (one.name, str(one.pk)) or str(one.pk).startswith(course)]
    if len(found) != 1:
        raise LookupError(f"{len(found)} courses are called {course!r}; there are: {', '.join(_names()) or 'none'}")
    setup = setup_at(found[0], at)
    place = next((one for one in setup.lines if one.number == number), None)
    if place is None:
        raise LookupError(f"{found[0]} has no line {number}")
    return Line(setup, place)


def _names() -> list[str]:
    return [one.name for one in Course.objects.order_by("name")]


def _day(text: str | date) -> date:
    return text if isinstance(text, date) else date.fromisoformat(text)


def _known(value: Any) -> float | None:
    return None if np.isnan(value) else float(value)
