"""What a technician is told right after signing a test ride, and what the line's own page says of it."""

from __future__ import annotations

from datetime import timedelta
from types import SimpleNamespace
from typing import Any
from uuid import uuid4

import pytest
from django.urls import reverse

from inspections.actions.rides import ride_items
from inspections.models import Finding
from tests import make
from tests.inspections.control_season import expected_m
from tests.inspections.pages import ride_fields, text, url

pytestmark = pytest.mark.usefixtures("twenty_mornings", "nothing_kept")


def posted(w: SimpleNamespace, by_m: float, **more: str) -> dict[str, str]:
    now = make.picture(w, w.at + timedelta(days=20))
    key = next(item["key"] for item in ride_items(now, w.line) if item["measures"] == "stroke.used")
    travel = f"{expected_m(w, now.at) + by_m:.2f}"
    given = {"wind": "1.0", "wind_from": "head", "air": "12", "deed_id": str(uuid4()), f"text-{key}": travel}
    return ride_fields(w, **(given | more))


@pytest.mark.parametrize(
    ("by_m", "told", "asks"),
    [
        (0.1, "0.1 m more than usual on this line at this wind and weight. It is within", False),
        (-0.1, "0.1 m less than usual on this line at this wind and weight. It is within", False),
        (0.6, "0.6 m more than usual on this line at this wind and weight. It has left what this line", True),
    ],
)
def test_it_is_said_at_once_how_a_ride_went(
    w: SimpleNamespace, as_: Any, clock: Any, by_m: float, told: str, asks: bool
) -> None:
    clock.move_to(w.at + timedelta(days=20))
    client = as_("technician")
    landed = client.post(url(w, "ride", w.line.pk), posted(w, by_m), follow=True)
    chart = reverse("reports:rides", args=[w.course.pk, w.line.pk])
    assert told in text(landed)
    assert f'<a href="{chart}">Test rides as a chart</a>' in text(landed)
    assert Finding.objects.filter(course=w.course, key="chart@stroke", state="open").exists() == asks
    assert ('<div class="notice is-watch" role="status">' in text(landed)) == asks

    for page in (url(w, "line", w.line.pk), url(w, "ride", w.line.pk)):
        assert told in text(client.get(page)), page
    assert chart in text(client.get(url(w, "line", w.line.pk)))
    assert chart not in text(as_("guide").get(url(w, "line", w.line.pk)))  # reads no past days


def test_what_is_missing_is_said_at_once(w: SimpleNamespace, as_: Any, clock: Any) -> None:
    clock.move_to(w.at + timedelta(days=20))
    landed = as_("technician").post(url(w, "ride", w.line.pk), posted(w, 0.0, air=""), follow=True)
    assert "Not computed. The temperature was not measured." in text(landed)


def test_the_watch_of_a_chart_says_where_to_look_and_that_it_holds_no_line(
    w: SimpleNamespace, as_: Any, clock: Any
) -> None:
    clock.move_to(w.at + timedelta(days=20))
    as_("technician").post(url(w, "ride", w.line.pk), posted(w, 0.6))
    watch = Finding.objects.get(course=w.course, key="chart@stroke")
    page = text(as_("manager").get(url(w, "finding", watch.pk)))
    assert "Look first at the brake" in page
    assert "This watch holds no line." in page
    assert reverse("reports:rides", args=[w.course.pk, w.line.pk]) in page
