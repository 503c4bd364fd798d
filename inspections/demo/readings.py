"""Plausible figures for every item that asks for one: invented, with a slow wear over the season."""

from __future__ import annotations

import random
from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from courses.models import Place
from courses.queries import Setup

STEADY = {
    "rope.broken_wires_lay": "0",
    "rope.broken_wires_valley": "0",
    "rope.broken_wires_end": "0",
    "clip.count": "4",
    "turnbuckle.threads": "2",
    "witness.mark": "0",
    "swage.mark": "0",
    "anchor.creep": "1",
    "hardware.section": "21.6",
    "rope.outer_wire_wear": "0.05",
    "brake.bore": "13.6",
    "air.gap": "5.4",
    "structure.lean": "8",
    "guy.tension": "12.0",
    "rescue.people": "3",
    "scale.error": "0.2",
    "tail.length": "320",
    "trolley.groove": "0.3",
}


def figure_for(setup: Setup, place: Place, item: Mapping[str, Any], share: float, rng: random.Random) -> str:
    """Return what is typed for an item when ``share`` of the season has passed (0 to 1)."""
    quantity = item["measures"]
    document = setup.document(place)
    if quantity == "rope.diameter":
        new = Decimal(document["cable"]["diameter_mm"]) + Decimal("0.20")
        worn = new - Decimal(f"{0.06 * share + rng.uniform(0, 0.02):.2f}")
        return f"{worn:.2f} / {worn - Decimal('0.02'):.2f}"
    if quantity == "clip.torque":
        ends = document["ends"][item["slot"].removeprefix("end-")]
        return f"{Decimal(ends['clips']['torque_nm']) + Decimal(rng.randint(1, 4)):.0f}"
    if quantity == "clip.spacing":
        return f"{6 * Decimal(document['cable']['diameter_mm']) + rng.randint(4, 9):.0f}"
    if quantity == "rope.sag":
        return f"{Decimal(document['length_m']) / 50 + Decimal(f'{rng.uniform(-0.08, 0.08):.2f}'):.2f}"
    if quantity == "spring.free_length":
        return f"{600 - 8 * share + rng.uniform(-0.6, 0.6):.1f}"
    if quantity == "cord.free_length":
        return f"{1800 + 38 * share + rng.uniform(-3, 3):.0f}"
    if quantity == "cord.cycles":
        return "0"  # a new cord; what it has done since is for the caller to count
    if quantity == "retraction.time":
        return f"{6 + rng.uniform(-0.3, 0.4):.1f}"
    if quantity in {"weather.wind_gust", "weather.wind_mean"}:
        return f"{rng.uniform(1.2, 4.8):.1f}"
    return STEADY[quantity]
