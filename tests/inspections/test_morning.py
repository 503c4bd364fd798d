"""The morning from the first sheet to the opening of a line, through the actions; and what is refused on the way.

Sources of the expectations: the rules of the service as its makers wrote them down (a second person opens, the stricter
counts, what is missing is not checked); where a law stands behind one, it is named beside the check.
"""

from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import pytest

from inspections import actions
from inspections.actions.sheets import Incomplete
from inspections.actions.signing import NotReady
from inspections.models import Day, Finding, Reading, RiderCount, SignOff
from ledger.errors import AlreadyRecorded
from ledger.models import Entry
from tests import make
from tests.inspections.conftest import authorise, codes

SPRING = "BS-1@primary-1"
SHORT = {"text": "560", "kept": "560", "note": "Measured twice."}  # 600 new: far below what may be left
LOOK = "TA-06@end-landing"


def read(w: SimpleNamespace, key: str, place: Any = None) -> list[Reading]:
    return list(Reading.objects.filter(place=place or w.line, key=key).order_by("seq"))


def open_critical(w: SimpleNamespace) -> list[Finding]:
    return list(Finding.objects.filter(course=w.course, state="open", severity="critical", is_watch=False))


# --- the whole way


def test_sheets_then_ride_then_a_manager_opens(w: SimpleNamespace, status: Callable[..., Any]) -> None:
    assert status(0).word == "held"
    assert codes(status(0)) == {"sheet-missing", "ride-missing", "wind-unknown"}

    for place, section in make.sections(w, at=w.t(1)):
        make.sign(w, place, section, at=w.t(1))
    assert codes(status(2)) == {"ride-missing"}

    for line in w.lines:
        make.ride(w, line, mass="35", at=w.t(3))
        make.ride(w, line, mass="115", at=w.t(4))
    # Ready is not open: opening is a person's deed.
    assert [status(5, n).word for n in (1, 2)] == ["ready", "ready"]

    make.open_lines(w, at=w.t(6))
    assert [status(7, n).word for n in (1, 2)] == ["open", "open"]
    limits = status(7).clearance.limits
    assert (limits.mass_min_kg, limits.mass_max_kg, limits.narrowed) == (35, 115, False)


def test_one_signing_may_open_one_line_and_close_another(w: SimpleNamespace, status: Callable[..., Any]) -> None:
    make.inspect(w, at=w.t(1))

    make.open_lines(w, at=w.t(5), line2="closed")

    assert [status(6, n).word for n in (1, 2)] == ["open", "closed"]


def test_a_line_may_be_closed_whatever_is_missing(w: SimpleNamespace, status: Callable[..., Any]) -> None:
    make.open_lines(w, at=w.t(5), line1="closed", line2="closed")

    assert status(6).word == "closed"


# --- who may open


def test_whoever_signed_a_sheet_does_not_open_that_line(w: SimpleNamespace, refused: Callable[..., Any]) -> None:
    w.both = make.person(w.operator, "manager", "technician", name="Bea Twin")
    authorise(w, w.both, "any")
    make.sign(w, w.line, "launch", by=w.both, at=w.t(1))
    make.inspect(w, at=w.t(2))

    with refused("own-inspection"):
        make.open_lines(w, by=w.both, at=w.t(5))
    make.open_lines(w, by=w.both, at=w.t(5), line1="closed")


def test_whoever_signed_a_platform_or_rode_does_not_open_the_line(w: SimpleNamespace, refused: Any) -> None:
    w.both = make.person(w.operator, "manager", "technician", name="Bea Twin")
    authorise(w, w.both, "any")
    make.sign(w, w.platforms[0], "platform", by=w.both, at=w.t(1))
    make.inspect(w, at=w.t(2))
    make.ride(w, w.lines[1], by=w.both, at=w.t(3))

    for decided in ({"line1": "closed"}, {"line2": "closed"}):
        with refused("own-inspection"):
            make.open_lines(w, by=w.both, at=w.t(5), **decided)


