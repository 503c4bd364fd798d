"""The witness command: what it answers, and that nothing makes it forget what it saw.

The answers are those of C2SP tlog-witness (READ at 8d7756274916fb9efd94da8bc7264019e3fe46e4), the countersignature that
of C2SP tlog-cosignature (READ at 01194db11950a0ae2b2b2401afa0a4063a822458); roots, proofs and probes are the published
ones of the files named in ``test_merkle``.
"""

from __future__ import annotations

import json
import shutil
import signal
import socket
import stat
import subprocess
import sys
import threading
import time
from base64 import b64decode, b64encode
from collections.abc import Iterator
from http.client import HTTPException
from pathlib import Path
from typing import Any

import pytest

from ledger import notes
from ledger.witness import witness
from ledger.witness.asking import request_body
from tests.ledger.witnessing import MINE, NAME, OTHER, History, Running, alone, at_work, command, made_key

DATA = Path(__file__).parents[1] / "data"
EIGHT = json.loads((DATA / "merkle_rfc6962_8leaves.json").read_text(encoding="utf-8"))
PROBES = json.loads((DATA / "merkle_rfc6962_probes.json").read_text(encoding="utf-8"))["consistency"]
ONE = History()
SIZE = "text/x.tlog.size"


@pytest.fixture
def running(tmp_path: Path) -> Iterator[Running]:
    with at_work(tmp_path, ONE.key) as found:
        yield found


def kept(folder: Path) -> list[str]:
    return sorted(one.name.rpartition(".")[2] for one in (folder / "state").iterdir() if one.name != "lock")


def test_published_proofs_are_countersigned_and_the_note_opens(tmp_path: Path) -> None:
    cases = [case for case in EIGHT["consistency_size1_size2_proof"] if case[0]]
    assert len(cases) >= 4
    roots = [bytes.fromhex(one) for one in EIGHT["roots_by_size_from_0"]]
    names = [f"log.example/{n}" for n in range(len(cases))]
    with at_work(tmp_path, *(notes.key_of(name, MINE) for name in names)) as running:
        for name, (old, size, proof) in zip(names, cases, strict=True):
            first = notes.signed(notes.Checkpoint(name, old, roots[old]).text, (name, MINE))
            then = notes.signed(notes.Checkpoint(name, size, roots[size]).text, (name, MINE))
            assert running.ask(request_body(0, [], first))[0] == 200
            spoiled = [*map(bytes.fromhex, proof), bytes(32)]
            assert running.ask(request_body(old, spoiled, then))[0] == 422
            status, kind, line = running.ask(request_body(old, [bytes.fromhex(one) for one in proof], then))
            assert (status, kind) == (200, "text/plain; charset=utf-8")
            text, signers = notes.opened(then + line, [notes.key_of(name, MINE), running.key])
            assert notes.Checkpoint.of(text).root == roots[size]
            seen_at = signers[running.key]
            assert seen_at is not None
            assert abs(seen_at - time.time()) < 60
            assert (running.key.name, running.key.kind) == (NAME, notes.COSIGNATURE)


@pytest.mark.parametrize("probe", PROBES, ids=lambda probe: probe["file"])
def test_consistency_probe(probe: dict[str, Any]) -> None:
    roots = [b64decode(probe[name] or "") for name in ("root1", "root2")]
    proof = [b64decode(one) for one in probe["proof"] or []]
    new = witness.State("log", probe["size2"], roots[1], "", ())
    hashes = all(len(one) == 32 for one in (*roots, *proof))  # anything else is refused as malformed before
    found = hashes and witness.adds_to(probe["size1"], roots[0], new, proof)
    if probe["size1"] == 0:  # the first state is believed, with an empty proof: that is what the protocol says
        assert found == (
            hashes and not proof and (probe["size2"] > 0 or roots[1].hex() == EIGHT["roots_by_size_from_0"][0])
        )
    elif hashes:
        assert found != probe["wantErr"]
    else:
        assert not found


