"""A ballast that stopped short of the landing, in the history and on the day sheet: never told as a good ride.

That is judgement, no source. What it does to the day's weights: ``tests/inspections/test_stopped_short.py``.
"""

from __future__ import annotations

import re
from types import SimpleNamespace
from typing import Any

from django.urls import reverse

from inspections.models import SignOff
from reports.papers.day_sheet import draw_day_sheet
from reports.resolve import day_sheet_data
from tests import make
from tests.reports.paper_reader import pages


def test_a_ballast_that_stopped_short_is_told_as_such_on_page_and_day_sheet(w: SimpleNamespace, as_one: Any) -> None:
    """Its figures are within their limits, which ask that a brake is not used too far: no good ride for that."""
    make.ride(w, w.line, mass="35", at=w.t(10), reached="no")
    make.open_lines(w, at=w.t(12), line1="closed")
    html = as_one("auditor").get(reverse("reports:day", args=[w.course.pk, w.on])).content.decode()
    said = "The ballast stopped short of the landing."
    row = next(one for one in re.findall(r"<tr.*?</tr>", html, re.DOTALL) if said in one)
    assert "Stopped short</span>" in row
    assert "is-ok" not in row
    data = day_sheet_data(SignOff.objects.get(day__course=w.course))
    short = next(one for one in data["rides"] if one["short"])
    assert (short["mass_kg"], short["verdict"]) == ("35", "ok")
    sheet = pages(draw_day_sheet(data, photos=lambda _hash: None))
    assert "Stopped short" in " ".join(sheet)
    assert said in " ".join(" ".join(sheet).split())
