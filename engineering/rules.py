"""Rules as data: what a limit is made of, and the refusal of anything that could be misread.

A rule is the same text in a criteria file, in a course's limit version and on a phone; ``engineering.limits.judge`` and
the phone's script read it alike. So the kinds are a closed list, all numbers are text of ``engineering.exact``'s
grammar, and a key that nobody reads is an error: a misspelt ``wacth`` must not quietly remove a watch band.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum
from fractions import Fraction
from types import MappingProxyType

from engineering.exact import parse_exact
from engineering.units import UNITS


class Verdict(StrEnum):
    """What a reading means. Badness rises ok, watch, unknown, withdraw; unknown and withdraw both hold."""

    OK = "ok"
    WATCH = "watch"
    UNKNOWN = "unknown"
    WITHDRAW = "withdraw"

    @property
    def badness(self) -> int:
        """Return 0 for ok to 3 for withdraw; to be compared, never stored."""
        return list(Verdict).index(self)


class RuleError(ValueError):
    """A rule that cannot be relied on. ``code`` and ``params`` for translation, the text for people."""

    def __init__(self, code: str, sentence: str, **params: str) -> None:
        super().__init__(sentence)
        self.code, self.sentence, self.params = code, sentence, params


@dataclass(frozen=True)
class Kind:
    """One way of making bounds from parameters: which it must have, may have, and which comparisons make sense."""

    must: frozenset[str]
    may: frozenset[str]
    compares: frozenset[str]


UPPER, LOWER = frozenset({">", ">="}), frozenset({"<", "<="})
_LIMIT = frozenset({"limit_of", "table", "by", "row", "last", "watch"})
_PLAIN = frozenset({"signed", "highest"})


def _kind(must: str, may: frozenset[str], compares: frozenset[str]) -> Kind:
    return Kind(frozenset(must.split()), may, compares)


# The closed list. Every kind turns into a lower and an upper bound in the reading's own unit; see engineering.bounds.
KINDS: Mapping[str, Kind] = MappingProxyType(
    {
        "max": _kind("limit", _LIMIT | _PLAIN | {"watch_from", "origin"}, UPPER),
        "min": _kind("limit", _LIMIT | _PLAIN | {"watch_from", "origin"}, LOWER),
        "range": _kind("min max", _PLAIN | {"watch_from"}, UPPER),
        "deviation": _kind("limit from", _LIMIT | _PLAIN | {"watch_from"}, UPPER),
        "deviation_percent": _kind("limit from", _LIMIT | _PLAIN | {"watch_from", "of"}, UPPER),
        "loss": _kind("limit from", _LIMIT | {"watch_from", "impossible_percent"}, UPPER),
        "loss_percent": _kind("limit from", _LIMIT | {"watch_from", "of", "impossible_percent"}, UPPER),
        "gain_percent": _kind("limit from", _LIMIT | {"watch_from", "of", "impossible_percent"}, UPPER),
        "remaining_percent": _kind("limit of", frozenset({"watch", "watch_from"}), LOWER),
        "age_days": _kind("limit from", frozenset({"watch", "watch_from"}), UPPER),
        "age_months": _kind("limit from", frozenset({"watch", "watch_from"}), UPPER),
        "equals": _kind("to", frozenset(), frozenset({"!="})),
        "answer": _kind("", frozenset(), frozenset({"is"})),
    }
)
AGES = frozenset({"age_days", "age_months"})
NUMBERS = frozenset({"limit", "watch", "watch_from", "origin", "min", "max", "highest", "impossible_percent", "last"})
ROWS = frozenset({"upto", "from", "exact"})

# Facts that choose between rules, with the only values they can have: a misspelt value must not skip a rule.
FACT_VALUES: Mapping[str, frozenset[str]] = MappingProxyType(
    {
        "rope_class": frozenset({"standing", "running"}),
        "rotation_resistant": frozenset({"yes", "no"}),
        "stranded": frozenset({"yes", "no"}),
        "lay": frozenset({"ordinary", "lang"}),
        "rope_core": frozenset({"fibre", "steel"}),
        "clip_type": frozenset({"drop_forged", "malleable_en", "other"}),
        "primary_brake": frozenset({"hand", "spring", "eddy", "cord", "gravity"}),
        "emergency_brake": frozenset({"yes", "no"}),
        "engineered_landing": frozenset({"yes", "no"}),
        "annual_extension": frozenset({"yes", "no"}),
    }
)
GOT = ("READ-2", "READ", "MEMORY", "JUDGEMENT", "DERIVED", "COURSE")
_REQUIRED = ("id", "on", "kind", "compare", "unit", "source", "got")
_OPTIONAL = ("params", "law", "text", "verdict", "when", "set")


@dataclass(frozen=True)
class Rule:
    """One limit: how a reading is compared, with what, on whose word.

    ``on``: quantities judged (``engineering/criteria/QUANTITIES.md``); ``got``: how the source was seen (READ, READ-2,
    MEMORY (level), JUDGEMENT, DERIVED, or COURSE for a limit that the course's engineer entered); ``law``: whether it
    is law for the course in question; ``verdict``: what a breach means (withdraw, or watch for a caution).
    """

    id: str
    on: tuple[str, ...]
    kind: str
    compare: str
    unit: str
    source: str
    got: str
    params: Mapping[str, str] = field(default_factory=dict)
    law: bool = False
    text: str = ""
    verdict: Verdict = Verdict.WITHDRAW
    when: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    set: str = ""

    def __post_init__(self) -> None:
        """Seal the mappings and refuse what could be misread."""
        object.__setattr__(self, "params", MappingProxyType(dict(self.params)))
        object.__setattr__(self, "when", MappingProxyType({key: tuple(values) for key, values in self.when.items()}))
        _check(self)

    def __hash__(self) -> int:
        """Hash by identity of the text, the mappings being unhashable."""
        return hash((self.id, self.set, self.kind, tuple(sorted(self.params.items()))))

    def __reduce__(self) -> tuple[Callable[..., Rule], tuple[dict[str, object]]]:
        """Copy and cache by the plain form, the sealed mappings having none of their own."""
        return rule_from_dict, (rule_to_dict(self),)

    def number(self, name: str) -> Fraction | None:
        """Return a numeric parameter, or ``None`` when the rule does not have it."""
        text = self.params.get(name)
        return None if text is None else parse_exact(text)

    def table(self) -> tuple[tuple[Fraction, Fraction], ...]:
        """Return the rows (key, value) of a table parameter, in ascending order; empty without one."""
        return tuple(_row(pair) for pair in self.params.get("table", "").split())

    def facts_needed(self) -> tuple[str, ...]:
        """Return the names of the facts without which this rule says unknown (of an age: those it may start from)."""
        named = [self.params[key] for key in ("from", "of", "limit_of", "by", "to") if key in self.params]
        names = [*self.when, *" ".join(named).split(), *(["day"] if self.kind in AGES else [])]
        return tuple(dict.fromkeys(name for name in names if name != "reading"))


def rule_from_dict(data: Mapping[str, object]) -> Rule:
    """Make a rule from a decoded TOML or JSON table. Raises ``RuleError`` naming the rule and what is wrong.

    ``on`` and the values of ``when`` may be one text or a list of texts; ``law`` is true or false, all else is text.

    >>> rule_from_dict({"id": "R", "on": "swing", "kind": "max", "compare": ">", "unit": "deg", "source": "s",
    ...                 "got": "READ", "params": {"limit": "45"}}).number("limit")
    Fraction(45, 1)
    """
    name = str(data.get("id", ""))
    unknown = sorted(set(data) - set(_REQUIRED) - set(_OPTIONAL))
    if unknown:
        raise RuleError("unknown-key", f"Rule {name!r} has keys that nobody reads: {', '.join(unknown)}.", rule=name)
    missing = [key for key in _REQUIRED if key not in data]
    if missing:
        raise RuleError("missing-key", f"Rule {name!r} lacks {', '.join(missing)}.", rule=name)
    law = data.get("law", False)
    if not isinstance(law, bool):
        raise RuleError("law", f"Rule {name!r}: law is true or false.", rule=name)
    verdict = _text(data.get("verdict", "withdraw"), name, "verdict")
    if verdict not in ("withdraw", "watch"):
        raise RuleError("verdict", f"Rule {name!r}: a breach means withdraw or watch, not {verdict!r}.", rule=name)
    return Rule(
        **{key: _text(data[key], name, key) for key in _REQUIRED if key != "on"},
        on=_texts(data["on"], name, "on"),
        params={key: _text(value, name, key) for key, value in _table(data.get("params", {}), name, "params").items()},
        law=law,
        text=_text(data.get("text", ""), name, "text"),
        verdict=Verdict(verdict),
        when={key: _texts(value, name, key) for key, value in _table(data.get("when", {}), name, "when").items()},
        set=_text(data.get("set", ""), name, "set"),
    )


def rule_to_dict(rule: Rule) -> dict[str, object]:
    """Return the rule as plain text, lists and tables: what ``rule_from_dict`` reads back to an equal rule."""
    return {
        "id": rule.id,
        "on": list(rule.on),
        "kind": rule.kind,
        "params": dict(rule.params),
        "compare": rule.compare,
        "unit": rule.unit,
        "verdict": str(rule.verdict),
        "when": {key: list(values) for key, values in rule.when.items()},
        "law": rule.law,
        "text": rule.text,
        "source": rule.source,
        "got": rule.got,
        "set": rule.set,
    }


def promoted(rule: Rule) -> Rule:
    """Return the rule with its breach meaning withdraw: an engineer's choice for a rule published as a caution."""
    return replace(rule, verdict=Verdict.WITHDRAW)


def _check(rule: Rule) -> None:
    """Refuse a rule that could be misread, in the order in which a person would mend it."""

    def wrong(code: str, sentence: str) -> RuleError:
        return RuleError(code, f"Rule {rule.id!r}: {sentence}", rule=rule.id)

    if not rule.id or len(rule.id) > 40 or rule.id != rule.id.strip():
        raise wrong("id", "an id of 1 to 40 characters is needed.")
    if not rule.on or not all(name and name == name.strip() for name in rule.on):
        raise wrong("on", "it names no quantity.")
    kind = KINDS.get(rule.kind)
    if kind is None:
        raise wrong("kind", f"there is no kind {rule.kind!r}.")
    if rule.compare not in kind.compares:
        raise wrong("compare", f"a rule of kind {rule.kind} compares by {' or '.join(sorted(kind.compares))}.")
    if rule.unit not in UNITS:
        raise wrong("unit", f"there is no unit {rule.unit!r}.")
    if not rule.source.strip():
        raise wrong("source", "it has no source.")
    if not rule.got.startswith(GOT):
        raise wrong("got", f"how its source was seen is one of {', '.join(GOT)}.")
    if rule.verdict not in (Verdict.WITHDRAW, Verdict.WATCH):
        raise wrong("verdict", "a breach means withdraw or watch.")
    if kind.must - set(rule.params):
        raise wrong("missing-parameter", f"{', '.join(sorted(kind.must - set(rule.params)))} is missing.")
    if set(rule.params) - kind.must - kind.may:
        names = ", ".join(sorted(set(rule.params) - kind.must - kind.may))
        raise wrong("unknown-parameter", f"a rule of kind {rule.kind} has no {names}.")
    _check_params(rule, wrong)
    for key, values in rule.when.items():
        if key not in FACT_VALUES or not values or not set(values) <= FACT_VALUES[key]:
            raise wrong("when", f"the condition {key} = {', '.join(values)} can never be met.")


def _check_params(rule: Rule, wrong: Callable[[str, str], RuleError]) -> None:
    for name in NUMBERS & set(rule.params):
        try:
            parse_exact(rule.params[name])
        except ValueError:
            raise wrong("number", f"{name} = {rule.params[name]!r} is not an exact number.") from None
    if ("table" in rule.params) != ("by" in rule.params) or ("table" in rule.params) != ("row" in rule.params):
        raise wrong("table", "a table needs by (the fact that chooses the row) and row (upto, from or exact).")
    if "table" in rule.params:
        try:
            keys = [key for key, _ in rule.table()]
        except ValueError:
            raise wrong("table", "its table is not made of key:value pairs of exact numbers.") from None
        if not keys or keys != sorted(set(keys)) or rule.params["row"] not in ROWS:
            raise wrong("table", "its table needs rising keys and a row of upto, from or exact.")
        if min(value for _, value in rule.table()) <= 0 or parse_exact(rule.params["limit"]) <= 0:
            raise wrong("table", "a table's values and their multiple are above nought.")
    if "watch" in rule.params and "watch_from" in rule.params:
        raise wrong("watch", "it has both watch and watch_from.")
    if rule.verdict is Verdict.WATCH and {"watch", "watch_from"} & set(rule.params):
        raise wrong("watch", "a caution has no watch band before it.")
    share = rule.number("watch_from")
    if share is not None and not 0 < share < 1:
        raise wrong("watch", "watch_from is a share of the way to the limit, between 0 and 1.")
    if rule.kind == "min" and share is not None and "origin" not in rule.params:
        raise wrong("watch", "watch_from of a lower limit needs origin, the value when new.")
    if rule.params.get("signed", "yes") != "yes":
        raise wrong("signed", "signed is yes or absent.")
    low, high = rule.number("min"), rule.number("max")
    if low is not None and high is not None and low >= high:
        raise wrong("range", "the lower end of its range is not below the upper one.")
    limit, watch = rule.number("limit"), rule.number("watch")
    if rule.kind in AGES and limit is not None:
        if limit.denominator != 1 or limit <= 0 or (watch is not None and watch.denominator != 1):
            raise wrong("age", "an age is a whole number of days or months.")
    elif rule.kind not in ("max", "min") and limit is not None and limit < 0:
        raise wrong("number", "a limit of this kind is not negative.")
    if limit is not None and watch is not None and (watch < limit if rule.compare in LOWER else watch > limit):
        raise wrong("watch", "its watch lies beyond its limit.")


def _row(pair: str) -> tuple[Fraction, Fraction]:
    key, _, value = pair.partition(":")
    return parse_exact(key), parse_exact(value)


def _text(value: object, rule: str, key: str) -> str:
    if not isinstance(value, str):
        raise RuleError("text", f"Rule {rule!r}: {key} must be text, so that no number is ever rounded.", rule=rule)
    return value


def _texts(value: object, rule: str, key: str) -> tuple[str, ...]:
    if isinstance(value, (list, tuple)):
        return tuple(_text(each, rule, key) for each in value)
    return (_text(value, rule, key),)


def _table(value: object, rule: str, key: str) -> Mapping[str, object]:
    if not isinstance(value, Mapping):
        raise RuleError("table", f"Rule {rule!r}: {key} is a table of texts.", rule=rule)
    return value
