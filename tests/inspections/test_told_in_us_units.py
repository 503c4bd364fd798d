"""On a course in US units: why a line is held, and why a figure is asked back, in pounds, miles per hour and inches.

Exact factors are those of the yard and pound agreement of 1959 (1 in = 25.4 mm, 1 lb = 0.45359237 kg) and 1 mph =
0.44704 m/s from it. The record keeps metric figures.
"""

from __future__ import annotations

import re
from types import SimpleNamespace
from typing import Any

import pytest

from courses.models import Course
from inspections.explain import reasons_of, sentence_of
from inspections.facts import line_statuses
from tests import make
from tests.inspections.pages import posted, sheet_url, text, url
from tests.inspections.test_jump import U, fields, read_yesterday, settle_gauge

pytestmark = pytest.mark.usefixtures("clock")
SPRING = "BS-1@primary-1"  # free length, 600 mm when new


@pytest.fixture
def us(w: SimpleNamespace) -> SimpleNamespace:
    Course.objects.filter(pk=w.course.pk).update(units="us")
    w.course.refresh_from_db()
    return w


def test_reasons_that_name_figures_are_told_in_us_units(us: SimpleNamespace, as_: Any) -> None:
    make.inspect(us, at=us.t(1))
    make.ride(us, us.line, at=us.t(2), mass="115", wind="6.5", wind_from="tail", figures={"stroke.used": "7.2"})
    picture = make.picture(us, us.t(3))
    status = line_statuses(picture)[0]
    told = [one.sentence for one in reasons_of(picture, status, inspects=True)]
    assert "The test ride at 254 lb was past its limit." in told  # 115 kg
    # 6.5 m/s; over 6 m/s from behind.
    assert any(one.startswith("Wind 14.5 mph (") and one.endswith("is above the limit of 13.4 mph.") for one in told)
    page = text(as_("technician").get(url(us, "line", us.line.pk)))
    assert "The test ride at 254 lb was past its limit." in page
    kept = [one.sentence for one in status.clearance.reasons]
    assert "The test ride at 115 kg was past its limit." in kept
    assert [sentence_of(one, "metric") for one in status.clearance.reasons] == kept


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        (
            "5990 mm",
            "235.827 in (5990 mm) is at least five times more or less than the nominal figure (23.622 in (600 mm)).",
        ),
        ("2.3", "2.3 in (58.42 mm) is at least five times more or less than the nominal figure (23.622 in (600 mm))."),
    ],
)
def test_a_slip_is_asked_back_in_inches(us: SimpleNamespace, as_: Any, typed: str, said: str) -> None:
    response = as_("technician").post(sheet_url(us), {"sign": "1", **posted(us, **{f"text-{SPRING}": typed})})
    assert said in text(response)


def test_a_jump_is_asked_back_in_pounds(us: SimpleNamespace, as_: Any) -> None:
    settle_gauge(us, str(U))
    read_yesterday(us)
    client = as_("technician")
    page = text(
        client.post(url(us, "sheet", us.house.pk, "house"), {"sign": "1", **fields(us, "0.35 kg")}, follow=True)
    )
    # What the gauge scatters, 0.14 kg, is rounded up to tenths of a pound.
    assert "0.8 lb (0.35 kg) is further from last time (0.4 lb (0.2 kg))" in page
    assert "than this gauge scatters (0.4 lb (0.14 kg))." in page


def test_weights_and_winds_of_a_line_read_in_pounds_and_miles_per_hour(us: SimpleNamespace, as_: Any) -> None:
    """35 kg are 77.162 lb, 115 kg 253.532 lb: rounded inward, so that no band reads wider than it is."""
    make.inspect(us, at=us.t(1))
    make.ride(us, us.line, at=us.t(2))
    make.open_lines(us, at=us.t(3))
    board = " ".join(re.sub("<[^>]*>", " ", text(as_("technician").get(url(us, "board")))).split())
    assert "77.2 – 253.5 lb (35 – 115 kg) cross wind ≤ 17.8 mph (8 m/s) , head wind ≤ 20.1 mph (9 m/s)" in board
    assert "Wind last read 4.7 mph (2.1 m/s)" in board
    line = " ".join(re.sub("<[^>]*>", " ", text(as_("technician").get(url(us, "line", us.line.pk)))).split())
    assert "Rider weight 77.2 – 253.5 lb 35 – 115 kg" in line