@pytest.mark.parametrize("role", ["guide", "technician", "engineer", "auditor"])
def test_nobody_but_a_manager_opens(w: SimpleNamespace, refused: Callable[..., Any], role: str) -> None:
    make.inspect(w, at=w.t(1))

    with refused("no-right"):
        make.open_lines(w, by=w.people[role], at=w.t(5))


def test_opening_is_signed_with_the_password(w: SimpleNamespace, refused: Callable[..., Any]) -> None:
    make.inspect(w, at=w.t(1))
    decisions = {str(line.pk): "open" for line in w.lines}

    with refused("password-needed"):
        actions.sign_off(
            w.course, decisions=decisions, meaning="x", seen_revision=0,
            deed=make.deed(w.manager, at=w.t(5), how="session"),
        )  # fmt: skip


@pytest.mark.parametrize("decisions", [{}, {"line 1": "open"}])
def test_every_line_is_named(w: SimpleNamespace, refused: Callable[..., Any], decisions: dict[str, str]) -> None:
    with refused("every-line"):
        actions.sign_off(
            w.course, decisions=decisions, meaning="x", seen_revision=0, deed=make.deed(w.manager, at=w.t(5))
        )


# --- what holds a line back


@pytest.mark.parametrize("section", ["launch", "cable", "landing", "platform", "house", "rescue"])
def test_an_unsigned_sheet_holds(w: SimpleNamespace, status: Any, section: str, refused: Any) -> None:
    make.inspect(w, at=w.t(1), but=(section,))

    assert "sheet-missing" in codes(status(5))
    with refused("not-ready", NotReady):
        make.open_lines(w, at=w.t(5))


def test_without_a_ride_nothing_opens(w: SimpleNamespace, status: Any, refused: Any) -> None:
    for place, section in make.sections(w, at=w.t(1)):
        make.sign(w, place, section, at=w.t(1))
    make.ride(w, w.lines[1], at=w.t(2))

    # Yesterday's rides were good; they do not count today.
    assert codes(status(5)) == {"ride-missing"}
    with refused("not-ready", NotReady):
        make.open_lines(w, at=w.t(5), line2="closed")


def test_a_ride_before_the_checks_does_not_count(w: SimpleNamespace, status: Any) -> None:
    # Checks come before the ride: R-201, READ.
    for line in w.lines:
        make.ride(w, line, mass="115", at=w.t(1))
        make.ride(w, line, mass="35", at=w.t(1))
    for place, section in make.sections(w, at=w.t(2)):
        make.sign(w, place, section, at=w.t(2))

    assert codes(status(3)) == {"ride-order"}
    make.ride(w, w.line, mass="115", at=w.t(4))
    assert status(5).word == "ready"


def test_a_ride_past_its_limit_holds_and_opens_a_finding(w: SimpleNamespace, status: Any) -> None:
    make.inspect(w, at=w.t(1))
    make.ride(w, w.line, figures={"stroke.used": "7.2"}, at=w.t(3))  # 7 m there are

    assert {"ride-failed", "finding-critical"} <= codes(status(4))
    assert len(open_critical(w)) == 1


def test_a_light_ballast_that_stops_short_raises_the_minimum(w: SimpleNamespace, status: Any) -> None:
    make.inspect(w, at=w.t(1))
    make.ride(w, w.line, mass="60", at=w.t(3))
    make.ride(w, w.line, mass="35", reached="no", at=w.t(4))

    found = status(5)
    assert found.clearance.limits.mass_min_kg == 60
    assert found.clearance.limits.narrowed


def test_an_emergency_test_voids_the_rides_before_it(w: SimpleNamespace, status: Any) -> None:
    make.inspect(w, at=w.t(1))
    make.ride(w, w.line, kind="emergency", at=w.t(3))

    assert codes(status(4)) == {"ride-voided"}
    make.ride(w, w.line, at=w.t(5))
    make.ride(w, w.line, mass="35", at=w.t(5))
    assert status(6).word == "ready"


