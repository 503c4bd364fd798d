"""SQLite for many phones at once: who wants to write waits in a queue and is woken when it is free.

Every connection is guarded (``guard``): its statements can add to the history and read it, no more, except while tables
are changed by a migration.

SQLite itself lets a writer sleep and try again, up to a tenth of a second at a time and in no order. With fifty
writers the file then lies idle most of the time, and some wait seconds. Here a writer first takes a lock on a file
beside the database, which the system hands on at once, between threads and between processes. SQLite's own lock stays
what keeps the data whole; the queue only keeps the waiting short.
"""

from __future__ import annotations

import os
from typing import Any

from django.db.backends.sqlite3 import base
from django.db.backends.sqlite3.schema import DatabaseSchemaEditor

from config.sqlite.guard import allows

try:
    import fcntl
except ImportError:  # a system without it: SQLite's own waiting is all there is
    fcntl = None  # type: ignore[assignment]


class SchemaEditor(DatabaseSchemaEditor):
    """What changes tables: it may do what the guard refuses to everybody else."""

    connection: DatabaseWrapper

    def __enter__(self) -> SchemaEditor:
        self.connection.guard(False)
        super().__enter__()
        return self

    def __exit__(self, *how: Any) -> None:
        try:
            super().__exit__(*how)
        finally:
            self.connection.guard(True)


class DatabaseWrapper(base.DatabaseWrapper):
    """A connection whose transactions wait for their turn, and whose statements leave the history as it is."""

    SchemaEditorClass = SchemaEditor

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._turn: int | None = None

    def get_new_connection(self, conn_params: dict[str, Any]) -> Any:
        made = super().get_new_connection(conn_params)
        made.set_authorizer(allows)
        return made

    def guard(self, on: bool) -> None:
        """Put the guard in place or lift it; what was prepared before is asked about again."""
        self.ensure_connection()
        self.connection.set_authorizer(allows if on else None)

    def _start_transaction_under_autocommit(self) -> None:
        if self.transaction_mode != "DEFERRED":  # type: ignore[attr-defined]  # who only reads waits for nobody
            self._take_turn()
        try:
            super()._start_transaction_under_autocommit()  # type: ignore[misc]
        except BaseException:
            self._give_turn_on()
            raise

    def _commit(self) -> None:
        super()._commit()  # type: ignore[misc]  # where it fails a rollback follows
        self._give_turn_on()

    def _rollback(self) -> None:
        try:
            super()._rollback()  # type: ignore[misc]
        finally:
            self._give_turn_on()

    def _close(self) -> None:
        try:
            super()._close()  # type: ignore[misc]
        finally:
            self._give_turn_on()

    def _take_turn(self) -> None:
        if fcntl is None or self._turn is not None or self.is_in_memory_db():
            return
        turn = os.open(f"{self.settings_dict['NAME']}-queue", os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
        fcntl.flock(turn, fcntl.LOCK_EX)
        self._turn = turn

    def _give_turn_on(self) -> None:
        if self._turn is not None:
            os.close(self._turn)
            self._turn = None
