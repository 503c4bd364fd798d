"""What the engineer sets for the charts of a line: its ballast, what is usual settled anew, mornings left out.

That these need a reason and a second person is the course's own rule. That a baseline begins anew after a change that
is known, and that a misread figure is taken out of it with a reason only: common practice of control charts, no source.
"""

from __future__ import annotations

from datetime import timedelta
from statistics import fmean
from types import SimpleNamespace
from typing import Any

import pytest
from django.urls import reverse

from courses.chart_setting import chart_problem
from inspections.models import Finding
from tests.inspections.control_season import SCATTER_M, chart, ridden, settled

DAY_OF = "%Y-%m-%d"

pytestmark = pytest.mark.usefixtures("twenty_mornings", "nothing_kept")


def on(w: SimpleNamespace, day: int) -> str:
    return (w.at + timedelta(days=day)).strftime(DAY_OF)


def watches(w: SimpleNamespace) -> list[str]:
    return sorted(Finding.objects.filter(course=w.course, key__startswith="chart@").values_list("key", flat=True))


def test_settled_anew_the_twenty_mornings_after_that_day_say_what_is_usual(w: SimpleNamespace) -> None:
    settled(w, chart={"anew_on": on(w, 5), "anew_why": "The marks were painted anew."})
    for day in range(20, 25):
        ridden(w, 0.01 * (day - 19), day=day)
    baseline = chart(w, day=24).control.baseline
    assert baseline.first.date().isoformat() == on(w, 5)
    by_m = [*SCATTER_M[5:], *(0.01 * one for one in range(1, 6))]
    assert baseline.centre == pytest.approx(fmean(by_m), abs=1e-3)


def test_settling_anew_takes_away_no_watch_that_stands(w: SimpleNamespace) -> None:
    ridden(w, 0.6, day=20)
    settled(w, chart={"anew_on": on(w, 21), "anew_why": "The marks were painted anew."})
    assert chart(w, day=21).control.status.code == "no-rides"
    assert watches(w) == ["chart@stroke"]
    assert Finding.objects.get(course=w.course, key="chart@stroke").state == "open"


def test_a_struck_morning_is_not_among_those_that_say_what_is_usual(w: SimpleNamespace) -> None:
    settled(w, struck=[{"on": on(w, 3), "why": "Mark misread in fog."}])
    control = chart(w, day=19).control
    assert dict(control.status.params)["count"] == "19"
    ridden(w, 0.0, day=20)
    baseline = chart(w, day=20).control.baseline
    assert baseline.centre == pytest.approx(fmean([*SCATTER_M[:3], *SCATTER_M[4:], 0.0]), abs=1e-3)


def test_an_alarm_cannot_be_struck(w: SimpleNamespace) -> None:
    ridden(w, 0.6, day=20)
    settled(w, struck=[{"on": on(w, 20), "why": "Looks wrong."}])
    control = chart(w, day=20).control
    assert [one.code for one in control.standing] == ["beyond-high"]
    assert control.points[-1].at.date().isoformat() == on(w, 20)


def test_another_ballast_begins_a_chart_of_its_own(w: SimpleNamespace) -> None:
    settled(w, chart={"least_kg": "80", "most_kg": "84"})
    assert chart(w, day=19).control.status.code == "no-rides"
    ridden(w, 0.0, day=20, mass="82")
    assert dict(chart(w, day=20).control.status.params)["count"] == "1"


def test_shorter_after_longer_is_a_watch_of_its_own(w: SimpleNamespace) -> None:
    ridden(w, 0.6, day=20)
    assert watches(w) == ["chart@stroke"]
    ridden(w, -0.6, day=21)
    assert watches(w) == ["chart@stroke", "chart@stroke@low"]
    shorter = Finding.objects.get(course=w.course, key="chart@stroke@low")
    assert shorter.title.startswith("Brake travel much shorter than usual")
    assert shorter.clause.startswith("Look first at the brake for binding")
    ridden(w, -0.6, day=22)
    assert len(watches(w)) == 2


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        ({"chart": {"least_kg": "80"}}, "its lightest and its heaviest"),
        ({"chart": {"most_kg": "80"}}, "its lightest and its heaviest"),
        ({"chart": {"least_kg": "84", "most_kg": "80"}}, "below its lightest"),
        ({"chart": {"anew_on": "2026-05-01"}}, "give both"),
        ({"chart": {"anew_why": "Because."}}, "give both"),
        ({"struck": [{"on": "2026-05-01"}]}, "give both"),
        ({"struck": [{"on": "2026-05-01", "why": "A"}, {"on": "2026-05-01", "why": "B"}]}, "left out twice"),
        ({"chart": {"least_kg": "80", "most_kg": "80", "anew_on": "2026-05-01", "anew_why": "A"}}, ""),
        ({}, ""),
    ],
)
def test_half_a_setting_is_refused_in_words(content: dict[str, Any], sentence: str) -> None:
    found = chart_problem(content)
    assert (sentence in found) if sentence else found == ""


def test_the_page_of_test_rides_says_what_was_set(w: SimpleNamespace, as_: Any, clock: Any) -> None:
    settled(
        w, chart={"anew_on": on(w, 1), "anew_why": "New marks."}, struck=[{"on": on(w, 3), "why": "Misread in fog."}]
    )
    clock.move_to(w.at + timedelta(days=19, hours=1))
    html = as_("auditor").get(reverse("reports:rides", args=[w.course.pk, w.line.pk])).content.decode()
    assert "The engineer had what is usual settled anew from 16 June 2026: New marks." in html
    assert "The engineer left this morning out of what is usual: Misread in fog." in html
    assert "Rides with 115 kg to 120.8 kg are compared." in html.replace("\xa0", " ")


def test_the_ride_page_names_the_ballast_that_is_compared(w: SimpleNamespace, as_: Any, clock: Any) -> None:
    settled(w, chart={"least_kg": "80", "most_kg": "84.5"})
    clock.move_to(w.at + timedelta(days=19, hours=1))
    html = as_("technician").get(reverse("inspections:ride", args=[w.course.pk, w.line.pk])).content.decode()
    assert "Compared every morning" in html
    assert "80 kg to 84.5 kg" in html.replace("\xa0", " ")