def test_a_fork_is_refused_for_ever_and_kept_as_evidence(tmp_path: Path, running: Running) -> None:
    fork = History(twist=3)
    assert running.ask(ONE.body(0, 5))[0] == 200
    for size in (7, 7, 20):
        assert running.ask(fork.body(5, size))[0] == 422
    assert running.ask(fork.body(0, 7))[:2] == (409, SIZE)
    # "If the old size matches the checkpoint size ... If they don't match, the witness MUST respond with 409".
    assert running.ask(fork.body(5, 5)) == (409, SIZE, "5\n")
    assert running.ask(ONE.body(5, 8))[0] == 200
    assert kept(tmp_path) == ["refused", "refused", "refused", "txt"]
    texts = {one.read_text() for one in (tmp_path / "state").glob("*.refused")}
    assert texts == {fork.note(5), fork.note(7), fork.note(20)}


def test_a_stale_size_is_told_and_then_it_goes_on(running: Running) -> None:
    assert running.ask(ONE.body(0, 6))[0] == 200
    assert running.ask(ONE.body(0, 9)) == (409, SIZE, "6\n")
    assert running.ask(ONE.body(4, 9)) == (409, SIZE, "6\n")
    assert running.ask(ONE.body(6, 9))[0] == 200
    assert running.ask(ONE.body(6, 7)) == (409, SIZE, "9\n")  # nobody goes back
    assert running.ask(ONE.body(9, 9))[0] == 200  # the same once more, of another time
    assert running.ask(request_body(9, [bytes(32)], ONE.note(9)))[0] == 422


def test_only_known_histories_under_their_own_key(running: Running) -> None:
    stranger = History("log.example/b")
    assert running.ask(stranger.body(0, 5))[0] == 404
    for signers in ([(ONE.name, OTHER)], [(stranger.name, MINE)]):
        assert running.ask(request_body(0, [], ONE.note(5, *signers)))[0] == 403
    true = ONE.note(5)
    false = true.replace(true[-20:-10], "AAAAAAAAAA")
    assert running.ask(request_body(0, [], false))[0] == 403
    both = ONE.note(5, (ONE.name, OTHER), (ONE.name, MINE))
    assert running.ask(request_body(0, [], both))[0] == 200  # unknown signatures are passed over


def test_two_keys_of_one_history_are_known_at_once(tmp_path: Path) -> None:
    with at_work(tmp_path, ONE.key, notes.key_of(ONE.name, OTHER)) as running:
        assert running.ask(ONE.body(0, 5))[0] == 200
        changed = request_body(5, ONE.tree.consistency(5, 8), ONE.note(8, (ONE.name, OTHER)))
        assert running.ask(changed)[0] == 200


GOOD = ONE.body(3, 9).decode()


@pytest.mark.parametrize(
    "body",
    [
        "", "old 3", "\n\n", GOOD.replace("old 3", "old"), GOOD.replace("old 3", "old 03"),
        GOOD.replace("old 3", "old -3"),
        GOOD.replace("old 3", "old \u0663"), GOOD.replace("old 3", "3"), GOOD.replace("old 3", "old 3 "),
        GOOD.replace("old 3", "old " + "9" * 40), GOOD.replace("old 3", "old 10"), GOOD.replace("\n", "\r\n"),
        GOOD.replace("old 3\n", "old 3\nAAAA\n"), GOOD.replace("old 3\n", "old 3\n" + "A" * 42 + "B=\n"),
        GOOD.replace("old 3\n", "old 3\n&&&\n"),
        "old 3\n" + (b64encode(bytes(32)).decode() + "\n") * 64 + "\n" + ONE.note(9),
        GOOD.replace("\n9\n", "\n09\n"), GOOD.replace("\n9\n", "\n\n"), GOOD.replace("\n9\n", "\nnine\n"),
        GOOD.rstrip("\n"), GOOD.replace("\u2014", "-"), GOOD.replace("log.example/a ", "log.example/a  "),
        GOOD + GOOD.rpartition("\n\n")[2] * 100, GOOD.partition("\n\n")[0],
        GOOD.replace("log.example/a\n", "log\t/a\n"),
        GOOD.rpartition("\n\n")[0] + "\n",
    ],
)  # fmt: skip
def test_what_is_malformed_is_answered_400(malformed: Running, body: str) -> None:
    assert body != GOOD
    assert malformed.ask(body.encode())[0] == 400


