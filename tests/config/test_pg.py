"""The throw-away PostgreSQL server comes, serves and goes; on a machine without one this is said."""

import os
import subprocess
import sys
from pathlib import Path

import psycopg
import pytest

from tests import pg


@pytest.fixture
def programs():
    try:
        return pg.programs()
    except pg.NoServer as missing:
        if os.environ.get("CI"):
            raise
        pytest.skip(str(missing))


def test_server_is_fresh_not_root_and_gone_afterwards(programs):
    with pg.server() as address, psycopg.connect(address) as connection:
        (folder,) = connection.execute("SHOW data_directory").fetchone()
        tables = connection.execute("SELECT count(*) FROM pg_stat_user_tables").fetchone()

        assert tables == (0,)
        assert Path(folder).stat().st_uid != 0
        assert connection.execute("SHOW listen_addresses").fetchone() == ("127.0.0.1",)

    assert not Path(folder).exists()
    with pytest.raises(psycopg.OperationalError):
        psycopg.connect(address, connect_timeout=2)


def test_command_gets_the_address_and_its_exit_code_is_passed_on(programs, capfd):
    look = "import os, sys; print(os.environ['DATABASE_URL']); sys.exit(3)"

    assert pg.main([sys.executable, "-c", look]) == 3
    assert capfd.readouterr().out.startswith("postgres://tests:")


@pytest.mark.parametrize(("build", "code"), [("", 0), ("true", 1)])
def test_missing_programs_are_named_and_an_error_in_a_build(monkeypatch, capsys, build, code):
    monkeypatch.setattr(pg.glob, "glob", lambda pattern: [])
    monkeypatch.setenv("PATH", "")
    monkeypatch.setenv("CI", build)

    assert pg.main(["never run"]) == code
    assert "initdb and postgres were found neither on PATH" in capsys.readouterr().err


def test_newest_version_is_taken(monkeypatch, tmp_path):
    for version in ("9.6", "15", "16"):
        folder = tmp_path / version / "bin"
        folder.mkdir(parents=True)
        for name in pg.NEEDED[: 1 if version == "16" else 2]:  # an installation without its server is passed over
            (folder / name).touch(mode=0o755)
    monkeypatch.setattr(pg.glob, "glob", lambda pattern: [str(tmp_path / v / "bin") for v in ("9.6", "16", "15")])

    assert pg.programs() == tmp_path / "15" / "bin"


def test_interrupted_run_takes_its_server_along(programs):
    hold = "import os, time; print(os.environ['DATABASE_URL'], flush=True); time.sleep(60)"
    run = subprocess.Popen(
        [sys.executable, "-m", "tests.pg", sys.executable, "-c", hold], stdout=subprocess.PIPE, text=True
    )
    address = run.stdout.readline().strip()
    psycopg.connect(address).close()

    run.terminate()

    assert run.wait(timeout=30) == 143
    with pytest.raises(psycopg.OperationalError):
        psycopg.connect(address, connect_timeout=2)
