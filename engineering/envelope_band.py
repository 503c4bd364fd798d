"""The day's band of weights and wind limits, from maps: never wider than posted, each edge with what set it. SI units.

Every edge is a weight or a wind at which a cell was computed and found good, next to others found good: nothing is
interpolated towards a bad cell. Where a map cannot be computed, or no band is found, there is no band and the reason is
told; what is posted is not thereby confirmed. A band never clears a line.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from engineering.envelope import Map
from engineering.envelope_cells import CELL_NAMES, OK, worst
from engineering.line import MASS_KG, FloatArray, outside
from engineering.refusal import Refusal, refuse

POSTED_WIND_MPS = (0.0, 15.0)
GUST_MPS = (0.0, 15.0)
MASSES, WINDS = 15, 21

EDGES: Mapping[str, str] = {
    "posted": "As posted.",
    "tested": "As tested with ballast in the last days.",
    "slow": "Beyond it a rider arrives slowly and may stop short of the brake.",
    "short": "Beyond it a rider stops short of the brake.",
    "near-bind": "Beyond it a rider uses more of the brake's travel than allowed.",
    "hard": "Beyond it a rider is stopped harder than allowed.",
    "fast": "Beyond it a rider arrives faster than the trolley or the brake is rated for.",
    "bind": "Beyond it a rider drives the brake into bind.",
    "passed": "Beyond it a rider is not stopped before the end of the brake zone.",
    "outside": "Beyond it the method does not reach.",
    "unknown": "Beyond it a figure is missing.",
    "map": "As far as was computed.",
    "along": "Beyond it the part of it that may blow along the line is more than the head or tail wind of this band.",
}


@dataclass(frozen=True)
class Posted:
    """What is posted for the line: weights in kg as ridden, greatest wind in m/s from ahead, from behind and across.

    Without a wind across none is looked for; the others are needed.
    """

    least_kg: float | None
    most_kg: float | None
    head_mps: float | None
    tail_mps: float | None
    cross_mps: float | None = None

    def problem(self) -> Refusal | None:
        """Return why this cannot be used, or ``None``."""
        for mass in (self.least_kg, self.most_kg):
            found = outside(mass, "posted", MASS_KG)
            if found:
                return found
        for wind in (self.head_mps, self.tail_mps):
            found = outside(wind, "posted-wind", POSTED_WIND_MPS, missing="posted-missing")
            if found:
                return found
        return _order_problem(self.least_kg, self.most_kg)


@dataclass(frozen=True)
class Edge:
    """One end of the band: its value, what set it (a key of ``EDGES``) and in which of the maps, by name."""

    value: float
    set_by: str
    of_map: str = ""

    @property
    def sentence(self) -> str:
        """Return in English what set it."""
        return EDGES[self.set_by]


@dataclass(frozen=True)
class Band:
    """The band: weights in kg; winds along the line in m/s, head wind positive, between which it holds.

    ``head`` is the greatest head wind; ``tail`` the other end, negative for a tail wind. ``cross`` is the strongest
    wind across the line, as ``engineering.envelope_cross`` finds it; ``None`` where it was not looked for.
    """

    least: Edge
    most: Edge
    head: Edge
    tail: Edge
    cross: Edge | None = None


def grid(posted: Posted, tested: tuple[float, float] | None = None) -> tuple[FloatArray, FloatArray] | Refusal:
    """Return weights and winds for the maps: the whole posted range, its ends and those of the tested weights included.

    >>> masses, winds = grid(Posted(40.0, 120.0, 6.0, 4.0))
    >>> masses.size, float(masses[0]), float(masses[-1]), winds.size, float(winds[0]), float(winds[-1])
    (15, 40.0, 120.0, 21, -4.0, 6.0)
    """
    found = posted.problem()
    least, most, head, tail = posted.least_kg, posted.most_kg, posted.head_mps, posted.tail_mps
    if found or least is None or most is None or head is None or tail is None:
        return found or refuse("posted-missing")
    if head + tail <= 0.0:
        return refuse("posted-wind-range", value=head, low=POSTED_WIND_MPS[0], high=POSTED_WIND_MPS[1])
    inside = [mass for mass in tested or () if least < mass < most]
    masses = np.unique(np.concatenate([np.linspace(least, most, MASSES), inside]))
    return masses, np.linspace(-tail, head, WINDS)


def day_band(
    maps: Mapping[str, Map],
    posted: Posted,
    head_mps: float | None,
    gust_mps: float | None,
    tested: tuple[float, float] | None = None,
) -> Band | Refusal:
    """Return the widest band of weights good in today's wind, and the winds in which all of them stay good.

    ``maps`` are of one grid, by name: the primary brake, the worn one, the emergency brake alone; a cell is good only
    if it is so in all. Today's wind along the line is ``head_mps`` give or take ``gust_mps``. ``tested`` are the
    smallest and greatest ballast of the last days, within which the band stays. Raises ``ValueError`` for no map, or
    maps of different grids.
    """
    masses, winds, state = _together(maps)
    found = posted.problem() or outside(head_mps, "wind", (-15.0, 15.0)) or outside(gust_mps, "gust", GUST_MPS)
    found = found or (_order_problem(*tested) if tested else None)
    least, most = posted.least_kg, posted.most_kg
    if found or least is None or most is None or posted.head_mps is None or posted.tail_mps is None:
        return found or refuse("posted-missing")
    if head_mps is None or gust_mps is None:
        return refuse("wind-missing")
    from_mps, to_mps = head_mps - gust_mps, head_mps + gust_mps
    if from_mps < -posted.tail_mps or to_mps > posted.head_mps:
        return refuse("wind-over", low=from_mps, high=to_mps)
    if from_mps < winds[0] or to_mps > winds[-1]:
        return refuse("map-narrow", low=from_mps, high=to_mps)
    now = slice(int(np.searchsorted(winds, from_mps, "right")) - 1, int(np.searchsorted(winds, to_mps, "left")) + 1)
    low, high = (least, most) if tested is None else (max(least, tested[0]), min(most, tested[1]))
    allowed = (masses >= low) & (masses <= high)
    rows = _widest(np.all(state[:, now] == OK, axis=1) & allowed, masses)
    if rows is None:
        return refuse("band-none")
    columns = _around(np.all(state[rows] == OK, axis=0) & (winds >= -posted.tail_mps) & (winds <= posted.head_mps), now)
    by = _SetBy(maps, rows, columns, now)
    return Band(
        least=by.weight(float(masses[rows.start]), rows.start - 1, masses, low, tested is not None and low > least),
        most=by.weight(float(masses[rows.stop - 1]), rows.stop, masses, high, tested is not None and high < most),
        head=by.wind(float(winds[columns.stop - 1]), columns.stop, winds, posted.head_mps),
        tail=by.wind(float(winds[columns.start]), columns.start - 1, winds, -posted.tail_mps),
    )


def _order_problem(low: float | None, high: float | None) -> Refusal | None:
    if low is None or high is None or low < high:
        return None
    return refuse("posted-order", low=low, high=high)


def _together(maps: Mapping[str, Map]) -> tuple[FloatArray, FloatArray, NDArray[np.int8]]:
    """Return the grid and the worst state of all maps."""
    if not maps:
        raise ValueError("a band needs at least one map")
    first = next(iter(maps.values()))
    for one in maps.values():
        if not np.array_equal(one.masses_kg, first.masses_kg) or not np.array_equal(one.winds_mps, first.winds_mps):
            raise ValueError("the maps have to be of one grid")
    return first.masses_kg, first.winds_mps, worst(*(one.state for one in maps.values()))


def _widest(good: NDArray[np.bool_], masses: FloatArray) -> slice | None:
    """Return the run of good weights that spans most kilograms; a single weight is no band."""
    runs, begin = [], None
    for i, one in enumerate([*good, False]):
        if one and begin is None:
            begin = i
        elif not one and begin is not None:
            runs.append(slice(begin, i))
            begin = None
    runs = [run for run in runs if run.stop - run.start > 1]
    return max(runs, key=lambda run: float(masses[run.stop - 1] - masses[run.start])) if runs else None


def _around(good: NDArray[np.bool_], now: slice) -> slice:
    """Return the run of good winds around those of now, which are good."""
    begin, end = now.start, now.stop
    while begin > 0 and good[begin - 1]:
        begin -= 1
    while end < good.size and good[end]:
        end += 1
    return slice(begin, end)


@dataclass(frozen=True)
class _SetBy:
    """Finds what set an edge: the worst cell next to it, and the map that cell is of."""

    maps: Mapping[str, Map]
    rows: slice
    columns: slice
    now: slice

    # An edge inside its bound was set by the cell beyond it, if that cell is inside the bound too; otherwise the grid
    # had no cell nearer to the bound.
    def weight(self, value: float, beyond: int, masses: FloatArray, bound: float, by_test: bool) -> Edge:
        within = 0 <= beyond < masses.size and (masses[beyond] - bound) * (value - bound) >= 0
        if value == bound or not within:
            return Edge(value, ("tested" if by_test else "posted") if value == bound else "map")
        return self._worst(value, [one.state[beyond, self.now] for one in self.maps.values()])

    def wind(self, value: float, beyond: int, winds: FloatArray, bound: float) -> Edge:
        within = 0 <= beyond < winds.size and (winds[beyond] - bound) * (value - bound) >= 0
        if value == bound or not within:
            return Edge(value, "posted" if value == bound else "map")
        return self._worst(value, [one.state[self.rows, beyond] for one in self.maps.values()])

    def _worst(self, value: float, beside: Sequence[NDArray[np.int8]]) -> Edge:
        states = [int(one.max()) for one in beside]
        which = int(np.argmax(states))
        return Edge(value, CELL_NAMES[states[which]], list(self.maps)[which])
