"""What a backup holds, what it does not, and that it is made beside people at work.

Outside the project: ``sha256sum`` and ``gunzip`` of the system read the parts. What a backup must hold and must not
(the log key above all) is from the dossier on trust, part 3: a backup and the log key together make a forger.
"""

from __future__ import annotations

import gzip
import json
import os
import shutil
import subprocess
from concurrent.futures import ThreadPoolExecutor
from io import StringIO
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from django.conf import settings as conf
from django.core.management import CommandError, call_command
from django.db import connection, connections

from courses.actions.files import path_of, store_bytes
from courses.models import StoredFile
from inspections import backup, backup_files, backup_rows
from inspections.backup_manifest import BackupError, Manifest
from inspections.backup_restore import checked
from ledger.models import Log
from ledger.reading import at_one_moment
from tests import make
from tests.inspections.backup_course import LATER_PHOTO, PHOTO, at, played


@pytest.fixture(scope="module")
def made(django_db_setup: None, django_db_blocker: Any) -> SimpleNamespace:
    with django_db_blocker.unblock():
        return played()


@pytest.fixture
def office(db: None, settings: Any, tmp_path: Path) -> SimpleNamespace:
    """An operator with one stored photo, and a folder for backups."""
    settings.MEDIA_ROOT = tmp_path / "files"
    operator = make.operator()
    deed = make.deed(make.founder_of(operator))
    photo = store_bytes(operator, PHOTO, kind="photo", media_type="image/jpeg", deed=deed)
    (tmp_path / "backups").mkdir()
    return SimpleNamespace(operator=operator, deed=deed, photo=photo, folder=tmp_path / "backups")


def run(folder: Path) -> tuple[str, str]:
    out, err = StringIO(), StringIO()
    call_command("backup", str(folder), stdout=out, stderr=err)
    return out.getvalue(), err.getvalue()


def test_every_table_is_in_a_backup_or_left_out_with_a_reason(db: None) -> None:
    kept = {model._meta.db_table for model in backup_rows.tables()}
    assert set(connection.introspection.table_names()) - kept == {
        "django_session", "account_emailconfirmation", "django_migrations", conf.CACHES["default"]["LOCATION"],
    }  # fmt: skip
    assert all(backup_rows.LEFT_OUT.values())


def test_each_table_comes_behind_those_its_keys_lead_to() -> None:
    names = [model._meta.label_lower for model in backup_rows.tables()]
    for model in backup_rows.tables():
        for field in model._meta.concrete_fields:
            if field.is_relation and field.related_model is not model:
                assert names.index(field.related_model._meta.label_lower) < names.index(model._meta.label_lower)


def test_the_systems_own_programs_find_every_hash_right(made: SimpleNamespace) -> None:
    folder = made.new.folder
    subprocess.run(["sha256sum", "--check", "--strict", "manifest.json.sha256"], cwd=folder, check=True)
    found = json.loads((folder / "manifest.json").read_text())
    said = [f"{one['sha256']}  rows/{one['name']}.jsonl.gz" for one in found["tables"]]
    said += [f"{one['sha256']}  files/{one['operator']}/{one['sha256'][:2]}/{one['sha256']}" for one in found["files"]]
    told = subprocess.run(
        ["sha256sum", "--check", "--strict"], cwd=folder, input="\n".join(said), text=True, capture_output=True
    )
    assert told.returncode == 0, told.stderr
    inside = {str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file()}
    assert inside == {line.split("  ")[1] for line in said} | {"manifest.json", "manifest.json.sha256"}
    for one in found["tables"]:
        told = subprocess.run(["gunzip", "-c", f"rows/{one['name']}.jsonl.gz"], cwd=folder, capture_output=True)
        assert told.stdout.count(b"\n") == one["rows"]


