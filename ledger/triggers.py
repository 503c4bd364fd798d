"""Database triggers that refuse to change or remove an entry, for SQLite and PostgreSQL.

They stop accidents and injected SQL, not the owner of the database file; what stops the owner are copies of the
history kept elsewhere. ``drop`` and ``create`` exist for the test suite, which must empty tables between tests.
"""

from __future__ import annotations

from typing import Any

TABLE = "ledger_entry"

SQLITE = [
    f"""CREATE TRIGGER {TABLE}_no_update BEFORE UPDATE ON {TABLE}
        BEGIN SELECT RAISE(ABORT, 'the history is append-only'); END""",
    f"""CREATE TRIGGER {TABLE}_no_delete BEFORE DELETE ON {TABLE}
        BEGIN SELECT RAISE(ABORT, 'the history is append-only'); END""",
    f"""CREATE TRIGGER {TABLE}_next BEFORE INSERT ON {TABLE}
        WHEN NEW.seq IS NOT (SELECT COALESCE(MAX(seq) + 1, 0) FROM {TABLE} WHERE log_id = NEW.log_id)
        BEGIN SELECT RAISE(ABORT, 'the entry does not carry the next number'); END""",
    f"""CREATE TRIGGER {TABLE}_act_once BEFORE INSERT ON {TABLE}
        WHEN EXISTS (SELECT 1 FROM {TABLE} WHERE log_id = NEW.log_id AND act_id = NEW.act_id)
        BEGIN SELECT RAISE(ABORT, 'this act is recorded already'); END""",
]
SQLITE_DROP = [f"DROP TRIGGER IF EXISTS {TABLE}_{name}" for name in ("no_update", "no_delete", "next", "act_once")]

_RAISE = "USING ERRCODE = 'integrity_constraint_violation'"
POSTGRESQL = [
    f"""CREATE OR REPLACE FUNCTION {TABLE}_append_only() RETURNS trigger LANGUAGE plpgsql AS $$
        BEGIN RAISE EXCEPTION 'the history is append-only' {_RAISE}; END $$""",
    f"""CREATE OR REPLACE FUNCTION {TABLE}_next() RETURNS trigger LANGUAGE plpgsql AS $$
        BEGIN
          IF NEW.seq IS DISTINCT FROM (SELECT COALESCE(MAX(seq) + 1, 0) FROM {TABLE} WHERE log_id = NEW.log_id) THEN
            RAISE EXCEPTION 'the entry does not carry the next number' {_RAISE};
          END IF;
          IF EXISTS (SELECT 1 FROM {TABLE} WHERE log_id = NEW.log_id AND act_id = NEW.act_id) THEN
            RAISE EXCEPTION 'this act is recorded already' {_RAISE};
          END IF;
          RETURN NEW;
        END $$""",
    f"""CREATE TRIGGER {TABLE}_no_change BEFORE UPDATE OR DELETE ON {TABLE}
        FOR EACH ROW EXECUTE FUNCTION {TABLE}_append_only()""",
    f"""CREATE TRIGGER {TABLE}_no_truncate BEFORE TRUNCATE ON {TABLE}
        FOR EACH STATEMENT EXECUTE FUNCTION {TABLE}_append_only()""",
    f"CREATE TRIGGER {TABLE}_next BEFORE INSERT ON {TABLE} FOR EACH ROW EXECUTE FUNCTION {TABLE}_next()",
    *(f"ALTER TABLE {TABLE} ENABLE ALWAYS TRIGGER {TABLE}_{name}" for name in ("no_change", "no_truncate", "next")),
]
POSTGRESQL_DROP = [
    *(f"DROP TRIGGER IF EXISTS {TABLE}_{name} ON {TABLE}" for name in ("no_change", "no_truncate", "next")),
    f"DROP FUNCTION IF EXISTS {TABLE}_append_only()",
    f"DROP FUNCTION IF EXISTS {TABLE}_next()",
]

_CREATE = {"sqlite": SQLITE, "postgresql": POSTGRESQL}
_DROP = {"sqlite": SQLITE_DROP, "postgresql": POSTGRESQL_DROP}


def create(connection: Any) -> None:
    """Put the triggers in place."""
    _run(connection, _CREATE[connection.vendor])


def drop(connection: Any) -> None:
    """Take the triggers away."""
    _run(connection, _DROP[connection.vendor])


def _run(connection: Any, statements: list[str]) -> None:
    with connection.cursor() as cursor:
        for statement in statements:
            cursor.execute(statement)
