"""The table of the history: appending, and what the database itself refuses whoever asks."""

import uuid
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from threading import Barrier
from typing import Any

import pytest
from django.db import DatabaseError, connection, connections, transaction

from ledger import actions, chain
from ledger.errors import AlreadyRecorded
from ledger.models import Disclosure, Entry, Log

AT = datetime(2026, 6, 15, 5, 30, tzinfo=UTC)
AUTH = {"how": "session", "ref": "p-1"}


def append(log: Log, *, at: datetime = AT, act_id: str = "", **act: Any) -> Entry:
    return actions.append(log, "note", {"id": act_id or str(uuid.uuid4()), **act}, auth=AUTH, at=at)


@pytest.fixture
def log(db: None) -> Log:
    return actions.open_log(at=AT)


def rows(log: Log) -> list[tuple[int, bytes, bytes, bytes]]:
    found = Entry.objects.filter(log=log).order_by("seq").values_list("seq", "data", "leaf_hash", "frontier")
    return [(seq, bytes(data), bytes(leaf), bytes(frontier)) for seq, data, leaf, frontier in found]


# --- appending


def test_entries_are_numbered_linked_and_hashed_from_zero(log: Log) -> None:
    entries = [append(log, n=n) for n in range(5)]

    assert [entry.seq for entry in entries] == [0, 1, 2, 3, 4]
    assert entries[0].record["prev"] == ""
    assert [e.record["prev"] for e in entries[1:]] == [chain.leaf_hash(bytes(e.data)).hex() for e in entries[:-1]]
    assert list(chain.faults(str(log.pk), rows(log))) == []


def test_every_log_has_its_own_numbers(log: Log) -> None:
    other = actions.open_log(at=AT)
    append(log)
    append(log)

    assert append(other).seq == 0
    assert list(chain.faults(str(other.pk), rows(other))) == []


def test_an_act_is_recorded_once(log: Log) -> None:
    act_id = str(uuid.uuid4())
    first = append(log, act_id=act_id)
    append(log)

    with pytest.raises(AlreadyRecorded) as caught:
        append(log, act_id=act_id, changed=True)

    assert caught.value.seq == first.seq
    assert Entry.objects.filter(log=log).count() == 2


def test_a_clock_that_was_set_back_does_not_make_the_history_run_backwards(
    log: Log, caplog: pytest.LogCaptureFixture
) -> None:
    append(log, at=AT)

    assert append(log, at=AT - timedelta(minutes=5)).record["t"] == "2026-06-15T05:30:00Z"
    assert caplog.messages == []
    assert append(log, at=AT - timedelta(hours=3)).record["t"] == "2026-06-15T05:30:00Z"
    assert caplog.messages == [
        f"The clock is behind entry 1 of log {log.pk}: 2026-06-15 02:30:00+00:00 is before 2026-06-15 05:30:00+00:00"
    ]
    assert list(chain.faults(str(log.pk), rows(log))) == []


@pytest.mark.parametrize("bad", [{"n": 1.5}, {"n": None}, {"n": 2**53}])
def test_what_is_outside_the_profile_is_not_recorded(log: Log, bad: dict[str, Any]) -> None:
    with pytest.raises(chain.NotCanonical):
        append(log, **bad)

    assert not Entry.objects.filter(log=log).exists()


def test_text_is_recorded_in_nfc(log: Log) -> None:
    assert append(log, who="Rene\u0301").record["act"]["who"] == "Ren\u00e9"


# --- commitments


def test_a_commitment_hides_and_discloses_until_it_is_erased(log: Log) -> None:
    digest = actions.commit(log, {"name": "Ada Larch"}, subject="p-1")
    entry = append(log, signer=digest)
    row = Disclosure.objects.get(commit=digest)

    assert actions.disclosed(digest) == {"name": "Ada Larch"}
    assert chain.commitment(bytes(row.salt), {"name": "Ada Larch"}) == digest
    assert b"Ada" not in bytes(entry.data)

    row.delete()

    assert actions.disclosed(digest) is None
    assert list(chain.faults(str(log.pk), rows(log))) == []


def test_the_same_text_committed_twice_gives_two_commitments(log: Log) -> None:
    assert actions.commit(log, {"note": "worn"}) != actions.commit(log, {"note": "worn"})


# --- what the database refuses


def refused(do: Callable[[], Any], log: Log) -> None:
    before = rows(log)
    with pytest.raises(DatabaseError), transaction.atomic():
        do()
    assert rows(log) == before


