"""The cache that all processes share, in the database: what is read from it is plain data, never a program.

Django keeps values as pickles, and to read one can run anything. Whatever gets into a statement may write to the
cache's table; by such a value it would get into the program, past what guards the history, and at the key that signs.
"""

from __future__ import annotations

import base64
import io
import logging
import pickle
from collections.abc import Iterable
from typing import Any

from django.core.cache.backends.db import DatabaseCache
from django.db import connections, models, router
from django.utils import timezone

logger = logging.getLogger(__name__)


class _Plain(pickle.Unpickler):
    """Reads numbers, texts, bytes, lists, tuples and dictionaries: nothing that has to be looked up by its name."""

    def find_class(self, module: str, name: str) -> Any:
        raise pickle.UnpicklingError(f"{module}.{name} is no plain data")


class SharedCache(DatabaseCache):
    """Django's cache in a database table. A value that is no plain data is as if it were not there, and is told."""

    cache_model_class: Any
    _table: str

    def get_many(self, keys: Iterable[Any], version: int | None = None) -> dict[Any, Any]:
        asked = {self.make_and_validate_key(key, version=version): key for key in keys}
        if not asked:
            return {}
        connection = connections[router.db_for_read(self.cache_model_class)]
        quoted = connection.ops.quote_name
        columns = ", ".join(map(quoted, ("cache_key", "value", "expires")))
        places = ", ".join(["%s"] * len(asked))
        with connection.cursor() as cursor:
            cursor.execute(
                f"SELECT {columns} FROM {quoted(self._table)} WHERE {quoted('cache_key')} IN ({places})",  # noqa: S608
                list(asked),
            )
            rows = cursor.fetchall()
        found, over = {}, []
        column: Any = models.Expression(output_field=models.DateTimeField())
        converters = [*connection.ops.get_db_converters(column), *column.get_db_converters(connection)]
        for key, value, until in rows:
            for converter in converters:
                until = converter(until, column, connection)
            if until < timezone.now():  # noqa: TID251 - the cache keeps its own time, as Django's does
                over.append(key)
                continue
            try:
                found[asked[key]] = _Plain(io.BytesIO(base64.b64decode(value.encode()))).load()
            except Exception:
                logger.exception("What the cache holds under %r is no value of this application.", key)
        self._base_delete_many(over)  # type: ignore[attr-defined]
        return found
