"""Every deed of the table of rights, signed by a key of the person's own: prepared, signed, sent, and in the history.

ES256 as in RFC 7518 3.4 (from memory), with the r || s form of WebCrypto; made here by the cryptography package, which
is held to the Wycheproof vectors in tests/ledger/test_acts.py.
"""

from __future__ import annotations

from datetime import timedelta
from types import SimpleNamespace
from uuid import uuid4

import pytest
import time_machine
from django.db import transaction
from django.urls import reverse

from ledger import acts
from ledger.models import Entry
from tests.access.table import Row
from tests.signing import Phone, prepared
from tests.test_access import ROWS, address, as_visitor, built, w  # noqa: F401 - the world of the table

# What is posted and is no deed with an entry of its own: a mail, racks (entries of the parts put into them, each with
# one), the draft of a correction, and a tag, whose drawing is an entry that belongs to its finding.
NO_DEED = {"accounts:send_invitation", "courses:racks", "inspections:correct", "reports:tag"}


def doer(row: Row) -> str:
    """Return a role that may do what a row does."""
    allowed = [name for name, status in row.expected().items() if status < 400]
    return next(name for name in allowed if name not in ("anonymous", "stranger"))


# What is answered with a page instead is not done yet: the look at a proposal, or a form with something missing.
POSTS = [row for row in ROWS if row.post is not None and not row.json and row.expected()[doer(row)] == 302]


@pytest.mark.parametrize("row", POSTS, ids=str)
def test_a_deed_is_signed_by_the_persons_own_key(w: SimpleNamespace, row: Row) -> None:  # noqa: F811
    visitor = doer(row)
    who, client = getattr(w, visitor), as_visitor(w, visitor)
    deed_id = uuid4()
    with transaction.atomic():
        phone = Phone()
        phone.enrol(w.operator, who, at=w.at)
        fields = {**row.post(w), "deed_id": str(deed_id)}  # type: ignore[misc]
        query = row.query(w) if row.query else None
        path = address(w, row)
        entries = Entry.objects.count()
        told = prepared(client, path, fields, query_params=query)
        if told["Content-Type"] != "application/json" or "act" not in told.json():
            assert row.name in NO_DEED, f"{told.status_code}: {told.content.decode()[:200]}"
            transaction.set_rollback(True)
            return
        assert row.name not in NO_DEED
        assert Entry.objects.count() == entries
        # Without a time that can be read it is refused in a sentence on a page, wherever the view asks who does it.
        undated = client.post(path, {**fields, **phone.signed(told.json()), "_made_at": "now"}, query_params=query)
        assert undated.status_code < 500
        assert Entry.objects.filter(act_id=deed_id).count() == 0
        told = prepared(client, path, fields, query_params=query)
        with time_machine.travel(w.at + timedelta(seconds=7), tick=False):
            signed = {**fields, **phone.signed(told.json())}
            sent = client.post(path, signed, query_params=query)
            entries = Entry.objects.count()
            again = client.post(path, signed, query_params=query)
        assert sent.status_code == row.expected()[visitor]
        # Sent twice it is done once, and not refused because the salts of the first time are forgotten.
        assert "has changed since it was signed" not in again.content.decode()
        assert Entry.objects.count() == entries
        entry = Entry.objects.get(act_id=deed_id)
        record = entry.record
        assert record["sig"]["alg"] == "es256"
        assert record["sig"]["key"] == phone.id
        assert acts.is_signed(
            acts.point_of(phone.public) or b"", record["sig"]["sig"], acts.message(entry.kind, record["act"])
        )
        transaction.set_rollback(True)


def test_what_was_typed_in_another_form_of_unicode_signs_and_records(w: SimpleNamespace) -> None:  # noqa: F811
    """Phones send an umlaut as one sign or as two (UAX #15: MEMORY); an entry has it as one, and so it is signed."""
    typed = "Gru\u0308n, worn"
    who, client = w.engineer, as_visitor(w, "engineer")
    fields = {"tag": "HA-77", "kind": "harness", "label": typed, "deed_id": str(uuid4())}
    path = reverse("courses:component_add", args=[w.course.pk])
    with transaction.atomic():
        phone = Phone()
        phone.enrol(w.operator, who, at=w.at)
        told = prepared(client, path, fields).json()
        assert client.post(path, {**fields, **phone.signed(told)}).status_code == 302
        record = Entry.objects.get(act_id=fields["deed_id"]).record
        assert "Gr\u00fcn, worn" in str(record["act"])
        assert record["sig"]["key"] == phone.id
        transaction.set_rollback(True)


def test_there_is_something_to_test() -> None:
    assert len(POSTS) > len(NO_DEED) + 20
