"""What lies ahead of a course within 30 open days: what to order, what ends, what falls due. For planning only.

What stands out of service already, or past its limit, comes first: nobody orders by looking 30 days ahead alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from django.utils import translation
from django.utils.translation import gettext as _

from courses import slots
from courses.models import Component, Course, Place
from courses.queries import Setup, setup_at
from inspections.coming import (
    DUE,
    INTERVAL,
    Coming,
    cycled,
    dated,
    emergency_tests,
    intervals,
    out_of_service,
    worn,
)
from inspections.coming_words import basis, sentence
from inspections.models import Finding
from inspections.picture import states_of
from inspections.telling import GEAR
from inspections.wear import Season, Told
from inspections.wear_record import outlooks, record_of
from reports.exports import LANGUAGE, rows_as_text
from reports.stock import Stock, stocks_of

OPEN_DAYS = 30
COLUMNS = (
    "state", "reason", "day", "to_order", "component", "component_kind", "component_label", "place", "item", "question",
    "class", "what", "from_what", "reading", "limit", "unit", "reading_day", "reading_entry", "outlook", "reckoned_by",
    "likely_day", "interval_days", "keep_in_stock", "on_the_shelf", "finding", "finding_entry",
)  # fmt: skip


@dataclass(frozen=True)
class Group:
    """Things to act on that say the same of several parts: a rack of harnesses, the items of one interval."""

    rows: list[Coming]

    @property
    def first(self) -> Coming:
        return self.rows[0]

    @property
    def parts(self) -> list[Component]:
        return [one.component for one in self.rows if one.component is not None]

    @property
    def sentence(self) -> str:
        return sentence(self.first)

    @property
    def basis(self) -> str:
        return basis(self.first)

    @property
    def where(self) -> str:
        """Say where the part is, and for one that is fitted at which spot; gear lies in the store."""
        one = self.first
        spot = one.key.partition("@")[2] if one.place.kind != Place.Kind.STORE else ""
        if not spot:
            return f"{one.place}."
        return _("%(place)s, %(spot)s.") % {"place": one.place, "spot": slots.words_for(spot)}

    @property
    def question(self) -> str:
        """Return the question behind it; of gear it is only its name, which stands there already."""
        return "" if self.first.key.startswith(GEAR) else self.first.text


@dataclass
class Order:
    """Parts of one kind to have at hand: how many, by which day (None: now), and which they are for.

    ``findings``: what took parts of it out of service.
    """

    kind: str
    label: str
    parts: list[Component] = field(default_factory=list)
    day: date | None = None
    now: bool = False
    findings: list[Finding] = field(default_factory=list)


@dataclass(frozen=True)
class Ahead:
    """``parts`` and ``inspections``: overdue, not known, then by day. ``until`` is the last day looked at."""

    until: date
    rows: list[Coming]
    parts: list[Group]
    inspections: list[Group]
    orders: list[Order]
    figures: int
    stocks: list[Stock]

    def stock_of(self, part: Component | None) -> Stock | None:
        """Return what is to be kept of a part's kind, if it can be told."""
        return next((one for one in self.kept if part and one.is_of(part)), None)

    @property
    def kept(self) -> list[Stock]:
        return [one for one in self.stocks if one.keep is not None]

    @property
    def too_few(self) -> list[Stock]:
        """Return the kinds of which some failed, but of which nothing can be told."""
        return [one for one in self.stocks if one.keep is None and one.failed]

    @property
    def never_failed(self) -> list[Stock]:
        return [one for one in self.stocks if not one.failed]


