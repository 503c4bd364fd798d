"""Days: the course's own, over both changes of the clocks, across midnight, and without anybody looking.

Source of the clock changes: Directive 2000/84/EC, last Sunday of March and of October at 01:00 UTC; from memory.
"""

from datetime import UTC, date, datetime, timedelta
from types import SimpleNamespace
from typing import Any

import pytest

from inspections import actions
from inspections.actions.signing import NotReady
from inspections.facts import line_statuses
from inspections.models import Day, Hold, Sheet, SignOff
from inspections.picture import picture_of
from tests import make
from tests.inspections.conftest import codes


def at(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


@pytest.mark.parametrize(
    ("instant", "day", "opens"),
    [
        ("2026-10-24T05:30", "2026-10-24", "2026-10-24T07:30"),  # summer time: two hours ahead of UTC
        ("2026-10-25T05:30", "2026-10-25", "2026-10-25T08:30"),  # winter time since this night
        ("2027-03-27T05:30", "2027-03-27", "2027-03-27T08:30"),
        ("2027-03-28T05:30", "2027-03-28", "2027-03-28T07:30"),
    ],
)
def test_the_opening_is_at_the_clock_on_the_wall(w: SimpleNamespace, instant: str, day: str, opens: str) -> None:
    found = picture_of(w.course, at=at(instant))

    assert found.date == date.fromisoformat(day)
    assert found.opens_at == at(opens)  # 09:30 in Vienna


def test_the_night_of_twentyfive_hours_is_one_day(w: SimpleNamespace) -> None:
    # 24 October ends when the day changes after midnight; 02:30 stands twice on the clocks of that night.
    change = w.course.day_change_hour
    start = datetime(2026, 10, 24, change, tzinfo=w.course.zone).astimezone(UTC)
    end = datetime(2026, 10, 25, change, tzinfo=w.course.zone).astimezone(UTC)

    def day(instant: datetime) -> str:
        return picture_of(w.course, at=instant).date.isoformat()

    assert day(start) == "2026-10-24"
    assert day(end - timedelta(seconds=1)) == "2026-10-24"
    assert day(end) == "2026-10-25"
    assert day(start - timedelta(seconds=1)) == "2026-10-23"


def test_the_deeds_of_one_evening_before_the_day_changes_are_one_day(w: SimpleNamespace) -> None:
    late = datetime(2026, 6, 15, 21, 50, tzinfo=UTC)  # 23:50 in Vienna
    make.sign(w, w.line, "launch", at=late)
    hour = w.course.day_change_hour
    after = datetime(2026, 6, 16, hour, tzinfo=w.course.zone)

    make.sign(w, w.line, "cable", at=after - timedelta(minutes=1))
    make.sign(w, w.line, "landing", at=after)

    days = [(s.section, s.day.date.isoformat()) for s in _sheets(w)]
    assert days == [("launch", "2026-06-15"), ("cable", "2026-06-15"), ("landing", "2026-06-16")]


def _sheets(w: SimpleNamespace) -> list[Any]:
    return list(Sheet.objects.filter(day__course=w.course).select_related("day").order_by("seq"))


def test_a_sheet_begun_before_and_signed_after_the_day_changed_belongs_to_its_day(w: SimpleNamespace) -> None:
    after = datetime(2026, 6, 16, w.course.day_change_hour, tzinfo=w.course.zone)
    draft = make.draft(w, w.line, "launch", at=after - timedelta(minutes=5))

    actions.sign_sheet(draft, meaning="x", deed=make.deed(w.technician, at=after + timedelta(minutes=5)))

    assert [s.day.date.isoformat() for s in _sheets(w)] == ["2026-06-15"]
    # It does not count for the day that has begun.
    assert "sheet-missing" in {
        r.code for r in line_statuses(picture_of(w.course, at=after + timedelta(minutes=6)))[0].clearance.reasons
    }


def test_yesterdays_opening_does_not_open_today(w: SimpleNamespace, status: Any) -> None:
    make.inspect(w, at=w.t(5))
    make.open_lines(w, at=w.t(10))
    assert status(600).word == "open"

    tomorrow = status(24 * 60)
    assert tomorrow.word == "held"
    assert {"sheet-missing", "ride-missing"} <= codes(tomorrow)


def test_looking_creates_no_day_and_the_first_deed_creates_it_once(w: SimpleNamespace) -> None:
    before = Day.objects.count()
    line_statuses(make.picture(w, w.t(0)))
    make.answers(w, w.line, "launch", at=w.t(0))
    assert Day.objects.count() == before

    make.sign(w, w.line, "launch", at=w.t(1))
    make.sign(w, w.line, "cable", at=w.t(2))
    day = Day.objects.get(course=w.course, date=w.at.date())
    assert Day.objects.count() == before + 1
    assert (day.tz, day.day_change_hour, day.opens_at) == (
        "Europe/Vienna",
        w.course.day_change_hour,
        at("2026-06-15T07:30"),
    )


def test_an_unvisited_day_is_there_to_be_asked(w: SimpleNamespace) -> None:
    found = picture_of(w.course, at=w.t(0), on=date(2026, 6, 10))

    assert found.day is None
    assert found.operating
    assert all(not section.sheets for section in found.sections(found.setup.places[w.line.pk]))


def test_a_day_on_which_the_calendar_has_the_course_closed_holds(w: SimpleNamespace) -> None:
    content = {**make.picture(w, w.t(0)).setup.calendar, "closed": ["2026-06-16"]}
    make.settle(w, "calendar", content, at=w.t(0))
    tomorrow = w.at + timedelta(days=1)

    statuses = line_statuses(picture_of(w.course, at=tomorrow))

    assert "not-operating" in {reason.code for reason in statuses[0].clearance.reasons}
    assert "not-operating" not in {r.code for r in line_statuses(make.picture(w, w.t(1)))[0].clearance.reasons}


def test_a_change_of_the_calendar_does_not_move_the_opening_of_a_day_that_began(w: SimpleNamespace) -> None:
    make.sign(w, w.line, "launch", at=w.t(1))
    content = {**make.picture(w, w.t(2)).setup.calendar, "opens": "11:00"}
    make.settle(w, "calendar", content, at=w.t(2))

    assert make.picture(w, w.t(3)).opens_at == at("2026-06-15T07:30")


# --- what is due


def test_only_what_is_due_again_is_asked(w: SimpleNamespace) -> None:
    make.inspect(w, at=w.t(1))

    def due(days: int) -> set[str]:
        found = make.picture(w, w.t(1) + timedelta(days=days))
        return {i["key"] for s in found.sections(found.setup.places[w.line.pk]) for i in s.items}

    weekly, daily, fortnightly = "MC-07@cable", "MC-10@cable", "MC-01@cable"
    assert {weekly, daily, fortnightly} & due(1) == {daily}
    assert {weekly, daily, fortnightly} & due(6) == {daily}
    assert {weekly, daily, fortnightly} & due(7) == {daily, weekly}
    assert {weekly, daily, fortnightly} & due(14) == {daily, weekly, fortnightly}


def test_after_a_storm_what_is_asked_after_storms_is_due(w: SimpleNamespace) -> None:
    make.inspect(w, at=w.t(1))
    tomorrow = w.at + timedelta(days=1)
    key = "MC-14@cable"

    def due() -> bool:
        found = picture_of(w.course, at=tomorrow + timedelta(minutes=1))
        return any(i["key"] == key for s in found.sections(found.setup.places[w.line.pk]) for i in s.items)

    assert not due()
    actions.call_hold(picture_of(w.course, at=tomorrow), None, cause="storm", deed=make.deed(w.guide, at=tomorrow))
    assert due()


# --- stranding


@pytest.fixture(scope="module")
def chained(built: SimpleNamespace) -> SimpleNamespace:
    """A course of its own on which line 2 is the only way on from where line 1 ends."""
    return make.ready(lines=2, on=built.at, way_off="line:2", name="Rook Vale")


def test_riders_who_could_not_get_on_hold_the_line_before(chained: SimpleNamespace, db: None) -> None:
    w = chained

    def words(at: float) -> list[str]:
        return [s.word for s in line_statuses(make.picture(w, w.at + timedelta(minutes=at)))]

    def t(minutes: float) -> datetime:
        return w.at + timedelta(minutes=minutes)

    make.inspect(w, at=t(1))
    # Not both in one signing: the first would end where nobody gets on.
    with pytest.raises(NotReady):
        make.open_lines(w, at=t(5), line2="closed")
    make.open_lines(w, at=t(5))
    assert words(6) == ["open", "open"]

    hold = actions.call_hold(make.picture(w, t(7)), w.lines[1], cause="object", deed=make.deed(w.guide, at=t(7)))
    found = line_statuses(make.picture(w, t(8)))
    assert [s.word for s in found] == ["held", "held"]
    assert codes(found[0]) == {"stranded"}
    actions.lift_hold(
        make.picture(w, t(9)), Hold.objects.get(seq=hold.seq, course=w.course), given={"looked": "yes"},
        deed=make.deed(w.technician, at=t(9)),
    )  # fmt: skip
    assert words(10) == ["open", "open"]

    # Line 2 is repaired and ready, and nobody has opened it again: riders of line 1 would still be stuck.
    make.ride(w, w.lines[1], kind="emergency", at=t(11))
    for mass in ("35", "115"):
        make.ride(w, w.lines[1], mass=mass, at=t(12))
    assert words(13) == ["held", "ready"]
    make.open_lines(w, at=t(14))
    assert words(15) == ["open", "open"]

    make.open_lines(w, at=t(16), line1="closed", line2="closed")
    assert words(17) == ["closed", "closed"]
    assert SignOff.objects.filter(day__course=w.course).count() == 3
