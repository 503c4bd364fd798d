"""What stands in a backup: a list with the hash of every part, and a look at whether all of it is there unharmed.

The hashes find damage: a copy that was cut short, a disk that forgets. They do not find a forger, who would write them
anew; against that stands the history with its signed states (``verify_ledger``).

A backup is a folder: ``manifest.json``, ``manifest.json.sha256`` (for ``sha256sum -c``), ``rows/TABLE.jsonl.gz``, and
the stored files under ``files/OPERATOR/TWO LETTERS/HASH``, as in the data folder.
"""

from __future__ import annotations

import json
import os
import re
from dataclasses import asdict, dataclass
from hashlib import file_digest, sha256
from pathlib import Path
from typing import Any
from uuid import UUID

FORMAT = 1
NAME, SUM = "manifest.json", "manifest.json.sha256"
ROWS, FILES = "rows", "files"
PREFIX = "lineworthy-"

_HASH = re.compile("[0-9a-f]{64}")


class BackupError(Exception):
    """A backup was not made or not restored, and nothing was changed; the message says why in a sentence."""


@dataclass(frozen=True)
class Table:
    """The rows of one table, in a part of their own."""

    name: str
    columns: list[str]
    rows: int
    size: int
    sha256: str

    @property
    def part(self) -> str:
        return f"{ROWS}/{self.name}.jsonl.gz"


@dataclass(frozen=True)
class File:
    """A stored file; its name is the hash of its bytes."""

    operator: str
    sha256: str
    size: int

    def __post_init__(self) -> None:
        # They become a path.
        if str(UUID(self.operator)) != self.operator or not _HASH.fullmatch(self.sha256):
            raise ValueError(f"{self.operator}/{self.sha256} is no stored file")

    @property
    def part(self) -> str:
        return f"{self.operator}/{self.sha256[:2]}/{self.sha256}"


@dataclass(frozen=True)
class History:
    """How long a history was, and the newest state of it that was signed: its size, time and note."""

    operator: str
    log: str
    entries: int
    signed: int = 0
    signed_at: str = ""
    note: str = ""


@dataclass(frozen=True)
class Manifest:
    """Everything that a backup says of itself; ``absent`` are files that had no sound bytes when it was made."""

    made_at: str
    version: str
    database: str
    migrations: dict[str, list[str]]
    tables: list[Table]
    files: list[File]
    absent: list[File]
    histories: list[History]

    def write(self, folder: Path) -> None:
        """Write the list and its hash, both synced."""
        data = json.dumps({"format": FORMAT, **asdict(self)}, ensure_ascii=False, indent=1).encode() + b"\n"
        for name, content in ((NAME, data), (SUM, f"{sha256(data).hexdigest()}  {NAME}\n".encode())):
            with (folder / name).open("xb") as out:
                out.write(content)
                out.flush()
                os.fsync(out.fileno())

    @classmethod
    def read(cls, folder: Path) -> Manifest:
        """Return the list of a backup. Raises BackupError where there is none, it is damaged, or of another format."""
        try:
            data, said = (folder / NAME).read_bytes(), (folder / SUM).read_text(encoding="ascii", errors="replace")
        except OSError:
            raise BackupError(_no_backup(folder)) from None
        if said.split()[:1] != [sha256(data).hexdigest()]:
            raise BackupError(f"The list of the backup, {folder / NAME}, is damaged.")
        try:
            return cls._of(json.loads(data))
        except (ValueError, TypeError, KeyError, AttributeError) as error:
            raise BackupError(f"The list of the backup cannot be understood: {error}.") from None

    @classmethod
    def _of(cls, found: dict[str, Any]) -> Manifest:
        if found.pop("format", None) != FORMAT:
            raise ValueError("its format is another")
        parts = {"tables": Table, "files": File, "absent": File, "histories": History}
        read: dict[str, Any] = {
            name: [parts[name](**one) for one in it] if name in parts else it for name, it in found.items()
        }
        return cls(**read)

    def check(self, folder: Path) -> None:
        """Read every part and compare it with its hash. Raises BackupError with the first that is missing or harmed."""
        for table in self.tables:
            _check(folder / table.part, table.part, table.size, table.sha256)
        for file in self.files:
            _check(folder / FILES / file.part, f"{FILES}/{file.part}", file.size, file.sha256)


def _check(path: Path, name: str, size: int, digest: str) -> None:
    try:
        with path.open("rb") as content:
            if os.fstat(content.fileno()).st_size != size:
                raise BackupError(f"The backup is damaged: {name} has not the size it had.")
            if file_digest(content, "sha256").hexdigest() != digest:
                raise BackupError(f"The backup is damaged: {name} was changed.")
    except FileNotFoundError:
        raise BackupError(f"The backup is not complete: {name} is missing.") from None
    except OSError as error:
        raise BackupError(f"The backup cannot be read: {name}: {error.strerror}.") from None


def kept_in(folder: Path) -> list[Path]:
    """Return the backups in a folder, oldest first."""
    return sorted(path for path in folder.glob(f"{PREFIX}*Z") if (path / SUM).is_file())


def _no_backup(folder: Path) -> str:
    inside = kept_in(folder) if folder.is_dir() else []
    if inside:
        return f"{folder} holds {len(inside)} backups; name one of them. The newest is {inside[-1]}."
    return f"{folder} is no complete backup: {NAME} and {SUM} are not both there."
