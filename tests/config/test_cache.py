"""The shared cache gives plain data back, and runs nothing that somebody wrote into its table.

That reading a pickle can run anything: the warning of the manual of Python's module pickle (from memory).
"""

from __future__ import annotations

import base64
import os
import pickle
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.core.cache import cache
from django.db import connection
from django.utils import timezone

pytestmark = pytest.mark.django_db


class Evil:
    def __init__(self, path: Path) -> None:
        self.path = path

    def __reduce__(self) -> Any:
        return os.mkdir, (str(self.path),)


@pytest.mark.parametrize(
    "value", [True, 7, 1.5, "text", b"\x00\xff", None, [1.5, 2.5], ("a", 200, b"page"), {"who": "p-1", "had": False}]
)
def test_plain_data_comes_back(value: Any) -> None:
    cache.set("one", value, 60)
    assert cache.get("one", "nothing") == value
    assert cache.get_many(["one", "two"]) == {"one": value}
    assert cache.get_many([]) == {}


def test_what_is_over_is_gone() -> None:
    cache.set("one", 1, 0)
    cache.set("two", 2, None)
    assert cache.get("one") is None
    assert cache.get("two") == 2
    assert cache.add("one", 3, 60)
    assert not cache.add("one", 4, 60)
    assert cache.incr("one") == 4


@pytest.mark.parametrize("bad", ["pickle", "", "?", "gA=="])
def test_what_was_written_into_the_table_runs_nothing(tmp_path: Path, bad: str) -> None:
    path = tmp_path / "ran"
    value = base64.b64encode(pickle.dumps(Evil(path))).decode() if bad == "pickle" else bad
    cache.set("one", True, 60)
    with connection.cursor() as cursor:
        cursor.execute(
            "UPDATE lineworthy_cache SET value = %s, expires = %s WHERE cache_key = %s",
            [value, connection.ops.adapt_datetimefield_value(timezone.now() + timedelta(days=1)), ":1:one"],
        )
        assert cursor.rowcount == 1

    assert cache.get("one", "nothing") == "nothing"
    assert not path.exists()
