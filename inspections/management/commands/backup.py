"""``manage.py backup FOLDER``: everything that is needed to go on elsewhere, but for the keys."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from inspections import backup
from inspections.backup_manifest import BackupError
from inspections.erasure_check import backups_before_erasing


class Command(BaseCommand):
    help = (
        "Writes all tables and files into a new folder inside FOLDER, while the server runs. Files that the backup "
        "before holds unharmed are given a second name, not copied. The secret key, the log key and the certificate of "
        "the day sheets are not in it."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("folder", type=Path, help="where the backups lie; it has to be there")

    def handle(self, *args: Any, folder: Path, **options: Any) -> None:
        try:
            made = backup.write(folder, at=timezone.now())
        except BackupError as error:
            raise CommandError(str(error)) from None
        for path in made.unfinished:
            self.stderr.write(f"{path} is left of a backup that did not end; unless one is running, remove it.")
        for path in made.harmed:
            self.stderr.write(f"{path} was changed or cut short: that backup is damaged. It was not taken over.")
        manifest = made.manifest
        rows, size = sum(table.rows for table in manifest.tables), sum(table.size for table in manifest.tables)
        self.stdout.write(
            f"{made.folder}: {rows} rows in {size} bytes, {len(manifest.files)} files, {made.copied} of them new."
        )
        for history in manifest.histories:
            signed = f"newest signed state {history.signed}" if history.signed else "no signed state"
            self.stdout.write(f"{history.operator}: {history.entries} entries, {signed}.")
        self.stdout.write(
            "The secret key, the log key and the certificate of the day sheets are not in the backup; keep copies of "
            "them apart from it."
        )
        if older := backups_before_erasing(folder):
            self.stdout.write(
                f"{len(older)} backups here were made before something was erased by a decision and hold it still; "
                f"the newest of them is {older[-1]}. Remove them, and their copies elsewhere, as soon as you can do "
                "without them."
            )
        if manifest.absent:
            for one in manifest.absent:
                self.stderr.write(f"{one.part}: there are no sound bytes of this file.")
            raise CommandError(f"The backup was written, but without {len(manifest.absent)} files that have a row.")
