"""What a page carries so that a phone can say at once, without a signal, what an answer means.

The very rules that the server judges by, as ``engineering.rules.rule_to_dict`` writes them, without what only people
read; the facts of the part that they ask for; what a slip is told by; and the words. ``static/js/verdict.mjs`` makes of
it what the server would answer. The server judges all of it again when it arrives, and its verdict stands.

It holds for the day of the page: what is judged by it later would not be told what has come of age since, and is not
judged. The last figure is in it, and not on the page: what is seen comes after what was measured.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from courses.models import Component, Place
from engineering.rules import Rule, rule_to_dict
from inspections.actions.rides import judge_ride
from inspections.actions.sheets import judged_under
from inspections.alone import between
from inspections.doubts import fewer, only_grows
from inspections.judging import REGISTER_KINDS, TYPED_KINDS, Answer, Bench, Judged
from inspections.limit_text import limit_of
from inspections.measures import asked_in, said
from inspections.models import Draft
from inspections.picture import Picture, State
from inspections.words import VERDICTS

UNREAD = frozenset({"on", "text", "got", "set"})  # of a rule: what no verdict and no sentence is made of
NOMINALS = ("nominal", "baseline", "reference")
Benches = Sequence[tuple[Bench, Mapping[str, Any]]]


def sheet_rules(picture: Picture, draft: Draft, judged: Iterable[Judged]) -> dict[str, Any]:
    """Return what judges the items of a sheet: by the rules in force and by those that it was opened under."""
    under = judged_under(picture, draft, draft.place, unanswered=True)
    page = _page(picture, draft.place, under, judged)
    return page | {"words": _words(picture, draft.place, signing=False)}


def ride_rules(picture: Picture, line: Place) -> dict[str, Any]:
    """Return what judges the items of a test ride. Nothing of it is kept before it is signed."""
    bench = Bench.in_force(picture.setup, line)
    judged = judge_ride(picture, line, {})
    page = _page(picture, line, {str(one.item["key"]): [(bench, one.item)] for one in judged}, judged)
    for item in page["items"].values():
        item.get("last", {}).pop("said", None)  # a ride tells no last figure
    return page | {"ride": True, "words": _words(picture, line, signing=True)}


def _page(picture: Picture, place: Place, under: Mapping[str, Benches], judged: Iterable[Judged]) -> dict[str, Any]:
    rules: list[Rule] = []
    items = {one.item["key"]: _item(picture, place, one, under[one.item["key"]], rules) for one in judged}
    return {
        **between(picture.course, picture.date),
        "units": picture.course.units,
        "rules": [_rule(rule) for rule in rules],
        "items": {key: _filled(item) for key, item in items.items()},
    }


def _item(picture: Picture, place: Place, one: Judged, benches: Benches, rules: list[Rule]) -> dict[str, Any]:
    """Return one item; its rules are numbers of ``rules``, to which it adds those that are not there yet."""
    item, component = benches[0][1], one.component
    ways = [_way(picture, bench, worded, one.facts, rules) for bench, worded in benches]
    found = ways[0] | {
        "facts": _asked_for(one.facts, [rules[at] for way in ways for at in way["rules"]]),
        "had": _had(one.answer),
        # A part of the line itself holds it whatever the class of the question.
        "part": component is not None and place.kind == Place.Kind.LINE,
        "found": _is_found(picture, place, item, component),
    }
    if item["kind"] in TYPED_KINDS:
        found |= {
            "limit": limit_of(picture, place, item),
            "nominal": next((one.facts[name] for name in NOMINALS if one.facts.get(name)), ""),
            "last": _last(picture.states.get((place.pk, str(item["key"]))), item, component),
        }
    if len(ways) > 1 and ways[1] != ways[0]:
        found["then"] = ways[1]
    return found


def _way(
    picture: Picture, bench: Bench, item: Mapping[str, Any], facts: Mapping[str, str], rules: list[Rule]
) -> dict[str, Any]:
    """Return how an item is judged under one version of the rules: as worded then, by which rules."""
    applied = bench.rules(item, [item.get("measures", "")], facts)
    return _worded(item, picture.course.units) | {"rules": _numbers(applied, rules)}


def _worded(item: Mapping[str, Any], units: str) -> dict[str, Any]:
    unit = item["unit"]
    return {
        "text": item["text"],
        "kind": item["kind"],
        "unit": unit,
        "asked": asked_in(unit, units) if asked_in(unit, units) != unit else "",
        "negative": bool(item.get("allow_negative")),
        "counts": str(item.get("measures", "")).endswith("cycles"),
        "grows": only_grows(item),
        "minor": item["class"] == "minor",
        "register": item["kind"] in REGISTER_KINDS,
    }


def _had(answer: Answer) -> dict[str, str]:
    """Return what the draft holds of an item that no field of its form shows."""
    found = {
        "mark": answer.mark, "text": answer.text, "note": answer.note, "reason": answer.reason,
        "kept": (answer.text or answer.mark) if answer.kept else "",
    }  # fmt: skip
    return {name: value for name, value in found.items() if value}


def _asked_for(facts: Mapping[str, str], rules: Iterable[Rule]) -> dict[str, str]:
    wanted = {"gauge_u", *(name for rule in rules for name in rule.facts_needed())}
    return {name: value for name, value in facts.items() if name in wanted}


def _numbers(applied: Iterable[Rule], rules: list[Rule]) -> list[int]:
    found = []
    for rule in applied:
        if rule not in rules:
            rules.append(rule)
        found.append(rules.index(rule))
    return found


def _rule(rule: Rule) -> dict[str, Any]:
    return {name: value for name, value in rule_to_dict(rule).items() if name not in UNREAD}


def _last(state: State | None, item: Mapping[str, Any], component: Component | None) -> dict[str, Any]:
    """Return the last figure: ``said`` with its day, its ``value``, and whether it is of the ``same`` part."""
    if state is None or not (state.text or state.value):
        return {}
    told = f"{said(state.text.replace(',', '.'), item['unit'])} ({date_format(state.day_date, 'j M')})"
    same = state.component in (None, component.pk if component else None)
    return {"said": told if state.text else "", "value": state.value, "same": same}


def _is_found(picture: Picture, place: Place, item: Mapping[str, Any], component: Component | None) -> bool:
    """Tell whether a finding is open on an item already, so that watching it opens none."""
    part = component.pk if component else None
    return any(
        finding.key == item["key"] and (part is None or finding.component_id in (None, part))
        for finding in picture.open_findings(place)
    )


def lines_needing(picture: Picture, place: Place) -> str:
    """Return the names of the lines that what is found at a place bears on."""
    if place.kind in {Place.Kind.HOUSE, Place.Kind.STORE}:
        return _("every line")
    lines = [line for line in picture.setup.lines if place.pk in {line.pk, line.launch_id, line.landing_id}]
    return ", ".join(str(line) for line in lines)


def _words(picture: Picture, place: Place, *, signing: bool) -> dict[str, Any]:
    lines = lines_needing(picture, place)
    when_signed = _("%(sentence)s If you keep it, it is out of service when you sign.")
    return {
        "verdicts": {name: str(word) for name, word in VERDICTS.items()},
        "minor": _("Written down. It holds no line."),
        "needed": _("No line that needs it opens until somebody has checked it."),
        "why": _("Say in the note why it can't be checked today."),
        "wrong": ""
        if signing
        else _("Out of service: say in the note what is wrong. A photo is owed until it is here."),
        "if": when_signed if signing else _("%(sentence)s If you keep it, it is out of service at once."),
        "ifAlone": _(
            "%(sentence)s If you keep it, it is out of service when you sign. Without a signal nobody is told by that: "
            "say it by radio."
        )
        if signing
        else _("%(sentence)s If you keep it, it is out of service once the server has it. Until then say it by radio."),
        "defect": _("Defect"),
        "out": _("Out of service"),
        "change": _("Change"),
        "afterNone": _("%(value)s, after none last time."),
        "fewer": fewer(),
        "jump": _(
            "%(value)s is further from last time (%(last)s) than this gauge scatters (%(explained)s). Measure a second "
            "time, then keep it or type the second figure."
        ),
        "here": _("By this phone. The server has not answered yet."),
        "kept": _("By this phone, with the limits as of %(time)s. The server has not answered yet."),
        "differ": _("This phone: %(here)s. Server: %(there)s. The server's stands."),
        "open": _("Asked back: keep it or retype it."),
        "holds": {
            "withdraw": _("Signed like this it holds %(lines)s.") % {"lines": lines},
            "unknown": _("Signed like this it holds %(lines)s until somebody has checked it.") % {"lines": lines},
            "watch": _("Signed like this it holds %(lines)s until the manager has decided on it.") % {"lines": lines},
        }
        if lines
        else {},
    }


def _filled(item: Mapping[str, Any]) -> dict[str, Any]:
    found = {name: value for name, value in item.items() if value not in ("", False, None, {})}
    return found | ({"then": _filled(item["then"])} if item.get("then") else {})
