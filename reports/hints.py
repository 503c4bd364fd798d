"""Hints on how readings are taken, for the manager's talk about gauges and time: few, fair, and no part of the record.

Of a tool, a part or a sheet, never of a person; no order, no score. Nothing is stored, nothing that decides reads this,
and no paper, table or link shows it. Conditions and words are ``engineering.quality``'s.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from math import sqrt
from typing import Any
from uuid import UUID

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from courses.models import Component, Course
from courses.queries import Setup, setup_at
from engineering.quality import (
    CLOSING,
    FACTS,
    LOOK,
    NOT_APPLICABLE,
    ORDINARY,
    REASONS,
    SAME_WORDS,
    SUGGESTED,
    Hint,
)
from engineering.quality_digits import digit_hint
from engineering.quality_pace import VISITS, pace_hint
from engineering.quality_runs import repeat_hint
from engineering.typed import Unclear, read_figure
from inspections.coming_words import day
from inspections.words import section_label
from reports.how_read import PERIOD, Read, Visit, read_in, visits_in

RECENT = timedelta(days=14)  # visits that are looked at; those before them say what is usual
STEPS = (5, 2, 1)  # of the last digit: what a scale or a display is divided into
DIGITS, RUNS, PACE = "digits", "runs", "pace"
KINDS: Mapping[str, Any] = {
    DIGITS: gettext_lazy("Last digits, tool by tool"),
    RUNS: gettext_lazy("Equal readings, part by part"),
    PACE: gettext_lazy("Time for a sheet"),
}


@dataclass(frozen=True)
class Shown:
    """One hint that is shown: what it is about, when, its sentences, and the part or entry it is read from."""

    kind: str
    about: str
    when: str
    sentences: list[str]
    part: UUID | None = None
    entry: int | None = None


@dataclass(frozen=True)
class Looked:
    """How many tools, parts or sheets were looked at, and of how many nothing can be said, by the reason."""

    kind: str
    asked: int
    reasons: list[tuple[str, int]]

    @property
    def name(self) -> str:
        return str(KINDS[self.kind])


@dataclass(frozen=True)
class Hints:
    first: date
    last: date
    shown: list[Shown]
    looked: list[Looked]


def hints_of(course: Course, *, at: datetime) -> Hints:
    """Look at the last 90 days; seven queries, however many readings there are."""
    setup = setup_at(course, at)
    first = setup.today - PERIOD
    reads, visits = read_in(setup, first), visits_in(setup, first)
    parts = {one.component.pk: one.component for one in setup.fitted}
    parts |= Component.objects.in_bulk({one.part for one in reads if one.part is not None} - set(parts))
    groups = {
        DIGITS: list(digits(reads)),
        RUNS: list(runs(reads, _Names(setup, parts))),
        PACE: list(paces(visits, setup.today, _Names(setup, parts))),
    }
    shown = [_shown(hint, about) for found in groups.values() for hint, about in found if hint.status == LOOK]
    return Hints(first, setup.today, shown, [_looked(kind, found) for kind, found in groups.items()])


@dataclass(frozen=True)
class About:
    """What a hint is about, before it is known whether there is one."""

    kind: str
    what: str
    when: str
    part: UUID | None = None
    entry: int | None = None


@dataclass(frozen=True)
class _Names:
    setup: Setup
    parts: Mapping[UUID, Component]

    def place(self, pk: UUID) -> str:
        return str(self.setup.places[pk])

    def part(self, one: Read) -> str:
        part = self.parts.get(one.part) if one.part is not None else None
        tag = part.tag if part else ""
        return ", ".join(filter(None, (self.place(one.place), tag, one.question)))


def digits(reads: Iterable[Read]) -> Iterator[tuple[Hint, About]]:
    """Yield what the last digits of each named tool tell; figures without a named tool are of no one gauge."""
    by_tool: dict[tuple[str, str], list[Read]] = {}
    for one in reads:
        if one.tool:
            by_tool.setdefault((one.tool, one.unit), []).append(one)
    for (tool, unit), own in by_tool.items():
        parts: dict[tuple[Any, ...], list[str]] = {}
        for one in own:
            parts.setdefault((one.place, one.key, one.part), []).append(one.text)
        found = digit_hint(list(parts.values()), step_of([one.text for one in own], unit), unit)
        yield found, About(DIGITS, tool, _span(own))


def runs(reads: Sequence[Read], names: _Names | None = None) -> Iterator[tuple[Hint, About]]:
    """Yield what the order of the readings of each part tells, on the scale that all readings of their tool show."""
    scales: dict[tuple[str, str], list[str]] = {}
    series: dict[tuple[Any, ...], list[Read]] = {}
    for one in reads:
        scales.setdefault(_tool(one), []).append(one.text)
        series.setdefault((one.place, one.key, one.part), []).append(one)
    steps = {tool: step_of(texts, tool[1]) for tool, texts in scales.items()}
    for own in series.values():
        one = own[-1]
        step = steps[_tool(one)]
        found = repeat_hint([each.text for each in own], step, scatter_of(one.u, step), one.unit)
        what = names.part(one) if names else one.question
        yield found, About(RUNS, what, _span(own), part=one.part, entry=None if one.part else one.entry)


def _tool(one: Read) -> tuple[str, str]:
    """Return whose scale a figure was read on: its tool's, else that of all who answer the same item."""
    return (one.tool or one.key.partition("@")[0] + "@", one.unit)


