"""Worlds that many tests begin from: built once in a process, by the actions, and afterwards laid back row by row.

What is laid back are the very rows that the actions left, in the order in which they came, with every trigger and
constraint at work; so a world is the same whether it was built just now or for another test. Only a database without
people gets one from memory: beside others a world is built anew.
"""

from __future__ import annotations

import pickle
from collections.abc import Callable, Hashable
from typing import Any, NamedTuple, TypeVar

from django.apps import apps
from django.conf import settings
from django.db import connection, transaction
from django.db.models import Model

APPS = ("ledger", "accounts", "courses", "inspections", "reports")
STANDING = {"sqlite": ["rowid"], "postgresql": ["ctid"]}  # the order in which rows stand in a table

World = TypeVar("World")


class Kept(NamedTuple):
    """``rows`` by table: what PostgreSQL's COPY gave, or column names and tuples of what SQLite stores.

    ``objects``: what the builder returned, pickled, so that no test gets another one's objects.
    """

    rows: dict[str, Any]
    objects: bytes


_kept: dict[Hashable, Kept] = {}


def world(key: Hashable, build: Callable[[], World]) -> World:
    """Return what ``build`` returns, with its rows in the database; ``key`` says everything that it depends on.

    But for the key that signs histories: an operator that is founded while one is set names it.
    """
    key = key, settings.LOG_KEY
    if any(model._base_manager.exists() for model in apps.get_app_config("accounts").get_models()):
        return build()
    if key in _kept:
        _lay(_kept[key].rows)
    else:
        built = build()
        _kept[key] = Kept(_take(), pickle.dumps(built))
    _forget()
    found: World = pickle.loads(_kept[key].objects)  # noqa: S301 - from this very process
    return found


def _models() -> list[type[Model]]:
    return [model for app in APPS for model in apps.get_app_config(app).get_models(include_auto_created=True)]


def _take() -> dict[str, Any]:
    """Return the rows of all tables that have any."""
    found: dict[str, Any] = {}
    with connection.cursor() as cursor:
        for model in _models():
            table, keys = connection.ops.quote_name(model._meta.db_table), model._meta.pk_fields
            # Entries go back by their numbers; PostgreSQL may have put a later one where a row was before.
            order = ", ".join([key.column for key in keys] if len(keys) > 1 else STANDING[connection.vendor])
            if connection.vendor == "postgresql":
                with cursor.copy(f"COPY (SELECT * FROM {table} ORDER BY {order}) TO STDOUT") as copy:
                    rows = b"".join(bytes(part) for part in copy)
                if rows:
                    found[table] = rows
                continue
            names = [connection.ops.quote_name(field.column) for field in model._meta.local_concrete_fields]
            # The sign keeps the driver from turning what is stored into objects and back into other texts.
            cursor.execute(f"SELECT {', '.join(f'+{name}' for name in names)} FROM {table} ORDER BY {order}")
            if rows := cursor.fetchall():
                found[table] = names, rows
    return found


def _lay(tables: dict[str, Any]) -> None:
    """Put the rows into tables that are empty."""
    with transaction.atomic(), connection.cursor() as cursor:
        for table, rows in tables.items():
            if connection.vendor == "postgresql":
                with cursor.copy(f"COPY {table} FROM STDIN") as copy:
                    copy.write(rows)
                continue
            names, values = rows
            places = ", ".join(["%s"] * len(names))
            cursor.executemany(f"INSERT INTO {table} ({', '.join(names)}) VALUES ({places})", values)


def _forget() -> None:
    """Forget what the process keeps of records: the same ids come back, and what follows upon them differs."""
    from courses import kept, origins
    from inspections import control_record, wear_record

    for keeper in (kept, origins, control_record, wear_record):
        keeper.forget()
