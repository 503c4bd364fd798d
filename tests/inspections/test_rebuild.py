"""The history derives the tables again: what was changed behind its back is named, wherever it was."""

import uuid
from base64 import b64encode
from datetime import timedelta
from io import StringIO
from types import SimpleNamespace
from typing import Any

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from django.core.management import CommandError, call_command
from django.db import connection

from accounts.deeds import COMMAND, Deed
from accounts.log_keys import STOLEN, begin_log_key, rotate_log_key
from inspections import actions, models
from inspections.judging import Answer
from inspections.rebuild import PROJECTED, chain_faults, checkpoint_faults, projection_faults
from ledger import chain, log_key, notes, sealing, triggers
from ledger.models import Checkpoint, Countersignature, Entry
from tests import make


@pytest.fixture(scope="module")
def busy(day_open: SimpleNamespace) -> SimpleNamespace:
    """A day with one deed of every kind."""
    w = day_open

    def now(minutes: int, who: Any) -> tuple[Any, Any]:
        at = w.at + timedelta(minutes=minutes)
        return make.picture(w, at), make.deed(who, at=at)

    def finding(entry: Entry) -> models.Finding:
        return models.Finding.objects.get(course=w.course, seq=entry.seq)

    picture, deed = now(20, w.technician)
    out = finding(actions.take_out_of_service(picture, w.line, title="Cracked", slot="end-launch", deed=deed))
    picture, deed = now(21, w.technician)
    actions.add_to_finding(picture, out, text="Seen.", photos=(make.photo(w),), tag_number="7", deed=deed)
    picture, deed = now(22, w.technician)
    actions.record_work(
        picture, out, what="repair", text="New.", energy_released=True, locked_out=True, made_by="Us", deed=deed
    )
    make.ride(w, w.line, at=w.at + timedelta(minutes=23))
    picture, deed = now(23, w.mate)
    actions.record_reinspection(picture, out, answer=Answer(mark="sound"), deed=deed)
    picture, deed = now(24, w.manager)
    actions.release(
        picture, out, ticks=frozenset(("area", "intact", "clear", "told")), tag_removed_by="applier", deed=deed
    )
    picture, deed = now(25, w.technician)
    watch = finding(actions.open_finding(picture, w.line, title="Paint", severity="minor", is_watch=True, deed=deed))
    picture, deed = now(26, w.manager)
    actions.decide_watch(picture, watch, until=w.at.date() + timedelta(days=2), text="Ordered.", deed=deed)
    picture, deed = now(27, w.technician)
    major = finding(actions.open_finding(picture, w.line, title="Cover", severity="major", deed=deed))
    picture, deed = now(28, w.engineer)
    actions.rule(picture, major, until=w.at.date(), text="x", restriction={"mass_max_kg": "90"}, deed=deed)
    picture, deed = now(29, w.guide)
    entry = actions.call_hold(picture, None, cause="thunder", text="West", deed=deed)
    hold = models.Hold.objects.get(seq=entry.seq, course=w.course)
    for minutes, do in ((30, "tell"), (31, "renew"), (62, "lift")):
        picture, deed = now(minutes, w.technician)
        if do == "tell":
            actions.tell_hold(picture, hold, where="launch", text="Gesa", deed=deed)
        elif do == "renew":
            actions.renew_hold(picture, hold, deed=deed)
        else:
            actions.lift_hold(picture, hold, given={"looked": "yes"}, deed=deed)
    sheet = models.Sheet.objects.get(place=w.line, section="cable")
    picture, deed = now(63, w.technician)
    draft = actions.draft_for(picture, w.line, "cable", deed=deed, amends=sheet.pk)
    draft.content = {"MC-10@cable": {"mark": "sound"}}
    draft.save()
    actions.sign_sheet(draft, meaning="I correct it.", reason="Wrong box.", deed=deed)
    picture, deed = now(600, w.technician)
    actions.close_day(picture, riders={str(w.line.pk): 40}, text="Quiet.", deed=deed)
    picture, deed = now(601, w.manager)
    actions.record_paper(
        w.course, kind="day_sheet", number="1", pdf=b"%PDF-1.7", date=w.at.date().isoformat(),
        sign_off=models.SignOff.objects.latest("seq"), deed=deed,
    )  # fmt: skip
    return w


pytestmark = pytest.mark.usefixtures("busy")


def faults(w: SimpleNamespace) -> list[str]:
    return [*chain_faults(w.operator), *projection_faults(w.operator)]


