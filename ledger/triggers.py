"""Database triggers that refuse to change or remove entries, checkpoints, countersignatures: SQLite and PostgreSQL.

They stop accidents and injected SQL, not the owner of the database file; what stops the owner are copies of the
history kept elsewhere. That no statement drops them first sees to it, on SQLite, the connection's guard
(``config.sqlite``) and, on PostgreSQL, an account that does not own the tables (``ledger.roles``). ``drop`` and
``create`` are for migrations and for the test suite, which must empty tables between tests.
"""

from __future__ import annotations

from typing import Any, Literal

Table = Literal["entry", "checkpoint", "countersignature"]
TABLES: tuple[Table, ...] = ("entry", "checkpoint", "countersignature")

_KEPT = "the history is append-only"
_NUMBER = "the entry does not carry the next number"
_ONCE = "this act is recorded already"
_GROWS = "a checkpoint is of more entries than the one before"
_OF_ONE = "a countersignature is of a checkpoint that is kept"
_RAISE = "USING ERRCODE = 'integrity_constraint_violation'"


def _next(table: Table) -> list[tuple[str, str, str]]:
    """Return what a new row must not be: name of the rule, condition in the SQL of both vendors, sentence."""
    name = f"ledger_{table}"
    if table == "entry":
        return [
            ("next", f"NEW.seq <> (SELECT COALESCE(MAX(seq) + 1, 0) FROM {name} WHERE log_id = NEW.log_id)", _NUMBER),
            ("act_once",
             f"EXISTS (SELECT 1 FROM {name} WHERE log_id = NEW.log_id AND act_id = NEW.act_id)", _ONCE),
        ]  # fmt: skip
    if table == "countersignature":
        kept = "SELECT 1 FROM ledger_checkpoint WHERE log_id = NEW.log_id AND size = NEW.size"
        return [("of_one", f"NOT EXISTS ({kept})", _OF_ONE)]
    return [("grows", f"NEW.size <= (SELECT COALESCE(MAX(size), 0) FROM {name} WHERE log_id = NEW.log_id)", _GROWS)]


def _sqlite(table: Table) -> list[str]:
    name = f"ledger_{table}"
    kept = [
        f"CREATE TRIGGER {name}_no_{deed} BEFORE {deed} ON {name} BEGIN SELECT RAISE(ABORT, '{_KEPT}'); END"
        for deed in ("update", "delete")
    ]
    return kept + [
        f"CREATE TRIGGER {name}_{rule} BEFORE INSERT ON {name} WHEN {wrong} "
        f"BEGIN SELECT RAISE(ABORT, '{sentence}'); END"
        for rule, wrong, sentence in _next(table)
    ]


def _postgresql(table: Table) -> list[str]:
    name = f"ledger_{table}"
    asked = " ".join(
        f"IF {wrong} THEN RAISE EXCEPTION '{sentence}' {_RAISE}; END IF;" for _rule, wrong, sentence in _next(table)
    )
    return [
        f"CREATE OR REPLACE FUNCTION {name}_append_only() RETURNS trigger LANGUAGE plpgsql AS $$ "
        f"BEGIN RAISE EXCEPTION '{_KEPT}' {_RAISE}; END $$",
        f"CREATE OR REPLACE FUNCTION {name}_next() RETURNS trigger LANGUAGE plpgsql AS $$ "
        f"BEGIN {asked} RETURN NEW; END $$",
        f"CREATE TRIGGER {name}_no_change BEFORE UPDATE OR DELETE ON {name} "
        f"FOR EACH ROW EXECUTE FUNCTION {name}_append_only()",
        f"CREATE TRIGGER {name}_no_truncate BEFORE TRUNCATE ON {name} "
        f"FOR EACH STATEMENT EXECUTE FUNCTION {name}_append_only()",
        f"CREATE TRIGGER {name}_next BEFORE INSERT ON {name} FOR EACH ROW EXECUTE FUNCTION {name}_next()",
        *(f"ALTER TABLE {name} ENABLE ALWAYS TRIGGER {name}_{rule}" for rule in ("no_change", "no_truncate", "next")),
        _bound(table),
    ]


def _bound(table: Table) -> str:
    """Return what makes a function look into the tables where it stands, and not into a temporary one of that name.

    Temporary tables come first unless they are named last (https://www.postgresql.org/docs/15/sql-createfunction.html,
    "Writing SECURITY DEFINER Functions Safely", from memory).
    """
    return (
        f"DO $$ BEGIN EXECUTE format('ALTER FUNCTION ledger_{table}_next() SET search_path = %I, pg_temp', "
        "current_schema()); END $$"
    )


def _dropped(vendor: str, table: Table) -> list[str]:
    name = f"ledger_{table}"
    if vendor == "sqlite":
        rules = ["no_update", "no_delete", *(rule for rule, _wrong, _sentence in _next(table))]
        return [f"DROP TRIGGER IF EXISTS {name}_{rule}" for rule in rules]
    return [
        *(f"DROP TRIGGER IF EXISTS {name}_{rule} ON {name}" for rule in ("no_change", "no_truncate", "next")),
        f"DROP FUNCTION IF EXISTS {name}_append_only()",
        f"DROP FUNCTION IF EXISTS {name}_next()",
    ]


_CREATE = {"sqlite": _sqlite, "postgresql": _postgresql}


def create(connection: Any, *tables: Table) -> None:
    """Put the triggers of the tables in place; of all without a name, and then the connection's guard too."""
    for table in tables or TABLES:
        _run(connection, _CREATE[connection.vendor](table))
    if not tables:
        _guard(connection, True)


def bind(connection: Any) -> None:
    """Bind the functions of all triggers to their own tables, where there are functions: for what was made before."""
    if connection.vendor == "postgresql":
        _run(connection, [_bound(table) for table in TABLES])


def drop(connection: Any, *tables: Table) -> None:
    """Take the triggers of the tables away; of all without a name. The connection's guard is lifted too."""
    _guard(connection, False)
    for table in tables or TABLES:
        _run(connection, _dropped(connection.vendor, table))


def _guard(connection: Any, on: bool) -> None:
    if hasattr(connection, "guard"):
        connection.guard(on)


def _run(connection: Any, statements: list[str]) -> None:
    with connection.cursor() as cursor:
        for statement in statements:
            cursor.execute(statement)
