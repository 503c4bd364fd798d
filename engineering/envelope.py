"""The map of weights and winds: who arrives, who stops within the limits, who does not and why. SI units.

Each cell is one ride along the loaded cable (``engineering.ride``) and one stop in the brake zone
(``engineering.brakes_stop``). The map is advice: it can narrow what is posted, and never clears anything. What is not
known refuses; it is never taken as usual.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from engineering.brakes import Part, parts_problem
from engineering.brakes_stop import ZONE_M, Stop, Zone, stop
from engineering.cable import span_of
from engineering.envelope_cells import (
    CELL_NAMES,
    StopLimits,
    after_ride,
    after_stop,
    drag_area_by_weight,
    worst,
)
from engineering.line import G_MPS2, Air, Figure, FloatArray, Line, Rider, Wind, line_problem, outside
from engineering.refusal import Refusal, refuse
from engineering.ride import Ride, ride

STEPS = 200
INTERVAL_MPS = (0.0, 10.0)
# Of a rider and a trolley as entered, as wide as a calibration may find them (own judgement): people were measured with
# 0.25 to 0.98 m² (READ), trolleys roll with about 0.005 to 0.03 (from memory).
RIDER_DRAG_M2 = (0.10, 1.2)
TROLLEY_ROLLING = (0.001, 0.05)


@dataclass(frozen=True)
class Landing:
    """The brake zone on the line: from ``start_m`` (horizontal, from the launch support) over ``length_m``.

    ``slope`` is a measured driving slope of the zone (uphill towards the landing positive); ``None`` takes it from the
    loaded cable, for each weight. A rider who stops before ``capture_m`` of the zone was not caught.
    """

    start_m: float | None
    length_m: float | None
    slope: float | None = None
    capture_m: float = 0.0


@dataclass(frozen=True)
class Plan:
    """All that a map is computed from, but weights and winds along the line.

    Of ``rider`` the weight is not used; its drag area is that of a rider of 80 kg with ``drag_by_weight``.
    ``interval_mps`` is by how much the arrival speed may be off (a calibration's prediction interval): each cell is
    judged at the speed and at that much more, and is slow at that much less.
    """

    line: Line
    landing: Landing
    parts: Sequence[Part]
    rider: Rider
    air: Air
    limits: StopLimits = field(default_factory=StopLimits)
    cross_mps: float | None = 0.0
    launch_mps: float | None = 0.0
    cable_c: Figure | None = None
    drag_by_weight: bool = False
    interval_mps: Figure | None = 0.0


@dataclass(frozen=True)
class Outcome:
    """Ride, stop (at the nominal speed) and state of riders of one shape; ``state`` indexes ``CELL_NAMES``."""

    state: NDArray[np.int8]
    ride: Ride
    stop: Stop

    def names(self) -> list[str]:
        """Return the states by name, in flat order."""
        return [CELL_NAMES[one] for one in self.state.flat]


def plan_problem(plan: Plan) -> Refusal | None:
    """Return why nothing can be computed for a plan, or ``None``."""
    line, landing = plan.line, plan.landing
    found = line_problem(line) or plan.limits.problem() or outside(landing.length_m, "zone", ZONE_M)
    if found or line.span_m is None or landing.length_m is None:
        return found or refuse("span-missing")
    found = outside(landing.start_m, "landing", (line.span_m / 2.0, line.span_m))
    found = found or outside(landing.capture_m, "capture", (0.0, landing.length_m), missing="figure-missing")
    if plan.interval_mps is None or np.ndim(plan.interval_mps) == 0:
        known = None if plan.interval_mps is None else float(plan.interval_mps)
        found = found or outside(known, "interval", INTERVAL_MPS)
    return found or _rider_problem(plan.rider) or parts_problem(plan.parts, landing.length_m)


def _rider_problem(rider: Rider) -> Refusal | None:
    """Return why nobody rides as entered: a ride can be computed without air and rolling, but there is none."""
    for name, value, within in (
        ("drag", rider.drag_area_m2, RIDER_DRAG_M2),
        ("rolling", rider.rolling, TROLLEY_ROLLING),
    ):
        if value is None or np.ndim(value) == 0:
            found = outside(None if value is None else float(value), name, within)
            if found:
                return found
    return None


def outcome(
    plan: Plan,
    mass_kg: Figure | None,
    head_mps: Figure | None,
    *,
    rider: Rider | None = None,
    cross_mps: Figure | None = None,
    air: Air | None = None,
    tension_n: Figure | None = None,
    steps: int = STEPS,
    ridden: Ride | None = None,
) -> Outcome | Refusal:
    """Return what becomes of riders of these weights in these winds, arrays or single figures.

    ``rider``, ``cross_mps``, ``air`` and ``tension_n`` replace those of the plan (draws). A single figure that is
    missing or outside its range refuses; in an array that element is ``unknown`` or ``outside``. ``ridden`` is the ride
    where it was computed already, for a plan that differs in its brakes or limits alone.
    """
    problem = plan_problem(plan)
    landing, interval = plan.landing, plan.interval_mps
    if problem or landing.start_m is None or interval is None:
        return problem or refuse("figure-missing")
    rider = replace(rider or plan.rider, mass_kg=mass_kg)
    if rider.mass_kg is not None and rider.drag_area_m2 is not None and plan.drag_by_weight:
        rider = replace(rider, drag_area_m2=drag_area_by_weight(rider.drag_area_m2, rider.mass_kg))
    wind, air = Wind(head_mps, plan.cross_mps if cross_mps is None else cross_mps), air or plan.air
    cable_c = air.temperature_c if plan.cable_c is None else plan.cable_c
    found = ridden or ride(
        plan.line,
        rider,
        wind,
        air,
        launch_mps=plan.launch_mps,
        end_m=landing.start_m,
        tension_n=tension_n,
        cable_c=cable_c,
        steps=steps,
    )
    if isinstance(found, Refusal):
        return found
    ridden = found
    zone = zone_of(plan.line, landing, rider.mass_kg, cable_c, tension_n)
    if isinstance(zone, Refusal):
        return zone
    limit = plan.limits.peak_g or 0.0
    nominal = _stop(plan, zone, rider, ridden.arrival_mps, wind, air, limit)
    if isinstance(nominal, Refusal):
        return nominal
    came: NDArray[np.bool_] = ridden.arrived
    state = after_ride(ridden, plan.limits, interval)
    state = worst(state, np.where(came, after_stop(nominal, plan.limits, landing.capture_m), 0))
    if np.any(interval):
        faster = _stop(plan, zone, rider, ridden.arrival_mps + interval, wind, air, limit)
        if isinstance(faster, Refusal):
            return faster
        state = worst(state, np.where(came, after_stop(faster, plan.limits, landing.capture_m), 0))
    return Outcome(state.astype(np.int8), ridden, nominal)


def _stop(
    plan: Plan, zone: Zone, rider: Rider, speed: FloatArray, wind: Wind, air: Air, limit: float
) -> Stop | Refusal:
    """Stop who arrived. Of the others the speed is nan: as elements of an array they are left out, not refused."""
    found = stop(plan.parts, zone, rider, np.atleast_1d(speed), wind, air, over_g=limit)
    return found if isinstance(found, Refusal) else found.shaped(np.shape(speed))


def zone_of(
    line: Line, landing: Landing, mass_kg: Figure | None, cable_c: Figure | None, tension_n: Figure | None = None
) -> Zone | Refusal:
    """Return the brake zone with its driving slope under each weight, by a straight line between its two ends.

    >>> from engineering.line import Cable
    >>> line = Line(300.0, 18.0, Cable(1.05, 10e6), 15_000.0)
    >>> zone = zone_of(line, Landing(290.0, 8.0), 80.0, 15.0)
    >>> round(float(zone.slope), 3), round(float(zone.slope_per_m), 4)
    (0.056, 0.0013)
    """
    if landing.start_m is None or landing.length_m is None or line.span_m is None:
        return refuse("landing-missing")
    if landing.slope is not None:
        return Zone(landing.length_m, landing.slope, 0.0, landing.capture_m)
    if mass_kg is None or cable_c is None:
        return refuse("mass-missing" if mass_kg is None else "temperature-missing")
    span = span_of(line, cable_c, tension_n)
    if isinstance(span, Refusal):
        return span
    load = mass_kg * G_MPS2
    end = min(landing.start_m + landing.length_m, line.span_m)
    begins, ends = (span.driving_slope(x, load, span.tension(x, load)) for x in (landing.start_m, end))
    growth = (ends - begins) / (end - landing.start_m) if end > landing.start_m else 0.0 * begins
    return Zone(landing.length_m, begins, growth, landing.capture_m)


@dataclass(frozen=True)
class Map:
    """The map: one row per weight in kg, one column per wind along the line in m/s (head wind positive)."""

    plan: Plan
    masses_kg: FloatArray
    winds_mps: FloatArray
    cells: Outcome
    steps: int

    @property
    def state(self) -> NDArray[np.int8]:
        """Return the states, indexes of ``CELL_NAMES``."""
        return self.cells.state

    def names(self) -> list[list[str]]:
        """Return the states by name, a list for each weight."""
        return [[CELL_NAMES[one] for one in row] for row in self.state]


def weight_wind_map(
    plan: Plan,
    masses_kg: Sequence[float] | FloatArray,
    winds_mps: Sequence[float] | FloatArray,
    *,
    steps: int = STEPS,
    beside: Map | None = None,
) -> Map | Refusal:
    """Return the map of these weights and winds.

    ``beside`` is a map of the same line, riders, air, weights and winds with other brakes or limits: its rides are
    taken over. Raises ``ValueError`` where it is not.

    Raises ``ValueError`` unless both are one row of at least two figures, each greater than the one before.

    >>> from engineering.brakes import Spring
    >>> from engineering.line import Cable
    >>> line = Line(300.0, 18.0, Cable(1.05, 10e6), 15_000.0)
    >>> plan = Plan(line, Landing(294.0, 5.0), [Spring(1200.0, 200.0, 3.0)], Rider(None), Air(15.0),
    ...             StopLimits(mean_g=3.0, peak_g=6.0))
    >>> weight_wind_map(plan, [60.0, 100.0], [-6.0, -2.0, 2.0]).names()
    [['ok', 'ok', 'short'], ['bind', 'ok', 'ok']]
    """
    masses, winds = np.asarray(masses_kg, float), np.asarray(winds_mps, float)
    for axis in (masses, winds):
        if axis.ndim != 1 or axis.size < 2 or not np.all(np.diff(axis) > 0):
            raise ValueError("weights and winds are rows of at least two growing figures")
    if beside is not None and not _same_rides(beside, plan, masses, winds, steps):
        raise ValueError("the map beside is one of other rides")
    ridden = beside.cells.ride if beside is not None else None
    found = outcome(plan, masses[:, None], winds[None, :], steps=steps, ridden=ridden)
    return found if isinstance(found, Refusal) else Map(plan, masses, winds, found, steps)


def _same_rides(one: Map, plan: Plan, masses: FloatArray, winds: FloatArray, steps: int) -> bool:
    """Tell whether the rides of a map are those of a plan: all alike but brakes, limits and what the zone is for."""
    like = replace(one.plan, parts=plan.parts, limits=plan.limits, landing=plan.landing, interval_mps=plan.interval_mps)
    return (
        like == plan
        and one.plan.landing.start_m == plan.landing.start_m
        and one.steps == steps
        and np.array_equal(one.masses_kg, masses)
        and np.array_equal(one.winds_mps, winds)
    )