def test_a_day_with_every_deed_is_derived_again_row_for_row(w: SimpleNamespace) -> None:
    assert faults(w) == []
    for name in PROJECTED:  # none of the comparisons was of nothing
        assert getattr(models, name).objects.exists(), name

    out = StringIO()
    call_command("verify_ledger", stdout=out)
    assert "0 faults" in out.getvalue()


CHANGED: dict[str, dict[str, Any]] = {
    "Day": {"opens_at": None},
    "Sheet": {"verdict": "withdraw"},
    "Reading": {"verdict": "watch"},
    "ItemState": {"value": "1234"},
    "Ride": {"verdict": "withdraw"},
    "Finding": {"severity": "minor"},
    "FindingStep": {"person_ref": "p-other"},
    "SignOff": {"lines": {}},
    "Closing": {"riders": {}},
    "RiderCount": {"riders": 39},
    "Paper": {"sha256": "0" * 64},
}


@pytest.mark.parametrize("name", PROJECTED)
def test_a_row_that_was_changed_is_named(w: SimpleNamespace, name: str) -> None:
    model = getattr(models, name)
    row = model._base_manager.filter(**({"severity": "critical"} if name == "Finding" else {})).order_by("seq").last()
    fields = {"renewed_at": row.renewed_at - timedelta(minutes=9)} if name == "Hold" else CHANGED[name]
    model._base_manager.filter(pk=row.pk).update(**fields)

    [fault] = faults(w)
    # Of a structure only the part that differs is told.
    assert f"{name} {row.pk}: {next(iter(fields))}" in fault
    assert ", the history says " in fault
    assert len(fault) < 400


@pytest.mark.parametrize("name", sorted({*PROJECTED} - {"Day", "Sheet", "Finding", "SignOff"}))
def test_a_row_that_was_deleted_is_named(w: SimpleNamespace, name: str) -> None:
    model = getattr(models, name)
    row = model._base_manager.order_by("seq").last()
    pk = row.pk
    model._base_manager.filter(pk=pk)._raw_delete("default")

    assert faults(w) == [f"{name} {pk}: the row that the history makes is missing."]


@pytest.mark.parametrize("name", ["Ride", "Hold", "Finding", "RiderCount", "ItemState", "FindingStep", "Closing"])
def test_a_row_that_was_added_is_named(w: SimpleNamespace, name: str) -> None:
    row = getattr(models, name)._base_manager.order_by("seq").last()
    row.pk = uuid.uuid4() if name in {"Ride", "Hold", "Finding", "Closing"} else "made-up"
    row.save(force_insert=True)

    assert faults(w) == [f"{name} {row.pk}: no entry of the history explains this row."]


# --- the entries themselves, with the triggers taken away as their owner could


@pytest.fixture
def unguarded(w: SimpleNamespace) -> None:
    triggers.drop(connection)


def _entry(w: SimpleNamespace, kind: str) -> Entry:
    return Entry.objects.filter(log=w.operator.log, kind=kind).earliest("seq")


def _store(entry: Entry, **fields: Any) -> None:
    Entry.objects.filter(log_id=entry.log_id, seq=entry.seq).update(**fields)


def _chain(w: SimpleNamespace) -> list[str]:
    return list(chain_faults(w.operator))


def test_bytes_that_were_changed_are_named(w: SimpleNamespace, unguarded: None) -> None:
    entry = _entry(w, "ride")
    changed = bytes(entry.data).replace(b'"verdict":"ok"', b'"verdict":"OK"', 1)
    assert changed != bytes(entry.data)
    _store(entry, data=changed)

    assert f"Entry {entry.seq}: The stored hash is not the hash of the stored bytes." in _chain(w)
    with pytest.raises(CommandError, match="not in order"):
        call_command("verify_ledger", stdout=StringIO(), stderr=StringIO())


def test_bytes_changed_with_their_hash_break_the_link_of_the_next(w: SimpleNamespace, unguarded: None) -> None:
    entry = _entry(w, "ride")
    changed = bytes(entry.data).replace(b'"verdict":"ok"', b'"verdict":"OK"', 1)
    _store(entry, data=changed, leaf_hash=chain.leaf_hash(changed))

    found = _chain(w)
    assert f"Entry {entry.seq}: The stored frontier is not that of the entries so far." in found
    assert f"Entry {entry.seq + 1}: The entry does not name the entry before it." in found


def test_bytes_that_are_not_canonical_are_named(w: SimpleNamespace, unguarded: None) -> None:
    entry = _entry(w, "ride")
    _store(entry, data=bytes(entry.data).replace(b'","', b'", "', 1))

    assert any(f"Entry {entry.seq}: The bytes are not canonical" in fault for fault in _chain(w))


