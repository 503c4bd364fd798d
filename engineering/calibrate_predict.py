"""What a calibrated line says of a ride to come: arrival speed with its 95 % interval, extrapolation marked. SI units.

Shown is the interval of the arrival speed, not the two fitted figures: they depend on each other, their prediction does
not. The wind is taken as given; how it varies is a matter of draws (``engineering.envelope_draws``).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtrit

from engineering.calibrate import STEP, Calibration
from engineering.envelope import INTERVAL_MPS, Plan
from engineering.envelope_cells import drag_area_by_weight
from engineering.envelope_notes import CalibratedBy
from engineering.line import DRAG_AREA_M2, ROLLING, Air, Figure, FloatArray, Line, Rider, Wind
from engineering.refusal import Refusal
from engineering.ride import OUTSIDE, STALLED, ride
from engineering.ride import UNKNOWN as RIDE_UNKNOWN

SHARE = 0.975  # one side of 95 %
BELOW_NOUGHT_MPS = 0.01
TOLD, NEAR_STALL, STALLS, BEYOND, UNKNOWN = range(5)
STATES = ("told", "near-stall", "stalls", "beyond", "unknown")
SENTENCES: Mapping[str, str] = {
    "told": "Computed.",
    "near-stall": "Within the interval the rider may stop short.",
    "stalls": "The rider stops short.",
    "beyond": "Outside the range of the method.",
    "unknown": "A figure is missing.",
}


@dataclass(frozen=True)
class Prediction:
    """Arrival speeds of one shape in m/s. ``state`` indexes ``STATES``; figures are ``nan`` unless told.

    ``mean_sd`` is the standard deviation of the computed mean, ``low`` and ``high`` the 95 % interval of one further
    reading by the same gauge, ``extrapolated`` marks weights outside those of the test rides.
    """

    state: NDArray[np.int8]
    arrival_mps: FloatArray
    mean_sd: FloatArray
    low_mps: FloatArray
    high_mps: FloatArray
    extrapolated: NDArray[np.bool_]

    @property
    def half_mps(self) -> FloatArray:
        """Return half of the interval."""
        return (self.high_mps - self.low_mps) / 2.0

    def names(self) -> list[str]:
        """Return the states by name, in flat order."""
        return [STATES[one] for one in self.state.flat]


def predict(
    made: Calibration,
    line: Line,
    mass_kg: Figure | None,
    wind: Wind | None,
    air: Air | None,
    *,
    launch_mps: Figure | None = 0.0,
    end_m: float | None = None,
    cable_c: Figure | None = None,
) -> Prediction | Refusal:
    """Return the arrival speed at ``end_m`` (where the gauge was, if not given) of riders like those of the test rides.

    The interval is mean ± t (0.975, freedom) sqrt(J C J' + sd²), sd the gauge's, widened like C by the rides' scatter.
    A single figure that is missing or outside its range refuses; in an array that element is ``unknown`` or ``beyond``.
    """
    found = _computed(made, line, mass_kg, wind, air, launch_mps, made.gauge.end_m if end_m is None else end_m, cable_c)
    if isinstance(found, Refusal):
        return found
    state, mean, mean_sd, half = found
    told = state == TOLD
    masses = np.broadcast_to(np.asarray(mass_kg, float), state.shape)
    return Prediction(
        state=state,
        arrival_mps=np.where(told, mean, np.nan),
        mean_sd=np.where(told, mean_sd, np.nan),
        low_mps=np.where(told, mean - half, np.nan),
        high_mps=np.where(told, mean + half, np.nan),
        extrapolated=(masses < made.least_kg) | (masses > made.most_kg),
    )


def _computed(
    made: Calibration,
    line: Line,
    mass_kg: Figure | None,
    wind: Wind | None,
    air: Air | None,
    launch_mps: Figure | None,
    end_m: float | None,
    cable_c: Figure | None,
) -> tuple[NDArray[np.int8], FloatArray, FloatArray, FloatArray] | Refusal:
    """Return state, computed arrival, its standard deviation, and half of the interval (``nan`` beside a stall)."""
    centre = (made.rolling, made.drag_area_m2)
    low = np.maximum(centre - STEP, [ROLLING[0], DRAG_AREA_M2[0]])
    high = np.minimum(centre + STEP, [ROLLING[1], DRAG_AREA_M2[1]])
    pairs = (centre, (high[0], centre[1]), (low[0], centre[1]), (centre[0], high[1]), (centre[0], low[1]))
    found = []
    for pair in pairs:
        area: Figure = float(pair[1])
        if made.by_weight and mass_kg is not None:
            area = drag_area_by_weight(area, mass_kg)
        rider = Rider(mass_kg, area, float(pair[0]))
        one = ride(line, rider, wind, air, launch_mps=launch_mps, end_m=end_m, cable_c=cable_c)
        if isinstance(one, Refusal):
            return one
        found.append(one)
    mean = found[0].arrival_mps
    by_rolling = (found[1].arrival_mps - found[2].arrival_mps) / (high[0] - low[0])
    by_area = (found[3].arrival_mps - found[4].arrival_mps) / (high[1] - low[1])
    (a, b), (_, c) = made.covariance
    variance = np.maximum(a * by_rolling**2 + 2.0 * b * by_rolling * by_area + c * by_area**2, 0.0)
    gauge = (made.gauge.sd_mps or 0.0) * max(1.0, made.scatter)
    half = float(stdtrit(made.freedom, SHARE)) * np.sqrt(variance + gauge**2)
    return _states(found[0].state, np.asarray(mean - half)), mean, np.sqrt(variance), half


def _states(of_ride: NDArray[np.int8], low: FloatArray) -> NDArray[np.int8]:
    """Return the states; an interval that reaches nought, or whose neighbours stall, is near a stall."""
    state = np.full(of_ride.shape, TOLD, np.int8)
    state[~(low > 0.0)] = NEAR_STALL
    for name, of in ((STALLED, STALLS), (OUTSIDE, BEYOND), (RIDE_UNKNOWN, UNKNOWN)):
        state[np.equal(of_ride, name)] = of
    return state


def calibrated_plan(
    plan: Plan, made: Calibration, masses_kg: FloatArray, winds_mps: FloatArray
) -> tuple[Plan, CalibratedBy] | Refusal:
    """Return the plan with the fitted figures and, for the map of these weights and winds, the interval of each cell.

    Near a stall the interval is taken to reach below nought, so that the cell is slow at best. Also returned: what the
    warnings say of the calibration, with the widest interval among the cells told inside the tested weights.
    """
    masses = np.asarray(masses_kg, float)[:, None]
    wind = Wind(np.asarray(winds_mps, float)[None, :], plan.cross_mps)
    found = _computed(made, plan.line, masses, wind, plan.air, plan.launch_mps, plan.landing.start_m, plan.cable_c)
    if isinstance(found, Refusal):
        return found
    state, mean, _, half = found
    inside = (state == TOLD) & (masses >= made.least_kg) & (masses <= made.most_kg)
    widest = float(np.max(half[inside])) if inside.any() else INTERVAL_MPS[1]
    interval = np.where(state == TOLD, half, np.nan_to_num(mean) + BELOW_NOUGHT_MPS)
    fitted = replace(plan.rider, rolling=made.rolling, drag_area_m2=made.drag_area_m2)
    by = CalibratedBy(made.rides, made.least_kg, made.most_kg, widest)
    return replace(plan, rider=fitted, drag_by_weight=made.by_weight, interval_mps=interval), by
