"""The restore drill across databases: SQLite to PostgreSQL and back, each an installation and a process of its own.

The expectation is the point of a backup: what was signed on one stands on the other byte for byte, is verified there,
and goes on from the state signed last. (Common practice, no source: a backup is worth what its last restore showed.)
"""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlsplit, urlunsplit
from uuid import uuid4

import psycopg
import pytest
from django.db import connection

from inspections.backup_manifest import Manifest, kept_in


@pytest.fixture
def postgresql() -> Iterator[str]:
    """The address of an empty database on the server that the tests run on."""
    parts, name = urlsplit(os.environ["DATABASE_URL"]), f"drill_{uuid4().hex}"
    with psycopg.connect(os.environ["DATABASE_URL"], autocommit=True) as server:
        server.execute(f'CREATE DATABASE "{name}"')
        try:
            yield urlunsplit(parts._replace(path=f"/{name}"))
        finally:
            server.execute(f'DROP DATABASE "{name}" WITH (FORCE)')


@pytest.mark.slow
@pytest.mark.skipif(connection.vendor != "postgresql", reason="Both databases are needed; make test-slow has both.")
def test_a_course_goes_from_one_database_to_the_other_and_back(postgresql: str, tmp_path: Path) -> None:
    def installation(part: str, name: str, database: str) -> str:
        (tmp_path / name).mkdir()
        command = [sys.executable, "-m", "tests.inspections.backup_drill", part]
        told = subprocess.run(
            [*command, str(tmp_path / name), str(tmp_path / "kept")],
            env={**os.environ, "DATABASE_URL": database}, capture_output=True, text=True,
        )  # fmt: skip
        assert told.returncode == 0, told.stderr
        return told.stdout

    (tmp_path / "kept").mkdir()
    installation("play", "first", f"sqlite:///{tmp_path}/first/x.sqlite3")
    second = installation("go_on", "second", postgresql)
    third = installation("go_on", "third", f"sqlite:///{tmp_path}/third/x.sqlite3")

    assert " 0 faults." in second
    assert " 0 faults." in third
    found = [Manifest.read(folder) for folder in kept_in(tmp_path / "kept")]
    assert [one.database for one in found] == ["sqlite", "postgresql", "sqlite"]
    signed = [one.histories[0].signed for one in found]
    assert signed == sorted(set(signed))
    assert f"{signed[0]} then {signed[1]} signed." in second
    assert f"{signed[1]} then {signed[2]} signed." in third
    # The photo and the first day sheet went along, and no file was copied into a backup twice.
    assert {one.sha256 for one in found[0].files} < {one.sha256 for one in found[1].files}
    assert {one.sha256 for one in found[1].files} < {one.sha256 for one in found[2].files}