def run(sql: str, parameters: list[Any]) -> None:
    with connection.cursor() as cursor:
        cursor.execute(sql, parameters)


def _key(log: Log) -> Any:
    return log.pk.hex if connection.vendor == "sqlite" else log.pk


COLUMNS = "log_id, seq, kind, act_id, t, data, leaf_hash, frontier"


def insert(log: Log, *, seq: int, act_id: uuid.UUID | None = None, verb: str = "INSERT") -> None:
    act = act_id or uuid.uuid4()
    run(
        f"{verb} INTO ledger_entry ({COLUMNS}) VALUES (%s, %s, 'note', %s, %s, %s, %s, %s)",
        [_key(log), seq, act.hex if connection.vendor == "sqlite" else act, AT, b"{}", bytes(32), bytes(32)],
    )


@pytest.fixture
def three(log: Log) -> list[Entry]:
    return [append(log) for _ in range(3)]


def test_changing_an_entry_is_refused(log: Log, three: list[Entry]) -> None:
    refused(lambda: Entry.objects.filter(log=log, seq=1).update(data=b"{}"), log)
    refused(lambda: run("UPDATE ledger_entry SET kind = 'other' WHERE log_id = %s", [_key(log)]), log)


def test_deleting_an_entry_is_refused(log: Log, three: list[Entry]) -> None:
    refused(lambda: Entry.objects.filter(log=log, seq=2).delete(), log)
    refused(lambda: run("DELETE FROM ledger_entry WHERE log_id = %s", [_key(log)]), log)


@pytest.mark.parametrize("seq", [0, 2, 4, -1])
def test_a_number_that_is_not_the_next_is_refused(log: Log, three: list[Entry], seq: int) -> None:
    refused(lambda: insert(log, seq=seq), log)


def test_the_next_number_is_accepted_by_the_same_statement(log: Log, three: list[Entry]) -> None:
    insert(log, seq=3)

    assert len(rows(log)) == 4


def test_an_act_that_stands_already_is_refused_by_the_database_too(log: Log, three: list[Entry]) -> None:
    refused(lambda: insert(log, seq=3, act_id=three[0].act_id), log)


@pytest.mark.skipif(connection.vendor != "sqlite", reason="REPLACE is a statement of SQLite alone.")
def test_replacing_an_entry_is_refused(log: Log, three: list[Entry]) -> None:
    refused(lambda: insert(log, seq=1, verb="INSERT OR REPLACE"), log)
    refused(lambda: insert(log, seq=3, act_id=three[1].act_id, verb="INSERT OR REPLACE"), log)


@pytest.mark.skipif(connection.vendor != "postgresql", reason="TRUNCATE and ON CONFLICT DO UPDATE of PostgreSQL.")
def test_truncating_and_overwriting_are_refused(log: Log, three: list[Entry]) -> None:
    refused(lambda: run("TRUNCATE ledger_entry CASCADE", []), log)
    refused(
        lambda: run(
            "INSERT INTO ledger_entry SELECT * FROM ledger_entry WHERE log_id = %s AND seq = 1 "
            "ON CONFLICT (log_id, seq) DO UPDATE SET data = EXCLUDED.data",
            [_key(log)],
        ),
        log,
    )


# --- at once


@pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite lets one writer in at a time by itself.")
@pytest.mark.django_db(transaction=True)
def test_many_who_append_at_once_get_numbers_without_a_gap(transactional_db: None) -> None:
    log = actions.open_log(at=AT)
    start = Barrier(8)

    def work(number: int) -> list[int]:
        try:
            start.wait(timeout=30)
            return [append(log, by=number).seq for _ in range(10)]
        finally:
            connections.close_all()

    with ThreadPoolExecutor(8) as pool:
        found = [seq for seqs in pool.map(work, range(8)) for seq in seqs]

    assert sorted(found) == list(range(80))
    assert list(chain.faults(str(log.pk), rows(log))) == []


@pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite lets one writer in at a time by itself.")
@pytest.mark.django_db(transaction=True)
def test_the_same_act_sent_eight_times_at_once_is_recorded_once(transactional_db: None) -> None:
    log = actions.open_log(at=AT)
    start, act_id = Barrier(8), str(uuid.uuid4())

    def work(_number: int) -> bool:
        try:
            start.wait(timeout=30)
            append(log, act_id=act_id)
        except AlreadyRecorded:
            return False
        finally:
            connections.close_all()
        return True

    with ThreadPoolExecutor(8) as pool:
        found = list(pool.map(work, range(8)))

    assert sorted(found) == [False] * 7 + [True]
    assert len(rows(log)) == 1
