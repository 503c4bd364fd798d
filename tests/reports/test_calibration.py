"""A line calibrated from its rides: which are used, why others are not, and what is handed over to the mechanics.

The fit itself is checked against ``scipy`` and the dossier's table in ``tests/engineering/test_calibrate.py``; here the
rides are made with the very model, so that the drag area they were made with has to come out.
"""

from __future__ import annotations

from copy import deepcopy
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from types import SimpleNamespace
from typing import Any
from urllib.parse import parse_qs, urlsplit
from uuid import uuid4

import pytest
from django.urls import reverse

from courses.mechanics import plan_of
from engineering.envelope import Plan, outcome
from engineering.line import Air
from inspections.demo.mechanics import MECHANICS
from inspections.models import Day, Ride
from reports.calibration import Found, air_of, find
from reports.calibration_told import Rides, rides_told
from reports.course_units import CourseUnits
from tests import make

TRUE = 0.41  # the drag area that the rides were made with, in m²


@pytest.fixture
def described(w: SimpleNamespace) -> SimpleNamespace:
    make.settle(w, "mechanics", deepcopy(MECHANICS[2]), place=w.line)
    w.setup = make.picture(w, w.t(20)).setup
    w.row = w.setup.lines[0]
    return w


def rides(w: SimpleNamespace, masses: tuple[float, ...] = (35, 60, 75, 90, 105, 115), **fields: str) -> list[Ride]:
    plan = plan_of(w.setup.document(w.row), w.setup.mechanics(w.row), air_c=12.0, cross_mps=0.0)
    assert isinstance(plan, Plan)
    true = replace(plan, rider=replace(plan.rider, drag_area_m2=TRUE), air=Air(12.0, plan.air.pressure_pa))
    made = []
    for number, mass in enumerate(masses):
        wind = 0.3 * number
        found = outcome(true, mass, wind)
        told = {"wind_mps": f"{wind:.1f}", "wind_from": "head", "air_c": "12", "kind": "normal", "reached": "yes"}
        made.append(
            Ride(
                id=uuid4(),
                day=Day(date=date(2026, 6, 1)),
                place=w.row,
                mass=f"{mass:g}",
                fields=told | fields,
                rode_at=datetime(2026, 6, 1, 8, number, tzinfo=UTC),
                speed=f"{float(found.ride.arrival_mps):.3f}",  # type: ignore[union-attr]
            )
        )
    return made


def fitted(w: SimpleNamespace, taken: list[Ride], **more: Any) -> Found:
    return find(w.setup, w.row, taken, air_of(taken, taken), **more)


def test_drag_area_of_the_rides_is_found_and_handed_over(described: SimpleNamespace) -> None:
    found = fitted(described, rides(described))

    assert found.problem == ""
    assert found.made is not None
    assert found.made.drag_area_m2 == pytest.approx(TRUE, abs=0.002)
    given = {name: one[0] for name, one in parse_qs(urlsplit(found.propose).query).items()}
    assert float(given["rider__drag_area_m2"]) == pytest.approx(TRUE, abs=0.002)
    assert (given["rider__by_weight"], given["calibration__rides"], given["calibration__on"]) == (
        "yes", "6", "2026-06-01",
    )  # fmt: skip
    assert (given["calibration__least_kg"], given["calibration__most_kg"]) == ("35", "115")
    assert 0.0 < float(given["calibration__interval_mps"]) < 3.0


@pytest.mark.parametrize(
    ("masses", "fields", "sentence"),
    [
        ((35, 115), {}, "Only 2 of 2 test rides can be used; 6 are needed."),
        ((100, 102, 104, 106, 108, 110), {}, "The weights of the test rides span 10 kg; 30 kg are needed."),
        ((35, 60, 75, 90, 105, 115), {"wind_from": ""}, "Only 0 of 6 test rides can be used; 6 are needed."),
        ((35, 60, 75, 90, 105, 115), {"wind_mps": ""}, "Only 0 of 6 test rides can be used; 6 are needed."),
    ],
)
def test_too_little_says_why(
    described: SimpleNamespace, masses: tuple[float, ...], fields: dict[str, str], sentence: str
) -> None:
    found = fitted(described, rides(described, masses, **fields))

    assert found.problem == sentence
    assert found.propose == ""
    if fields:
        assert {row.why for row in found.rows} == {"The wind is not measured."}


