"""The words of states on paper, and how figures of limits are written."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, pgettext_lazy

Data = Mapping[str, Any]

VERDICTS = {
    "ok": pgettext_lazy("verdict", "OK"),
    "watch": pgettext_lazy("verdict", "Watch"),
    "withdraw": gettext_lazy("Out of service"),
}
LINE_STATES = {
    "open": pgettext_lazy("line", "Open"),
    "open_with_limits": pgettext_lazy("line", "Open with limits"),
    "held": pgettext_lazy("line", "Held"),
    "closed_today": pgettext_lazy("line", "Closed today"),
}
SEVERITIES = {
    "critical": pgettext_lazy("finding", "Critical"),
    "major": pgettext_lazy("finding", "Major"),
    "minor": pgettext_lazy("finding", "Minor"),
}
ROLES = {"primary": gettext_lazy("Primary brake"), "emergency": gettext_lazy("Emergency brake")}
KINDS = {
    "line": gettext_lazy("line"),
    "platform": gettext_lazy("platform"),
    "store": gettext_lazy("gear store"),
    "gear_store": gettext_lazy("gear store"),
    "house": gettext_lazy("course house"),
}
STEPS = {
    "opened": gettext_lazy("Opened"),
    "out_of_service": gettext_lazy("Taken out of service"),
    "watch": gettext_lazy("Watch decided"),
    "ruling": gettext_lazy("Ruling"),
    "repair": gettext_lazy("Repaired"),
    "replacement": gettext_lazy("Replaced"),
    "energy_released": gettext_lazy("Stored energy released"),
    "reinspection": gettext_lazy("Inspected again"),
    "test_ride": gettext_lazy("Test ride"),
    "release": gettext_lazy("Released"),
    "note": gettext_lazy("Note"),
}
BRAKES = {
    "hand": gettext_lazy("hand brake"),
    "spring": gettext_lazy("spring brake"),
    "magnetic": gettext_lazy("magnetic brake"),
    "eddy": gettext_lazy("magnetic brake"),
    "cord": gettext_lazy("elastic cord brake"),
    "runout": gettext_lazy("run-out"),
    "gravity": gettext_lazy("run-out"),
}
WIND_SIDES = {
    "head": pgettext_lazy("wind", "head"),
    "tail": pgettext_lazy("wind", "tail"),
    "cross": pgettext_lazy("wind", "cross"),
    "gust": pgettext_lazy("wind", "gust"),
    "any": pgettext_lazy("wind", "any side"),
}


def _word(words: Mapping[str, Any], name: str | None) -> str:
    """Return the word of a name; a name that is none of ours stays."""
    return str(words.get(name or "", name or ""))


def verdict_word(verdict: str | None) -> str:
    """Return the word of a verdict. Whatever is not one of the four is not checked."""
    return _word(VERDICTS, verdict) if verdict in VERDICTS else _("Not checked")


def verdict_shape(verdict: str | None) -> str:
    return verdict if verdict in ("ok", "watch", "withdraw") else "unknown"


def line_state(line: Data) -> str:
    """Return the state that is printed for a line. It is open only where it was opened and nothing holds it."""
    if line.get("decision") != "open":
        return "closed_today"
    if line.get("state") != "ready":
        return "held"
    narrowed = line.get("rulings") or (line.get("limits") or {}).get("narrowed")
    return "open_with_limits" if narrowed else "open"


def line_word(state: str) -> str:
    return str(LINE_STATES[state])


def severity_word(severity: str | None) -> str:
    """Return the word of a finding's class. One that is not known is the gravest."""
    return str(SEVERITIES[severity if severity in SEVERITIES else "critical"])


def severity_shape(severity: str | None) -> str:
    return severity if severity in ("major", "minor") else "critical"


def kind_word(kind: str | None) -> str:
    """Return the word of a place's kind; text that is no kind of ours stays."""
    return _word(KINDS, kind)


def step_word(kind: str | None) -> str:
    """Return the word of a step in a finding's course; text that is no kind of ours stays."""
    return _word(STEPS, kind)


def brake_word(kind: str | None) -> str:
    return _word(BRAKES, kind)


def role_word(role: str | None) -> str:
    return _word(ROLES, role)


def wind_label(key: str) -> str:
    """Return what a wind limit is for: ``head_mps`` is "head"."""
    name = key.rsplit("_", 1)[0]
    return str(WIND_SIDES.get(name) or name.replace("_", " "))


def wind_unit(key: str) -> str:
    """Return the unit that a wind limit's key ends in; without one it is said that none is stated."""
    return {"mps": "m/s", "mph": "mph", "kmh": "km/h", "kn": "kn"}.get(key.rsplit("_", 1)[-1], _("no unit stated"))


WINDS = ("head", "tail", "cross", "gust", "any")


def wind_order(keys: Iterable[str]) -> list[str]:
    """Return the keys of wind limits as one reads them; what is not ours comes last.

    >>> wind_order(["cross_mps", "head_mps", "lull_mps", "tail_mps"])
    ['head_mps', 'tail_mps', 'cross_mps', 'lull_mps']
    """
    place = {name: number for number, name in enumerate(WINDS)}
    return sorted(keys, key=lambda key: (place.get(key.rsplit("_", 1)[0], len(WINDS)), key))


def weight_band(limits: Data | None) -> str:
    """Return ``45 – 110``; a missing end is named, never left open."""
    if not limits:
        return ""
    least, most = limits.get("mass_min_kg"), limits.get("mass_max_kg")
    return f"{least or '?'} – {most or '?'}"


def yes_or_words(value: Any) -> str:
    """Return text as it is, and yes or no for true or false."""
    if value is True:
        return _("yes")
    if value is False:
        return _("no")
    return "" if value is None else str(value)


def planning_aid() -> str:
    return _("Planning aid. The line's designer of record, the maker's manual and local law decide.")


def stored_energy() -> str:
    return _(
        "Before work on a brake or cable: release stored energy, hold it released and verify it; lock out and tag; "
        "a second person is present (29 CFR 1910.147(d)(5))."
    )
