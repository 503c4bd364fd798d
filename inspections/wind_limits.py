"""Which wind limit a wind read at a test ride is held against, as clearance and the ride's own form ask it."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from engineering.clearance import ComputedFact
from inspections.band import NO_SIDE_MPS
from inspections.figures import number

SIDES = ("head", "tail", "cross")


def posted_winds(document: Mapping[str, Any]) -> dict[str, Decimal]:
    """Return the wind limits of a line's data in m/s by side, as far as they are entered."""
    wind = document.get("wind") or {}
    return {side: limit for side in SIDES if (limit := number(wind.get(f"{side}_mps"))) is not None}


def ride_limit(
    posted: Mapping[str, Decimal], signed: ComputedFact | None, side: str, speed: Decimal
) -> Decimal | None:  # fmt: skip
    """Return the limit in m/s for a wind that came from a side; ``None`` where the line has none.

    What came from no one side, or is too little to have one, is held against the lowest that is posted, as the course
    house's reading; and against the greatest that the line was signed for, since it is more than that from any side.
    """
    if not posted:
        return None
    cut = dict(signed.wind_mps) if signed is not None else {}
    by_side = {name: min(limit, cut.get(name, limit)) for name, limit in posted.items()}
    if side in by_side and speed >= Decimal(str(NO_SIDE_MPS)):
        return by_side[side]
    return min(*posted.values(), max(by_side.values()))
