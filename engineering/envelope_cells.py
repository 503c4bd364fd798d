"""What becomes of a rider at one weight in one wind, by name: from his ride and his stop to one state. SI units.

States stand from best to worst; a cell has the worst that applies, so that a rider nearer to bind, faster or harder
stopped never has a better one. The limits are planning values, editable for each line, and no ride standard's: the
designer's figure, where there is one, is entered and used.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from engineering.brakes_stop import OUTSIDE as STOP_OUTSIDE
from engineering.brakes_stop import PASSED, Stop
from engineering.brakes_stop import UNKNOWN as STOP_UNKNOWN
from engineering.line import Figure, FloatArray, outside
from engineering.refusal import Refusal
from engineering.ride import OUTSIDE as RIDE_OUTSIDE
from engineering.ride import STALLED, Ride
from engineering.ride import UNKNOWN as RIDE_UNKNOWN

CELLS: Mapping[str, str] = {
    "ok": "Arrives and stops within the limits.",
    "slow": "Arrives slowly and may stop short of the brake.",
    "short": "Stops short of the brake.",
    "near-bind": "Uses more of the brake's travel than allowed.",
    "hard": "Is stopped harder than allowed.",
    "fast": "Arrives faster than the trolley or the brake is rated for.",
    "bind": "Drives the brake into bind.",
    "passed": "Is not stopped before the end of the brake zone.",
    "outside": "Is outside the range of the method.",
    "unknown": "Is not known: a figure is missing.",
}
CELL_NAMES = tuple(CELLS)
OK, SLOW, SHORT, NEAR_BIND, HARD, FAST, BIND, NOT_STOPPED, OUT_OF_RANGE, NOT_KNOWN = range(len(CELLS))


@dataclass(frozen=True)
class StopLimits:
    """What a stop may be: decelerations in standard gravities, the share of the travel, speeds in m/s.

    1 g mean and 2.5 g for more than 1/25 s are those of lift buffers (California Code of Regulations, Title 8, 3108,
    READ), nine tenths of the travel and ``least_mps`` are judgement. ``rated_mps`` is the speed that trolley and brake
    are rated for; without it no cell is called fast, and a note says so.
    """

    mean_g: float | None = 1.0
    peak_g: float | None = 2.5
    peak_s: float | None = 0.04
    travel_share: float | None = 0.9
    least_mps: float | None = 1.0
    rated_mps: float | None = None

    def problem(self) -> Refusal | None:
        """Return why these limits cannot be used, or ``None``."""
        within = {
            "mean_g": (0.05, 6.0),
            "peak_g": (0.05, 10.0),
            "peak_s": (0.0, 1.0),
            "travel_share": (0.1, 1.0),
            "least_mps": (0.0, 10.0),
            "rated_mps": (1.0, 40.0),
        }
        for one in fields(self):
            value = getattr(self, one.name)
            if one.name == "rated_mps" and value is None:
                continue
            name = "limit-speed" if one.name.endswith("_mps") else "limit"
            found = outside(value, name, within[one.name], missing="limit-missing")
            if found:
                return found
        return None


def after_ride(found: Ride, limits: StopLimits, interval_mps: Figure) -> NDArray[np.int8]:
    """Return the state by the ride alone; ``interval_mps`` is by how much the arrival speed may be off."""
    state = np.zeros(found.state.shape, np.int8)
    with np.errstate(invalid="ignore"):
        state[found.arrival_mps - interval_mps < _known(limits.least_mps)] = SLOW
        if limits.rated_mps is not None:
            state[found.arrival_mps + interval_mps > limits.rated_mps] = FAST
    state[np.equal(found.state, STALLED)] = SHORT
    state[np.equal(found.state, RIDE_OUTSIDE)] = OUT_OF_RANGE
    state[np.equal(found.state, RIDE_UNKNOWN) | np.isnan(interval_mps)] = NOT_KNOWN
    return state


def after_stop(found: Stop, limits: StopLimits, capture_m: float) -> NDArray[np.int8]:
    """Return the state by the stop alone. Hard: the mean is over its limit, or the peak for longer than allowed."""
    state = np.zeros(found.state.shape, np.int8)
    with np.errstate(invalid="ignore"):
        state[found.stroke_m < capture_m] = SHORT
        state[found.used > _known(limits.travel_share)] = NEAR_BIND
        state[(found.over_s > _known(limits.peak_s)) | (found.mean_g > _known(limits.mean_g))] = HARD
        state[found.left_m <= 0.0] = BIND
    state[np.equal(found.state, PASSED)] = NOT_STOPPED
    state[np.equal(found.state, STOP_OUTSIDE)] = OUT_OF_RANGE
    state[np.equal(found.state, STOP_UNKNOWN)] = NOT_KNOWN
    return state


def _known(limit: float | None) -> float:
    if limit is None:
        raise TypeError("limits have to be looked at with problem() before they are used")
    return limit


def worst(*states: NDArray[np.int8]) -> NDArray[np.int8]:
    """Return the worst state element by element."""
    made: NDArray[np.int8] = np.max(np.broadcast_arrays(*states), axis=0)
    return made


def drag_area_by_weight(at_80_kg_m2: Figure, mass_kg: Figure) -> FloatArray:
    """Return the drag area in m² by geometric similarity: CdA (m / 80)^(2/3) (from memory; no measured figure found).

    >>> round(float(drag_area_by_weight(0.5, 120.0)), 3)
    0.655
    """
    made: FloatArray = np.asarray(at_80_kg_m2 * (np.asarray(mass_kg, float) / 80.0) ** (2.0 / 3.0))
    return made
