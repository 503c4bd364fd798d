"""From a rule and the facts to the figures beyond which a reading is past its limit.

Every kind of rule ends as a lower and an upper bound in the unit in which the reading is taken, so that one comparison
judges them all and the limit can be shown to a technician in millimetres rather than as a share of something else:
12 mm nominal and "more than 5 %" is 11.40 mm. Ages end as calendar days.

Two things the bounds cannot be had without make the verdict unknown: a fact that is missing or unreadable, and a size
beyond the end of a table. Both are raised as ``Unknowable``, with a code and what is missing.
"""

from __future__ import annotations

import re
from calendar import monthrange
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction
from itertools import pairwise

from engineering.exact import parse_exact
from engineering.rules import AGES, FACT_VALUES, Rule

Facts = Mapping[str, str]
ISO_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
GAUGE_SHARE = Fraction(1, 5)  # judgement: a gauge's band takes at most a fifth of the allowance
IMPOSSIBLE_PERCENT = Fraction(20)  # judgement: a part that grew (or shrank) by more was measured wrongly


class Unknowable(Exception):
    """Why a rule cannot be applied, no fault of the program. ``code`` and ``params`` go to ``engineering.explain``."""

    def __init__(self, code: str, **params: str) -> None:
        super().__init__(code)
        self.code, self.params = code, params


@dataclass(frozen=True)
class Bounds:
    """Where a rule draws its lines, in the unit of the reading (for ages: ordinals of calendar days).

    ``breach_at``: the line itself is already past the limit. ``origin``: where the way to the limit starts, if known.
    ``impossible_low`` and ``impossible_high``: beyond these no such part can be; the reading is then not believed.
    """

    low: Fraction | None
    high: Fraction | None
    breach_at: bool
    origin: Fraction | None = None
    watch_low: Fraction | None = None
    watch_high: Fraction | None = None
    impossible_low: Fraction | None = None
    impossible_high: Fraction | None = None

    def breached_by(self, value: Fraction) -> bool:
        """Say whether the value is past either bound."""
        return _past(value, self.low, self.high, self.breach_at)

    def watched_by(self, value: Fraction) -> bool:
        """Say whether the value is in the rule's own watch band."""
        return _past(value, self.watch_low, self.watch_high, self.breach_at)

    def near(self, value: Fraction, gauge_u: Fraction) -> bool:
        """Say whether the gauge, off by ``gauge_u``, could hide a breach; at most a fifth of the allowance counts."""
        low = None if self.low is None else self.low + min(gauge_u, self._allowance(self.low) * GAUGE_SHARE)
        high = None if self.high is None else self.high - min(gauge_u, self._allowance(self.high) * GAUGE_SHARE)
        return gauge_u > 0 and _past(value, low, high, self.breach_at)

    def impossible(self, value: Fraction) -> bool:
        """Say whether no such value can be."""
        return _past(value, self.impossible_low, self.impossible_high, at=False)

    def margin(self, value: Fraction) -> Fraction | None:
        """Return the way left to the nearer bound; negative past it; ``None`` without a bound."""
        ways = [value - self.low] if self.low is not None else []
        ways += [self.high - value] if self.high is not None else []
        return min(ways) if ways else None

    def _allowance(self, bound: Fraction) -> Fraction:
        return abs(bound - (self.origin if self.origin is not None else 0))


def applies(rule: Rule, facts: Facts) -> bool:
    """Say whether the rule's conditions are met. Raises ``Unknowable`` when that hangs on a fact that is not there.

    One condition that is plainly not met is enough for no, whatever else is missing.
    """
    unsure: Unknowable | None = None
    for name, values in rule.when.items():
        try:
            if chosen(name, facts) not in values:
                return False
        except Unknowable as reason:
            unsure = unsure or reason
    if unsure:
        raise unsure
    return True


def chosen(name: str, facts: Facts) -> str:
    """Return a fact that has a closed list of values. Raises ``Unknowable`` when it is missing or not on its list."""
    value = _fact(name, facts)
    if value not in FACT_VALUES[name]:
        raise Unknowable("fact-unreadable", fact=name, value=value)
    return value


