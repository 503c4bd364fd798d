"""What to keep in stock: from the lives of parts that had to be taken out of service for good, how many may be needed.

A part has failed when it was found out of service and then retired, replaced, or is out of service still; its life ends
on the day of that finding. A part that runs, or came off for another reason, counts with its life so far. Lives are in
thousand riders where every part of a kind has a count of its own from its first day, else in months of use. Planning
only: what can hurt someone goes by limit, maker's life and inspection (``engineering.reliability_spares``).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.utils import translation
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from courses.calendar import local_day
from courses.models import Component, Place, Placement
from courses.queries import Setup
from engineering.reliability_spares import demand, spares
from engineering.reliability_weibull import Weibull, weibull
from engineering.reliability_words import SENTENCES, Note
from engineering.wear_dates import OPEN_DAYS, pace
from inspections.coming import new_here
from inspections.coming_words import day
from inspections.models import Finding, FindingStep
from inspections.wear import THOUSAND, Season, life_of
from inspections.wear_record import counts_of
from reports.exports import LANGUAGE, rows_as_text
from reports.wear_words import digits

LEVEL = 0.95  # how surely the stock suffices
MONTH = 30.4375  # days
RIDERS, MONTHS = "thousand riders", "months"
ASIDE = "aside"  # where what came off waits: a finding of its own, which is no second failure
COLUMNS = (
    "component_kind", "component_label", "in_use", "on_the_shelf", "failed", "running", "life_in", "mean_life",
    "shape", "until", "expected", "keep_in_stock", "suffices_percent", "note",
)  # fmt: skip


@dataclass(frozen=True)
class LifeOf:
    """One part's life: so far or until it failed; ``riders`` in thousands, None where it has no count of its own."""

    component: Component
    failed: bool
    in_use: bool
    months: float
    riders: float | None


@dataclass(frozen=True)
class Stock:
    """What is told of one kind of part. ``fit``, ``expected``, ``keep`` and ``suffices`` are None with a ``note``."""

    kind: str
    label: str
    in_use: int
    shelf: int
    failed: int
    running: int
    clock: str
    until: date
    fit: Weibull | None = None
    mean: float | None = None
    expected: float | None = None
    keep: int | None = None
    suffices: float | None = None
    note: Note | None = None

    def is_of(self, part: Component) -> bool:
        return (part.get_kind_display(), part.label) == (self.kind, self.label)

    @property
    def sentence(self) -> str:
        """Return how many to keep and from what that is known, or why it cannot be told."""
        if self.note is not None and self.note.code == "too-few":
            return ngettext(
                "%(count)s part has failed; a distribution of lives needs at least %(needed)s.",
                "%(count)s parts have failed; a distribution of lives needs at least %(needed)s.",
                self.failed,
            ) % dict(self.note.params)
        if self.note is not None:
            return str(_(SENTENCES[self.note.code])) % dict(self.note.params)
        values = {
            "failed": self.failed,
            "all": self.failed + self.running,
            "life": digits(self.mean or 0.0),
            "expected": digits(self.expected or 0.0, 2),
            "day": day(self.until),
        }
        if self.clock == RIDERS:
            return (
                _(
                    "%(failed)s of %(all)s have failed, on average after %(life)s thousand riders; until %(day)s about "
                    "%(expected)s may be needed."
                )
                % values
            )
        return _(
            "%(failed)s of %(all)s have failed, on average after %(life)s months of use; until %(day)s about "
            "%(expected)s may be needed."
        ) % values  # fmt: skip

    @property
    def suffices_percent(self) -> str:
        """Return how surely the stock suffices, rounded down to a whole per cent."""
        return "" if self.suffices is None else str(math.floor(100.0 * self.suffices))


def stocks_of(setup: Setup, season: Season) -> list[Stock]:
    """Return what is told of each kind and label of part, those that failed most first; five queries."""
    lives: dict[tuple[str, str], list[LifeOf]] = {}
    shelf: dict[tuple[str, str], int] = {}
    every = _Parts(setup, season)
    for part in every.parts:
        group = (part.kind, part.label)
        if part.pk in every.stays:
            lives.setdefault(group, []).append(every.life(part))
        if part.retired_at is None and not every.is_fitted(part) and part.pk not in every.out:
            shelf[group] = shelf.get(group, 0) + 1
    found = [_stock(group, each, shelf.get(group, 0), every) for group, each in lives.items()]
    return sorted(found, key=lambda one: (one.keep is None, -one.failed, one.kind, one.label))