def test_what_is_no_text_is_answered_400_and_the_next_is_heard(malformed: Running) -> None:
    assert malformed.ask(b"\xff" + GOOD.encode())[0] == 400
    assert malformed.ask(GOOD.encode()) == (409, SIZE, "0\n")


@pytest.fixture(scope="module")
def malformed(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    with at_work(tmp_path_factory.mktemp("malformed"), ONE.key) as found:
        yield found


def test_other_requests(malformed: Running) -> None:
    assert malformed.ask(b"x" * (witness.MOST_BYTES + 1))[0] == 413
    assert malformed.ask(b"", method="GET")[0] == 404
    assert malformed.ask(GOOD.encode(), path="/add-checkpoints")[0] == 404
    assert malformed.ask(GOOD.encode(), path="/prefix/add-checkpoint")[0] == 409
    assert malformed.ask(b"", Content_Length="-1")[0] == 400
    assert malformed.ask(b"0\r\n\r\n", Transfer_Encoding="chunked")[0] == 400


def test_several_requests_go_over_one_connection(malformed: Running) -> None:
    one = (
        f"POST /add-checkpoint HTTP/1.1\r\nHost: x\r\nContent-Length: {len(GOOD.encode())}\r\n\r\n".encode()
        + GOOD.encode()
    )
    with socket.create_connection(("127.0.0.1", malformed.port), timeout=10) as line:
        line.sendall(one + one + b"GET / HTTP/1.0\r\n\r\n")
        answers = b""
        while more := line.recv(4096):
            answers += more
    assert answers.count(b"HTTP/1.1 409") == 2
    assert answers.count(b"HTTP/1.1 404") == 1


def test_of_many_at_once_from_one_size_a_single_one_is_countersigned(running: Running) -> None:
    assert running.ask(ONE.body(0, 4))[0] == 200
    found: list[tuple[int, str]] = []

    def send(size: int) -> None:
        status, _kind, text = running.ask(ONE.body(4, size))
        found.append((status, text))

    threads = [threading.Thread(target=send, args=(size,)) for size in range(5, 17)]
    for one in threads:
        one.start()
    for one in threads:
        one.join(20)
    assert sorted(status for status, _text in found) == [200] + [409] * 11
    # All others were told the size that won, none an older one.
    assert len({text for status, text in found if status == 409}) == 1


KILLED = {
    "before the old state is replaced": "os.kill(os.getpid(), 9)",
    "after it, before the answer": "replace(self, other); os.kill(os.getpid(), 9)",
}


@pytest.mark.parametrize(("when", "size"), list(zip(KILLED, (5, 9), strict=True)))
def test_killed_between_writing_and_answering_it_keeps_the_one_or_the_other(
    tmp_path: Path, when: str, size: int
) -> None:
    with at_work(tmp_path, ONE.key) as running:
        assert running.ask(ONE.body(0, 5))[0] == 200
    dies = f"def dies(self, other): {KILLED[when]}"
    before = f"import os, pathlib\nreplace = pathlib.Path.replace\n{dies}\npathlib.Path.replace = dies"
    with at_work(tmp_path, ONE.key, before=before) as running:
        with pytest.raises(ConnectionError):
            running.ask(ONE.body(5, 9))
        assert running.process.wait(10) == -signal.SIGKILL
    with at_work(tmp_path, ONE.key) as running:
        assert running.ask(ONE.body(0, 9)) == (409, SIZE, f"{size}\n")
        assert running.ask(History(twist=3).body(size, 12))[0] == 422
        assert running.ask(ONE.body(size, 12))[0] == 200


def test_killed_at_any_moment_it_never_falls_behind_what_it_answered(tmp_path: Path) -> None:
    many = History(size=400)
    answered = 0
    for pause in (0.01, 0.03, 0.06):
        with at_work(tmp_path, many.key) as running:
            seen = int(running.ask(many.body(399, 400))[2])
            assert seen >= answered
            killer = threading.Timer(pause, running.kill)
            killer.start()
            try:
                for size in range(seen + 1, 400):
                    assert running.ask(many.body(size - 1, size))[0] == 200
                    answered = size
            except (OSError, HTTPException):
                pass
            killer.join(10)
    assert answered > 0
    with at_work(tmp_path, many.key) as running:
        assert int(running.ask(many.body(399, 400))[2]) in (answered, answered + 1)


def test_what_cannot_be_kept_is_not_countersigned(tmp_path: Path) -> None:
    before = "import os\ndef full(_): raise OSError(28, 'No space left on device')\nos.fsync = full"
    with at_work(tmp_path, ONE.key, before=before) as running:
        assert running.ask(ONE.body(0, 5))[0] == 500
    with at_work(tmp_path, ONE.key) as running:
        assert running.ask(ONE.body(0, 5))[0] == 200
        shutil.rmtree(tmp_path / "state")
        (tmp_path / "state").mkdir()
        assert running.ask(ONE.body(0, 6))[0] == 500  # it knows that it saw five
        assert kept(tmp_path) == []


def refused(folder: Path, *more: notes.Key | str) -> str:
    """Return what the command says when it does not begin."""
    keys = [one for one in more if isinstance(one, notes.Key)]
    given = [*command(folder, keys), *(one for one in more if isinstance(one, str))]
    done = subprocess.run(given, cwd=folder, capture_output=True, text=True, timeout=20)
    assert done.returncode != 0
    assert done.stdout == ""
    return done.stderr


def test_one_writer_at_a_time_and_no_beginning_on_what_is_damaged(tmp_path: Path, running: Running) -> None:
    assert running.ask(ONE.body(0, 5))[0] == 200
    assert "Another witness is at work" in refused(tmp_path, ONE.key)
    running.kill()
    (file,) = (tmp_path / "state").glob("*.txt")
    whole = file.read_text()
    for damaged in ("", whole[:60], History("log.example/b").note(5)):
        file.write_text(damaged)
        assert refused(tmp_path, ONE.key)
    file.write_text(whole)
    with at_work(tmp_path, ONE.key) as again:
        assert again.ask(ONE.body(5, 6))[0] == 200


def test_keys(tmp_path: Path) -> None:
    file = made_key(tmp_path)
    assert stat.S_IMODE(file.stat().st_mode) == 0o400
    before = file.read_bytes()
    made = [sys.executable, "-I", str(alone(tmp_path)), "--make-key"]
    again = subprocess.run([*made, str(file), "--name", NAME], capture_output=True, text=True, timeout=20)
    assert again.returncode == 1
    assert "File exists" in again.stderr
    assert file.read_bytes() == before
    for name in ("two words", "a+b", ""):
        done = subprocess.run([*made, str(tmp_path / "no"), "--name", name], capture_output=True, timeout=20)
        assert done.returncode == 2
    assert not (tmp_path / "no").exists()
    done = subprocess.run([*made, str(tmp_path / "other"), "--name", "w2"], capture_output=True, text=True, timeout=20)
    assert notes.Key.of(done.stdout).kind == notes.COSIGNATURE
    assert (tmp_path / "other").read_bytes().partition(b" ")[2] != before.partition(b" ")[2]


@pytest.mark.parametrize("text", ["", "log", "a+b+c", ONE.key.text[:-4] + "AAA=", ONE.key.text.replace("log", "lag")])
def test_what_is_no_public_key_of_a_history_is_refused(tmp_path: Path, text: str) -> None:
    with pytest.raises(ValueError, match=r"key|base64|padding"):
        witness.log_key(text)
    of_a_witness = notes.key_of("w", MINE, notes.COSIGNATURE)
    with pytest.raises(ValueError, match="not the public key of a history"):
        witness.log_key(of_a_witness.text)
    assert refused(tmp_path, "--log", text)
