"""From signed test rides to the charts of a line: what is charted, under which settings, and how it stands. No query.

One chart of brake travel per line, with the heavy ballast or that which the engineer set; one of the arrival speed
besides, where there is an instrument. A hand-operated brake is not charted for travel: that is the hand's. What was to
be expected of a ride comes from the line's mechanics at its wind, weight and temperature. Without one of them nothing
is computed for that ride, and nothing stands in for it. All of it advises: no line is held by it, and none is cleared.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time
from functools import cached_property
from types import MappingProxyType
from typing import Any, NamedTuple
from uuid import UUID
from zoneinfo import ZoneInfo

import numpy as np

from courses.chart_setting import ChartSetting, chart_setting_of
from courses.mechanics import plan_of, posted_of
from courses.mechanics_shape import PART_OF_BRAKE
from courses.models import Place, Version
from courses.queries import Setup
from engineering.control import LOOKED, SERVICE, Control, Mark, follow, look_first
from engineering.control_baseline import Baseline
from engineering.control_residual import ARRIVAL_SPEED, STROKE, Dropped, Model, MorningRide, Plan, Residual, residual
from engineering.control_words import Note, note
from engineering.envelope import outcome
from engineering.envelope_notes import MODEL
from engineering.exact import parse_exact
from engineering.line import WIND_MPS, Air
from engineering.refusal import Refusal, refuse
from engineering.units import UNITS
from inspections.figures import number

MEASURES = {STROKE: "stroke.used", ARRIVAL_SPEED: "arrival.speed"}
CHARTED_COLUMNS = {STROKE: "stroke_used", ARRIVAL_SPEED: "speed"}  # of a signed ride
UNIT_OF = {STROKE: "m", ARRIVAL_SPEED: "m/s"}
HEAVIER = 1.05  # times the posted maximum is still the heavy ballast (judgement)
CALM_MPS = 0.5  # said to be calm with more wind than this, its side is not known (judgement)
CHARTED_KIND = "normal"  # an emergency brake ridden by itself shows nothing of the primary one
WORKED_ON = ("primary", "cable", "end-")  # work on these begins a new baseline
# The key of a finding that an alarm opened, before the quantity and, of a figure too low, the side: no item of a
# checklist has it. An alarm of the other side is another finding: longer and shorter are looked for elsewhere.
FINDING_KEY = "chart@"
LOW_SIDE = "@low"
# Where the alarm's finding stands: the part that is looked at first. Work entered on it begins a new baseline.
FOUND_AT = {STROKE: "primary-1", ARRIVAL_SPEED: "cable"}


class Seen(NamedTuple):
    """A signed test ride. ``at`` is in the course's zone and on the course's day; ``kept`` what was judged of it."""

    pk: UUID
    seq: int
    at: datetime
    mass: str
    fields: Mapping[str, Any]
    figures: Mapping[str, str]
    verdict: str
    kept: Mapping[str, Any]


class Deed(NamedTuple):
    """Work on a line, or the release of a finding: what may restart a chart."""

    at: datetime
    kind: str
    slot: str
    key: str
    reason: str


class Expected(NamedTuple):
    """What the mechanics expect of a ride, by quantity; ``nan`` of a ballast that by them would not arrive."""

    figures: Mapping[str, float | Refusal]

    def of(self, quantity: str) -> float | Refusal:
        return self.figures.get(quantity, refuse("figure-missing"))


@dataclass(frozen=True)
class Basis:
    """The versions and the method that expectations are computed from. What one of them gave counts under it alone."""

    line: Version
    mechanics: Version

    @property
    def name(self) -> dict[str, str]:
        return {"line": str(self.line.pk), "mechanics": str(self.mechanics.pk), "model": MODEL}

    @cached_property
    def setting(self) -> ChartSetting:
        """Return what the engineer set for the charts of the line."""
        return chart_setting_of(self.mechanics.content)

    @cached_property
    def quantities(self) -> tuple[str, ...]:
        """Return what is charted on the line."""
        document = self.line.content
        kinds = {brake["kind"] for brake in document.get("brakes", ()) if brake.get("role") == "primary"}
        found = [] if "hand" in kinds or not kinds - {"runout"} else [STROKE]
        return (*found, ARRIVAL_SPEED) if document.get("speed_instrument") else tuple(found)

    @cached_property
    def brake(self) -> str:
        """Return as what the primary brake is computed; empty where there are several kinds. A run-out is no brake."""
        brakes = self.line.content.get("brakes", ())
        kinds = {brake["kind"] for brake in brakes if brake.get("role") == "primary"} - {"runout"}
        return PART_OF_BRAKE[kinds.pop()] if len(kinds) == 1 else ""


@dataclass(frozen=True)
class Charted:
    """One chart of a line: how it stands, its rides in order with residual or why there is none, what restarts it."""

    quantity: str
    control: Control
    rides: tuple[tuple[Seen, MorningRide, Residual | Dropped], ...] = ()
    marks: tuple[Mark, ...] = ()


def basis_of(setup: Setup, line: Place) -> Basis | None:
    """Return what the expectations of a line rest on; None where its mechanics are not entered."""
    described, mechanics = (setup.version(kind, line.pk) for kind in (Version.Kind.LINE, Version.Kind.MECHANICS))
    return None if described is None or mechanics is None else Basis(described, mechanics)


def charts_in(setup: Setup) -> int:
    """Return how many charts a course has: for so many together the limits are set."""
    return sum(len(basis.quantities) for line in setup.lines if (basis := basis_of(setup, line)) is not None)


def plan_for(setup: Setup, line: Place, basis: Basis, quantity: str) -> Plan | Note:
    """Return the settings of one chart, or what of them is missing: ballast, winds, scatter of the gauge.

    The ballast is that which the engineer set; where none is set, the posted maximum weight and a little more.
    """
    posted = posted_of(basis.line.content)
    ballast = ballast_of(basis)
    if ballast is None:
        return note("ballast-missing")
    return Plan(
        quantity,
        *ballast,
        -posted.tail_mps if posted.tail_mps is not None else WIND_MPS[0],
        posted.head_mps if posted.head_mps is not None else WIND_MPS[1],
        charts=max(charts_in(setup), 1),
        gauge_u=_gauge(setup, line, quantity),
        both_sides=quantity == ARRIVAL_SPEED,
    )


def ballast_of(basis: Basis) -> tuple[float, float] | None:
    """Return the lightest and the heaviest ballast in kg whose rides are compared; ``None`` where none is known."""
    set_to, most_kg = basis.setting, posted_of(basis.line.content).most_kg
    if set_to.least_kg is not None and set_to.most_kg is not None:
        return set_to.least_kg, set_to.most_kg
    return None if most_kg is None else (most_kg, most_kg * HEAVIER)


def compared_ballast(setup: Setup, line: Place) -> tuple[float, ...]:
    """Return the lightest and the heaviest ballast in kg that a line is compared with; empty where nothing is."""
    basis = basis_of(setup, line)
    return () if basis is None or not basis.quantities else ballast_of(basis) or ()


def _gauge(setup: Setup, line: Place, quantity: str) -> float:
    """Return the scatter of the gauge in SI units as set among the limits; nought where none is entered."""
    checklist, own = setup.checklist(line), setup.limits(line).get("items", {})
    for item in checklist.content["items"] if checklist else ():
        if item.get("measures") == MEASURES[quantity] and (text := own.get(item["key"], {}).get("gauge_u")):
            return float(parse_exact(text) * UNITS[item["unit"]].factor)
    return 0.0


def on_day(on: date, at: datetime, zone: ZoneInfo) -> datetime:
    """Return an instant in the course's zone, on the course's day: past midnight is still the end of that day."""
    local = at.astimezone(zone)
    if local.date() == on:
        return local
    return datetime.combine(on, time.min if local.date() < on else time.max, tzinfo=zone)


def wind_of(fields: Mapping[str, Any]) -> tuple[float | None, float | None]:
    """Return the wind against the rider and across, in m/s, from its mean and its side as entered at the ride.

    >>> wind_of({"wind_mps": "2.5", "wind_from": "tail"}), wind_of({"wind_mps": "2.5", "wind_from": "cross"})
    ((-2.5, 0.0), (0.0, 2.5))
    >>> wind_of({"wind_mps": "2.5", "wind_from": "calm"})
    (None, None)
    """
    read, side = number(fields.get("wind_mps")), fields.get("wind_from")
    if read is None or (side == "calm" and read > CALM_MPS):
        return None, None
    speed = float(read)
    found = {"head": (speed, 0.0), "tail": (-speed, 0.0), "cross": (0.0, speed), "calm": (0.0, 0.0)}
    return found.get(str(side), (None, None))


def morning(
    seen: Seen, quantity: str, air_c: float | None, struck: Mapping[date, str] = MappingProxyType({})
) -> MorningRide:
    """Return a ride as the chart takes it; what was not measured is None. ``struck``: reasons by day."""
    measured, mass = number(seen.figures.get(quantity)), number(seen.mass)
    head, cross = wind_of(seen.fields)
    return MorningRide(
        at=seen.at,
        measured=None if measured is None else float(measured),
        mass_kg=None if mass is None else float(mass),
        head_mps=head,
        temperature_c=air_c,
        cross_mps=cross,
        arrived=seen.fields.get("reached", "yes") == "yes",
        good=seen.verdict == "ok",
        struck=struck.get(seen.at.date(), ""),
    )


def expectations(basis: Basis, rides: Sequence[MorningRide]) -> list[Expected]:
    """Return what the mechanics expect of rides, all in one computation; figures of theirs must be there."""
    if not rides:
        return []
    masses, heads, airs, crosses = (
        np.array([getattr(one, name) for one in rides], float)
        for name in ("mass_kg", "head_mps", "temperature_c", "cross_mps")
    )
    made = plan_of(basis.line.content, basis.mechanics.content, air_c=float(airs[0]), cross_mps=float(crosses[0]))
    if isinstance(made, Refusal):
        return [Expected(dict.fromkeys(UNIT_OF, made))] * len(rides)
    found = outcome(made, masses, heads, cross_mps=crosses, air=Air(airs, made.air.pressure_pa))
    if isinstance(found, Refusal):
        return [Expected(dict.fromkeys(UNIT_OF, found))] * len(rides)
    speeds = np.where(found.ride.arrived, found.ride.arrival_mps, np.nan)
    # Marks count from where the first part of the brake begins, the computation from the beginning of the zone.
    begins = min((part.start_m for part in made.parts), default=0.0)
    travels = np.where(found.ride.arrived, found.stop.stroke_m - begins, np.nan)
    return [
        Expected({STROKE: float(travel), ARRIVAL_SPEED: float(speed)})
        for travel, speed in zip(travels, speeds, strict=True)
    ]


def marks_for(quantity: str, deeds: Iterable[Deed], fitted: Iterable[tuple[str, datetime]]) -> list[Mark]:
    """Return what restarts a chart.

    Work on brake, trolley or cable and a part newly fitted there begin a new baseline; the release of the finding that
    this chart opened says that somebody looked. ``fitted``: (what, since), also what the engineer had begun anew.
    """
    found = [Mark(since, SERVICE, what) for what, since in fitted]
    for one in deeds:
        if one.kind == "work" and one.slot.startswith(WORKED_ON):
            found.append(Mark(one.at, SERVICE, one.reason))
        elif one.kind == "release" and one.key in (FINDING_KEY + quantity, FINDING_KEY + quantity + LOW_SIDE):
            found.append(Mark(one.at, LOOKED, one.reason))
    return found


def finding_key(quantity: str, alarm: str) -> str:
    """Return the key of the finding that an alarm opens: one for each chart and side.

    >>> finding_key(STROKE, "creep-high"), finding_key(STROKE, "beyond-low")
    ('chart@stroke', 'chart@stroke@low')
    """
    return FINDING_KEY + quantity + (LOW_SIDE if alarm.endswith("low") else "")


def anew(setting: ChartSetting, zone: ZoneInfo) -> list[tuple[str, datetime]]:
    """Return from when the engineer had what is usual settled anew, with the reason; empty where that was not asked."""
    if setting.anew_on is None:
        return []
    return [(setting.anew_why, datetime.combine(setting.anew_on, time.min, tzinfo=zone))]


def usable(ride: MorningRide, plan: Plan) -> bool:
    """Tell whether everything is there to compute what was to be expected of a ride on this chart."""
    return isinstance(residual(ride, plan, lambda _ride: 0.0), Residual)


def charted(
    plan: Plan,
    rides: Sequence[tuple[Seen, float | None]],
    expected: Mapping[UUID, Expected],
    marks: Collection[Mark],
    *,
    today: date,
    frozen: Baseline | None,
    struck: Mapping[date, str] = MappingProxyType({}),
) -> Charted:
    """Chart the rides of a line, each given with the air's temperature; rides of another ballast are left out."""
    mornings = [(seen, morning(seen, plan.quantity, air_c, struck)) for seen, air_c in rides]
    model = model_of({ride: expected[seen.pk] for seen, ride in mornings if seen.pk in expected}, plan.quantity)
    told = [(seen, ride, residual(ride, plan, model)) for seen, ride in mornings if _is_of(ride, plan)]
    control = follow([ride for _seen, ride, _found in told], marks, plan, model, today=today, frozen=frozen)
    return Charted(plan.quantity, control, tuple(told), tuple(marks))


