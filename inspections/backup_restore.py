"""Put a backup into an empty installation of the same version, all of it or nothing."""

from __future__ import annotations

import gzip
import shutil
from collections.abc import Iterator
from pathlib import Path

from django.conf import settings
from django.contrib.contenttypes.models import ContentType
from django.core.cache import caches
from django.core.exceptions import ValidationError
from django.core.management.color import no_style
from django.db import DatabaseError, connection, transaction

from inspections import backup_files, backup_rows
from inspections.backup import applied
from inspections.backup_manifest import FILES, BackupError, Manifest, Table


def checked(folder: Path) -> Manifest:
    """Return what stands in a backup after reading every part of it. Raises BackupError."""
    manifest = Manifest.read(folder)
    manifest.check(folder)
    return manifest


def restore(folder: Path) -> Manifest:
    """Put a backup into the database and the file folder. Raises BackupError; then neither was changed.

    The triggers of the history stay in force: entries and signed states come in their order. Nobody may be at work in
    the installation meanwhile.
    """
    manifest = checked(folder)
    models = _fitting(manifest)
    media = Path(settings.MEDIA_ROOT)
    _ask_for_an_empty_folder(media)
    try:
        with transaction.atomic():
            _ask_for_empty_tables(models)
            try:
                _put_files(folder, manifest, media)
                _put_rows(folder, manifest, models)
                connection.check_constraints()
            except BaseException:
                _clear(media)
                raise
    except DatabaseError as error:
        _clear(media)  # the transaction's end may be what failed
        why = str(error).partition("\n")[0].rstrip(" .")
        raise BackupError(f"The database does not take these rows: {why}.") from error
    except (OSError, backup_files.Harmed) as error:
        raise BackupError(f"The files were not written: {error}.") from error
    ContentType.objects.clear_cache()
    for cache in caches.all():
        cache.clear()  # nothing that was worked out before belongs to these rows
    return manifest


def _fitting(manifest: Manifest) -> dict[str, backup_rows.Model]:
    """Return the model of each table, if the tables here are those of the backup."""
    here, there = _named(applied()), _named(manifest.migrations)
    models = {model._meta.label_lower: model for model in backup_rows.tables()}
    if not here or not _caches() <= set(connection.introspection.table_names()):
        raise BackupError("The database has not all its tables yet. Bring it up to date first (make migrate).")
    if here != there:
        version = f"version {manifest.version}" if manifest.version else "the version that made it"
        missing, more = sorted(there - here), sorted(here - there)
        differs = [
            *(f"this database lacks {', '.join(missing)}" for _ in missing[:1]),
            *(f"the backup lacks {', '.join(more)}" for _ in more[:1]),
        ]
        raise BackupError(
            f"The backup was made with other tables: {'; '.join(differs)}. Restore it with {version}, then bring the "
            "database up to date (make migrate)."
        )
    if {table.name: set(table.columns) for table in manifest.tables} != {
        name: set(backup_rows.columns(model)) for name, model in models.items()
    }:
        raise BackupError("The tables in the backup are not those of this version.")
    return models


def _caches() -> set[str]:
    return {
        str(cache["LOCATION"]) for cache in settings.CACHES.values() if cache["BACKEND"] == "config.cache.SharedCache"
    }


def _named(migrations: dict[str, list[str]]) -> set[str]:
    return {f"{app}.{name}" for app, names in migrations.items() for name in names}


def _ask_for_empty_tables(models: dict[str, backup_rows.Model]) -> None:
    full = [
        name
        for name, model in models.items()
        if name not in backup_rows.MADE_BY_MIGRATE and model._base_manager.exists()
    ]
    if full:
        raise BackupError(
            f"The database is not empty: there are rows in {', '.join(full)}. A backup is restored only into a "
            "database that was just made and migrated."
        )


def _ask_for_an_empty_folder(media: Path) -> None:
    if media.exists() and any(media.iterdir()):
        raise BackupError(f"The file folder {media} is not empty. A backup is restored only into an empty one.")


def _clear(media: Path) -> None:
    """Take away what was written: the folder was empty before."""
    for inside in media.iterdir() if media.exists() else ():
        shutil.rmtree(inside, ignore_errors=True)


def _put_files(folder: Path, manifest: Manifest, media: Path) -> None:
    for one in manifest.files:
        backup_files.copy(folder / FILES / one.part, media / one.part, one.sha256)
    if manifest.files:
        backup_files.sync_folders(media)


def _put_rows(folder: Path, manifest: Manifest, models: dict[str, backup_rows.Model]) -> None:
    for name in reversed(backup_rows.MADE_BY_MIGRATE):
        models[name]._base_manager.all()._raw_delete(connection.alias)
    for table in manifest.tables:
        model = models[table.name]
        try:
            count = backup_rows.stored(model, backup_rows.rows(model, table.columns, _lines(folder, table)))
        except (ValueError, TypeError, ValidationError, EOFError) as error:
            raise BackupError(f"The rows of {table.name} cannot be read: {error}.") from error
        if count != table.rows:
            raise BackupError(f"The backup has {count} rows of {table.name}; its list says {table.rows}.")
    # Numbers that the database gives go on behind those that were put in.
    with connection.cursor() as cursor:
        for statement in connection.ops.sequence_reset_sql(no_style(), list(models.values())):
            cursor.execute(statement)


def _lines(folder: Path, table: Table) -> Iterator[str]:
    with gzip.open(folder / table.part, "rt", encoding="utf-8", newline="\n") as text:
        yield from text
