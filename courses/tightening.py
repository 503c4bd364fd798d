"""Does a change of set-up only ever make things stricter? Pure; in doubt the answer is no.

A change that could better a verdict or a line's status needs a second person and counts from the next operating day.
A change that provably only tightens counts at once.
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal, InvalidOperation
from typing import Any

from courses import checklists
from courses.shapes import without_typed
from engineering.rules import rule_from_dict
from engineering.tightening import is_tightening


def tightens(kind: str, old: Mapping[str, Any] | None, new: Mapping[str, Any]) -> bool:
    """Tell whether ``new`` can replace ``old`` without bettering anything. Without an ``old`` there is no telling."""
    if kind == "calendar":
        return True  # says which days are operating days; it judges nothing, and every change of it is shown
    if old is None:
        return False
    if kind == "line":
        return _line(old, new)
    if kind == "limits":
        return _limits(old, new)
    if kind == "reopening":
        return _reopening(old, new)
    if kind == "checklist":
        return not checklists.loosens(old, new)
    # Mechanics too: what is computed from them only narrows, but a change of them may widen it again.
    return dict(old) == dict(new)


def _number(value: Any) -> Decimal | None:
    try:
        return Decimal(str(value))
    except InvalidOperation:
        return None


def _at_most(old: Any, new: Any) -> bool:
    first, second = _number(old), _number(new)
    return old == new or (first is not None and second is not None and second <= first)


def _at_least(old: Any, new: Any) -> bool:
    first, second = _number(old), _number(new)
    return old == new or (first is not None and second is not None and second >= first)


def _line(old: Mapping[str, Any], new: Mapping[str, Any]) -> bool:
    movable = {"mass_max_kg", "mass_min_kg", "wind"}
    old, new = without_typed(old), without_typed(new)
    if {k: v for k, v in old.items() if k not in movable} != {k: v for k, v in new.items() if k not in movable}:
        return False
    old_wind, new_wind = old.get("wind") or {}, new.get("wind") or {}
    return (
        _at_most(old.get("mass_max_kg"), new.get("mass_max_kg"))
        and _at_least(old.get("mass_min_kg"), new.get("mass_min_kg"))
        and set(old_wind) == set(new_wind)
        and all(_at_most(old_wind[key], new_wind[key]) for key in old_wind)
    )


def _reopening(old: Mapping[str, Any], new: Mapping[str, Any]) -> bool:
    """A wait that is not set is the floor's, and no set wait is below it."""
    return all(
        _at_least(old[name], new.get(name)) for name in ("gust_minutes", "thunder_minutes") if name in old
    ) and all(set(old.get(name, ())) <= set(new.get(name, ())) for name in ("look", "ride"))


def _limits(old: Mapping[str, Any], new: Mapping[str, Any]) -> bool:
    old_items, new_items = old.get("items", {}), new.get("items", {})
    # A first limit for an item that had none can turn "not checked" into "ok": that is no tightening.
    if set(old_items) != set(new_items):
        return False
    for key, before in old_items.items():
        after = new_items[key]
        if {k: v for k, v in before.items() if k != "rules"} != {k: v for k, v in after.items() if k != "rules"}:
            return False
        rules_before = [rule_from_dict(rule) for rule in before["rules"]]
        rules_after = [rule_from_dict(rule) for rule in after["rules"]]
        if not is_tightening(rules_before, rules_after):
            return False
    return True
