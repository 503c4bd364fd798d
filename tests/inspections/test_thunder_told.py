"""What pages say of thunder without any script: how one counts, and until when a hold for it stands at least.

30 s and 30 minutes: R-501 (READ-2). The course's own longer wait is its reopening table's.
"""

import re
from datetime import timedelta
from types import SimpleNamespace
from typing import Any
from unittest import mock

import pytest

from inspections.actions import call_hold
from inspections.models import Hold
from tests import make
from tests.inspections.pages import sheet_url, text, url

pytestmark = pytest.mark.usefixtures("clock")


def chosen(page: str) -> list[str]:
    """Return the causes that are ticked on a page."""
    radios = [one for one in re.findall(r"<input [^>]*>", page) if 'name="cause"' in one and "radio" in one]
    assert len(radios) == len(Hold.Cause)
    return [re.findall(r'value="(\w+)"', one)[0] for one in radios if " checked" in one]


def test_the_page_of_a_hold_says_how_one_counts_and_chooses_nothing_by_itself(w: SimpleNamespace, as_: Any) -> None:
    page = text(as_("guide").get(url(w, "hold")))
    assert "At 30 seconds or less, or if no flash was seen, hold the course." in page
    assert "It cannot protect from the first strike" in page
    assert 'data-minutes="30"' in page
    assert not chosen(page)
    assert chosen(text(as_("guide").get(f"{url(w, 'hold')}?cause=thunder"))) == ["thunder"]


def test_a_hold_for_thunder_is_counted_down_on_its_page_and_on_sheets(w: SimpleNamespace, as_: Any, clock: Any) -> None:
    client = as_("technician")
    assert "Last thunder at 0" not in text(client.get(sheet_url(w)))
    call_hold(make.picture(w, w.t(1)), None, cause="thunder", deed=make.deed(w.mate, at=w.t(1)))
    clock.move_to(w.t(5))
    with mock.patch("inspections.reopening.THUNDER_WAIT", timedelta(minutes=45)):
        for path in (sheet_url(w), url(w, "lift", Hold.objects.get().pk)):
            page = text(client.get(path))
            assert "Last thunder at 07:31. Not before 08:16." in page
            assert 'data-minutes="45"' in page
    Hold.objects.update(lifted_at=w.t(4))
    assert "Not before" not in text(client.get(sheet_url(w)))
