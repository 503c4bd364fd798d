"""A backup goes whole into an empty installation, or not at all; what was restored goes on as if nothing had been.

Outside the project: the rows are compared with those that were there, line for line; that a later signed state adds to
an earlier one is asked of the consistency proof of RFC 6962 (``ledger.merkle``, tested on published trees).
"""

from __future__ import annotations

import gzip
import json
import re
import shutil
from collections.abc import Callable
from io import StringIO
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from django.contrib.auth.models import Group
from django.core.cache import cache
from django.core.management import CommandError, call_command
from django.db import DatabaseError, transaction

from accounts.models import User
from inspections import actions, backup_rows
from inspections.models import Draft, Paper, Sheet
from ledger import chain, sealing
from ledger.merkle import Tree, continues
from ledger.models import Checkpoint, Entry, Log
from tests import make
from tests.inspections.backup_course import (
    LATER_PHOTO,
    LOG_KEY,
    PHOTO,
    at,
    contents,
    hold_and_sign_again,
    played,
    relisted,
    rewritten,
)


@pytest.fixture(scope="module")
def made(django_db_setup: None, django_db_blocker: Any) -> SimpleNamespace:
    with django_db_blocker.unblock():
        return played()


@pytest.fixture
def media(made: SimpleNamespace, db: None, settings: Any, tmp_path: Path) -> Path:
    """The file folder of an installation that is empty and has the log key."""
    settings.MEDIA_ROOT, settings.LOG_KEY = tmp_path / "files", LOG_KEY
    return tmp_path / "files"


def run(folder: Path, **options: Any) -> tuple[str, str]:
    out, err = StringIO(), StringIO()
    call_command("restore", str(folder), stdout=out, stderr=err, **options)
    return out.getvalue(), err.getvalue()


