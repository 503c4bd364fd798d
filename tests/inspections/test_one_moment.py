"""A page is of one moment: what is signed while it is being read is wholly there or not at all, and clears nothing.

The contract is ledger.reading; there is no outside source for it. That a database answers within such a transaction as
of one moment is asked of the database itself, PostgreSQL and SQLite.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from threading import Thread
from types import SimpleNamespace
from typing import Any

import pytest
from django.db import connection

from inspections import picture
from inspections.facts import line_statuses
from tests import make

DEFECT = {"TA-06@end-landing": {"mark": "defect", "kept": "defect", "note": "Bent."}}
READS = ("_readings", "states_of", "_works", "phones_of")  # between these a page asks the database


@pytest.fixture
def w(transactional_db: None, clock: Any, morning: datetime) -> SimpleNamespace:
    """A course whose one line has all but one sheet: in that a defect will be found."""
    w = make.ready(lines=1, on=morning)
    make.inspect(w, at=morning, but=("landing",))
    return w


def elsewhere(act: Callable[[], object]) -> None:
    """Do something in another connection, as another process would, and have it done."""
    failed: list[BaseException] = []

    def run() -> None:
        try:
            act()
        except BaseException as error:
            failed.append(error)
        finally:
            connection.close()

    thread = Thread(target=run)
    thread.start()
    thread.join()
    assert not failed, failed


@pytest.mark.parametrize("read", READS)
def test_a_defect_that_is_signed_while_a_page_is_read_never_clears_its_line(
    w: SimpleNamespace, morning: datetime, monkeypatch: pytest.MonkeyPatch, read: str
) -> None:
    own = getattr(picture, read)

    def after_a_signature(*given: Any, **more: Any) -> Any:
        monkeypatch.undo()
        elsewhere(lambda: make.sign(w, w.line, "landing", at=morning, answers=DEFECT))
        return own(*given, **more)

    monkeypatch.setattr(picture, read, after_a_signature)
    torn = make.picture(w, morning)
    assert getattr(picture, read) is own, "nothing was signed in between"
    assert [status.word for status in line_statuses(torn)] == ["held"]
    section = torn.section(w.line, "landing")
    assert section is not None
    assert not section.sheets
    whole = make.picture(w, morning)
    assert [status.word for status in line_statuses(whole)] == ["held"]
    assert len(whole.sheets) == len(torn.sheets) + 1
