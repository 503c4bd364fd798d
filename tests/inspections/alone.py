"""What a phone signs without a signal and sends later, for the tests that receive it."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from types import SimpleNamespace
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client
from django.utils import timezone

from accounts.clock import Clock
from inspections.models import Draft
from ledger import chain
from tests.signing import Phone, prepared

SEED = "0f" * 32


def as_told(at: datetime) -> str:
    return f"{at:%Y-%m-%dT%H:%M:%SZ}"


@dataclass
class Held:
    """What a phone holds: a form, and what was signed of it. ``off``: its clock, server minus device, in seconds."""

    path: str
    fields: dict[str, Any]
    off: int | None = None

    def sent(self, client: Client, *, off: int | None = None, **more: Any) -> Any:
        """Send it now; with ``off`` the phone's clock is another one than when it was signed."""
        fields = {**self.fields}
        if self.off is not None:
            fields["_sent_at"] = as_told(timezone.now() - timedelta(seconds=self.off if off is None else off))
        headers = {"X-Lineworthy-Act": "send", "Accept": "application/json"}
        return client.post(self.path, {**fields, **more}, headers=headers)


@pytest.fixture
def own_phone(w: SimpleNamespace) -> Phone:
    phone = Phone()
    phone.key = phone.enrol(w.operator, w.technician, at=w.t(0))  # type: ignore[attr-defined]
    return phone


@pytest.fixture
def hold(w: SimpleNamespace, as_: Any, own_phone: Phone) -> Callable[..., Held]:
    """Return a function that signs a form on the phone.

    ``at`` is when; with ``off`` the phone has measured its clock ten minutes before, and shows that much less.
    """

    def sign(
        path: str, fields: dict[str, Any], *, at: datetime | None = None, off: int | None = None, **act: Any
    ) -> Held:
        form = {"deed_id": str(uuid4()), **fields, "_seed": SEED}
        told = prepared(as_("technician"), path, form).json()
        Draft.objects.all().delete()  # nothing came before: there was no signal
        made_at = (at or w.t(0)) - timedelta(seconds=off or 0)
        said = {**json.loads(told["act"]), "made_at": as_told(made_at), **act}
        if off is not None:
            clock = Clock(off, made_at - timedelta(minutes=10))
            said["clock"] = clock.as_record
            form |= {"_clock": f"{off}|{as_told(clock.measured_at)}", "_date": said["date"]}
        signed = own_phone.signed({**told, "act": chain.canonical(said).decode()})
        return Held(path, form | signed, off)

    return sign
