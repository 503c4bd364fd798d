"""The limit of an item as shown beside its field before anything is typed."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.utils.translation import gettext as _

from courses.facts import facts_for
from courses.models import Place
from engineering import limits
from inspections.judging import Bench
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
            line = str(limits.limit_line(rule, facts))
        except limits.Unknowable:
            continue
        (found if rule.verdict is limits.Verdict.WITHDRAW else watched).append(line)
    said = "; ".join(dict.fromkeys(found))
    if watched:
        said = _("%(limit)s (watched unless %(watch)s)") % {"limit": said, "watch": "; ".join(dict.fromkeys(watched))}
    return said
