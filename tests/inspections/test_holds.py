"""Holds: called by whoever sees the reason, counted at once, lifted by the rule of their cause.

Sources: thirty minutes after the last thunder: R-501, READ-2. The other rules are the judgement of the service's makers
and say so where they stand.
"""

from types import SimpleNamespace
from typing import Any

import pytest
from django.urls import reverse

from accounts.errors import Refused
from accounts.models import User
from inspections import actions, lifting
from inspections.actions.closing import carried
from inspections.judging import Answer
from inspections.models import Finding, Hold, Ride
from inspections.reopening import reopening_of
from ledger.errors import AlreadyRecorded
from ledger.models import Entry
from tests import make
from tests.inspections.conftest import codes

pytestmark = pytest.mark.usefixtures("day_open")

LOOKED = {"looked": "yes"}
WEATHER = ("gust", "thunder", "storm", "ice", "wet")
ALL_TICKS = {"seen": "yes", "counted": "yes", "radio": "yes"}


def call(w: SimpleNamespace, cause: str, *, line: int = 1, at: float = 20, by: User | None = None) -> Hold:
    where = w.lines[line - 1] if line else None
    entry = actions.call_hold(
        make.picture(w, w.t(at)), where, cause=cause, deed=make.deed(by or w.technician, at=w.t(at))
    )
    return Hold.objects.get(seq=entry.seq, course=w.course)


def lift(
    w: SimpleNamespace, hold: Hold, *, at: float, seconds: float = 0, by: User | None = None, **given: str
) -> Entry:
    when = w.t(at, seconds)
    return actions.lift_hold(make.picture(w, when), hold, given=given, deed=make.deed(by or w.technician, at=when))


# --- calling


@pytest.mark.parametrize("cause", Hold.Cause.values)
def test_every_cause_holds_at_once(w: SimpleNamespace, status: Any, cause: str) -> None:
    assert [status(19, n).word for n in (1, 2)] == ["open", "open"]

    hold = call(w, cause)

    assert status(20).word == "held"
    assert "hold" in codes(status(20))
    # Weather holds the whole course in one tap; anything else the line it is on.
    assert status(20, 2).word == ("held" if cause in WEATHER else "open")
    assert hold.place == (None if cause in WEATHER else w.line)


@pytest.mark.parametrize("cause", [c for c in Hold.Cause.values if c not in {*WEATHER, "authority", "injury", "other"}])
def test_what_happened_on_a_line_names_the_line(w: SimpleNamespace, refused: Any, cause: str) -> None:
    with refused("line-needed"):
        call(w, cause, line=0)


@pytest.mark.parametrize("cause", ["authority", "injury", "other"])
def test_these_may_hold_the_whole_course(w: SimpleNamespace, status: Any, cause: str) -> None:
    call(w, cause, line=0)

    assert [status(21, n).word for n in (1, 2)] == ["held", "held"]


def test_a_guide_holds_and_does_not_lift(w: SimpleNamespace, refused: Any) -> None:
    hold = call(w, "thunder", by=w.guide)

    with refused("no-right"):
        lift(w, hold, at=60, by=w.guide, **LOOKED)


def test_an_auditor_does_not_hold(w: SimpleNamespace, refused: Any) -> None:
    with refused("no-right"):
        call(w, "gust", by=w.auditor)
    with refused("no-such-cause"):
        call(w, "boredom")


def test_the_same_hold_is_not_called_twice_and_a_second_sending_is_known(w: SimpleNamespace, refused: Any) -> None:
    once = make.deed(w.guide, at=w.t(20))

    def do(deed: Any) -> None:
        actions.call_hold(make.picture(w, w.t(20)), w.line, cause="object", deed=deed)

    do(once)
    with refused("already-recorded", AlreadyRecorded):
        do(once)
    with refused("held-already"):
        do(make.deed(w.technician, at=w.t(21)))


