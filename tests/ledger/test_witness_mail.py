"""``manage.py mail_states``: who gets which lines, that they can be read again, and that nothing is mailed twice.

That the lines open with the history's key is the check of C2SP signed-note (READ in the dossier); the rest is what the
project says of itself, no source.
"""

from __future__ import annotations

import io
import smtplib
import uuid
from base64 import b64encode
from datetime import timedelta
from email import message_from_bytes, policy
from typing import Any

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from django.core import mail
from django.core.cache import cache
from django.core.management import CommandError, call_command

from accounts.models import Operator
from ledger import actions, notes, sealing
from ledger.models import Checkpoint, Countersignature
from tests import make

SEED = bytes(range(32))
MINE = Ed25519PrivateKey.from_private_bytes(SEED)
THEIRS = Ed25519PrivateKey.from_private_bytes(bytes(range(1, 33)))
AT = make.FOUNDED + timedelta(hours=1)
TO = ["aino@example.org", "office@example.net"]


@pytest.fixture
def operator(db: None, settings: Any) -> Operator:
    settings.LOG_KEY = b64encode(SEED).decode()
    settings.STATES_TO = TO
    return make.operator("Kestrel\N{EN DASH}Hollow")


def run(**given: Any) -> str:
    out = io.StringIO()
    call_command("mail_states", stdout=out, stderr=out, **given)
    return out.getvalue()


def newest(operator: Operator) -> Checkpoint:
    found = sealing.newest(operator.log)
    assert found is not None
    return found


def witnessed(checkpoint: Checkpoint, name: str) -> str:
    line = notes.cosigned(checkpoint.note, name, THEIRS, unix_time=1_780_000_000)
    key = notes.key_of(name, THEIRS, notes.COSIGNATURE)
    Countersignature(
        log=checkpoint.log, size=checkpoint.size, witness=name, key=key.text, line=line, seen_at=AT, received_at=AT
    ).save(force_insert=True)
    return line


def test_the_lines_come_whole_in_the_text_and_as_a_file(operator: Operator) -> None:
    lines = [witnessed(newest(operator), name) for name in ("a.example", "b.example")]
    assert f"mailed the state of {newest(operator).size} entries" in run()
    (sent,) = mail.outbox
    assert sent.to == TO
    assert sent.subject == f"Signed state of the history of {operator.name}: {newest(operator).size} entries"
    note = newest(operator).note + "".join(lines)
    # Through what a mail server gets, not what was handed in.
    received = message_from_bytes(sent.message().as_bytes(), policy=policy.default)
    body, attached = received.get_body(), next(received.iter_attachments())
    assert body is not None
    assert note in body.get_content()
    assert "Keep this mail where the operator cannot reach it." in body.get_content()
    assert attached.get_content() == note.encode()
    keys = [sealing.public_key(operator.log, MINE), notes.key_of("a.example", THEIRS, notes.COSIGNATURE)]
    assert set(notes.opened(attached.get_content().decode(), keys)[1]) == set(keys)


def test_a_state_is_mailed_once_and_the_next_one_again(operator: Operator, settings: Any) -> None:
    run()
    assert "nothing new is signed" in run()
    assert len(mail.outbox) == 1
    run(again=True)
    assert len(mail.outbox) == 2
    actions.append(operator.log, "note", {"id": str(uuid.uuid4())}, auth={"how": "command", "ref": "p"}, at=AT)
    sealing.seal(operator.log, at=AT)
    run()
    settings.STATES_TO = [*TO, "new@example.org"]  # who is new has nothing yet
    run()
    assert len(mail.outbox) == 4
    cache.clear()
    run()
    assert len(mail.outbox) == 5


def test_each_history_has_a_mail_of_its_own_and_an_unsigned_one_says_so_each_time(
    operator: Operator, settings: Any
) -> None:
    settings.LOG_KEY = ""
    make.operator("Far\nAway")
    run()
    told = run()
    assert "mailed that no state is signed" in told
    assert [one.subject.partition(" of ")[0] for one in mail.outbox].count("Signed state") == 1
    unsigned = [one for one in mail.outbox if one.subject == "The history of Far Away is not signed"]
    assert len(unsigned) == 2
    assert "only copies of its papers show a later change" in unsigned[0].body
    assert unsigned[0].attachments == []


def test_what_was_not_sent_is_not_taken_for_sent(operator: Operator, monkeypatch: pytest.MonkeyPatch) -> None:
    def fails(*_: Any, **__: Any) -> None:
        raise smtplib.SMTPRecipientsRefused({TO[0]: (550, b"no such box")})

    with monkeypatch.context() as patched:
        patched.setattr("django.core.mail.EmailMessage.send", fails)
        with pytest.raises(CommandError, match="1 mails were not sent"):
            run()
    run()
    assert len(mail.outbox) == 1


def test_without_addresses_it_says_so(operator: Operator, settings: Any) -> None:
    settings.STATES_TO = []
    with pytest.raises(CommandError, match="LINEWORTHY_STATES_TO"):
        run()