def test_an_entry_that_was_taken_out_is_named(w: SimpleNamespace, unguarded: None) -> None:
    entry = _entry(w, "ride")
    Entry.objects.filter(log_id=entry.log_id, seq=entry.seq)._raw_delete("default")

    found = _chain(w)
    assert f"Entry {entry.seq + 1}: Entry {entry.seq} is missing." in found
    assert f"Entry {entry.seq + 1}: The entry does not name the entry before it." in found


def test_an_entry_appended_past_the_actions_has_no_row(w: SimpleNamespace, unguarded: None) -> None:
    """A whole entry made by hand, with right number, link, hash and frontier: the tables give it away."""
    last = Entry.objects.filter(log=w.operator.log).latest("seq")
    record = _entry(w, "ride").record
    ride_id = str(uuid.uuid4())
    record |= {"seq": last.seq + 1, "prev": chain.leaf_hash(bytes(last.data)).hex(), "t": last.record["t"]}
    record["act"] = {**record["act"], "id": ride_id}
    data = chain.canonical(record)
    leaf = chain.leaf_hash(data)
    tree = chain.Frontier.from_bytes(last.seq + 1, bytes(last.frontier)).appended(leaf)
    Entry(
        log=w.operator.log, seq=last.seq + 1, kind="ride", act_id=ride_id, t=last.t, data=data, leaf_hash=leaf,
        frontier=tree.to_bytes(),
    ).save(force_insert=True)  # fmt: skip

    assert faults(w) == [f"Ride {ride_id}: the row that the history makes is missing."]


def test_times_that_run_backwards_and_acts_that_stand_twice_are_named() -> None:
    def rows(*changes: dict[str, Any]) -> list[tuple[int, bytes, bytes, bytes]]:
        found, prev, tree = [], "", chain.Frontier()
        for seq, change in enumerate(changes):
            act = {"id": change.pop("act", str(seq))}
            record = {
                "v": 1,
                "log": "L",
                "seq": seq,
                "prev": prev,
                "t": "2026-01-01",
                "kind": "k",
                "act": act,
                "auth": {},
            }
            data = chain.canonical({**record, **change})
            leaf = chain.leaf_hash(data)
            tree = tree.appended(leaf)
            found.append((seq, data, leaf, tree.to_bytes()))
            prev = leaf.hex()
        return found

    def sentences(*changes: dict[str, Any]) -> list[str]:
        return [fault.sentence for fault in chain.faults("L", rows(*changes))]

    assert sentences({}, {}, {}) == []
    assert sentences({}, {"t": "2025-12-31"}) == ["The time is earlier than that of the entry before."]
    assert sentences({}, {"act": "0"}) == ["The act has no identity of its own."]
    assert sentences({}, {"log": "M"}) == ["The entry belongs to another log."]
    assert sentences({}, {"v": 2}) == ["The format version is not known."]
    assert sentences({}, {"seq": 7}) == ["The number in the entry is not its place in the log."]


def test_the_day_after_is_derived_too(w: SimpleNamespace) -> None:
    tomorrow = w.at + timedelta(days=1)
    for place, section in make.sections(w, at=tomorrow):
        make.sign(w, place, section, at=tomorrow)

    assert faults(w) == []


# --- what was signed of it


SEED = bytes(range(32))


@pytest.fixture
def sealed(w: SimpleNamespace, settings: Any) -> Checkpoint:
    settings.LOG_KEY = b64encode(SEED).decode()
    at = w.t(9 * 60)
    deed = Deed(by=make.founder_of(w.operator), at=at, how=COMMAND)
    return begin_log_key(w.operator, log_key.configured(), deed=deed)  # type: ignore[arg-type]


def _signed(w: SimpleNamespace) -> list[str]:
    return list(checkpoint_faults(w.operator))


def test_what_was_signed_agrees_with_the_entries(w: SimpleNamespace, sealed: Checkpoint) -> None:
    assert _signed(w) == []
    out = StringIO()
    call_command("verify_ledger", stdout=out)
    assert "signed 1 times, 0 faults" in out.getvalue()


