"""``manage.py restore FOLDER``: a backup into an empty installation, then every check of ``verify_ledger``."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from accounts.models import Operator
from inspections import backup_restore
from inspections.backup_manifest import BackupError, History
from inspections.erasure_check import erase_again, erased_after
from inspections.management.commands.verify_ledger import history_faults, table_faults
from ledger import log_key, sealing
from ledger.models import Log


class Command(BaseCommand):
    help = (
        "Puts one backup into a database that was just migrated and a file folder that is empty, on SQLite or "
        "PostgreSQL whichever it came from, and checks the history. The server must not be running meanwhile."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("folder", type=Path, help="the folder of one backup")
        parser.add_argument("--check", action="store_true", help="only read the backup and tell whether it is whole")

    def handle(self, *args: Any, folder: Path, check: bool, **options: Any) -> None:
        try:
            manifest = backup_restore.checked(folder) if check else backup_restore.restore(folder)
        except BackupError as error:
            raise CommandError(f"{error} Nothing was changed.") from None
        rows = sum(table.rows for table in manifest.tables)
        done = "is whole" if check else "was restored"
        self.stdout.write(f"The backup of {manifest.made_at} {done}: {rows} rows, {len(manifest.files)} files.")
        for one in manifest.absent:
            self.stderr.write(f"{one.part}: this file had no sound bytes when the backup was made; it is missing.")
        for history in manifest.histories:
            self._newest(history)
        for operator, seq, at in () if check else erased_after(folder, manifest):
            self.stderr.write(
                f"{operator}: a later backup knows that entry {seq} of {at} erased something by a decision. It is here "
                "again, and this history does not have the decision: ask for it and confirm it once more."
            )
        if not check:
            self._verify()

    def _newest(self, history: History) -> None:
        if not history.signed:
            self.stdout.write(
                f"{history.operator}: {history.entries} entries, none of them signed. Compare the newest printed day "
                "sheet with the record: what it names and the record lacks was entered after this backup."
            )
            return
        self.stdout.write(
            f"{history.operator}: {history.entries} entries. The newest signed state has {history.signed}, of "
            f"{history.signed_at}. If a printed day sheet or a witness has a higher number, this backup is older than "
            "what was signed since: enter that again from paper, and tell whoever keeps the signed states before "
            "anything more is signed."
        )

    def _verify(self) -> None:
        bad = 0
        for operator in Operator.objects.select_related("log").order_by("name"):
            found = history_faults(operator)
            if not found:
                for sentence in erase_again(operator).sentences:
                    self.stdout.write(f"{operator.name}: {sentence} It was taken away once more.")
                found = table_faults(operator)
            for sentence in found:
                self.stderr.write(f"{operator.name}: {sentence}")
            self.stdout.write(f"{operator.name}: {len(found)} faults.")
            bad += len(found)
            if sentence := _key_trouble(operator.log):
                self.stderr.write(f"{operator.name}: {sentence}")
        if bad:
            raise CommandError(f"The backup was restored as it is, but its history is not in order: {bad} faults.")


def _key_trouble(log: Log) -> str:
    """Return what keeps the history from being signed on, empty if nothing does."""
    known = sealing.keys_of(log)
    if not known:
        return ""
    try:
        own = log_key.configured()
    except log_key.LogKeyError as error:
        return str(error)
    if own is None or sealing.public_key(log, own) != known[-1].key:
        return (
            "The log key that this history names is not set here, and it is not in the backup. Set "
            "LINEWORTHY_LOG_KEY_FILE to your copy of it; until then nothing more is signed."
        )
    return ""
