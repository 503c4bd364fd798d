"""The published criteria as data: sets of rules, which of them are law where, and which are on by default.

Each file of ``engineering/criteria/`` is one set. Every rule keeps how its source was seen (READ, READ-2, MEMORY
(level), JUDGEMENT, DERIVED), so that nobody takes a remembered number for a quoted one. Watch bands are judgement
unless the text of a rule says otherwise. What was left out on purpose: rules superseded or contested (R-127, R-309),
rules of thumb that a table overrides (R-180), and duties that are not limits of a reading (who signs, what is kept).
"""

from __future__ import annotations

import tomllib
from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from functools import cache, lru_cache
from pathlib import Path

from engineering.bounds import Facts, Unknowable, applies
from engineering.rules import Rule, RuleError, Verdict, promoted, rule_from_dict

FOLDER = Path(__file__).with_name("criteria")
_KEYS = {"id", "title", "applies", "law_where", "default_where", "default", "rule"}


@dataclass(frozen=True)
class CriteriaSet:
    """One published source: its rules, what it was written for, and where it binds.

    ``law_where``: places (ISO 3166 codes, ``US-PA``) where it is law; ``default_where``: places where it is proposed
    although it is not known to be in force; ``is_default``: proposed everywhere. ``applies`` is shown with the set.
    """

    id: str
    title: str
    applies: str
    rules: tuple[Rule, ...]
    law_where: tuple[str, ...] = ()
    default_where: tuple[str, ...] = ()
    is_default: bool = False

    def is_law_in(self, place: str) -> bool:
        """Say whether the set is law at a place."""
        return place in self.law_where


@cache
def all_sets() -> Mapping[str, CriteriaSet]:
    """Return every set by id, in order of their ids. Raises ``RuleError`` for a file that cannot be relied on."""
    found = {}
    for path in sorted(FOLDER.glob("*.toml")):
        one = set_from_toml(path.read_text(encoding="utf-8"))
        if one.id != path.stem:
            raise RuleError("set", f"The set in {path.name} calls itself {one.id!r}.")
        found[one.id] = one
    return found


def set_from_toml(text: str) -> CriteriaSet:
    """Read one set. Raises ``RuleError`` for a key that nobody reads, a missing one, or a rule open to misreading."""
    data = tomllib.loads(text)
    name = data.get("id", "")
    if set(data) - _KEYS or not {"id", "title", "applies", "law_where", "rule"} <= set(data):
        raise RuleError("set", f"The set {name!r} has keys that nobody reads, or lacks one.")
    return CriteriaSet(
        id=name,
        title=data["title"],
        applies=data["applies"],
        rules=tuple(rule_from_dict({**rule, "set": name}) for rule in data["rule"]),
        law_where=tuple(data["law_where"]),
        default_where=tuple(data.get("default_where", ())),
        is_default=data.get("default", False),
    )


def defaults_for(place: str) -> tuple[str, ...]:
    """Return the ids of the sets proposed for a course at a place: its law, one rope set, and "found defective".

    All others are a choice of the course's engineer.

    >>> defaults_for("US-PA")
    ('found-defective', 'osha-1926-1413', 'pennsylvania-139-77')
    """
    return tuple(
        one.id for one in all_sets().values() if one.is_default or one.is_law_in(place) or place in one.default_where
    )


def rules_for(
    quantity: str,
    sets: Collection[str],
    *,
    facts: Facts | None = None,
    promote: Collection[str] = (),
    place: str = "",
) -> list[Rule]:
    """Return the rules that the named sets have on a quantity, in order of their ids.

    Rules whose conditions the facts plainly do not meet are left out; where a fact is missing the rule stays, so that
    ``judge`` says what is missing. ``promote``: ids of cautions that the engineer has made to withdraw. ``place``
    decides which rules are law. Raises ``RuleError`` for a set or a promoted rule that does not exist.

    >>> [rule.id for rule in rules_for("rope.diameter", ["osha-1926-1413", "outer-wire-by-diameter"])]
    ['R-120', 'R-131']
    """
    rules = _rules_on(quantity, frozenset(sets), frozenset(promote), place)
    return [rule for rule in rules if _may_apply(rule, facts)]


@lru_cache(maxsize=2048)
def _rules_on(quantity: str, sets: frozenset[str], promote: frozenset[str], place: str) -> tuple[Rule, ...]:
    known = all_sets()
    if sets - set(known):
        raise RuleError("set", f"There is no criteria set {', '.join(sorted(sets - set(known)))}.")
    cautions = {rule.id for one in known.values() for rule in one.rules if rule.verdict is Verdict.WATCH}
    if promote - cautions:
        raise RuleError("promote", f"There is no caution {', '.join(sorted(promote - cautions))} to promote.")
    rules = [
        replace(promoted(rule) if rule.id in promote else rule, law=known[name].is_law_in(place))
        for name in sets
        for rule in known[name].rules
        if quantity in rule.on
    ]
    return tuple(sorted(rules, key=lambda rule: rule.id))


def quantities() -> tuple[str, ...]:
    """Return the names of all quantities on which there is at least one rule."""
    return tuple(sorted({name for one in all_sets().values() for rule in one.rules for name in rule.on}))


def places() -> tuple[str, ...]:
    """Return the places that at least one set names."""
    return tuple(sorted({place for one in all_sets().values() for place in (*one.law_where, *one.default_where)}))


def _may_apply(rule: Rule, facts: Facts | None) -> bool:
    try:
        return facts is None or applies(rule, facts)
    except Unknowable:
        return True
