"""The demo season against what an auditor would doubt: times, shares of work, rides, weather, tags, counts.

No published source says how long a person looks at an item or who shares a walk; those bounds are common practice and
judgement. The seven days within which both posted weights are ridden are the course's own rule (also judgement).
"""

from collections import Counter, defaultdict
from collections.abc import Iterator
from datetime import UTC, date, datetime, time, timedelta
from io import BytesIO
from itertools import pairwise
from types import SimpleNamespace
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.db import transaction
from PIL import Image

from courses.calendar import local_day
from courses.models import Place
from inspections import models
from inspections.demo import course as plan
from inspections.demo import pictures, shifts
from inspections.demo.build import build, founded_at
from inspections.demo.course import LINES
from inspections.demo.mechanics import MECHANICS
from inspections.demo.season import SEED, Season
from inspections.demo.weather import weather_of
from inspections.rebuild import chain_faults, projection_faults

NOW = datetime(2026, 6, 14, 17, 0, tzinfo=UTC)  # 13:00 at the course
SHORT, WHOLE = 8, 60

pytestmark = pytest.mark.django_db


@pytest.fixture(scope="module", params=[SHORT, pytest.param(WHOLE, marks=pytest.mark.slow)])
def season(request: pytest.FixtureRequest, django_db_setup: None, django_db_blocker: Any) -> Iterator[SimpleNamespace]:
    with django_db_blocker.unblock(), transaction.atomic():
        cast = build(founded_at(NOW, request.param))
        cast.season = Season(cast, request.param)
        cast.season.run(NOW)
        yield SimpleNamespace(
            cast=cast,
            zone=cast.course.zone,
            today=date(2026, 6, 14),
            days=request.param,
            sheets=list(models.Sheet.objects.select_related("day", "place").order_by("seq")),
            rides=list(models.Ride.objects.select_related("day", "place").order_by("seq")),
            sign_offs=list(models.SignOff.objects.select_related("day").order_by("seq")),
        )
        transaction.set_rollback(True)


def test_a_sheet_takes_a_person_twelve_seconds_an_item_or_more(season: SimpleNamespace) -> None:
    items = Counter(models.Reading.objects.filter(sheet__isnull=False).values_list("sheet_id", flat=True))

    for sheet in season.sheets:
        assert (sheet.signed_at - sheet.started_at).total_seconds() >= 12 * items[sheet.pk], sheet


def test_nobody_fills_in_two_sheets_at_once_and_two_people_do(season: SimpleNamespace) -> None:
    by_person = defaultdict(list)
    for sheet in season.sheets:
        by_person[sheet.day.date, sheet.signer_ref].append((sheet.started_at, sheet.signed_at))

    for spans in by_person.values():
        spans.sort()
        assert all(before[1] <= after[0] for before, after in pairwise(spans))
    people_of = defaultdict(set)
    for on, ref in by_person:
        people_of[on].add(ref)
    assert {len(people) for people in people_of.values()} == {2}


def test_the_walk_begins_before_seven_and_sheets_and_rides_are_done_before_opening(season: SimpleNamespace) -> None:
    first_signing = {}
    for signed in season.sign_offs:
        first_signing.setdefault(signed.day.date, signed.signed_at)
    mornings = {sheet.day.date for sheet in season.sheets}

    for on in mornings:
        opening = datetime.combine(on, time(9, 30), tzinfo=season.zone)
        begun = min(sheet.started_at for sheet in season.sheets if sheet.day.date == on)
        until = first_signing.get(on, opening)
        before = [one.signed_at for one in season.sheets if one.day.date == on and one.signed_at <= until]
        before += [one.rode_at for one in season.rides if one.day.date == on and one.rode_at <= until]
        assert datetime.combine(on, time(6, 45), tzinfo=season.zone) <= begun
        assert begun < datetime.combine(on, time(7, 0), tzinfo=season.zone)
        assert max(before) < opening
        assert len([one for one in season.sheets if one.day.date == on and one.signed_at < opening]) >= 30


