"""What can be forgotten: by whom, from when on, and what is left.

That a record is kept for its legal term and names can go afterwards: GDPR article 17(1) and 17(3)(b) (READ in the
dossier on trust, part 5). The five years, the life of a part, and that manager and engineer decide together are rules
of the project.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import datetime, timedelta
from types import SimpleNamespace
from typing import Any

import pytest
from django.db import transaction
from django.test import RequestFactory

from accounts import actions as people
from accounts.models import User
from courses.models import StoredFile
from inspections import actions, backup_rows, terms
from inspections.erasure_check import erasure_faults, forgotten_by
from inspections.errors import Refused
from inspections.views.papers import PAPER_KEPT, paper_of
from ledger.errors import AlreadyRecorded
from ledger.models import Disclosure, Entry
from tests import make
from tests.inspections.erasing_world import NOTE, ask, erase, faults, retire, world


@pytest.fixture(scope="module")
def built(django_db_setup: None, django_db_blocker: Any, morning: datetime) -> Iterator[SimpleNamespace]:
    with django_db_blocker.unblock(), transaction.atomic():
        yield world(morning)
        transaction.set_rollback(True)


@pytest.fixture
def w(built: SimpleNamespace, db: None) -> Iterator[SimpleNamespace]:
    w = SimpleNamespace(**vars(built))
    for name in ("technician", "manager", "engineer", "mate", "deputy", "part"):
        setattr(w, name, type(getattr(w, name)).objects.get(pk=getattr(w, name).pk))
    data = w.photo_path.read_bytes()
    yield w
    if not w.photo_path.exists():
        w.photo_path.write_bytes(data)


def names(w: SimpleNamespace) -> int:
    return Disclosure.objects.filter(log=w.operator.log_id, subject=w.technician.ref).count()


# --- a name


def test_a_name_goes_by_two_deeds_and_the_history_stays_in_order(w: SimpleNamespace) -> None:
    before, entries = names(w), {row.seq: bytes(row.data) for row in Entry.objects.filter(log=w.operator.log_id)}
    assert before > 5
    asked = ask(w, person=w.technician.ref)
    assert names(w) == before  # asking takes nothing away

    done = erase(w, asked)

    assert names(w) == 0
    assert done.record["act"]["what"] == {"person": w.technician.ref}
    assert (done.record["act"]["asked"], done.record["act"]["asked_entry"]) == (asked.record["act"]["id"], asked.seq)
    assert done.record["judged"] == {"roles": ["engineer"]}
    assert {row.seq: bytes(row.data) for row in Entry.objects.filter(seq__in=entries)} == entries
    assert faults(w) == []


def test_of_the_person_nothing_is_left_in_any_table_but_the_pseudonym(w: SimpleNamespace) -> None:
    name, email = w.technician.name, w.technician.email
    assert any(name in line for model in backup_rows.tables() for line in backup_rows.lines(model))

    erase(w, ask(w, person=w.technician.ref))

    for model in backup_rows.tables():
        left = [line for line in backup_rows.lines(model) if name in line or email in line]
        assert left == [], model
    user = User.objects.get(pk=w.technician.pk)
    assert (user.name, user.is_active, user.ref) == ("name erased", False, w.technician.ref)
    assert not user.has_usable_password()
    again = make.deed(w.manager, at=w.later + timedelta(minutes=2))
    with pytest.raises(people.Refused, match="closed"):
        people.give_role(w.operator, user, "guide", deed=again)
    with pytest.raises(people.Refused, match="closed"):
        people.invite(w.operator, user.email, "Tarik Oben", ["guide"], deed=again.part("again"))
    # Who comes back is somebody new to the record.
    back = people.invite(w.operator, email, name, ["guide"], deed=again.part("new"))
    assert back.ref != user.ref


def test_a_name_is_kept_while_there_is_a_role_and_five_years_after(w: SimpleNamespace, refused: Any) -> None:
    with refused("in-use"):
        ask(w, person=w.mate.ref)
    ended = w.at + timedelta(days=10)
    assert terms.first_day(w.operator, ended).isoformat() == "2031-06-26"
    # 25 June 2031 is the last day of the term, in the office's zone to its last minute.
    last = w.operator.end_of(terms.first_day(w.operator, ended) - timedelta(days=1))
    with refused("term"):
        ask(w, person=w.technician.ref, at=last - timedelta(minutes=1))
    ask(w, person=w.technician.ref, at=last)


def test_a_later_entry_about_the_person_begins_the_term_anew(w: SimpleNamespace) -> None:
    found = people.authorise(w.operator, w.mate, "hand", (w.at + timedelta(days=300)).date(),
                             deed=make.deed(w.manager, at=w.at + timedelta(days=20)))  # fmt: skip
    taken = people.take_role(w.operator, w.mate, "technician", deed=make.deed(w.manager, at=w.at + timedelta(days=30)))
    assert taken.until is not None
    mate = User.objects.get(pk=w.mate.pk)
    late = w.at + timedelta(days=400)
    found.refresh_from_db()
    make.course_actions.add_component(  # anything: the log's time goes on
        w.course, kind="other", tag="Z-9", label=mate.ref, deed=make.deed(w.manager, at=late)
    )
    refusal = terms.kept_person(w.operator, mate.ref, at=w.years(5, days=60))
    assert refusal is not None
    assert refusal.first == terms.first_day(w.operator, late)
    assert str(Entry.objects.filter(log=w.operator.log_id).latest("seq").seq) in refusal.sentence
    assert terms.kept_person(w.operator, mate.ref, at=w.years(6, days=60)) is None


def test_a_longer_term_of_the_installation_counts(w: SimpleNamespace, refused: Any, settings: Any) -> None:
    settings.KEEP_YEARS = 10
    with refused("term"):
        ask(w, person=w.technician.ref)
    ask(w, person=w.technician.ref, at=w.years(10))


def test_a_longer_term_of_a_course_counts(w: SimpleNamespace, refused: Any) -> None:
    """It stands in the history that records are kept as long, and that it can only be made longer."""
    make.course_actions.change_course(w.course, changes={"retention_years": 9}, deed=make.deed(w.manager, at=w.at))
    retire(w, at=w.at + timedelta(days=12))
    for what in ({"person": w.technician.ref}, {"notes": [w.note]}, {"photos": [w.photo]}):
        with refused("term"):
            ask(w, **what, at=w.years(8))
        ask(w, **what, at=w.years(9))


def test_a_longer_term_at_another_operator_counts_there(w: SimpleNamespace, refused: Any) -> None:
    other = make.operator("Far Away", at=w.at)
    there = make.founder_of(other)
    people.invite(other, w.technician.email, "Tarik", ["technician"], deed=make.deed(there, at=w.at))
    make.course_actions.found_course(
        other, name="Far", tz="Europe/Vienna", retention_years=9, deed=make.deed(there, at=w.at)
    )
    people.take_role(other, w.technician, "technician", deed=make.deed(there, at=w.at + timedelta(days=10)))
    with refused("term"):
        ask(w, person=w.technician.ref, at=w.years(8))
    ask(w, person=w.technician.ref, at=w.years(9))


def test_a_person_who_still_works_at_another_operator_keeps_the_log_in(w: SimpleNamespace, refused: Any) -> None:
    other = make.operator("Far Away", at=w.at)
    people.invite(other, w.technician.email, "Tarik", ["technician"], deed=make.deed(make.founder_of(other), at=w.at))
    with refused("in-use"):
        ask(w, person=w.technician.ref)


# --- notes, photos, papers


def test_a_note_goes_and_no_other(w: SimpleNamespace) -> None:
    held = Disclosure.objects.filter(log=w.operator.log_id).count()
    assert any(NOTE in line for line in backup_rows.lines(Disclosure))

    # A sheet that was begun and left, with the same words in it.
    begun = make.draft(w, w.line, "cable", by=w.mate, at=w.at + timedelta(days=1))
    actions.keep_answers(begun, {"A": {"note": NOTE}}, at=w.at + timedelta(days=1))

    erase(w, ask(w, notes=[w.note]))

    assert not any(NOTE in line for model in backup_rows.tables() for line in backup_rows.lines(model))
    assert Disclosure.objects.filter(log=w.operator.log_id).count() == held - 1 + 3  # two signers, one reason
    assert faults(w) == []


def test_a_name_of_somebody_with_a_log_in_is_no_note(w: SimpleNamespace, refused: Any) -> None:
    with refused("no-such-thing"):
        ask(w, notes=[w.found.record["act"]["signer"]["commit"]])


def test_a_photo_stays_for_the_life_of_its_part_and_five_years(w: SimpleNamespace, refused: Any) -> None:
    with refused("in-use"):
        ask(w, photos=[w.photo])
    refusal = terms.kept_photo(w.operator, w.photo, at=w.at + timedelta(days=2))
    assert refusal is not None
    assert "HA-01" in refusal.sentence
    assert "17 June 2031" in refusal.sentence
    retire(w, at=w.at + timedelta(days=12))
    with refused("term"):
        ask(w, photos=[w.photo], at=w.years(4, days=300))
    ask(w, photos=[w.photo])


def test_the_bytes_of_a_photo_go_when_the_deed_has_ended_well(
    w: SimpleNamespace, django_capture_on_commit_callbacks: Any
) -> None:
    retire(w, at=w.at + timedelta(days=12))
    asked = ask(w, photos=[w.photo])
    with django_capture_on_commit_callbacks(execute=False) as waiting:
        done = erase(w, asked)
    assert w.photo_path.exists()

    for one in waiting:
        one()

    assert not w.photo_path.exists()
    row = StoredFile.objects.get(sha256=w.photo)
    assert (row.erased_seq, row.erased_at) == (done.seq, done.t)
    assert faults(w) == []


def test_no_deed_names_a_file_that_was_erased(
    w: SimpleNamespace, refused: Any, django_capture_on_commit_callbacks: Any
) -> None:
    """A hash stands in a form that comes back, and anybody can send another: one entry with it, and every check of the
    record finds a fault for ever."""
    retire(w, at=w.at + timedelta(days=12))
    with django_capture_on_commit_callbacks(execute=True):
        erase(w, ask(w, photos=[w.photo]))
    entries = Entry.objects.filter(log=w.operator.log_id).count()

    with refused("file-erased"):
        actions.open_finding(
            make.picture(w, w.later), w.store, title="Again", severity="minor", text="Seen again.", photos=(w.photo,),
            deed=make.deed(w.manager, at=w.later),
        )  # fmt: skip

    assert Entry.objects.filter(log=w.operator.log_id).count() == entries
    form = RequestFactory().post("/", {PAPER_KEPT: w.photo})
    assert paper_of(form, w.course, deed=make.deed(w.manager, at=w.later)) == ""
    assert faults(w) == []


def test_a_day_sheet_goes_as_a_photo_does(w: SimpleNamespace, django_capture_on_commit_callbacks: Any) -> None:
    path = w.photo_path.parent.parent / w.paper.sha256[:2] / w.paper.sha256
    data = path.read_bytes()
    with django_capture_on_commit_callbacks(execute=True):
        erase(w, ask(w, papers=[w.paper.sha256]))
    assert not path.exists()
    assert faults(w) == []
    path.write_bytes(data)


def test_what_is_no_part_of_the_record_cannot_be_asked_for(w: SimpleNamespace, refused: Any) -> None:
    wrong: list[dict[str, Any]] = [
        {},
        {"person": "p-nobody"},
        {"notes": []},
        {"notes": ["0" * 64]},
        {"photos": ["0" * 64]},
        {"photos": ["x"]},
        {"papers": [w.photo]},
        {"sources": ["0" * 64]},
        {"notes": [w.note], "photos": []},
    ]
    for what in wrong:
        with refused("no-such-thing"):
            ask(w, **what)


# --- two persons, two roles


@pytest.mark.parametrize(("one", "other"), [("manager", "engineer"), ("engineer", "manager")])
def test_manager_and_engineer_in_either_order(w: SimpleNamespace, one: str, other: str) -> None:
    assert erase(w, ask(w, person=w.technician.ref, by=getattr(w, one)), by=getattr(w, other)).kind == "erasure"


def test_nobody_decides_alone_and_no_two_of_one_role(w: SimpleNamespace, refused: Any) -> None:
    asked = ask(w, person=w.technician.ref)
    with refused("own-asking"):
        erase(w, asked, by=w.manager)
    with refused("same-role"):
        erase(w, asked, by=w.deputy)
    for role in ("guide", "technician", "auditor"):
        with refused("no-right"):
            erase(w, asked, by=w.people[role])
    with refused("no-right"):
        ask(w, person=w.technician.ref, by=w.mate)


def test_who_has_both_roles_still_needs_a_second_person(w: SimpleNamespace, refused: Any) -> None:
    people.give_role(w.operator, w.manager, "engineer", deed=make.deed(make.founder_of(w.operator), at=w.at))
    asked = ask(w, person=w.technician.ref)
    assert asked.record["judged"]["roles"] == ["engineer", "manager"]
    with refused("own-asking"):
        erase(w, asked, by=w.manager)
    erase(w, asked, by=w.deputy)


def test_the_password_belongs_to_each_of_the_deeds(w: SimpleNamespace, refused: Any) -> None:
    asked = ask(w, person=w.technician.ref)
    for act in (
        lambda deed: actions.ask_erasure(w.operator, {"notes": [w.note]}, grounds="over", reason="Over.", deed=deed),
        lambda deed: actions.erase(w.operator, asked.seq, deed=deed),
        lambda deed: actions.withdraw_asking(w.operator, asked.seq, deed=deed),
    ):
        with refused("password-needed"):
            act(make.deed(w.engineer, at=w.later, how="session"))


def test_what_was_withdrawn_or_done_is_not_done_again(w: SimpleNamespace, refused: Any) -> None:
    asked = ask(w, person=w.technician.ref)
    with refused("asked-already"):
        ask(w, person=w.technician.ref, by=w.engineer)
    actions.withdraw_asking(w.operator, asked.seq, deed=make.deed(w.deputy, at=w.later))
    with refused("decided"):
        erase(w, asked)
    again = ask(w, person=w.technician.ref)
    erase(w, again)
    with refused("decided"):
        erase(w, again, by=w.engineer)
    with refused("erased-already"):
        ask(w, person=w.technician.ref)
    with refused("no-such-thing"):
        erase(w, w.found)


def test_grounds_and_reason_are_asked_for(w: SimpleNamespace, refused: Any) -> None:
    deed = make.deed(w.manager, at=w.later)
    with refused("grounds-needed"):
        actions.ask_erasure(w.operator, {"notes": [w.note]}, grounds="tidy", reason="x", deed=deed)
    with refused("reason-needed"):
        actions.ask_erasure(w.operator, {"notes": [w.note]}, grounds="over", reason=" ", deed=deed)


def test_sent_twice_is_done_once(w: SimpleNamespace) -> None:
    asked = ask(w, person=w.technician.ref)
    deed = make.deed(w.engineer, at=w.later)
    done = actions.erase(w.operator, asked.seq, deed=deed)
    with pytest.raises(AlreadyRecorded) as caught:
        actions.erase(w.operator, asked.seq, deed=deed)
    assert caught.value.seq == done.seq


def test_the_term_is_asked_for_again_when_it_is_confirmed(w: SimpleNamespace, refused: Any, settings: Any) -> None:
    asked = ask(w, person=w.technician.ref)
    settings.KEEP_YEARS = 8
    with refused("term"):
        erase(w, asked)


# --- what verify_ledger says


def test_what_lacks_without_a_decision_is_a_fault(w: SimpleNamespace) -> None:
    assert list(erasure_faults(w.operator)) == []
    Disclosure.objects.filter(commit=w.note).delete()
    w.photo_path.unlink()

    told = list(erasure_faults(w.operator))

    assert told[0] == f"Names or notes: 1 lack, and no decision erased them; the first is of entry {w.found.seq}."
    assert told[1].startswith(f"StoredFile {w.photo}: this photo is missing")


def test_a_row_that_says_erased_without_a_decision_is_a_fault(w: SimpleNamespace) -> None:
    StoredFile.objects.filter(sha256=w.photo).update(erased_seq=3)
    [told] = erasure_faults(w.operator)
    assert "entry 3, which does not say so" in told


def test_forged_decisions_are_faults(w: SimpleNamespace) -> None:
    asked, other = ask(w, person=w.technician.ref), ask(w, notes=[w.note])
    done = erase(w, asked)
    history = [entry.record for entry in Entry.objects.filter(log=w.operator.log_id).order_by("seq")]

    def told(change: Any) -> list[str]:
        found = forgotten_by(w.operator).__class__()
        for record in history:
            copy = json.loads(json.dumps(record))
            if record["seq"] == done.seq:
                change(copy)
            found.take(copy)
        assert {seq for seq, _ in found.faults} <= {done.seq}
        return [sentence for _, sentence in found.faults]

    assert told(lambda one: None) == []
    assert told(lambda one: one["act"]["signer"].update(ref=w.manager.ref)) == [
        "The person who asked and the person who confirmed are one."
    ]
    assert told(lambda one: one["judged"].update(roles=["manager"])) == [
        "It was not decided by a manager and an engineer."
    ]
    assert told(lambda one: one.pop("judged")) == ["It was not decided by a manager and an engineer."]
    missing = ["It erases what no entry before it asks for, or what was decided before."]
    assert told(lambda one: one["act"].update(asked=str(done.log_id))) == missing
    changed = ["It erases something else than what was asked for."]
    assert told(lambda one: one["act"].update(what={"photos": [w.photo]})) == changed
    assert told(lambda one: one["act"].update(asked_entry=other.seq)) == changed


def test_nobody_decides_alone_with_an_account_made_for_it(w: SimpleNamespace) -> None:
    asked = ask(w, person=w.technician.ref)
    fresh = make.person(w.operator, "engineer", name="Nora Velt", by=w.manager, at=w.later)
    for days in (0, 29):
        with pytest.raises(Refused) as refused:
            erase(w, asked, by=fresh, at=w.later + timedelta(days=days))
        assert refused.value.code == "role-too-new"
    erase(w, asked, by=fresh, at=w.later + timedelta(days=30))
