"""What the rules need to know of the part that an item is about, as text: nominal sizes, dates, certificate, brakes."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from courses.models import Component, Place
from courses.queries import Setup
from courses.ropes import rope_of
from engineering import rope

BRAKE_WORDS = {"magnetic": "eddy", "runout": "gravity"}
DATES = ("made", "purchased", "first_use", "last_inspection", "last_done")


def facts_for(
    setup: Setup, place: Place, item: Mapping[str, Any], component: Component | None, day: date
) -> dict[str, str]:
    """Return the facts for judging one item of one place on one day. What is not entered is simply absent.

    Names and units are those of ``engineering/criteria/QUANTITIES.md``.
    """
    document = setup.document(place)
    data = setup.component_data(component) if component else {}
    facts: dict[str, str] = {"day": day.isoformat()}
    facts |= _rope_facts(document, item["slot"], data.get("certificate", {}))
    if item["slot"].startswith("end-"):
        facts |= _end_facts(document, item["slot"].removeprefix("end-"))
    facts |= _line_facts(document)
    dates = data.get("dates", {})
    facts |= {name: dates[name] for name in DATES if dates.get(name)}
    if component is not None:
        since = [found.since for found in setup.at_slot(place, item["slot"]) if found.component.pk == component.pk]
        if since:
            facts["fitted"] = since[0].astimezone(setup.course.zone).date().isoformat()
    if data.get("max_cycles"):
        facts["max_cycles"] = data["max_cycles"]
    figures = data.get("figures", {}).get(item.get("measures", ""), {})
    facts |= {name: figures[name] for name in ("nominal", "baseline", "reference") if figures.get(name)}
    if item.get("measures") == "rope.diameter" and "nominal" not in facts and facts.get("rope_diameter"):
        facts["nominal"] = facts["rope_diameter"]
    gauge = setup.limits(place).get("items", {}).get(item["key"], {}).get("gauge_u")
    if gauge:
        facts["gauge_u"] = gauge
    return {name: str(value) for name, value in facts.items() if value not in (None, "")}


def _rope_facts(document: Mapping[str, Any], slot: str, certificate: Mapping[str, Any]) -> dict[str, str]:
    """Return the facts of the main cable at the cable and its ends, else those of the component's own rope."""
    is_main = slot == "cable" or slot.startswith("end-")
    if is_main:
        ends = document.get("ends", {}).values()
        # At an end the component is the end itself; only what is fitted as the cable has the cable's certificate.
        described = rope_of(document.get("cable", {}), certificate if slot == "cable" else {}, ends=ends)
    else:
        described = rope_of({}, certificate, rope_class="running") if certificate else None
    if described is None:
        return {}
    found = rope.facts_for(described)
    # Only where the rope's own diameter is measured is that diameter the nominal size: see ``facts_for``.
    return {name: value for name, value in found.items() if name != "nominal"}


def _end_facts(document: Mapping[str, Any], which: str) -> dict[str, str]:
    clips = document.get("ends", {}).get(which, {}).get("clips", {})
    found = {}
    if clips.get("torque_nm"):
        found["required_torque"] = clips["torque_nm"]
    if clips.get("table"):
        found["clip_type"] = clips["table"]
    return found


def _line_facts(document: Mapping[str, Any]) -> dict[str, str]:
    brakes = document.get("brakes", [])
    primary = [brake.get("kind", "") for brake in brakes if brake.get("role") == "primary"]
    automatic = any(
        brake.get("role") == "emergency" and brake.get("kind") != "hand" and not brake.get("shares") for brake in brakes
    )
    found = {"emergency_brake": "yes" if automatic else "no"} if brakes else {}
    if primary:
        # A hand brake among several in series is what the speed rules are about, so it is the one named.
        kind = "hand" if "hand" in primary else primary[0]
        found["primary_brake"] = BRAKE_WORDS.get(kind, kind)
    if document.get("stroke_available_m"):
        found["stroke_available"] = document["stroke_available_m"]
    if document.get("engineered_landing"):
        found["engineered_landing"] = document["engineered_landing"]
    return found
