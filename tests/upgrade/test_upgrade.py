"""Every dump that an earlier version left is taken over: migrated, its history verified, its days still readable."""

from __future__ import annotations

import gzip
import os
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import urlsplit, urlunsplit
from uuid import uuid4

import psycopg
import pytest
from django.db import connection

HERE = Path(__file__).parent


@contextmanager
def loaded(sql: str, folder: Path) -> Iterator[str]:
    """Yield the DATABASE_URL of a database with the dump in it, on the kind of database that the tests run on."""
    if connection.vendor == "sqlite":
        with sqlite3.connect(folder / "dump.sqlite3") as made:
            made.executescript(sql)
        yield f"sqlite:///{folder}/dump.sqlite3"
        return
    parts, name = urlsplit(os.environ["DATABASE_URL"]), f"upgrade_{uuid4().hex}"
    with psycopg.connect(os.environ["DATABASE_URL"], autocommit=True) as server:
        server.execute(f'CREATE DATABASE "{name}"')
        address = urlunsplit(parts._replace(path=f"/{name}"))
        try:
            with psycopg.connect(address, autocommit=True) as made:
                made.execute(sql.encode())
            yield address
        finally:
            server.execute(f'DROP DATABASE "{name}" WITH (FORCE)')


@pytest.mark.parametrize("name", sorted({path.name.split(".")[0] for path in HERE.glob("*.sql.gz")}))
def test_an_earlier_version_is_taken_over(name: str, tmp_path: Path) -> None:
    sql = gzip.decompress((HERE / f"{name}.{connection.vendor}.sql.gz").read_bytes()).decode()
    with loaded(sql, tmp_path) as address:
        told = subprocess.run(
            [sys.executable, "-m", "tests.upgrade.check", str(tmp_path)],
            env={**os.environ, "DATABASE_URL": address}, capture_output=True, text=True,
        )  # fmt: skip

    assert told.returncode == 0, told.stderr
    assert " 0 faults." in told.stdout
    assert not told.stdout.endswith("\n0 readings.\n")


def test_there_is_a_dump_for_this_database() -> None:
    assert list(HERE.glob(f"*.{connection.vendor}.sql.gz"))
