"""What no statement of the application may do to the history on SQLite, whatever gets into one.

The triggers refuse to change an entry; but any connection could drop the triggers first. SQLite asks this function
about every statement before it runs (https://sqlite.org/c3ref/set_authorizer.html). It stops injected SQL, not who has
the file.

Nothing temporary, virtual or attached may be made at all: the application needs none of it, and a temporary table or
view stands before a table of the same name, so that a false history would be read and added to.

REPLACE is no UPDATE and no DELETE to it. Every table has a second unique value that no trigger on new rows is sure to
know, the rowid, and by it REPLACE would take an entry away; but the trigger on deleted rows refuses it where
``recursive_triggers`` is on (https://sqlite.org/lang_conflict.html): ``config.env`` puts it on, no statement off.
"""

from __future__ import annotations

import sqlite3

from ledger.triggers import TABLES

KEPT = frozenset(f"ledger_{table}" for table in TABLES)
# What is done, and by which of its two arguments the table is named.
_BY_TABLE = {
    sqlite3.SQLITE_UPDATE: 0,
    sqlite3.SQLITE_DELETE: 0,
    sqlite3.SQLITE_DROP_TABLE: 0,
    sqlite3.SQLITE_ALTER_TABLE: 1,
    sqlite3.SQLITE_DROP_TRIGGER: 1,
    sqlite3.SQLITE_CREATE_TRIGGER: 1,
    sqlite3.SQLITE_CREATE_INDEX: 1,
    sqlite3.SQLITE_DROP_INDEX: 1,
}
_NEVER = frozenset(
    {
        sqlite3.SQLITE_ATTACH,
        sqlite3.SQLITE_CREATE_TEMP_INDEX,
        sqlite3.SQLITE_CREATE_TEMP_TABLE,
        sqlite3.SQLITE_CREATE_TEMP_TRIGGER,
        sqlite3.SQLITE_CREATE_TEMP_VIEW,
        sqlite3.SQLITE_CREATE_VTABLE,
    }
)
# What is not set by a statement. The last two: a crash without a journal, or another schema, breaks the file.
_SETTINGS = frozenset({"writable_schema", "recursive_triggers", "journal_mode", "schema_version"})


def allows(action: int, first: str | None, second: str | None, _database: str | None, _within: str | None) -> int:
    """Return SQLITE_OK or SQLITE_DENY."""
    if action in _NEVER:
        return sqlite3.SQLITE_DENY
    if action == sqlite3.SQLITE_PRAGMA and second is not None and (first or "").lower() in _SETTINGS:
        return sqlite3.SQLITE_DENY
    if action in _BY_TABLE and ((first, second)[_BY_TABLE[action]] or "").lower() in KEPT:
        return sqlite3.SQLITE_DENY
    return sqlite3.SQLITE_OK
