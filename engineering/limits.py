"""The one place that says ``withdraw``: a reading, the rules that are on, the facts of the part, and a verdict.

Every rule is applied and the strictest wins, named with its clause. What is missing, unreadable, impossible or in the
wrong unit is ``unknown``, never ``ok``; an item without a rule is ``unknown``. The unrounded value is judged. A gauge's
uncertainty (``gauge_u``) only widens the watch band before a limit, by at most a fifth of the allowance; it moves no
limit. A part marked defective is withdrawn whatever was measured on it.

One fact is not like the others: without ``gauge_u`` there is no band. Every other fact missing makes a verdict unknown.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from decimal import Decimal
from fractions import Fraction

from engineering.bounds import Bounds, Facts, Unknowable, age_start, applies, bounds_of, number
from engineering.exact import as_decimal, decimals_of, shown, shown_bound
from engineering.explain import LIMITS, Phrase, missing_phrase
from engineering.rules import (
    AGES,
    Rule,
    RuleError,
    Verdict,
    promoted,
    rule_from_dict,
    rule_to_dict,
)
from engineering.tightening import is_tightening, stricter
from engineering.units import BARE, with_unit

__all__ = [
    "Facts",
    "Judgement",
    "Reading",
    "Rule",
    "RuleError",
    "Unknowable",
    "Verdict",
    "is_tightening",
    "judge",
    "limit_line",
    "promoted",
    "rule_from_dict",
    "rule_to_dict",
    "stricter",
    "tightest",
    "worse_of",
    "worst",
]

MARKS = ("sound", "watch", "defect", "not_done")


def worst(verdicts: Iterable[Verdict]) -> Verdict:
    """Return the worst of several verdicts; of none it is unknown, for nothing was looked at.

    >>> worst([Verdict.OK, Verdict.UNKNOWN, Verdict.WATCH])
    <Verdict.UNKNOWN: 'unknown'>
    >>> worst([])
    <Verdict.UNKNOWN: 'unknown'>
    """
    return max(verdicts, key=lambda verdict: verdict.badness, default=Verdict.UNKNOWN)


@dataclass(frozen=True)
class Reading:
    """What was seen or measured. ``kind``: figure, count, mark or date (a reading of dates has no reading: ``None``).

    ``value`` is exact and in ``unit``; ``text`` is what was typed (an ISO date for a date); ``mark`` is one of MARKS.
    Binary floats are refused: they are not what was typed.
    """

    kind: str
    text: str = ""
    value: Fraction | Decimal | int | None = None
    mark: str = ""
    unit: str = ""

    def __post_init__(self) -> None:
        """Turn the value into a fraction."""
        if isinstance(self.value, (float, bool)):
            raise TypeError("a reading is exact: Fraction, Decimal or int")
        if self.value is not None:
            object.__setattr__(self, "value", Fraction(self.value))


@dataclass(frozen=True)
class Judgement:
    """A verdict with everything needed to follow it: the rule, its source, the limit as shown, the way left.

    ``margin`` is in the reading's unit (days for an age), negative past the limit. ``others`` are the rules that were
    applied as well, worst first.
    """

    verdict: Verdict
    reason: Phrase
    limit: Phrase | None = None
    rule_id: str = ""
    source: str = ""
    got: str = ""
    law: bool = False
    value_text: str = ""
    margin: Decimal | None = None
    others: tuple[Judgement, ...] = field(default=(), repr=False)

    @property
    def code(self) -> str:
        """Return the code of the reason."""
        return self.reason.code

    @property
    def sentence(self) -> str:
        """Return the reason in English."""
        return str(self.reason)

    @property
    def limit_text(self) -> str:
        """Return the limit in English, empty where none could be drawn."""
        return str(self.limit) if self.limit else ""

    def as_dict(self) -> dict[str, object]:
        """Return the judgement as text for a record, without the texts of the other rules."""
        return {
            "verdict": str(self.verdict),
            "rule": self.rule_id,
            "source": self.source,
            "got": self.got,
            "law": self.law,
            "code": self.code,
            "params": dict(self.reason.params),
            "limit": self.limit_text,
            "value": self.value_text,
            "margin": "" if self.margin is None else format(self.margin, "f"),
            "others": [{"rule": other.rule_id, "verdict": str(other.verdict)} for other in self.others],
        }


def judge(reading: Reading | None, rules: Sequence[Rule], facts: Facts) -> Judgement:
    """Judge one reading by every rule whose conditions are met, and return the strictest judgement.

    Strictest: the worst verdict; among ok and watch the nearest limit, so that the limit named is the one that matters;
    then law before criterion; then the rule's id. Never raises for what a technician or a register could have entered.

    >>> rule = rule_from_dict({"id": "R-120", "on": "rope.diameter", "kind": "loss_percent", "compare": ">",
    ...     "unit": "mm", "source": "29 CFR 1926.1413(a)(2)(ii)(B)", "got": "READ",
    ...     "params": {"from": "nominal", "limit": "5"}})
    >>> judgement = judge(Reading("figure", "11.39", Decimal("11.39"), unit="mm"), [rule], {"nominal": "12.00"})
    >>> judgement.verdict, judgement.sentence
    (<Verdict.WITHDRAW: 'withdraw'>, '11.39 mm is past the limit (at least 11.40 mm).')
    >>> judge(Reading("figure", "11.39", Decimal("11.39"), unit="mm"), [rule], {}).sentence
    'The nominal dimension of this part is not entered.'
    """
    made = [found for rule in rules if (found := _judge_one(reading, rule, facts)) is not None]
    if not made:
        made = [Judgement(Verdict.UNKNOWN, Phrase("no-rule-applies" if rules else "no-limit"))]
    looked = any(one.code in ("sound", "mark-watch", "mark-caution", "defect") for one in made)
    if reading is not None and reading.mark in ("watch", "defect") and not looked:
        verdict, code = (Verdict.WITHDRAW, "defect") if reading.mark == "defect" else (Verdict.WATCH, "mark-watch")
        made.append(Judgement(verdict, Phrase(code), value_text=reading.mark))
    made.sort(key=_strictness)
    return replace(made[0], others=tuple(made[1:]))


def worse_of(first: Judgement, second: Judgement) -> Judgement:
    """Return the stricter of two judgements of the same reading, with the other among its others.

    Used where a sheet is judged by the limits it was filled in under and by those in force.
    """
    winner, loser = sorted((first, second), key=_strictness)
    rest = [*winner.others, replace(loser, others=()), *loser.others]
    distinct = {(one.rule_id, str(one.verdict), one.limit_text): one for one in sorted(rest, key=_strictness)}
    return replace(winner, others=tuple(distinct.values()))


def limit_line(rule: Rule, facts: Facts) -> Phrase:
    """Return a rule's limit as shown beside an item before anything is typed. Raises ``Unknowable``."""
    return _limit_phrase(rule, bounds_of(rule, facts), None)


