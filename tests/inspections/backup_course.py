"""A course with a morning, backed up twice and then gone: what the tests of backup and restore start from.

It is played once for a process, in a transaction that is rolled back, so that the database is as it was just migrated.
"""

from __future__ import annotations

import functools
import gzip
import json
import tempfile
from base64 import b64encode
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from hashlib import sha256
from pathlib import Path
from types import SimpleNamespace
from typing import Any

from django.conf import settings
from django.contrib.auth.models import Group, Permission
from django.contrib.sessions.backends.db import SessionStore
from django.db import transaction
from django.test import override_settings

from courses.actions.files import path_of, store_bytes
from inspections import actions, backup, backup_rows
from inspections.models import Hold, SignOff
from ledger.models import Checkpoint
from tests import make

FIRST = datetime(2026, 6, 15, 5, 30, tzinfo=UTC)
SEED = bytes(range(32))
LOG_KEY = b64encode(SEED).decode()
PHOTO, LATER_PHOTO = b"\xff\xd8 what a phone sends \xff\xd9", b"\xff\xd8 the next one \xff\xd9"

_folder = tempfile.TemporaryDirectory(prefix="lineworthy-backups-")


def at(minutes: float = 0) -> datetime:
    return FIRST + timedelta(minutes=minutes)


def morning() -> SimpleNamespace:
    """Play a morning where a log key is set: signed, opened, its day sheet issued; one sheet of the next day begun."""
    from reports.actions import issue_day_sheet

    w = make.ready(on=FIRST)
    make.inspect(w, at=at(0))
    make.open_lines(w, at=at(10))
    w.photo = store_bytes(w.operator, PHOTO, kind="photo", media_type="image/jpeg", deed=make.deed(w.mate, at=at(9)))
    issue_day_sheet(SignOff.objects.get(), deed=make.deed(w.manager, at=at(11)))
    make.draft(w, w.line, "cable", by=w.mate, at=at(24 * 60))
    group = Group.objects.create(name="Office")
    group.permissions.set(Permission.objects.filter(codename="view_sheet"))
    w.manager.groups.add(group)
    return w


def hold_and_sign_again(w: SimpleNamespace, minutes: float) -> SignOff:
    """Call a hold, look again, lift it, sign the day anew and issue its sheet, which signs the state of the history."""
    from reports.actions import issue_day_sheet

    actions.call_hold(
        make.picture(w, at(minutes)), w.line, cause="person", deed=make.deed(w.technician, at=at(minutes))
    )
    hold = Hold.objects.latest("seq")
    actions.lift_hold(
        make.picture(w, at(minutes + 1)), hold, given={}, text="Gone.", deed=make.deed(w.technician, at=at(minutes + 1))
    )
    make.open_lines(w, at=at(minutes + 2))
    signed = SignOff.objects.latest("seq")
    issue_day_sheet(signed, deed=make.deed(w.manager, at=at(minutes + 3)))
    return signed


@functools.cache
def played() -> SimpleNamespace:
    """Return the folder, the backups ``old`` and ``new`` in it, and what was in the database and the files at each.

    ``old`` is of the morning; at ``new`` the day was signed again and a photo added. ``states`` are the signed states.
    """
    top = Path(_folder.name)
    folder = top / "backups"
    folder.mkdir()
    with override_settings(MEDIA_ROOT=top / "files", LOG_KEY=LOG_KEY), transaction.atomic():
        w = morning()
        session = SessionStore()
        session["who"] = "somebody"
        session.create()
        old, old_rows = backup.write(folder, at=at(15)), contents()
        hold_and_sign_again(w, 30)
        # A damaged photo in the data folder: the backup before has it whole.
        path_of(w.operator.pk, w.photo.sha256).unlink()
        store_bytes(w.operator, LATER_PHOTO, kind="photo", media_type="image/jpeg", deed=make.deed(w.mate, at=at(40)))
        new, new_rows = backup.write(folder, at=at(45)), contents()
        states = list(Checkpoint.objects.order_by("size"))
        transaction.set_rollback(True)
    return SimpleNamespace(
        folder=folder, old=old, new=new, old_rows=old_rows, new_rows=new_rows, states=states, w=w,
        session=session.session_key, secrets=[settings.SECRET_KEY, LOG_KEY, SEED.hex()],
    )  # fmt: skip


def contents() -> dict[str, list[str]]:
    """Return every row of every table that belongs in a backup, as lines."""
    return {model._meta.label_lower: sorted(backup_rows.lines(model)) for model in backup_rows.tables()}


def relisted(folder: Path, change: Callable[[dict[str, Any]], None]) -> None:
    """Change what a backup's list says, and give it the hash of what it then says."""
    found = json.loads((folder / "manifest.json").read_text(encoding="utf-8"))
    change(found)
    data = json.dumps(found).encode()
    (folder / "manifest.json").write_bytes(data)
    (folder / "manifest.json.sha256").write_text(f"{sha256(data).hexdigest()}  manifest.json\n")


def rewritten(folder: Path, table: str, change: Callable[[list[str], list[list[Any]]], list[list[Any]]]) -> None:
    """Change the rows of one table in a backup, with every hash made to fit."""
    path = folder / "rows" / f"{table}.jsonl.gz"
    names = next(one for one in json.loads((folder / "manifest.json").read_text())["tables"] if one["name"] == table)
    rows = [json.loads(line) for line in gzip.decompress(path.read_bytes()).decode().splitlines()]
    rows = change(names["columns"], rows)
    data = gzip.compress("".join(json.dumps(row) + "\n" for row in rows).encode())
    path.write_bytes(data)

    def fit(found: dict[str, Any]) -> None:
        one = next(one for one in found["tables"] if one["name"] == table)
        one |= {"rows": len(rows), "size": len(data), "sha256": sha256(data).hexdigest()}

    relisted(folder, fit)
