"""What was judged of a test ride for its charts, as it stands in the entry: figures as text, exact to the last digit.

The baseline stands in the judgement of the ride that completed it and is handed on by every ride after it, so that it
is read from the newest ride alone. It is exact and append-only, and the rows are derived from it like any others; a
person has nothing to sign, because nothing was decided.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any

from engineering.control_baseline import Baseline
from engineering.control_residual import MorningRide, Residual
from engineering.control_words import Note
from engineering.refusal import Refusal
from inspections.control import Basis, Charted, Seen


def as_record(basis: Basis, air_c: float | None, found: Iterable[Charted], seen: Seen) -> dict[str, Any]:
    """Return what the entry of a ride keeps of its charts; of a ride of another ballast, that it is on none of them."""
    charts = [record for one in found if (record := _chart(one, seen))]
    return {**({} if air_c is None else {"air_c": repr(air_c)}), "by": basis.name, "charts": charts}


def _chart(one: Charted, seen: Seen) -> dict[str, Any]:
    mine = next(((ride, found) for other, ride, found in one.rides if other.pk == seen.pk), None)
    if mine is None:
        return {}
    ride, found = mine
    record: dict[str, Any] = {"what": one.quantity, "status": _note(one.control.status)}
    if isinstance(found, Residual):
        record |= {"measured": repr(ride.measured), "expected": repr(ride.measured - found.value)}  # type: ignore[operator]
    else:
        record["why"] = _note(found.note)
        if found.because is not None:
            record["because"] = {"code": found.because.code, "params": dict(found.because.params)}
    record["signals"] = [code for point in one.control.points if point.at == ride.at for code in point.signals]
    baseline = one.control.baseline
    return record | ({} if baseline is None else {"baseline": _baseline(baseline)})


def _note(one: Note) -> dict[str, Any]:
    return {"code": one.code, **({"params": dict(one.params)} if one.params else {})}


def _baseline(one: Baseline) -> dict[str, Any]:
    found: dict[str, Any] = {
        "first": one.first.isoformat(),
        "last": one.last.isoformat(),
        "count": one.count,
        "centre": repr(one.centre),
        "sigma": repr(one.sigma),
        "notes": [note.code for note in one.notes],
        "wild": [at.isoformat() for at in one.wild],
    }
    return {name: value for name, value in found.items() if value != []}


def chart_in(kept: Mapping[str, Any], quantity: str) -> Mapping[str, Any]:
    """Return what a ride keeps of one chart; empty where it keeps nothing."""
    return next((one for one in kept.get("charts", ()) if one["what"] == quantity), {})


def expected_in(kept: Mapping[str, Any], basis: Basis, ride: MorningRide, quantity: str) -> float | Refusal | None:
    """Return what was computed for a ride before; None if it was not, or from what is not in force any more."""
    chart = chart_in(kept, quantity) if kept.get("by") == basis.name else {}
    if "expected" in chart:
        return float(chart["expected"]) if float(chart["measured"]) == ride.measured else None
    if chart.get("why", {}).get("code") != "model-refused":
        return None
    because = chart.get("because")
    return math.nan if because is None else Refusal(because["code"], tuple(because["params"].items()))


def air_in(kept: Mapping[str, Any]) -> float | None:
    """Return the air's temperature with which a ride was judged."""
    return float(kept["air_c"]) if "air_c" in kept else None


def frozen_in(rides: Iterable[Seen], basis: Basis, quantity: str) -> Baseline | None:
    """Return the baseline as it was frozen: that of the newest ride judged under what is in force."""
    for seen in sorted(rides, key=lambda one: one.seq, reverse=True):
        chart = chart_in(seen.kept, quantity) if seen.kept.get("by") == basis.name else {}
        if "baseline" in chart:
            return _read(chart["baseline"])
    return None


def _read(kept: Mapping[str, Any]) -> Baseline:
    return Baseline(
        first=datetime.fromisoformat(kept["first"]),
        last=datetime.fromisoformat(kept["last"]),
        count=kept["count"],
        centre=float(kept["centre"]),
        sigma=float(kept["sigma"]),
        notes=tuple(Note(code) for code in kept.get("notes", ())),
        wild=tuple(datetime.fromisoformat(at) for at in kept.get("wild", ())),
    )