def tightest(rules: Sequence[Rule], facts: Facts) -> Bounds | None:
    """Return the narrowest bounds of all rules that apply and withdraw, for a picture of the way left.

    ``None`` when there is no such rule with bounds, or one of them cannot be drawn: better no picture than a lax one.
    """
    try:
        drawn = [
            bounds_of(rule, facts)
            for rule in rules
            if rule.kind != "answer" and rule.verdict is Verdict.WITHDRAW and applies(rule, facts)
        ]
    except Unknowable:
        return None
    if not drawn:
        return None
    lows = [(bounds.low, bounds.breach_at) for bounds in drawn if bounds.low is not None]
    highs = [(-bounds.high, bounds.breach_at) for bounds in drawn if bounds.high is not None]
    low, high = max(lows, default=None), max(highs, default=None)
    watch_lows = [bounds.watch_low for bounds in drawn if bounds.watch_low is not None]
    watch_highs = [bounds.watch_high for bounds in drawn if bounds.watch_high is not None]
    return Bounds(
        low=low[0] if low else None,
        high=-high[0] if high else None,
        breach_at=any(end[1] for end in (low, high) if end),
        watch_low=max(watch_lows, default=None),
        watch_high=min(watch_highs, default=None),
    )


def _judge_one(reading: Reading | None, rule: Rule, facts: Facts) -> Judgement | None:
    """Judge by one rule; ``None`` when its conditions are not met."""
    try:
        if not applies(rule, facts):
            return None
        if rule.kind == "answer":
            return _judge_mark(reading, rule)
        if rule.kind in AGES:
            return _judge_age(reading, rule, facts)
        return _judge_value(_value_of(reading, rule), reading, rule, facts)
    except Unknowable as reason:
        return _named(rule, Verdict.UNKNOWN, missing_phrase(reason.code, reason.params))


def _value_of(reading: Reading | None, rule: Rule) -> Fraction:
    """Return the reading's number in the rule's unit. Raises ``Unknowable``."""
    if reading is not None and reading.mark == "not_done":
        raise Unknowable("not-done")
    if reading is None or (reading.value is None and not reading.mark):
        raise Unknowable("reading-missing")
    if reading.kind not in ("figure", "count") or reading.value is None:
        raise Unknowable("kind", asked="figure", given=reading.kind)
    value = Fraction(reading.value)
    if reading.kind == "count" and value.denominator != 1:
        raise Unknowable("not-whole", value=shown(value))
    unit = reading.unit or ("count" if reading.kind == "count" else "")
    if unit != rule.unit and not (unit in BARE | {""} and rule.unit in BARE):
        raise Unknowable("unit", limit_unit=rule.unit, unit=unit or "no unit")
    return value


