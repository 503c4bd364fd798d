"""The tag code that somebody scans or types where they stand: does it belong here, and if not, where does it.

Once at a stop of the walk is enough, and it is never required. A code shows where somebody was, not what was looked at.
"""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from courses.models import Component, Place
from courses.queries import Fitted, Setup
from courses.slots import brake_kinds, words_for
from inspections.picture import RACK
from inspections.tags import scanned, token_of
from inspections.words import section_label

HOW = {"scanned": gettext_lazy("scanned"), "typed": gettext_lazy("typed in")}
MOST_CODE = 30
TOKEN = 6  # letters of an address: of a thousand parts two begin alike in one course of some 100 000


def stop_of(place: Place, section: str) -> UUID:
    """Return the place where one stands to fill in a sheet: of a line's sheet, the platform at that end."""
    if place.kind != Place.Kind.LINE:
        return place.pk
    stands: UUID = place.landing_id if section == "landing" else place.launch_id  # type: ignore[assignment]
    return stands


def read_code(setup: Setup, place: Place, section: str, code: str) -> tuple[str, str]:
    """Return (the tag code as the register writes it, "") or ("", a sentence that says why it is not noted here).

    ``code`` is what stands on a tag, or the address that a label's code carries: that of a place is noted by its name.
    """
    typed = code.strip()
    if (pk := scanned(typed)) is not None:
        return _read_label(setup, place, section, pk)
    typed = typed[:MOST_CODE]
    if not typed:
        return "", _("Type the code that is on the tag.")
    fitted = next((one for one in setup.fitted if one.component.tag.casefold() == typed.casefold()), None)
    stop = stop_of(place, section)
    if fitted is not None:
        return _read_part(setup, stop, fitted)
    named = (one for one in setup.places.values() if place_code(one).casefold() == typed.casefold())
    if (labelled := next(named, None)) is not None:
        return _read_place(stop, labelled)
    known = Component.objects.filter(course=setup.course, tag__iexact=typed).first()
    return "", _not_fitted(setup, known, typed)


def _read_part(setup: Setup, stop: UUID, fitted: Fitted) -> tuple[str, str]:
    if _is_here(setup, fitted, stop):
        return fitted.component.tag, ""
    about = {"code": fitted.component.tag, "where": where_of(setup, fitted)}
    return "", _("%(code)s is not from here: it is fitted at %(where)s. Nothing is noted.") % about


def _read_place(stop: UUID, labelled: Place) -> tuple[str, str]:
    if is_at(labelled, stop):
        return place_code(labelled), ""
    return "", _("This label is not from here: it is that of %(where)s. Nothing is noted.") % {"where": labelled}


def _read_label(setup: Setup, place: Place, section: str, pk: UUID) -> tuple[str, str]:
    stop = stop_of(place, section)
    fitted = next((one for one in setup.fitted if one.component.pk == pk), None)
    if fitted is not None:
        return _read_part(setup, stop, fitted)
    labelled = setup.places.get(pk)
    if labelled is not None:
        return _read_place(stop, labelled)
    known = Component.objects.filter(course=setup.course, pk=pk).first()
    if known is not None:
        return "", _not_fitted(setup, known, known.tag)
    return "", _("This label is of no part and no place of this course. Nothing is noted.")


def code_here(setup: Setup, place: Place, section: str, thing: Component | Place) -> str:
    """Return the code under which a labelled part or place is noted on a sheet; empty where it is not from there."""
    return _read_label(setup, place, section, thing.pk)[0]


def place_code(place: Place) -> str:
    """Return what stands for a place where a tag code stands for a part: its kind and number, or its name."""
    if place.kind == Place.Kind.LINE:
        return _("Line %(number)s") % {"number": place.number}
    if place.kind == Place.Kind.PLATFORM:
        return _("Platform %(number)s") % {"number": place.number}
    return place.name[:MOST_CODE]


def is_at(place: Place, stop: UUID) -> bool:
    """Tell whether one stands at a place, or at an end of a line, when one is at a stop."""
    return stop in ({place.launch_id, place.landing_id} if place.kind == Place.Kind.LINE else {place.pk})


def codes_for(setup: Setup, place: Place, section: str) -> dict[str, Any]:
    """Return what lets a phone read a code at this stop without asking: what is here, and where the rest belongs.

    ``here`` and the lists of ``elsewhere`` hold (code, the beginning of its label's address); see ``TOKEN``.
    """
    stop = stop_of(place, section)
    here: list[list[str]] = []
    elsewhere: dict[str, list[list[str]]] = {}
    for one in setup.fitted:
        code = [one.component.tag, token_of(one.component.pk)[:TOKEN]]
        where = here if _is_here(setup, one, stop) else elsewhere.setdefault(where_of(setup, one), [])
        where.append(code)
    for spot in setup.places.values():
        # A place has no tag: it is known by its label alone.
        code = ["", token_of(spot.pk)[:TOKEN], place_code(spot)]
        (here if is_at(spot, stop) else elsewhere.setdefault(str(spot), [])).append(code)
    about = {"course": str(setup.course.pk), "day": setup.today.isoformat(), "place": str(setup.places[stop])}
    return {"stop": str(stop), **about, "here": here, "elsewhere": elsewhere}


def _is_here(setup: Setup, one: Fitted, stop: UUID) -> bool:
    """Tell whether a part is in reach of a stop: fitted there, or at the end of a line that starts or lands there."""
    if one.place_id == stop:
        return True
    line = setup.places.get(one.place_id)
    if line is None or line.kind != Place.Kind.LINE:
        return False
    ends = {"end-launch": {line.launch_id}, "cable": {line.launch_id, line.landing_id}}
    return stop in ends.get(one.slot, {line.landing_id})


def where_of(setup: Setup, one: Fitted) -> str:
    """Return where a part is fitted, in words."""
    place = setup.places.get(one.place_id)
    if place is None:
        return _("another place")
    if place.kind == Place.Kind.STORE and one.slot != "rescue":
        return f"{place}, {section_label(RACK + one.slot)}"
    if place.kind == Place.Kind.LINE:
        return f"{place}, {words_for(one.slot, brake_kinds(setup, place))}"
    return str(place)


def _not_fitted(setup: Setup, known: Component | None, code: str) -> str:
    if known is None:
        return _("No part of this course has the code %(code)s. Nothing is noted.") % {"code": code}
    if known.retired_at is not None:
        day = date_format(known.retired_at.astimezone(setup.course.zone).date(), "j F Y")
        return _("%(code)s was retired on %(day)s and should not be here: tell the manager. Nothing is noted.") % {
            "code": known.tag,
            "day": day,
        }
    return _("%(code)s is in the register, but fitted nowhere. Nothing is noted.") % {"code": known.tag}
