"""The history of a line's tension: compared at one temperature, lost tension seen, each morning's tension by its air.

Figures of the reference line at -5, 15 and 35 °C (15.75, 15.00, 14.32 kN): mechanics dossier part 1.5, COMPUTED.
"""

from __future__ import annotations

from copy import deepcopy
from datetime import UTC, date, datetime, timedelta
from types import SimpleNamespace
from typing import Any

from django.urls import reverse

from courses.models import Course, Version
from inspections.demo.mechanics import MECHANICS as DEMO
from inspections.models import Day, Ride
from reports.tension import MORNINGS, air_rides, tension_of
from tests import make

LINE = {"drop_m": "18", "cable": {"mbf_kn": "178"}}
MECHANICS = {
    "span_m": "300", "cable": {"mass_kg_per_m": "1.05", "stiffness_kn": "10000", "expansion_per_k": "0.000012"},
    "tension_kn": "15", "reference_c": "15", "tension_date": "2026-03-14", "tension_how": "stopwatch",
}  # fmt: skip
AT = datetime(2026, 3, 14, 9, tzinfo=UTC)


def version(number: int, confirmed: bool = True, **changes: Any) -> Version:
    return Version(
        number=number, content={**MECHANICS, **changes}, source="Drawing", confirmed_at=AT if confirmed else None
    )  # fmt: skip


def ride(day: int, air: str, hour: int = 8) -> Ride:
    on = date(2026, 6, day)
    return Ride(day=Day(date=on), rode_at=datetime(2026, 6, day, hour, tzinfo=UTC), fields={"air_c": air})


def found(*versions: Version, rides: tuple[Ride, ...] = (), units: str = "metric") -> Any:
    return tension_of(Course(units=units), LINE, versions, rides)


def test_tensions_are_compared_at_one_temperature() -> None:
    """15.75 kN at -5 °C and 14.32 kN at 35 °C are the same cable."""
    rows = found(
        version(1),
        version(2, tension_kn="15.75", reference_c="-5", tension_date="2027-01-10"),
        version(3, tension_kn="14.32", reference_c="35", tension_date="2027-07-10"),
    ).measured

    assert [one.compared for one in rows] == ["15.00 kN", "15.00 kN", "15.00 kN"]
    assert [one.change for one in rows][-1] == ""
    assert all(abs(float(one.change.removesuffix(" %"))) < 0.11 for one in rows[:-1])
    assert [one.on.year for one in rows] == [2027, 2027, 2026]


def test_lost_tension_is_seen_and_what_was_never_confirmed_is_left_out() -> None:
    rows = found(
        version(1),
        version(2, tension_kn="13.5", tension_date="2026-09-01"),
        version(3, confirmed=False, tension_kn="9", tension_date="2026-10-01"),
        version(4, tension_kn="13.5", tension_date="2026-09-01", launch_mps="2"),  # the same tension, another figure
    ).measured

    assert [one.version.number for one in rows] == [2, 1]
    assert rows[0].change == "-10.0 %"


def test_impossible_tension_has_its_sentence_and_no_figure() -> None:
    rows = found(version(1, tension_kn="3"), version(2, tension_date="2026-05-01")).measured
    assert rows[1].problem.startswith("A sag of")
    assert rows[1].compared == ""
    assert rows[0].change == ""


def test_each_morning_has_the_tension_of_its_first_temperature() -> None:
    shown = found(version(1), rides=(ride(1, "-5"), ride(1, "20", 12), ride(2, "35"), ride(3, "warm")))
    assert [(one.on.day, one.told) for one in shown.mornings] == [(2, "14.32 kN"), (1, "15.75 kN")]
    assert len(shown.drawings) == 1
    assert shown.drawings[0].title == "Tension by the air of each morning, kN"


def test_us_course_reads_pounds_force() -> None:
    shown = found(version(1), version(2, tension_kn="14", tension_date="2026-09-01"), units="us")
    assert shown.measured[0].told.startswith("3147 lbf (14 kN) at 59 °F")
    assert shown.drawings[0].title.endswith("lbf")


def test_nothing_entered_is_nothing_shown() -> None:
    shown = found(version(1, tension_kn=""), rides=(ride(1, "10"),))
    assert (shown.measured, shown.mornings, shown.charts) == ((), (), [])


def test_two_chart_figures_are_points_of_the_drawing() -> None:
    shown = found(version(1), version(2, tension_kn="14", tension_date="2026-09-01"))
    assert len(shown.drawings[0].dots) == 2
    assert shown.drawings[0].about.startswith("2 figures from 14 March 2026 to 1 September 2026")


def test_air_of_the_last_weeks_only(w: SimpleNamespace) -> None:
    make.ride(w, w.line, at=w.t(6), air="12")
    assert [one.fields["air_c"] for one in air_rides(w.line, at=w.t(10))] == ["12"]
    assert air_rides(w.line, at=w.t(10) + timedelta(days=MORNINGS + 1)) == []


def test_line_page_shows_it(w: SimpleNamespace, as_one: Any) -> None:
    make.settle(w, "mechanics", deepcopy(DEMO[2]), place=w.line)
    page = as_one("auditor").get(reverse("reports:mechanics", args=[w.course.pk, w.line.pk])).content.decode()
    assert "Tension and temperature" in page
    assert "9 kN at 12 °C" in page
    assert "version 1, from Designer&#x27;s folder, sheet 4" in page