def paces(visits: Sequence[Visit], today: date, names: _Names | None = None) -> Iterator[tuple[Hint, About]]:
    """Yield what the times of the last 14 days tell beside the visits before, of the same sheet with as many items."""
    earlier: dict[tuple[Any, ...], list[float]] = {}
    for one in visits:
        same = earlier.setdefault((one.place, one.section, one.items), [])
        if one.on > today - RECENT:
            what = f"{names.place(one.place)}, {section_label(one.section)}" if names else section_label(one.section)
            found = pace_hint(one.seconds, same[-VISITS:], one.items)
            yield found, About(PACE, what, day(one.on), entry=one.entry)
        same.append(one.seconds)


def step_of(texts: Iterable[str], unit: str) -> str | None:
    """Return the step of a scale as the figures read from it show it: 1, 2 or 5 of the last decimal commonly typed.

    The coarsest that all of them fit, so that a scale in halves is not taken for one in tenths. None without a figure.

    >>> step_of(["11.7", "11.75", "12", "11.6"], "mm"), step_of(["11.5", "12.0"], "mm"), step_of(["-"], "mm")
    ('0.1', '0.5', None)
    """
    found = []
    for text in texts:
        try:
            figure = read_figure(text, unit, signed=True)
        except Unclear:
            continue
        if not figure.is_converted and (places := _places(text)) is not None:
            found.append((figure.value, places))
    if not found:
        return None
    usual = Counter(places for _value, places in found)
    common = max(usual, key=lambda places: (usual[places], places))
    units = [value * 10**common for value, places in found if places <= common]
    step = next(step for step in STEPS if all(not one % step for one in units))
    return f"{Decimal(step).scaleb(-common):f}"


def _places(text: str) -> int | None:
    """Return how many decimals were typed; None for a fraction."""
    if "/" in text:
        return None
    tail = text.replace(",", ".").partition(".")[2]
    return len(tail) - len(tail.lstrip("0123456789"))


def scatter_of(u: float | None, step: str | None) -> float | None:
    """Return how much readings scatter beside the rounding to a step: sqrt(u² - step²/12); None if it is not known.

    Source: GUM, F.2.2.1 (MEMORY), as in ``engineering.wear_gauge``.

    >>> round(scatter_of(0.2, "0.1"), 4), scatter_of(0.02, "0.1"), scatter_of(None, "0.1")
    (0.1979, None, None)
    """
    if u is None or step is None:
        return None
    left = u * u - float(step) ** 2 / 12.0
    return sqrt(left) if left > 0.0 else None


def _span(own: Sequence[Read]) -> str:
    first, last = own[0].on, own[-1].on
    if first == last:
        return day(first)
    return _("%(first)s to %(last)s") % {"first": date_format(first, "j F Y"), "last": day(last)}


def _shown(hint: Hint, about: About) -> Shown:
    words = SAME_WORDS.get(hint.kind, hint.kind)
    fact = str(_(FACTS[hint.kind])) % dict(hint.params)
    rest = [str(_(text)) for text in (ORDINARY[words], SUGGESTED[words], CLOSING)]
    return Shown(about.kind, about.what, about.when, [fact, *rest], about.part, about.entry)


def _looked(kind: str, found: Sequence[tuple[Hint, About]]) -> Looked:
    reasons = Counter(hint.reason for hint, _about in found if hint.status == NOT_APPLICABLE and hint.reason)
    told = [(str(_(REASONS[reason])), count) for reason, count in reasons.most_common()]
    return Looked(kind, sum(1 for hint, _about in found if hint.status != NOT_APPLICABLE), told)
