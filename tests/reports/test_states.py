"""The page of the signed states: newest first, with the witnesses that saw them and the lines to copy.

That the lines on the page open with the keys is the check of C2SP signed-note, tlog-cosignature (READ in the dossier).
"""

from __future__ import annotations

import html
import re
import uuid
from base64 import b64encode
from datetime import UTC, datetime
from types import SimpleNamespace
from typing import Any

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from accounts.deeds import COMMAND, Deed
from accounts.log_keys import begin_log_key
from ledger import actions, log_key, notes, sealing
from ledger.models import Checkpoint, Countersignature
from reports.views.states import PAGE
from tests import make
from tests.inspections.pages import text

KEY = b64encode(bytes(range(32))).decode()
WITNESS = Ed25519PrivateKey.from_private_bytes(bytes(range(1, 33)))
SEEN = datetime(2026, 6, 15, 16, 5, 9, tzinfo=UTC)  # in the summer of the course's zone two hours later


def begin(w: SimpleNamespace, settings: Any) -> Checkpoint:
    settings.LOG_KEY = KEY
    return begin_log_key(w.operator, log_key.read(KEY), deed=Deed(by=w.manager, at=w.t(5), how=COMMAND))


def one_more(w: SimpleNamespace) -> Checkpoint:
    auth = {"how": "command", "ref": "p-1"}
    actions.append(w.operator.log, "note", {"id": str(uuid.uuid4())}, auth=auth, at=w.t(6))
    return sealing.seal(w.operator.log, at=w.t(6))


def saw(checkpoint: Checkpoint, name: str) -> notes.Key:
    key = notes.key_of(name, WITNESS, notes.COSIGNATURE)
    line = notes.cosigned(checkpoint.note, name, WITNESS, unix_time=int(SEEN.timestamp()))
    Countersignature(
        log=checkpoint.log, size=checkpoint.size, witness=name, key=key.text, line=line, seen_at=SEEN, received_at=SEEN
    ).save(force_insert=True)
    return key


def address(w: SimpleNamespace) -> str:
    return reverse("reports:states", args=[w.course.pk])


def sizes(page: str) -> list[int]:
    return [int(one) for one in re.findall(r'<details id="state-(\d+)"', page)]


def test_the_lines_on_the_page_open_with_the_keys_of_history_and_witnesses(
    w: SimpleNamespace, settings: Any, as_one: Any
) -> None:
    first = begin(w, settings)
    second = one_more(w)
    keys = [saw(second, name) for name in ("b.example/w", "a.example/w")]
    answer = as_one("auditor").get(address(w))
    assert sizes(answer.content.decode()) == [second.size, first.size]
    stored = [html.unescape(one) for one in re.findall(r"<pre[^>]*>(.*?)</pre>", answer.content.decode(), re.DOTALL)]
    assert stored[1] == first.note
    mine = sealing.public_key(w.operator.log, log_key.read(KEY))
    found, signers = notes.opened(stored[0], [mine, *keys])
    assert notes.Checkpoint.of(found).size == second.size
    assert set(signers) == {mine, *keys}
    shown = text(answer)
    when = "seen by a.example/w, 15 Jun 2026, 18:05:09"
    assert shown.index(when) < shown.index("seen by b.example/w, 15 Jun 2026, 18:05:09")
    assert shown.count("not countersigned") == 1


def test_no_state_of_another_history_is_shown(w: SimpleNamespace, settings: Any, as_one: Any) -> None:
    begin(w, settings)
    other = make.operator("Far Away", at=w.t(6))
    newest = sealing.newest(other.log)
    assert newest is not None
    saw(newest, "far.example")
    shown = text(as_one("auditor").get(address(w)))
    assert str(other.log_id) not in shown
    assert "far.example" not in shown


def test_before_anything_is_signed_it_says_what_is_missing(w: SimpleNamespace, as_one: Any) -> None:
    shown = text(as_one("manager").get(address(w)))
    assert "No state is signed yet" in shown
    assert "manage.py log_key" in shown


def test_fifty_to_a_page_back_to_the_first_in_a_fixed_number_of_queries(
    w: SimpleNamespace, settings: Any, as_one: Any, django_assert_num_queries: Any
) -> None:
    auditor = as_one("auditor")
    made = [begin(w, settings).size]
    few = [one_more(w) for _ in range(2)]
    made += [one.size for one in few]
    saw(few[0], "a.example")
    auditor.get(address(w))
    with CaptureQueriesContext(connection) as queries:
        auditor.get(address(w))
    for n in range(PAGE + 7):
        made.append(one_more(w).size)
        if n % 3:
            saw(sealing.newest(w.operator.log), "a.example")  # type: ignore[arg-type]
    with django_assert_num_queries(len(queries)):
        page = auditor.get(address(w)).content.decode()
    assert len(queries) <= 8
    assert sizes(page) == made[::-1][:PAGE]
    (older,) = re.findall(r'href="\?below=(\d+)"', page)
    rest = auditor.get(address(w), {"below": older}).content.decode()
    assert sizes(page) + sizes(rest) == made[::-1]
    assert "below=" not in rest
    assert "No older state" in text(auditor.get(address(w), {"below": made[0]}))
    for strange in ("\u00b2", "-1", "x", "9" * 40):
        assert sizes(auditor.get(address(w), {"below": strange}).content.decode()) == made[::-1][:PAGE]


@pytest.mark.parametrize("role", ["auditor", "manager"])
def test_history_leads_there(w: SimpleNamespace, as_one: Any, role: str) -> None:
    shown = text(as_one(role).get(reverse("reports:calendar", args=[w.course.pk])))
    assert f'href="{address(w)}"' in shown
