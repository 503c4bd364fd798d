"""Copy stored files under their hash: no byte is kept under a hash that is not its own."""

from __future__ import annotations

import os
from hashlib import file_digest, sha256
from pathlib import Path

BLOCK = 2**20


class Harmed(ValueError):
    """The bytes of a file are not those of its hash."""


def copy(source: Path, target: Path, digest: str) -> None:
    """Copy a file and sync it; it has its name only when it is whole. Raises OSError or Harmed."""
    target.parent.mkdir(parents=True, exist_ok=True)
    aside, seen = target.with_name(f"{target.name}.part"), sha256()
    try:
        with source.open("rb") as content, aside.open("xb") as out:
            while block := content.read(BLOCK):
                seen.update(block)
                out.write(block)
            out.flush()
            os.fsync(out.fileno())
        if seen.hexdigest() != digest:
            raise Harmed(digest)
        aside.chmod(0o440)
        aside.rename(target)
    except BaseException:
        aside.unlink(missing_ok=True)
        raise


def is_sound(path: Path, digest: str) -> bool:
    """Tell whether a file is there, can be read to its end, and its bytes are those of its hash."""
    try:
        with path.open("rb") as content:
            return file_digest(content, "sha256").hexdigest() == digest
    except OSError:
        return False


def link(source: Path, target: Path, digest: str) -> None:
    """Give a sound file of an earlier backup a second name; where the disk has no second names, copy it."""
    target.parent.mkdir(parents=True, exist_ok=True)
    try:
        os.link(source, target)
    except FileNotFoundError:
        raise
    except OSError:
        copy(source, target, digest)


def sync_folders(top: Path) -> None:
    """Make the names in a folder and below it outlast a power cut."""
    for folder, _folders, _files in os.walk(top):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
