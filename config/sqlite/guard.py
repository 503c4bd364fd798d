"""What no statement of the application may do to the history on SQLite, whatever gets into one.

The triggers refuse to change an entry; but any connection could drop the triggers first. SQLite asks this function
about every statement before it runs (https://sqlite.org/c3ref/set_authorizer.html). It stops injected SQL, not who has
the file.
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
    sqlite3.SQLITE_CREATE_TEMP_TRIGGER: 1,
    sqlite3.SQLITE_CREATE_INDEX: 1,
    sqlite3.SQLITE_DROP_INDEX: 1,
}


def allows(action: int, first: str | None, second: str | None, _database: str | None, _within: str | None) -> int:
    """Return SQLITE_OK or SQLITE_DENY. REPLACE passes here: the triggers on new rows refuse it."""
    if action == sqlite3.SQLITE_PRAGMA and (first or "").lower() == "writable_schema":
        return sqlite3.SQLITE_DENY
    if action in _BY_TABLE and ((first, second)[_BY_TABLE[action]] or "").lower() in KEPT:
        return sqlite3.SQLITE_DENY
    return sqlite3.SQLITE_OK
