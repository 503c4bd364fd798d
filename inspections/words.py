"""The words that people read for the names that the code uses."""

from __future__ import annotations

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
