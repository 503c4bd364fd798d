"""Which weights and winds the map of a line shows, and what becomes of each weight wind by wind. Pure; SI units.

The grid goes a little beyond what is posted, so that one sees what lies there; the ends of the posted weights and winds
and of the tested weights are among its figures.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby

import numpy as np

from engineering.envelope import Map
from engineering.envelope_band import Posted, grid
from engineering.envelope_cells import CELL_NAMES
from engineering.line import MASS_KG, WIND_MPS, FloatArray
from engineering.refusal import Refusal

ROWS, COLUMNS, BEYOND = 15, 21, 2


def axes(posted: Posted, tested: tuple[float, float] | None) -> tuple[FloatArray, FloatArray] | Refusal:
    """Return the weights and winds of the map, or why there are none.

    >>> masses, winds = axes(Posted(40.0, 120.0, 6.0, 4.0), (45.0, 120.0))
    >>> masses.size, float(masses[0]), float(masses[-1]), winds.size, 45.0 in masses, -4.0 in winds
    (16, 25.0, 136.0, 21, True, True)
    """
    found = grid(posted, tested)
    if isinstance(found, Refusal):
        return found
    masses, winds = found
    rows = _beyond(float(masses[0]), float(masses[-1]), ROWS, MASS_KG)
    inside = [mass for mass in tested or () if masses[0] < mass < masses[-1]]
    return np.unique(np.concatenate([rows, inside])), _beyond(float(winds[0]), float(winds[-1]), COLUMNS, WIND_MPS)


def _beyond(low: float, high: float, count: int, within: tuple[float, float]) -> FloatArray:
    """Return about ``count`` figures from a little below to a little above, ``low`` and ``high`` exactly among them."""
    inner = np.linspace(low, high, count - 2 * BEYOND)
    step = inner[1] - inner[0]
    below = np.maximum(low - step * np.arange(BEYOND, 0, -1), within[0])
    above = np.minimum(high + step * np.arange(1, BEYOND + 1), within[1])
    return np.unique(np.concatenate([below[below < low], inner, above[above > high]]))


@dataclass(frozen=True)
class Run:
    """Winds next to each other, from tail to head, in which a weight has one state."""

    from_mps: float
    to_mps: float
    state: str


def runs(made: Map, row: int) -> list[Run]:
    """Return what becomes of one weight, wind by wind, equal ones together."""
    states = [CELL_NAMES[one] for one in made.state[row]]
    found = []
    for state, group in groupby(range(len(states)), key=lambda i: states[i]):
        columns = list(group)
        found.append(Run(float(made.winds_mps[columns[0]]), float(made.winds_mps[columns[-1]]), state))
    return found