def files(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


# --- what is restored


def test_every_row_and_every_file_is_there_again(made: SimpleNamespace, media: Path) -> None:
    cache.set("worked-out", "of an earlier life")
    out, err = run(made.new.folder)

    assert contents() == made.new_rows
    assert files(media) == files(made.new.folder / "files")
    assert {PHOTO, LATER_PHOTO} < set(files(media).values())
    assert "Kestrel Hollow: 0 faults." in out
    assert err == ""
    assert cache.get("worked-out") is None
    assert User.objects.get(pk=made.w.manager.pk).check_password(make.WORD)
    assert User.objects.get(pk=made.w.manager.pk).has_perm("inspections.view_sheet")


def test_it_tells_the_newest_signed_state_and_what_a_higher_number_would_mean(
    made: SimpleNamespace, media: Path
) -> None:
    out, _err = run(made.old.folder)
    [history] = made.old.manifest.histories
    assert f"The newest signed state has {history.signed}, of 2026-06-15T05:41:00Z." in out
    assert "If a printed day sheet or a witness has a higher number, this backup is older than what was signed" in out


def test_the_history_stays_guarded(made: SimpleNamespace, media: Path) -> None:
    run(made.new.folder)
    for deed in (Entry.objects.filter(seq=3).delete, lambda: Checkpoint.objects.update(note="")):
        with pytest.raises(DatabaseError), transaction.atomic():
            deed()


def test_the_course_goes_on_where_it_was(made: SimpleNamespace, media: Path) -> None:
    """The sheet that was begun is signed, the day signed anew, its sheet issued; the signed state adds to the last."""
    run(made.new.folder)
    w = made.w
    before = sealing.newest(Log.objects.get())
    assert before == made.states[-1]

    draft = Draft.objects.get(person=w.mate)
    actions.sign_sheet(draft, meaning="I looked at it myself.", deed=make.deed(w.mate, at=at(24 * 60 + 5)))
    make.inspect(w, at=at(24 * 60 + 10))
    signed = hold_and_sign_again(w, 24 * 60 + 20)

    assert Sheet.objects.filter(signer_ref=w.mate.ref, section="cable").exists()
    assert Paper.objects.get(sign_off=signed).number == "2026-06-16/1"
    after = sealing.newest(Log.objects.get())
    assert after is not None
    assert after.size > before.size
    leaves = [chain.leaf_hash(bytes(one.data)) for one in Entry.objects.order_by("seq")]
    proof = Tree(leaves).consistency(before.size, after.size)
    assert continues(before.size, after.size, bytes(before.root), bytes(after.root), proof)
    out = StringIO()
    call_command("verify_ledger", stdout=out)
    assert "signed 4 times, 0 faults." in out.getvalue()


def test_numbers_that_the_database_gives_go_on(made: SimpleNamespace, media: Path) -> None:
    run(made.new.folder)
    office = Group.objects.get(name="Office")
    assert Group.objects.create(name="Gear store").pk > office.pk


def test_an_installation_without_the_log_key_is_told_so(made: SimpleNamespace, media: Path, settings: Any) -> None:
    settings.LOG_KEY = ""
    _out, err = run(made.new.folder)
    assert "The log key that this history names is not set here, and it is not in the backup." in err


def test_a_backup_of_a_history_that_is_not_in_order_is_restored_and_told(
    made: SimpleNamespace, media: Path, tmp_path: Path
) -> None:
    """It may be all that is left. Each hash fits, as after damage that was there before the backup."""
    folder = shutil.copytree(made.new.folder, tmp_path / "copy")

    def better(columns: list[str], rows: list[list[Any]]) -> list[list[Any]]:
        rows[0][columns.index("verdict")] = "watch"
        return rows

    rewritten(folder, "inspections.reading", better)
    with pytest.raises(CommandError, match="was restored as it is, but its history is not in order: 1 faults"):
        run(folder)
    assert len(backup_rows.tables()) == len(made.new.manifest.tables)
    assert Entry.objects.count() == made.new.manifest.histories[0].entries


def test_files_that_were_missing_already_are_told(made: SimpleNamespace, media: Path, tmp_path: Path) -> None:
    folder = shutil.copytree(made.new.folder, tmp_path / "copy")
    lost = next(one for one in made.new.manifest.files if one.size == len(PHOTO))
    (folder / "files" / lost.part).unlink()

    def without(found: dict[str, Any]) -> None:
        found["absent"] = [one for one in found["files"] if one["sha256"] == lost.sha256]
        found["files"] = [one for one in found["files"] if one["sha256"] != lost.sha256]

    relisted(folder, without)
    err = StringIO()
    # All the rest is there; that a file lacks which no decision erased is a fault of the record.
    with pytest.raises(CommandError, match="restored as it is, but its history is not in order: 1 faults"):
        call_command("restore", str(folder), stdout=StringIO(), stderr=err)
    assert f"{lost.part}: this file had no sound bytes when the backup was made" in err.getvalue()
    assert f"StoredFile {lost.sha256}: this photo is missing or cut short" in err.getvalue()
    assert Log.objects.exists()


def test_to_check_a_backup_writes_nothing(made: SimpleNamespace, media: Path) -> None:
    out, _err = run(made.new.folder, check=True)
    assert f"is whole: {sum(one.rows for one in made.new.manifest.tables)} rows, " in out
    assert not Log.objects.exists()
    assert not media.exists()


# --- what is refused, and then nothing is changed


def cut_short(folder: Path) -> None:
    path = folder / "rows" / "ledger.entry.jsonl.gz"
    path.write_bytes(path.read_bytes()[:-100])


def changed_byte(path: Path) -> None:
    data = bytearray(path.read_bytes())
    data[len(data) // 2] ^= 1
    path.chmod(0o600)
    path.unlink()  # the other backup has the same file under a second name
    path.write_bytes(data)


def a_photo(folder: Path) -> Path:
    found = json.loads((folder / "manifest.json").read_text())["files"]
    one = next(one for one in found if one["size"] == len(PHOTO))
    return folder / "files" / one["operator"] / one["sha256"][:2] / one["sha256"]


def of_other_migrations(found: dict[str, Any]) -> None:
    found["version"] = "v9-of-later"
    found["migrations"]["ledger"].append("0099_of_later")


def of_fewer_migrations(found: dict[str, Any]) -> None:
    found["migrations"]["ledger"].pop()


def without_a_table(found: dict[str, Any]) -> None:
    found["tables"] = [one for one in found["tables"] if one["name"] != "inspections.hold"]


def with_a_row_less(found: dict[str, Any]) -> None:
    next(one for one in found["tables"] if one["name"] == "inspections.reading")["rows"] -= 1


def outside(found: dict[str, Any]) -> None:
    found["files"][0]["operator"] = "../.."


def without(table: str) -> Callable[[Path], None]:
    """Leave the second row of a table out, with every hash made to fit."""
    return lambda folder: rewritten(folder, table, lambda _columns, rows: rows[:1] + rows[2:])


def not_a_time(columns: list[str], rows: list[list[Any]]) -> list[list[Any]]:
    rows[0][columns.index("opens_at")] = "at dawn"
    return rows


HARMED: dict[str, tuple[Callable[[Path], Any], str]] = {
    "cut short": (cut_short, r"is damaged: rows/ledger\.entry\.jsonl\.gz has not the size it had"),
    "a byte of the rows": (
        lambda folder: changed_byte(folder / "rows" / "ledger.entry.jsonl.gz"),
        r"is damaged: rows/ledger\.entry\.jsonl\.gz was changed",
    ),
    "a byte of a photo": (lambda folder: changed_byte(a_photo(folder)), "is damaged: files/.* was changed"),
    "a byte of the list": (lambda folder: changed_byte(folder / "manifest.json"), r"manifest\.json, is damaged"),
    "no photo": (lambda folder: a_photo(folder).unlink(), "is not complete: files/.* is missing"),
    "no rows": (lambda folder: (folder / "rows" / "ledger.log.jsonl.gz").unlink(), "is not complete: rows/"),
    "no list": (lambda folder: (folder / "manifest.json").unlink(), "is no complete backup"),
    "no hash of the list": (lambda folder: (folder / "manifest.json.sha256").unlink(), "is no complete backup"),
    "another format": (
        lambda folder: relisted(folder, lambda found: found.update(format=2)),
        "cannot be understood: its format is another",
    ),
    "a file outside": (lambda folder: relisted(folder, outside), "cannot be understood"),
    "a later version": (
        lambda folder: relisted(folder, of_other_migrations),
        r"lacks ledger\.0099_of_later\. Restore it with version v9-of-later, then bring the database up to date",
    ),
    "an earlier version": (
        lambda folder: relisted(folder, of_fewer_migrations),
        r"the backup lacks ledger\.\d{4}_\w+\. Restore it with version ",
    ),
    "a table not listed": (lambda folder: relisted(folder, without_a_table), "are not those of this version"),
    "a row too many": (lambda folder: relisted(folder, with_a_row_less), r"rows of inspections\.reading; its list"),
    "no such time": (
        lambda folder: rewritten(folder, "inspections.day", not_a_time), r"rows of inspections\.day cannot be read"
    ),
    # What the database itself refuses: the trigger on entries, and a key that leads nowhere.
    "an entry left out": (without("ledger.entry"), "The database does not take these rows: .*next number"),
    "a place left out": (without("courses.place"), "The database does not take these rows: "),
}  # fmt: skip


def refused(folder: Path, sentence: str, media: Path) -> None:
    """Assert that a backup is refused in words, and that database and file folder are as before."""
    before, lying = contents(), files(media)
    with pytest.raises(CommandError) as caught:
        run(folder)
    assert re.search(sentence, str(caught.value), re.DOTALL), str(caught.value)
    assert str(caught.value).endswith(". Nothing was changed.")
    assert contents() == before
    assert files(media) == lying


@pytest.mark.parametrize("harm", HARMED)
def test_a_harmed_backup_is_refused(made: SimpleNamespace, media: Path, tmp_path: Path, harm: str) -> None:
    folder = shutil.copytree(made.new.folder, tmp_path / "copy")
    do, sentence = HARMED[harm]
    do(folder)
    refused(folder, sentence, media)
    assert not Log.objects.exists()


def test_a_file_that_changes_while_it_is_copied_is_noticed(
    made: SimpleNamespace, media: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from inspections.backup_manifest import Manifest

    folder = shutil.copytree(made.new.folder, tmp_path / "copy")
    monkeypatch.setattr(Manifest, "check", lambda self, where: changed_byte(a_photo(where)))
    refused(folder, "The files were not written", media)


def test_a_database_with_rows_is_refused(made: SimpleNamespace, media: Path) -> None:
    make.account()
    refused(made.new.folder, r"database is not empty: there are rows in accounts\.user\.", media)


def test_what_was_restored_is_not_restored_over(made: SimpleNamespace, media: Path) -> None:
    run(made.old.folder)
    refused(made.new.folder, "file folder .* is not empty", media)


def test_a_folder_with_files_is_refused(made: SimpleNamespace, media: Path) -> None:
    media.mkdir()
    (media / "mine.txt").write_text("kept")
    refused(made.new.folder, "file folder .* is not empty", media)
    assert (media / "mine.txt").read_text() == "kept"


def test_the_folder_of_all_backups_is_refused_and_the_newest_named(made: SimpleNamespace, media: Path) -> None:
    refused(made.folder, f"holds 2 backups; name one of them. The newest is {made.new.folder}", media)


def test_a_database_without_its_tables_is_told_to_be_migrated(
    made: SimpleNamespace, media: Path, settings: Any
) -> None:
    settings.CACHES = {"default": {**settings.CACHES["default"], "LOCATION": "not_made_yet"}}
    refused(made.new.folder, "has not all its tables yet. Bring it up to date first", media)


def test_rows_are_text_that_a_person_can_read(made: SimpleNamespace) -> None:
    """JSON by RFC 8259, one row a line, in the order of the columns in the list."""
    table = next(one for one in made.new.manifest.tables if one.name == "courses.course")
    [line] = gzip.decompress((made.new.folder / table.part).read_bytes()).decode().splitlines()
    row = dict(zip(table.columns, json.loads(line), strict=True))
    assert (row["name"], row["tz"], row["trial"]) == ("Kestrel Hollow Lines", "Europe/Vienna", False)