@pytest.mark.parametrize(
    ("field", "value", "about"),
    [("mass", "", "mass"), ("mass", "heavy", "mass"), ("wind", "", "wind"), ("landing_clear", "", "landing_clear"),
     ("wind_from", "up", "wind_from"), ("state", "", "state"), ("reached", "", "reached"), ("kind", "other", "kind")],
)  # fmt: skip
def test_a_ride_that_is_not_complete_is_refused(
    w: SimpleNamespace, refused: Any, field: str, value: str, about: str
) -> None:
    with refused("incomplete", Incomplete):
        make.ride(w, w.line, at=w.t(1), **{field: value})


def test_no_ballast_is_sent_while_somebody_is_on_the_line(w: SimpleNamespace, refused: Any) -> None:
    actions.call_hold(make.picture(w, w.t(1)), w.line, cause="person", deed=make.deed(w.guide, at=w.t(1)))

    with refused("person-on-line"):
        make.ride(w, w.line, at=w.t(2))
    make.ride(w, w.lines[1], at=w.t(2))


def test_wind_above_the_limit_holds(w: SimpleNamespace, status: Any) -> None:
    make.inspect(w, at=w.t(1))
    make.ride(w, w.line, wind="6.5", wind_from="tail", at=w.t(3))  # limits: head 9, tail 6, cross 8 m/s
    assert codes(status(4)) == {"wind-limit"}

    make.ride(w, w.line, wind="6.5", wind_from="head", at=w.t(5))
    assert codes(status(6)) == set()


# --- at once and twice


def test_two_managers_who_sign_at_once(w: SimpleNamespace, refused: Any) -> None:
    make.inspect(w, at=w.t(1))
    decisions = {str(line.pk): "open" for line in w.lines}
    make.open_lines(w, at=w.t(5))

    with refused("signed-meanwhile"):
        actions.sign_off(
            w.course, decisions=decisions, meaning="x", seen_revision=0, deed=make.deed(w.deputy, at=w.t(5))
        )
    make.open_lines(w, by=w.deputy, at=w.t(6))
    assert list(SignOff.objects.order_by("seq").values_list("revision", flat=True)) == [1, 2]


def test_a_sheet_a_ride_and_a_signing_sent_twice_are_done_once(w: SimpleNamespace, refused: Any) -> None:
    draft = make.draft(w, w.line, "landing", at=w.t(1))
    deed = make.deed(w.technician, at=w.t(2))
    actions.sign_sheet(draft, meaning="x", deed=deed)
    again = make.draft(w, w.line, "landing", at=w.t(2))
    with refused("already-recorded", AlreadyRecorded):
        actions.sign_sheet(again, meaning="x", deed=deed)

    make.inspect(w, at=w.t(3))
    deed = make.deed(w.manager, at=w.t(5))
    decisions = {str(line.pk): "open" for line in w.lines}
    entry = actions.sign_off(w.course, decisions=decisions, meaning="x", seen_revision=0, deed=deed)
    with pytest.raises(AlreadyRecorded) as caught:
        actions.sign_off(w.course, decisions=decisions, meaning="x", seen_revision=0, deed=deed)
    assert caught.value.seq == entry.seq
    assert SignOff.objects.count() == 1


# --- closing


def test_closing_counts_the_riders_of_each_line(w: SimpleNamespace, refused: Any) -> None:
    def close(riders: dict[str, int], at: float) -> Entry:
        return actions.close_day(make.picture(w, w.t(at)), riders=riders, deed=make.deed(w.technician, at=w.t(at)))

    first, second = (str(line.pk) for line in w.lines)
    close({first: 41}, 600)
    assert list(RiderCount.objects.values_list("place_id", "riders")) == [(w.line.pk, 41)]  # not counted is not none

    close({first: 44, second: 0}, 610)
    assert set(RiderCount.objects.values_list("place_id", "riders")) == {(w.line.pk, 44), (w.lines[1].pk, 0)}

    for riders, code in (({first: -1}, "riders-absurd"), ({first: 5001}, "riders-absurd"), ({"x": 1}, "no-such-line")):
        with refused(code):
            close(riders, 620)
    assert Day.objects.filter(course=w.course, date=w.at.date()).count() == 1
