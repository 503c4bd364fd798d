"""A witness for the histories of others: it countersigns a state only if that adds to the state it saw before.

One file for an insurer, an association or an authority to run on a machine of its own, apart from the operator's:
Python 3.11 or newer on Linux or macOS, and the library ``cryptography``.

    python witness.py --make-key witness-key --name witness.example/w1
    python witness.py --key-file witness-key --state witness-state --log PUBLIC-KEY --port 8044

The first prints the witness's public key, which goes to the operator and to everybody who reads countersigned states.
PUBLIC-KEY is that of a history, handed over by another way than the network; ``--log`` may be given more than once,
also with the old and the new key of one history. It listens on this machine alone: a web server in front does the
HTTPS. Keep the state folder: without it the witness begins anew and believes what it is shown first. What it refused
although a known key signed it lies there too, as ``.refused``: two signed states that exclude each other prove a fork.

What it answers is the call ``add-checkpoint`` of C2SP tlog-witness (READ at 8d7756274916fb9efd94da8bc7264019e3fe46e4),
what it signs is that of C2SP tlog-cosignature with Ed25519 (READ at 01194db11950a0ae2b2b2401afa0a4063a822458).
"""

from __future__ import annotations

import argparse
import fcntl
import os
import re
import secrets
import struct
import sys
import threading
import time
from base64 import b64decode, b64encode
from dataclasses import dataclass
from hashlib import sha256
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey

SIGNS, COUNTERSIGNS = 0x01, 0x04  # kinds of key: of a history, of a witness
MOST_BYTES, MOST_HASHES, MOST_SIGNATURES = 64 * 1024, 63, 100
MOST_AT_ONCE, MOST_REFUSED = 32, 100
PATIENCE_S = 10  # for the next bytes of a request
NUMBER = re.compile(r"0|[1-9][0-9]{0,17}")
NAME = re.compile(r"[^\s+]{1,200}")
DASH = "\N{EM DASH}"
SIZE_TYPE = "text/x.tlog.size"


class Refused(Exception):
    """What is answered instead of a countersignature."""

    def __init__(self, status: int, text: str, kind: str = "text/plain; charset=utf-8") -> None:
        super().__init__(text)
        self.status, self.text, self.kind = status, text, kind


# --- keys and notes


@dataclass(frozen=True)
class Key:
    """A public key under a name."""

    name: str
    kind: int
    public: bytes

    @property
    def id(self) -> bytes:
        return sha256(self.name.encode() + b"\n" + bytes([self.kind]) + self.public).digest()[:4]

    @property
    def text(self) -> str:
        return f"{self.name}+{self.id.hex()}+{b64encode(bytes([self.kind]) + self.public).decode()}"


def log_key(text: str) -> Key:
    """Read the public key of a history. ValueError if it is none."""
    parts = text.strip().split("+", 2)
    if len(parts) != 3 or not NAME.fullmatch(parts[0]):
        raise ValueError("this is not a public key")
    raw = plain(parts[2])
    if len(raw) != 33 or raw[0] != SIGNS:
        raise ValueError("this is not the public key of a history")
    key = Key(parts[0], raw[0], raw[1:])
    if key.id.hex() != parts[1]:
        raise ValueError("the public key is damaged")
    return key


def plain(text: str) -> bytes:
    """Read base64 in its one plain form. ValueError for any other."""
    raw = b64decode(text.encode("ascii"), validate=True)
    if b64encode(raw).decode() != text:
        raise ValueError("this is not plain base64")
    return raw


@dataclass(frozen=True)
class State:
    """A state of a history, with the note that says so."""

    origin: str
    size: int
    root: bytes
    note: str
    signatures: tuple[tuple[str, bytes], ...]  # name, and key id with signature

    @property
    def text(self) -> str:
        """What is signed."""
        return self.note.rpartition("\n\n")[0] + "\n"


