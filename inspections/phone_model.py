"""What a phone says of itself. Not part of the history: what it owes counts for some hours, and only ever holds."""

from __future__ import annotations

import uuid

from django.db import models


class Phone(models.Model):
    """One phone in one person's hands, as it said hello last: when, and what was signed on it and is not sent yet.

    ``owes``: [{id, kind, title, made_at, course, place, section, part, out, unknown, ref, since, gone_at, aside_at,
    aside_by}], with what is absent left out; ``id`` is the act's, ``ref`` whoever signed it, ``since`` when this server
    heard of it first.
    """

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    operator = models.ForeignKey("accounts.Operator", on_delete=models.CASCADE, related_name="+")
    phone = models.UUIDField(help_text="made once by the phone itself; storage that was emptied makes another")
    person = models.ForeignKey("accounts.User", on_delete=models.CASCADE, related_name="+")
    seen_at = models.DateTimeField()
    has = models.DateField(null=True, help_text="day whose pages are kept on it; empty after a log-out")
    owes = models.JSONField(default=list)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["operator", "phone", "person"], name="phone_of_person_once")]
        indexes = [models.Index(fields=["operator", "seen_at"], name="phone_seen")]

    def __str__(self) -> str:
        return str(self.phone)[:8]
