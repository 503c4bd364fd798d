"""What was erased stays erased: beside a copied folder, in a backup, and after it was restored."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta
from io import StringIO
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
import time_machine
from django.core.management import CommandError, call_command
from django.db import connection, transaction
from django.test import TestCase

from accounts.deeds import record
from accounts.models import Operator, User
from courses.actions.files import path_of, store_bytes
from courses.models import StoredFile
from inspections import actions, backup, backup_restore, backup_rows
from inspections.erasure_check import backups_before_erasing, erase_again
from inspections.models import Draft
from inspections.photos import Unusable, store_photo
from ledger import triggers
from ledger.models import Disclosure, Entry
from tests import make
from tests.inspections.erasing_world import ask, erase, retire, world
from tests.inspections.test_photos import jpeg


@pytest.fixture(scope="module")
def built(
    django_db_setup: None, django_db_blocker: Any, morning: datetime, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[SimpleNamespace]:
    """The world with a backup before anything was erased, then a name and a photo erased, and a backup after."""
    from django.test import override_settings

    media, folder = tmp_path_factory.mktemp("media") / "files", tmp_path_factory.mktemp("backups")
    with django_db_blocker.unblock(), override_settings(MEDIA_ROOT=media), transaction.atomic():
        w = world(morning)
        retire(w, at=w.at + timedelta(days=12))
        w.before = backup.write(folder, at=w.at + timedelta(days=13))
        w.photo_data = w.photo_path.read_bytes()
        w.names = [
            (row.commit, bytes(row.salt), row.value)
            for row in Disclosure.objects.filter(log=w.operator.log_id, subject=w.technician.ref)
        ]
        with TestCase.captureOnCommitCallbacks(execute=True):
            w.name_gone = erase(w, ask(w, person=w.technician.ref))
            w.photo_gone = erase(w, ask(w, photos=[w.photo]))
        w.after = backup.write(folder, at=w.later + timedelta(days=1))
        w.media = media
        yield w
        transaction.set_rollback(True)


@pytest.fixture
def w(built: SimpleNamespace, db: None, settings: Any) -> Iterator[SimpleNamespace]:
    settings.MEDIA_ROOT = built.media
    with time_machine.travel(built.later + timedelta(days=3), tick=False):
        yield built
    built.photo_path.unlink(missing_ok=True)


def verify() -> str:
    out = StringIO()
    call_command("verify_ledger", stdout=out, stderr=out)
    return out.getvalue()


@contextmanager
def no_triggers() -> Iterator[None]:
    """Let the triggers of the history stand aside, as the database's owner can."""
    connection.check_constraints()  # what was put off would stand in the way
    triggers.drop(connection)
    yield
    connection.check_constraints()
    triggers.create(connection)


def emptied() -> None:
    """Take everything away, as in an installation that was just made."""
    with no_triggers():
        for model in reversed(backup_rows.tables()):
            if model._meta.label_lower not in backup_rows.MADE_BY_MIGRATE:
                model._base_manager.all()._raw_delete(connection.alias)


def bring_back(w: SimpleNamespace) -> None:
    """Put back what an older copy of the tables and of the folder would bring."""
    w.photo_path.write_bytes(w.photo_data)
    StoredFile.objects.filter(sha256=w.photo).update(erased_seq=None, erased_at=None)
    Disclosure.objects.bulk_create(
        Disclosure(commit=commit, log=w.operator.log, salt=salt, value=value, subject=w.technician.ref)
        for commit, salt, value in w.names
    )
    User.objects.filter(pk=w.technician.pk).update(name=w.technician.name, email=w.technician.email, is_active=True)


def test_what_came_back_is_told_and_taken_away_once_more(
    w: SimpleNamespace, django_capture_on_commit_callbacks: Any
) -> None:
    assert "0 faults" in verify()
    bring_back(w)
    told = StringIO()

    with django_capture_on_commit_callbacks(execute=True), pytest.raises(CommandError):
        call_command("verify_ledger", stdout=told, stderr=told)

    assert f"{len(w.names)} names or notes that were erased are here again." in told.getvalue()
    assert "1 photo or paper that was erased is here again. It was taken away once more." in told.getvalue()
    assert not w.photo_path.exists()
    assert StoredFile.objects.get(sha256=w.photo).erased_seq == w.photo_gone.seq
    assert not Disclosure.objects.filter(subject=w.technician.ref).exists()
    assert User.objects.get(pk=w.technician.pk).name == "name erased"
    assert "0 faults" in verify()


def test_what_one_person_alone_decided_takes_nothing_away(
    w: SimpleNamespace, django_capture_on_commit_callbacks: Any
) -> None:
    body = {"asked": w.photo_gone.record["act"]["asked"], "asked_entry": 0, "what": {"notes": [w.note]}}
    deed = make.deed(w.manager, at=w.later + timedelta(days=1))
    forged = record(w.operator, "erasure", body, deed=deed, judged={"roles": ["manager"]})
    told = StringIO()

    with django_capture_on_commit_callbacks(execute=True), pytest.raises(CommandError):
        call_command("verify_ledger", stdout=told, stderr=told)

    assert f"Entry {forged.seq}: It erases what no entry before it asks for" in told.getvalue()
    assert Disclosure.objects.filter(commit=w.note).exists()


