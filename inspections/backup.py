"""Write a backup while the server runs: one picture of all tables, every stored file, a hash for each part.

Keys are not in it: who has a backup and the log key could write another history (``ledger.log_key``).
"""

from __future__ import annotations

import gzip
import os
import shutil
import subprocess
from dataclasses import dataclass
from datetime import UTC, datetime
from hashlib import file_digest
from pathlib import Path

from django.conf import settings
from django.db import connection
from django.db.migrations.recorder import MigrationRecorder

from accounts.models import Operator
from courses.actions.files import path_of
from courses.models import StoredFile
from inspections import backup_files, backup_rows
from inspections.backup_manifest import FILES, PREFIX, ROWS, BackupError, File, History, Manifest, Table, kept_in
from ledger import sealing
from ledger.actions import as_text
from ledger.models import Entry
from ledger.reading import at_one_moment

UNFINISHED = ".part"


@dataclass(frozen=True)
class Made:
    """A backup that was made: where, what stands in it, how many files were new, what earlier runs left unfinished.

    ``harmed`` are files of the backup before whose bytes are not theirs any more; they were not handed on.
    """

    folder: Path
    manifest: Manifest
    copied: int
    unfinished: list[Path]
    harmed: list[Path]


def write(folder: Path, *, at: datetime) -> Made:
    """Write a backup into a new folder inside ``folder``; it has its name only when it is whole. Raises BackupError."""
    if not folder.is_dir():
        # Not made here: where a disk is not mounted the backup would fill the wrong one.
        raise BackupError(f"There is no folder {folder}.")
    name = f"{PREFIX}{at.astimezone(UTC):%Y%m%dT%H%M%SZ}"
    target, aside = folder / name, folder / (name + UNFINISHED)
    unfinished = sorted(folder.glob(f"{PREFIX}*Z{UNFINISHED}"))
    earlier = kept_in(folder)
    if target.exists() or aside.exists():
        raise BackupError(f"{target} is there already.")
    try:
        aside.mkdir(mode=0o700)  # addresses, names and hashes of passwords are in it
        manifest, copied, harmed = _write(aside, earlier[-1] if earlier else None, at)
        backup_files.sync_folders(aside)
        aside.rename(target)
        backup_files.sync_folders(target.parent)
    except OSError as error:
        shutil.rmtree(aside, ignore_errors=True)
        raise BackupError(f"The backup was not written: {error}.") from error
    except BaseException:
        shutil.rmtree(aside, ignore_errors=True)
        raise
    return Made(target, manifest, copied, unfinished, harmed)


def _write(aside: Path, earlier: Path | None, at: datetime) -> tuple[Manifest, int, list[Path]]:
    (aside / ROWS).mkdir()
    with at_one_moment():
        migrations = applied()
        tables = [_table(aside, model) for model in backup_rows.tables()]
        histories = [_history(operator) for operator in Operator.objects.select_related("log").order_by("name", "pk")]
        wanted = [
            File(str(operator), digest, size)
            # Of what was erased not even the copy in an earlier backup is handed on.
            for operator, digest, size in StoredFile.objects.filter(erased_seq__isnull=True)
            .order_by("operator", "sha256")
            .values_list("operator_id", "sha256", "size")
        ]
    # Behind the picture: a file is written before its row and never changed.
    copied, absent = 0, []
    harmed: list[Path] = []
    for one in wanted:
        new = _file(one, aside, earlier, harmed)
        if new is None:
            absent.append(one)
        else:
            copied += new
    manifest = Manifest(
        made_at=as_text(at),
        version=version(),
        database=connection.vendor,
        migrations=migrations,
        tables=tables,
        files=[one for one in wanted if one not in set(absent)],
        absent=absent,
        histories=histories,
    )
    manifest.write(aside)
    return manifest, copied, harmed


def _table(aside: Path, model: backup_rows.Model) -> Table:
    name, count = model._meta.label_lower, 0
    found = Table(name, backup_rows.columns(model), 0, 0, "")
    path = aside / found.part
    with path.open("xb") as out:
        with gzip.GzipFile(fileobj=out, mode="wb", filename="", mtime=0, compresslevel=6) as packed:
            for line in backup_rows.lines(model):
                packed.write(line.encode() + b"\n")
                count += 1
        out.flush()
        os.fsync(out.fileno())
    with path.open("rb") as content:
        return Table(name, found.columns, count, path.stat().st_size, file_digest(content, "sha256").hexdigest())


def _history(operator: Operator) -> History:
    entries = Entry.objects.filter(log=operator.log_id).count()
    newest = sealing.newest(operator.log)
    if newest is None:
        return History(operator.name, str(operator.log_id), entries)
    return History(
        operator.name, str(operator.log_id), entries, newest.size, as_text(newest.made_at), newest.note
    )  # fmt: skip


def _file(one: File, aside: Path, earlier: Path | None, harmed: list[Path]) -> bool | None:
    """Take a file over; return whether it is new, None where it has no sound bytes."""
    target = aside / FILES / one.part
    if earlier is not None:
        before = earlier / FILES / one.part
        # Read to its end each time: a bit that a disk forgot would else be handed on from backup to backup.
        if backup_files.is_sound(before, one.sha256):
            backup_files.link(before, target, one.sha256)
            return False
        if before.exists():
            harmed.append(before)
    try:
        backup_files.copy(path_of(one.operator, one.sha256), target, one.sha256)
    except (FileNotFoundError, backup_files.Harmed):
        return None
    return True


def applied() -> dict[str, list[str]]:
    """Return the migrations of the database, for the applications whose tables are in a backup."""
    names = {model._meta.app_label for model in backup_rows.tables()}
    found: dict[str, list[str]] = {}
    for app, migration in sorted(MigrationRecorder(connection).applied_migrations()):
        if app in names:
            found.setdefault(app, []).append(migration)
    return found


def version() -> str:
    """Return which version of the application runs, as its repository calls it; empty where it has none."""
    command = ["git", "-C", str(settings.BASE_DIR), "describe", "--always", "--tags"]
    try:
        told = subprocess.run(command, capture_output=True, text=True, timeout=10)
    except (OSError, subprocess.TimeoutExpired):
        return ""
    return told.stdout.strip() if told.returncode == 0 else ""
