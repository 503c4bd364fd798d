"""The slots of a place: where a component can be fitted, and what is fitted there now."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext as _

from courses import documents
from courses.models import Component, Place
from courses.queries import Setup

RACK = "rack-"


@dataclass(frozen=True)
class Slot:
    """One slot with its words and the components in it; ``expected`` slots are shown even when they are empty."""

    key: str
    words: str
    components: tuple[Component, ...]
    expected: bool = True


def words_for(slot: str, brakes: dict[str, str] | None = None) -> str:
    """Say a slot in the words of the trade. ``brakes``: slot to kind of brake."""
    fixed = {
        "cable": _("Cable"), "end-launch": _("Launch end"), "end-landing": _("Landing end"), "ride": _("Test ride"),
        "platform": _("What carries the platform"), "rescue": _("Rescue kit"), "house": _("Course house"),
        "aside": _("Put aside"),
    }  # fmt: skip
    if slot in fixed:
        return fixed[slot]
    if slot.startswith(RACK):
        return _("Rack %(rack)s") % {"rack": slot.removeprefix(RACK)}
    role, _dash, number = slot.partition("-")
    if role in documents.ROLES and number:
        kind = documents.BRAKE_KINDS.get((brakes or {}).get(slot, ""), "")
        names = {"primary": _("Primary brake %(n)s"), "emergency": _("Emergency brake %(n)s")}
        return f"{names[role] % {'n': number}}, {kind}" if kind else names[role] % {"n": number}
    return slot.replace("-", " ").capitalize()


def brake_kinds(setup: Setup, place: Place) -> dict[str, str]:
    """Return the kind of brake at each brake slot of a place."""
    return {brake["slot"]: brake.get("kind", "") for brake in setup.document(place).get("brakes", [])}


def of_items(setup: Setup, place: Place) -> list[tuple[str, str]]:
    """Return the slots that an item of this place can be about, with their words."""
    kinds = brake_kinds(setup, place)
    keys = {
        Place.Kind.LINE: ["cable", "end-launch", "end-landing", *kinds, "ride"],
        Place.Kind.PLATFORM: ["platform"],
        Place.Kind.STORE: ["rescue"],
        Place.Kind.HOUSE: ["house"],
    }[Place.Kind(place.kind)]
    return [(key, words_for(key, kinds)) for key in keys]


def expected_at(setup: Setup, place: Place) -> list[str]:
    """Return the slots in which something ought to be fitted, in the order of the form."""
    if place.kind != Place.Kind.LINE:
        return []
    brakes = [b["slot"] for b in setup.document(place).get("brakes", []) if b.get("kind") != "runout"]
    return ["cable", "end-launch", "end-landing", *brakes]


def fitted_at(setup: Setup, place: Place) -> list[Slot]:
    """Return every slot of a place, the expected ones first."""
    kinds = brake_kinds(setup, place)
    expected = expected_at(setup, place)
    others = sorted({fitted.slot for fitted in setup.at_place(place)} - set(expected))
    return [
        Slot(
            slot, words_for(slot, kinds), tuple(fitted.component for fitted in setup.at_slot(place, slot)),
            slot in expected,
        )
        for slot in (*expected, *others)
    ]  # fmt: skip


def choices_for(setup: Setup, component: Component) -> list[tuple[str, str, Place, str]]:
    """Return ``(key, words, place, slot)`` of everything a component could be fitted at: what a line's data and the
    checklists in force name, and the racks that exist for gear.
    """
    found = []
    for place in (*setup.lines, *setup.platforms, *setup.houses, *setup.stores):
        kinds = brake_kinds(setup, place)
        checklist = setup.checklist(place)
        named = [item.get("slot", "") for item in (checklist.content.get("items", []) if checklist else [])]
        present = [fitted.slot for fitted in setup.at_place(place)]
        for slot in dict.fromkeys([*expected_at(setup, place), *named, *present]):
            if slot and slot != "ride" and (component.is_pooled or not slot.startswith(RACK)):
                found.append((f"{place.pk}|{slot}", f"{place}: {words_for(slot, kinds)}", place, slot))
    return found
