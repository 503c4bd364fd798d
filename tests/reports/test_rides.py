"""The page of a line's test rides: what it says, draws and lists, in how many queries, and without statistics' words.

That the wording shows no statistics and no plain travel is the course's own rule (judgement).
"""

from __future__ import annotations

import re
from datetime import timedelta
from types import SimpleNamespace
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils.html import strip_tags

from courses.models import Place
from inspections.control_record import forget
from inspections.models import Finding
from tests.inspections.control_season import ridden, settled

QUERIES = 15
STATISTICS = ("sigma", "residual", "baseline", "control limit", "deviation", "cusum", "average", "out of control")

pytestmark = pytest.mark.usefixtures("twenty_mornings", "nothing_kept")


def reader(w: SimpleNamespace, as_one: Any, *, day: int) -> Client:
    w.clock.move_to(w.at + timedelta(days=day, hours=1))
    return as_one("auditor")  # type: ignore[no-any-return]


def page(w: SimpleNamespace, as_one: Any, *, day: int, line: Place | None = None) -> str:
    client = reader(w, as_one, day=day)
    answer = client.get(reverse("reports:rides", args=[w.course.pk, (line or w.line).pk]))
    assert answer.status_code == 200
    return answer.content.decode()


def said(html: str) -> str:
    return re.sub(r"\s+", " ", strip_tags(html[html.index("<main") :]))


def test_an_alarm_is_said_first_with_where_to_look(w: SimpleNamespace, as_one: Any) -> None:
    ridden(w, 0.6, day=20)
    html = page(w, as_one, day=20)
    text = said(html)
    assert "It has left what this line has shown: look today." in text
    assert "4.3 m, 0.6 m more than usual on this line at this wind and weight." in text
    assert "Look first at the brake" in text
    assert "The maker's manual comes first." in text.replace("&#x27;", "'")
    watch = Finding.objects.get(course=w.course, key="chart@stroke")
    assert reverse("inspections:finding", args=[w.course.pk, watch.pk]) in html
    assert not any(word in text.lower() for word in STATISTICS)


def test_the_picture_has_a_title_a_description_and_the_same_as_a_table(w: SimpleNamespace, as_one: Any) -> None:
    ridden(w, 0.6, day=20)
    html = page(w, as_one, day=20)
    assert re.search(r'<title id="rides-stroke-title">Brake travel of the last 30 mornings</title>', html)
    about = re.search(r'<desc id="rides-stroke-about">(.*?)</desc>', html)
    assert about is not None
    assert "21 rides, from 15 June 2026 to 5 July 2026." in about[1]
    assert html.count('class="chart__old" cx="') - html.count('class="chart__old" cx="12"') == 20
    assert html.count('class="chart__wild" cx="') - html.count('class="chart__wild" cx="12"') == 1
    rows = html[html.index("<tbody") : html.index("</tbody>")]
    assert rows.count("<tr") == 23  # with two from before there was an air temperature, of which nothing is computed
    assert "+0.60 m" in rows
    assert "Not computed. The temperature was not measured." in rows


def test_before_twenty_mornings_no_bounds_are_drawn(w: SimpleNamespace, as_one: Any) -> None:
    html = page(w, as_one, day=4)
    assert "of 20 good mornings are known" in said(html)
    assert "chart__bound" not in html
    assert "look above" not in html


def test_without_mechanics_nothing_is_drawn_and_it_is_said(w: SimpleNamespace, as_one: Any) -> None:
    html = page(w, as_one, day=20, line=w.lines[1])
    assert "What the mechanics of this line are computed from is not entered." in said(html)
    assert "chart__svg" not in html


def test_rides_that_cannot_be_computed_are_not_drawn(w: SimpleNamespace, as_one: Any) -> None:
    settled(w, tension_kn="2")
    html = page(w, as_one, day=20)
    assert "chart__svg" not in html
    assert "No ride could be compared, so nothing is drawn." in said(html)
    assert "slack, or a wrong tension or unit." in said(html)


def test_why_a_ride_is_not_compared_is_told_in_the_units_of_the_course(w: SimpleNamespace, as_one: Any) -> None:
    type(w.course).objects.filter(pk=w.course.pk).update(units="us")
    ridden(w, 0.0, day=20, wind="20", wind_from="head")
    text = said(page(w, as_one, day=20))
    assert "20 m/s" not in text.replace("(20 m/s)", "")
    assert "The wind of 44.7 mph is outside -13.4 to 20.1 mph" in text


def test_a_course_in_feet_reads_feet(w: SimpleNamespace, as_one: Any) -> None:
    type(w.course).objects.filter(pk=w.course.pk).update(units="us")
    ridden(w, 0.6, day=20)
    html = page(w, as_one, day=20)
    assert "1.97 ft (0.6 m) more than usual" in said(html)


def test_the_page_takes_as_many_queries_for_many_mornings_as_for_few(
    w: SimpleNamespace, as_one: Any, django_assert_num_queries: Any
) -> None:
    client = reader(w, as_one, day=20)
    address = reverse("reports:rides", args=[w.course.pk, w.line.pk])
    client.get(address)
    for minutes in (0, 5):
        ridden(w, 0.0, day=20, minutes=minutes)
        forget()
        with django_assert_num_queries(QUERIES):
            client.get(address)
    with django_assert_num_queries(QUERIES - 3):  # nothing changed since: rides, deeds and airs are not read again
        client.get(address)
