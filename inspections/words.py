"""The words that people read for the names that the code uses."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

SECTIONS = {
    "launch": gettext_lazy("Launch end"),
    "cable": gettext_lazy("Cable"),
    "landing": gettext_lazy("Landing end and brakes"),
    "ride": gettext_lazy("Test ride"),
    "platform": gettext_lazy("Platform"),
    "gear": gettext_lazy("Gear"),
    "rescue": gettext_lazy("Rescue kit"),
    "house": gettext_lazy("Course house"),
}

MARKS = {
    "sound": gettext_lazy("Sound"),
    "defect": gettext_lazy("Defect"),
    "not_done": gettext_lazy("Can't check today"),
    "missing": gettext_lazy("Not found"),
}

VERDICTS = {
    "ok": gettext_lazy("OK"),
    "watch": gettext_lazy("Watch"),
    "withdraw": gettext_lazy("Out of service"),
    "unknown": gettext_lazy("Not checked"),
}


def section_label(name: str) -> str:
    """Return what a section of today's inspection is called on paper and phone."""
    if name.startswith("rack:"):
        return _("Rack %(rack)s") % {"rack": name.removeprefix("rack:")}
    return str(SECTIONS.get(name, name))


def meaning(place: Any, section: str, *, paper: bool = False, correction: bool = False) -> str:
    """Return what signing a sheet means, in words that are part of the record."""
    what = {"place": place, "section": section_label(section)}
    if correction:
        return _("I correct what was signed, for the reason given: %(place)s, %(section)s. Both values stay.") % what
    if paper:
        return (
            _("I typed in the sheet of paper on the photo, as it was filled in today: %(place)s, %(section)s.") % what
        )
    return (
        _("I looked at and measured myself today what I answered here; what I could not check says so: "
          "%(place)s, %(section)s.")
        % what
    )  # fmt: skip


def ride_meaning(line: Any, *, paper: bool = False) -> str:
    """Return what signing a test ride means, in words that are part of the record."""
    if paper:
        return _("I typed in the sheet of paper on the photo, as the ride was entered on it today: %(line)s.") % {
            "line": line
        }
    return _("Nobody was on the line when the ballast was sent, and I read everything here myself: %(line)s.") % {
        "line": line
    }
