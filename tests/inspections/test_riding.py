"""A ride that does not count is said before and after it, and is left to do until one does.

R-201 (READ): the checks of a line come before its test ride. What is shown when is the judgement of the makers.
"""

from datetime import datetime, timedelta
from types import SimpleNamespace
from typing import Any

import pytest

from inspections.facts import line_statuses
from inspections.riding import posted_weights, ride_row
from inspections.stops import next_after
from tests import make
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
    make.ride(w, w.line, at=w.t(1), figures={"stroke.used": "99"})

    row = ride_row(make.picture(w, w.t(2)), w.line)

    assert (row.state, row.is_done) == ("withdraw", True)
