"""Which labels are drawn for a course: of its parts where they are fitted, its racks of gear, and its places."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from uuid import UUID

from django.utils.translation import gettext as _

from courses.models import Component, Course, Place
from courses.queries import Fitted, Setup
from courses.slots import brake_kinds, words_for
from inspections.here import place_code
from inspections.words import section_label
from reports.papers.label_sheet import Label

PARTS, PLACES = "parts", "places"
SHELF = "shelf"  # what is fitted nowhere
Address = Callable[[UUID], str]


def spots_of(setup: Setup) -> list[tuple[str, str]]:
    """Return (key, words) of what labels can be chosen by: each place, each rack, and what is fitted nowhere."""
    found = [(str(place.pk), str(place)) for place in (*setup.houses, *setup.platforms, *setup.lines)]
    for store in setup.stores:
        found.append((str(store.pk), str(store)))
        racks = sorted({one.slot for one in setup.at_place(store) if one.component.is_pooled})
        found += [(f"{store.pk}|{slot}", f"{store}, {_rack(slot)}") for slot in racks]
    return [*found, (SHELF, _("Fitted nowhere"))]


def labels_of(
    setup: Setup, *, spots: Iterable[str], what: Iterable[str], kind: str, codes: Iterable[str], address: Address
) -> list[Label]:
    """Return the labels in the order in which one comes past, of each place its own first.

    ``spots`` (see ``spots_of``) and ``what`` empty mean all; ``kind`` narrows the parts; with ``codes`` only the parts
    with these tag codes are drawn. ``address`` makes what a code leads to of a public identity.
    """
    wanted, sorts = set(spots), set(what) or {PARTS, PLACES}
    only = {one.casefold() for one in codes}
    found: list[tuple[Component | None, Label]] = []
    for place in (*setup.houses, *setup.platforms, *setup.lines, *setup.stores):
        if PLACES in sorts and not only and not kind and (not wanted or str(place.pk) in wanted):
            found.append(_of_place(setup.course, place, address))
        for one in setup.at_place(place):
            if PARTS in sorts and (not wanted or _spot_of(setup, one) in wanted):
                found.append((one.component, _of_part(setup, one.component, _where(setup, one), address)))
    if PARTS in sorts and (not wanted or SHELF in wanted):
        fitted = {one.component.pk for one in setup.fitted}
        rest = Component.objects.filter(course=setup.course, retired_at=None).exclude(pk__in=fitted).order_by("tag")
        found += [(part, _of_part(setup, part, "", address)) for part in rest]
    return [
        label
        for part, label in found
        if part is None or ((not kind or part.kind == kind) and (not only or part.tag.casefold() in only))
    ]


def _spot_of(setup: Setup, one: Fitted) -> str:
    if one.component.is_pooled and setup.places[one.place_id].kind == Place.Kind.STORE:
        return f"{one.place_id}|{one.slot}"
    return str(one.place_id)


def _of_place(course: Course, place: Place, address: Address) -> tuple[None, Label]:
    name = place.name if place_code(place) != place.name else ""
    return None, Label(place_code(place), name, "", course.name, address(place.pk))


def _of_part(setup: Setup, part: Component, where: str, address: Address) -> Label:
    what = part.label or part.get_kind_display().capitalize()
    return Label(part.tag, what, where, setup.course.name, address(part.pk))


def _where(setup: Setup, one: Fitted) -> str:
    """Say where a part is fitted, in as few words as a label has room for."""
    place = setup.places[one.place_id]
    if place.kind == Place.Kind.STORE:
        return _rack(one.slot) if one.component.is_pooled else words_for(one.slot)
    spot = words_for(one.slot, brake_kinds(setup, place)).partition(",")[0]
    if place.kind == Place.Kind.HOUSE:
        return place.name
    return f"{place_code(place)}, {spot[:1].lower()}{spot[1:]}"


def _rack(slot: str) -> str:
    return section_label(f"rack:{slot}")