def state_of(note: str) -> State:
    """Read a signed state; who signed it is not asked. ValueError if it is none."""
    text, empty, rest = note.rpartition("\n\n")
    lines = text.split("\n")
    if not empty or not rest.endswith("\n") or len(lines) < 3 or not all(lines):
        raise ValueError("this is not a signed state")
    if any(ord(one) < 32 and one != "\n" for one in note):
        raise ValueError("there are control characters in it")
    origin, size, root = lines[:3]
    if not NUMBER.fullmatch(size) or len(plain(root)) != 32:
        raise ValueError("size or root are not in their form")
    signed = rest[:-1].split("\n")
    if len(signed) > MOST_SIGNATURES:
        raise ValueError("there are too many signatures")
    return State(origin, int(size), plain(root), note, tuple(_signature(line) for line in signed))


def _signature(line: str) -> tuple[str, bytes]:
    parts = line.split(" ")
    if len(parts) != 3 or parts[0] != DASH or not NAME.fullmatch(parts[1]) or len(plain(parts[2])) < 5:
        raise ValueError("a signature line is not in its form")
    return parts[1], plain(parts[2])


def is_signed(state: State, keys: list[Key]) -> bool:
    """Tell whether one of the keys signed and none of them has a false signature; other signatures are passed over."""
    found = False
    for name, raw in state.signatures:
        for key in keys:
            if (key.name, key.id) == (name, raw[:4]):
                try:
                    Ed25519PublicKey.from_public_bytes(key.public).verify(raw[4:], state.text.encode())
                except InvalidSignature:
                    return False
                found = True
    return found


def request_of(body: bytes) -> tuple[int, list[bytes], State]:
    """Return old size, proof and new state of a request. ValueError if it is out of form."""
    head, empty, note = body.decode("utf-8").partition("\n\n")
    first, *rest = head.split("\n")
    if not empty or not first.startswith("old ") or not NUMBER.fullmatch(first[4:]):
        raise ValueError("the first line is not the old size")
    if len(rest) > MOST_HASHES:
        raise ValueError("there are too many lines of proof")
    proof = [plain(line) for line in rest]
    if any(len(one) != 32 for one in proof):
        raise ValueError("a line of proof is not a hash")
    return int(first[4:]), proof, state_of(note)


# --- what has to hold before a state is countersigned


def node(left: bytes, right: bytes) -> bytes:
    return sha256(b"\x01" + left + right).digest()


def adds_to(old: int, old_root: bytes, new: State, proof: list[bytes]) -> bool:
    """Tell whether the proof shows that the new state only added to the old one: RFC 9162 section 2.1.4.2 (memory)."""
    if old == 0:
        return not proof and (new.size > 0 or new.root == sha256(b"").digest())
    if old == new.size:
        return not proof and old_root == new.root
    if old > new.size or not proof:
        return False
    hashes = [old_root, *proof] if old & (old - 1) == 0 else proof
    at, last = old - 1, new.size - 1
    while at & 1:
        at, last = at >> 1, last >> 1
    before = after = hashes[0]
    for one in hashes[1:]:
        if last == 0:
            return False
        if at & 1 or at == last:
            before, after = node(one, before), node(one, after)
            while at and not at & 1:
                at, last = at >> 1, last >> 1
        else:
            after = node(after, one)
        at, last = at >> 1, last >> 1
    return last == 0 and before == old_root and after == new.root