def ahead_of(course: Course, *, at: datetime) -> Ahead:
    """Return what lies ahead; at most nineteen queries, however many parts there are."""
    setup = setup_at(course, at)
    states = states_of(setup)
    found = outlooks(setup, states)
    season = Season.of(setup)
    until = season.nth(OPEN_DAYS)
    tests = emergency_tests(setup)
    rows = [*out_of_service(setup), *worn(found, until)]
    for place in setup.places.values():
        rows += dated(setup, place, tests)
        rows += intervals(setup, place, states)
    rows += _cycled(setup, found)
    near = sorted((one for one in rows if _is_near(one, until)), key=lambda one: one.place_in_order)
    parts = [one for one in near if one.why != INTERVAL]
    return Ahead(
        until, near, grouped(parts, _same), grouped((one for one in near if one.why == INTERVAL), _same_interval),
        orders_of(parts), len(found), stocks_of(setup, season),
    )  # fmt: skip


def _cycled(setup: Setup, found: list[Told]) -> list[Coming]:
    counted = {one.component.pk for one in setup.fitted if setup.component_data(one.component).get("max_cycles")}
    if not counted:
        return []
    record = record_of(setup, counted)
    lives = {one.component.pk: record.life(setup, one.component) for one in setup.fitted if one.component.pk in counted}
    return list(cycled(setup, lives, record.counts, found))


def _is_near(one: Coming, until: date) -> bool:
    return one.state != DUE or (one.day is not None and one.day <= until)


def _same(one: Coming) -> tuple[Any, ...]:
    """Parts of one rack whose date ends on one day are told together; whatever is fitted stands alone."""
    part = one.component
    if one.finding is not None:
        return (one.why, one.finding.pk)
    if part is None or one.place.kind != Place.Kind.STORE or one.told is not None:
        return (one.why, one.place.pk, one.key)
    return (one.why, one.state, one.day, one.place.pk, part.kind, part.label, sentence(one), basis(one))


def _same_interval(one: Coming) -> tuple[Any, ...]:
    return (one.place.pk, one.every, one.state, one.day)


def grouped(rows: Iterable[Coming], same: Any) -> list[Group]:
    """Return rows that say the same together, in the order of the first of each."""
    found: dict[tuple[Any, ...], list[Coming]] = {}
    for one in rows:
        found.setdefault(same(one), []).append(one)
    return [Group(each) for each in found.values()]


def orders_of(rows: Iterable[Coming]) -> list[Order]:
    """Return what to have at hand: each part once, by kind and label, with the earliest day of any of them.

    What stands out of service comes first, then what is to be had now, then by day.
    """
    found: dict[tuple[str, str], Order] = {}
    for one in rows:
        part = one.component
        if part is None or not one.to_order:
            continue
        order = found.setdefault((part.kind, part.label), Order(part.get_kind_display(), part.label))
        if part not in order.parts:
            order.parts.append(part)
        order.now = order.now or one.state != DUE
        if one.finding is not None:
            order.findings.append(one.finding)
        if one.day is not None and (order.day is None or one.day < order.day):
            order.day = one.day
    return sorted(
        found.values(),
        key=lambda one: (not one.findings, not one.now, one.day or date.max, one.kind, one.label),
    )


def as_csv(found: Ahead) -> Iterator[str]:
    """Yield what lies ahead as a table, one row for each part and item; in one language, as all tables are."""
    with translation.override(LANGUAGE):
        lines = list(rows_as_text(COLUMNS, (_cells(one, found.stock_of(one.component)) for one in found.rows)))
    yield from lines


def _cells(one: Coming, stock: Stock | None) -> list[Any]:
    part, told = one.component, one.told
    newest = told.newest if told else None
    return [
        one.state, one.why, one.day, one.to_order,
        part.tag if part else "", part.get_kind_display() if part else "", part.label if part else "",
        str(one.place), one.key, one.text, one.severity, sentence(one), basis(one),
        f"{newest.value}" if newest else "", f"{told.limit:g}" if told and told.limit is not None else "",
        told.figure.unit if told else "", newest.on if newest else one.last, newest.seq if newest else "",
        told.outlook.status if told else "", told.outlook.clock if told else "",
        told.outlook.middle if told else None, one.every or "",
        stock.keep if stock else "", stock.shelf if stock else "",
        one.finding.pk if one.finding else "", one.finding.seq if one.finding else "",
    ]  # fmt: skip
