"""Files are written once under the hash of their bytes, and only then is there a row."""

from __future__ import annotations

import os
import tempfile
from hashlib import sha256
from pathlib import Path

from django.conf import settings
from django.db import transaction

from accounts.deeds import Deed
from accounts.models import Operator
from courses.models import StoredFile


def path_of(operator_id: object, digest: str) -> Path:
    """Return where the bytes of a file lie: operator, two letters of the hash, hash."""
    return Path(settings.MEDIA_ROOT) / str(operator_id) / digest[:2] / digest


def read_bytes(stored: StoredFile) -> bytes:
    """Return the bytes; raises FileNotFoundError where they were erased, ValueError where they do not fit the hash."""
    data = path_of(stored.operator_id, stored.sha256).read_bytes()
    if sha256(data).hexdigest() != stored.sha256:
        raise ValueError(f"the stored bytes are not those of {stored.sha256}")
    return data


@transaction.atomic
def store_bytes(
    operator: Operator, data: bytes, *, kind: str, media_type: str, deed: Deed, width: int = 0, height: int = 0
) -> StoredFile:
    """Keep bytes under their hash and return the row; the same bytes twice are one file."""
    digest = sha256(data).hexdigest()
    known = StoredFile.objects.filter(operator=operator, sha256=digest).first()
    if known is not None:
        return known
    _write_once(path_of(operator.pk, digest), data)
    return StoredFile.objects.create(
        operator=operator, sha256=digest, kind=kind, media_type=media_type, size=len(data), width=width, height=height,
        stored_at=deed.at, stored_by=deed.by,
    )  # fmt: skip


def _write_once(path: Path, data: bytes) -> None:
    # Written aside, synced and renamed: after a power cut there is either the whole file or none, never half of one.
    path.parent.mkdir(parents=True, exist_ok=True)
    if path.exists():
        return
    handle, name = tempfile.mkstemp(dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as target:
            target.write(data)
            target.flush()
            os.fsync(target.fileno())
        os.chmod(name, 0o440)
        os.replace(name, path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
    folder = os.open(path.parent, os.O_RDONLY)
    try:
        os.fsync(folder)
    finally:
        os.close(folder)
