"""The words of states on paper, and how figures of limits are written."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import pgettext

Data = Mapping[str, Any]


def verdict_word(verdict: str | None) -> str:
    """Return the word of a verdict. Whatever is not one of the four is not checked."""
    return {
        "ok": pgettext("verdict", "OK"),
        "watch": pgettext("verdict", "Watch"),
        "withdraw": _("Out of service"),
    }.get(verdict or "", _("Not checked"))


def verdict_shape(verdict: str | None) -> str:
    return verdict if verdict in ("ok", "watch", "withdraw") else "unknown"


def line_state(line: Data) -> str:
    """Return the state that is printed for a line. It is open only where it was opened and nothing holds it."""
    if line.get("decision") != "open":
        return "closed_today"
    if line.get("state") != "ready":
        return "held"
    return "open_with_limits" if line.get("rulings") else "open"


def line_word(state: str) -> str:
    return {
        "open": pgettext("line", "Open"),
        "open_with_limits": pgettext("line", "Open with limits"),
        "held": pgettext("line", "Held"),
        "closed_today": pgettext("line", "Closed today"),
    }[state]


def severity_word(severity: str | None) -> str:
    """Return the word of a finding's class. One that is not known is the gravest."""
    return {"major": pgettext("finding", "Major"), "minor": pgettext("finding", "Minor")}.get(
        severity or "", pgettext("finding", "Critical")
    )


def severity_shape(severity: str | None) -> str:
    return severity if severity in ("major", "minor") else "critical"


def kind_word(kind: str | None) -> str:
    """Return the word of a place's kind; text that is no kind of ours stays."""
    return {
        "line": _("line"),
        "platform": _("platform"),
        "store": _("gear store"),
        "gear_store": _("gear store"),
        "house": _("course house"),
    }.get(kind or "", kind or "")


def step_word(kind: str | None) -> str:
    """Return the word of a step in a finding's course; text that is no kind of ours stays."""
    return {
        "opened": _("Opened"),
        "out_of_service": _("Taken out of service"),
        "watch": _("Watch decided"),
        "ruling": _("Ruling"),
        "repair": _("Repaired"),
        "replacement": _("Replaced"),
        "energy_released": _("Stored energy released"),
        "reinspection": _("Inspected again"),
        "test_ride": _("Test ride"),
        "release": _("Released"),
        "note": _("Note"),
    }.get(kind or "", kind or "")


def brake_word(kind: str | None) -> str:
    return {
        "hand": _("hand brake"),
        "spring": _("spring brake"),
        "magnetic": _("magnetic brake"),
        "eddy": _("magnetic brake"),
        "cord": _("elastic cord brake"),
        "runout": _("run-out"),
        "gravity": _("run-out"),
    }.get(kind or "", kind or "")


def role_word(role: str | None) -> str:
    return {"primary": _("Primary brake"), "emergency": _("Emergency brake")}.get(role or "", role or "")


def wind_label(key: str) -> str:
    """Return what a wind limit is for: ``head_mps`` is "head"."""
    name = key.rsplit("_", 1)[0]
    return {
        "head": pgettext("wind", "head"),
        "tail": pgettext("wind", "tail"),
        "cross": pgettext("wind", "cross"),
        "gust": pgettext("wind", "gust"),
        "any": pgettext("wind", "any side"),
    }.get(name, name.replace("_", " "))


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
