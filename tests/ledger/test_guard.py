"""The history is attacked with SQL, with and without the triggers' owner's rights, on the database of this run.

What every attack must leave is the history as it was. The list is that of the dossier on trust, part 5 (RUN there).
"""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from datetime import datetime
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import DatabaseError, connection, transaction
from django.test import override_settings

from config.checks import owner_of_the_history
from ledger import actions, chain, triggers
from ledger.models import Log
from tests import make
from tests.ledger.test_history import AT, append, rows

ONLY_SQLITE = pytest.mark.skipif(connection.vendor != "sqlite", reason="The guard is SQLite's.")
ONLY_POSTGRESQL = pytest.mark.skipif(connection.vendor != "postgresql", reason="Accounts are PostgreSQL's.")
ROLE = "course_app"
REFUSED = r"not authorized|prohibited"
NO_RIGHT = r"permission denied|must be owner|must be able to SET ROLE"
TRIGGERS = r"append-only|next number|recorded already"


@pytest.fixture
def log(db: None) -> Log:
    log = actions.open_log(at=AT)
    for _ in range(3):
        append(log)
    return log


def run(sql: str, on: Any = connection) -> None:
    with on.cursor() as cursor:
        cursor.execute(sql)


# --- SQLite: whatever gets into a statement

SQLITE = [
    "UPDATE ledger_entry SET data = x'7b7d'",
    "UPDATE Ledger_Entry SET seq = seq + 10",
    "DELETE FROM ledger_entry",
    "WITH gone AS (SELECT 1) DELETE FROM ledger_entry WHERE seq = 2",
    "DROP TABLE ledger_entry",
    "DROP TRIGGER ledger_entry_no_update",
    "DROP TRIGGER ledger_entry_no_delete",
    "DROP TRIGGER ledger_entry_next",
    "ALTER TABLE ledger_entry RENAME TO elsewhere",
    "ALTER TABLE ledger_entry ADD COLUMN more TEXT",
    "ALTER TABLE ledger_entry DROP COLUMN frontier",
    "CREATE UNIQUE INDEX once ON ledger_entry (leaf_hash)",
    "CREATE TRIGGER swallow BEFORE INSERT ON ledger_entry BEGIN SELECT RAISE(IGNORE); END",
    "CREATE TEMP TRIGGER swallow BEFORE INSERT ON main.ledger_entry BEGIN SELECT RAISE(IGNORE); END",
    "PRAGMA writable_schema = 1",
    "PRAGMA main.recursive_triggers = OFF",
    "PRAGMA journal_mode(OFF)",
    "PRAGMA schema_version = 7",
    "CREATE TEMP TABLE ledger_entry AS SELECT * FROM main.ledger_entry",
    "CREATE TEMP TABLE harmless (seq INTEGER)",
    "CREATE TEMP VIEW ledger_entry AS SELECT * FROM main.ledger_entry WHERE seq < 2",
    "CREATE VIRTUAL TABLE temp.ledger_entry USING fts5(log_id, seq, kind, act_id, t, data, leaf_hash, frontier)",
    "ATTACH ':memory:' AS other",
    "INSERT INTO ledger_entry SELECT * FROM ledger_entry WHERE seq = 1 ON CONFLICT DO UPDATE SET data = x'7b7d'",
    "UPDATE ledger_checkpoint SET size = 1",
    "DELETE FROM ledger_countersignature",
    "DROP TRIGGER ledger_checkpoint_grows",
]


@ONLY_SQLITE
@pytest.mark.parametrize("sql", SQLITE)
def test_no_statement_changes_the_history_or_what_guards_it(log: Log, sql: str) -> None:
    connection.guard(True)
    before, schema = rows(log), _schema()
    with pytest.raises(DatabaseError, match=REFUSED), transaction.atomic():
        run(sql)
    assert (rows(log), _schema()) == (before, schema)


REPLACING = [
    "INSERT OR REPLACE INTO ledger_entry (rowid, {columns}) SELECT {row}, {values} FROM ledger_entry WHERE seq = 2",
    "REPLACE INTO main.ledger_entry (_rowid_, {columns}) SELECT {row}, {values} FROM ledger_entry WHERE seq = 2",
    "INSERT INTO ledger_entry (oid, {columns}) SELECT {row}, {values} FROM ledger_entry WHERE seq = 2 "
    "ON CONFLICT DO UPDATE SET data = x'7b7d'",
]


