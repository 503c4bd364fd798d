"""Years of history in bulk: one day played by the actions is written again under other dates.

Every copy is an entry of its own: its acts have identities of their own, it names the entry before it and carries its
number, its hash and the frontier, and its rows are what ``inspections.projection.changes`` makes of its bytes. So
``verify_ledger`` accepts it. What a copy shares with the day it was made from are the figures, the commitments to names
and notes, the signed snapshot and the hour of the day in UTC.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any
from uuid import UUID, uuid5

from django.db import transaction

from courses.models import Course
from inspections import models
from inspections.entering import converted
from inspections.projection import changes, day_id
from ledger import chain
from ledger.models import Entry, Log

NAMESPACE = UUID("0e3a4f0a-4f83-4d2b-9a57-6b0d8f7f2c11")
ID = re.compile(r"[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}")
BATCH = 12  # days that are stored together


@dataclass
class Pattern:
    """The entries of one day, and the identities in them that belong to that day alone."""

    on: date
    records: list[dict[str, Any]]
    own: frozenset[str]

    @classmethod
    def of(cls, course: Course, on: date) -> Pattern:
        """Read a day that the actions have written. Its entries must lie within one date in UTC as well."""
        wanted = day_id(str(course.pk), on.isoformat())
        records = []
        for entry in Entry.objects.filter(log=course.operator.log_id, t__date=on).order_by("seq"):
            record = entry.record
            act = record["act"]
            if act.get("day") == wanted or (act.get("course"), act.get("date")) == (str(course.pk), on.isoformat()):
                records.append(record)
        own = {wanted}
        for record in records:
            own.add(record["act"]["id"])
            own.update(found["id"] for found in record.get("judged", {}).get("findings", ()))
        return cls(on, records, frozenset(own))

    def at(self, course: Course, on: date) -> Iterator[dict[str, Any]]:
        """Yield the records of the same day on another date, without number and link."""
        wanted = day_id(str(course.pk), self.on.isoformat())

        def renamed(match: re.Match[str]) -> str:
            found = match[0]
            if found == wanted:
                return day_id(str(course.pk), on.isoformat())
            return str(uuid5(NAMESPACE, f"{on}:{found}")) if found in self.own else found

        for record in self.records:
            text = json.dumps(record, ensure_ascii=False).replace(self.on.isoformat(), on.isoformat())
            yield json.loads(ID.sub(renamed, text))


@dataclass
class Writer:
    """Appends to one log in bulk. Nobody else may write to it meanwhile."""

    log: Log
    seq: int = 0
    prev: str = chain.NO_PREVIOUS
    last: datetime | None = None
    tree: chain.Frontier = field(default_factory=chain.Frontier)
    entries: list[Entry] = field(default_factory=list)
    rows: dict[str, list[Any]] = field(default_factory=dict)
    newest: dict[str, dict[str, Any]] = field(default_factory=dict)

    @classmethod
    def after(cls, log: Log) -> Writer:
        last = Entry.objects.filter(log=log).order_by("-seq").first()
        if last is None:
            return cls(log)
        tree = chain.Frontier.from_bytes(last.seq + 1, bytes(last.frontier))
        return cls(log, last.seq + 1, bytes(last.leaf_hash).hex(), last.t, tree)

    def add(self, record: dict[str, Any]) -> None:
        """Put one record behind the last entry. ValueError if it is older than that."""
        at = datetime.fromisoformat(record["t"])
        if self.last is not None and at < self.last:
            raise ValueError(f"{record['t']} lies before the last entry")
        parts = {name: record[name] for name in ("t", "kind", "act", "auth", "judged") if name in record}
        data = chain.entry_bytes(log=str(self.log.pk), seq=self.seq, prev=self.prev, **parts)
        leaf = chain.leaf_hash(data)
        self.tree = self.tree.appended(leaf)
        self.entries.append(
            Entry(
                log=self.log, seq=self.seq, kind=record["kind"], act_id=UUID(record["act"]["id"]), t=at, data=data,
                leaf_hash=leaf, frontier=self.tree.to_bytes(),
            )
        )  # fmt: skip
        self._project({**record, "seq": self.seq})
        self.seq, self.prev, self.last = self.seq + 1, leaf.hex(), at

    def _project(self, record: dict[str, Any]) -> None:
        for change in changes(record):
            model = getattr(models, change.model)
            if change.how == "set":
                raise ValueError(f"a day with {record['kind']} is not copied: it changes rows that were written before")
            row = model(pk=change.key, **converted(model, change.fields))
            if change.how == "new":
                self.rows.setdefault(change.model, []).append(row)
            else:
                self.newest.setdefault(change.model, {})[change.key] = row

    def store(self) -> None:
        """Write what was gathered."""
        Entry.objects.bulk_create(self.entries)
        for name, rows in self.rows.items():
            getattr(models, name)._base_manager.bulk_create(rows)
        for name, by_key in self.newest.items():
            model = getattr(models, name)
            columns = [column.name for column in model._meta.concrete_fields if not column.primary_key]
            model._base_manager.bulk_create(
                by_key.values(), update_conflicts=True, unique_fields=["id"], update_fields=columns
            )
        self.entries, self.rows, self.newest = [], {}, {}


def season_days(first: date, years: int, *, days: int) -> list[date]:
    """Return the operating days of so many seasons: ``days`` in a row, the same dates every year."""
    return [first.replace(year=first.year + year) + timedelta(days=n) for year in range(years) for n in range(days)]


def write(course: Course, pattern: Pattern, days: Iterable[date]) -> int:
    """Write the pattern under every one of the days, in their order, and return how many entries that made."""
    with transaction.atomic():
        writer = Writer.after(course.operator.log)
        before = writer.seq
        for number, on in enumerate(days, start=1):
            for record in pattern.at(course, on):
                writer.add(record)
            if number % BATCH == 0:
                writer.store()
        writer.store()
    return writer.seq - before
