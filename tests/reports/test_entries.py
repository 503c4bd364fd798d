"""The record page by page: every entry by its number, with its hash as the next entry names it.

The leaf hash is RFC 6962's (READ): SHA-256 over a nought byte and the stored bytes.
"""

import hashlib
import re
from types import SimpleNamespace
from typing import Any
from uuid import uuid4

import pytest
from django.urls import reverse

from inspections import projection
from ledger.models import Disclosure, Entry
from reports.entries import KINDS, PAGE, listed
from tests import make
from tests.inspections.pages import text
from tests.signing import Phone, prepared

pytestmark = pytest.mark.usefixtures("clock")


def page(w: SimpleNamespace, client: Any, seq: int) -> str:
    return text(client.get(reverse("reports:entry", args=[w.course.pk, seq])))


def test_every_kind_that_is_written_or_projected_has_words(w: SimpleNamespace) -> None:
    make.inspect(w, at=w.t(0))
    written = set(Entry.objects.values_list("kind", flat=True))

    assert len(written) > 10
    assert written <= set(KINDS)
    assert set(projection._PROJECTIONS) <= set(KINDS)


def test_an_auditor_reads_every_entry_with_the_hash_that_the_next_one_names(w: SimpleNamespace, as_one: Any) -> None:
    auditor, last = as_one("auditor"), Entry.objects.order_by("-seq").first()
    for seq in (0, 1, last.seq // 2, last.seq - 1):
        found = Entry.objects.get(log=w.operator.log, seq=seq)
        after = Entry.objects.get(log=w.operator.log, seq=seq + 1).record
        digest = hashlib.sha256(b"\0" + bytes(found.data)).hexdigest()
        shown = page(w, auditor, seq)

        assert after["prev"] == digest
        assert re.sub(r"\s|&nbsp;|\u202f", "", shown).find(digest) > 0
        assert str(KINDS[found.kind]) in shown
    assert auditor.get(reverse("reports:entry", args=[w.course.pk, last.seq + 1])).status_code == 404
    assert auditor.get(reverse("reports:entry", args=[w.course.pk, 10**30])).status_code == 404


def test_the_list_goes_back_to_the_first_entry_and_a_number_leads_to_its_entry(w: SimpleNamespace, as_one: Any) -> None:
    auditor, address = as_one("auditor"), reverse("reports:entries", args=[w.course.pk])
    total = Entry.objects.filter(log=w.operator.log).count()
    seen: list[int] = []
    below: int | None = None
    while len(seen) < total:
        rows = listed(w.course, below=below)
        seen += [one.seq for one in rows]
        below = rows[-1].seq - 1
    assert seen == list(range(total - 1, -1, -1))
    assert total > PAGE
    assert f"?from={total - PAGE - 1}" in text(auditor.get(address))

    assert auditor.get(address, {"number": "3"})["Location"] == reverse("reports:entry", args=[w.course.pk, 3])
    assert "There is no entry 999999." in text(auditor.get(address, {"number": "999999"}))
    assert auditor.get(address, {"number": "\u00b2", "from": "x", "kind": "<b>"}).status_code == 200


def test_an_erased_name_is_said_to_be_erased_and_the_content_stays(w: SimpleNamespace, as_one: Any) -> None:
    auditor = as_one("auditor")
    entry = Entry.objects.filter(log=w.operator.log, kind="version-confirmed").first()
    commit = entry.record["act"]["signer"]["commit"]
    name = re.search(r"<dt>By</dt><dd>([^,<]+),", page(w, auditor, entry.seq)).group(1)
    Disclosure.objects.filter(pk=commit).delete()

    shown = page(w, auditor, entry.seq)
    assert "name erased" in shown
    assert name not in shown.split("Content as stored")[0].split("<main")[1]
    assert commit in shown


def test_list_and_entry_say_which_deeds_a_key_of_ones_own_signed(w: SimpleNamespace, as_one: Any) -> None:
    phone, client = Phone(), as_one("technician")
    phone.enrol(w.operator, w.technician, at=w.t(0))
    for signs in (True, False):
        fields = {"code": "HA-01" if signs else "HA-02", "spot": "", "title": "Strap frayed", "deed_id": str(uuid4())}
        address = reverse("inspections:withdraw", args=[w.course.pk])
        more = phone.signed(prepared(client, address, fields).json()) if signs else {}
        client.post(address, {**fields, **more})
    plain, signed = listed(w.course)[:2]
    assert (plain.key, signed.key) == ("", phone.id[:8])
    rows = text(client.get(reverse("reports:entries", args=[w.course.pk])))
    assert rows.count(f"signed by their own key {phone.id[:8]}") == 1
    assert f"signed by their own key {phone.id[:8]}" in page(w, client, signed.seq)
    assert "no key of their own signed it" in page(w, client, plain.seq)
