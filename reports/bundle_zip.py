"""A ZIP file that is sent while it is made: it never lies whole in memory or on disk."""

from __future__ import annotations

import zipfile
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime

PIECE = 1 << 18  # bytes gathered before they are handed on
LARGE = 1 << 30  # from here on a file gets the wide size fields that every program of the last decades reads


@dataclass(frozen=True)
class Member:
    """One file of the archive. ``size``: about how long it is; ``packed``: whether packing it makes it smaller."""

    name: str
    chunks: Iterable[bytes]
    size: int = 0
    packed: bool = True


class _Sink:
    """Takes what the archive writes and hands it out again. Without ``tell`` the archive never goes back in it."""

    def __init__(self) -> None:
        self.parts: list[bytes] = []
        self.size = 0

    def write(self, data: bytes, /) -> int:
        self.parts.append(bytes(data))
        self.size += len(data)
        return len(data)

    def flush(self) -> None:
        """There is nothing behind it."""

    def close(self) -> None:
        """What was written stays to be taken."""

    def taken(self) -> bytes:
        data = b"".join(self.parts)
        self.parts, self.size = [], 0
        return data


def streamed(members: Iterable[Member], *, at: datetime) -> Iterator[bytes]:
    """Yield the archive piece by piece. Breaks off without its end where a member does, so that it cannot be opened."""
    sink = _Sink()
    with zipfile.ZipFile(sink, "w") as archive:
        for member in members:
            info = zipfile.ZipInfo(member.name, at.timetuple()[:6])
            info.compress_type = zipfile.ZIP_DEFLATED if member.packed else zipfile.ZIP_STORED
            info.external_attr = 0o644 << 16
            with archive.open(info, "w", force_zip64=member.size > LARGE) as target:
                for chunk in member.chunks:
                    target.write(chunk)
                    if sink.size >= PIECE:
                        yield sink.taken()
    yield sink.taken()
