"""What people claimed, as it stands in the history: for what no table repeats, such as the tool behind a figure."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from typing import Any

from ledger.actions import TIME_FORMAT
from ledger.models import Entry, Log

APART = timedelta(minutes=5)  # clocks differ, and a form takes a while on its way; beyond that both times are told


def act_of(log: Log, seq: int) -> dict[str, Any]:
    """Return the act of one entry; empty where there is no such entry."""
    entry = Entry.objects.filter(log=log, seq=seq).first()
    return dict(entry.record["act"]) if entry is not None else {}


def said_apart(record: dict[str, Any]) -> datetime | None:
    """Return when the device of an entry says that it was signed, where that is not about when it was received.

    What was received late must never look as if it had been there in time; a time still to come is a wrong clock's.
    """
    said, received = (
        datetime.strptime(text, TIME_FORMAT).replace(tzinfo=UTC) for text in (record["act"]["made_at"], record["t"])
    )
    return said if abs(received - said) > APART else None


def gauges_by_entry(log: Log, seqs: Iterable[int]) -> dict[int, dict[str, str]]:
    """Return ``gauges_of`` for several entries, by their numbers, in one query."""
    return {entry.seq: gauges_of(entry.record["act"]) for entry in Entry.objects.filter(log=log, seq__in=set(seqs))}


def gauges_of(act: dict[str, Any]) -> dict[str, str]:
    """Return which measuring tool each figure of a signed sheet was read with, by item key."""
    return {one["key"]: one["gauge"] for one in act.get("readings", ()) if one.get("gauge")}