def test_ride_left_out_by_a_person_and_ride_without_temperature_are_said(described: SimpleNamespace) -> None:
    taken = rides(described, (35, 50, 60, 75, 90, 105, 115))
    taken[1].fields = {**taken[1].fields, "air_c": ""}
    found = find(described.setup, described.row, taken, {one.pk: 12.0 for one in taken if one is not taken[1]},
                 without={str(taken[0].pk)})  # fmt: skip
    assert found.problem == "Only 5 of 7 test rides can be used; 6 are needed."
    assert found.rows[0].left_to
    assert found.rows[0].why == "Left out here."
    assert found.rows[1].why == "The temperature is not known."


def test_air_is_that_read_nearest_in_time_on_the_same_day() -> None:
    def ride(day: int, minute: int, air: str) -> Ride:
        at = datetime(2026, 6, day, 8, minute, tzinfo=UTC)
        fields = {"air_c": air} if air else {}
        return Ride(day=Day(pk=f"00000000-0000-0000-0000-00000000000{day}"), rode_at=at, fields=fields)

    taken = [ride(1, 30, ""), ride(2, 0, "")]
    found = air_of(taken, [ride(1, 0, "10"), ride(1, 40, "14"), ride(3, 0, "20")])
    assert found == {taken[0].pk: 14.0}


def test_page_shows_what_is_asked_and_refuses_in_words(described: SimpleNamespace, as_one: Any) -> None:
    address = reverse("reports:calibration", args=[described.course.pk, described.line.pk])
    page = as_one("engineer").get(address).content.decode()
    assert "No calibration from these rides" in page
    assert "test rides can be used; 6 are needed." in page
    spoiled = as_one("auditor").get(address, {"since": "soon", "speed_sd": "0", "wind_sd": "x"}).content.decode()
    assert "This is not a date." in spoiled
    assert "Enter a figure from 0.01 m/s to 2 m/s." in spoiled
    assert "is not a figure" in spoiled
    ahead = (described.on + timedelta(days=2)).isoformat()
    assert "This date still lies ahead." in as_one("engineer").get(address, {"since": ahead}).content.decode()


def test_mechanics_form_takes_the_calibration_over(described: SimpleNamespace, as_one: Any) -> None:
    propose = fitted(described, rides(described)).propose
    form = as_one("engineer").get(propose).context["form"]
    assert form["rider__given_by"].value() == "calibrated"
    assert form["calibration__rides"].value() == "6"
    assert form["source"].value() == ("Calibration with 6 of 6 test rides, 35 to 115 kg, 1 June 2026 to 1 June 2026")
    assert form["span_m"].value() == "207.7"  # the rest is as in force
    spoiled = propose.replace("calibration__rides=6", "calibration__rides=many")
    assert as_one("engineer").get(spoiled).context["form"]["calibration__rides"].value() == ""


def test_rides_left_out_by_hand_are_handed_over_with_their_reason_and_not_without(
    described: SimpleNamespace, as_one: Any
) -> None:
    taken = rides(described, (35, 45, 60, 75, 90, 105, 115))
    for number, one in enumerate(taken):  # a week of mornings
        one.day, one.rode_at = Day(date=date(2026, 6, 1 + number)), one.rode_at + timedelta(days=number)
    without = {str(taken[6].pk), str(taken[1].pk)}
    taken += rides(described, (50,))
    assert fitted(described, taken, without=without).propose == ""
    found = fitted(described, taken, without=without, because="Battery of the radar low")
    assert found.asks_why
    form = as_one("engineer").get(found.propose).context["form"]
    zone = described.course.zone
    named = "; ".join(f"{one.rode_at.astimezone(zone):%Y-%m-%d %H:%M} {one.mass} kg" for one in (taken[1], taken[6]))
    assert form["calibration__left_out"].value() == named
    assert form["calibration__left_why"].value() == "Battery of the radar low"
    # The first and last day are those of the rides used: the ride of 7 June is left out.
    assert form["calibration__on"].value() == "2026-06-06"
    assert form["source"].value() == (
        "Calibration with 6 of 8 test rides, 35 to 105 kg, 1 June 2026 to 6 June 2026. "
        f"Left out by hand: {named}. Because: Battery of the radar low"
    )


def test_many_rides_left_out_stand_in_the_document_where_the_source_is_too_short(
    described: SimpleNamespace, as_one: Any
) -> None:
    taken = rides(described, (35, 60, 75, 90, 105, 115, *range(40, 60)))
    found = fitted(described, taken, without={str(one.pk) for one in taken[6:]}, because="Gusts")
    form = as_one("engineer").get(found.propose).context["form"]
    assert form["calibration__left_out"].value().count(" kg") == 20
    assert form["source"].value().endswith("Left out by hand: 20, named under the calibration. Because: Gusts")
    assert len(form["source"].value()) <= 300


