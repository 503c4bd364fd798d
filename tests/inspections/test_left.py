"""What is left to do, and where each reason leads: common practice, no source."""

from datetime import timedelta
from types import SimpleNamespace
from typing import Any

import pytest
from django.urls import reverse

from inspections.stops import next_after, next_row, stops
from tests import make
from tests.inspections import steps
from tests.inspections.pages import posted, sheet_url, text, url

pytestmark = pytest.mark.usefixtures("clock")


def rows_of(w: SimpleNamespace, at: float) -> list[Any]:
    return [row for stop in stops(make.picture(w, w.t(at)), w.technician) for row in stop.rows]


def test_a_signed_sheet_with_something_new_on_it_is_left_to_do(w: SimpleNamespace, as_: Any, clock: Any) -> None:
    make.inspect(w, at=w.t(0))
    assert not [row for row in rows_of(w, 10) if not row.is_done]
    finding = steps.take_out(w)
    steps.pay(w, finding)
    steps.work(w, finding, at=30)

    [left] = [row for row in rows_of(w, 31) if not row.is_done]

    assert (left.place, left.section) == (w.line, "landing")
    assert left.sheet is not None
    assert next_row(stops(make.picture(w, w.t(31)), w.technician)) == left
    clock.move_to(w.t(31))
    page = text(as_("technician").get(url(w, "walk")))
    assert f'<a class="reasons__say" href="{sheet_url(w)}">Line 1: Landing end and brakes</a>' in page
    assert "2 left to do:" in page  # the sheet, and the ride that the work voided
    assert "to be checked anew" in page


def test_what_could_not_be_checked_is_answered_and_not_left(w: SimpleNamespace) -> None:
    key = make.picture(w, w.t(0)).section(w.house, "house").items[0]["key"]  # type: ignore[union-attr]
    skipped = {**make.answers(w, w.house, "house", at=w.t(0)), key: {"mark": "not_done", "note": "No key at hand."}}
    make.sign(w, w.house, "house", at=w.t(0), answers=skipped)

    [house] = [row for row in rows_of(w, 1) if row.section == "house"]

    assert house.is_done
    assert house.state == "unknown"


def test_each_reason_of_the_board_leads_to_the_very_sheet_or_ride(w: SimpleNamespace, as_: Any) -> None:
    make.sign(w, w.house, "house", at=w.t(0))
    ride = reverse("inspections:ride", args=[w.course.pk, w.line.pk])

    for page in (url(w, "board"), url(w, "line", w.line.pk)):
        inspecting, looking = (text(as_(who).get(page)) for who in ("technician", "auditor"))

        assert f'href="{sheet_url(w)}"' in inspecting
        assert f'class="reasons__say" href="{ride}"' in inspecting
        assert ride not in looking
        assert sheet_url(w) not in looking


def test_an_item_that_nobody_answered_is_led_to_on_its_sheet(w: SimpleNamespace, as_: Any, clock: Any) -> None:
    make.inspect(w, at=w.t(0))
    finding = steps.take_out(w)
    steps.pay(w, finding)
    steps.work(w, finding, at=30)
    now = make.picture(w, w.t(31))
    open_ = [
        item["key"] for item in now.section(w.line, "landing").items if not now.readings_of(w.line.pk, item["key"])
    ]
    clock.move_to(w.t(31))

    board, looking = (text(as_(who).get(url(w, "board"))) for who in ("technician", "auditor"))
    sheet = text(as_("technician").get(sheet_url(w)))

    assert open_
    for key in open_:
        assert f'href="{sheet_url(w)}#item-{key}"' in board
        assert f'id="item-{key}"' in sheet
        assert f"#item-{key}" not in looking


def test_a_held_line_with_everything_signed_says_both(w: SimpleNamespace, as_: Any) -> None:
    make.inspect(w, at=w.t(0))
    steps.take_out(w)

    assert "signed, and held all the same" in text(as_("manager").get(url(w, "board")))
    assert w.technician.name in text(as_("manager").get(url(w, "walk")))


def test_the_walk_names_a_line_that_is_signed_and_held_with_why(w: SimpleNamespace, as_: Any) -> None:
    make.inspect(w, at=w.t(0))
    assert "held all the same" not in text(as_("technician").get(url(w, "walk")))
    finding = steps.take_out(w)

    page = text(as_("technician").get(url(w, "walk")))

    assert "signed and held all the same:" in page
    assert f'href="{url(w, "finding", finding.pk)}"' in page


def test_after_signing_a_button_leads_on_at_this_stop_then_along_the_walk(w: SimpleNamespace, as_: Any) -> None:
    client = as_("technician")
    signed = client.post(sheet_url(w), {"sign": "1", **posted(w)}, follow=True)

    near, *_rest = [row for row in rows_of(w, 1) if row.place == w.platforms[1]]
    address = sheet_url(w).replace(f"{w.line.pk}/landing", f"{near.place.pk}/platform")
    assert f'<a class="button" href="{address}">Next here: {near.title}</a>' in text(signed)

    make.inspect(w, at=w.t(2), but=("house",))
    last = next_after(make.picture(w, w.t(3)), w.technician, w.line, "landing")
    assert (last.place, last.section, last.is_near) == (w.house, "house", False)


def test_after_a_ride_a_weight_that_is_still_due_comes_first(w: SimpleNamespace) -> None:
    make.inspect(w, at=w.t(0))
    ridden = make.picture(w, w.t(1))
    assert next_after(ridden, w.technician, w.line, "ride") is None

    later = w.t(0) + timedelta(days=8)
    for where, name in make.sections(w, at=later):
        make.sign(w, where, name, at=later)
    again = next_after(make.picture(w, later), w.technician, w.line, "ride")
    assert again.line == w.line
    assert again.due


def test_taking_out_of_service_is_in_the_page_and_never_in_the_bar_with_the_hold(w: SimpleNamespace, as_: Any) -> None:
    client, withdraw = as_("technician"), url(w, "withdraw")
    for address in (url(w, "walk"), sheet_url(w), url(w, "ride", w.line.pk), url(w, "rack", w.store.pk, "A")):
        page, bar = text(client.get(address)).split('<section class="bar"')

        assert withdraw in page, address
        assert withdraw not in bar, address
        assert url(w, "hold") in bar, address
    assert "<b>Take out of service</b> <span>until it is released</span>" in text(client.get(sheet_url(w)))
