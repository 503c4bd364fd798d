"""The tag code that somebody scans or types where they stand: does it belong here, and if not, where does it.

Once at a stop of the walk is enough, and it is never required. A code shows where somebody was, not what was looked at.
"""

from __future__ import annotations

from uuid import UUID

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from courses.models import Component, Place
from courses.queries import Fitted
from courses.slots import brake_kinds, words_for
from inspections.picture import RACK, Picture
from inspections.words import section_label

HOW = {"scanned": gettext_lazy("scanned"), "typed": gettext_lazy("typed in")}
MOST_CODE = 30


def stop_of(place: Place, section: str) -> UUID:
    """Return the place where one stands to fill in a sheet: of a line's sheet, the platform at that end."""
    if place.kind != Place.Kind.LINE:
        return place.pk
    stands: UUID = place.landing_id if section == "landing" else place.launch_id  # type: ignore[assignment]
    return stands


def read_code(picture: Picture, place: Place, section: str, code: str) -> tuple[str, str]:
    """Return (the tag code as the register writes it, "") or ("", a sentence that says why it is not noted here)."""
    typed = code.strip()[:MOST_CODE]
    if not typed:
        return "", _("Type the code that is on the tag.")
    fitted = [one for one in picture.setup.fitted if one.component.tag.casefold() == typed.casefold()]
    stop = stop_of(place, section)
    if any(_is_here(picture, one, stop) for one in fitted):
        return fitted[0].component.tag, ""
    if fitted:
        about = {"code": fitted[0].component.tag, "where": _where(picture, fitted[0])}
        return "", _("%(code)s is not from here: it is fitted at %(where)s. Nothing is noted.") % about
    return "", _not_fitted(picture, typed)


def _is_here(picture: Picture, one: Fitted, stop: UUID) -> bool:
    """Tell whether a part is in reach of a stop: fitted there, or at the end of a line that starts or lands there."""
    if one.place_id == stop:
        return True
    line = picture.setup.places.get(one.place_id)
    if line is None or line.kind != Place.Kind.LINE:
        return False
    ends = {"end-launch": {line.launch_id}, "cable": {line.launch_id, line.landing_id}}
    return stop in ends.get(one.slot, {line.landing_id})


def _where(picture: Picture, one: Fitted) -> str:
    place = picture.setup.places.get(one.place_id)
    if place is None:
        return _("another place")
    if place.kind == Place.Kind.STORE and one.slot != "rescue":
        return f"{place}, {section_label(RACK + one.slot)}"
    if place.kind == Place.Kind.LINE:
        return f"{place}, {words_for(one.slot, brake_kinds(picture.setup, place))}"
    return str(place)


def _not_fitted(picture: Picture, code: str) -> str:
    known = Component.objects.filter(course=picture.course, tag__iexact=code).first()
    if known is None:
        return _("No part of this course has the code %(code)s. Nothing is noted.") % {"code": code}
    if known.retired_at is not None:
        day = date_format(known.retired_at.astimezone(picture.course.zone).date(), "j F Y")
        return _("%(code)s was retired on %(day)s and should not be here: tell the manager. Nothing is noted.") % {
            "code": known.tag,
            "day": day,
        }
    return _("%(code)s is in the register, but fitted nowhere. Nothing is noted.") % {"code": known.tag}
