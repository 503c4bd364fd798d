"""The append-only log of each operator, its signed states, and the table of what may be forgotten."""

from __future__ import annotations

import uuid
from typing import Any

from django.db import models

from ledger import chain


class Log(models.Model):
    """One history. Every operator has its own, so that it stands alone and can be moved alone."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    created_at = models.DateTimeField()

    def __str__(self) -> str:
        return str(self.id)


class Entry(models.Model):
    """One numbered entry. The bytes in ``data`` are the record; the other columns are an index of them.

    No other unique index stands on this table: INSERT OR REPLACE on a second one would delete a row silently on
    SQLite. That an act is recorded once is kept by a trigger instead (see ``ledger.triggers``).
    """

    pk = models.CompositePrimaryKey("log_id", "seq")
    log = models.ForeignKey(Log, on_delete=models.PROTECT, related_name="entries")
    seq = models.BigIntegerField()
    kind = models.CharField(max_length=40)
    act_id = models.UUIDField()
    t = models.DateTimeField()
    data = models.BinaryField()
    leaf_hash = models.BinaryField(max_length=32)
    frontier = models.BinaryField()

    class Meta:
        indexes = [
            models.Index(fields=["log", "act_id"], name="entry_by_act"),
            models.Index(fields=["log", "kind", "seq"], name="entry_by_kind"),
        ]

    def __str__(self) -> str:
        return f"{self.seq} {self.kind}"

    @property
    def record(self) -> dict[str, Any]:
        """The entry as a structure, parsed from its bytes."""
        parsed: dict[str, Any] = chain.parse(bytes(self.data))
        return parsed


class Checkpoint(models.Model):
    """The signed state of a log at some moment: what is handed out, so that others can hold the log to it.

    ``note`` is a checkpoint of C2SP with its signatures; ``size`` and ``root`` are an index of it.
    """

    pk = models.CompositePrimaryKey("log_id", "size")
    log = models.ForeignKey(Log, on_delete=models.PROTECT, related_name="checkpoints")
    size = models.BigIntegerField()
    root = models.BinaryField(max_length=32)
    note = models.TextField()
    made_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.size} entries"


class Countersignature(models.Model):
    """What a witness answered to a checkpoint: that it saw the state, when, and that it added to what it saw before.

    ``line`` is the signature line of C2SP that goes under the checkpoint's note; ``key`` is the public key it was held
    against, and ``seen_at`` the time that stands in it, by the clock of the witness.
    """

    pk = models.CompositePrimaryKey("log_id", "size", "witness")
    log = models.ForeignKey(Log, on_delete=models.PROTECT, related_name="countersignatures")
    size = models.BigIntegerField()
    witness = models.CharField(max_length=200)
    key = models.CharField(max_length=300)
    line = models.TextField()
    seen_at = models.DateTimeField()
    received_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.witness}: {self.size} entries"


class Disclosure(models.Model):
    """What a commitment in the log stands for: a name or a free text. The only rows that may ever be erased."""

    commit = models.CharField(primary_key=True, max_length=64)
    log = models.ForeignKey(Log, on_delete=models.PROTECT, related_name="disclosures")
    salt = models.BinaryField(max_length=16)
    value = models.TextField(help_text="canonical JSON")
    subject = models.CharField(
        max_length=40, blank=True, db_index=True, help_text="reference of the person it is about"
    )

    def __str__(self) -> str:
        return self.commit
