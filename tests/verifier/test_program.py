"""The program as it is run: by a Python that knows nothing of the application, with and without the library."""

from __future__ import annotations

import ast
import shutil
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest

from reports.verifier import verify as v
from tests.verifier.record import WITNESS_KEY, Bundle


def works(python: str) -> bool:
    """Tell whether a Python of this name is here and starts: some names are only stand-ins."""
    return bool(shutil.which(python)) and subprocess.run([python, "-c", ""], capture_output=True).returncode == 0


PROGRAM = Path(v.__file__)
OLDEST = (3, 9)
OTHERS = [name for name in (f"python3.{minor}" for minor in range(9, 20)) if works(name)]
NOW = ["--now", "2026-06-20T12:00:00Z"]


@pytest.fixture
def file(made: SimpleNamespace, tmp_path: Path) -> Path:
    path = tmp_path / "bundle.zip"
    path.write_bytes(made.whole)
    return path


def run(*arguments: str | Path, python: tuple[str, ...] = (sys.executable, "-I")) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [*python, PROGRAM, *map(str, arguments), *NOW], capture_output=True, text=True, check=False, encoding="utf-8"
    )


@pytest.mark.parametrize("python", [("-I",), ("-I", "-S")], ids=["with the library", "without any library"])
def test_it_runs_alone_and_ends_with_0_where_all_is_vouched_for(bundle: Bundle, file: Path, python: tuple[str]) -> None:
    done = run(file, "--key", bundle.key, python=(sys.executable, *python))

    assert (done.returncode, done.stderr) == (0, "")
    assert "VERDICT  SIGNED BY ITS KEY, REWRITING NOT EXCLUDED." in done.stdout
    assert "Kestrel Hollow" in done.stdout


@pytest.mark.parametrize("python", OTHERS)
def test_it_runs_on_every_python_that_is_here(bundle: Bundle, file: Path, python: str) -> None:
    done = run(file, "--key", bundle.key, python=(python, "-I"))

    assert (done.returncode, done.stderr) == (0, "")


def test_it_ends_with_2_where_nothing_from_outside_stands_for_it(file: Path) -> None:
    done = run(file)

    assert done.returncode == 2
    assert "VERDICT  CONSISTENT WITH ITSELF ONLY." in done.stdout


def test_it_ends_with_1_where_something_was_altered(bundle: Bundle, file: Path) -> None:
    file.write_bytes(bundle.put({v.TABLE: b"other"}).packed())

    done = run(file, "--key", bundle.key)

    assert done.returncode == 1
    assert "Fault  spreadsheet" in done.stdout
    assert "VERDICT  ALTERED, OR NOT WHAT IT IS SAID TO BE." in done.stdout


def test_it_is_complete_with_a_witness_and_a_kept_state(bundle: Bundle, file: Path, kept: str, tmp_path: Path) -> None:
    file.write_bytes(bundle.cosigned().packed())
    (tmp_path / "kept.txt").write_text(kept.replace("\n", " \n"), encoding="utf-8")

    done = run(
        file, "--key", bundle.key, "--witness", WITNESS_KEY, "--prev", tmp_path / "kept.txt", "--max-age-days", "9"
    )

    assert done.returncode == 0
    assert "VERDICT  GENUINE AND COMPLETE." in done.stdout


def test_it_keeps_the_newest_state_for_the_next_time(bundle: Bundle, file: Path, tmp_path: Path) -> None:
    saved = tmp_path / "next.txt"

    done = run(file, "--key", bundle.key, "--save-checkpoint", saved)

    assert done.returncode == 0
    assert saved.read_bytes() == bundle.files[v.HEAD]
    assert run(file, "--prev", saved).returncode == 0


def test_it_keeps_nothing_of_a_bundle_that_was_altered(bundle: Bundle, file: Path, tmp_path: Path) -> None:
    file.write_bytes(bundle.put({v.TABLE: b"other"}).packed())

    run(file, "--key", bundle.key, "--save-checkpoint", tmp_path / "next.txt")

    assert not (tmp_path / "next.txt").exists()


@pytest.mark.parametrize(
    "arguments",
    [
        ["--key", "nonsense"],
        ["--key", WITNESS_KEY],
        ["--witness", "nonsense"],
        ["--prev", "/nowhere/kept.txt"],
        ["--prev", __file__],
        ["--max-age-days", "many"],
        ["--what"],
    ],
)
def test_it_ends_with_3_where_it_was_called_wrongly(file: Path, arguments: list[str]) -> None:
    done = run(file, *arguments)

    assert done.returncode == 3
    assert "VERDICT" not in done.stdout


def test_it_ends_with_3_where_there_is_no_file(tmp_path: Path) -> None:
    assert run(tmp_path / "none.zip").returncode == 3


def test_what_is_no_zip_file_is_a_fault_and_not_a_crash(file: Path, tmp_path: Path) -> None:
    other = tmp_path / "other.zip"
    for data in (b"", b"PK\x05\x06", file.read_bytes()[:5000], PROGRAM.read_bytes()):
        other.write_bytes(data)
        done = run(other)
        assert (done.returncode, done.stderr) == (1, "")
        assert "VERDICT  ALTERED" in done.stdout


def test_its_words_are_those_of_the_oldest_python_it_names() -> None:
    tree = ast.parse(PROGRAM.read_text(encoding="utf-8"), feature_version=OLDEST)

    # Annotations are text there, so what is newer in them does no harm.
    assert isinstance(tree.body[1], ast.ImportFrom)
    assert tree.body[1].module == "__future__"
    for node in ast.walk(tree):
        assert not isinstance(node, ast.Match)


def test_it_needs_nothing_but_the_standard_library() -> None:
    tree = ast.parse(PROGRAM.read_text(encoding="utf-8"))
    named = {
        name.split(".")[0]
        for node in tree.body
        if isinstance(node, ast.Import | ast.ImportFrom)
        for name in ([one.name for one in node.names] if isinstance(node, ast.Import) else [node.module or ""])
    }

    assert named <= sys.stdlib_module_names
