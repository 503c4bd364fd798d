"""``manage.py witness_states``: what is sent to witnesses, what of their answers is kept, what is told to people.

Asked of the project's own witness command in a process of its own, and of machines that answer wrongly. The protocol is
that of C2SP tlog-witness (READ at 8d7756274916fb9efd94da8bc7264019e3fe46e4).
"""

from __future__ import annotations

import io
import threading
import time
import uuid
from base64 import b64encode
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import timedelta
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path
from typing import Any

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from django.core.management import CommandError, call_command
from django.db import DatabaseError, connection, transaction
from django.utils import timezone

from accounts.models import Operator
from ledger import actions, chain, notes, sealing, triggers
from ledger.merkle import Tree
from ledger.models import Checkpoint, Countersignature, Entry
from ledger.witness import asking
from ledger.witness.asking import Witness, request_body
from ledger.witness.countersigning import kept_of, whole_note
from tests import make
from tests.ledger.witnessing import Running, at_work

SEED = bytes(range(32))
MINE = Ed25519PrivateKey.from_private_bytes(SEED)
THEIRS = Ed25519PrivateKey.from_private_bytes(bytes(range(1, 33)))
LISTED = notes.key_of("witness.example/w9", THEIRS, notes.COSIGNATURE)


@pytest.fixture
def operator(db: None, settings: Any) -> Operator:
    """An operator whose history was begun yesterday, by the real clock: a witness has no other."""
    settings.LOG_KEY = b64encode(SEED).decode()
    settings.WITNESSES = []
    return make.operator(at=timezone.now() - timedelta(days=1))


def grown(operator: Operator, entries: int = 3) -> Checkpoint:
    for _ in range(entries):
        actions.append(
            operator.log, "note", {"id": str(uuid.uuid4())}, auth={"how": "command", "ref": "p"}, at=timezone.now()
        )
    return sealing.seal(operator.log, at=timezone.now())


def key_of(operator: Operator) -> notes.Key:
    return sealing.public_key(operator.log, MINE)


@pytest.fixture
def running(operator: Operator, settings: Any, tmp_path: Path) -> Iterator[Running]:
    with at_work(tmp_path, key_of(operator)) as found:
        settings.WITNESSES = [Witness(found.key, found.url)]
        yield found


def run(**given: Any) -> str:
    out = io.StringIO()
    call_command("witness_states", stdout=out, stderr=out, **given)
    return out.getvalue()


def trouble(**given: Any) -> str:
    """Return what the command says where a countersignature is missing afterwards."""
    out = io.StringIO()
    with pytest.raises(CommandError, match="are missing"):
        call_command("witness_states", stdout=out, stderr=out, **given)
    return " ".join(out.getvalue().split())


def leaves(operator: Operator) -> list[bytes]:
    return [chain.leaf_hash(bytes(one.data)) for one in Entry.objects.filter(log=operator.log).order_by("seq")]


def shown(operator: Operator, hashes: list[bytes], *, old: int = 0) -> bytes:
    """Return a request about a history of these leaves, signed with the operator's own key."""
    tree = Tree(hashes)
    text = notes.Checkpoint(sealing.name_of(operator.log), len(tree), tree.root()).text
    return request_body(old, tree.consistency(old), notes.signed(text, (sealing.name_of(operator.log), MINE)))


def test_each_state_is_countersigned_once_and_the_note_opens(operator: Operator, running: Running) -> None:
    first = sealing.newest(operator.log)
    assert first is not None
    assert f"{operator.name}: {first.size} entries, witness.example/w1: seen at " in run()
    assert "countersigned before" in run()
    second = grown(operator)
    assert f"{second.size} entries, witness.example/w1: seen at " in run(operator=operator.name.upper())
    rows = list(Countersignature.objects.order_by("size"))
    assert [one.size for one in rows] == [first.size, second.size]
    for checkpoint, row in zip((first, second), rows, strict=True):
        note = whole_note(checkpoint, kept_of(checkpoint))
        text, signers = notes.opened(note, [key_of(operator), notes.Key.of(row.key)])
        assert text == notes.Checkpoint(sealing.name_of(operator.log), checkpoint.size, bytes(checkpoint.root)).text
        assert signers == {key_of(operator): None, running.key: int(row.seen_at.timestamp())}
        assert abs(row.seen_at - row.received_at) < timedelta(minutes=1)


