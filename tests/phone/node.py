"""The phone's modules, run outside a browser: tasks in, answers out."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

import pytest

JUDGE = Path(__file__).with_name("judge.mjs")


def program() -> str:
    """Return where node is. Without it a test is skipped on a person's computer, and fails in the whole build."""
    found = shutil.which("node")
    if found is None and os.environ.get("CI"):
        pytest.fail("node is missing")
    if found is None:
        pytest.skip("node is missing")
    return found


def answers(tasks: Iterable[Mapping[str, Any]]) -> list[Any]:
    """Return the phone's answer to each task, in order. See ``judge.mjs`` for what can be asked."""
    asked = [json.dumps(task) for task in tasks]
    run = subprocess.run(
        [program(), str(JUDGE)], input="\n".join(asked) + "\n", capture_output=True, encoding="utf-8", timeout=60
    )
    assert run.returncode == 0, run.stderr
    told = [json.loads(line) for line in run.stdout.split("\n")[:-1]]
    assert len(told) == len(asked), run.stderr
    return told