def bounds_of(rule: Rule, facts: Facts, *, reading_text: str = "") -> Bounds:
    """Return the rule's bounds under these facts. Raises ``Unknowable``.

    ``reading_text`` is needed only by ages that start at a date the technician reads off a label.
    """
    if rule.kind in AGES:
        return _age_bounds(rule, facts, reading_text)
    breach_at = rule.compare in (">=", "<=")
    if rule.kind == "equals":
        value = number(rule.params["to"], facts)
        return Bounds(low=value, high=value, breach_at=False, origin=value)
    if rule.kind == "range":
        low, high = _parameter(rule, "min"), _parameter(rule, "max")
        middle = (low + high) / 2
        return _with_watch(rule, Bounds(low, high, breach_at, origin=middle), None, None, facts)
    if rule.kind == "remaining_percent":
        whole = positive(rule.params["of"], facts)
        left = rule.number("watch")
        high = whole * (1 - _parameter(rule, "limit") / 100)
        watch = None if left is None else whole * (1 - left / 100)
        return _with_watch(rule, Bounds(None, high, breach_at, origin=Fraction(0)), None, watch, facts)
    limit, watch = _limits(rule, facts)
    if rule.kind in ("max", "min"):
        return _plain_bounds(rule, limit, watch, breach_at, facts)
    return _change_bounds(rule, limit, watch, breach_at, facts)


def number(name: str, facts: Facts) -> Fraction:
    """Return a fact as an exact number. Raises ``Unknowable``."""
    text = _fact(name, facts)
    try:
        return parse_exact(text)
    except ValueError:
        raise Unknowable("fact-unreadable", fact=name, value=text) from None


def positive(name: str, facts: Facts) -> Fraction:
    """Return a fact that only makes sense above nought. Raises ``Unknowable``."""
    value = number(name, facts)
    if value <= 0:
        raise Unknowable("fact-unreadable", fact=name, value=_fact(name, facts))
    return value


def day_of(name: str, facts: Facts) -> date:
    """Return a fact that is an ISO date. Raises ``Unknowable``."""
    return _date(name, _fact(name, facts))


def months_later(start: date, months: int) -> date:
    """Return the same day some months later, or the month's last day where it has no such day.

    >>> months_later(date(2024, 2, 29), 12), months_later(date(2024, 1, 31), 1)
    (datetime.date(2025, 2, 28), datetime.date(2024, 2, 29))
    """
    years, month = divmod(start.month - 1 + months, 12)
    year, month = start.year + years, month + 1
    return date(year, month, min(start.day, monthrange(year, month)[1]))


def age_start(rule: Rule, facts: Facts, reading_text: str) -> date:
    """Return the date from which an age counts: the first of the rule's dates that is there. Raises ``Unknowable``.

    The rule names them from the newest deed to the oldest (inspected, first used, made). A register in which an older
    deed bears the later date contradicts itself and is not believed.
    """
    names = rule.params["from"].split()
    texts = {name: str(reading_text if name == "reading" else facts.get(name) or "").strip() for name in names}
    dates = [(name, _date(name, text)) for name, text in texts.items() if text]
    if not dates:
        raise Unknowable("reading-missing" if names == ["reading"] else "fact-missing", fact=names[-1])
    for (newer, newer_date), (older, older_date) in pairwise(dates):
        if older_date > newer_date:
            raise Unknowable("dates-contradict", fact=newer, other=older)
    return dates[0][1]


def _age_bounds(rule: Rule, facts: Facts, reading_text: str) -> Bounds:
    """Return the last day allowed as the upper bound, both as ordinals."""
    start, day = age_start(rule, facts, reading_text), day_of("day", facts)
    if start > day:
        raise Unknowable("date-ahead", date=start.isoformat(), day=day.isoformat())

    def after(span: Fraction) -> Fraction:
        try:
            if rule.kind == "age_days":
                return Fraction((start + timedelta(days=int(span))).toordinal())
            return Fraction(months_later(start, int(span)).toordinal())
        except (OverflowError, ValueError):
            raise Unknowable("fact-unreadable", fact=rule.params["from"].split()[-1], value=start.isoformat()) from None

    span = rule.number("watch")
    high = after(_parameter(rule, "limit"))
    bounds = Bounds(None, high, rule.compare == ">=", origin=Fraction(start.toordinal()))
    return _with_watch(rule, bounds, None, None if span is None else after(span), facts)