@ONLY_SQLITE
@pytest.mark.parametrize("sql", REPLACING)
def test_no_row_takes_the_place_of_an_entry_by_its_number_in_the_table(log: Log, sql: str) -> None:
    """By the manual of SQLite (lang_conflict.html) REPLACE takes away whatever row has the same rowid."""
    connection.guard(True)
    before = rows(log)
    with pytest.raises(DatabaseError, match=REFUSED):
        run("PRAGMA recursive_triggers = OFF")  # with it off the trigger on deleted rows would not be asked
    with connection.cursor() as cursor:
        cursor.execute("SELECT rowid FROM ledger_entry WHERE log_id = %s AND seq = 1", [log.pk.hex])
        [row] = cursor.fetchone()
    columns = "log_id, seq, kind, act_id, t, data, leaf_hash, frontier"
    values = f"log_id, 3, kind, '{uuid.uuid4().hex}', t, data, leaf_hash, frontier"
    with pytest.raises(DatabaseError, match=f"{REFUSED}|append-only"), transaction.atomic():
        run(sql.format(columns=columns, values=values, row=row))
    assert rows(log) == before


def _schema() -> list[Any]:
    with connection.cursor() as cursor:
        cursor.execute("SELECT type, name, sql FROM sqlite_master WHERE tbl_name LIKE 'ledger%' ORDER BY name")
        return list(cursor.fetchall())


@ONLY_SQLITE
def test_what_was_prepared_while_the_guard_was_lifted_is_refused_after_it(log: Log) -> None:
    connection.guard(True)
    statement = "UPDATE ledger_entry SET kind = 'other' WHERE seq = 7"
    connection.guard(False)
    run(statement)
    connection.guard(True)
    with pytest.raises(DatabaseError, match=REFUSED), transaction.atomic():
        run(statement)


@ONLY_SQLITE
def test_every_new_connection_is_guarded(db: None, tmp_path: Path) -> None:
    other = connection.copy()
    other.settings_dict["NAME"] = str(tmp_path / "other.sqlite3")
    try:
        run("CREATE TABLE ledger_entry (seq INTEGER)", other)
        run("INSERT INTO ledger_entry VALUES (1)", other)
        for sql in ("UPDATE ledger_entry SET seq = 2", "DELETE FROM ledger_entry", "DROP TABLE ledger_entry"):
            with pytest.raises(DatabaseError, match=REFUSED):
                run(sql, other)
        run("CREATE TABLE kept (seq INTEGER)", other)
        run("DROP TABLE kept", other)
    finally:
        other.close()


# --- PostgreSQL: an account that owns nothing, and the owner


@pytest.fixture
def as_role(log: Log) -> Iterator[Log]:
    """Go on as the application's account; it is gone with the transaction of the test."""
    run(f"CREATE ROLE {ROLE} NOLOGIN")
    call_command("database_role", ROLE, stdout=StringIO())
    run(f"SET LOCAL ROLE {ROLE}")
    yield log
    run("RESET ROLE")


POSTGRESQL = [
    "UPDATE ledger_entry SET data = ''",
    "DELETE FROM ledger_entry",
    "TRUNCATE ledger_entry CASCADE",
    "INSERT INTO ledger_entry SELECT * FROM ledger_entry WHERE seq = 1 "
    "ON CONFLICT (log_id, seq) DO UPDATE SET data = EXCLUDED.data",
    "ALTER TABLE ledger_entry DISABLE TRIGGER ALL",
    "DROP TRIGGER ledger_entry_no_change ON ledger_entry",
    "CREATE OR REPLACE FUNCTION ledger_entry_append_only() RETURNS trigger LANGUAGE plpgsql AS 'BEGIN RETURN NEW; END'",
    "DROP TABLE ledger_entry CASCADE",
    "ALTER TABLE ledger_entry RENAME TO elsewhere",
    "CREATE RULE swallow AS ON INSERT TO ledger_entry DO INSTEAD NOTHING",
    "CREATE TABLE public.ledger_entry_2 (seq int)",
    "CREATE TEMPORARY TABLE ledger_entry (seq int)",
    "CREATE TEMPORARY VIEW ledger_entry AS SELECT 1 AS seq",
    "CREATE SCHEMA elsewhere",
    "SET session_replication_role = replica",
    "ALTER TABLE ledger_entry OWNER TO CURRENT_USER",
    "UPDATE ledger_checkpoint SET size = 1",
    "DELETE FROM ledger_countersignature",
    "DELETE FROM django_migrations",
]


@ONLY_POSTGRESQL
@pytest.mark.parametrize("sql", POSTGRESQL)
def test_the_applications_account_can_change_nothing(as_role: Log, sql: str) -> None:
    before = rows(as_role)
    with pytest.raises(DatabaseError, match=NO_RIGHT), transaction.atomic():
        run(sql)
    assert rows(as_role) == before


@ONLY_POSTGRESQL
def test_the_applications_account_can_do_a_whole_morning(as_role: Log, morning: datetime) -> None:
    w = make.ready(on=morning)
    make.inspect(w, at=w.at)
    make.open_lines(w, at=w.at)
    log = w.operator.log
    assert list(chain.faults(str(log.pk), rows(log))) == []
    with connection.cursor() as cursor:
        cursor.execute("SELECT current_user")
        assert cursor.fetchone() == (ROLE,)


