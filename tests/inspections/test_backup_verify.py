"""What the nightly check tells: by mail, and of a history that was set back by an old backup.

That only a state kept outside the database shows a history that was set back, and that a log is never to sign a state
that does not continue an earlier one: C2SP tlog-checkpoint and tlog-witness (READ in the dossier on trust, part 3).
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from io import StringIO
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from django.core.management import CommandError, call_command
from django.db import connection, connections, transaction

from inspections import backup_restore, models
from inspections.backup_kept import NotUsable, kept_faults
from inspections.management.commands import verify_ledger
from inspections.rebuild import chain_faults, checkpoint_faults
from ledger import notes, sealing, triggers
from ledger.models import Checkpoint, Entry, Log
from ledger.sealing import NotSealed
from tests import make
from tests.inspections.backup_course import LOG_KEY, SEED, at, hold_and_sign_again, played


@pytest.fixture(scope="module")
def made(django_db_setup: None, django_db_blocker: Any) -> SimpleNamespace:
    with django_db_blocker.unblock():
        return played()


@pytest.fixture
def installed(made: SimpleNamespace, db: None, settings: Any, tmp_path: Path) -> SimpleNamespace:
    """An installation with the log key and the addresses, into which a backup can be put."""
    settings.MEDIA_ROOT, settings.LOG_KEY = tmp_path / "files", LOG_KEY
    settings.TROUBLE_TO = ["office@example.org", "auditor@example.org"]
    return made


def verify(*arguments: str) -> tuple[str, str]:
    out, err = StringIO(), StringIO()
    call_command("verify_ledger", *arguments, stdout=out, stderr=err)
    return out.getvalue(), err.getvalue()


# --- an old backup


def test_an_old_backup_is_told_by_a_state_that_was_kept_elsewhere(installed: SimpleNamespace, tmp_path: Path) -> None:
    backup_restore.restore(installed.old.folder)
    later, earlier = tmp_path / "later.txt", tmp_path / "earlier.txt"
    later.write_text(installed.states[-1].note, encoding="utf-8")
    earlier.write_text(installed.states[0].note, encoding="utf-8")

    # By itself it is in order, as every old history is.
    assert " 0 faults." in verify()[0]
    assert " 0 faults." in verify("--kept", str(earlier))[0]
    err = StringIO()
    with pytest.raises(CommandError, match="not in order: 1 fault"):
        call_command("verify_ledger", "--kept", str(earlier), "--kept", str(later), stdout=StringIO(), stderr=err)
    count = Entry.objects.count()
    assert count < installed.states[-1].size
    assert (
        f"later.txt: Kestrel Hollow: the kept state has {installed.states[-1].size} entries, the history only {count}."
        in err.getvalue()
    )


def test_where_the_later_state_is_put_back_nothing_more_is_signed(installed: SimpleNamespace) -> None:
    """The state is of more entries than there are: the log refuses to sign, and the check names it."""
    backup_restore.restore(installed.old.folder)
    log, later = Log.objects.get(), installed.states[-1]
    sealing.seal(log, at=at(60))  # as it is, it goes on from its own last state: a second history begins here
    with transaction.atomic():
        Checkpoint(
            log=log, size=later.size, root=bytes(later.root), note=later.note, made_at=later.made_at
        ).save(force_insert=True)  # fmt: skip

    with pytest.raises(NotSealed) as caught:
        sealing.seal(log, at=at(61))
    assert caught.value.code == "history-changed"
    [fault] = checkpoint_faults(installed.w.operator)
    assert fault == f"Checkpoint {later.size}: the entries up to there are not those that were signed."


def test_a_history_that_went_on_differently_is_told(installed: SimpleNamespace) -> None:
    backup_restore.restore(installed.old.folder)
    for minutes in (30, 60, 90):
        hold_and_sign_again(installed.w, minutes)
    later = installed.states[-1]
    assert Entry.objects.count() > later.size
    assert kept_faults(later.note) == [
        f"Kestrel Hollow: the entries up to {later.size} are not those of the kept state."
    ]


def test_a_kept_state_that_is_none_is_not_believed(installed: SimpleNamespace) -> None:
    backup_restore.restore(installed.new.folder)
    note = installed.states[-1].note
    text, _lines = notes.split(note)
    name = sealing.name_of(Log.objects.get())
    other = notes.signed(text, (name, Ed25519PrivateKey.from_private_bytes(bytes(32))))
    elsewhere = notes.Checkpoint("lineworthy/another", 3, bytes(32)).text
    assert kept_faults(note) == []
    mine = Ed25519PrivateKey.from_private_bytes(SEED)
    for bad, said in (
        (note.replace("\n\n", "\nx\n\n"), "the signature of"),
        ("as I remember", "it has fewer than three lines"),
        (other, "none of the known keys signed this"),
        (notes.signed(elsewhere, ("lineworthy/another", mine)), "of a history that is not here"),
    ):
        with pytest.raises(NotUsable, match=said):
            kept_faults(bad)


def test_a_kept_state_may_be_typed_off_a_sheet(installed: SimpleNamespace, tmp_path: Path) -> None:
    backup_restore.restore(installed.new.folder)
    origin, size, root, *rest = installed.states[-1].note.split("\n")
    name, signature = next(line for line in rest if line.startswith(notes.DASH))[2:].split(" ")
    for typed in (
        f"{origin}\n{size}\n{root}",
        f"\ufeff{origin}\r\n {size} \r\n{root[:22]}\r\n{root[22:]}\r\n\r\n- {name}\r\n{signature}\r\n",
    ):
        assert kept_faults(typed) == []
        other = f"{'B' if root[5] != 'B' else 'C'}"
        assert kept_faults(typed.replace(root[:6], root[:5] + other)) == [
            f"Kestrel Hollow: the entries up to {size} are not those of the kept state."
        ]
    with pytest.raises(NotUsable):
        kept_faults(f"{origin}\n{size}\n{root[:-2]}")
    (tmp_path / "kept.txt").write_text("as I remember")
    with pytest.raises(CommandError, match=r"kept\.txt: The kept state cannot be used"):
        verify("--kept", str(tmp_path / "kept.txt"))


def test_a_kept_state_that_cannot_be_read_is_told(installed: SimpleNamespace, tmp_path: Path) -> None:
    make.operator()
    with pytest.raises(CommandError, match=r"none\.txt cannot be read"):
        verify("--kept", str(tmp_path / "none.txt"))


@pytest.mark.django_db(transaction=True)
def test_a_deed_done_while_the_check_runs_is_no_fault(transactional_db: None, monkeypatch: pytest.MonkeyPatch) -> None:
    operator = make.operator()
    founder = make.founder_of(operator)

    def work() -> None:
        try:
            make.person(operator, "guide", by=founder)
        finally:
            connections.close_all()

    def meanwhile(of: Any) -> Any:
        yield from chain_faults(of)
        with ThreadPoolExecutor(1) as pool:
            pool.submit(work).result(timeout=20)

    monkeypatch.setattr(verify_ledger, "chain_faults", meanwhile)
    out, _err = verify()
    monkeypatch.undo()
    assert "Kestrel Hollow: 1 entries, " in out
    assert Entry.objects.count() == 2
    assert "Kestrel Hollow: 2 entries, " in verify()[0]


# --- by mail


def spoil(count: int) -> None:
    for row in models.Reading.objects.order_by("seq", "position")[:count]:
        models.Reading.objects.filter(pk=row.pk).update(verdict="watch")


def test_nothing_is_mailed_of_a_history_that_is_in_order(installed: SimpleNamespace, mailoutbox: list[Any]) -> None:
    backup_restore.restore(installed.new.folder)
    assert " 0 faults." in verify("--mail")[0]
    assert mailoutbox == []


@pytest.mark.parametrize(("count", "more"), [(1, None), (20, None), (21, 1), (23, 3)])
def test_trouble_is_mailed_with_the_first_faults_and_their_number(
    installed: SimpleNamespace, mailoutbox: list[Any], count: int, more: int | None
) -> None:
    backup_restore.restore(installed.new.folder)
    spoil(count)
    err = StringIO()
    with pytest.raises(CommandError, match=f"not in order: {count} fault"):
        call_command("verify_ledger", "--mail", stdout=StringIO(), stderr=err)

    [mail] = mailoutbox
    assert mail.to == ["office@example.org", "auditor@example.org"]
    assert mail.subject == f"Lineworthy: the history is not in order, {count} fault{'s' if count > 1 else ''}"
    told = [line for line in mail.body.splitlines() if "the history says" in line]
    assert told == [line for line in err.getvalue().splitlines() if line][:20]
    assert (f"And {more} more." in mail.body) == (more is not None)


def test_without_the_option_nothing_is_mailed(installed: SimpleNamespace, mailoutbox: list[Any]) -> None:
    backup_restore.restore(installed.new.folder)
    spoil(1)
    with pytest.raises(CommandError):
        verify()
    assert mailoutbox == []


def test_what_was_signed_and_does_not_agree_is_mailed(installed: SimpleNamespace, mailoutbox: list[Any]) -> None:
    """Done as the database's owner could, with the triggers taken away."""
    backup_restore.restore(installed.new.folder)
    triggers.drop(connection)
    Checkpoint.objects.update(root=b"r" * 32)
    with pytest.raises(CommandError, match="not in order"):
        verify("--mail")
    assert "the entries up to there are not those that were signed" in mailoutbox[0].body


def test_a_check_that_breaks_off_is_mailed_and_not_hidden(
    installed: SimpleNamespace, mailoutbox: list[Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    make.operator()

    def broken(operator: Any) -> Any:
        raise RuntimeError("the disk does not answer")

    monkeypatch.setattr(verify_ledger, "chain_faults", broken)
    with pytest.raises(RuntimeError, match="does not answer"):
        verify("--mail")
    assert "The check itself broke off: the disk does not answer." in mailoutbox[0].body


def test_mail_to_nobody_is_refused_before_anything_is_checked(
    installed: SimpleNamespace, settings: Any, mailoutbox: list[Any]
) -> None:
    settings.TROUBLE_TO = []
    make.operator()
    with pytest.raises(CommandError, match="LINEWORTHY_TROUBLE_TO names no address"):
        verify("--mail")
