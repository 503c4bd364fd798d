"""Signed notes, checkpoints and countersignatures in the text forms of C2SP, with Ed25519.

A note is a text, an empty line, and lines ``— NAME BASE64(key id || signature)``. A checkpoint is a note whose text is
origin, size and base64 root, a line each. Unknown signatures are passed over, so that keys can change and witnesses
come; a false signature by a known key refuses the note. Read of C2SP (signed-note, tlog-checkpoint, tlog-cosignature
at 5ba5ee830903e91240fc6f9f3a7a9293d49e69c9) in the project's dossier.
"""

from __future__ import annotations

import struct
from base64 import b64decode, b64encode
from binascii import Error as NotBase64
from collections.abc import Iterable
from dataclasses import dataclass
from hashlib import sha256

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey

ED25519, COSIGNATURE = 0x01, 0x04  # kinds of key, as they stand in its text
KEY_BYTES, ROOT_BYTES, MOST_SIGNATURES = 32, 32, 100
DASH = "\N{EM DASH}"


class NoteError(ValueError):
    """The text is no note, or not one to be believed; the message says why."""


@dataclass(frozen=True)
class Key:
    """A public key with its name. ``text`` is the form in which it is handed over: NAME+ID+BASE64."""

    name: str
    kind: int
    public: bytes

    @property
    def id(self) -> bytes:
        return sha256(self.name.encode() + b"\n" + bytes([self.kind]) + self.public).digest()[:4]

    @property
    def text(self) -> str:
        return f"{self.name}+{self.id.hex()}+{b64encode(bytes([self.kind]) + self.public).decode()}"

    @classmethod
    def of(cls, text: str) -> Key:
        """Read a key. Raises NoteError if it is none, or its id is not that of its bytes."""
        try:
            name, ident, packed = text.strip().split("+", 2)
            raw = b64decode(packed, validate=True)
        except (ValueError, NotBase64):
            raise NoteError("this is not the text of a key") from None
        if not _is_name(name) or len(raw) != 1 + KEY_BYTES or raw[0] not in (ED25519, COSIGNATURE):
            raise NoteError("this is not the text of a key of a kind that is known")
        found = cls(name, raw[0], raw[1:])
        if found.id.hex() != ident:
            raise NoteError("the key is damaged: its id is not that of its bytes")
        return found


@dataclass(frozen=True)
class Signature:
    """One signature line of a note."""

    name: str
    key_id: bytes
    data: bytes

    @property
    def line(self) -> str:
        return f"{DASH} {self.name} {b64encode(self.key_id + self.data).decode()}\n"


@dataclass(frozen=True)
class Checkpoint:
    """What a log was at some moment: its name, how many entries, and the root over them."""

    origin: str
    size: int
    root: bytes

    @property
    def text(self) -> str:
        return f"{self.origin}\n{self.size}\n{b64encode(self.root).decode()}\n"

    @classmethod
    def of(cls, text: str) -> Checkpoint:
        """Read the text of a note as a checkpoint; lines after the third are passed over. Raises NoteError."""
        lines = text.split("\n")
        if len(lines) < 4 or lines[-1] or not all(lines[:-1]):
            raise NoteError("this is not a checkpoint")
        origin, size, root = lines[:3]
        if not (size.isascii() and size.isdigit()) or str(int(size)) != size:
            raise NoteError("the size in the checkpoint is not a plain number")
        try:
            raw = b64decode(root, validate=True)
        except (ValueError, NotBase64):
            raise NoteError("the root in the checkpoint is not base64") from None
        if len(raw) != ROOT_BYTES:
            raise NoteError("the root in the checkpoint is not a SHA-256")
        return cls(origin, int(size), raw)


def key_of(name: str, private: Ed25519PrivateKey, kind: int = ED25519) -> Key:
    """Return the public key of a private one under a name. Raises NoteError for a name that cannot be one."""
    if not _is_name(name):
        raise NoteError("the name of a key has no spaces and no plus sign")
    return Key(name, kind, private.public_key().public_bytes_raw())


def signed(text: str, *keys: tuple[str, Ed25519PrivateKey]) -> str:
    """Return the note over a text that ends in a newline, with a signature line for each (name, private key)."""
    lines = [Signature(name, key_of(name, one).id, one.sign(text.encode())).line for name, one in keys]
    return text + "\n" + "".join(lines)


def cosigned(note: str, name: str, private: Ed25519PrivateKey, *, unix_time: int) -> str:
    """Return the line by which a witness says when it saw a note's text and that it continued what it saw before."""
    text, _signatures = split(note)
    message = f"cosignature/v1\ntime {unix_time}\n{text}".encode()
    data = struct.pack(">Q", unix_time) + private.sign(message)
    return Signature(name, key_of(name, private, COSIGNATURE).id, data).line


def split(note: str) -> tuple[str, list[Signature]]:
    """Return the text of a note and its signature lines. Raises NoteError if it is not in the form of a note."""
    text, empty, rest = note.rpartition("\n\n")
    if not empty or not rest.endswith("\n") or any(ord(one) < 32 and one != "\n" for one in note):
        raise NoteError("this is not a signed note")
    found = []
    for line in rest[:-1].split("\n"):
        try:
            dash, name, packed = line.split(" ")
            raw = b64decode(packed, validate=True)
        except (ValueError, NotBase64):
            raise NoteError("a signature line is not in its form") from None
        if dash != DASH or not _is_name(name) or len(raw) < 5:
            raise NoteError("a signature line is not in its form")
        found.append(Signature(name, raw[:4], raw[4:]))
    if len(found) > MOST_SIGNATURES:
        raise NoteError("there are too many signatures")
    return text + "\n", found


def typed(text: str) -> Checkpoint:
    """Read a checkpoint that somebody typed off a paper: blanks and line ends may be anywhere, signatures may lack.

    Raises NoteError. Nothing is said of who signed it: what is typed is believed because its keeper kept it.
    """
    lines = [line.strip() for line in text.lstrip("\ufeff").splitlines() if line.strip()]
    if len(lines) < 3:
        raise NoteError("it has fewer than three lines")
    root = ""
    for line in lines[2:]:
        if line[0] in "-\u2013\u2014" or len(root) >= 44:
            break
        root += "".join(line.split())
    return Checkpoint.of(f"{lines[0]}\n{''.join(lines[1].split())}\n{root}\n")


def opened(note: str, keys: Iterable[Key]) -> tuple[str, dict[Key, int | None]]:
    """Return the text and the known keys that signed it, each with the time of a witness (Unix seconds) or None.

    Raises NoteError if no known key signed it, or if a signature of a known key is false.
    """
    text, signatures = split(note)
    known = {(key.name, key.id): key for key in keys}
    found: dict[Key, int | None] = {}
    for one in signatures:
        key = known.get((one.name, one.key_id))
        if key is None:
            continue
        message, data, seen_at = text.encode(), one.data, None
        if key.kind == COSIGNATURE:
            if len(data) < 8:
                raise NoteError(f"the signature of {key.name} is false")
            (seen_at,), data = struct.unpack(">Q", data[:8]), data[8:]
            message = f"cosignature/v1\ntime {seen_at}\n".encode() + message
        try:
            Ed25519PublicKey.from_public_bytes(key.public).verify(data, message)
        except InvalidSignature:
            raise NoteError(f"the signature of {key.name} is false") from None
        found[key] = seen_at
    if not found:
        raise NoteError("none of the known keys signed this")
    return text, found


def _is_name(name: str) -> bool:
    return bool(name) and not any(one.isspace() or one == "+" for one in name)
