"""Maps that were computed, kept by the fingerprint of what they were computed from, in this process alone.

The fingerprint is over every figure, the grid and the version of the method: what was kept can never be that of other
figures, and a change of any of them is simply another key. The least used go first.
"""

from __future__ import annotations

from collections import OrderedDict
from threading import Lock

from engineering.envelope import STEPS, Map, Plan, weight_wind_map
from engineering.envelope_notes import fingerprint
from engineering.line import FloatArray
from engineering.refusal import Refusal

MOST = 96  # of some 80 kB each

_known: OrderedDict[str, Map | Refusal] = OrderedDict()
_lock = Lock()


def map_of(plan: Plan, masses_kg: FloatArray, winds_mps: FloatArray, beside: Map | None = None) -> Map | Refusal:
    """Return the map of these figures, computed only if it was not before; ``beside``: one of the same rides."""
    key = fingerprint(plan, masses_kg, winds_mps, steps=STEPS)
    with _lock:
        if key in _known:
            _known.move_to_end(key)
            return _known[key]
    made = weight_wind_map(plan, masses_kg, winds_mps, beside=beside)
    with _lock:
        _known[key] = made
        while len(_known) > MOST:
            _known.popitem(last=False)
    return made


def forget() -> None:
    """Forget every map."""
    with _lock:
        _known.clear()
