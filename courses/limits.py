"""Every limit that applies to an item of a place: the published ones that are on, and the course's own."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from courses import naming, slots
from courses.facts import facts_for
from courses.models import Place, Version
from courses.queries import Setup, newest_of, subject_of
from engineering import limits as judging
from engineering.bounds import Unknowable
from engineering.criteria import all_sets, rules_for
from engineering.explain import missing_phrase
from engineering.rules import Rule, Verdict, rule_from_dict

WITH_LIMITS = frozenset({"figure", "pair", "count", "date", "dates"})


@dataclass(frozen=True)
class Applied:
    """One rule as it bears on one item: its words, what it comes to for the part fitted now, and where it is from."""

    rule: Rule
    text: str
    comes_to: str  # the limit in the reading's unit, empty where it cannot be drawn
    lacking: str  # why it cannot be drawn
    how_seen: str
    set_title: str
    applies: str
    is_caution: bool
    is_own: bool


@dataclass(frozen=True)
class ItemLimits:
    """One item that is measured, with everything that limits it. ``waits``: the item itself is not in force yet."""

    item: Mapping[str, Any]
    slot: str
    component: str
    rules: list[Applied]
    gauge_u: str
    waits: bool = False

    @property
    def has_own(self) -> bool:
        return any(applied.is_own for applied in self.rules)


def of_place(setup: Setup, place: Place) -> list[ItemLimits]:
    """Return every measured item of a place with its limits: of the checklist in force, then what the newest one adds.

    An item that waits gets its limit before it counts, so that both can count from the same day; one query for it.
    """
    current, newest = setup.checklist(place), newest_of(subject_of(Version.Kind.CHECKLIST, place.pk))
    items = current.content["items"] if current else []
    known = {item["key"] for item in items}
    more = [item for item in (newest.content["items"] if newest else ()) if item["key"] not in known]
    waiting = (replace(one, waits=True) for one in of_items(setup, place, more))
    return [*of_items(setup, place, items), *waiting]


def of_items(setup: Setup, place: Place, items: Iterable[Mapping[str, Any]]) -> list[ItemLimits]:
    """Return those of a place's items that are measured, each with its limits in force."""
    return [_of_item(setup, place, item) for item in items if item["kind"] in WITH_LIMITS]


def of_key(setup: Setup, place: Place, key: str) -> ItemLimits | None:
    """Return one measured item with its limits, or None where neither checklist in force nor newest has that key."""
    return next((found for found in of_place(setup, place) if found.item["key"] == key), None)


def _of_item(setup: Setup, place: Place, item: Mapping[str, Any]) -> ItemLimits:
    component = setup.component_at(place, item["slot"])
    facts = facts_for(setup, place, item, component, setup.today)
    published = rules_for(
        item["measures"], setup.criteria.get("sets", ()), facts=facts, promote=setup.criteria.get("promote", ()),
        place=setup.course.law_place,
    )  # fmt: skip
    own = setup.limits(place).get("items", {}).get(item["key"], {})
    rules = [*published, *(rule_from_dict(rule) for rule in own.get("rules", ()))]
    return ItemLimits(
        item=item,
        slot=slots.words_for(item["slot"], slots.brake_kinds(setup, place)),
        component=component.tag if component else "",
        rules=[_applied(rule, facts) for rule in rules],
        gauge_u=own.get("gauge_u", ""),
    )


def _applied(rule: Rule, facts: Mapping[str, str]) -> Applied:
    comes_to = lacking = ""
    try:
        comes_to = str(judging.limit_line(rule, facts))
    except Unknowable as reason:
        lacking = str(missing_phrase(reason.code, reason.params))
    known = all_sets().get(rule.set)
    return Applied(
        rule=rule, text=rule.text, comes_to=comes_to, lacking=lacking, how_seen=naming.how_seen(rule.got),
        set_title=known.title if known else "", applies=known.applies if known else "",
        is_caution=rule.verdict is Verdict.WATCH, is_own=rule.got == "COURSE",
    )  # fmt: skip
