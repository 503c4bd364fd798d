"""The map of weights and winds as a drawing: one shape a cell, heaviest on top, tail wind left. Pure.

The sheet is 720 wide and is scaled as a whole, so that cells stay square; the style sheet keeps its letters readable.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from engineering.envelope import Map
from engineering.envelope_band import Posted
from engineering.envelope_cells import CELL_NAMES
from engineering.line import FloatArray
from reports.cell_shapes import shape_d

LEFT, TOP, WIDTH, FOOT = 84.0, 6.0, 720.0, 52.0
EDGE = 4.0
TONES = {
    "ok": "", "slow": "watch", "near-bind": "watch", "outside": "unknown", "unknown": "unknown",
    **dict.fromkeys(("short", "hard", "fast", "bind", "passed"), "withdraw"),
}  # fmt: skip


@dataclass(frozen=True)
class Box:
    """A rectangle on the sheet."""

    x: float
    y: float
    width: float
    height: float


@dataclass(frozen=True)
class MapDrawing:
    """The map. ``cells`` are (state, tone, path data); ``posted`` and ``tested`` frame what is posted and tested.

    ``rows`` and ``columns`` are (place, figure) of what is to be written beside and beneath; ``still`` is where there
    is no wind; ``asked`` is the rider asked about, ``None`` where he is not on the map.
    """

    cells: tuple[tuple[str, str, str], ...]
    grid: str
    posted: Box
    tested: Box | None
    rows: tuple[tuple[float, float], ...]
    columns: tuple[tuple[float, float], ...]
    still: float
    asked: tuple[float, float] | None
    left: float
    bottom: float
    side: float
    width: float = WIDTH

    @property
    def height(self) -> float:
        return self.bottom + FOOT

    @property
    def beside(self) -> float:
        """Return where the figures of the weights end."""
        return self.left - 10.0

    @property
    def beneath(self) -> float:
        """Return where the figures of the winds stand."""
        return self.bottom + 36.0


def drawing_of(
    made: Map, posted: Posted, tested: tuple[float, float] | None, asked: tuple[float, float] | None = None
) -> MapDrawing:
    """Place the map on the sheet; ``asked`` is a weight in kg and a head wind in m/s."""
    masses, winds = made.masses_kg, made.winds_mps
    side = (WIDTH - LEFT - EDGE) / winds.size
    bottom = TOP + side * masses.size

    def x(wind: float) -> float:
        return LEFT + side * (_place(winds, wind) + 0.5)

    def y(mass: float) -> float:
        return bottom - side * (_place(masses, mass) + 0.5)

    def box(low: float, high: float, inset: float) -> Box:
        left, right = x(-(posted.tail_mps or 0.0)), x(posted.head_mps or 0.0)
        top, foot = y(high), y(low)
        grown = side / 2 - inset
        return Box(left - grown, top - grown, right - left + 2 * grown, foot - top + 2 * grown)

    paths: dict[str, list[str]] = {}
    for row, mass in enumerate(masses):
        for column, wind in enumerate(winds):
            name = CELL_NAMES[made.state[row, column]]
            paths.setdefault(name, []).append(shape_d(name, x(float(wind)), y(float(mass)), side * 0.4))
    ends = (posted.least_kg or 0.0, posted.most_kg or 0.0)
    kept = tested and (max(tested[0], ends[0]), min(tested[1], ends[1]))
    on_map = asked and masses[0] <= asked[0] <= masses[-1] and winds[0] <= asked[1] <= winds[-1]
    return MapDrawing(
        cells=tuple((name, TONES[name], "".join(paths[name])) for name in CELL_NAMES if name in paths),
        grid=_grid(masses.size, winds.size, side, bottom),
        posted=box(*ends, 0.0),
        tested=box(*kept, 4.0) if kept and kept[0] <= kept[1] else None,
        rows=tuple((y(mass), mass) for mass in _told_rows(masses, ends)),
        columns=tuple((x(wind), wind) for wind in (-(posted.tail_mps or 0.0), posted.head_mps or 0.0) if wind),
        still=x(0.0),
        asked=(x(asked[1]), y(asked[0])) if asked and on_map else None,
        left=LEFT,
        bottom=bottom,
        side=side,
    )


def _grid(rows: int, columns: int, side: float, bottom: float) -> str:
    across = (f"M{LEFT:.1f} {bottom - side * row:.1f}H{LEFT + side * columns:.1f}" for row in range(rows + 1))
    down = (f"M{LEFT + side * column:.1f} {TOP:.1f}V{bottom:.1f}" for column in range(columns + 1))
    return "".join([*across, *down])


def _place(axis: FloatArray, value: float) -> float:
    """Return where a figure stands on an axis, counted in cells; between two cells in part."""
    return float(np.interp(value, axis, np.arange(axis.size)))


def _told_rows(masses: FloatArray, ends: tuple[float, float]) -> Iterator[float]:
    """Yield the weights that are written: the posted ends, and between them every third."""
    foot, top = (int(np.argmin(np.abs(masses - end))) for end in ends)
    yield from (float(masses[row]) for row in (foot, *range(foot + 3, top - 2, 3), top))
