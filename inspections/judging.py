"""From what was typed to a verdict with its reason: the bridge between forms, set-up and ``engineering.limits``."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from fractions import Fraction
from functools import reduce
from typing import Any

from django.utils.translation import gettext as _

from courses.facts import facts_for
from courses.models import Component, Place
from courses.queries import Setup
from engineering import criteria, limits, typed
from engineering.exact import shown
from engineering.rules import Rule
from inspections.models import Ride

MARK_KINDS = {"look", "function", "choice"}
TYPED_KINDS = {"figure", "pair", "count"}
REGISTER_KINDS = {"dates"}
GEAR_QUANTITIES = {
    Component.Kind.HARNESS: ("textile.condition", "textile.age", "gear.inspection"),
    Component.Kind.LANYARD: ("textile.condition", "textile.age", "gear.inspection"),
    Component.Kind.HELMET: ("helmet.condition", "gear.inspection"),
    Component.Kind.TROLLEY: ("trolley.condition",),
}


@dataclass(frozen=True)
class Answer:
    """What a person entered for one item, as typed."""

    mark: str = ""  # sound, defect, not_done, missing
    text: str = ""
    unit: str = ""
    note: str = ""
    reason: str = ""
    photos: tuple[str, ...] = ()
    kept: bool = False
    gauge: str = ""

    @classmethod
    def of(cls, content: Mapping[str, Any]) -> Answer:
        return cls(
            content.get("mark", ""),
            content.get("text", ""),
            content.get("unit", ""),
            content.get("note", ""),
            content.get("reason", ""),
            tuple(content.get("photos", ())),
            bool(content.get("kept")) and content["kept"] == (content.get("text") or content.get("mark")),
            content.get("gauge", ""),
        )

    @property
    def is_empty(self) -> bool:
        return not (self.mark or self.text)


@dataclass(frozen=True)
class Judged:
    """One item with its answer and the judgement of it."""

    item: Mapping[str, Any]
    component: Component | None
    answer: Answer
    judgement: limits.Judgement
    value: str
    question: typed.Unclear | None = None
    facts: Mapping[str, str] = field(default_factory=dict, repr=False)  # what the rules were told of the part

    @property
    def verdict(self) -> str:
        return str(self.judgement.verdict)

    def as_record(self) -> dict[str, Any]:
        """Return the judgement as it stands in an entry."""
        found = self.judgement
        record: dict[str, Any] = {
            "key": self.item["key"],
            "wording": self.item["text"],
            "severity": severity_of(self.item),
            "verdict": self.verdict,
            "value": self.value,
            "rule": found.rule_id,
            "clause": found.source,
            "got": found.got,
            "law": found.law,
            "limit": found.limit_text,
            "sentence": found.sentence,
            "others": [{"rule": other.rule_id, "verdict": str(other.verdict)} for other in found.others],
        }
        if self.component is not None:
            record["component"] = str(self.component.pk)
        return {name: value for name, value in record.items() if value not in ("", None, [])}


def severity_of(item: Mapping[str, Any]) -> str:
    """Return the item's class; pooled gear is withdrawn piece by piece and never holds a line by itself."""
    return "minor" if item.get("gear") else str(item["class"])


