"""A line seen from the side, in figures: the cable without a rider and under one, and how fast he goes along it. SI.

What is drawn and what stands in the table beside the drawing are these figures. The ground below the line is not known
here and no clearance above it is told. Planning figures: nothing here clears anything.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from engineering.cable import span_of
from engineering.envelope import Plan, outcome, plan_problem
from engineering.envelope_cells import CELL_NAMES, drag_area_by_weight
from engineering.line import G_MPS2, FloatArray, Rider, Wind
from engineering.refusal import Refusal, refuse
from engineering.ride import ride

PLACES = 101  # along the line; a hundredth of it is narrower than what one sees


@dataclass(frozen=True)
class Rode:
    """One rider: ``height_m`` of the cable under him at each place of the view, ``speed_mps`` (nan beyond the end of
    his ride, which is where he stops short or where the brake zone begins).

    ``arrival_mps`` and ``stops_m`` (from the launch) are ``None`` where he does not arrive or is not stopped;
    ``short_m`` is where he stops short of the brake. ``state`` is one of ``CELL_NAMES``.
    """

    mass_kg: float
    height_m: FloatArray
    speed_mps: FloatArray
    arrival_mps: float | None
    top_mps: float
    short_m: float | None
    stops_m: float | None
    state: str

    @property
    def end_m(self) -> float | None:
        """Return where he ends: in the brake zone, or short of it; ``None`` if he is not stopped at all."""
        return self.stops_m if self.short_m is None else self.short_m


@dataclass(frozen=True)
class SideView:
    """The line: places and heights in m from the launch support (down is negative), the riders heaviest first."""

    x_m: FloatArray
    bare_m: FloatArray
    riders: tuple[Rode, ...]
    drop_m: float
    zone_m: tuple[float, float]
    head_mps: float

    @property
    def span_m(self) -> float:
        return float(self.x_m[-1])


def side_view(plan: Plan, masses_kg: Sequence[float], head_mps: float | None) -> SideView | Refusal:
    """Return the line with each of these riders alone on it, or why it cannot be computed for one of them.

    >>> from engineering.brakes import Spring
    >>> from engineering.envelope import Landing
    >>> from engineering.envelope_cells import StopLimits
    >>> from engineering.line import Air, Cable, Line, Rider
    >>> line = Line(300.0, 18.0, Cable(1.05, 10e6), 15_000.0)
    >>> plan = Plan(line, Landing(294.0, 5.0), [Spring(1200.0, 200.0, 3.0)], Rider(None), Air(15.0),
    ...             StopLimits(mean_g=3.0, peak_g=6.0))
    >>> seen = side_view(plan, [100.0, 40.0], 0.0)
    >>> [one.state for one in seen.riders], round(float(seen.bare_m[50]), 2)
    (['ok', 'short'], -16.74)
    """
    line, landing = plan.line, plan.landing
    problem = plan_problem(plan)
    celsius = plan.air.temperature_c if plan.cable_c is None else plan.cable_c
    if problem or line.span_m is None or line.drop_m is None or landing.start_m is None or landing.length_m is None:
        return problem or refuse("figure-missing")
    if celsius is None or head_mps is None:
        return refuse("temperature-missing" if celsius is None else "wind-missing")
    span = span_of(line, celsius)
    if isinstance(span, Refusal):
        return span
    x = np.linspace(0.0, line.span_m, PLACES)
    riders = []
    for mass in sorted(masses_kg, reverse=True):
        found = _rode(plan, mass, head_mps, x)
        if isinstance(found, Refusal):
            return found
        riders.append(found)
    bare = np.asarray(span.height(x, 0.0, span.tension(0.0, 0.0)))
    zone = landing.start_m, min(landing.start_m + landing.length_m, line.span_m)
    return SideView(x, bare, tuple(riders), line.drop_m, zone, head_mps)


def _rode(plan: Plan, mass: float, head: float, x: FloatArray) -> Rode | Refusal:
    celsius = plan.air.temperature_c if plan.cable_c is None else plan.cable_c
    span = span_of(plan.line, celsius if celsius is not None else np.nan)
    if isinstance(span, Refusal):
        return span
    load = mass * G_MPS2
    traced = ride(
        plan.line,
        _rider(plan, mass),
        Wind(head, plan.cross_mps),
        plan.air,
        launch_mps=plan.launch_mps,
        end_m=plan.landing.start_m,
        cable_c=plan.cable_c,
        traced=True,
    )
    if isinstance(traced, Refusal) or traced.trace is None:
        return traced if isinstance(traced, Refusal) else refuse("figure-missing")
    found = outcome(plan, mass, head, ridden=traced)
    if isinstance(found, Refusal):
        return found
    arrived, stopped = bool(found.ride.arrived), bool(found.stop.names() == ["stopped"])
    short = None if arrived else float(traced.stall_m)
    until = plan.landing.start_m if short is None else short
    speed = np.interp(x, traced.trace.x_m, traced.trace.speed_mps)
    return Rode(
        mass_kg=mass,
        height_m=np.asarray(span.height(x, load, span.tension(x, load))),
        speed_mps=np.where(x <= (until or 0.0), speed, np.nan),
        arrival_mps=float(traced.arrival_mps) if arrived else None,
        top_mps=float(traced.top_mps),
        short_m=short,
        stops_m=(plan.landing.start_m or 0.0) + float(found.stop.stroke_m) if arrived and stopped else None,
        state=CELL_NAMES[int(found.state)],
    )


def _rider(plan: Plan, mass: float) -> Rider:
    rider = replace(plan.rider, mass_kg=mass)
    if plan.drag_by_weight and rider.drag_area_m2 is not None:
        return replace(rider, drag_area_m2=drag_area_by_weight(rider.drag_area_m2, mass))
    return rider
