"""Rules, facts and readings made from a seed: every kind, comparison and unit, with facts missing or impossible."""

from __future__ import annotations

import re
from fractions import Fraction
from random import Random
from typing import Any

from engineering.criteria import all_sets
from engineering.exact import exact_text, shown
from engineering.rules import AGES, FACT_VALUES, KINDS, Rule, RuleError, rule_from_dict
from tests.phone import texts

SHARES = ("deviation_percent", "loss_percent", "gain_percent", "remaining_percent")
NUMBER = re.compile(r"[0-9]+(\.[0-9]+)?")
FAMILIES = (AGES, frozenset({"answer"}), *[frozenset(KINDS) - AGES - {"answer"}] * 6, frozenset(KINDS))
PUBLISHED = [rule for one in all_sets().values() for rule in one.rules]
UNITS = ("mm", "mm", "mm", "kg", "count", "m/s", "degC", "deg", "Nm", "%", "-", "in")
DATES = ("made", "purchased", "first_use", "fitted", "last_inspection", "last_done")
DAYS = (
    "2024-02-29", "2025-05-01", "2025-06-01", "2025-06-02", "2020-01-31", "2015-12-31", "2026-01-01", "0001-01-01",
    "1925-11-30", "9999-12-31", "2025-02-30", "2025-W01-1", "soon", " 2025-03-31 ",
)  # fmt: skip
ODD = ("", "0", "-1", "much", "1e3", "12,5", " 12 ", "1/0", "٣")


_ALL = sorted({Fraction(over, under) for over in range(79, 600, 7) for under in (3, 7, 10, 10, 20)})
SIZES = [(value, exact_text(value)) for value in _ALL]


def size(random: Random) -> str:
    """Return an exact number near those that are measured, some without end."""
    return random.choice(SIZES)[1]


def of_course(random: Random, unit: str, kinds: list[str]) -> dict[str, Any]:
    """Return a rule as an engineer could enter it, as text; now and then one that is refused."""
    kind = random.choice(kinds)
    known = KINDS[kind]
    (_, low), (top, high) = sorted((random.choice(SIZES), random.choice(SIZES)))
    if kind in SHARES:
        low, high = random.choice((("2", "5"), ("1/3", "6.5"), ("10", "12.5")))
    params: dict[str, str] = {}
    for name in [*known.must, *(one for one in sorted(known.may) if random.random() < 0.25)]:
        params[name] = {
            "limit": (low if kind in ("min", "remaining_percent") else high),
            "watch": (high if kind in ("min", "remaining_percent") else low), "min": low,
            "max": exact_text(top + 1), "watch_from": random.choice(("0.4", "1/3", "0.9")), "origin": size(random),
            "highest": exact_text(top * 2), "impossible_percent": random.choice(("10", "50")), "signed": "yes",
            "from": random.choice(("nominal", "baseline", "reference")), "of": "nominal", "to": "register_count",
            "limit_of": random.choice(("outer_wire", "rope_diameter")), "last": random.choice(("60", "32", "20")),
            "by": "rope_diameter", "row": random.choice(("upto", "from", "exact")), "table": "10:1 20:3/2 32:2 60:2.5",
        }[name]  # fmt: skip
    if kind in AGES:
        params["limit"] = random.choice(("1", "7", "12", "60", "365", "120000", "9999999999"))
        params["from"] = " ".join(random.sample((*DATES, "reading"), random.randrange(1, 4)))
        params = {name: text for name, text in params.items() if name != "watch"} | (
            {"watch": random.choice(("0", "1", "-3"))} if random.random() < 0.3 else {}
        )
    if {"by", "row", "table"} & set(params) and random.random() < 0.5:
        params |= {"by": "rope_diameter", "row": random.choice(("upto", "from")), "table": "10:1 20:3/2 32:2 60:2.5"}
    when = random.choice(({}, {}, {"rope_class": ["standing"]}, {"stranded": ["yes"], "lay": ["lang", "ordinary"]}))
    return {
        "id": f"C-{random.randrange(10)}", "on": ["x"], "kind": kind, "compare": random.choice(sorted(known.compares)),
        "unit": unit, "source": "the course's engineer", "got": "COURSE", "params": params, "when": when,
        "law": random.random() < 0.2, "verdict": random.choice(("withdraw", "withdraw", "watch")),
    }  # fmt: skip


def some_rules(random: Random, unit: str) -> list[Rule]:
    """Return one to three rules that the server takes, published ones and a course's own, mostly of one family."""
    found: list[Rule] = []
    kinds = sorted(random.choice(FAMILIES))
    published = [rule for rule in PUBLISHED if rule.unit == unit and rule.kind in kinds]
    for _ in range(random.choice((1, 1, 2, 3))):
        if published and random.random() < 0.4:
            found.append(random.choice(published))
            continue
        while True:
            try:
                found.append(rule_from_dict(of_course(random, unit, kinds)))
            except RuleError:
                continue
            break
    return found


def some_facts(random: Random, rules: list[Rule]) -> dict[str, str]:
    """Return the facts that the rules need: most of them there and plausible."""
    found = {}
    for name in sorted({fact for rule in rules for fact in rule.facts_needed()}):
        chance = random.random()
        if chance < 0.02:
            continue
        if chance < 0.04:
            found[name] = random.choice(ODD)
        elif name in FACT_VALUES:
            wanted = [value for rule in rules for value in rule.when.get(name, ())]
            found[name] = random.choice(wanted or sorted(FACT_VALUES[name]))
        elif name == "day":
            found[name] = random.choice(("2025-06-02", "2025-06-02", "2024-02-29"))
        elif name in DATES:
            found[name] = random.choice(DAYS)
        elif name == "rope_diameter" and chance < 0.4:
            found[name] = random.choice(("10", "20", "32", "60", "61"))  # rows and ends of tables
        else:
            found[name] = size(random)
    if random.random() < 0.4:
        found["gauge_u"] = random.choice(("0.05", "1", "0", "-1", "x", "1/30"))
    return found


def a_reading(random: Random, unit: str, facts: dict[str, str]) -> dict[str, str] | None:
    """Return a reading as a page has it, or none: a figure as typed, a mark, a date off a label."""
    chance = random.random()
    if chance < 0.03:
        return None
    if chance < 0.1:
        return {"kind": "mark", "mark": random.choice(("sound", "watch", "defect", "not_done", "broken", ""))}
    if chance < 0.13:
        return {"kind": "date", "text": random.choice(DAYS)}
    kind = random.choice(("figure", "figure", "count"))
    near = [text for text in facts.values() if NUMBER.fullmatch(text)] or [_decimal(random)]
    text = texts.typed(random, unit) if random.random() < 0.1 else _about(random, random.choice(near))
    found = {"kind": kind, "text": text, "unit": unit, "typed": "yes"}
    return found | ({"mark": "defect"} if random.random() < 0.05 else {})


def _about(random: Random, text: str) -> str:
    chance = random.random()
    if chance < 0.2:
        return text
    value = Fraction(text) * random.choice((95, 99, 100, 101, 105, 110, 50, 150)) / 100 if chance < 0.8 else Fraction(3)
    return shown(value, most=random.choice((0, 1, 2, 2)))


def _decimal(random: Random) -> str:
    return f"{random.choice(('', '', '', '-'))}{random.randrange(400)}.{random.randrange(100)}"
