"""A ride that does not count is said before and after it, and is left to do until one does.

R-201 (READ): the checks of a line come before its test ride. What is shown when is the judgement of the makers.
"""

from datetime import datetime, timedelta
from types import SimpleNamespace
from typing import Any

import pytest

from inspections.actions.sheets import Incomplete
from inspections.facts import line_statuses
from inspections.models import Hold
from inspections.riding import posted_weights, ride_row
from inspections.stops import next_after
from tests import make
from tests.inspections import steps
from tests.inspections.pages import sheet_url, text, url

pytestmark = pytest.mark.usefixtures("clock")


def checks(w: SimpleNamespace, *, at: datetime, but: tuple[str, ...] = ()) -> None:
    for where, name in make.sections(w, at=at):
        if name not in but:
            make.sign(w, where, name, at=at)


def sign_line(w: SimpleNamespace, *sections: str, at: float) -> None:
    for section in sections:
        make.sign(w, w.line, section, at=w.t(at))


def test_a_ride_before_the_checks_is_left_to_do_and_the_board_agrees(w: SimpleNamespace, as_: Any) -> None:
    client = as_("technician")
    checks(w, at=w.t(0), but=("landing",))
    make.ride(w, w.line, at=w.t(1))

    early = ride_row(make.picture(w, w.t(2)), w.line)
    assert (early.why, early.is_done, early.state) == ("ride-order", False, "unknown")

    sign_line(w, "landing", at=3)
    picture = make.picture(w, w.t(4))
    assert (ride_row(picture, w.line).why, ride_row(picture, w.line).is_done) == ("ride-order", False)
    [status] = [one for one in line_statuses(picture) if one.line == w.line]
    assert "ride-order" in {one.code for one in status.clearance.reasons}
    page = text(client.get(url(w, "walk")))
    assert "Sent before the checks were signed: send it again after them." in page
    assert "All signed." not in page

    make.ride(w, w.line, at=w.t(5))
    again = ride_row(make.picture(w, w.t(6)), w.line)
    assert (again.why, again.is_done, again.state) == ("", True, "ok")


def test_the_ride_page_says_beforehand_which_checks_are_to_be_signed(w: SimpleNamespace, as_: Any) -> None:
    client, page = as_("technician"), url(w, "ride", w.line.pk)
    sign_line(w, "launch", "cable", at=0)

    before = text(client.get(page))
    assert "Sign the checks first" in before
    assert f'href="{sheet_url(w)}">Landing end and brakes</a>' in before
    assert f'href="{sheet_url(w, "cable")}"' not in before

    sign_line(w, "landing", at=0)
    assert "Sign the checks first" not in text(client.get(page))


def test_after_an_early_ride_the_checks_come_before_another_ride(w: SimpleNamespace) -> None:
    checks(w, at=w.t(0), but=("landing",))
    make.ride(w, w.line, at=w.t(1))

    found = next_after(make.picture(w, w.t(2)), w.technician, w.line, "ride")

    assert (found.place, found.section) == (w.line, "landing")


def test_a_posted_weight_that_is_due_is_left_to_do_by_its_weight(w: SimpleNamespace, as_: Any) -> None:
    # DECISION of the makers: posted maximum and minimum at least every seven days. Both were ridden the day before.
    picture = make.picture(w, w.at + timedelta(days=5))
    assert [one.covered_until for one in posted_weights(picture, w.line)] == [(w.at + timedelta(days=5)).date()] * 2

    later = w.at + timedelta(days=6)
    checks(w, at=later)
    make.ride(w, w.line, at=later + timedelta(minutes=5), mass="35")
    row = ride_row(make.picture(w, later + timedelta(minutes=6)), w.line)
    assert (row.due, row.why, row.is_done) == (("115",), "", False)

    make.ride(w, w.line, at=later + timedelta(minutes=7), mass="115")
    assert ride_row(make.picture(w, later + timedelta(minutes=8)), w.line).is_done


def test_a_line_that_failed_its_ride_is_not_asked_for_another_before_its_repair(w: SimpleNamespace) -> None:
    checks(w, at=w.t(0))
    make.ride(
        w,
        w.line,
        at=w.t(1),
        figures={"stroke.used": make.picture(w, w.t(0)).setup.document(w.line)["stroke_available_m"]},
    )

    row = ride_row(make.picture(w, w.t(2)), w.line)

    assert (row.state, row.is_done) == ("withdraw", True)


def test_a_line_with_a_part_out_of_service_is_not_next_to_be_ridden_before_the_work(
    w: SimpleNamespace, as_: Any
) -> None:
    client, page = as_("technician"), url(w, "ride", w.line.pk)
    checks(w, at=w.t(0))
    finding = steps.take_out(w, at=1)

    row = ride_row(make.picture(w, w.t(2)), w.line)
    assert (row.barred, row.is_done) == (finding, True)
    assert next_after(make.picture(w, w.t(2)), w.technician, w.line, "landing").line == w.lines[1]
    told = text(client.get(page))
    assert "Out of service: no ballast yet" in told
    assert "Spring cracked" in told
    assert "button--primary bar__go" not in told

    steps.work(w, finding, at=3)
    assert ride_row(make.picture(w, w.t(4)), w.line).barred is None
    assert "Out of service: no ballast yet" not in text(client.get(page))


def test_somebody_on_the_line_leaves_no_button_to_sign_and_leads_to_the_hold(w: SimpleNamespace, as_: Any) -> None:
    client = as_("technician")
    client.post(url(w, "hold"), {"cause": "person", "line": str(w.line.pk)})

    told = text(client.get(url(w, "ride", w.line.pk)))

    assert "No ballast is sent until this hold is lifted." in told
    assert url(w, "lift", Hold.objects.get().pk) in told
    assert "Sign this test ride" not in told
    assert "<b>Nobody on the line.</b>" not in told


@pytest.mark.parametrize(
    ("days", "mass", "said"),
    [
        (0, "", "Send one ballast today, between 35 kg and 115 kg."),
        (0, "80", "Nothing more is to be sent on this line today."),
        (6, "", "Send today: 35 kg and 115 kg."),
    ],
)
def test_the_ride_page_says_what_is_to_be_sent_today(
    w: SimpleNamespace, as_: Any, clock: Any, days: int, mass: str, said: str
) -> None:
    now = w.at + timedelta(days=days)
    checks(w, at=now)
    if mass:
        make.ride(w, w.line, at=now + timedelta(minutes=1), mass=mass)
    clock.move_to(now + timedelta(minutes=2))

    assert said in text(as_("technician").get(url(w, "ride", w.line.pk)))


def test_more_brake_travel_than_there_is_is_a_slip_that_cannot_be_kept(w: SimpleNamespace) -> None:
    there = make.picture(w, w.t(0)).setup.document(w.line)["stroke_available_m"]
    for used, refused in ((f"{2 * float(there):.1f}", False), (f"{2 * float(there) + 0.1:.1f}", True)):
        if not refused:
            make.ride(w, w.line, at=w.t(1), figures={"stroke.used": used})
            continue
        with pytest.raises(Incomplete) as caught:
            make.ride(w, w.line, at=w.t(2), figures={"stroke.used": used})
        assert any(f"there are {there} m of brake travel" in one for one in caught.value.wanted.values())
