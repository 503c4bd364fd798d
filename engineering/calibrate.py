"""Drag area and rolling resistance of a line from its test rides, by weighted least squares. SI units.

From arrival speeds alone the two cannot be told apart (correlation -0.999 with riders of 50 to 120 kg, COMPUTED), so
the rule is one free figure: the drag area, with rolling held near a prior. Both are fitted only where every ride has
speed gates. Their scatter widens what follows if it is greater than gauge and wind explain, and never narrows it.

Calibrated with ballast the drag area is the ballast's: a seated rider catches more wind. A calibration sharpens advice;
it never clears a line.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from engineering.calibrate_rides import BallastRide, Gauge, LeftOut, usable
from engineering.envelope_cells import drag_area_by_weight
from engineering.envelope_notes import RIDES_NEEDED
from engineering.line import DRAG_AREA_M2, ROLLING, Air, FloatArray, Line, Rider, Wind
from engineering.refusal import Refusal, refuse
from engineering.ride import ride

PRIOR_ROLLING = (0.010, 0.003)  # mean and standard deviation: from memory, no measured figure was found
TYPICAL = np.array([0.01, 0.5])  # of rolling and drag area: what the condition is scaled with
ALLOWED = {"rolling resistance": (0.001, 0.05), "drag area": (0.10, 1.2)}
MASS_SPREAD_KG, GOOD_SPREAD_KG = 30.0, 50.0
CONDITION = 1e4
WILD, SCATTER = 4.0, 2.0  # standard deviations; judgement
STEP = np.array([1e-4, 1e-3])
ROUNDS, CLOSE = 20, 1e-6

NOTES: Mapping[str, str] = {
    "ballast-drag": "Calibrated with ballast: a seated rider catches more wind.",
    "spread-narrow": (
        "The weights of the test rides span less than %(least)s %(kg)s; the interval widens quickly beyond them."
    ),
    "scatter-wide": "The rides scatter more than gauge and wind explain; the interval is widened by it.",
}


@dataclass(frozen=True)
class Calibration:
    """What was fitted. ``kind`` is ``drag`` (rolling near its prior) or ``both``.

    ``covariance`` is of (rolling, drag area), widened by ``scatter`` if that is over 1; ``scatter`` is the spread of
    the rides over that explained, ``freedom`` its degrees of freedom, ``residuals_mps`` measured less computed arrival.
    With ``by_weight`` the drag area is that of 80 kg and grows with it (``envelope_cells.drag_area_by_weight``).
    """

    kind: str
    rolling: float
    drag_area_m2: float
    covariance: tuple[tuple[float, float], tuple[float, float]]
    scatter: float
    freedom: int
    condition: float
    rides: int
    least_kg: float
    most_kg: float
    residuals_mps: tuple[float, ...]
    left_out: tuple[LeftOut, ...]
    gauge: Gauge
    notes: tuple[str, ...]
    by_weight: bool = False

    @property
    def rolling_sd(self) -> float:
        """Return the standard deviation of the rolling resistance."""
        return math.sqrt(self.covariance[0][0])

    @property
    def drag_area_sd(self) -> float:
        """Return the standard deviation of the drag area in m²."""
        return math.sqrt(self.covariance[1][1])

    @property
    def correlation(self) -> float:
        """Return the correlation of the two."""
        return self.covariance[0][1] / (self.rolling_sd * self.drag_area_sd)


def fit_drag(
    line: Line,
    rides: Sequence[BallastRide],
    gauge: Gauge,
    prior_rolling: tuple[float, float] = PRIOR_ROLLING,
    *,
    by_weight: bool = False,
) -> Calibration | Refusal:
    """Return the drag area, with rolling held near ``prior_rolling`` (mean, standard deviation). Gates are used too.

    Refuses fewer than six usable rides, less than 30 kg between the lightest and the heaviest, equal speeds, a wild
    ride, a scatter that gauge and wind do not explain, and a result outside what is possible.
    """
    return _fit(line, rides, gauge, prior_rolling, by_weight)


def fit_both(
    line: Line, rides: Sequence[BallastRide], gauge: Gauge, *, by_weight: bool = False
) -> Calibration | Refusal:
    """Return rolling and drag area, both free. Refuses as ``fit_drag`` does, and without speed gates on every ride.

    Refuses ``fit-singular`` where the scaled information matrix has a condition over 1e4.
    """
    return refuse("gates-missing") if not gauge.gates_m else _fit(line, rides, gauge, None, by_weight)


def _fit(
    line: Line, rides: Sequence[BallastRide], gauge: Gauge, prior: tuple[float, float] | None, by_weight: bool
) -> Calibration | Refusal:
    used, left_out = usable(rides, len(gauge.gates_m))
    problem = gauge.problem(line) or _rides_problem(used, len(rides))
    if problem:
        return problem
    model = _Model(line, used, gauge, by_weight)
    start = model.start(PRIOR_ROLLING[0] if prior is None else prior[0])
    weights = start if isinstance(start, Refusal) else model.weigh(start)
    if isinstance(start, Refusal) or isinstance(weights, Refusal):
        return start if isinstance(start, Refusal) else refuse("fit-lost")
    found = model.descend(start, prior)
    if isinstance(found, Refusal):
        return found
    jacobian = model.jacobian(found) / model.sd[:, None]
    information = jacobian.T @ jacobian
    condition = float(np.linalg.cond(information * np.outer(TYPICAL, TYPICAL)))
    if prior is None and not condition <= CONDITION:
        return refuse("fit-singular", value=condition, limit=CONDITION)
    if prior is not None:
        information = information + np.diag([prior[1] ** -2.0, 0.0])
    covariance = np.linalg.inv(information)
    freedom = model.measured.size - (1 if prior else 2)
    residuals = (model.measured - model.speeds(found)[0]) / model.sd
    leverage = np.einsum("ij,jk,ik->i", jacobian, covariance, jacobian)
    problem = _misfit(model, used, residuals, leverage, freedom) or _impossible(found)
    if problem:
        return problem
    scatter = math.sqrt(float(residuals @ residuals) / freedom)
    covariance = covariance * max(1.0, scatter**2)
    masses = [one.mass_kg or 0.0 for one in used]
    notes = ["ballast-drag"]
    notes += ["spread-narrow"] if max(masses) - min(masses) < GOOD_SPREAD_KG else []
    notes += ["scatter-wide"] if scatter > 1.0 else []
    (a, b), (_, c) = covariance.tolist()
    return Calibration(
        kind="both" if prior is None else "drag",
        rolling=float(found[0]),
        drag_area_m2=float(found[1]),
        covariance=((a, b), (b, c)),
        scatter=scatter,
        freedom=freedom,
        condition=condition,
        rides=len(used),
        least_kg=min(masses),
        most_kg=max(masses),
        residuals_mps=tuple((residuals * model.sd)[: len(used)].tolist()),
        left_out=left_out,
        gauge=gauge,
        notes=tuple(notes),
        by_weight=by_weight,
    )


def _rides_problem(used: Sequence[BallastRide], count: int) -> Refusal | None:
    if len(used) < RIDES_NEEDED:
        return refuse("rides-few", accepted=len(used), all=count, needed=RIDES_NEEDED)
    masses = [one.mass_kg or 0.0 for one in used]
    spread = max(masses) - min(masses)
    if spread < MASS_SPREAD_KG:
        return refuse("masses-narrow", value=spread, needed=MASS_SPREAD_KG)
    return refuse("speeds-equal") if len({one.arrival_mps for one in used}) == 1 else None


def _misfit(
    model: _Model, used: Sequence[BallastRide], residuals: FloatArray, leverage: FloatArray, freedom: int
) -> Refusal | None:
    """Return a ride that is alone in not fitting, or that none fit."""
    left = np.maximum(1.0 - leverage, 1e-6)
    alone = np.abs(residuals) / np.sqrt(left)
    worst = int(np.argmax(alone))
    total = float(residuals @ residuals)
    others = (total - float(residuals[worst] ** 2 / left[worst])) / max(freedom - 1, 1)
    if alone[worst] > WILD and others < SCATTER**2:
        which = used[worst % len(used)]
        away = abs(float(residuals[worst] / left[worst] * model.sd[worst]))
        return refuse("ride-wild", mass=which.mass_kg or 0.0, value=float(f"{away:.2g}"))
    if total / freedom > SCATTER**2:
        told = math.sqrt(total / freedom) * float(np.median(model.sd))
        return refuse("rides-scatter", value=float(f"{told:.2g}"), limit=float(f"{SCATTER * np.median(model.sd):.2g}"))
    return None


def _impossible(found: FloatArray) -> Refusal | None:
    for (name, (low, high)), value in zip(ALLOWED.items(), found, strict=True):
        if not low <= value <= high:
            return refuse("fit-impossible", name=name, value=float(f"{value:.3g}"), low=low, high=high)
    return None


class _Model:
    """The rides as computed for given rolling and drag area; a rider who stops counts with speed nought."""

    def __init__(self, line: Line, used: Sequence[BallastRide], gauge: Gauge, by_weight: bool) -> None:
        def row(name: str) -> FloatArray:
            return np.array([getattr(one, name) for one in used], float)

        self.line, self.gauge = line, gauge
        self.mass, self.head, self.cross = row("mass_kg"), row("head_mps"), row("cross_mps")
        self.air = Air(row("temperature_c"), row("pressure_pa"))
        self.launch = row("launch_mps")
        self.larger = drag_area_by_weight(1.0, self.mass) if by_weight else np.ones_like(self.mass)
        gates = np.array([one.gates_mps for one in used], float).T.reshape(-1)
        self.measured = np.concatenate([row("arrival_mps"), gates])  # arrivals, then gate by gate
        self.sd = np.full(self.measured.size, gauge.sd_mps, float)

    def speeds(self, pairs: FloatArray, blown: float = 0.0) -> FloatArray:
        """Return computed speeds, one row per (rolling, drag area); ``nan`` for a ride outside the method."""
        pairs = np.atleast_2d(pairs)
        found = ride(
            self.line,
            Rider(self.mass, pairs[:, 1:] * self.larger, pairs[:, :1]),
            Wind(self.head + blown, self.cross),
            self.air,
            launch_mps=self.launch,
            end_m=self.gauge.end_m,
            gates_m=self.gauge.gates_m,
        )
        if isinstance(found, Refusal):
            return np.full((len(pairs), self.measured.size), np.nan)
        known = found.arrived | found.stalled
        rows = [found.arrival_mps, *found.gates_mps]
        told = [np.where(known, np.nan_to_num(row), np.nan) for row in rows]
        return np.concatenate(told, axis=1)

    def cost(self, pairs: FloatArray, prior: tuple[float, float] | None) -> FloatArray:
        """Return the weighted sum of squares of each pair; infinite where it cannot be computed."""
        apart = (self.measured - self.speeds(pairs)) / self.sd
        total: FloatArray = np.sum(apart**2, axis=1)
        if prior is not None:
            total = total + ((np.atleast_2d(pairs)[:, 0] - prior[0]) / prior[1]) ** 2
        return np.where(np.isnan(total), np.inf, total)

    def start(self, rolling: float) -> FloatArray | Refusal:
        """Return the best of a row of drag areas: near enough to descend from, stalls or not."""
        areas = np.linspace(0.1, 1.2, 34)
        pairs = np.column_stack([np.full(areas.size, rolling), areas])
        costs = self.cost(pairs, None)
        best = int(np.argmin(costs))
        return pairs[best] if np.isfinite(costs[best]) else refuse("fit-lost")

    def weigh(self, pair: FloatArray) -> Refusal | None:
        """Widen each reading's standard deviation by what the wind's uncertainty does to it."""
        if not self.gauge.wind_sd_mps:
            return None
        more, less = self.speeds(pair, 0.25)[0], self.speeds(pair, -0.25)[0]
        self.sd = np.hypot(self.sd, (more - less) / 0.5 * self.gauge.wind_sd_mps)
        return None if np.all(np.isfinite(self.sd)) else refuse("fit-lost")

    def jacobian(self, pair: FloatArray) -> FloatArray:
        """Return d speed / d (rolling, drag area), a row per reading; one-sided at the ends of the ranges."""
        low = np.maximum(pair - STEP, [ROLLING[0], DRAG_AREA_M2[0]])
        high = np.minimum(pair + STEP, [ROLLING[1], DRAG_AREA_M2[1]])
        pairs = np.array([[high[0], pair[1]], [low[0], pair[1]], [pair[0], high[1]], [pair[0], low[1]]])
        at = self.speeds(pairs)
        return np.column_stack([(at[0] - at[1]) / (high[0] - low[0]), (at[2] - at[3]) / (high[1] - low[1])])

    def descend(self, pair: FloatArray, prior: tuple[float, float] | None) -> FloatArray | Refusal:
        """Gauss-Newton, each step shortened until it is one downwards."""
        cost = float(self.cost(pair, prior)[0])
        for _ in range(ROUNDS):
            jacobian = self.jacobian(pair) / self.sd[:, None]
            apart = (self.measured - self.speeds(pair)[0]) / self.sd
            pull, information = jacobian.T @ apart, jacobian.T @ jacobian
            if prior is not None:
                information = information + np.diag([prior[1] ** -2.0, 0.0])
                pull = pull + np.array([(prior[0] - pair[0]) / prior[1] ** 2, 0.0])
            scaled = information * np.outer(TYPICAL, TYPICAL)
            if not np.all(np.isfinite(scaled)) or np.linalg.cond(scaled) > 1e14:
                return refuse("fit-singular", value=float(np.linalg.cond(np.nan_to_num(scaled))), limit=CONDITION)
            step = np.linalg.solve(scaled, pull * TYPICAL) * TYPICAL
            tries = [np.clip(pair + step * 0.5**n, (ROLLING[0], 0.01), (ROLLING[1], DRAG_AREA_M2[1])) for n in range(8)]
            costs = self.cost(np.array(tries), prior)
            best = int(np.argmin(costs))
            if not costs[best] < cost:
                return pair
            gained, cost, pair = cost - float(costs[best]), float(costs[best]), tries[best]
            if gained < CLOSE:
                return pair
        return refuse("fit-lost")