def _is_of(ride: MorningRide, plan: Plan) -> bool:
    """Tell whether a ride is of the chart's ballast; one whose weight is not known may be."""
    return ride.mass_kg is None or plan.ballast_low_kg <= ride.mass_kg <= plan.ballast_high_kg


def model_of(known: Mapping[MorningRide, Expected], quantity: str) -> Model:
    """Return the model of ``engineering.control``: what was computed for each ride before."""

    def expect(ride: MorningRide) -> float | Refusal:
        found = known.get(ride)
        return refuse("figure-missing") if found is None else found.of(quantity)

    return expect


def with_arrival(found: Mapping[str, Charted]) -> dict[str, Charted]:
    """Return the charts of a line, an alarm of the brake travel pointing elsewhere where the arrival speed moved too.

    A brake does longer with a faster ballast; then it is not the brake's doing.
    """
    result = dict(found)
    stroke, arrival = found.get(STROKE), found.get(ARRIVAL_SPEED)
    if stroke is None or arrival is None:
        return result
    sigmas = {point.at: point.sigmas for point in arrival.control.points}
    standing = tuple(
        replace(alarm, look_first=look_first(STROKE, alarm.code, sigmas.get(alarm.at)))
        for alarm in stroke.control.standing
    )
    return result | {STROKE: replace(stroke, control=replace(stroke.control, standing=standing))}