class _Parts:
    """The register of a course with where each part was, what was found of it, and the riders of the lines."""

    def __init__(self, setup: Setup, season: Season) -> None:
        self.setup, self.season = setup, season
        course = setup.course
        self.parts = list(Component.objects.filter(course=course).order_by("tag"))
        self.stays: dict[UUID, list[Placement]] = {}
        for stay in Placement.objects.filter(component__course=course).select_related("place").order_by("since"):
            self.stays.setdefault(stay.component_id, []).append(stay)
        lines = {one.place_id for each in self.stays.values() for one in each if one.place.kind == Place.Kind.LINE}
        self.counts = counts_of(lines)
        self.by_day = {line: sorted(days.items()) for line, days in self.counts.items()}
        findings = list(
            Finding.objects.filter(course=course, out_of_service=True, component__isnull=False).order_by("seq")
        )
        steps = FindingStep.objects.filter(finding__in=[one.pk for one in findings], kind="work")
        self.replaced = {one.finding_id for one in steps if one.detail.get("replacement")}
        self.out = {one.component_id for one in findings if one.state == Finding.State.OPEN}
        self.found: dict[UUID | None, list[Finding]] = {}
        for one in findings:
            if one.slot != ASIDE:
                self.found.setdefault(one.component_id, []).append(one)

    def is_fitted(self, part: Component) -> bool:
        stays = self.stays.get(part.pk, ())
        return any(stay.until is None for stay in stays)

    def failed_on(self, part: Component) -> date | None:
        """Return the day on which a part was found unfit for good; None where it runs or came off for another cause."""
        fitted = self.is_fitted(part) and part.retired_at is None
        ends = [
            one
            for one in self.found.get(part.pk, ())
            if one.state == Finding.State.OPEN or (not fitted and (part.retired_at or one.pk in self.replaced))
        ]
        return ends[-1].opened_on if ends else None

    def life(self, part: Component) -> LifeOf:
        setup, stays = self.setup, self.stays[part.pk]
        failed_on = self.failed_on(part)
        first = self._first_use(part) or self._day(stays[0].since)
        gone = part.retired_at or (None if self.is_fitted(part) else stays[-1].until)
        last = failed_on or (self._day(gone) if gone else setup.today)
        life = life_of(part, stays, self.by_day, setup)
        riders = None
        if life is not None and new_here(setup, setup.component_data(part), life):
            riders = life.before(failed_on) if failed_on else life.sums[-1] / THOUSAND
        in_use = self.is_fitted(part) and part.pk not in self.out and part.retired_at is None
        return LifeOf(part, failed_on is not None, in_use, (last - first).days / MONTH, riders)

    def _day(self, at: datetime) -> date:
        return local_day(at, self.setup.course.zone, self.setup.course.day_change_hour)

    def _first_use(self, part: Component) -> date | None:
        text = self.setup.component_data(part).get("dates", {}).get("first_use")
        return date.fromisoformat(text) if text else None

    def ahead(self, each: Iterable[LifeOf], clock: str) -> float:
        """Return the lives that the parts in use will spend until the last open day known, added up."""
        total = 0.0
        for one in each:
            if clock == MONTHS:
                total += (self.until - self.setup.today).days / MONTH
            else:
                riders = self.counts.get(self.stays[one.component.pk][-1].place_id, {})
                recent = [riders.get(on) for on in self.season.past[-OPEN_DAYS:]]
                busy = pace([None if count is None else count / THOUSAND for count in recent]).busy
                total += busy * len(self.season.coming)
        return total

    @property
    def until(self) -> date:
        return self.season.coming[-1] if self.season.coming else self.setup.today


def _stock(group: tuple[str, str], lives: list[LifeOf], shelf: int, every: _Parts) -> Stock:
    clock = RIDERS if all(one.riders is not None for one in lives) else MONTHS

    def lived(one: LifeOf) -> float:
        return one.months if clock == MONTHS or one.riders is None else one.riders

    used = [one for one in lives if one.in_use]
    failed = [lived(one) for one in lives if one.failed]
    running = [lived(one) for one in lives if not one.failed and lived(one) > 0.0]  # what has just begun tells nothing
    told = Stock(
        str(Component.Kind(group[0]).label), group[1], len(used), shelf, len(failed), len(running), clock, every.until
    )
    fit = weibull(failed, running)
    if isinstance(fit, Note):
        return replace(told, note=fit)
    mean = fit.scale * math.gamma(1.0 + 1.0 / fit.shape)
    expected = demand(1, every.ahead(used, clock), mean)
    if isinstance(expected, Note):
        return replace(told, note=expected)
    kept = spares(expected, LEVEL)
    if isinstance(kept, Note):
        return replace(told, note=kept)
    return replace(told, fit=fit, mean=mean, expected=expected, keep=kept.stock, suffices=kept.assurance)


def as_csv(found: Iterable[Stock]) -> Iterator[str]:
    """Yield what to keep in stock as a table, one row for each kind of part; in one language, as all tables are."""
    with translation.override(LANGUAGE):
        lines = list(rows_as_text(COLUMNS, (_cells(one) for one in found)))
    yield from lines


def _cells(one: Stock) -> list[Any]:
    return [
        one.kind, one.label, one.in_use, one.shelf, one.failed, one.running, one.clock,
        "" if one.mean is None else digits(one.mean), "" if one.fit is None else digits(one.fit.shape), one.until,
        "" if one.expected is None else digits(one.expected), "" if one.keep is None else one.keep,
        one.suffices_percent, one.sentence if one.note else "",
    ]  # fmt: skip
