"""What is read once per process stays what the database holds."""

import json
from datetime import timedelta
from types import SimpleNamespace
from typing import Any

import pytest

from courses import kept
from courses.models import Version
from courses.queries import setup_at
from tests import make
from tests.inspections.pages import url

pytestmark = pytest.mark.usefixtures("clock")


def test_a_version_in_force_is_read_once_and_the_next_one_at_its_time(w: SimpleNamespace) -> None:
    kept.forget()
    setup_at(w.course, w.t(0))
    read = {version.pk: version for version in kept.known()}
    assert read

    again = setup_at(w.course, w.t(0) + timedelta(minutes=1))

    assert {id(version) for version in again.versions.values()} <= {id(version) for version in read.values()}


def test_nobody_changes_a_content_that_is_kept(w: SimpleNamespace, as_: Any) -> None:
    kept.forget()
    make.inspect(w, at=w.t(0))
    make.open_lines(w, at=w.t(60))
    for name in ("board", "walk"):
        as_("manager").get(url(w, name))

    assert kept.known()
    for version in kept.known():
        stored = Version.objects.get(pk=version.pk)
        assert json.dumps(version.content) == json.dumps(stored.content)