class Witness:
    """What was seen last of each history, in a folder, and the key that countersigns."""

    def __init__(self, name: str, private: Ed25519PrivateKey, folder: Path, logs: list[Key]) -> None:
        """Take the folder for this process alone. OSError if another has it, ValueError if what is kept is damaged."""
        self.key = Key(name, COUNTERSIGNS, private.public_key().public_bytes_raw())
        self._private, self._folder, self._one_at_a_time = private, folder, threading.Lock()
        self.logs: dict[str, list[Key]] = {}
        for key in logs:
            self.logs.setdefault(key.name, []).append(key)
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        self._held = os.open(folder / "lock", os.O_RDWR | os.O_CREAT, 0o600)
        fcntl.flock(self._held, fcntl.LOCK_EX | fcntl.LOCK_NB)  # given back by the system when the process ends
        self._sizes = {origin: state.size for origin in self.logs if (state := self.seen(origin))}

    def seen(self, origin: str) -> State | None:
        """Return the state that was countersigned last, None before the first."""
        try:
            state = state_of(self._file(origin).read_bytes().decode("utf-8"))
        except FileNotFoundError:
            return None
        if state.origin != origin:
            raise ValueError(f"what is kept in {self._file(origin)} is of another history")
        return state

    def add(self, body: bytes) -> str:
        """Keep a new state and return the line that countersigns it. Raises Refused; OSError if it cannot be kept."""
        try:
            old, proof, new = request_of(body)
        except ValueError as error:
            raise Refused(400, f"{error}\n") from None
        if new.origin not in self.logs:
            raise Refused(404, "this history is not known here\n")
        if not is_signed(new, self.logs[new.origin]):
            raise Refused(403, "no known key signed this, or one of them falsely\n")
        if old > new.size:
            raise Refused(400, "the old size is beyond the new one\n")
        with self._one_at_a_time:
            last = self.seen(new.origin)
            size, root = (last.size, last.root) if last else (0, b"")
            if size < self._sizes.get(new.origin, 0):
                raise ValueError("what was kept of this history is gone from the folder")
            if old != size:
                raise Refused(409, f"{size}\n", SIZE_TYPE)
            if last and new.size == size and new.root != root:
                self._put_by(new)
                raise Refused(409, f"{size}\n", SIZE_TYPE)
            if not adds_to(old, root, new, proof):
                self._put_by(new)
                raise Refused(422, f"this does not add to the {size} entries that were seen here\n")
            self._keep(new, self._file(new.origin))
            self._sizes[new.origin] = new.size
            return self._countersigned(new, int(time.time()))  # noqa: TID251 - this is the command that reads the clock

    def _file(self, origin: str) -> Path:
        return self._folder / f"{sha256(origin.encode()).hexdigest()}.txt"

    def _put_by(self, state: State) -> None:
        """Keep a signed state that was refused, beside the one that it contradicts: each once, and not without end."""
        file = self._folder / f"{self._file(state.origin).stem}-{state.size}-{state.root.hex()[:16]}.refused"
        if not file.exists() and len(list(self._folder.glob("*.refused"))) < MOST_REFUSED:
            self._keep(state, file)

    def _keep(self, state: State, file: Path) -> None:
        """Put a state in the place of what a file held: a loss of power leaves the one or the other, whole."""
        beside = file.with_suffix(".new")
        with beside.open("wb") as out:
            out.write(state.note.encode())
            out.flush()
            os.fsync(out.fileno())
        beside.replace(file)
        folder = os.open(self._folder, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)

    def _countersigned(self, state: State, unix_time: int) -> str:
        signature = self._private.sign(f"cosignature/v1\ntime {unix_time}\n{state.text}".encode())
        packed = b64encode(self.key.id + struct.pack(">Q", unix_time) + signature).decode()
        return f"{DASH} {self.key.name} {packed}\n"


# --- over the network


class Server(ThreadingHTTPServer):
    """At most so many requests at once; who comes on top of them is let go without an answer."""

    daemon_threads = True

    def __init__(self, address: tuple[str, int], witness: Witness) -> None:
        super().__init__(address, Handler)
        self.witness = witness
        self._free = threading.BoundedSemaphore(MOST_AT_ONCE)

    def process_request(self, request: Any, client_address: Any) -> None:
        if not self._free.acquire(blocking=False):
            self.shutdown_request(request)
            return
        super().process_request(request, client_address)

    def process_request_thread(self, request: Any, client_address: Any) -> None:
        try:
            super().process_request_thread(request, client_address)
        finally:
            self._free.release()