def test_a_witness_that_saw_more_than_is_kept_here_says_so_and_is_asked_again(
    operator: Operator, running: Running
) -> None:
    grown(operator)
    # Seen from another place: a copy of this installation before a backup was put back.
    assert running.ask(shown(operator, leaves(operator)[:3]))[0] == 200
    newest = grown(operator)
    run()
    assert [one.size for one in kept_of(newest)] == [newest.size]


def test_the_same_state_seen_from_another_place_is_countersigned_again(operator: Operator, running: Running) -> None:
    newest = grown(operator)
    assert running.ask(shown(operator, leaves(operator)))[0] == 200
    run()
    assert len(kept_of(newest)) == 1


@pytest.mark.parametrize("size", [3, None], ids=["shorter", "of the same size"])
def test_another_history_that_the_witness_saw_is_told_in_plain_words(
    operator: Operator, running: Running, caplog: pytest.LogCaptureFixture, size: int | None
) -> None:
    grown(operator)
    other = leaves(operator)[:size]
    other[2] = b"o" * 32
    assert running.ask(shown(operator, other))[0] == 200
    told = trouble()
    assert f"{operator.name}: witness.example/w1: The witness saw another history" in told
    assert f"does not add to the {len(other)} entries" in told
    assert "The witness saw another history" in caplog.text
    assert {one.levelname for one in caplog.records} == {"ERROR"}
    assert not Countersignature.objects.exists()


def test_entries_that_the_witness_saw_and_that_are_not_here_any_more_are_told(
    operator: Operator, running: Running, caplog: pytest.LogCaptureFixture
) -> None:
    newest = sealing.newest(operator.log)
    assert newest is not None
    more = [*leaves(operator), b"l" * 32, b"m" * 32]
    assert running.ask(shown(operator, more))[0] == 200
    assert f"The witness saw {len(more)} entries of this history, and here only {newest.size} are signed" in trouble()
    assert "was an old backup put back" in caplog.text
    assert not Countersignature.objects.exists()


def test_a_history_that_was_changed_here_is_not_shown_to_anybody(
    operator: Operator, running: Running, caplog: pytest.LogCaptureFixture
) -> None:
    grown(operator)
    triggers.drop(connection, "entry")  # as the database's owner can; they are back when the test is rolled back
    Entry.objects.filter(log=operator.log, seq=1).update(leaf_hash=b"x" * 32)
    assert "The entries are not those that were signed. Nothing was sent" in trouble()
    assert "verify_ledger" in caplog.text
    assert running.ask(shown(operator, leaves(operator)[:2]))[0] == 200  # from nothing: it was shown nothing


def test_who_is_not_known_to_the_witness_is_told_what_to_do(
    operator: Operator, running: Running, settings: Any
) -> None:
    second = make.operator("Far Away", at=timezone.now() - timedelta(days=1))
    assert "Far Away: witness.example/w1: The witness does not know this history (manage.py log_key show" in trouble()
    assert Countersignature.objects.filter(log=operator.log).count() == 1
    assert not Countersignature.objects.filter(log=second.log).exists()


def test_a_key_that_the_witness_does_not_know_is_told(operator: Operator, settings: Any, tmp_path: Path) -> None:
    with at_work(tmp_path, notes.key_of(sealing.name_of(operator.log), THEIRS)) as running:
        settings.WITNESSES = [Witness(running.key, running.url)]
        assert "The witness does not know the key that signed this" in trouble()


