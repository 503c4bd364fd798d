"""Find entries by what stands in their bytes: for the rare question which entries name a hash or a person."""

from __future__ import annotations

from typing import Any

from django.db import models
from django.db.models import Func, QuerySet, Value

from ledger.models import Entry, Log


class _Place(Func):
    """Where bytes stand in a column of bytes: 1 for its beginning, 0 for nowhere. The same on both databases."""

    function = "INSTR"
    output_field = models.IntegerField()

    def as_postgresql(self, compiler: Any, connection: Any, **context: Any) -> Any:
        column, sought = self.source_expressions
        column_sql, column_params = compiler.compile(column)
        sought_sql, sought_params = compiler.compile(sought)
        return f"POSITION(({sought_sql})::bytea IN {column_sql})", [*sought_params, *column_params]


def naming(log: Log, text: str) -> QuerySet[Entry]:
    """Return the entries in whose bytes ``text`` stands as a value by itself. It reads through all of them."""
    sought = Value(f'"{text}"'.encode(), output_field=models.BinaryField())
    return Entry.objects.filter(log=log).alias(place=_Place("data", sought)).filter(place__gt=0)
