"""Maps and winds across that were computed, kept by what they were computed from, in this process alone.

The fingerprint is over every figure, the grid and the version of the method: what was kept can never be that of other
figures, and a change of any of them is simply another key. The least used go first.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable
from threading import Lock
from typing import cast

from engineering.envelope import STEPS, Map, Plan, weight_wind_map
from engineering.envelope_band import Band, Edge
from engineering.envelope_cross import cross_edge
from engineering.envelope_notes import fingerprint
from engineering.line import FloatArray
from engineering.refusal import Refusal

MOST = 128  # maps of some 80 kB each, and what is a few bytes

_known: OrderedDict[Hashable, object] = OrderedDict()
_lock = Lock()


def map_of(plan: Plan, masses_kg: FloatArray, winds_mps: FloatArray, beside: Map | None = None) -> Map | Refusal:
    """Return the map of these figures, computed only if it was not before; ``beside``: one of the same rides."""
    key = fingerprint(plan, masses_kg, winds_mps, steps=STEPS)
    return cast(Map | Refusal, _once(key, lambda: weight_wind_map(plan, masses_kg, winds_mps, beside=beside)))


def cross_of(one: Map, band: Band, posted_mps: float, *, now_mps: float) -> Edge:
    """Return the strongest wind across in which a band of a map holds, computed only if it was not before."""
    key = (
        fingerprint(one.plan, one.masses_kg, one.winds_mps, steps=one.steps),
        tuple(edge.value for edge in (band.least, band.most, band.head, band.tail)),
        posted_mps, now_mps,
    )  # fmt: skip

    def made() -> Edge:
        return cross_edge(one.plan, one.masses_kg, band, posted_mps, now_mps=now_mps)

    return cast(Edge, _once(key, made))


def forget() -> None:
    """Forget everything."""
    with _lock:
        _known.clear()


def _once(key: Hashable, make: Callable[[], object]) -> object:
    with _lock:
        if key in _known:
            _known.move_to_end(key)
            return _known[key]
    made = make()
    with _lock:
        _known[key] = made
        while len(_known) > MOST:
            _known.popitem(last=False)
    return made
