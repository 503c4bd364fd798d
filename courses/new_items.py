"""What a checklist with new items will hold, said before it is sent and for as long as their limits are missing.

An item that measures and has no limit is "not checked", whatever is read, and an item that counts since a sheet was
signed was not looked at: both hold. A first limit needs a second person and counts from the next operating day, so
that an item that counts at once holds its lines for the day.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from courses import limits
from courses.gaps import NO_PUBLISHED_LIMIT
from courses.models import Place
from courses.outlook import start_day
from courses.queries import Setup

Item = Mapping[str, Any]


def without_limit(setup: Setup, place: Place, items: Iterable[Item]) -> list[Item]:
    """Return those of a place's items that ask for a figure which no limit in force judges."""
    return [one.item for one in limits.of_items(setup, place, items) if not one.rules]


def lines_of(setup: Setup, place: Place) -> list[Place]:
    """Return the lines that need a place: itself, those that begin or end there, or all (gear store, course house)."""
    if place.kind == Place.Kind.LINE:
        return [place]
    if place.kind == Place.Kind.PLATFORM:
        return [line for line in setup.lines if place.pk in (line.launch_id, line.landing_id)]
    return setup.lines


def looked(setup: Setup, place: Place, new: Mapping[str, Any], *, at_once: bool) -> list[tuple[str, str]]:
    """Return what the new items of a checklist hold, as states of notices with their sentences.

    ``at_once``: the checklist only makes things stricter and counts as soon as it is sent.
    """
    version = setup.checklist(place)
    if version is None:
        return []
    known = {item["key"] for item in version.content["items"]}
    added = [item for item in new["items"] if item["key"] not in known]
    bare = [item for item in without_limit(setup, place, added) if holds(place, item)]
    lines = ", ".join(str(line) for line in lines_of(setup, place))
    if not lines:
        return []
    said = []
    values = {"lines": lines, "day": date_format(start_day(setup), "l j F"), "items": named(bare)}
    if bare:
        sentence = _(
            "Held until its limit is entered and confirmed: %(lines)s. No limit is in force for %(items)s. Entered and "
            "confirmed today, it counts from %(day)s."
        )
        if at_once:
            sentence = _(
                "Held as soon as you send this, until the limit counts: %(lines)s. No limit is in force for %(items)s. "
                "Entered and confirmed today, it counts from %(day)s: let the checklist wait for that day too, and "
                "nothing is held in between."
            )
        said.append(("withdraw" if at_once else "watch", sentence % values))
    if at_once and any(item["class"] != "minor" for item in added):
        sentence = _(
            "Where today's sheet is signed already, somebody has to look at the new item before this is ready again: "
            "%(lines)s."
        )
        said.append(("watch", sentence % values))
    return said


def holds(place: Place, item: Item) -> bool:
    """Tell whether an item without a limit holds: on a line any that no published rule knows, else all but minor ones.

    A line names such a limit among what it lacks (``courses.gaps``), whatever class the item is of.
    """
    return item["class"] != "minor" or (place.kind == Place.Kind.LINE and item["measures"] in NO_PUBLISHED_LIMIT)


def named(items: Iterable[Item]) -> str:
    """Return items by code and question."""
    return ", ".join(f"{item['code']} ({item['text']})" for item in items)
