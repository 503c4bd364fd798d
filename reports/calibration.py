"""A line calibrated by its test rides: which rides, what follows from them, what would become of the line's figures.

Nothing is stored by looking: what is found becomes the line's only as a version of its mechanics, proposed by one
person and confirmed by another. A calibration sharpens advice; it never clears a line.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

import numpy as np
from django.urls import reverse
from django.utils.translation import gettext as _

from courses.handed_over import calibration_query
from courses.mechanics import plan_of, posted_of
from courses.models import Place
from courses.queries import Setup
from courses.refusals import figure, figures_in, sentence_of
from engineering.calibrate import GOOD_SPREAD_KG, NOTES, PRIOR_ROLLING, Calibration, fit_drag
from engineering.calibrate_predict import calibrated_plan
from engineering.calibrate_rides import BallastRide, Gauge
from engineering.envelope import Plan
from engineering.envelope_band import grid
from engineering.envelope_notes import CalibratedBy
from engineering.refusal import Refusal
from engineering.sentences import units_of
from inspections.figures import number
from inspections.models import Ride

MOST_RIDES = 120
USUAL_DAYS = 60  # rides asked for where nobody says since when: a season changes a line less than a year (judgement)
SPEED_SD_MPS, WIND_SD_MPS = 0.15, 0.5  # of a radar by hand, and of a wind read once for a whole span (judgement)


@dataclass(frozen=True)
class Row:
    """One test ride: what the calibrated line gives, how far what was measured lies from it, or why it is not used."""

    ride: Ride
    computed_mps: float | None
    apart_mps: float | None
    why: str
    left_to: bool  # taken out by the person who looks


@dataclass(frozen=True)
class Found:
    """What the rides say; ``problem`` where they say nothing. ``propose``: the form of the mechanics, filled in.

    Rides left out by hand need a reason; without one there is no ``propose`` but ``asks_why``.
    ``is_looked``: the rides were looked at one by one; without figures of the line there is nothing to look with.
    """

    rows: tuple[Row, ...]
    problem: str = ""
    made: Calibration | None = None
    by: CalibratedBy | None = None
    notes: tuple[str, ...] = ()
    propose: str = ""
    asks_why: bool = False
    is_looked: bool = True


def rides_of(line: Place, since: date, until: date) -> list[Ride]:
    """Return the line's normal ballast rides that arrived, newest first; what was ridden before work counts too."""
    rows = (
        Ride.objects.filter(place=line, day__date__range=(since, until))
        .select_related("day")
        .order_by("-rode_at")[: 4 * MOST_RIDES]
    )
    normal = [one for one in rows if one.fields.get("kind") != "emergency" and one.fields.get("reached") == "yes"]
    return normal[:MOST_RIDES]


def air_of(rides: Sequence[Ride], course_rides: Sequence[Ride]) -> dict[Any, float]:
    """Return the air temperature at each ride: its own, else the one read nearest in time on its day on the course."""
    by_day: dict[Any, list[Ride]] = {}
    for one in course_rides:
        if number(one.fields.get("air_c")) is not None:
            by_day.setdefault(one.day_id, []).append(one)
    found = {}
    for ride in rides:
        near = sorted(by_day.get(ride.day_id, ()), key=lambda one: abs(one.rode_at - ride.rode_at))
        if near:
            found[ride.pk] = float(near[0].fields["air_c"])
    return found


def as_ballast(ride: Ride, air_c: float | None, plan: Plan, *, accepted: bool) -> BallastRide:
    """Return a ride as the computation takes it; what is missing stays missing."""
    wind = number(ride.fields.get("wind_mps"))
    along = {"head": 1.0, "tail": -1.0, "cross": 0.0, "calm": 0.0}.get(str(ride.fields.get("wind_from", "")))
    mass, speed = number(ride.mass), number(ride.speed)
    pressure = plan.air.pressure_pa
    return BallastRide(
        mass_kg=None if mass is None else float(mass),
        arrival_mps=None if speed is None else float(speed),
        head_mps=None if wind is None or along is None else along * float(wind),
        temperature_c=air_c,
        cross_mps=float(wind) if wind is not None and ride.fields.get("wind_from") == "cross" else 0.0,
        pressure_pa=None if pressure is None else float(pressure),
        launch_mps=None if plan.launch_mps is None else float(plan.launch_mps),
        accepted=accepted,
    )


