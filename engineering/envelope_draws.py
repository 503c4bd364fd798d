"""How likely each state is, from draws of what is uncertain, with a stored seed. SI units.

The draws come from a generator whose stream is kept frozen by numpy (``RandomState``, Mersenne Twister), so that a
signed report can be computed again to the same figures. Shares carry their own sampling error. Shares are planning
figures, as good as the spreads entered, and never clear anything.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from engineering.envelope import Outcome, Plan, outcome, plan_problem
from engineering.envelope_cells import CELL_NAMES
from engineering.line import DRAG_AREA_M2, ROLLING, FloatArray, line_problem, outside
from engineering.refusal import Refusal, refuse

COUNT = 20_000
STEPS = 60
QUANTILES = (0.05, 0.5, 0.95)


@dataclass(frozen=True)
class Spread:
    """Standard deviations of what is uncertain; 0 where a figure is exact. Defaults are judgement.

    ``tension_share`` is of the tension, ``correlation`` that between rolling and drag area (a calibration's).
    """

    tension_share: float | None = 0.05
    rolling: float | None = 0.002
    drag_area_m2: float | None = 0.08
    head_mps: float | None = 1.5
    cross_mps: float | None = 0.0
    mass_kg: float | None = 2.0
    temperature_k: float | None = 8.0
    correlation: float = 0.0

    def problem(self) -> Refusal | None:
        """Return why these spreads cannot be used, or ``None``."""
        most = {
            "tension_share": 0.3,
            "rolling": 0.05,
            "drag_area_m2": 0.5,
            "head_mps": 10.0,
            "cross_mps": 10.0,
            "mass_kg": 30.0,
            "temperature_k": 30.0,
        }
        for one in fields(self):
            within = (0.0, most[one.name]) if one.name in most else (-1.0, 1.0)
            found = outside(getattr(self, one.name), "spread", within)
            if found:
                return found
        return None


@dataclass(frozen=True)
class Drawn:
    """What came of the draws: the share of each state (they sum to 1), and 5, 50 and 95 % figures of who arrived.

    The figures are ``nan`` where nobody arrived (of the stroke: where nobody stopped). ``error`` is the standard error
    of a share at a half; that of a share p is ``error`` times 2 sqrt(p (1 - p)).
    """

    seed: int
    count: int
    steps: int
    spread: Spread
    shares: Mapping[str, float]
    arrival_mps: tuple[float, float, float]
    stroke_m: tuple[float, float, float]
    peak_g: tuple[float, float, float]
    error: float


def draw(
    plan: Plan,
    mass_kg: float | None,
    head_mps: float | None,
    spread: Spread | None = None,
    *,
    seed: int,
    count: int = COUNT,
    steps: int = STEPS,
) -> Drawn | Refusal:
    """Return what becomes of riders of about this weight in about this wind along the line.

    Rolling and drag area are kept at the ends of their ranges where a draw is beyond; a weight, wind, temperature or
    tension outside the method counts as ``outside``. Raises ``ValueError`` for fewer than a hundred draws.

    >>> from engineering.brakes import Spring
    >>> from engineering.envelope import Landing
    >>> from engineering.line import Air, Cable, Line, Rider
    >>> line = Line(300.0, 18.0, Cable(1.05, 10e6), 15_000.0)
    >>> plan = Plan(line, Landing(300.0, 5.0), [Spring(1200.0, 200.0, 3.0)], Rider(None), Air(15.0))
    >>> drawn = draw(plan, 80.0, 0.0, seed=7, count=1000)
    >>> 0.15 < drawn.shares["short"] < 0.3, drawn == draw(plan, 80.0, 0.0, seed=7, count=1000)
    (True, True)
    """
    if count < 100:
        raise ValueError("draws are at least a hundred")
    spread = spread or Spread()
    found = plan_problem(plan) or spread.problem() or line_problem(plan.line)
    at_mean = found or outcome(plan, mass_kg, head_mps)
    if isinstance(at_mean, Refusal):
        return at_mean
    if mass_kg is None or head_mps is None:
        return refuse("figure-missing")
    cells = _drawn(plan, mass_kg, head_mps, spread, seed, count, steps)
    if isinstance(cells, Refusal):
        return cells
    counted = np.bincount(cells.state, minlength=len(CELL_NAMES)) / count
    return Drawn(
        seed=seed,
        count=count,
        steps=steps,
        spread=spread,
        shares={name: float(share) for name, share in zip(CELL_NAMES, counted, strict=True)},
        arrival_mps=_quantiles(cells.ride.arrival_mps),
        stroke_m=_quantiles(cells.stop.stroke_m),
        peak_g=_quantiles(cells.stop.peak_g),
        error=0.5 / math.sqrt(count),
    )


def _drawn(
    plan: Plan, mass: float, head: float, spread: Spread, seed: int, count: int, steps: int
) -> Outcome | Refusal:
    sd = {one.name: float(getattr(spread, one.name)) for one in fields(spread)}
    rolling, area, tension, cross = (
        plan.rider.rolling,
        plan.rider.drag_area_m2,
        plan.line.tension_n,
        plan.cross_mps,
    )
    if rolling is None or area is None or tension is None or cross is None or plan.air.temperature_c is None:
        return refuse("figure-missing")
    z = normals(seed, 7, count)
    second = sd["correlation"] * z[0] + math.sqrt(1.0 - sd["correlation"] ** 2) * z[1]
    warmer = sd["temperature_k"] * z[6]
    rider = replace(
        plan.rider,
        rolling=np.clip(rolling + sd["rolling"] * z[0], *ROLLING),
        drag_area_m2=np.clip(area + sd["drag_area_m2"] * second, *DRAG_AREA_M2),
    )
    masses = mass + sd["mass_kg"] * z[5]
    cable_c = None if plan.cable_c is None else plan.cable_c + warmer
    return outcome(
        replace(plan, cable_c=cable_c),
        masses,
        head + sd["head_mps"] * z[3],
        rider=rider,
        cross_mps=cross + sd["cross_mps"] * z[4],
        air=replace(plan.air, temperature_c=plan.air.temperature_c + warmer),
        tension_n=tension * (1.0 + sd["tension_share"] * z[2]),
        steps=steps,
    )


def normals(seed: int, rows: int, count: int) -> FloatArray:
    """Return standard normal draws of a frozen stream: the same for the same seed in any version of numpy."""
    made: FloatArray = np.random.RandomState(seed).standard_normal((rows, count))
    return made


def _quantiles(figures: NDArray[np.float64]) -> tuple[float, float, float]:
    known = figures[~np.isnan(figures)]
    low, middle, high = np.quantile(known, QUANTILES) if known.size else (math.nan,) * 3
    return float(low), float(middle), float(high)
