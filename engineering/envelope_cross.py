"""The strongest wind across the line in which a band's weights and winds still hold. SI units.

Wind across holds a rider back: it adds to the air's speed against him, and with a head wind more than alone. So the
lightest weight of the band in its strongest head wind is the first to stop short. He is ridden in winds across from
none to the one that is posted; what is found for him is then tried with every weight of the band, in its strongest head
and tail wind. Who is held back arrives slower than others who were looked at already with each of the brakes; who stops
short is seen with the primary brake as new, which catches earliest.

Nobody calls a wind across that blows at a right angle only. ``along_share`` of it may blow along the line, from ahead
or from behind; where that would be more than the band's own head or tail wind, the wind across ends too.
"""

from __future__ import annotations

import math

import numpy as np

from engineering.envelope import Plan, outcome
from engineering.envelope_band import Band, Edge
from engineering.envelope_cells import CELL_NAMES, NOT_KNOWN, OK
from engineering.line import FloatArray
from engineering.refusal import Refusal

CROSSES = 41
OBLIQUE = math.sqrt(0.5)  # of a wind called across, up to so much may blow along: each word stands for a quarter
OF_MAP = "across"


def cross_edge(
    plan: Plan,
    masses_kg: FloatArray,
    band: Band,
    posted_mps: float,
    *,
    along_share: float = OBLIQUE,
    now_mps: float = 0.0,
) -> Edge:
    """Return the strongest wind across the line in m/s in which a band holds: at most ``posted_mps``, at least nought.

    ``plan`` has the brakes as new, ``masses_kg`` are the weights of the band's maps. ``now_mps`` is the wind across in
    which the band was looked at already, with its share along the line. The edge is a wind that was computed and found
    good, for the lightest with all weaker ones of the grid and for the others by itself; or nought.
    """
    along = min(max(band.head.value, 0.0), max(-band.tail.value, 0.0)) / along_share
    most = min(posted_mps, max(along, now_mps))
    if not most > 0.0:
        return Edge(0.0, "posted" if posted_mps <= 0.0 else "along")
    now = [now_mps] if 0.0 < now_mps < most else []
    crosses = np.unique(np.concatenate([np.linspace(0.0, most, CROSSES), now]))
    rows = masses_kg[(masses_kg >= band.least.value) & (masses_kg <= band.most.value)]
    lightest = _worst(plan, rows[:1], [band.head.value], crosses)
    last, beyond = _last_good(lightest)
    winds = [band.tail.value, band.head.value]
    if last > 0 and np.any(_worst(plan, rows, winds, crosses[[last]]) != OK):
        last, beyond = _last_good(_worst(plan, rows, winds, crosses[: last + 1]))
    if beyond is not None:
        return Edge(float(crosses[last]), CELL_NAMES[beyond], OF_MAP)
    return Edge(float(crosses[last]), "posted" if crosses[last] == posted_mps else "along")


def _worst(plan: Plan, masses: FloatArray, winds: list[float], crosses: FloatArray) -> FloatArray:
    """Return the worst state at each wind across, of these weights in these winds along the line."""
    found = outcome(plan, masses[:, None, None], np.asarray(winds)[None, :, None], cross_mps=crosses[None, None, :])
    if isinstance(found, Refusal):
        return np.full(crosses.shape, NOT_KNOWN)
    made: FloatArray = found.state.max(axis=(0, 1))
    return made


def _last_good(states: FloatArray) -> tuple[int, int | None]:
    """Return the last place up to which all is good, nought if none is, and the state that ends it."""
    bad = np.flatnonzero(states != OK)
    if bad.size == 0:
        return states.size - 1, None
    return max(int(bad[0]) - 1, 0), int(states[bad[0]])
