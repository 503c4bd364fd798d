"""A witness at work in a process of its own, and histories to show it, for the tests that ask one."""

from __future__ import annotations

import shutil
import subprocess
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from http.client import HTTPConnection
from pathlib import Path

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from ledger import notes
from ledger.chain import leaf_hash
from ledger.merkle import Tree
from ledger.witness import witness
from ledger.witness.asking import request_body

PROGRAM = Path(witness.__file__)
NAME = "witness.example/w1"
MINE, OTHER = (Ed25519PrivateKey.from_private_bytes(bytes([n]) * 32) for n in (1, 2))


class History:
    """A tree of made-up entries under a name, and its signed states. ``twist``: from which entry on it is another."""

    def __init__(self, name: str = "log.example/a", size: int = 20, twist: int | None = None) -> None:
        self.name = name
        turn = size if twist is None else twist
        self.tree = Tree(leaf_hash(b"%d %s" % (n, b"b" if n >= turn else b"a")) for n in range(size))

    @property
    def key(self) -> notes.Key:
        return notes.key_of(self.name, MINE)

    def note(self, size: int, *signers: tuple[str, Ed25519PrivateKey]) -> str:
        text = notes.Checkpoint(self.name, size, self.tree.root(size)).text
        return notes.signed(text, *(signers or [(self.name, MINE)]))

    def body(self, old: int, size: int) -> bytes:
        return request_body(old, self.tree.consistency(old, size), self.note(size))


class Running:
    """A witness that runs: its public key, and a way to ask it."""

    def __init__(self, process: subprocess.Popen[str], key: str, port: int) -> None:
        self.process, self.key, self.port = process, notes.Key.of(key), port
        self.url = f"http://127.0.0.1:{port}"

    def ask(
        self, body: bytes, *, path: str = "/add-checkpoint", method: str = "POST", **headers: str
    ) -> tuple[int, str, str]:
        """Return status, content type and text of the answer."""
        connection = HTTPConnection("127.0.0.1", self.port, timeout=10)
        try:
            connection.request(method, path, body, {name.replace("_", "-"): text for name, text in headers.items()})
            answer = connection.getresponse()
            return answer.status, answer.headers["Content-Type"], answer.read().decode()
        finally:
            connection.close()

    def kill(self) -> None:
        self.process.kill()
        self.process.wait(10)


def alone(folder: Path) -> Path:
    """Return a copy of the program where nothing of the project is in reach."""
    copy = folder / "witness.py"
    if not copy.exists():
        shutil.copy(PROGRAM, copy)
    return copy


def made_key(folder: Path) -> Path:
    """Return the file of the witness's key, made by the command."""
    file = folder / "key"
    if not file.exists():
        command = [sys.executable, "-I", str(alone(folder)), "--make-key", str(file), "--name", NAME]
        subprocess.run(command, cwd=folder, check=True, capture_output=True, timeout=30)
    return file


def command(folder: Path, keys: Sequence[notes.Key], before: str = "") -> list[str]:
    """Return the command of a witness; ``before``: Python that runs in its process before it begins."""
    more = ["--key-file", str(made_key(folder)), "--state", str(folder / "state"), "--port", "0"]
    for key in keys:
        more += ["--log", key.text]
    if not before:
        return [sys.executable, "-I", str(alone(folder)), *more]
    run = f"{before}\nimport runpy, sys\nsys.argv = sys.argv[1:]\nrunpy.run_path(sys.argv[0], run_name='__main__')"
    return [sys.executable, "-I", "-c", run, str(alone(folder)), *more]


@contextmanager
def at_work(folder: Path, *keys: notes.Key, before: str = "") -> Iterator[Running]:
    """Run a witness with its state in the folder, and end it."""
    process = subprocess.Popen(
        command(folder, keys, before), cwd=folder, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )
    assert process.stdout is not None
    assert process.stderr is not None
    try:
        key, where = process.stdout.readline(), process.stdout.readline()
        assert where.startswith("listening on"), process.stderr.read()
        yield Running(process, key, int(where.rpartition(":")[2]))
    finally:
        process.kill()
        process.communicate(timeout=10)
