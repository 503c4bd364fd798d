"""What identities in documents and versions are called: places, sheets, frequencies, classes."""

from __future__ import annotations

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from courses import sizes, slots
from courses.models import Place, Version
from courses.queries import Setup
from engineering.criteria import all_sets

L = gettext_lazy
SHEETS = {
    "launch": L("Launch end"),
    "cable": L("Cable"),
    "landing": L("Landing end"),
    "ride": L("Test ride"),
    "platform": L("Platform"),
    "gear": L("Gear"),
    "rescue": L("Rescue"),
    "house": L("Course house"),
}
CLASSES = {"critical": L("critical"), "major": L("major"), "minor": L("minor")}
EVERY = {
    "1": L("every day"),
    "7": L("every 7 days"),
    "14": L("every 14 days"),
    "30": L("every 30 days"),
    "90": L("every 90 days"),
    "180": L("every 180 days"),
    "365": L("every 365 days"),
    "event:wind": L("after strong wind"),
    "event:wet": L("after a change between wet and dry"),
    "event:strike": L("after a strike or when the emergency brake engaged"),
    "event:storm": L("after a storm"),
    "event:brake_work": L("after work on the brake"),
}
REACHES = {"hand": L("by hand"), "platform": L("from the platform"), "riding": L("riding the cable")}
# What is entered for an item, by its kind.
KINDS = {
    "look": L("look"),
    "function": L("try"),
    "figure": L("figure"),
    "pair": L("two readings at right angles"),
    "count": L("count"),
    "date": L("date"),
    "dates": L("dates of the register"),
}
HOW_SEEN = {
    "READ-2": L("quoted by others"),
    "READ": L("read"),
    "MEMORY": L("from memory, not checked"),
    "JUDGEMENT": L("judgement, no published source"),
    "DERIVED": L("derived from what was read"),
    "COURSE": L("this course's own"),
}
PLACE_SHEETS = {
    Place.Kind.LINE: ("launch", "cable", "landing", "ride"),
    Place.Kind.PLATFORM: ("platform",),
    Place.Kind.STORE: ("rescue",),
    Place.Kind.HOUSE: ("house",),
}


def sheet_words(sheet: str) -> str:
    return str(SHEETS.get(sheet, sheet))


def how_seen(got: str) -> str:
    """Say how the source of a rule was seen, from its mark (``READ``, ``MEMORY (low)`` …)."""
    return next((str(words) for mark, words in HOW_SEEN.items() if got.startswith(mark)), got)


def names_of(setup: Setup) -> dict[str, str]:
    """Return the words for everything that a document of this course may name."""
    found = {f"line:{line.pk}": str(line) for line in setup.lines}
    for prefix, words in (("class", CLASSES), ("every", EVERY), ("reach", REACHES), ("sheet", SHEETS)):
        found |= {f"{prefix}:{key}": str(one) for key, one in words.items()}
    brakes = (f"{role}-{number}" for role in ("primary", "emergency") for number in range(1, 10))
    found |= {f"slot:{slot}": slots.words_for(slot) for slot in brakes}
    return found | {one.id: one.title for one in all_sets().values()} | sizes.words()


def item_names(setup: Setup, place: Place) -> dict[str, str]:
    """Return what the items of a place's checklist are called in its limits."""
    checklist = setup.checklist(place)
    return {
        f"item:{item['key']}": f"{item['code']} {item['text']}"
        for item in (checklist.content["items"] if checklist else [])
    }  # fmt: skip


def title_of(version: Version) -> str:
    """Say what a version is about: the kind of data, and of what."""
    about = version.place or version.component
    if about is None:
        return str(version.get_kind_display()).capitalize()
    words = {
        Version.Kind.LINE: _("Data of %(about)s"),
        Version.Kind.PLATFORM: _("Data of %(about)s"),
        Version.Kind.COMPONENT: _("Data of %(about)s"),
        Version.Kind.CHECKLIST: _("Checklist of %(about)s"),
        Version.Kind.LIMITS: _("Limits of %(about)s"),
        Version.Kind.MECHANICS: _("Mechanics of %(about)s"),
    }
    return words[Version.Kind(version.kind)] % {"about": about}