def test_a_decision_before_its_time_takes_nothing_away(
    w: SimpleNamespace, django_capture_on_commit_callbacks: Any
) -> None:
    """Entries can be added by whatever gets into a statement: two forged ones must not make the nightly check erase."""
    at = w.later + timedelta(days=1)
    data = jpeg((44, 33))
    photo = store_bytes(w.operator, data, kind="photo", media_type="image/jpeg", deed=make.deed(w.mate, at=at))
    actions.open_finding(
        make.picture(w, at), w.store, title="Worn", severity="minor", text="Seen.", photos=(photo.sha256,),
        deed=make.deed(w.mate, at=at),
    )  # fmt: skip
    what = {"photos": [photo.sha256]}
    asked = record(
        w.operator, "erasure-asked", {"what": what}, deed=make.deed(w.manager, at=at), judged={"roles": ["manager"]}
    )
    body = {"what": what, "asked": asked.record["act"]["id"], "asked_entry": asked.seq}
    forged = record(w.operator, "erasure", body, deed=make.deed(w.engineer, at=at), judged={"roles": ["engineer"]})
    told = StringIO()

    with django_capture_on_commit_callbacks(execute=True), pytest.raises(CommandError):
        call_command("verify_ledger", stdout=told, stderr=told)

    assert f"Entry {forged.seq}: It erases what was entered less than five years before." in told.getvalue()
    assert path_of(w.operator.pk, photo.sha256).read_bytes() == data
    assert StoredFile.objects.get(sha256=photo.sha256).erased_seq is None


def test_a_draft_of_this_month_is_not_lost_with_what_is_years_old(w: SimpleNamespace) -> None:
    """What somebody typed last week and has not signed yet may be all there is of a look."""
    for days in (1000, 20):
        begun = make.draft(w, w.line, "cable", by=w.mate, at=w.at + timedelta(days=1))
        Draft.objects.filter(pk=begun.pk).update(date=w.operator.date_at(w.later - timedelta(days=days)))

    erase_again(w.operator)

    assert [draft.date for draft in Draft.objects.all()] == [w.operator.date_at(w.later - timedelta(days=20))]


def test_a_history_that_was_tampered_with_takes_nothing_away(
    w: SimpleNamespace, django_capture_on_commit_callbacks: Any
) -> None:
    bring_back(w)
    with no_triggers():
        Entry.objects.filter(log=w.operator.log_id, seq=5).update(leaf_hash=b"x" * 32)

    with django_capture_on_commit_callbacks(execute=True), pytest.raises(CommandError):
        call_command("verify_ledger", stdout=StringIO(), stderr=StringIO())

    assert w.photo_path.exists()


def test_a_backup_made_afterwards_does_not_hand_on_what_an_earlier_one_has(w: SimpleNamespace) -> None:
    assert [one.sha256 for one in w.before.manifest.files if one.sha256 == w.photo] == [w.photo]
    assert w.photo not in {one.sha256 for one in [*w.after.manifest.files, *w.after.manifest.absent]}
    assert not list(w.after.folder.rglob(f"*{w.photo}*"))
    # That the earlier one has it is told each time, so that somebody removes it.
    assert backups_before_erasing(w.before.folder.parent) == [w.before.folder]
    out = StringIO()
    call_command("backup", str(w.before.folder.parent), stdout=out, stderr=out)
    assert "1 backups here were made before something was erased by a decision and hold it still" in out.getvalue()
    assert f"the newest of them is {w.before.folder}." in out.getvalue()


def test_restored_it_is_still_erased_and_in_order(w: SimpleNamespace, settings: Any, tmp_path: Path) -> None:
    emptied()
    settings.MEDIA_ROOT = tmp_path / "files"
    out = StringIO()

    call_command("restore", str(w.after.folder), stdout=out, stderr=out)

    assert "Kestrel Hollow: 0 faults." in out.getvalue()
    assert not list((tmp_path / "files").rglob(f"*{w.photo}*"))
    assert not Disclosure.objects.filter(subject=w.technician.ref).exists()


def test_who_restores_an_older_backup_is_told_what_was_erased_since(
    w: SimpleNamespace, settings: Any, tmp_path: Path
) -> None:
    emptied()
    settings.MEDIA_ROOT = tmp_path / "files"
    err = StringIO()

    call_command("restore", str(w.before.folder), stdout=StringIO(), stderr=err)

    assert list((tmp_path / "files").rglob(f"*{w.photo}*"))  # the history in it does not say that it goes
    for gone in (w.name_gone, w.photo_gone):
        assert (
            f"Kestrel Hollow: a later backup knows that entry {gone.seq} of {gone.t.isoformat()} erased"
            in err.getvalue()
        )
    assert "confirm it once more" in err.getvalue()


def test_a_restore_takes_away_what_the_history_in_it_has_erased(
    w: SimpleNamespace, settings: Any, tmp_path: Path, django_capture_on_commit_callbacks: Any
) -> None:
    bring_back(w)
    folder = tmp_path / "backups"
    folder.mkdir()
    made = backup.write(folder, at=w.later + timedelta(days=2))
    assert w.photo in {one.sha256 for one in made.manifest.files}
    emptied()
    settings.MEDIA_ROOT = tmp_path / "files"
    backup_restore.restore(made.folder)

    with django_capture_on_commit_callbacks(execute=True):  # the command does this outside of a transaction
        found = erase_again(Operator.objects.get(log=w.operator.log_id))

    assert (found.notes, found.files) == (len(w.names), 1)
    assert not list((tmp_path / "files").rglob(f"*{w.photo}*"))
    assert "0 faults" in verify()


def test_the_same_photo_is_not_taken_in_again(w: SimpleNamespace, monkeypatch: pytest.MonkeyPatch) -> None:
    from django.core.files.uploadedfile import SimpleUploadedFile

    monkeypatch.setattr("inspections.photos.reencode", lambda data: (w.photo_data, 20, 10))
    file = SimpleUploadedFile("a.jpg", jpeg((20, 10)))

    with pytest.raises(Unusable, match=f"erased by a decision, entry {w.photo_gone.seq}"):
        store_photo(w.operator, file, deed=make.deed(w.mate, at=w.later))
    assert not w.photo_path.exists()