def test_the_list_says_what_ran_and_what_was_signed(made: SimpleNamespace) -> None:
    old, new = made.old.manifest, made.new.manifest
    assert Manifest.read(made.new.folder) == new
    assert (new.made_at, new.database) == ("2026-06-15T06:15:00Z", connection.vendor)
    assert new.version
    assert {"0001_initial", "0002_append_only", "0003_checkpoint"} <= set(new.migrations["ledger"])
    [before], [after] = old.histories, new.histories
    assert [one.size for one in made.states] == [made.states[0].size, before.signed, after.signed]
    assert before.signed < before.entries < after.signed < after.entries
    assert (after.signed_at, after.note) == ("2026-06-15T06:03:00Z", made.states[-1].note)


def test_drafts_are_in_it_and_log_ins_and_keys_are_not(made: SimpleNamespace) -> None:
    [draft] = made.new_rows["inspections.draft"]
    assert '"cable"' in draft
    for path in made.new.folder.rglob("*"):
        if path.is_file():
            data = gzip.decompress(path.read_bytes()) if path.suffix == ".gz" else path.read_bytes()
            for secret in (made.session, *made.secrets):
                assert secret.encode() not in data, path


def test_nobody_but_its_owner_reads_a_backup(made: SimpleNamespace) -> None:
    assert made.new.folder.stat().st_mode & 0o077 == 0


def test_a_file_that_the_backup_before_has_is_not_copied_again(made: SimpleNamespace) -> None:
    photo = next(one for one in made.old.manifest.files if one.size == len(PHOTO))
    first, second = (one.folder / "files" / photo.part for one in (made.old, made.new))
    assert os.stat(first).st_ino == os.stat(second).st_ino
    # New are the second day sheet and the later photo.
    assert (made.old.copied, made.new.copied) == (len(made.old.manifest.files), 2)
    assert len(made.new.manifest.files) == len(made.old.manifest.files) + 2
    later = next(one for one in made.new.manifest.files if one.size == len(LATER_PHOTO))
    assert (made.new.folder / "files" / later.part).read_bytes() == LATER_PHOTO


def test_a_photo_lost_since_is_taken_from_the_backup_before(made: SimpleNamespace) -> None:
    """The course's own copy was taken away between the two."""
    photo = next(one for one in made.new.manifest.files if one.size == len(PHOTO))
    assert made.new.manifest.absent == []
    assert (made.new.folder / "files" / photo.part).read_bytes() == PHOTO


@pytest.mark.parametrize("original", ["sound", "gone"])
def test_a_bit_that_the_backup_before_forgot_is_not_handed_on(office: SimpleNamespace, original: str) -> None:
    first = backup.write(office.folder, at=at())
    before = first.folder / "files" / first.manifest.files[0].part
    before.chmod(0o600)
    before.write_bytes(bytes([PHOTO[0] ^ 1]) + PHOTO[1:])  # as long as it was
    if original == "gone":
        path_of(office.operator.pk, office.photo.sha256).unlink()

    second = backup.write(office.folder, at=at(1))

    assert checked(second.folder) == second.manifest
    assert second.harmed == [before]
    if original == "sound":
        assert (second.copied, second.manifest.absent) == (1, [])
        assert (second.folder / "files" / second.manifest.files[0].part).read_bytes() == PHOTO
        assert backup.write(office.folder, at=at(2)).harmed == []
    else:
        assert [one.sha256 for one in second.manifest.absent] == [office.photo.sha256]


def test_the_command_names_what_is_harmed_in_the_backup_before(office: SimpleNamespace) -> None:
    first = backup.write(office.folder, at=at())
    before = first.folder / "files" / first.manifest.files[0].part
    before.chmod(0o600)
    before.write_bytes(b"")

    out, err = run(office.folder)

    assert "1 files, 1 of them new." in out
    assert err == f"{before} was changed or cut short: that backup is damaged. It was not taken over.\n"


def test_a_backup_stands_by_itself_when_older_ones_are_removed(made: SimpleNamespace, tmp_path: Path) -> None:
    for one in (made.old, made.new):
        shutil.copytree(one.folder, tmp_path / one.folder.name, copy_function=os.link)
    shutil.rmtree(tmp_path / made.old.folder.name)
    assert checked(tmp_path / made.new.folder.name) == made.new.manifest