class Handler(BaseHTTPRequestHandler):
    server: Server
    timeout = PATIENCE_S
    protocol_version = "HTTP/1.1"
    server_version, sys_version = "witness", ""

    def do_POST(self) -> None:
        try:
            line = self.server.witness.add(self._body())
        except Refused as refused:
            self._answer(refused.status, refused.text, refused.kind)
        except TimeoutError:
            raise  # the sender stopped in the middle: the connection is closed
        except (OSError, ValueError) as error:
            self.log_error("%s", f"nothing was countersigned: {error}")
            self._answer(500, "the state cannot be kept here now\n")
        else:
            self._answer(200, line)

    def _body(self) -> bytes:
        length = self.headers.get("Content-Length", "")
        wrong = None
        if not self.path.endswith("/add-checkpoint"):
            wrong = Refused(404, "there is nothing here but add-checkpoint\n")
        elif self.headers.get("Transfer-Encoding") or not NUMBER.fullmatch(length):
            wrong = Refused(400, "the length is not given\n")
        elif int(length) > MOST_BYTES:
            wrong = Refused(413, f"this is more than {MOST_BYTES} bytes\n")
        if wrong:
            self.close_connection = True  # what is not read here would be taken for the next request
            raise wrong
        return self.rfile.read(int(length))

    def do_GET(self) -> None:
        self._answer(404, "there is nothing here but add-checkpoint\n")

    def _answer(self, status: int, text: str, kind: str = "text/plain; charset=utf-8") -> None:
        data = text.encode()
        self.send_response(status)
        self.send_header("Content-Type", kind)
        self.send_header("Content-Length", str(len(data)))
        if self.close_connection:
            self.send_header("Connection", "close")
        self.end_headers()
        self.wfile.write(data)


# --- the command


def make_key(file: Path, name: str) -> None:
    """Write a new key, with its name, to a file that only its owner reads. OSError if it exists."""
    descriptor = os.open(file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o400)
    with os.fdopen(descriptor, "w", encoding="utf-8") as out:
        out.write(f"{name} {b64encode(secrets.token_bytes(32)).decode()}\n")


def read_key(file: Path) -> tuple[str, Ed25519PrivateKey]:
    """Return name and key. ValueError, which does not repeat what was read, if there is none in the file."""
    name, _space, packed = file.read_text(encoding="utf-8").strip().partition(" ")
    try:
        return name, Ed25519PrivateKey.from_private_bytes(plain(packed))
    except ValueError:
        raise ValueError(f"{file} does not hold the key of a witness") from None


def main(arguments: list[str] | None = None) -> int:
    asked = argparse.ArgumentParser(
        prog="witness.py",
        description="Countersign states of histories that add to what was seen before. The key is made once with "
        "--make-key; without it the witness serves until it is ended.",
    )
    asked.add_argument("--make-key", type=Path, metavar="FILE", help="write a new key to a file, with --name")
    asked.add_argument("--name", help="name of the witness for good, such as witness.example/w1")
    asked.add_argument("--key-file", type=Path, metavar="FILE", help="the key of the witness")
    asked.add_argument("--state", type=Path, metavar="FOLDER", help="where it is kept what was seen")
    asked.add_argument("--log", action="append", default=[], metavar="PUBLIC-KEY", help="of a history; may be repeated")
    asked.add_argument("--port", type=int, help="where to listen on this machine; 0 for any that is free")
    given = asked.parse_args(arguments)
    try:
        if given.make_key:
            if not given.name or not NAME.fullmatch(given.name):
                asked.error("--make-key wants --name, without spaces and plus signs")
            make_key(given.make_key, given.name)
        name, private = read_key(given.make_key or given.key_file or asked.error("--key-file or --make-key is missing"))
        if given.make_key:
            sys.stdout.write(Key(name, COUNTERSIGNS, private.public_key().public_bytes_raw()).text + "\n")
            return 0
        if not given.state or not given.log or given.port is None:
            asked.error("--state, --log and --port are needed")
        server = Server(
            ("127.0.0.1", given.port), Witness(name, private, given.state, [log_key(one) for one in given.log])
        )
    except BlockingIOError:
        sys.stderr.write(f"Another witness is at work on {given.state}.\n")
        return 1
    except (OSError, ValueError) as error:
        sys.stderr.write(f"{error}\n")
        return 1
    sys.stdout.write(f"{server.witness.key.text}\nlistening on http://127.0.0.1:{server.server_address[1]}\n")
    sys.stdout.flush()
    try:
        server.serve_forever()
    except KeyboardInterrupt:
        pass
    return 0


if __name__ == "__main__":
    sys.exit(main())