def test_without_signed_state_or_witness_it_says_so(operator: Operator, settings: Any) -> None:
    with pytest.raises(CommandError, match="No witness is named"):
        call_command("witness_states")
    with pytest.raises(CommandError, match="no such operator"):
        call_command("witness_states", operator="Nobody")
    settings.LOG_KEY = ""
    make.operator("Unsigned")
    settings.WITNESSES = [Witness(LISTED, "http://127.0.0.1:9")]
    assert "Unsigned: no state is signed" in trouble(operator="Unsigned")


# --- machines that answer wrongly


@contextmanager
def answering(answer: Callable[[bytes], tuple[int, bytes]], settings: Any) -> Iterator[list[bytes]]:
    """Run a machine that answers so, name it as the only witness, and give the list of what it was sent."""
    asked: list[bytes] = []

    class Handler(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            asked.append(self.rfile.read(int(self.headers["Content-Length"])))
            status, data = answer(asked[-1])
            self.send_response(status)
            self.end_headers()
            self.wfile.write(data)

        def log_message(self, *_: Any) -> None:
            pass

    with HTTPServer(("127.0.0.1", 0), Handler) as server:
        thread = threading.Thread(target=server.serve_forever, args=(0.05,))
        thread.start()
        settings.WITNESSES = [Witness(LISTED, f"http://127.0.0.1:{server.server_address[1]}/its/place")]
        try:
            yield asked
        finally:
            server.shutdown()
            thread.join(10)


def line(
    body: bytes, *, private: Ed25519PrivateKey = THEIRS, name: str = LISTED.name, after_s: int = 0, root: bool = True
) -> bytes:
    note = body.decode().partition("\n\n")[2]
    if not root:
        note = note.replace("\n", "0\n", 1)
    return notes.cosigned(note, name, private, unix_time=int(time.time()) + after_s).encode()


WRONG: dict[str, tuple[Callable[[bytes], tuple[int, bytes]], str]] = {
    "nothing": (lambda _: (200, b""), "cannot be used"),
    "words": (lambda _: (200, b"welcome\n"), "cannot be used"),
    "no text": (lambda _: (200, b"\xff\n"), "cannot be used"),
    "an error": (lambda _: (503, b"later\n"), "(status 503)"),
    "to go elsewhere": (lambda _: (302, b""), "(status 302)"),
    "without end": (lambda body: (200, line(body) * 500), "cannot be used"),
    "a size that is none": (lambda _: (409, b"many\n"), "cannot be used"),
    "a size in disguise": (lambda _: (409, b"03\n"), "cannot be used"),
    "another key": (lambda body: (200, line(body, private=MINE)), "with another key"),
    "another name": (lambda body: (200, line(body, name="w")), "with another key"),
    "about something else": (lambda body: (200, line(body, root=False)), "The signature of the witness is false"),
    "in an hour": (lambda body: (200, line(body, after_s=3600)), "The clocks of the witness"),
    "before it was signed": (lambda body: (200, line(body, after_s=-2 * 86400)), "The clocks of the witness"),
    "at no time": (lambda body: (200, line(body, after_s=2**62)), "The clocks of the witness"),
}


@pytest.mark.parametrize("what", WRONG)
def test_an_answer_that_cannot_be_believed_is_not_kept(operator: Operator, settings: Any, what: str) -> None:
    answer, sentence = WRONG[what]
    with answering(answer, settings) as asked:
        assert sentence in trouble()
    assert len(asked) == 1
    assert not Countersignature.objects.exists()


def test_lines_of_other_keys_are_passed_over(operator: Operator, settings: Any) -> None:
    with answering(lambda body: (200, line(body, name="w", private=MINE) + line(body)), settings):
        run()
    (kept,) = Countersignature.objects.all()
    assert (kept.witness, kept.key) == (LISTED.name, LISTED.text)
    assert kept.line.count("\n") == 1


def test_a_witness_that_sends_in_circles_is_asked_twice_and_no_more(operator: Operator, settings: Any) -> None:
    newest = grown(operator)
    sizes = iter(range(newest.size))
    next(sizes)
    with answering(lambda _: (409, f"{next(sizes)}\n".encode()), settings) as asked:
        assert "cannot be used (status 409)" in trouble()
    assert [one.partition(b"\n")[0] for one in asked] == [b"old 0", b"old 1"]


def test_it_waits_no_longer_than_it_should_and_asks_once_in_a_run(
    operator: Operator, settings: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Bytes that come one by one begin the time-out of a socket anew each time."""
    make.operator("Far Away", at=timezone.now() - timedelta(days=1))
    monkeypatch.setattr(asking, "PATIENCE_S", 0.5)
    over = threading.Event()

    class Slow(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            asked.append(self.path)
            self.send_response(200)
            self.end_headers()
            while not over.wait(0.1):
                try:
                    self.wfile.write(b"x")
                except OSError:
                    return

        def log_message(self, *_: Any) -> None:
            pass

    asked: list[str] = []
    with HTTPServer(("127.0.0.1", 0), Slow) as server:
        thread = threading.Thread(target=server.serve_forever, args=(0.05,))
        thread.start()
        settings.WITNESSES = [Witness(LISTED, f"http://127.0.0.1:{server.server_address[1]}")]
        try:
            begun = time.monotonic()
            told = trouble()
            assert time.monotonic() - begun < 5
        finally:
            over.set()
            server.shutdown()
            thread.join(10)
    assert "did not answer in time" in told
    assert "is left out" in told
    assert asked == ["/add-checkpoint"]


def test_nobody_at_home(operator: Operator, running: Running) -> None:
    running.kill()
    assert "cannot be reached (" in trouble()


# --- what is kept


@pytest.fixture
def kept(operator: Operator, settings: Any) -> Countersignature:
    with answering(lambda body: (200, line(body)), settings):
        run()
    return Countersignature.objects.get()


def fields(kept: Countersignature, **changed: Any) -> Countersignature:
    names = ("log_id", "size", "witness", "key", "line", "seen_at", "received_at")
    return Countersignature(**{name: getattr(kept, name) for name in names} | changed)


@pytest.mark.parametrize(
    "deed",
    [
        lambda kept: Countersignature.objects.filter(log=kept.log_id).update(line=""),
        lambda kept: Countersignature.objects.filter(log=kept.log_id).delete(),
        lambda kept: fields(kept, line="").save(force_insert=True),
        lambda kept: fields(kept, size=kept.size + 1).save(force_insert=True),
    ],
    ids=["update", "delete", "again", "of no state"],
)
def test_the_database_keeps_what_a_witness_answered(kept: Countersignature, deed: Any) -> None:
    with pytest.raises(DatabaseError), transaction.atomic():
        deed(kept)
    (found,) = Countersignature.objects.all()
    assert (found, found.line) == (kept, kept.line)


def test_one_row_cannot_be_put_over_another(kept: Countersignature) -> None:
    values = [kept.log_id.hex if connection.vendor == "sqlite" else kept.log_id, kept.size, kept.witness, kept.key, "",
              kept.seen_at, kept.received_at]  # fmt: skip
    over = {
        "sqlite": "INSERT OR REPLACE INTO ledger_countersignature "
        "(log_id, size, witness, key, line, seen_at, received_at) VALUES (%s, %s, %s, %s, %s, %s, %s)",
        "postgresql": "INSERT INTO ledger_countersignature "
        "(log_id, size, witness, key, line, seen_at, received_at) VALUES (%s, %s, %s, %s, %s, %s, %s) "
        "ON CONFLICT (log_id, size, witness) DO UPDATE SET line = EXCLUDED.line",
    }[connection.vendor]
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(over, values)
    assert Countersignature.objects.get().line == kept.line


def test_two_runs_at_once_keep_one_answer(
    operator: Operator, settings: Any, kept: Countersignature, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The other run kept its answer after this one had looked."""
    from accounts.management.commands import witness_states

    monkeypatch.setattr(witness_states, "kept_of", lambda checkpoint: [])
    with answering(lambda body: (200, line(body)), settings) as asked:
        assert "seen at" in run()
    assert len(asked) == 1
    assert Countersignature.objects.get().line == kept.line
