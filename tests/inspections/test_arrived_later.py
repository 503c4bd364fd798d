"""What was signed without a signal and came later: whoever reads the day sees both times, wherever it stands.

Our own rule, no outside source: a day may have been signed in the minute between.
"""

from collections.abc import Callable
from datetime import timedelta
from types import SimpleNamespace
from typing import Any

import pytest
from django.urls import reverse

from inspections.models import Finding, Hold, SignOff
from reports.papers.day_sheet import draw_day_sheet
from reports.resolve import day_sheet_data
from tests import make
from tests.inspections.alone import hold as hold
from tests.inspections.alone import own_phone as own_phone
from tests.inspections.pages import ride_fields, text, url
from tests.reports.paper_reader import letters

pytestmark = pytest.mark.usefixtures("clock")
OFF = 20 * 60  # s, by which the phone's clock is slow


@pytest.fixture
def came(w: SimpleNamespace, as_: Any, hold: Callable[..., Any], clock: Any) -> SimpleNamespace:
    """A part taken out, a hold and a ride of 07:35 that came at 07:38, and a day that was signed after that."""
    make.inspect(w, at=w.t(0))
    sent = [
        hold(url(w, "withdraw"), {"code": "HA-01", "title": "Riemen gerissen"}, at=w.t(5), off=OFF),
        hold(url(w, "hold"), {"line": str(w.line.pk), "cause": "object", "text": "Ast"}, at=w.t(5), off=OFF),
        hold(url(w, "ride", w.line.pk), {**ride_fields(w), "sign": "1"}, at=w.t(5), off=OFF),
    ]
    clock.move_to(w.t(8))
    for one in sent:
        assert "id" in one.sent(as_("technician")).json()
    make.open_lines(w, at=w.t(10), line1="closed", line2="closed")
    return w


def test_the_page_of_the_day_says_it_of_every_kind(came: SimpleNamespace, as_: Any) -> None:
    page = text(as_("auditor").get(reverse("reports:day", args=[came.course.pk, came.at.date()])))
    assert page.count("Signed 15 Jun 07:35 without a signal, received 15 Jun 07:38.") == 2
    assert "Received 15 Jun 07:38." in page
    assert page.count("clock was wrong: it showed 15 June 2026, 07:15.") == 3


def test_the_page_of_the_finding_says_it(came: SimpleNamespace, as_: Any) -> None:
    one = Finding.objects.get(component__tag="HA-01")
    page = text(as_("manager").get(url(came, "finding", one.pk)))
    assert "Signed 15 Jun 07:35 without a signal, received 15 Jun 07:38." in page
    assert "it showed 15 June 2026, 07:15" in page


def test_the_day_sheet_says_it(came: SimpleNamespace) -> None:
    data = day_sheet_data(SignOff.objects.get())
    [finding] = [one for one in data["findings"] if one["component"] == "HA-01"]
    rides = [one for one in data["rides"] if one["at"] == "2026-06-15T05:35:00Z"]
    assert len(rides) == 1
    for one in (*rides, *data["holds"], finding["steps"][0]):
        assert one["received_at"] == "2026-06-15T05:38:00Z"
        assert "it showed 15 June 2026, 07:15" in one["clock"]
    drawn = letters(draw_day_sheet(data, photos=lambda _sha256: None))
    assert drawn.count("received07:38") == 3
    assert drawn.count("itshowed15June2026,07:15") == 3


def test_what_came_in_its_minute_is_told_once(w: SimpleNamespace, as_: Any, hold: Any, clock: Any) -> None:
    sent = hold(url(w, "hold"), {"line": str(w.line.pk), "cause": "object", "text": "Ast"}, at=w.t(5), off=0)
    clock.move_to(w.t(5) + timedelta(seconds=40))
    sent.sent(as_("technician"))
    assert Hold.objects.count() == 1
    page = text(as_("auditor").get(reverse("reports:day", args=[w.course.pk, w.at.date()])))
    assert "without a signal, received" not in page