def _limits(rule: Rule, facts: Facts) -> tuple[Fraction, Fraction | None]:
    """Return limit and watch after the table's value and the fact they are a multiple of."""
    scale = Fraction(1)
    if "table" in rule.params:
        scale *= _looked_up(rule, positive(rule.params["by"], facts))
    if "limit_of" in rule.params:
        scale *= positive(rule.params["limit_of"], facts)
    watch = rule.number("watch")
    return _parameter(rule, "limit") * scale, None if watch is None else watch * scale


def _looked_up(rule: Rule, key: Fraction) -> Fraction:
    """Return the table's value for a size: a size between two rows takes the row that ``row`` says.

    ``upto``: the first row not below the size; ``from``: the last row not above it; ``exact``: that row or none.
    """
    rows, last = rule.table(), rule.number("last")
    if rule.params["row"] == "upto":
        fitting = [value for at, value in rows if key <= at]
    elif rule.params["row"] == "from":
        fitting = [value for at, value in reversed(rows) if key >= at]
    else:
        fitting = [value for at, value in rows if key == at]
    if not fitting or (last is not None and key > last):
        raise Unknowable("beyond-table", fact=rule.params["by"])
    return fitting[0]


def _plain_bounds(rule: Rule, limit: Fraction, watch: Fraction | None, at: bool, facts: Facts) -> Bounds:
    if rule.kind == "max":
        origin = rule.number("origin") or Fraction(0)
        return _with_watch(rule, Bounds(None, limit, at, origin=origin), None, watch, facts)
    return _with_watch(rule, Bounds(limit, None, at, origin=rule.number("origin")), watch, None, facts)


def _change_bounds(rule: Rule, limit: Fraction, watch: Fraction | None, at: bool, facts: Facts) -> Bounds:
    """Return the bounds of the kinds that compare with what the part was: deviation, loss, gain."""
    percent = rule.kind.endswith("_percent")
    start = (number if rule.kind == "deviation" else positive)(rule.params["from"], facts)
    share = positive(rule.params.get("of", rule.params["from"]), facts) / 100 if percent else Fraction(1)
    limit, watch = limit * share, None if watch is None else watch * share
    down = rule.kind.startswith(("loss", "deviation"))
    up = rule.kind.startswith(("gain", "deviation"))
    bounds = Bounds(start - limit if down else None, start + limit if up else None, at, origin=start)
    watch_low = start - watch if watch is not None and down else None
    return _with_watch(rule, bounds, watch_low, start + watch if watch is not None and up else None, facts)


def _with_watch(rule: Rule, bounds: Bounds, low: Fraction | None, high: Fraction | None, facts: Facts) -> Bounds:
    """Add the watch band (given, or a share of the way from the origin) and what cannot be."""
    share = rule.number("watch_from")
    if share is not None and bounds.origin is not None:
        low = None if bounds.low is None else bounds.origin + share * (bounds.low - bounds.origin)
        high = None if bounds.high is None else bounds.origin + share * (bounds.high - bounds.origin)
    impossible_low = None if "signed" in rule.params or rule.kind in AGES else Fraction(0)
    impossible_high = rule.number("highest")
    if rule.kind.startswith(("loss", "gain")) and bounds.origin is not None:
        percent = rule.number("impossible_percent")
        change = bounds.origin * (IMPOSSIBLE_PERCENT if percent is None else percent) / 100
        if rule.kind.startswith("loss"):
            impossible_high = bounds.origin + change
        else:
            impossible_low = bounds.origin - change
    return Bounds(bounds.low, bounds.high, bounds.breach_at, bounds.origin, low, high, impossible_low, impossible_high)


def _past(value: Fraction, low: Fraction | None, high: Fraction | None, at: bool) -> bool:
    under = low is not None and (value <= low if at else value < low)
    return under or (high is not None and (value >= high if at else value > high))


def _parameter(rule: Rule, name: str) -> Fraction:
    """Return a parameter that the rule's validation has made sure of."""
    return parse_exact(rule.params[name])


def _fact(name: str, facts: Facts) -> str:
    text = str(facts.get(name) if facts.get(name) is not None else "").strip()
    if not text:
        raise Unknowable("fact-missing", fact=name)
    return text


def _date(name: str, text: str) -> date:
    try:
        if not ISO_DAY.fullmatch(text):  # fromisoformat alone would take week dates too
            raise ValueError
        return date.fromisoformat(text)
    except ValueError:
        raise Unknowable("fact-unreadable", fact=name, value=text) from None