def ridden(w: SimpleNamespace, masses: tuple[int, ...]) -> None:
    """Ride on the day of the world, at the speeds of the model, and keep the rides."""
    for number, one in enumerate(rides(w, masses)):
        make.ride(w, w.line, at=w.t(20) + timedelta(minutes=number), mass=one.mass, wind=one.fields["wind_mps"],
                  air="12")  # fmt: skip
        last = Ride.objects.filter(place=w.line).latest("seq")
        Ride.objects.filter(pk=last.pk).update(speed=one.speed)


def test_page_asks_for_the_reason_and_loses_nothing(described: SimpleNamespace, as_one: Any, clock: Any) -> None:
    w = described
    ridden(w, (35, 45, 60, 75, 90, 105, 115))
    clock.move_to(w.t(40))
    address = reverse("reports:calibration", args=[w.course.pk, w.line.pk])
    out = Ride.objects.filter(place=w.line, mass="45").latest("seq")
    asked = {"since": w.on.isoformat(), "speed_sd": "0.2", "without": str(out.pk)}
    engineer = as_one("engineer")
    page = engineer.get(address, asked).content.decode()
    assert "Why 1 ride is left out" in page
    assert "Say why rides are left out" not in page
    assert (
        "mechanics/edit" not in page.replace("&amp;", "&").partition("What the rides say")[2].partition("</section>")[0]
    )

    refused = engineer.get(address, asked | {"hand_over": "1", "why": "  "})
    told = refused.content.decode()
    assert "Say why rides are left out: without a reason the figures are not proposed." in told
    assert f'<input type="hidden" name="without" value="{out.pk}">' in told
    assert '<input type="hidden" name="speed_sd" value="0.2">' in told

    answer = engineer.get(address, asked | {"hand_over": "1", "why": "Hand on the brake"})
    assert answer.status_code == 302
    form = engineer.get(answer["Location"]).context["form"]
    assert "Because: Hand on the brake" in form["source"].value()
    assert " 45 kg" in form["calibration__left_out"].value()


def told(w: SimpleNamespace, taken: list[Ride], **more: Any) -> Rides:
    return rides_told(fitted(w, taken, **more), CourseUnits("metric"))


def test_the_newest_ten_stand_there_and_the_rest_is_folded(described: SimpleNamespace) -> None:
    taken = list(reversed(rides(described, tuple(range(35, 65, 2)))))  # 15 of them, newest first
    found = told(described, taken)
    assert (found.count, found.used, len(found.newest), len(found.older)) == (15, 15, 10, 5)
    assert [one.pk for one in (*found.newest, *found.older)] == [str(one.pk) for one in taken]
    assert (found.left_out, found.refused, found.not_looked) == ((), (), ())
    assert (found.newest[0].weight, found.newest[0].wind) == ("63 kg", "4.2 m/s head")


def test_rides_not_used_stand_by_their_reason_and_those_left_out_by_themselves(described: SimpleNamespace) -> None:
    taken = rides(described, (35, 45, 55, 60, 75, 90, 105, 110, 115))
    for number in (1, 2):
        taken[number].fields = {**taken[number].fields, "wind_from": ""}
    taken[3].speed = ""
    found = told(described, taken, without={str(taken[0].pk), str(taken[1].pk)})
    assert [(group.why, [one.pk for one in group.rides]) for group in found.refused] == [
        ("The wind is not measured.", [str(taken[2].pk)]),
        ("The arrival speed of this test ride is not entered.", [str(taken[3].pk)]),
    ]
    assert [one.pk for one in found.left_out] == [str(taken[0].pk), str(taken[1].pk)]
    assert all(one.left_out for one in found.left_out)
    assert found.used == len(found.newest) == 5


def test_rides_of_a_line_without_figures_are_not_called_of_use(w: SimpleNamespace, as_one: Any) -> None:
    page = as_one("engineer").get(reverse("reports:calibration", args=[w.course.pk, w.line.pk])).content.decode()
    assert "What the mechanics of this line are computed from is not entered." in page
    assert "4 rides, not looked at" in page  # two today, two of the day before
    assert "of use" not in page


def test_what_was_left_out_stays_ticked_on_the_page(described: SimpleNamespace, as_one: Any) -> None:
    address = reverse("reports:calibration", args=[described.course.pk, described.line.pk])
    ride = Ride.objects.filter(place=described.line).latest("seq")
    page = as_one("engineer").get(address, {"without": str(ride.pk)}).content.decode()
    assert "1 ride left out here" in page
    assert f'name="without" value="{ride.pk}" checked' in page
