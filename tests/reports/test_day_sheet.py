"""The day sheet: it is called complete only where it is, and opens no line that is held.

What a daily record must contain is the list of the amusement rules (reference standards, R-241, by way of
``completeness.FIELDS``).
"""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from reports.papers.completeness import FIELDS, gaps
from reports.papers.day_sheet import draw_day_sheet
from tests.reports import papers_data as make
from tests.reports.paper_reader import letters, pages, stamped, tight
from tests.reports.papers_data import Data


def draw_day(data: Data) -> bytes:
    return draw_day_sheet(data, photos=make.photos)


def dropped(field: str) -> Data:
    """A complete day of one line with one thing of the list taken out."""
    data = make.day_sheet(1)
    sheet = data["places"][0]["sheets"][0]
    if field == "changes":
        data["revision"] = 2
    elif field == "action":
        data["findings"] = [{"title": "Padding torn", "severity": "minor", "state": "open"}]
    elif field == "measurement":
        next(one for one in sheet["readings"] if one.get("unit"))["text"] = ""
    elif field == "sheets":
        for one in data["places"][0]["sheets"]:
            one["readings"] = []
    else:
        path: tuple[Any, ...] = {
            "name": ("lines", 0, "name"),
            "number": ("lines", 0, "number"),
            "maker": ("lines", 0, "maker"),
            "serial": ("lines", 0, "serial"),
            "place": ("course", "town"),
            "date": ("date",),
            "start": ("places", 0, "sheets", 0, "started_at"),
            "end": ("places", 0, "sheets", 0, "signed_at"),
            "person": ("places", 0, "sheets", 0, "signer"),
            "competence": ("places", 0, "sheets", 0, "competence"),
            "result": ("places", 0, "sheets", 0, "readings", 0, "verdict"),
            "ride": ("rides",),
            "ride_time": ("rides", 0, "at"),
            "ballast": ("rides", 0, "mass_kg"),
            "brake_result": ("rides", 0, "verdict"),
            "weather": ("weather", "decision"),
            "communication": ("communication",),
            "inspector_signature": ("signatures",),
            "supervisor_signature": ("sign_off",),
            "opening_time": ("opens_at",),
            "limits": ("lines", 0, "limits"),
            "lines": ("lines",),
        }[field]
        return make.without(data, *path)
    return data


def test_a_complete_day_is_not_stamped() -> None:
    data = make.day_sheet(1)
    assert gaps(data) == []
    pdf = draw_day(data)
    assert not any(stamped(pdf))
    assert "INCOMPLETE" not in letters(pdf)


@pytest.mark.parametrize("field", FIELDS)
def test_a_day_that_lacks_one_thing_is_stamped_on_every_page_and_says_what(field: str) -> None:
    """R-241: the union of what the amusement rules ask of a daily record."""
    data = dropped(field)
    found = [gap for gap in gaps(data) if gap.field == field]
    assert found
    pdf = draw_day(data)
    assert all(stamped(pdf))
    for text in pages(pdf):
        assert "INCOMPLETE" in text
    for gap in found:
        assert tight(gap.sentence) in tight(pages(pdf)[0])


def test_a_line_that_is_held_is_never_called_open() -> None:
    data = make.day_sheet(1)
    data["lines"][0]["state"] = "held"
    text = pages(draw_day(data))[0]
    assert "0 of 1" in text
    assert "No riders." in text
    assert "40 – 117" not in text


def test_dates_are_printed_for_the_day_they_name() -> None:
    """14 June 2026 is a Sunday by the calendar of the standard library."""
    assert date(2026, 6, 14).strftime("%A") == "Sunday"
    assert "Sunday 14 June 2026" in pages(draw_day(make.day_sheet(1)))[0]