def _judge_value(value: Fraction, reading: Reading | None, rule: Rule, facts: Facts) -> Judgement:
    bounds = bounds_of(rule, facts)
    limit = _limit_phrase(rule, bounds, value)
    text = with_unit(shown(value, most=6), rule.unit)
    said = {"value": text, "limit": str(limit)}
    if bounds.breached_by(value):
        verdict, code = rule.verdict, "past" if rule.verdict is Verdict.WITHDRAW else "caution"
    elif bounds.impossible(value):
        verdict, code = Verdict.UNKNOWN, "impossible"
    elif bounds.watched_by(value):
        verdict, code = Verdict.WATCH, "watch"
    elif rule.verdict is Verdict.WITHDRAW and bounds.near(value, _gauge(reading, facts)):
        verdict, code = Verdict.WATCH, "gauge"
    else:
        verdict, code = Verdict.OK, "ok"
    return _named(rule, verdict, Phrase(code, said), limit, text, bounds.margin(value))


def _gauge(reading: Reading | None, facts: Facts) -> Fraction:
    """Return the gauge's uncertainty, nought for counts and where none is given. Raises ``Unknowable``."""
    if reading is None or reading.kind != "figure" or not facts.get("gauge_u"):
        return Fraction(0)
    gauge_u = number("gauge_u", facts)
    if gauge_u < 0:
        raise Unknowable("fact-unreadable", fact="gauge_u", value=facts["gauge_u"])
    return gauge_u


def _judge_age(reading: Reading | None, rule: Rule, facts: Facts) -> Judgement:
    if reading is not None and reading.mark == "not_done":
        raise Unknowable("not-done")
    text = reading.text if reading is not None and reading.kind == "date" else ""
    bounds = bounds_of(rule, facts, reading_text=text)
    day = date.fromisoformat(str(facts["day"]).strip())
    value = Fraction(day.toordinal())
    start = age_start(rule, facts, text)
    limit = _limit_phrase(rule, bounds, value)
    aged = with_unit(str((day - start).days), "days")
    if bounds.breached_by(value):
        verdict, code = rule.verdict, "past" if rule.verdict is Verdict.WITHDRAW else "caution"
    elif bounds.watched_by(value):
        verdict, code = Verdict.WATCH, "watch"
    else:
        verdict, code = Verdict.OK, "ok"
    return _named(rule, verdict, Phrase(code, {"value": aged, "limit": str(limit)}), limit, aged, bounds.margin(value))


def _judge_mark(reading: Reading | None, rule: Rule) -> Judgement:
    """Judge a look: only sound is ok, and a person may always be stricter than the rule by marking it to be watched."""
    if reading is None or not reading.mark:
        raise Unknowable("reading-missing")
    if reading.mark == "not_done":
        raise Unknowable("not-done")
    if reading.mark not in MARKS:
        raise Unknowable("mark-unreadable", value=reading.mark)
    caution = rule.verdict is Verdict.WATCH
    verdict, code = {
        "sound": (Verdict.OK, "sound"),
        "watch": (Verdict.WATCH, "mark-watch"),
        "defect": (rule.verdict, "mark-caution" if caution else "defect"),
    }[reading.mark]
    return _named(rule, verdict, Phrase(code), Phrase("no-defect", {}, LIMITS), reading.mark)


def _named(
    rule: Rule,
    verdict: Verdict,
    reason: Phrase,
    limit: Phrase | None = None,
    value_text: str = "",
    margin: Fraction | None = None,
) -> Judgement:
    return Judgement(
        verdict=verdict,
        reason=reason,
        limit=limit,
        rule_id=rule.id,
        source=rule.source,
        got=rule.got,
        law=rule.law,
        value_text=value_text,
        margin=None if margin is None else as_decimal(margin),
    )


def _limit_phrase(rule: Rule, bounds: Bounds, value: Fraction | None) -> Phrase:
    """Say the limit in the reading's unit, never laxer than it is."""
    if rule.kind in AGES and bounds.high is not None:
        last = date.fromordinal(int(bounds.high)).isoformat()
        return Phrase("before" if bounds.breach_at else "until", {"high": last}, LIMITS)
    least = 0 if value is None else decimals_of(value)
    ends = {
        name: with_unit(shown_bound(end, value, low=name == "low", least=least), rule.unit)
        for name, end in (("low", bounds.low), ("high", bounds.high))
        if end is not None
    }
    if rule.kind == "equals":
        return Phrase("exactly", ends, LIMITS)
    codes = {
        (True, True): "inside" if bounds.breach_at else "between",
        (True, False): "more-than" if bounds.breach_at else "at-least",
        (False, True): "less-than" if bounds.breach_at else "at-most",
    }
    return Phrase(codes[("low" in ends, "high" in ends)], ends, LIMITS)


def _strictness(judgement: Judgement) -> tuple[int, Decimal, bool, str]:
    """Order judgements, strictest first. Margins of one reading are in one unit: the smallest is the nearest limit."""
    near = judgement.verdict in (Verdict.OK, Verdict.WATCH) and judgement.margin is not None
    margin = judgement.margin if near and judgement.margin is not None else Decimal("Infinity")
    return (-judgement.verdict.badness, margin, not judgement.law, judgement.rule_id)
