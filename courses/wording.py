"""Versions in words: what a document says, and what differs between two of them. Pure: documents in, lines out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as L

from courses import documents
from courses.shapes import Said, said, without_typed
from engineering.units import BARE, UNITS

# What nothing published speaks of.
OWN = {
    "own.figure": L("a figure that only this course measures"),
    "own.count": L("a count that only this course takes"),
    "general.sound": L("looked at"),
}


@dataclass(frozen=True)
class Change:
    """One difference: what it is about, what it was and what it is to be; empty where there was or will be nothing."""

    label: str
    old: str
    new: str


def lines_of(kind: str, content: Mapping[str, Any], *, names: Mapping[str, str]) -> list[Said]:
    """Return the content of a version line by line, in the order of its form.

    ``names``: what other places (``line:UUID``), quantities, criteria sets and items are called.
    """
    if kind == "calendar":
        return _calendar(content)
    if kind == "checklist":
        return _checklist(content, names)
    if kind == "limits":
        return _limits(content, names)
    return list(said(documents.SHAPES[kind], content, names=names))


def grouped(kind: str, content: Mapping[str, Any], *, names: Mapping[str, str]) -> list[tuple[str, list[Said]]]:
    """Return the content line by line under its sections."""
    found: dict[str, list[Said]] = {}
    for line in lines_of(kind, content, names=names):
        found.setdefault(line.section, []).append(line)
    return list(found.items())


def differences(
    kind: str, old: Mapping[str, Any] | None, new: Mapping[str, Any], *, names: Mapping[str, str]
) -> list[Change]:  # fmt: skip
    """Return what a new version changes, old to new, in the order of the form."""
    before = {line.path: line for line in lines_of(kind, old or {}, names=names)}
    after = {line.path: line for line in lines_of(kind, new, names=names)}
    found = []
    for path in dict.fromkeys([*after, *before]):
        was, becomes = before.get(path), after.get(path)
        if (was.value if was else "") != (becomes.value if becomes else ""):
            line = becomes or was
            if line is not None:
                label = f"{line.section}: {line.label}" if line.section else line.label
                found.append(Change(label, was.value if was else "", becomes.value if becomes else ""))
    return found


def is_same(old: Mapping[str, Any] | None, new: Mapping[str, Any]) -> bool:
    """Say whether two documents decide alike, however their figures were typed."""
    return old is not None and without_typed(dict(old)) == without_typed(dict(new))


WEEKDAYS = {
    1: documents.L("Monday"),
    2: documents.L("Tuesday"),
    3: documents.L("Wednesday"),
    4: documents.L("Thursday"),
    5: documents.L("Friday"),
    6: documents.L("Saturday"),
    7: documents.L("Sunday"),
}


def _calendar(content: Mapping[str, Any]) -> list[Said]:
    if not content:
        return []
    found = [
        Said(
            f"seasons.{number}",
            "",
            _("Season"),
            _("%(first)s to %(last)s") % {"first": _day(one["from"]), "last": _day(one["to"])},
        )
        for number, one in enumerate(content["seasons"])
    ]
    days = ", ".join(str(WEEKDAYS[day]) for day in content["weekdays"])
    found.append(Said("weekdays", "", _("Days of the week"), _("every day") if len(content["weekdays"]) == 7 else days))
    hours = _("%(opens)s to %(closes)s") % content
    found.append(Said("hours", "", _("Hours"), hours))
    found += [Said(f"closed.{day}", "", _("Closed on"), _day(day)) for day in content.get("closed", ())]
    found += [Said(f"extra.{day}", "", _("Open besides on"), _day(day)) for day in content.get("extra", ())]
    return found


def _day(text: str) -> str:
    return date_format(date.fromisoformat(text), "j F Y")


def _checklist(content: Mapping[str, Any], names: Mapping[str, str]) -> list[Said]:
    return [
        Said(item["key"], str(names.get(f"sheet:{item.get('sheet', '')}", item.get("sheet", ""))), item["text"],
             item_in_words(item, names))
        for item in content.get("items", ())
    ]  # fmt: skip


def item_in_words(item: Mapping[str, Any], names: Mapping[str, str]) -> str:
    """Say how grave an item is, how often it is due, how it is reached and what is read."""
    parts = [
        names.get(f"{name}:{item[name]}", str(item[name])) for name in ("class", "every", "reach") if item.get(name)
    ]
    if item.get("measures"):
        # A quantity has the name that rules know it by: two of them must never read alike.
        parts.append(names.get(item["measures"], str(OWN.get(item["measures"], item["measures"]))))
    if item.get("unit") in UNITS and item.get("unit") not in BARE:
        parts.append(UNITS[item["unit"]].shown.strip())
    return ", ".join(parts)


def _limits(content: Mapping[str, Any], names: Mapping[str, str]) -> list[Said]:
    found = []
    for key, item in content.get("items", {}).items():
        section = names.get(f"item:{key}", key)
        for number, rule in enumerate(item.get("rules", ())):
            found.append(Said(f"{key}.{number}", section, _("own limit"), rule_in_words(rule)))
        if item.get("gauge_u"):
            found.append(Said(f"{key}.gauge_u", section, _("uncertainty of the gauge"), item["gauge_u"]))
    return found


def rule_in_words(rule: Mapping[str, Any]) -> str:
    """Say an own limit with its source."""
    params = rule["params"]
    words = {
        ">": _("at most %(limit)s"),
        ">=": _("less than %(limit)s"),
        "<": _("at least %(limit)s"),
        "<=": _("more than %(limit)s"),
    }
    figure = words.get(rule["compare"], "%(limit)s") % {"limit": f"{params.get('limit', '')} {rule['unit']}".strip()}
    if params.get("watch"):
        figure += ", " + _("watched from %(watch)s") % {"watch": f"{params['watch']} {rule['unit']}".strip()}
    return f"{figure} ({rule['source']})"
