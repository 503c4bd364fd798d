"""The only writer of the history."""

from __future__ import annotations

import json
import secrets
from contextlib import nullcontext
from datetime import UTC, datetime
from typing import Any
from uuid import UUID

from django.db import connection, transaction

from ledger import chain
from ledger.errors import AlreadyRecorded
from ledger.models import Disclosure, Entry, Log

TIME_FORMAT = "%Y-%m-%dT%H:%M:%SZ"


def as_text(at: datetime) -> str:
    """Return the time as it stands in entries: UTC, whole seconds."""
    return at.astimezone(UTC).strftime(TIME_FORMAT)


def open_log(*, at: datetime) -> Log:
    """Begin a new, empty history."""
    return Log.objects.create(created_at=at)


def commit(log: Log, value: Any, *, subject: str = "") -> str:
    """Keep ``value`` aside under a fresh salt and return the commitment that stands for it in an entry."""
    salt = secrets.token_bytes(16)
    value = chain.normal(value)
    digest = chain.commitment(salt, value)
    Disclosure.objects.create(commit=digest, log=log, salt=salt, value=chain.canonical(value).decode(), subject=subject)
    return digest


def disclosed(digest: str) -> Any:
    """Return what a commitment stands for, or None where it was erased."""
    row = Disclosure.objects.filter(commit=digest).values_list("value", flat=True).first()
    return None if row is None else json.loads(row)


def lock(log: Log) -> None:
    """Let one appender at a time into a log, until its transaction ends.

    An action that reads before it decides takes the lock first, so that two people cannot decide on the same picture.
    On SQLite the transaction itself is IMMEDIATE and holds the file's write lock.
    """
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_xact_lock(hashtextextended(%s, 0))", [str(log.pk)])


def recorded(log: Log, act_id: UUID | str) -> int | None:
    """Return the number under which the act stands in the log, or None."""
    return Entry.objects.filter(log=log, act_id=act_id).values_list("seq", flat=True).first()


def append(
    log: Log, kind: str, act: dict[str, Any], *, auth: dict[str, Any], at: datetime,
    judged: dict[str, Any] | None = None, begun: bool = False,
) -> Entry:  # fmt: skip
    """Append one entry in the caller's transaction and return it.

    ``act`` carries its own ``id`` (UUID text). Raises AlreadyRecorded if an act of that identity stands in the log,
    NotCanonical if anything in it is outside the profile. ``begun``: the caller has taken the log's lock in this very
    transaction and has asked under it whether the act was recorded.
    """
    # Within a transaction no savepoint is needed: what is refused here is refused before anything is written.
    with nullcontext() if connection.in_atomic_block else transaction.atomic():
        if not begun:
            lock(log)
            if (known := recorded(log, act["id"])) is not None:
                raise AlreadyRecorded(known)
        return _append(log, kind, act, auth, at, judged)


def _append(
    log: Log, kind: str, act: dict[str, Any], auth: dict[str, Any], at: datetime, judged: dict[str, Any] | None
) -> Entry:
    last = Entry.objects.filter(log=log).order_by("-seq").values_list("seq", "t", "leaf_hash", "frontier").first()
    seq, prev, tree = 0, chain.NO_PREVIOUS, chain.Frontier()
    received = at.astimezone(UTC).replace(microsecond=0)
    if last is not None:
        seq, prev = last[0] + 1, bytes(last[2]).hex()
        tree = chain.Frontier.from_bytes(seq, bytes(last[3]))
        received = max(received, last[1])  # a clock set back never makes the history run backwards
    data = chain.entry_bytes(
        log=str(log.pk), seq=seq, prev=prev, t=as_text(received), kind=kind,
        act=chain.normal(act), auth=chain.normal(auth), judged=chain.normal(judged),
    )  # fmt: skip
    leaf = chain.leaf_hash(data)
    entry = Entry(
        log=log, seq=seq, kind=kind, act_id=UUID(act["id"]), t=received, data=data, leaf_hash=leaf,
        frontier=tree.appended(leaf).to_bytes(),
    )  # fmt: skip
    entry.save(force_insert=True)
    return entry