def test_weather_called_again_renews_the_clock(w: SimpleNamespace) -> None:
    hold = call(w, "thunder")
    with pytest.raises(Hold.DoesNotExist):
        call(w, "thunder", at=30)

    hold.refresh_from_db()
    assert (hold.called_at, hold.renewed_at) == (w.t(20), w.t(30))
    assert Hold.objects.count() == 1


def test_whom_it_was_told_is_kept_for_launch_and_landing(w: SimpleNamespace, refused: Any) -> None:
    hold = call(w, "object")

    def tell(where: str, text: str = "Gesa") -> None:
        actions.tell_hold(make.picture(w, w.t(21)), hold, where=where, text=text, deed=make.deed(w.guide, at=w.t(21)))

    for bad in (("middle", "Gesa"), ("launch", " ")):
        with refused("who-needed"):
            tell(*bad)
    tell("launch")
    tell("landing")
    hold.refresh_from_db()
    assert set(hold.told) == {"launch", "landing", "launch_at", "landing_at"}
    assert hold.told["landing_at"].startswith(f"{w.t(21):%Y-%m-%dT%H:%M}")
    assert "Gesa" not in str(hold.told)  # a name stands in the history as a commitment only


# --- lifting


def test_thunder_waits_thirty_minutes_to_the_second(w: SimpleNamespace, refused: Any, status: Any) -> None:
    hold = call(w, "thunder")

    with refused("too-soon"):
        lift(w, hold, at=49, seconds=59, **LOOKED)
    with refused("look-needed"):
        lift(w, hold, at=50)
    lift(w, hold, at=50, **LOOKED)
    assert [status(51, n).word for n in (1, 2)] == ["open", "open"]


def test_thunder_again_starts_the_thirty_minutes_anew(w: SimpleNamespace, refused: Any) -> None:
    hold = call(w, "thunder")
    actions.renew_hold(make.picture(w, w.t(40)), hold, deed=make.deed(w.guide, at=w.t(40)))

    with refused("too-soon"):
        lift(w, hold, at=69, seconds=59, **LOOKED)
    lift(w, hold, at=70, **LOOKED)


def test_the_board_counts_the_thunder_down(w: SimpleNamespace, status: Any) -> None:
    call(w, "thunder")

    def left(at: float) -> list[str]:
        return [dict(r.params)["minutes"] for r in status(at).clearance.reasons if r.code == "thunder"]

    assert [left(20), left(20.5), left(49), left(50)] == [["30"], ["30"], ["1"], []]


def test_a_gust_waits_ten_minutes_and_for_a_reading_below_the_limit(w: SimpleNamespace, refused: Any) -> None:
    hold = call(w, "gust")

    with refused("too-soon"):
        lift(w, hold, at=29, seconds=59, wind="2.0")
    for wind, code in (("", "unclear"), ("calm", "unclear"), ("-2", "unclear"), ("6.1", "still-windy")):
        with refused(code):
            lift(w, hold, at=30, wind=wind)
    lift(w, hold, at=30, wind="6")  # the lowest limit of the course: 6 m/s of tail wind


@pytest.mark.parametrize("cause", ["storm", "ice", "wet", "object", "stuck", "short_stop", "not_reset"])
def test_somebody_looks_along_the_line_first(w: SimpleNamespace, refused: Any, cause: str) -> None:
    hold = call(w, cause)

    with refused("look-needed"):
        lift(w, hold, at=21)
    lift(w, hold, at=21, **LOOKED)


def test_a_person_on_the_line_is_called_off_by_who_called_it(w: SimpleNamespace, status: Any) -> None:
    hold = call(w, "person", by=w.technician)

    lift(w, hold, at=21, by=w.technician)

    assert status(22).word == "open"


