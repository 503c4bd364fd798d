"""Every limit that applies to an item of a place: the published ones that are on, and the course's own."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from courses import naming, slots
from courses.facts import facts_for
from courses.models import Place
from courses.queries import Setup
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
    """One item that is measured, with everything that limits it."""

    item: Mapping[str, Any]
    slot: str
    component: str
    rules: list[Applied]
    gauge_u: str

    @property
    def has_own(self) -> bool:
        return any(applied.is_own for applied in self.rules)


def of_place(setup: Setup, place: Place) -> list[ItemLimits]:
    """Return every measured item of a place's checklist in force with its limits, in the order of the checklist."""
    checklist = setup.checklist(place)
    items = checklist.content["items"] if checklist else []
    return [_of_item(setup, place, item) for item in items if item["kind"] in WITH_LIMITS]


def of_key(setup: Setup, place: Place, key: str) -> ItemLimits | None:
    """Return one measured item with its limits, or None where the checklist in force has none of that key."""
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
