"""The signed state of the record on the day sheet: it is that of the sign-off, and says why where there is none."""

from __future__ import annotations

from base64 import b64encode
from types import SimpleNamespace
from typing import Any

import pytest
from django.db import connection

from accounts.deeds import COMMAND, Deed
from accounts.log_keys import begin_log_key
from courses.actions.files import path_of
from inspections.models import Paper, SignOff
from ledger import log_key, notes, sealing, triggers
from ledger.models import Checkpoint, Entry
from reports.actions import issue_day_sheet
from tests import make
from tests.reports.paper_reader import pages

KEY = b64encode(bytes(range(32))).decode()


@pytest.fixture
def signed(w: SimpleNamespace) -> SignOff:
    make.inspect(w, at=w.t(0))
    make.ride(w, w.line, at=w.t(10))
    make.open_lines(w, at=w.t(60))
    return SignOff.objects.get()


def begin(w: SimpleNamespace, settings: Any) -> None:
    settings.LOG_KEY = KEY
    begin_log_key(w.operator, log_key.read(KEY), deed=Deed(by=w.manager, at=w.t(5), how=COMMAND))


def drawn(w: SimpleNamespace, signed: SignOff) -> str:
    paper = issue_day_sheet(signed, deed=make.deed(w.manager, at=w.t(61)))
    return "\n".join(pages(path_of(w.operator.pk, paper.sha256).read_bytes()))


def test_the_day_sheet_carries_the_state_that_was_signed_with_the_day(
    w: SimpleNamespace, settings: Any, signed: SignOff
) -> None:
    begin(w, settings)
    text = drawn(w, signed)
    made = sealing.newest(w.operator.log)
    assert made is not None
    assert made.size > signed.seq
    for line in made.note.rstrip("\n").split("\n"):
        assert line.replace(" ", "") in text.replace(" ", "").replace("\n", "")
    # Who types the lines off the paper has what a verifier takes.
    known = [one.key for one in sealing.keys_of(w.operator.log)]
    assert notes.Checkpoint.of(notes.opened(made.note, known)[0]).root == bytes(made.root)
    # The paper's own entry comes after it and is in the next state.
    assert Entry.objects.filter(log=w.operator.log).count() == made.size + 1


def test_without_a_key_the_sheet_says_so(
    w: SimpleNamespace, settings: Any, signed: SignOff, caplog: pytest.LogCaptureFixture
) -> None:
    """That a course never had a key is no trouble, and nobody is told of it every day."""
    settings.LOG_KEY = ""
    assert "only copies of its papers show a later change" in " ".join(drawn(w, signed).split())
    assert not Checkpoint.objects.exists()
    assert "is not signed" not in caplog.text


def test_a_wrong_key_stops_no_day_but_is_told(
    w: SimpleNamespace, settings: Any, signed: SignOff, caplog: pytest.LogCaptureFixture
) -> None:
    begin(w, settings)
    before = Checkpoint.objects.count()
    settings.LOG_KEY = b64encode(bytes(32)).decode()
    assert "the key on the server is another one" in " ".join(drawn(w, signed).split())
    assert Checkpoint.objects.count() == before
    assert "is not signed" in caplog.text
    assert Paper.objects.filter(sign_off=signed, kind=Paper.Kind.DAY_SHEET).count() == 1


@pytest.mark.parametrize("code", ["bad-key", "history-changed"])
def test_what_is_trouble_is_told_to_who_runs_the_server(
    w: SimpleNamespace, settings: Any, signed: SignOff, caplog: pytest.LogCaptureFixture, code: str
) -> None:
    begin(w, settings)
    if code == "bad-key":
        settings.LOG_KEY = "not a key"
    else:
        triggers.drop(connection)
        Checkpoint.objects.update(root=bytes(32))
    issue_day_sheet(signed, deed=make.deed(w.manager, at=w.t(61)))
    told = (one for one in caplog.records if one.name == "reports.actions")
    errors = [one.getMessage() for one in told if one.levelname == "ERROR"]
    assert errors == [f"The history of {w.operator.name} is not signed: {sealing.WHY[code]}"]