def test_the_command_tells_size_files_state_and_what_is_not_in_it(office: SimpleNamespace) -> None:
    out, err = run(office.folder)
    [made] = office.folder.iterdir()
    rows = sum(table.rows for table in checked(made).tables)
    assert f"{made}: {rows} rows in " in out
    assert "1 files, 1 of them new." in out
    assert "Kestrel Hollow: 1 entries, no signed state." in out
    assert "The secret key, the log key and the certificate of the day sheets are not in the backup" in out
    assert err == ""


@pytest.mark.parametrize("harm", ["changed", "gone"])
def test_a_photo_without_sound_bytes_is_told_and_all_else_is_kept(office: SimpleNamespace, harm: str) -> None:
    path = path_of(office.operator.pk, office.photo.sha256)
    path.chmod(0o600)
    if harm == "gone":
        path.unlink()
    else:
        path.write_bytes(PHOTO.replace(b"phone", b"PHONE"))
    other = store_bytes(office.operator, LATER_PHOTO, kind="photo", media_type="image/jpeg", deed=office.deed)

    err = StringIO()
    with pytest.raises(CommandError, match="was written, but without 1 files that have a row"):
        call_command("backup", str(office.folder), stdout=StringIO(), stderr=err)

    assert office.photo.sha256 in err.getvalue()
    [made] = office.folder.iterdir()
    found = checked(made)
    assert [one.sha256 for one in found.files] == [other.sha256]
    assert [one.sha256 for one in found.absent] == [office.photo.sha256]
    assert not (made / "files" / found.absent[0].part).exists()


def test_a_folder_that_is_not_there_is_not_made(office: SimpleNamespace, tmp_path: Path) -> None:
    with pytest.raises(CommandError, match="There is no folder"):
        run(tmp_path / "not mounted")
    assert not (tmp_path / "not mounted").exists()


def test_a_backup_that_is_broken_off_leaves_nothing_and_one_that_was_killed_is_told(
    office: SimpleNamespace, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*arguments: Any) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as changed:
        changed.setattr(backup_files, "copy", full)
        with pytest.raises(BackupError, match=r"was not written: .*No space left"):
            backup.write(office.folder, at=at())
    assert list(office.folder.iterdir()) == []

    left = office.folder / "lineworthy-20260101T000000Z.part"
    left.mkdir()
    assert backup.write(office.folder, at=at()).unfinished == [left]
    _out, err = run(office.folder)
    assert str(left) in err


def test_two_backups_of_one_second_do_not_meet(office: SimpleNamespace) -> None:
    first = backup.write(office.folder, at=at())
    with pytest.raises(BackupError, match="is there already"):
        backup.write(office.folder, at=at())
    assert checked(first.folder) == first.manifest


def test_where_the_disk_has_no_second_names_the_file_is_copied(
    office: SimpleNamespace, monkeypatch: pytest.MonkeyPatch
) -> None:
    backup.write(office.folder, at=at())

    def refused(*arguments: Any) -> None:
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr(backup_files.os, "link", refused)
    second = backup.write(office.folder, at=at(1))
    assert (second.folder / "files" / second.manifest.files[0].part).read_bytes() == PHOTO
    assert StoredFile.objects.count() == len(second.manifest.files) == 1


@pytest.mark.django_db(transaction=True)
def test_what_is_written_meanwhile_is_not_in_the_picture_and_does_not_wait(transactional_db: None) -> None:
    def write() -> int:
        try:
            Log.objects.create(created_at=at())
            return Log.objects.count()
        finally:
            connections.close_all()

    with ThreadPoolExecutor(1) as pool:
        with at_one_moment():
            assert Log.objects.count() == 0
            # Would a picture lock writers out, this would wait until it ends, and so for ever.
            assert pool.submit(write).result(timeout=20) == 1
            assert list(backup_rows.lines(Log)) == []
        assert Log.objects.count() == 1
