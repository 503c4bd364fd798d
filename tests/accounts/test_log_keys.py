"""The key of a history: named in it by a command, exchanged with a reason, never changed in silence."""

from __future__ import annotations

import io
import stat
import uuid
from base64 import b64encode
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from django.core.management import CommandError, call_command

from accounts.deeds import COMMAND, SESSION, Deed
from accounts.errors import Refused
from accounts.log_keys import LOST, PLANNED, STOLEN, begin_log_key, rotate_log_key
from accounts.models import Operator
from ledger import actions as ledger
from ledger import notes, sealing
from ledger.models import Checkpoint, Entry
from tests import make

SEEDS = [bytes([n]) * 32 for n in (1, 2, 3)]
FIRST, SECOND, THIRD = (Ed25519PrivateKey.from_private_bytes(one) for one in SEEDS)
AT = make.FOUNDED + timedelta(hours=1)


@pytest.fixture
def operator(db: None, settings: Any) -> Operator:
    settings.LOG_KEY = ""
    return make.operator()


def deed(operator: Operator, how: str = COMMAND) -> Deed:
    return Deed(by=make.founder_of(operator), at=AT, how=how)


def one_more(operator: Operator) -> None:
    ledger.append(operator.log, "note", {"id": str(uuid.uuid4())}, auth={"how": "command", "ref": "p-1"}, at=AT)


def signers(operator: Operator) -> set[str]:
    found = sealing.newest(operator.log)
    assert found is not None
    _text, known = notes.opened(found.note, [one.key for one in sealing.keys_of(operator.log)])
    return {key.text for key in known}


def text_of(operator: Operator, private: Ed25519PrivateKey) -> str:
    return sealing.public_key(operator.log, private).text


def test_a_history_founded_with_a_key_names_it_and_is_signed(db: None, settings: Any) -> None:
    settings.LOG_KEY = b64encode(SEEDS[0]).decode()
    founded = make.operator()
    assert [one.key.text for one in sealing.keys_of(founded.log)] == [text_of(founded, FIRST)]
    assert signers(founded) == {text_of(founded, FIRST)}


def test_an_older_history_begins_its_key_once(operator: Operator) -> None:
    made = begin_log_key(operator, FIRST, deed=deed(operator))
    assert made.size == Entry.objects.filter(log=operator.log).count()
    with pytest.raises(Refused, match="names a log key already"):
        begin_log_key(operator, SECOND, deed=deed(operator))


def test_both_keys_sign_the_exchange_and_afterwards_the_new_one_alone(operator: Operator, settings: Any) -> None:
    begin_log_key(operator, FIRST, deed=deed(operator))
    made = rotate_log_key(operator, SECOND, old=FIRST, reason=PLANNED, deed=deed(operator))
    assert signers(operator) == {text_of(operator, FIRST), text_of(operator, SECOND)}
    first, second = sealing.keys_of(operator.log)
    assert (first.retire_after, second.retire_after, second.since) == (made.size, None, made.size - 1)
    one_more(operator)
    settings.LOG_KEY = b64encode(SEEDS[0]).decode()
    with pytest.raises(sealing.NotSealed):
        sealing.seal(operator.log, at=AT)
    settings.LOG_KEY = b64encode(SEEDS[1]).decode()
    sealing.seal(operator.log, at=AT)
    assert signers(operator) == {text_of(operator, SECOND)}


def test_a_stolen_key_is_believed_only_as_far_as_it_is_said(operator: Operator) -> None:
    good = begin_log_key(operator, FIRST, deed=deed(operator)).size
    one_more(operator)
    rotate_log_key(operator, SECOND, old=FIRST, reason=STOLEN, good_until=good, deed=deed(operator))
    assert sealing.keys_of(operator.log)[0].retire_after == good
    assert signers(operator) == {text_of(operator, SECOND)}


def test_what_cannot_be_is_refused_and_changes_nothing(operator: Operator) -> None:
    def refused(code: str, new: Ed25519PrivateKey = SECOND, **changed: Any) -> None:
        given = {"old": FIRST, "reason": PLANNED, "deed": deed(operator)} | changed
        before = Entry.objects.count(), Checkpoint.objects.count()
        with pytest.raises(Refused) as caught:
            rotate_log_key(operator, new, **given)
        assert caught.value.code == code
        assert (Entry.objects.count(), Checkpoint.objects.count()) == before

    refused("not-begun")
    begin_log_key(operator, FIRST, deed=deed(operator))
    refused("same-key", FIRST)
    refused("other-key", SECOND, old=THIRD)
    refused("reason-needed", reason="because")
    refused("no-such-size", good_until=999)
    refused("not-from-here", deed=deed(operator, SESSION))
    rotate_log_key(operator, SECOND, old=None, reason=LOST, deed=deed(operator))
    refused("same-key", FIRST, old=SECOND)


def run(*arguments: str) -> str:
    out = io.StringIO()
    call_command("log_key", *arguments, stdout=out)
    return out.getvalue()


def test_by_command_from_the_making_to_the_exchange(operator: Operator, settings: Any, tmp_path: Path) -> None:
    one, two = tmp_path / "one", tmp_path / "two"
    who = ("--operator", operator.name.upper(), "--by", make.founder_of(operator).email)
    assert "no key is named" in run("show")
    with pytest.raises(CommandError, match="No log key is set"):
        run("begin", *who)
    assert "keep a copy apart from backups" in run("make", str(one))
    assert stat.S_IMODE(one.stat().st_mode) == 0o400
    with pytest.raises(CommandError, match="was not written"):
        run("make", str(one))
    settings.LOG_KEY = one.read_text(encoding="ascii").strip()
    key = run("begin", *who).strip().splitlines()[-1]
    assert notes.Key.of(key).name == f"lineworthy/{operator.log_id}"
    assert key in run("show")
    run("make", str(two))
    assert "before the next signature" in run("rotate", *who, "--new", str(two), "--reason", "planned")
    assert run("show").count("retired after") == 1
    with pytest.raises(CommandError, match="cannot be read"):
        run("rotate", *who, "--new", str(tmp_path / "none"), "--reason", "planned")
    with pytest.raises(CommandError, match="There is no account"):
        run("begin", "--operator", operator.name, "--by", "nobody@example.org")
    with pytest.raises(CommandError, match="There is no operator"):
        run("begin", "--operator", "Nowhere", "--by", make.founder_of(operator).email)
