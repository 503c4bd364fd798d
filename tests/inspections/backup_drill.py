"""Be one installation of the restore drill, in a process of its own: ``python -m tests.inspections.backup_drill``.

``play FOLDER BACKUPS`` plays a morning in an installation in FOLDER, with the database of DATABASE_URL, and backs it up
into BACKUPS. ``go_on FOLDER BACKUPS`` restores the newest backup, checks it, does the next day's work and backs that
up.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path

from tests.bench.world import install


def main(part: str, folder: Path, backups: Path) -> None:
    install(folder, os.environ["DATABASE_URL"])
    from django.conf import settings

    from tests.inspections.backup_course import LOG_KEY

    settings.LOG_KEY = LOG_KEY
    {"play": play, "go_on": go_on}[part](backups)


def play(backups: Path) -> None:
    """Play a morning and back it up as an operator does."""
    from django.core.management import call_command

    from tests.inspections.backup_course import morning

    morning()
    call_command("backup", str(backups))


def go_on(backups: Path) -> None:
    """Restore, compare every row with the backup's lines, sign and issue what comes next, back up again."""
    from types import SimpleNamespace

    from django.core.management import call_command

    from accounts.models import Operator, User
    from courses.models import Course, Place
    from inspections import actions
    from inspections.backup_manifest import kept_in
    from inspections.models import Draft
    from ledger import sealing
    from ledger.models import Entry
    from tests import make
    from tests.inspections.backup_course import at, hold_and_sign_again

    newest = kept_in(backups)[-1]
    call_command("restore", str(newest))
    same_rows(newest)

    lines = list(Place.objects.lines().order_by("number"))
    w = SimpleNamespace(operator=Operator.objects.get(), course=Course.objects.get(), lines=lines, line=lines[0])
    for role, name in (("technician", "Tarik Oben"), ("mate", "Runa Feld"), ("manager", "Mirte Valk")):
        setattr(w, role, User.objects.get(name=name))
    before, day = sealing.newest(w.operator.log), 24 * 60 * len(kept_in(backups))
    for draft in Draft.objects.filter(person=w.mate):
        actions.sign_sheet(draft, meaning="I looked at it myself.", deed=make.deed(w.mate, at=at(day + 5)))
    make.inspect(w, at=at(day + 10))
    hold_and_sign_again(w, day + 20)
    after = sealing.newest(w.operator.log)
    if before is None or after is None or after.size <= before.size:
        raise SystemExit("The day sheet did not sign a newer state.")
    call_command("verify_ledger")
    print(f"{Entry.objects.count()} entries, {before.size} then {after.size} signed.")
    call_command("backup", str(backups))


def same_rows(folder: Path) -> None:
    """Compare the tables with the lines of a backup; keys inside a JSON column may stand in another order."""
    import gzip
    import json

    from inspections import backup_rows
    from inspections.backup_manifest import Manifest

    tables = {table.name: table for table in Manifest.read(folder).tables}
    for model in backup_rows.tables():
        table = tables[model._meta.label_lower]
        text = gzip.decompress((folder / table.part).read_bytes()).decode()
        said = sorted(json.dumps(json.loads(line), sort_keys=True) for line in text.splitlines())
        here = sorted(json.dumps(json.loads(line), sort_keys=True) for line in backup_rows.lines(model))
        if table.columns != backup_rows.columns(model) or said != here:
            raise SystemExit(f"The rows of {table.name} are not those of the backup.")


if __name__ == "__main__":
    main(sys.argv[1], Path(sys.argv[2]), Path(sys.argv[3]))
