"""What the record keeps of a deed that a phone owed, in words: what, where, whose. None of it is the phone's own text.

``one`` is such a deed as ``phones.as_record`` writes it into an entry: kind, and where known place, part, out, ref.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as L

from accounts.closing import is_closed_for_good
from accounts.models import User
from courses.models import Component, Place
from inspections.phones import OTHER, OUT

KINDS = {
    "sheet": L("Sheet"),
    "amendment": L("Correction of a sheet"),
    "ride": L("Test ride"),
    "hold": L("Hold"),
    "hold-renewed": L("Hold begun anew"),
    "hold-told": L("Told by radio of a hold"),
    "finding-opened": L("Finding, or something taken out of service"),
    "finding-note": L("Added to a finding"),
    "finding-work": L("Work on a finding"),
    "finding-reinspection": L("Looked at again"),
    OTHER: L("Something that cannot be read here"),
}


@dataclass(frozen=True)
class Known:
    """What places and parts are called, by identity, and persons, by reference; whose name is erased is not in it."""

    places: dict[str, str] = field(default_factory=dict)
    parts: dict[str, str] = field(default_factory=dict)
    people: dict[str, str] = field(default_factory=dict)

    def name(self, ref: str) -> str:
        """Return a name, or that it was erased; "" without a reference."""
        return (self.people.get(ref) or _("name erased")) if ref else ""


def known_of(things: Iterable[Mapping[str, Any]], refs: Iterable[str] = ()) -> Known:
    """Return what is needed to tell of these, in at most three queries."""
    things = list(things)
    places, parts = ({one[name] for one in things if one.get(name)} for name in ("place", "part"))
    wanted = {one["ref"] for one in things if one.get("ref")} | {ref for ref in refs if ref}
    return Known(
        {str(one.pk): str(one) for one in Place.objects.filter(pk__in=places)} if places else {},
        {str(one.pk): one.tag for one in Component.objects.filter(pk__in=parts)} if parts else {},
        {user.ref: user.name for user in User.objects.filter(ref__in=wanted) if not is_closed_for_good(user)}
        if wanted
        else {},
    )


def words_of(one: Mapping[str, Any], known: Known, *, phone_of: str = "") -> str:
    """Return what a deed was and where; and who signed it where that is not the person whose phone it was on."""
    kind, part, place = one.get("kind", ""), one.get("part", ""), one.get("place", "")
    if kind == OUT and part in known.parts:
        what = _("%(part)s taken out of service") % {"part": known.parts[part]}
    else:
        what = str(KINDS.get(kind, KINDS[OTHER]))
        if one.get("out"):
            what = _("%(what)s with something taken out of service") % {"what": what}
    if place in known.places:
        what = f"{what}, {known.places[place]}"
    if phone_of and one.get("ref", phone_of) != phone_of:
        what = _("%(what)s, signed by %(name)s") % {"what": what, "name": known.name(one["ref"])}
    return what
