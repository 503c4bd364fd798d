"""Which tables a backup holds, and how their rows become lines of text and rows again, whichever the database.

Every table of a model is in a backup unless it is named in ``LEFT_OUT``, so that what a later version adds is not
forgotten. A row is one line: a JSON array of its columns in the order that the manifest gives, times and numbers as
text, bytes as base64. The cache has no model and is left out too: it holds what can be computed again, counts of wrong
passwords, and forms kept for some hours.
"""

from __future__ import annotations

import json
from base64 import b64encode
from collections.abc import Iterator
from datetime import date, datetime
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.apps import apps
from django.db import models

LEFT_OUT = {
    "sessions.session": "who has the row has the log-in; after a restore everybody logs in again",
    "account.emailconfirmation": "open confirmations of an address; they are asked for again",
}
# Filled by every migrate, with numbers of their own: a restore puts the backup's rows, and so its numbers, there.
MADE_BY_MIGRATE = ("contenttypes.contenttype", "auth.permission")
CHUNK = 500

Model = type[models.Model]


def tables() -> list[Model]:
    """Return the model of every table in a backup, each behind those that its foreign keys lead to."""
    waiting = {
        model._meta.label_lower: model
        for model in apps.get_models(include_auto_created=True)
        if model._meta.managed and not model._meta.proxy and model._meta.label_lower not in LEFT_OUT
    }
    found: list[Model] = []
    while waiting:
        ready = sorted(label for label, model in waiting.items() if not _leads_to(model) & (waiting.keys() - {label}))
        # A ring of keys has no right order; the keys are looked at when all rows are in.
        for label in ready or sorted(waiting):
            found.append(waiting.pop(label))
    return found


def _leads_to(model: Model) -> set[str]:
    return {
        field.remote_field.model._meta.label_lower
        for field in model._meta.concrete_fields
        if isinstance(field, models.ForeignKey)
    }


def columns(model: Model) -> list[str]:
    """Return the columns of a table as they stand in a line."""
    return [field.attname for field in _fields(model)]


def _fields(model: Model) -> list[Any]:
    return [field for field in model._meta.concrete_fields if not field.generated]


def lines(model: Model) -> Iterator[str]:
    """Yield the rows of a table, each as a line without its end, in the order of the primary key."""
    rows = model._base_manager.order_by("pk").values_list(*columns(model))
    for row in rows.iterator(CHUNK):
        yield json.dumps(row, ensure_ascii=False, allow_nan=False, separators=(",", ":"), default=_as_text)


def _as_text(value: Any) -> str:
    if isinstance(value, datetime | date):
        return value.isoformat()
    if isinstance(value, bytes | memoryview):
        return b64encode(value).decode()
    if isinstance(value, UUID | Decimal):
        return str(value)
    raise TypeError(f"a {type(value).__name__} has no form in a backup")


def rows(model: Model, names: list[str], text: Iterator[str]) -> Iterator[models.Model]:
    """Yield the rows that lines stand for, not saved. Raises ValueError or ValidationError for a line that is none."""
    by_name = {field.attname: field for field in _fields(model)}
    readers = [
        # What was JSON in the database is JSON in the line.
        (name, None if isinstance(by_name[name], models.JSONField) else by_name[name].to_python)
        for name in names
    ]
    for line in text:
        values = json.loads(line)
        yield model(
            **{
                name: value if read is None or value is None else read(value)
                for (name, read), value in zip(readers, values, strict=True)
            }
        )


def stored(model: Model, found: Iterator[models.Model]) -> int:
    """Put rows into a table, in their order, and return how many; the triggers of the history look at each."""
    count = 0
    batch: list[models.Model] = []
    for row in found:
        batch.append(row)
        if len(batch) == CHUNK:
            model._base_manager.bulk_create(batch)
            count, batch = count + len(batch), []
    model._base_manager.bulk_create(batch)
    return count + len(batch)
