"""A sheet that a phone signed, and what changed before it arrived: refused in a sentence or recorded, nothing is lost.

The rules are ours (accounts.signing, inspections.actions.sheets); there is no outside source for them.
"""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from accounts.person_keys import revoke_key
from inspections.models import Sheet
from inspections.rebuild import projection_faults, signature_faults
from ledger.models import Entry
from tests import make
from tests.inspections.pages import hidden, posted, sheet_url, text
from tests.inspections.test_sheets import _add_an_item, _tighten
from tests.signing import Phone, prepared

LOOK, MARK = "TA-06@end-landing", "TA-04M@end-landing"
NEW = "NEW-1@end-landing"

pytestmark = pytest.mark.usefixtures("clock")


@pytest.fixture
def sent(w: SimpleNamespace, as_: Any) -> SimpleNamespace:
    """A whole sheet of the landing as it stands on the technician's phone, prepared and signed there."""
    phone, client = Phone(), as_("technician")
    key = phone.enrol(w.operator, w.technician, at=w.t(0))
    fields = {**hidden(client.get(sheet_url(w))), "sign": "1", **posted(w)}
    signed = phone.signed(prepared(client, sheet_url(w), fields).json())
    return SimpleNamespace(phone=phone, client=client, key=key, fields=fields, signed=signed)


def sheets() -> list[dict[str, Any]]:
    return [one.record for one in Entry.objects.filter(kind="sheet").order_by("seq")]


def faults(w: SimpleNamespace) -> list[str]:
    return [*signature_faults(w.operator), *projection_faults(w.operator)]


def test_the_key_was_ended_while_the_phone_was_away(w: SimpleNamespace, sent: SimpleNamespace) -> None:
    revoke_key(sent.key, "lost", deed=make.deed(w.manager, at=w.t(0)))

    page = text(sent.client.post(sheet_url(w), {**sent.fields, **sent.signed}))

    assert "The key of this device is not known any more." in page
    assert sheets() == []
    # What was filled in stands there again, and can be signed by the log-in alone.
    again = sent.client.get(sheet_url(w)).content.decode()
    assert f'name="mark-{LOOK}" value="sound" checked' in again
    assert sent.client.post(sheet_url(w), sent.fields).status_code == 302
    [record] = sheets()
    assert "sig" not in record
    assert faults(w) == []


def test_an_item_came_onto_the_checklist_meanwhile(w: SimpleNamespace, sent: SimpleNamespace) -> None:
    _add_an_item(w, at=0)

    page = text(sent.client.post(sheet_url(w), {**sent.fields, **sent.signed}))

    assert f'href="#item-{NEW}"' in page
    assert sheets() == []
    assert f'name="mark-{LOOK}" value="sound" checked' in sent.client.get(sheet_url(w)).content.decode()
    whole = {**sent.fields, f"mark-{NEW}": "sound"}
    signed = sent.phone.signed(prepared(sent.client, sheet_url(w), whole).json())
    assert sent.client.post(sheet_url(w), {**whole, **signed}).status_code == 302
    [record] = sheets()
    assert record["sig"]["key"] == sent.phone.id
    assert NEW in {one["key"] for one in record["act"]["readings"]}
    assert faults(w) == []


def test_a_limit_was_tightened_meanwhile(w: SimpleNamespace, sent: SimpleNamespace) -> None:
    """What was signed names the limits that were shown and stands; it is judged by both, the stricter counts."""
    shown = str(make.picture(w, w.t(0)).setup.version("limits", w.line.pk).pk)
    now = _tighten(w, MARK, "0.3", at=0)

    assert sent.client.post(sheet_url(w), {**sent.fields, **sent.signed}).status_code == 302

    [record] = sheets()
    assert record["act"]["versions"]["limits"] == shown
    assert record["judged"]["versions"]["limits"] == str(now.pk)
    assert record["sig"]["key"] == sent.phone.id
    assert Sheet.objects.get(section="landing").verdict == "ok"
    assert faults(w) == []


def test_what_a_tighter_limit_takes_out_of_service_is_asked_first(
    w: SimpleNamespace, as_: Any, sent: SimpleNamespace
) -> None:
    fields = {**sent.fields, f"text-{MARK}": "0.4"}
    signed = sent.phone.signed(prepared(sent.client, sheet_url(w), fields).json())
    _tighten(w, MARK, "0.3", at=0)

    page = text(sent.client.post(sheet_url(w), {**fields, **signed}))

    assert "If you keep it, it is out of service at once." in page
    assert sheets() == []
    assert 'value="0.4"' in sent.client.get(sheet_url(w)).content.decode()
