"""How readings came about, as the record has it: figures as typed with their tool, and how long each sheet took.

What was typed in from paper, and corrections, say nothing of how something was measured, and are left out.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from datetime import date, timedelta
from typing import NamedTuple
from uuid import UUID

from django.db.models import Count

from courses.queries import Setup
from engineering.units import BARE
from inspections.entries import APART, gauges_of, said_apart
from inspections.measures import asked_in
from inspections.models import Reading, Sheet
from inspections.picture import component_of
from ledger.models import Entry
from reports.wear_words import Scale

PERIOD = timedelta(days=90)


class Read(NamedTuple):
    """One figure as typed, of a part (or of a place itself) with a tool, "" where none is named.

    ``unit`` is the one that the field asked for. ``u`` is the standard uncertainty of the tool in it, None if unknown.
    """

    place: UUID
    key: str
    part: UUID | None
    question: str
    on: date
    entry: int
    text: str
    unit: str
    tool: str
    u: float | None


class Visit(NamedTuple):
    """One signed sheet: how many items it has, and how many seconds passed from its beginning to its signing."""

    place: UUID
    section: str
    on: date
    entry: int
    items: int
    seconds: float


def read_in(setup: Setup, first: date) -> list[Read]:
    """Return the figures measured since a day, oldest first; two queries."""
    course = setup.course
    rows = Reading.objects.filter(
        place__in=setup.places, day__date__gte=first, sheet__from_paper=False, sheet__amends__isnull=True
    ).exclude(text="")
    columns = ("place_id", "key", "component_id", "wording", "day__date", "seq", "text", "unit")
    found = [row for row in rows.order_by("seq", "position").values_list(*columns) if row[-1] not in BARE]
    named = _named(setup, {row[5] for row in found})
    tools, uncertain = _register(setup)
    reads = []
    for place, key, part, question, on, seq, texts, unit in found:
        u = uncertain.get((place, key))
        u = None if u is None else u * Scale.of(unit, course.units).factor
        tool = named.get(seq, {}).get(key) or tools.get((place, key), "")
        for text in texts.split(" / "):  # a pair is two readings
            reads.append(Read(place, key, part, question, on, seq, text, asked_in(unit, course.units), tool, u))
    return reads


def _named(setup: Setup, seqs: Iterable[int]) -> dict[int, dict[str, str]]:
    """Return the tools that were named, by entry and item; one query.

    Hundreds of entries are asked for one name each: they are read as plain JSON, their form is ``verify_ledger``'s.
    """
    rows = Entry.objects.filter(log=setup.course.operator.log, seq__in=seqs).values_list("seq", "data")
    return {seq: gauges_of(json.loads(bytes(data))["act"]) for seq, data in rows if b'"gauge"' in bytes(data)}


def _register(setup: Setup) -> tuple[dict[tuple[UUID, str], str], dict[tuple[UUID, str], float]]:
    """Return for each item the tool that the register names for its part, and the uncertainty the limits give it."""
    tools: dict[tuple[UUID, str], str] = {}
    uncertain: dict[tuple[UUID, str], float] = {}
    for place in setup.places.values():
        own = setup.limits(place).get("items", {})
        checklist = setup.checklist(place)
        for item in checklist.content["items"] if checklist else ():
            about = (place.pk, item["key"])
            if own.get(item["key"], {}).get("gauge_u"):
                uncertain[about] = float(own[item["key"]]["gauge_u"])
            part = component_of(setup, place, item)
            figures = setup.component_data(part).get("figures", {}) if part else {}
            tools[about] = str(figures.get(item.get("measures", ""), {}).get("gauge", ""))
    return tools, uncertain


def visits_in(setup: Setup, first: date) -> list[Visit]:
    """Return the sheets of lines signed since a day, oldest first; one query, and one of those that took long.

    Of a sheet that came later, from a phone whose clock tells no time, nobody knows how long it took.
    """
    rows = Sheet.objects.filter(
        place__in=[line.pk for line in setup.lines],
        day__date__gte=first, from_paper=False, amends__isnull=True,
    ).annotate(items=Count("readings"))  # fmt: skip
    found = rows.order_by("seq").values_list(
        "place_id", "section", "day__date", "seq", "items", "started_at", "signed_at"
    )
    visits = [
        Visit(place, section, on, seq, items, (signed_at - started_at).total_seconds())
        for place, section, on, seq, items, started_at, signed_at in found
    ]
    unknown = _untimed(setup, [one.entry for one in visits if one.seconds > APART.total_seconds()])
    return [one for one in visits if one.entry not in unknown]


def _untimed(setup: Setup, seqs: list[int]) -> set[int]:
    """Return which entries came later than they were signed, at a time that is not known."""
    entries = Entry.objects.filter(log=setup.course.operator.log, seq__in=seqs).values_list("seq", "data")
    told = ((seq, said_apart(json.loads(bytes(data)))) for seq, data in entries)
    return {seq for seq, apart in told if apart is not None and not apart.is_true}
