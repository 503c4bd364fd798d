"""A bundle as the application makes it, and the hands that change one: files taken apart, entries linked anew, signed.

``Bundle`` is what an attacker has: the files of a bundle, with or without the record's private key. What is mended by
``with_lines`` (table, README) is what anybody can mend; ``signed_again`` needs the key.
"""

from __future__ import annotations

import json
import zipfile
from base64 import b64encode
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from io import BytesIO
from typing import Any

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from ledger import chain, merkle, notes
from reports.verifier import verify as v

SEED = bytes(range(32))
MINE = Ed25519PrivateKey.from_private_bytes(SEED)
OTHER = Ed25519PrivateKey.from_private_bytes(bytes(32))
WITNESS = Ed25519PrivateKey.from_private_bytes(bytes([7] * 32))
WITNESS_NAME = "witness.example/w1"
WITNESS_KEY = notes.key_of(WITNESS_NAME, WITNESS, notes.COSIGNATURE).text
NOW = datetime(2026, 6, 20, 12, 0, tzinfo=UTC)
SEEN = datetime(2026, 6, 17, 20, 0, tzinfo=UTC)


Signers = Callable[[int], tuple[Ed25519PrivateKey, ...]]


@dataclass(frozen=True)
class Bundle:
    """The files of a bundle by name; ``signers``: the private keys under which it is signed."""

    files: dict[str, bytes]
    signers: tuple[Ed25519PrivateKey, ...] = (MINE,)

    @classmethod
    def of(cls, data: bytes) -> Bundle:
        with zipfile.ZipFile(BytesIO(data)) as archive:
            return cls({one.filename: archive.read(one) for one in archive.infolist()})

    @property
    def lines(self) -> list[bytes]:
        return self.files[v.ENTRIES].split(b"\n")[:-1]

    @property
    def records(self) -> list[dict[str, Any]]:
        return [json.loads(line) for line in self.lines]

    @property
    def log(self) -> str:
        return str(json.loads(self.lines[0])["log"])

    @property
    def name(self) -> str:
        return f"lineworthy/{self.log}"

    @property
    def key(self) -> str:
        return notes.key_of(self.name, self.signers[0]).text

    @property
    def sizes(self) -> list[int]:
        return sorted(int(name[len(v.STATES) : -4]) for name in self.files if name.startswith(v.STATES))

    def state(self, size: int) -> str:
        return self.files[f"{v.STATES}{size}.txt"].decode()

    def changed(self, **files: bytes | None) -> Bundle:
        """Put other bytes in the place of files; None takes one away. For names that are no words use ``put``."""
        return self.put(files)

    def put(self, files: dict[str, bytes | None]) -> Bundle:
        return replace(self, files={k: d for k, d in {**self.files, **files}.items() if d is not None})

    def with_lines(self, lines: Iterable[bytes]) -> Bundle:
        """Put other entries in, and mend the table and README as anybody can."""
        lines = list(lines)
        table = v.table_line(v.COLUMNS)
        for line in lines:
            try:
                table += v.table_line(v.table_row(json.loads(line), v.leaf_hash(line)))
            except (AttributeError, RecursionError, ValueError):
                table += b"?\r\n"
        signed = max(self.sizes, default=0)
        text = v.readme(json.loads(lines[0])["act"].get("name", ""), self.log, len(lines), signed, None).encode()
        return self.put({v.ENTRIES: b"".join(one + b"\n" for one in lines), v.TABLE: table, v.README: text})

    def signed_again(
        self, records: list[dict[str, Any]], *, witness: bool = False, at: datetime = SEEN, by: Signers | None = None
    ) -> Bundle:
        """Link entries anew from the first to the last and sign every state again: needs the key.

        ``by`` gives the keys that sign a state by its size; by default ``signers``.
        """
        lines: list[bytes] = []
        tree = merkle.Tree()
        for seq, record in enumerate(records):
            prev = chain.leaf_hash(lines[-1]).hex() if lines else ""
            line = chain.canonical({**record, "seq": seq, "prev": prev})
            lines.append(line)
            tree.append(chain.leaf_hash(line))
        sizes = sorted({min(one, len(lines)) for one in self.sizes} | {len(lines)})
        files: dict[str, bytes | None] = {f"{v.STATES}{one}.txt": None for one in self.sizes}
        for size in sizes:
            text = notes.Checkpoint(self.name, size, tree.root(size)).text
            note = notes.signed(text, *((self.name, one) for one in (by(size) if by else self.signers)))
            if witness and size == len(lines):
                note += notes.cosigned(note, WITNESS_NAME, WITNESS, unix_time=int(at.timestamp()))
            files[f"{v.STATES}{size}.txt"] = note.encode()
        files[v.HEAD] = files[f"{v.STATES}{sizes[-1]}.txt"]
        return self.put(files).with_lines(lines).without_unnamed()

    def without_unnamed(self) -> Bundle:
        """Leave out files and names that no entry is about any more."""
        text = self.files[v.ENTRIES].decode()
        gone: dict[str, bytes | None] = {
            name: None
            for name in self.files
            if name.startswith(("photos/", "papers/")) and name.split("/")[1].partition(".")[0] not in text
        }
        names = [one for one in self.files[v.NAMES].split(b"\n")[:-1] if json.loads(one)["commit"] in text]
        return self.put({**gone, v.NAMES: b"".join(one + b"\n" for one in names)})

    def cosigned(self, size: int | None = None, *, at: datetime = SEEN) -> Bundle:
        """Let the witness countersign one state, by default the newest."""
        newest = size is None
        size = self.sizes[-1] if size is None else size
        note = self.state(size)
        note += notes.cosigned(note, WITNESS_NAME, WITNESS, unix_time=int(at.timestamp()))
        files: dict[str, bytes | None] = {f"{v.STATES}{size}.txt": note.encode()}
        return self.put({**files, v.HEAD: note.encode()} if newest else files)

    def packed(self) -> bytes:
        out = BytesIO()
        with zipfile.ZipFile(out, "w") as archive:
            for name, data in self.files.items():
                archive.writestr(zipfile.ZipInfo(name, (2026, 6, 20, 12, 0, 0)), data)
        return out.getvalue()


def edited(records: list[dict[str, Any]], at: int, change: Callable[[dict[str, Any]], None]) -> list[dict[str, Any]]:
    """Return the entries with one of them changed."""
    found: list[dict[str, Any]] = json.loads(json.dumps(records))
    change(found[at])
    return found


def as_lines(records: Iterable[dict[str, Any]]) -> list[bytes]:
    return [chain.canonical(one) for one in records]


def check(
    data: bytes | Bundle,
    *,
    keys: Iterable[str] = (),
    prev: Iterable[str] = (),
    witnesses: Iterable[str] = (),
    days: int | None = None,
    now: datetime = NOW,
) -> v.Found:
    """Verify in this process, as of ``NOW``."""
    names = [v.Key.read(one).name for one in witnesses]
    asked = v.Asked(
        tuple(map(v.Key.read, keys)),
        tuple(map(v.Key.read, witnesses)),
        tuple(v.State.typed(one, names) for one in prev),
        None if days is None else timedelta(days=days),
        now,
    )
    return v.verify(BytesIO(data if isinstance(data, bytes) else data.packed()), asked)


def told(found: v.Found) -> str:
    """Return what is printed, on one line."""
    return " ".join(" ".join(v.report(found, "bundle.zip")).split())


def log_key_text() -> str:
    return b64encode(SEED).decode()