def find(
    setup: Setup, line: Place, rides: Sequence[Ride], air: Mapping[Any, float], *,
    without: Collection[str] = (), because: str = "", speed_sd: float = SPEED_SD_MPS, wind_sd: float = WIND_SD_MPS,
) -> Found:  # fmt: skip
    """Fit the drag area of a line to its rides.

    ``without``: identities of rides that the person leaves out; ``because``: the reason that was given for it.
    """
    document, mechanics, units = setup.document(line), setup.mechanics(line), setup.course.units
    warm = [air[one.pk] for one in rides if one.pk in air]
    usual = float(np.median(warm)) if warm else 15.0
    plan = plan_of(document, mechanics, air_c=usual, cross_mps=0.0)
    if isinstance(plan, Refusal):
        plain = tuple(Row(one, None, None, _why(one, "", without), str(one.pk) in without) for one in rides)
        return Found(plain, sentence_of(plan, units), is_looked=False)
    given = [as_ballast(one, air.get(one.pk), plan, accepted=str(one.pk) not in without) for one in rides]
    gauge = Gauge(plan.landing.start_m, speed_sd, wind_sd)
    # Rolling is what the mechanics say where somebody measured it; else the usual one with its wide prior.
    rolling = number(mechanics.get("rider", {}).get("rolling"))
    prior = (float(rolling), PRIOR_ROLLING[1]) if rolling is not None else PRIOR_ROLLING
    made = fit_drag(plan.line, given, gauge, prior, by_weight=plan.drag_by_weight)
    why = {number_: sentence_of(refused, units) for number_, one in enumerate(given) if (refused := one.problem(0))}
    if isinstance(made, Refusal):
        plain = tuple(
            Row(one, None, None, _why(one, why.get(i, ""), without), str(one.pk) in without)
            for i, one in enumerate(rides)
        )
        return Found(plain, sentence_of(made, units))
    left = list(made.residuals_mps)
    rows: list[Row] = []
    for i, one in enumerate(rides):
        apart = None if i in why else left.pop(0)
        speed = number(one.speed)
        computed = None if apart is None or speed is None else float(speed) - apart
        rows.append(Row(one, computed, apart, _why(one, why.get(i, ""), without), str(one.pk) in without))
    axes = grid(posted_of(document))
    by = None if isinstance(axes, Refusal) else calibrated_plan(plan, made, *axes)
    if by is None or isinstance(by, Refusal):
        refused = axes if isinstance(axes, Refusal) else by
        return Found(tuple(rows), sentence_of(refused, units) if isinstance(refused, Refusal) else "")
    is_chosen = any(row.left_to for row in rows)
    return Found(
        rows=tuple(rows),
        made=made,
        by=by[1],
        notes=tuple(_note(code, units) for code in made.notes),
        propose=_proposal(setup, line, rows, made, by[1], because) if because or not is_chosen else "",
        asks_why=is_chosen,
    )


def _note(code: str, units: str) -> str:
    source = NOTES[code]
    return str(_(source)) % figures_in({"least": f"{GOOD_SPREAD_KG:g}"}, units_of(source), units)


def _why(ride: Ride, why: str, without: Collection[str]) -> str:
    return _("Left out here.") if str(ride.pk) in without else why


def _proposal(
    setup: Setup, line: Place, rows: Sequence[Row], made: Calibration, by: CalibratedBy, because: str
) -> str:  # fmt: skip
    """Return the address of the form of the mechanics with what was found filled in, and what it was found from."""
    days = [row.ride.day.date for row in rows if not row.why]
    told = {
        "rider__drag_area_m2": f"{made.drag_area_m2:.4g}",
        "rider__rolling": f"{made.rolling:.4g}",
        "rider__by_weight": "yes" if made.by_weight else "no",
        "calibration__rides": str(by.rides),
        "calibration__least_kg": f"{by.least_kg:.6g}",
        "calibration__most_kg": f"{by.most_kg:.6g}",
        "calibration__interval_mps": f"{np.ceil(by.interval_mps * 100) / 100:.2f}",
        "calibration__on": max(days).isoformat(),
    }
    left_out = "; ".join(_named(row.ride, setup) for row in rows if row.left_to)
    query = calibration_query(told, of=len(rows), first=min(days), left_out=left_out, why=because)
    return reverse("courses:mechanics_edit", args=[setup.course.pk, line.pk]) + f"?{query}"


def _named(ride: Ride, setup: Setup) -> str:
    """Name a ride so that it is found again in the record: its day and time on the course, its weight."""
    mass = number(ride.mass)
    told = _("weight not entered") if mass is None else figure(float(mass), "kg", setup.course.units)
    return f"{ride.rode_at.astimezone(setup.course.zone):%Y-%m-%d %H:%M} {told}"


def usual_since(setup: Setup, line: Place) -> date:
    """Return from when rides are looked at: the tension's day where it is nearer than the usual span of days."""
    since: date = setup.today - timedelta(days=USUAL_DAYS)
    tension = setup.mechanics(line).get("tension_date")
    return max(since, date.fromisoformat(tension)) if tension else since