def test_each_technician_has_a_day_a_week_off_and_the_engineer_stands_in() -> None:
    for week in range(0, 56, 7):
        off = [({"technician", "ruben"} - set(shifts.crew(week + day))) for day in range(7)]
        assert sorted(who for one in off for who in one) == ["ruben", "technician"]
        assert all(len(set(shifts.crew(week + day))) == 2 for day in range(7))
    assert set(shifts.crew(0)) == {"technician", "ruben"}  # today: whoever tries the program out finds both at work


def test_every_line_is_inspected_by_more_than_one_person_in_turn(season: SimpleNamespace) -> None:
    people = defaultdict(set)
    for sheet in season.sheets:
        if sheet.place.kind == Place.Kind.LINE:
            people[sheet.place.number].add(sheet.signer_ref)

    assert set(people) == {1, 2, 3, 4, 5, 6}
    assert all(len(refs) >= 2 for refs in people.values())


def test_both_posted_weights_are_ridden_at_least_every_six_days_and_not_all_on_one_morning(
    season: SimpleNamespace,
) -> None:
    light = defaultdict(list)
    for ride in season.rides:
        if ride.band == "min" and ride.fields["kind"] == "normal":
            light[ride.place.number].append(ride.day.date)

    assert set(light) == {1, 2, 3, 4, 5, 6}
    for dates in light.values():
        assert max(after - before for before, after in pairwise(dates)) <= timedelta(days=6)
    assert min(Counter(on for dates in light.values() for on in dates).values()) < 6


def test_lines_are_opened_for_less_than_the_posted_weights_only_by_computation(season: SimpleNamespace) -> None:
    plain = {str(one.pk) for one in Place.objects.filter(kind="line") if one.number not in MECHANICS}
    opened = [
        (line, decided)
        for one in season.sign_offs
        for line, decided in one.lines.items()
        if decided["decision"] == "open"
    ]

    assert len(opened) > 5 * season.days
    for line, decided in opened:
        assert decided["limits"]["mass_min_kg"] != decided["limits"]["mass_max_kg"]
        assert line not in plain or not decided["limits"].get("narrowed")
    narrowed = sum(bool(decided["limits"].get("narrowed")) for _line, decided in opened)
    assert season.days < narrowed < len(opened)


def test_no_ballast_goes_down_a_line_with_something_out_of_service(season: SimpleNamespace) -> None:
    out = models.Finding.objects.filter(out_of_service=True, place__kind=Place.Kind.LINE)

    assert [one.place.number for one in out if one.state == "open"] == [4]
    for finding in out:
        worked = finding.work_seq if finding.work_seq is not None else float("inf")
        between = [one for one in season.rides if one.place_id == finding.place_id and finding.seq < one.seq < worked]
        assert between == []
    assert not [one for one in season.rides if one.place.number == 4 and one.day.date == season.today]


def test_a_cable_is_dry_or_wet_all_morning() -> None:
    days = [date(2026, 1, 1) + timedelta(days=number) for number in range(365)]
    states = [weather_of(on, SEED).state for on in days]

    assert 0.08 < states.count("wet") / 365 < 0.3
    assert states == [weather_of(on, SEED).state for on in days]


def test_all_rides_of_a_morning_say_the_same_of_the_cables(season: SimpleNamespace) -> None:
    said = defaultdict(set)
    for ride in season.rides:
        said[ride.day.date].add(ride.fields["state"])

    assert len(said) >= season.days
    assert all(len(states) == 1 for states in said.values())


def test_after_a_change_between_wet_and_dry_both_weights_are_ridden(season: SimpleNamespace) -> None:
    before: dict[int, str] = {}
    masses = defaultdict(set)
    changed = []
    for ride in season.rides:
        masses[ride.place.number, ride.day.date].add(ride.mass)
        if before.get(ride.place.number, ride.fields["state"]) != ride.fields["state"]:
            changed.append((ride.place.number, ride.day.date))
        before[ride.place.number] = ride.fields["state"]

    assert all(len(masses[one]) == 2 for one in changed)
    assert changed or season.days == SHORT


def test_tags_are_numbered_in_the_order_in_which_they_were_hung(season: SimpleNamespace) -> None:
    hung = [one.tag_number for one in models.Finding.objects.filter(out_of_service=True).order_by("seq")]

    assert hung[-1] == "0420"
    assert hung == sorted(set(hung))
    assert len(hung) == (4 if season.days == WHOLE else 1)


