"""The only writer of the history."""

from __future__ import annotations

import hmac
import json
import logging
import secrets
from collections.abc import Iterator
from contextlib import contextmanager, nullcontext
from contextvars import ContextVar
from datetime import UTC, datetime, timedelta
from itertools import count
from typing import Any
from uuid import UUID

from django.db import connection, transaction

from ledger import chain
from ledger.errors import AlreadyRecorded
from ledger.models import Disclosure, Entry, Log

logger = logging.getLogger(__name__)
SLACK = timedelta(minutes=5)  # that clocks of servers may differ by
TIME_FORMAT = "%Y-%m-%dT%H:%M:%SZ"


def as_text(at: datetime) -> str:
    """Return the time as it stands in entries: UTC, whole seconds."""
    return at.astimezone(UTC).strftime(TIME_FORMAT)


def open_log(*, at: datetime) -> Log:
    """Begin a new, empty history."""
    return Log.objects.create(created_at=at)


_salts: ContextVar[Iterator[bytes] | None] = ContextVar("salts", default=None)


@contextmanager
def salted_by(seed: bytes) -> Iterator[None]:
    """Let the salts within come from a secret seed, in order: the same deed gone through again commits the same.

    The seed must be random, and forgotten afterwards: with it a salt that was erased could be made again.
    """

    def made() -> Iterator[bytes]:
        for number in count():
            yield hmac.digest(seed, str(number).encode(), "sha256")[:16]

    token = _salts.set(made())
    try:
        yield
    finally:
        _salts.reset(token)


def seed_of(seed: bytes, act_id: UUID) -> bytes:
    """Return what the salts of one act come from, where a device made the seed.

    Tied to the act, a seed that is used for another one gives other salts: no two commitments are ever the same.
    """
    return hmac.digest(seed, f"salts/v1\n{act_id}".encode(), "sha256")


@contextmanager
def salted_by_chance() -> Iterator[None]:
    """Draw the salts within at random, whatever ``salted_by`` says around it, and use up none of its own."""
    token = _salts.set(None)
    try:
        yield
    finally:
        _salts.reset(token)


def commit(log: Log, value: Any, *, subject: str = "") -> str:
    """Keep ``value`` aside under a salt of its own and return the commitment that stands for it in an entry."""
    source = _salts.get()
    salt = secrets.token_bytes(16) if source is None else next(source)
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
    judged: dict[str, Any] | None = None, sig: dict[str, Any] | None = None, begun: bool = False,
) -> Entry:  # fmt: skip
    """Append one entry in the caller's transaction and return it. ``sig`` is the signature of a person's own key.

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
        return _append(log, kind, act, auth, at, judged, sig)


def _append(
    log: Log, kind: str, act: dict[str, Any], auth: dict[str, Any], at: datetime, judged: dict[str, Any] | None,
    sig: dict[str, Any] | None,
) -> Entry:  # fmt: skip
    last = Entry.objects.filter(log=log).order_by("-seq").values_list("seq", "t", "leaf_hash", "frontier").first()
    seq, prev, tree = 0, chain.NO_PREVIOUS, chain.Frontier()
    received = at.astimezone(UTC).replace(microsecond=0)
    if last is not None:
        seq, prev = last[0] + 1, bytes(last[2]).hex()
        tree = chain.Frontier.from_bytes(seq, bytes(last[3]))
        if last[1] - received > SLACK:
            logger.error("The clock is behind entry %d of log %s: %s is before %s", last[0], log.pk, received, last[1])
        received = max(received, last[1])  # a clock set back never makes the history run backwards
    data = chain.entry_bytes(
        log=str(log.pk), seq=seq, prev=prev, t=as_text(received), kind=kind,
        act=chain.normal(act), auth=chain.normal(auth), judged=chain.normal(judged), sig=sig,
    )  # fmt: skip
    leaf = chain.leaf_hash(data)
    entry = Entry(
        log=log, seq=seq, kind=kind, act_id=UUID(act["id"]), t=received, data=data, leaf_hash=leaf,
        frontier=tree.appended(leaf).to_bytes(),
    )  # fmt: skip
    entry.save(force_insert=True)
    return entry
