"""What the arrival speed hangs on: its change with each figure, and whose uncertainty matters most. SI units.

Central differences of one standard deviation of ``Spread`` to either side, all rides in one call. No library: two rides
per figure. The shares are of the variance to first order; near a stall they are not even that, and are not told.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from engineering.envelope import Outcome, Plan, outcome, plan_problem
from engineering.envelope_draws import Spread
from engineering.refusal import Refusal, refuse

NAMES: Mapping[str, str] = {
    "tension": "Tension of the cable",
    "rolling": "Rolling resistance",
    "drag": "Drag area",
    "wind": "Wind along the line",
    "mass": "Weight of the rider",
    "temperature": "Temperature",
}
TOLD, STALLS, BEYOND = "told", "stalls", "beyond"
STATUS: Mapping[str, str] = {
    TOLD: "Computed.",
    STALLS: "Within its uncertainty a rider stops short.",
    BEYOND: "Within its uncertainty it leaves the range of the method.",
}


@dataclass(frozen=True)
class Sensitivity:
    """One figure: ``change_mps`` of the arrival speed for one standard deviation ``sd`` more; ``None`` unless told.

    ``share`` is of the variance of the arrival speed, ``None`` unless all figures are told.
    """

    name: str
    sd: float
    status: str
    change_mps: float | None
    share: float | None = None


def sensitivities(
    plan: Plan, mass_kg: float | None, head_mps: float | None, spread: Spread | None = None
) -> tuple[Sensitivity, ...] | Refusal:
    """Return how the arrival speed of a rider of this weight, in this wind, changes with each figure of ``NAMES``."""
    spread = spread or Spread()
    found = plan_problem(plan) or spread.problem()
    tension, rolling, area, celsius = (
        plan.line.tension_n,
        plan.rider.rolling,
        plan.rider.drag_area_m2,
        plan.air.temperature_c,
    )
    if found or mass_kg is None or head_mps is None or tension is None:
        return found or refuse("mass-missing" if mass_kg is None else "wind-missing")
    if rolling is None or area is None or celsius is None:
        return refuse("figure-missing")
    at_mean = outcome(plan, mass_kg, head_mps)
    if isinstance(at_mean, Refusal):
        return at_mean
    sds = {
        "tension": tension * (spread.tension_share or 0.0),
        "rolling": spread.rolling or 0.0,
        "drag": spread.drag_area_m2 or 0.0,
        "wind": spread.head_mps or 0.0,
        "mass": spread.mass_kg or 0.0,
        "temperature": spread.temperature_k or 0.0,
    }
    names = list(NAMES)
    shift = {name: np.zeros(2 * len(names)) for name in names}
    for i, name in enumerate(names):
        shift[name][2 * i : 2 * i + 2] = sds[name], -sds[name]
    cells = outcome(
        replace(plan, cable_c=None if plan.cable_c is None else plan.cable_c + shift["temperature"]),
        mass_kg + shift["mass"],
        head_mps + shift["wind"],
        rider=replace(plan.rider, rolling=rolling + shift["rolling"], drag_area_m2=area + shift["drag"]),
        air=replace(plan.air, temperature_c=celsius + shift["temperature"]),
        tension_n=tension + shift["tension"],
    )
    return cells if isinstance(cells, Refusal) else _told(cells, names, sds)


def _told(cells: Outcome, names: list[str], sds: Mapping[str, float]) -> tuple[Sensitivity, ...]:
    rows = []
    for i, name in enumerate(names):
        pair = slice(2 * i, 2 * i + 2)
        status = TOLD
        if np.any(cells.ride.stalled[pair]):
            status = STALLS
        elif not np.all(cells.ride.arrived[pair]):
            status = BEYOND
        more, less = (float(one) for one in cells.ride.arrival_mps[pair])
        rows.append(Sensitivity(name, sds[name], status, (more - less) / 2.0 if status == TOLD else None))
    squares = [one.change_mps**2 for one in rows if one.change_mps is not None]
    if len(squares) < len(rows) or sum(squares) == 0.0:
        return tuple(rows)
    return tuple(replace(one, share=square / sum(squares)) for one, square in zip(rows, squares, strict=True))


def share_lost_per_head_wind(plan: Plan, mass_kg: float | None, head_mps: float | None) -> float | Refusal | None:
    """Return which share of the arrival speed 1 m/s more head wind takes; ``None`` where it makes the rider stop short.

    Refuses ``no-solution`` where the rider stops short as it is, and where so much wind is outside the method.
    """
    if mass_kg is None or head_mps is None:
        return refuse("mass-missing" if mass_kg is None else "wind-missing")
    at_mean = outcome(plan, mass_kg, head_mps)
    cells = outcome(plan, mass_kg, np.array([head_mps, head_mps + 1.0]))
    if isinstance(at_mean, Refusal) or isinstance(cells, Refusal):
        return at_mean if isinstance(at_mean, Refusal) else cells if isinstance(cells, Refusal) else None
    now, blown = (float(one) for one in cells.ride.arrival_mps)
    told = cells.ride.arrived | cells.ride.stalled
    if not cells.ride.arrived[0] or now <= 0.0 or not told[1]:
        return refuse("no-solution")
    return 1.0 - blown / now if cells.ride.arrived[1] else None