@pytest.mark.parametrize("tick", ALL_TICKS)
def test_by_somebody_else_under_three_confirmations(w: SimpleNamespace, refused: Any, tick: str) -> None:
    hold = call(w, "person", by=w.guide)

    with refused("person-ticks"):
        lift(w, hold, at=21, **{k: v for k, v in ALL_TICKS.items() if k != tick})
    lift(w, hold, at=21, **ALL_TICKS)


def test_two_people_on_one_line_are_two_holds(w: SimpleNamespace, status: Any) -> None:
    first, second = call(w, "person", by=w.technician), call(w, "person", by=w.mate, at=21)

    lift(w, first, at=22, by=w.technician)
    assert status(23).word == "held"
    lift(w, second, at=24, by=w.mate)
    assert status(25).word == "open"


@pytest.mark.parametrize("cause", ["injury", "authority"])
@pytest.mark.parametrize("role", ["technician", "engineer"])
def test_an_injury_is_lifted_by_a_manager_on_the_authoritys_word(
    w: SimpleNamespace, refused: Any, cause: str, role: str
) -> None:
    hold = call(w, cause)

    with refused("manager-needed"):
        lift(w, hold, at=600, by=w.people[role], authority="Inspector Brandt, by phone")
    with refused("authority-needed"):
        lift(w, hold, at=600, by=w.manager)
    lift(w, hold, at=600, by=w.manager, authority="Inspector Brandt, by phone")


@pytest.mark.parametrize("cause", ["hard_stop", "emergency_brake"])
def test_a_strike_opens_a_critical_finding_that_is_released_first(
    w: SimpleNamespace, refused: Any, status: Any, cause: str
) -> None:
    hold = call(w, cause)

    finding = Finding.objects.get(seq=hold.seq, course=w.course)
    assert (finding.severity, finding.place) == ("critical", w.line)
    assert {"hold", "finding-critical"} <= codes(status(21))
    with refused("finding-open"):
        lift(w, hold, at=30)

    actions.record_reinspection(
        make.picture(w, w.t(31)), finding, answer=Answer(mark="sound"), deed=make.deed(w.mate, at=w.t(31))
    )
    actions.release(
        make.picture(w, w.t(32)), finding, ticks=frozenset(("area", "intact", "clear", "told")),
        deed=make.deed(w.manager, at=w.t(32)),
    )  # fmt: skip
    lift(w, hold, at=33)
    assert status(34).word != "open"  # what was serious takes a new signing


@pytest.mark.parametrize("cause", ["wet", "storm"])
def test_another_state_of_the_cable_voids_the_rides(w: SimpleNamespace, status: Any, cause: str) -> None:
    hold = call(w, cause)
    lift(w, hold, at=21, **LOOKED)

    assert codes(status(22)) == {"ride-voided"}
    assert Ride.objects.filter(day__date=w.at.date(), voided_by=None).count() == 0
    for line in w.lines:
        for mass in ("35", "115"):
            make.ride(w, line, mass=mass, state="wet", at=w.t(23))
    assert [status(24, n).word for n in (1, 2)] == ["ready", "ready"]  # and not open by itself


def test_after_an_emergency_stop_the_rides_of_that_line_alone_are_void(w: SimpleNamespace) -> None:
    call(w, "emergency_brake")

    today = Ride.objects.filter(day__date=w.at.date())
    assert set(today.filter(voided_by=None).values_list("place", flat=True)) == {w.lines[1].pk}


def test_a_hold_is_lifted_once(w: SimpleNamespace, refused: Any) -> None:
    hold = call(w, "object")
    deed = make.deed(w.technician, at=w.t(21))

    def do(deed: Any) -> None:
        actions.lift_hold(make.picture(w, w.t(21)), hold, given=LOOKED, deed=deed)

    do(deed)
    with refused("already-recorded", AlreadyRecorded):
        do(deed)
    with refused("lifted"):
        do(make.deed(w.mate, at=w.t(22)))


def test_one_hold_of_two_still_holds(w: SimpleNamespace, status: Any) -> None:
    first, _second = call(w, "object"), call(w, "stuck", at=21)

    lift(w, first, at=22, **LOOKED)

    assert status(23).word == "held"