@ONLY_POSTGRESQL
@pytest.mark.parametrize("sql", POSTGRESQL[:4])
def test_the_owner_is_refused_by_the_triggers_even_as_a_replica(log: Log, sql: str) -> None:
    """Only taking the triggers away helps the owner: against that stand copies of signed states kept elsewhere."""
    before = rows(log)
    run("SET CONSTRAINTS ALL IMMEDIATE")  # else TRUNCATE is refused for what is still to be looked at
    for first in ("SELECT 1", "SET LOCAL session_replication_role = replica"):
        run(first)
        with pytest.raises(DatabaseError, match=TRIGGERS), transaction.atomic():
            run(sql)
        assert rows(log) == before


@ONLY_POSTGRESQL
def test_a_temporary_table_does_not_stand_before_the_history_for_its_triggers(log: Log) -> None:
    before = rows(log)
    columns = "log_id, kind, t, data, leaf_hash, frontier"
    copied = f"({columns}, act_id, seq) SELECT {columns}, '{uuid.uuid4()}', {{}} FROM public.ledger_entry WHERE seq = 1"  # noqa: S608
    run("CREATE TEMPORARY TABLE ledger_entry (LIKE public.ledger_entry)")
    run(f"INSERT INTO pg_temp.ledger_entry {copied.format(900)}")
    with pytest.raises(DatabaseError, match="next number"), transaction.atomic():
        run(f"INSERT INTO public.ledger_entry {copied.format(901)}")
    run("DROP TABLE pg_temp.ledger_entry")
    assert rows(log) == before


@ONLY_POSTGRESQL
def test_functions_made_before_are_bound_by_the_migration(log: Log) -> None:
    run("ALTER FUNCTION ledger_entry_next() RESET search_path")
    triggers.bind(connection)
    with connection.cursor() as cursor:
        cursor.execute("SELECT proname, proconfig FROM pg_proc WHERE proname LIKE 'ledger%next' ORDER BY proname")
        found = dict(cursor.fetchall())
    assert found == {f"ledger_{table}_next": ["search_path=public, pg_temp"] for table in triggers.TABLES}


@ONLY_POSTGRESQL
def test_check_tells_when_a_table_could_stand_before_the_history(log: Log) -> None:
    with override_settings(DEMO=False):
        run(f"CREATE ROLE {ROLE} NOLOGIN")
        call_command("database_role", ROLE, stdout=StringIO())
        for given in ("TEMPORARY ON DATABASE {}", "CREATE ON SCHEMA public"):
            what = given.format(connection.ops.quote_name(connection.settings_dict["NAME"]))
            run(f"GRANT {what} TO {ROLE}")
            run(f"SET LOCAL ROLE {ROLE}")
            assert [one.id for one in owner_of_the_history(databases=["default"])] == ["config.W005"]
            run("RESET ROLE")
            run(f"REVOKE {what} FROM {ROLE}")


@ONLY_POSTGRESQL
def test_check_tells_when_the_account_may_become_the_owner(log: Log) -> None:
    """Who inherits nothing from the owner can still change over to it: SET ROLE is a statement as any other."""
    with override_settings(DEMO=False):
        run(f"CREATE ROLE {ROLE} NOLOGIN NOINHERIT")
        run("CREATE ROLE course_owner NOLOGIN")
        run(f"GRANT course_owner TO {ROLE}")
        run("SET CONSTRAINTS ALL IMMEDIATE")  # else it is refused for what is still to be looked at
        run("ALTER TABLE ledger_entry OWNER TO course_owner")
        call_command("database_role", ROLE, stdout=StringIO())
        run(f"SET LOCAL ROLE {ROLE}")
        assert [one.id for one in owner_of_the_history(databases=["default"])] == ["config.W004"]
        run("RESET ROLE")


@ONLY_POSTGRESQL
def test_check_tells_when_the_application_runs_as_the_owner(log: Log) -> None:
    with override_settings(DEMO=False):
        assert [one.id for one in owner_of_the_history(databases=["default"])] == ["config.W004"]
        run(f"CREATE ROLE {ROLE} NOLOGIN")
        call_command("database_role", ROLE, stdout=StringIO())
        run(f"SET LOCAL ROLE {ROLE}")
        assert owner_of_the_history(databases=["default"]) == []
        run("RESET ROLE")


# --- the command


@ONLY_POSTGRESQL
def test_an_account_that_does_not_exist_gets_nothing(db: None) -> None:
    with pytest.raises(CommandError, match="Nothing was changed"):
        call_command("database_role", f"nobody_{uuid.uuid4().hex}")


@ONLY_SQLITE
def test_a_file_has_no_accounts(db: None) -> None:
    with pytest.raises(CommandError, match=r"for PostgreSQL\. SQLite has no accounts"):
        call_command("database_role", ROLE)
    assert owner_of_the_history(databases=["default"]) == []