@dataclass(frozen=True)
class Bench:
    """The rules that one sheet is judged by: the set-up with one version each of limits and criteria."""

    setup: Setup
    place: Place
    limits: Mapping[str, Any]
    criteria: Mapping[str, Any]

    @classmethod
    def in_force(cls, setup: Setup, place: Place) -> Bench:
        return cls(setup, place, setup.limits(place), setup.criteria)

    def rules(self, item: Mapping[str, Any], quantities: Iterable[str], facts: Mapping[str, str]) -> list[Rule]:
        """Return every rule for an item: the published ones of the sets that are on, and the course's own."""
        found: list[Rule] = []
        for quantity in quantities:
            found += criteria.rules_for(
                quantity,
                self.criteria.get("sets", ()),
                facts=facts,
                promote=self.criteria.get("promote", ()),
                place=self.setup.course.law_place,
            )
        own = self.limits.get("items", {}).get(item["key"], {}).get("rules", ())
        return found + [limits.rule_from_dict(rule) for rule in own]

    def _facts(self, item: Mapping[str, Any], component: Component | None, day: date) -> dict[str, str]:
        facts = facts_for(self.setup, self.place, item, component, day)
        if item.get("measures") == "emergency.test_age":
            facts |= last_emergency_test(self.setup, self.place)
        return facts

    def judge(self, item: Mapping[str, Any], component: Component | None, answer: Answer, day: date) -> Judged:
        """Judge one answer. Text that cannot be understood is ``unknown`` with the question that it raises."""
        facts = self._facts(item, component, day)
        return replace(self._judged(item, component, answer, facts), facts=facts)

    def _judged(
        self, item: Mapping[str, Any], component: Component | None, answer: Answer, facts: dict[str, str]
    ) -> Judged:
        if item.get("gear"):
            return self._judge_gear(item, component, answer, facts)
        rules = self.rules(item, [item.get("measures", "")], facts)
        if item["kind"] in REGISTER_KINDS:
            return Judged(item, component, answer, limits.judge(None, rules, facts), "")
        if answer.mark == "not_done":
            return Judged(
                item, component, answer, limits.judge(limits.Reading("mark", mark="not_done"), rules, facts), ""
            )
        if item["kind"] in TYPED_KINDS and answer.mark != "defect":
            return self._judge_typed(item, component, answer, rules, facts)
        reading = limits.Reading("mark", mark=answer.mark) if answer.mark else None
        return Judged(item, component, answer, limits.judge(reading, rules, facts), "")

    def _judge_typed(
        self,
        item: Mapping[str, Any],
        component: Component | None,
        answer: Answer,
        rules: list[Rule],
        facts: Mapping[str, str],
    ) -> Judged:
        if not answer.text.strip():
            return Judged(item, component, answer, limits.judge(None, rules, facts), "")
        try:
            figure = understood(item, answer.text)
        except typed.Unclear as question:
            return Judged(item, component, answer, limits.judge(None, rules, facts), "", question)
        kind = "count" if item["kind"] == "count" else "figure"
        reading = limits.Reading(kind, answer.text, figure.value, "", item["unit"])
        return Judged(item, component, answer, limits.judge(reading, rules, facts), shown(figure.value, most=6))

    def _judge_gear(
        self, item: Mapping[str, Any], component: Component | None, answer: Answer, facts: dict[str, str]
    ) -> Judged:
        mark = "not_done" if answer.mark in {"missing", ""} else answer.mark
        kind = component.kind if component else ""
        looks, *registers = GEAR_QUANTITIES.get(kind, ("general.sound",))  # type: ignore[call-overload]
        found = [limits.judge(limits.Reading("mark", mark=mark), self.rules(item, [looks], facts), facts)]
        found += [limits.judge(None, self.rules(item, [quantity], facts), facts) for quantity in registers]
        return Judged(item, component, answer, reduce(limits.worse_of, found), "")


def last_emergency_test(setup: Setup, line: Place) -> dict[str, str]:
    """Return when the emergency brake was last tried by itself: from the test rides, not from the register."""
    ride = Ride.objects.filter(place=line, fields__kind="emergency", rode_at__lte=setup.at).order_by("-seq").first()
    return {"last_done": ride.rode_at.astimezone(setup.course.zone).date().isoformat()} if ride else {}


def understood(item: Mapping[str, Any], text: str) -> Any:
    """Return what was typed as an exact figure in the item's unit. Raises ``engineering.typed.Unclear``."""
    if item["kind"] == "pair":
        return typed.read_pair(text, item["unit"])
    if item["kind"] == "count":
        return typed.read_count(text)
    return typed.read_figure(text, item["unit"], signed=bool(item.get("allow_negative")))


def doubt(item: Mapping[str, Any], value: str, last: str, nominal: str) -> typed.Doubt | None:
    """Return why a figure should be asked again once: about tenfold off, or inches in a field of millimetres."""
    return typed.doubtful(
        Fraction(value), Fraction(last) if last else None, Fraction(nominal) if nominal else None, unit=item["unit"]
    )


def is_weather(item: Mapping[str, Any]) -> bool:
    """Tell whether an item reads the weather, which counts from the time of its reading on."""
    return str(item.get("measures", "")).startswith("weather.")


def stricter(first: Judged, second: Judged) -> Judged:
    """Return the stricter of two judgements of the same answer, under two versions of the rules."""
    worse = limits.worse_of(first.judgement, second.judgement)
    winner = first if worse.rule_id == first.judgement.rule_id and worse.verdict == first.judgement.verdict else second
    return replace(winner, judgement=worse)


def title_of(judged: Judged) -> str:
    """Return what a finding is called that this judgement opens: the part, what was found, at which question."""
    part = " ".join(filter(None, (judged.component.label, judged.component.tag))) if judged.component else ""
    about = {"value": judged.judgement.value_text or judged.value, "limit": judged.judgement.limit_text}
    if judged.value and about["limit"]:
        found = _("%(value)s, limit %(limit)s") % about
    elif judged.value:
        found = (
            _("%(value)s is past the limit") if judged.verdict == "withdraw" else _("%(value)s to be watched")
        ) % about
    else:
        found = _("found defective") if judged.verdict == "withdraw" else _("to be watched")
    head = f"{part}: {found}" if part else found
    return f"{head[:1].upper()}{head[1:]}. {judged.item['text']}"
