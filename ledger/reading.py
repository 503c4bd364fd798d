"""Reading what belongs together as of one moment.

A page asks the database many times. What another person signs between two of these questions must not be half of what
it shows: a sheet's readings would be missing while their items already count as read, and nothing would hold the line.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from django.db import connection, transaction


@contextmanager
def at_one_moment() -> Iterator[None]:
    """Let every question within be answered by the database as it stood at the first. Within, nothing is written.

    Nobody waits for it, and it waits for nobody. Within a transaction of a caller's it changes nothing: a deed reads
    after it has taken the history's lock, under which nothing else is signed.

    Sources: PostgreSQL, SET TRANSACTION, REPEATABLE READ; SQLite, Isolation In SQLite, read transactions in WAL mode
    (both from memory; tests/inspections/test_one_moment.py and test_backup.py ask both).
    """
    if connection.in_atomic_block:
        yield
    elif connection.vendor == "sqlite":
        with _deferred(), transaction.atomic():
            yield
    else:
        with transaction.atomic():
            with connection.cursor() as cursor:
                cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
            yield


@contextmanager
def _deferred() -> Iterator[None]:
    """Let a transaction of SQLite begin without the lock of who wants to write (see config.sqlite)."""
    connection.ensure_connection()  # which reads the mode
    before = connection.transaction_mode  # type: ignore[attr-defined]
    connection.transaction_mode = "DEFERRED"  # type: ignore[attr-defined]
    try:
        yield
    finally:
        connection.transaction_mode = before  # type: ignore[attr-defined]
