"""What a morning's test ride differs from what was to be expected at its wind, weight and temperature.

residual = measured - expected, in the unit of the quantity (brake travel in m, arrival speed in m/s). Expected is what
the computation of ride and brakes gives at the *measured* conditions. What that computation has wrong for this line is
the same every morning and lies in the baseline's centre; what it does not know comes out as scatter. Without the wind,
the weight or the temperature there is no residual: nothing is filled in. One chart takes one ballast, within a band.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime

from engineering.control_words import Note, note
from engineering.refusal import Refusal

STROKE = "stroke"  # how far the brake was driven, from the marks, in m
ARRIVAL_SPEED = "arrival-speed"  # where there is an instrument, in m/s
UNITS = {STROKE: "m", ARRIVAL_SPEED: "m/s"}
MOST = {STROKE: 100.0, ARRIVAL_SPEED: 60.0}  # judgement: more is a slip of the unit


@dataclass(frozen=True)
class Plan:
    """What one line charts, set by the engineer. SI units; ``gauge_u`` is the gauge's own standard uncertainty.

    Rides outside the band of ballast or wind are not charted. ``both_sides`` also watches for a creep downwards (the
    single morning is always watched on both sides). ``charts`` is how many charts the course has. No moving range is
    taken across more than ``gap_days`` days. Hand brakes are not charted: their travel is the hand's.
    """

    quantity: str
    ballast_low_kg: float
    ballast_high_kg: float
    head_low_mps: float
    head_high_mps: float
    charts: int
    gauge_u: float = 0.0
    both_sides: bool = False
    gap_days: int = 7

    def __post_init__(self) -> None:
        if self.quantity not in UNITS:
            raise ValueError(f"not a charted quantity: {self.quantity!r}")


@dataclass(frozen=True)
class MorningRide:
    """One test ride as entered; ``None`` is what was not measured. ``at`` is in the course's zone.

    ``head_mps`` is the wind along the line against the rider (a tail wind is negative), ``cross_mps`` that across it,
    for the computation. ``good``: the day's own verdict on the ride was ok; only good rides make a baseline.
    ``struck`` is the reason why a person struck it from the baseline.
    """

    at: datetime | None
    measured: float | None
    mass_kg: float | None
    head_mps: float | None
    temperature_c: float | None
    cross_mps: float | None = 0.0
    arrived: bool = True
    good: bool = True
    struck: str = ""


Model = Callable[[MorningRide], float | Refusal]


@dataclass(frozen=True)
class Residual:
    """A ride's residual, and the ride."""

    ride: MorningRide
    at: datetime
    value: float

    @property
    def day(self) -> date:
        """Return the course's day of the ride."""
        return self.at.date()


@dataclass(frozen=True)
class Dropped:
    """A ride that is not on the chart, and why; ``because`` is the computation's own reason if it refused."""

    ride: MorningRide
    note: Note
    because: Refusal | None = None


def plan_problem(plan: Plan) -> Note | None:
    """Return which setting of the plan cannot be, if any."""
    for name, low, high in (
        ("ballast", plan.ballast_low_kg, plan.ballast_high_kg),
        ("wind", plan.head_low_mps, plan.head_high_mps),
    ):
        if not -math.inf < low <= high < math.inf:
            return note("setting-impossible", name=name, value=low if math.isfinite(high) else high)
    if not plan.ballast_low_kg > 0.0:
        return note("setting-impossible", name="ballast", value=plan.ballast_low_kg)
    if not (plan.gauge_u == 0.0 or 1e-6 <= plan.gauge_u <= MOST[plan.quantity]):
        return note("setting-impossible", name="gauge", value=plan.gauge_u)
    if not 1 <= plan.charts < math.inf:
        return note("setting-impossible", name="charts", value=plan.charts)
    return note("setting-impossible", name="gap", value=plan.gap_days) if plan.gap_days < 1 else None


def residual(ride: MorningRide, plan: Plan, model: Model) -> Residual | Dropped:
    """Return what the ride measured less what ``model`` expects at its conditions, or why it cannot be charted.

    >>> from datetime import UTC
    >>> plan = Plan(STROKE, 79.0, 81.0, -3.0, 3.0, charts=8)
    >>> ride = MorningRide(datetime(2026, 5, 4, 8, tzinfo=UTC), 2.5, 80.0, 0.5, 12.0)
    >>> round(residual(ride, plan, lambda ride: 2.2).value, 6)
    0.3
    """
    problem = _ride_problem(ride, plan)
    if problem or ride.measured is None or ride.at is None:
        return Dropped(ride, problem or note("value-missing"))
    expected = model(ride)
    if isinstance(expected, Refusal):
        return Dropped(ride, note("model-refused"), expected)
    if not 0.0 <= expected <= MOST[plan.quantity]:
        return Dropped(ride, note("model-refused"))
    return Residual(ride, ride.at, ride.measured - expected)


def _ride_problem(ride: MorningRide, plan: Plan) -> Note | None:
    if ride.at is None:
        return note("time-missing")
    if not ride.arrived:
        return note("not-arrived")
    for value, code in (
        (ride.measured, "value-missing"),
        (ride.mass_kg, "ballast-missing"),
        (ride.head_mps, "wind-missing"),
        (ride.cross_mps, "wind-missing"),
        (ride.temperature_c, "temperature-missing"),
    ):
        if value is None or math.isnan(value):
            return note(code)
        if math.isinf(value):
            return note("value-impossible", value=value)
    if ride.measured is None or ride.mass_kg is None or ride.head_mps is None:
        return note("value-missing")
    if not 0.0 <= ride.measured <= MOST[plan.quantity]:
        return note("value-impossible", value=ride.measured)
    if not plan.ballast_low_kg <= ride.mass_kg <= plan.ballast_high_kg:
        return note("ballast-other", value=ride.mass_kg, low=plan.ballast_low_kg, high=plan.ballast_high_kg)
    if not plan.head_low_mps <= ride.head_mps <= plan.head_high_mps:
        return note("wind-other", value=ride.head_mps, low=plan.head_low_mps, high=plan.head_high_mps)
    return None