# --- what the pages say about it


def test_the_page_says_what_lifting_needs_and_keeps_showing_who_was_told(
    w: SimpleNamespace, as_: Any, clock: Any
) -> None:
    clock.move_to(w.t(20))
    technician = as_("technician")
    form = technician.get(reverse("inspections:hold", args=[w.course.pk])).content.decode()
    called = technician.post(
        reverse("inspections:hold", args=[w.course.pk]), {"cause": "object", "line": str(w.line.pk)}
    )
    hold = Hold.objects.get(cause="object")
    page = reverse("inspections:lift", args=[w.course.pk, hold.pk])

    for _cause, needs in lifting.table(reopening_of({})):
        assert all(sentence.replace("'", "&#x27;") in form for sentence in needs)
    assert called["Location"] == page
    assert technician.get(page).content.decode().count("Not yet told") == 2

    clock.move_to(w.t(23))
    technician.post(reverse("inspections:tell", args=[w.course.pk, hold.pk]), {"where": "launch", "text": "Gesa Lorn"})
    told = technician.get(page).content.decode()
    local = w.t(23).astimezone(w.course.zone)
    assert "Gesa Lorn" in told
    assert f"{local:%H:%M}" in told
    assert told.count("Not yet told") == 1
    # A guide sees the same and is not offered to lift it.
    assert "A technician or manager lifts it." in as_("guide").get(page).content.decode()

    lift(w, hold, at=30, **LOOKED)
    assert "Gesa Lorn" in technician.get(page).content.decode()


def test_the_page_names_the_finding_that_hangs_on_the_hold(w: SimpleNamespace, as_: Any, clock: Any) -> None:
    clock.move_to(w.t(21))
    hold = call(w, "emergency_brake")
    finding = Finding.objects.get(seq=hold.seq)

    html = as_("manager").get(reverse("inspections:lift", args=[w.course.pk, hold.pk])).content.decode()

    assert reverse("inspections:finding", args=[w.course.pk, finding.pk]) in html
    assert "not released yet" in html


@pytest.mark.parametrize("cause", Hold.Cause.values)
def test_what_is_said_to_be_needed_is_what_is_asked(w: SimpleNamespace, cause: str) -> None:
    """The sentences are held against the action: a cause whose sentence asks for nothing to confirm is lifted bare."""
    hold = call(w, cause)
    asks = {"gust", "thunder", "person", "injury", "authority", "hard_stop", "emergency_brake"}
    bare = not any(str(lifting.LOOK) == one for one in lifting.needs_of(cause, reopening_of({}))) and cause not in asks

    def attempt(**given: str) -> bool:
        try:
            lift(w, hold, at=60, by=w.manager, **given)
        except Refused:
            return False
        return True

    assert attempt() is bare
    if cause in {"thunder", "storm", "ice", "wet", "object", "stuck", "short_stop", "not_reset"}:
        assert attempt(**LOOKED)


# --- riders


def test_riders_of_a_line_that_was_open_earlier_are_asked(w: SimpleNamespace, as_: Any, clock: Any) -> None:
    make.open_lines(w, at=w.t(30), line1="closed")
    clock.move_to(w.t(40))

    html = as_("technician").get(reverse("inspections:close", args=[w.course.pk])).content.decode()

    assert f'name="riders-{w.lines[0].pk}"' in html
    assert f'name="riders-{w.lines[1].pk}"' in html
    assert html.count("Closed again since; riders before that count.") == 1


def test_riders_of_a_line_that_was_never_open_are_not_asked(w: SimpleNamespace) -> None:
    picture = make.picture(w, w.t(30))
    signed = picture.sign_offs[-1]
    signed.lines = {**signed.lines, str(w.lines[0].pk): {"decision": "closed"}}

    assert carried(picture) == [w.lines[1]]