@pytest.mark.parametrize(
    ("column", "sentence"),
    [
        ("root", "the entries up to there are not those that were signed"),
        ("note", "is false"),
        ("frontier", "the entries up to there are not those that were signed"),
    ],
)
def test_what_was_signed_and_does_not_agree_is_named(
    w: SimpleNamespace, sealed: Checkpoint, unguarded: None, column: str, sentence: str
) -> None:
    rows = Checkpoint.objects.filter(log=w.operator.log)
    if column == "root":
        rows.update(root=b"r" * 32)
    elif column == "note":
        rows.update(note=sealed.note.replace(f"\n{sealed.size}\n", f"\n{sealed.size - 1}\n"))
    else:
        last = Entry.objects.get(log=w.operator.log, seq=sealed.size - 1)
        _store(last, frontier=bytes(len(last.frontier)))
    assert any(sentence in one for one in _signed(w))
    with pytest.raises(CommandError, match="not in order"):
        call_command("verify_ledger", stdout=StringIO(), stderr=StringIO())


def test_a_state_signed_by_another_key_is_named(w: SimpleNamespace, sealed: Checkpoint, unguarded: None) -> None:
    text, _lines = notes.split(sealed.note)
    other = Ed25519PrivateKey.from_private_bytes(bytes(32))
    Checkpoint.objects.filter(log=w.operator.log).update(
        note=notes.signed(text, (sealing.name_of(w.operator.log), other))
    )
    assert _signed(w) == [f"Checkpoint {sealed.size}: none of the known keys signed this."]


def test_a_stolen_key_stops_no_check_of_what_it_signed_before(
    w: SimpleNamespace, sealed: Checkpoint, unguarded: None
) -> None:
    """States lie between the last that is believed and the exchange: they are told, and the tables still compared."""
    new, at = Ed25519PrivateKey.from_private_bytes(bytes([2]) * 32), w.t(10 * 60)
    deed = Deed(by=make.founder_of(w.operator), at=at, how=COMMAND)
    old = log_key.configured()
    rotate_log_key(w.operator, new, old=old, reason=STOLEN, good_until=sealed.size - 1, deed=deed)
    assert _signed(w) == []
    out = StringIO()
    call_command("verify_ledger", stdout=out)
    told = f"State of {sealed.size} entries: signed only by a key that is believed for {sealed.size - 1} entries."
    assert told in out.getvalue()
    assert out.getvalue().count("State of") == 1
    models.RiderCount.objects.update(riders=39)
    with pytest.raises(CommandError, match="not in order"):
        call_command("verify_ledger", stdout=StringIO(), stderr=StringIO())
    # What the old key signed after the exchange stays a fault.
    last = sealing.newest(w.operator.log)
    assert last is not None
    assert old is not None
    text, _lines = notes.split(last.note)
    rows = Checkpoint.objects.filter(log=w.operator.log, size=last.size)
    rows.update(note=notes.signed(text, (sealing.name_of(w.operator.log), old)))
    assert _signed(w) == [f"Checkpoint {last.size}: only a key that was exchanged before signed this."]


def test_what_a_witness_said_is_held_to_the_state_it_saw(
    w: SimpleNamespace, sealed: Checkpoint, unguarded: None
) -> None:
    witness = Ed25519PrivateKey.from_private_bytes(bytes([9]) * 32)
    line = notes.cosigned(sealed.note, "witness.example", witness, unix_time=1_780_000_000)
    row = Countersignature.objects.create(
        log=w.operator.log, size=sealed.size, witness="witness.example", line=line, seen_at=w.at, received_at=w.at,
        key=notes.key_of("witness.example", witness, notes.COSIGNATURE).text,
    )  # fmt: skip
    assert _signed(w) == []
    false = line.replace(line[40:48], "AAAAAAAA")
    Countersignature.objects.filter(log=w.operator.log).update(line=false)
    assert [one.startswith(f"Checkpoint {row.size}, witness witness.example: ") for one in _signed(w)] == [True]


def test_an_entry_of_a_time_to_come_is_told_at_night(
    busy: SimpleNamespace, clock: Any, capsys: pytest.CaptureFixture[str]
) -> None:
    """Somebody set the server's clock on by a year for an hour: the history goes on, and does not pass it over."""
    newest = Entry.objects.filter(log=busy.operator.log_id).latest("seq").t
    clock.move_to(newest - timedelta(minutes=5))
    call_command("verify_ledger", "--chain-only", stdout=StringIO())
    clock.move_to(newest - timedelta(minutes=6))
    with pytest.raises(CommandError, match="1 fault"):
        call_command("verify_ledger", "--chain-only", stdout=StringIO())
    told = capsys.readouterr().err
    assert f"The newest entry is of {newest:%Y-%m-%d %H:%M} UTC, which is still to come" in told
