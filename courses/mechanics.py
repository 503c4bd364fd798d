"""From the documents of a line to what the engineering modules compute with: a plan and what is posted.

Documents keep decimal text in metric units; here it becomes SI figures. Missing stays missing and refuses; no usual
figure is put in its place. What comes out advises: it may narrow, and never clears anything.
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from courses.mechanics_gaps import mechanics_gaps
from courses.mechanics_shape import PART_OF_BRAKE, WORN_FIGURES
from engineering.brakes import Cord, Eddy, Friction, Part, Spring
from engineering.brakes_worn import Brakes, Wear, arrangement
from engineering.envelope import Landing, Plan, plan_problem
from engineering.envelope_band import Posted
from engineering.envelope_cells import StopLimits
from engineering.envelope_notes import CalibratedBy
from engineering.exact import parse_exact
from engineering.line import (
    DRAG_AREA_M2,
    LAUNCH_MPS,
    PRESSURE_PA,
    ROLLING,
    WIND_MPS,
    Air,
    Cable,
    Line,
    Rider,
    outside,
    temperature_problem,
)
from engineering.refusal import Refusal, refuse
from engineering.units import UNITS

LENGTH_OFF = Decimal("0.1")  # of the length of the line: further apart, one of the two is in another unit (judgement)


def plan_of(
    line: Mapping[str, Any],
    mechanics: Mapping[str, Any],
    *,
    air_c: float | None,
    cross_mps: float | None,
    cable_c: float | None = None,
    arrangement_of: str = "new",
) -> Plan | Refusal:
    """Return what a map is computed from, or why nothing is computed.

    ``line`` and ``mechanics`` are contents of versions; ``air_c`` is the air's temperature in °C, ``cable_c`` the
    cable's where it is another one, ``cross_mps`` the wind across the line in m/s. ``arrangement_of`` is a key of
    ``engineering.brakes_worn.ARRANGEMENTS``; raises ``KeyError`` for another.
    """
    found = _missing(line, mechanics)
    if found:
        return found
    parts = arrangement(brakes_of(mechanics), arrangement_of)
    if isinstance(parts, Refusal):
        return parts
    zone, rider, stop = (_part(mechanics, name) for name in ("zone", "rider", "stop"))
    plan = Plan(
        line=line_of(line, mechanics),
        landing=Landing(_si(zone, "start_m"), _si(zone, "length_m"), capture_m=_si(zone, "capture_m") or 0.0),
        parts=parts,
        rider=Rider(None, _si(rider, "drag_area_m2"), _si(rider, "rolling")),
        air=Air(air_c, _si(mechanics, "pressure_hpa", "hPa")),
        limits=_limits(stop, alone=arrangement_of == "emergency-alone"),
        cross_mps=cross_mps,
        launch_mps=_si(mechanics, "launch_mps"),
        cable_c=cable_c,
        drag_by_weight=rider.get("by_weight") == "yes",
        interval_mps=_si(_part(mechanics, "calibration"), "interval_mps") or 0.0,
    )
    return _length_problem(line, plan) or plan_problem(plan) or _air_problem(plan) or plan


def line_of(line: Mapping[str, Any], mechanics: Mapping[str, Any]) -> Line:
    """Return span, drop, cable and tension; what is missing is ``None``, also the expansion and the temperature."""
    cable = _part(mechanics, "cable")
    return Line(
        span_m=_si(mechanics, "span_m"),
        drop_m=_si(line, "drop_m"),
        cable=Cable(
            _si(cable, "mass_kg_per_m"),
            _si(cable, "stiffness_kn", "kN"),
            expansion_per_k=_si(cable, "expansion_per_k"),  # type: ignore[arg-type]  # None is refused as missing
            breaking_force_n=_si(_part(line, "cable"), "mbf_kn", "kN"),
        ),
        tension_n=_si(mechanics, "tension_kn", "kN"),
        reference_c=_si(mechanics, "reference_c"),
        anchor_n_per_m=_si(mechanics, "anchor_kn_per_m", "kN/m"),
        constant_tension=mechanics.get("constant_tension") == "yes",
    )


def posted_of(line: Mapping[str, Any]) -> Posted:
    """Return what is posted for the line: weights in kg and winds in m/s; ``None`` for what is not entered."""
    wind = _part(line, "wind")
    winds = (_si(wind, f"{name}_mps") for name in ("head", "tail", "cross"))
    return Posted(_si(line, "mass_min_kg"), _si(line, "mass_max_kg"), *winds)


def brakes_of(mechanics: Mapping[str, Any]) -> Brakes:
    """Return the parts of primary and emergency brakes as entered; not looked at yet.

    Unless every primary part has a worn limit there are none.
    """
    rows = mechanics.get("parts", [])
    primary = [row for row in rows if row["slot"].startswith("primary-")]
    wears = [wear_of(row) for row in primary]
    known = [wear for wear in wears if wear is not None]
    return Brakes(
        primary=[part_of(row) for row in primary],
        emergency=[part_of(row) for row in rows if row["slot"].startswith("emergency-")],
        wears=known if primary and len(known) == len(primary) else None,
    )


def part_of(row: Mapping[str, Any]) -> Part:
    """Return one part of a brake from its figures; what is missing is ``None``, and an unknown beginning is ``nan``."""
    kind, start = row["kind"], _si(row, "start_m")
    begin = float("nan") if start is None else start
    if kind == "spring":
        return Spring(
            _si(row, "rate_n_per_m"),
            _si(row, "preload_n"),
            bind_m=_si(row, "bind_m"),
            travel_m=_si(row, "travel_m"),
            start_m=begin,
            bind_rate_n_per_m=_si(row, "bind_rate_n_per_m"),
            returned=_si(row, "returned"),
            caught=row.get("caught") == "yes",
        )
    if kind == "cord":
        return Cord(
            _si(row, "rate_n_per_m"),
            _si(row, "first_force_n"),
            _si(row, "first_length_m"),
            bind_m=_si(row, "bind_m"),
            start_m=begin,
            returned=_si(row, "returned"),
            caught=row.get("caught") == "yes",
        )
    if kind == "eddy":
        return Eddy(
            _si(row, "force_n"),
            _si(row, "speed_mps"),
            _si(row, "length_m"),
            start_m=begin,
            gap_more_m=_si(row, "gap_more_m"),
            pole_pitch_m=_si(row, "pole_pitch_m"),
        )
    return Friction(_si(row, "force_n"), start_m=begin, reaction_s=_si(row, "reaction_s") if kind == "hand" else 0.0)


def wear_of(row: Mapping[str, Any]) -> Wear | None:
    """Return how a primary part is at its worn limit, nought where nothing is gone; ``None`` if nothing is entered."""
    if not any(row.get(name) for name in WORN_FIGURES):
        return None
    return Wear(**{field: _si(row, name) or 0.0 for name, field in WORN_FIGURES.items()})


def _limits(stop: Mapping[str, Any], *, alone: bool) -> StopLimits:
    """Return the limits of a stop; by the emergency brake alone its own, where the engineer has set some."""
    mean, peak = (
        _si(stop, f"emergency_{name}" if alone and stop.get(f"emergency_{name}") else name)
        for name in ("mean_g", "peak_g")
    )
    return StopLimits(
        mean_g=mean,
        peak_g=peak,
        peak_s=_si(stop, "peak_s"),
        travel_share=_si(stop, "travel_share"),
        least_mps=_si(stop, "least_mps"),
        rated_mps=_si(stop, "rated_mps"),
    )


def _part(document: Mapping[str, Any], name: str) -> Mapping[str, Any]:
    found: Mapping[str, Any] = document.get(name) or {}
    return found


def _si(document: Mapping[str, Any], name: str, unit: str = "") -> float | None:
    """Return a figure in SI units, or ``None`` where none is entered. ``unit`` is that in which it is kept."""
    text = document.get(name)
    if not text:
        return None
    value = parse_exact(text)
    return float(value * UNITS[unit].factor if unit else value)


def _missing(line: Mapping[str, Any], mechanics: Mapping[str, Any]) -> Refusal | None:
    """Say what the engineering modules would not miss by themselves: all that has a usual figure there, and brakes."""
    if not mechanics:
        return refuse("mechanics-missing")
    entered = {part["slot"]: part["kind"] for part in mechanics.get("parts", [])}
    brakes = {brake["slot"]: brake["kind"] for brake in line.get("brakes", [])}
    if not brakes or not set(entered) <= set(brakes):
        return refuse("brakes-differ")
    for slot, kind in brakes.items():
        if entered.get(slot, None if kind == "runout" else "") not in (None, PART_OF_BRAKE[kind]):
            return refuse("brake-figures-missing" if slot not in entered else "brakes-differ")
    found = next((gap.field for gap in mechanics_gaps(line, mechanics, {})), "")
    if found in ("constant_tension", "tension_date", "tension_how", "rider.by_weight", "zone.capture_m"):
        return refuse("figure-missing")
    return None


def _air_problem(plan: Plan) -> Refusal | None:
    """Say what is missing or out of range of what only the ride looks at."""
    area, rolling, pressure, celsius = (
        plan.rider.drag_area_m2,
        plan.rider.rolling,
        plan.air.pressure_pa,
        plan.air.temperature_c,
    )
    checks = (
        (area, "drag", DRAG_AREA_M2),
        (rolling, "rolling", ROLLING),
        (pressure, "pressure", PRESSURE_PA),
        (plan.launch_mps, "launch", LAUNCH_MPS),
        (plan.cross_mps, "wind", WIND_MPS),
    )
    for value, name, within in checks:
        found = outside(None if value is None else float(value), name, within)
        if found:
            return found
    return temperature_problem(None if celsius is None else float(celsius))


def _length_problem(line: Mapping[str, Any], plan: Plan) -> Refusal | None:
    length, span = line.get("length_m"), plan.line.span_m
    if not length or span is None:
        return None
    if abs(Decimal(span) - Decimal(length)) > LENGTH_OFF * Decimal(length):
        return refuse("span-length", value=span, length=float(length))
    return None


def calibrated_by(mechanics: Mapping[str, Any]) -> CalibratedBy | None:
    """Return how far a line is calibrated; ``None`` unless every figure of it is entered."""
    part = _part(mechanics, "calibration")
    rides, least, most, interval = (_si(part, name) for name in ("rides", "least_kg", "most_kg", "interval_mps"))
    if rides is None or least is None or most is None or interval is None or not part.get("on"):
        return None
    return CalibratedBy(int(rides), least, most, interval)