def test_a_cord_has_done_as_many_cycles_as_riders_and_ballast_went_down(season: SimpleNamespace) -> None:
    readings = models.Reading.objects.filter(component__tag="BP-05B").exclude(value="").order_by("seq")
    counted = [one for one in readings if one.unit == "count"]

    assert len(counted) >= season.days - 1
    for one in counted:
        riders = models.RiderCount.objects.filter(place__number=5, place__kind="line", date__lt=one.day.date)
        ballast = [
            ride for ride in season.rides
            if ride.place.number == 5 and ride.seq < one.seq and ride.fields["kind"] == "normal"
        ]  # fmt: skip
        assert int(one.value) == sum(count.riders for count in riders) + len(ballast)


def test_a_line_that_stayed_closed_all_day_has_no_riders(season: SimpleNamespace) -> None:
    opened = {
        (one.day.date, line) for one in season.sign_offs for line, decided in one.lines.items()
        if decided["decision"] == "open"
    }  # fmt: skip

    shut = 0
    for count in models.RiderCount.objects.all():
        was_open = (count.date, str(count.place_id)) in opened
        assert (count.riders > 0) == was_open
        shut += not was_open
    assert shut == (1 if season.days == WHOLE else 0)


def test_no_two_things_are_shown_on_the_same_picture() -> None:
    drawings = [pictures.drawn(name) for name in pictures.DRAWINGS]

    assert len(set(drawings)) == len(drawings)
    assert drawings == [pictures.drawn(name) for name in pictures.DRAWINGS]
    assert {Image.open(BytesIO(drawing)).size for drawing in drawings} == {pictures.SIZE}


def test_no_two_steps_of_findings_show_the_same_picture(season: SimpleNamespace) -> None:
    steps = models.FindingStep.objects.filter(finding__course=season.cast.course)
    shown = [photo for one in steps for photo in one.photos]

    assert len(shown) == (7 if season.days == WHOLE else 3)
    assert len(set(shown)) == len(shown)


def test_the_history_is_in_order(season: SimpleNamespace) -> None:
    assert list(chain_faults(season.cast.operator)) == []
    assert list(projection_faults(season.cast.operator)) == []


def test_a_brake_creeps_and_its_watch_stands_while_no_other_chart_calls_for_a_look(season: SimpleNamespace) -> None:
    """One line of the demo shows what the charts are for; elsewhere no false alarm confuses who tries it out."""
    opened = list(models.Finding.objects.filter(course=season.cast.course, key__startswith="chart@"))
    if season.days < WHOLE:
        assert opened == []  # twenty mornings come before any chart
        return
    assert [(one.place.number, one.key, one.state, one.is_watch) for one in opened] == [
        (5, "chart@stroke", "open", True)
    ]
    assert 0 < (season.today - opened[0].opened_on).days <= 21
    assert opened[0].title.startswith("Brake travel is getting longer")


def test_every_heavy_ballast_on_a_charted_line_was_compared(season: SimpleNamespace) -> None:
    charted = {line.number for line in LINES if line.number in MECHANICS and line.number != 4}  # 4 has a hand brake
    for ride in season.rides:
        if ride.place.number in charted and ride.band == "max" and ride.fields["kind"] == "normal":
            assert all("expected" in one for one in ride.control["charts"]), ride
        elif ride.fields["kind"] == "normal":
            assert ride.control.get("charts", []) == [], ride


@pytest.mark.parametrize("month", [3, 6, 11])  # a clock change within sixty days before, none, another one
def test_a_course_is_founded_two_days_before_its_first_morning_at_any_hour(month: int) -> None:
    """At half past one in the night, over a clock change, so many times 24 hours back were another of its days."""
    zone = ZoneInfo(plan.TZ)
    for hour in range(72):
        now = datetime(2026, month, 25, tzinfo=UTC) + timedelta(hours=hour)
        today = local_day(now, zone, 3)
        found = founded_at(now, 60)
        assert local_day(found, zone, 3) == local_day(found + timedelta(hours=1), zone, 3) == today - timedelta(days=62)
