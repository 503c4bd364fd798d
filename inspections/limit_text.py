"""The limit of an item as shown beside its field before anything is typed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from django.utils.translation import gettext as _

from courses.facts import facts_for
from courses.models import Place
from engineering import limits
from engineering.explain import Phrase
from engineering.rules import AGES
from engineering.units import UNITS
from inspections.judging import Bench
from inspections.measures import asked_in, in_both
from inspections.picture import Picture


def limit_of(picture: Picture, place: Place, item: Mapping[str, Any]) -> str:
    """Return the limits that withdraw, joined, and what is watched before them; empty where none can be said yet."""
    facts = facts_for(picture.setup, place, item, picture.component_of(place, item), picture.date)
    bench = Bench.in_force(picture.setup, place)
    found: list[str] = []
    watched: list[str] = []
    for rule in bench.rules(item, [item.get("measures", "")], facts):
        if rule.kind in {"answer", "equals"}:
            continue
        try:
            line = str(_in_both(limits.limit_line(rule, facts), rule, picture.course.units))
        except limits.Unknowable:
            continue
        (found if rule.verdict is limits.Verdict.WITHDRAW else watched).append(line)
    said = "; ".join(dict.fromkeys(found))
    if watched:
        said = _("%(limit)s (watched unless %(watch)s)") % {"limit": said, "watch": "; ".join(dict.fromkeys(watched))}
    return said


def _in_both(line: Phrase, rule: limits.Rule, units: str) -> Phrase:
    """Say a limit in the course's own unit with the metric one behind it, never laxer than it is."""
    if rule.kind in AGES or asked_in(rule.unit, units) == rule.unit:
        return line
    plain = {name: text.removesuffix(UNITS[rule.unit].shown) for name, text in line.params.items()}
    params = {
        name: in_both(number, rule.unit, units, toward="up" if name == "low" else "down")
        for name, number in plain.items()
    }
    return replace(line, params=params)
