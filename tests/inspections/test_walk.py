"""The walk: in which order, what is left, who may go where, and the stops that are always at hand.

The order is how one comes past the places of a course; no outside source.
"""

from datetime import timedelta
from types import SimpleNamespace
from typing import Any
from uuid import uuid4

import pytest
from django.urls import reverse

from inspections import actions
from inspections.explain import held_by
from inspections.facts import line_statuses
from inspections.models import Hold
from inspections.riding import covered_weights, due_weights, ride_row
from inspections.stops import next_row, stops
from tests import make
from tests.inspections.pages import sheet_url, text, url

LOOK = "TA-06@end-landing"

pytestmark = pytest.mark.usefixtures("clock")


def test_one_comes_past_house_and_store_and_then_from_platform_to_platform(w: SimpleNamespace) -> None:
    found = stops(make.picture(w, w.t(0)), w.technician)

    assert [stop.title for stop in found] == [
        "Course house", "Gear store", "Platform 1 Platform 1", "Platform 2 Platform 2", "Platform 3 Platform 3",
    ]  # fmt: skip
    by_stop = [[row.title for row in stop.rows] for stop in found]
    assert by_stop[2] == ["Platform", "Line 1: Launch end", "Line 1: Cable"]
    # One lands before one starts again.
    assert by_stop[3] == ["Platform", "Line 1: Landing end and brakes", "Line 2: Launch end", "Line 2: Cable"]
    assert by_stop[4] == ["Platform", "Line 2: Landing end and brakes"]
    assert by_stop[1] == ["Rescue kit", "Rack A", "Rack B"]


def test_next_is_the_first_sheet_that_nobody_signed_then_the_rides_then_nothing(w: SimpleNamespace, as_: Any) -> None:
    client = as_("technician")
    make.sign(w, w.house, "house", at=w.t(0))
    first = next_row(stops(make.picture(w, w.t(0)), w.technician))
    assert first is not None
    assert f"Next: {first.title}" in text(client.get(url(w, "walk")))

    for place, section in make.sections(w, at=w.t(0)):
        make.sign(w, place, section, at=w.t(0))
    assert "Next: test ride, line 1" in text(client.get(url(w, "walk")))

    for line in w.lines:
        make.ride(w, line, at=w.t(0))
    page = text(client.get(url(w, "walk")))
    assert "All signed." in page
    assert "Next:" not in page


def test_from_a_sheet_on_the_walk_goes_on_and_begins_anew_at_its_end(w: SimpleNamespace) -> None:
    found = stops(make.picture(w, w.t(0)), w.technician)
    rows = [row for stop in found for row in stop.rows]

    after = next_row(found, rows[3].place.pk, rows[3].section)
    anew = next_row(found, rows[-1].place.pk, rows[-1].section)

    assert after == rows[4]
    assert anew == rows[0]


def test_what_is_done_is_folded_away_unless_i_began_another_sheet_there(w: SimpleNamespace, as_: Any) -> None:
    make.sign(w, w.house, "house", at=w.t(0))
    client = as_("technician")
    assert '<details class="stage" id="stage-1">' in client.get(url(w, "walk")).content.decode()

    picture = make.picture(w, w.t(0))
    key = next(item["key"] for item in picture.section(w.house, "house").items if item["kind"] == "look")
    client.post(url(w, "sheet", w.house.pk, "house"), {"save": "1", f"mark-{key}": "sound"})

    assert '<details class="stage" id="stage-1" open>' in client.get(url(w, "walk")).content.decode()


def test_a_sheet_begun_by_me_says_how_far_i_am_and_a_colleagues_does_not(w: SimpleNamespace, as_: Any) -> None:
    as_("technician").post(sheet_url(w), {"save": "1", f"mark-{LOOK}": "sound"})
    of = len(make.picture(w, w.t(0)).section(w.line, "landing").items)

    assert f"begun by you: 1 of {of}" in text(as_("technician").get(url(w, "walk")))
    assert "begun by you" not in text(as_("mate").get(url(w, "walk")))


def test_of_two_sheets_the_walk_shows_what_counts(w: SimpleNamespace) -> None:
    make.sign(w, w.line, "landing", at=w.t(1), answers={LOOK: {"mark": "defect", "kept": "defect", "note": "Loose."}})
    make.sign(w, w.line, "landing", by=w.mate, at=w.t(2))

    [row] = [row for stop in stops(make.picture(w, w.t(3)), w.mate) for row in stop.rows if row.sheets]

    assert (row.state, row.sheets) == ("withdraw", 2)


def test_what_is_wrong_with_a_line_is_told_before_what_is_still_to_be_done(w: SimpleNamespace) -> None:
    deed = make.deed(w.technician, at=w.t(0))
    actions.take_out_of_service(make.picture(w, w.t(0)), w.line, title="Struck by a tree", deed=deed)
    actions.call_hold(make.picture(w, w.t(1)), w.line, cause="object", deed=make.deed(w.guide, at=w.t(1)))
    now = make.picture(w, w.t(2))
    told = [one.code for one in held_by(now, line_statuses(now)[0])]
    assert told[:2] == ["hold", "finding-critical"]
    assert "sheet-missing" in told[2:]


def test_a_line_that_is_out_of_service_as_a_whole_marks_all_of_it(w: SimpleNamespace) -> None:
    deed = make.deed(w.technician, at=w.t(0))
    actions.take_out_of_service(make.picture(w, w.t(0)), w.line, title="Struck by a tree", deed=deed)
    make.sign(w, w.line, "landing", at=w.t(1))
    [row] = [row for stop in stops(make.picture(w, w.t(2)), w.mate) for row in stop.rows if row.sheets]
    assert row.state == "withdraw"


@pytest.mark.parametrize("by_hand", [False, True])
def test_no_mark_of_the_walk_is_better_than_what_is_open_there(w: SimpleNamespace, as_: Any, by_hand: bool) -> None:
    """Taken out of service as it was seen; then the answer was changed, and the sheet signed as sound."""
    what: dict[str, Any] = {"slot": "end-landing"} if by_hand else {"key": LOOK, "slot": "end-landing"}
    deed = make.deed(w.technician, at=w.t(0))
    actions.take_out_of_service(
        make.picture(w, w.t(0)), w.line, title="Mark slipped", severity="critical", deed=deed, **what
    )
    make.sign(w, w.line, "landing", at=w.t(1))
    make.sign(w, w.line, "cable", at=w.t(1))

    rows = {row.section: row for stop in stops(make.picture(w, w.t(2)), w.mate) for row in stop.rows if row.sheets}

    assert (rows["landing"].state, rows["cable"].state) == ("withdraw", "ok")
    # And its sheet says so beside the item, whatever is answered of it.
    said = "Out of service since 07:30, until it is released."
    assert (said in text(as_("mate").get(sheet_url(w)))) is not by_hand
    signed = text(as_("mate").get(url(w, "signed", rows["landing"].sheet.pk)))
    assert ("Out of service since 15 June, 07:30, and not released." in signed) is not by_hand


def test_a_line_that_waits_for_work_is_not_counted_as_ridden(w: SimpleNamespace, as_: Any) -> None:
    page = text(as_("technician").get(url(w, "walk")))
    assert '<span class="stage__count">0 of 2</span></div>' in page
    deed = make.deed(w.technician, at=w.t(0))
    actions.take_out_of_service(make.picture(w, w.t(0)), w.line, title="Mark slipped", slot="end-landing", deed=deed)
    page = text(as_("technician").get(url(w, "walk")))
    assert '<span class="stage__count">0 of 1</span></div>' in page
    assert "no ballast before the work" in page


def test_who_does_not_inspect_sees_the_walk_and_no_way_into_an_unsigned_sheet(w: SimpleNamespace, as_: Any) -> None:
    make.sign(w, w.line, "landing", at=w.t(0))

    page = as_("manager").get(url(w, "walk")).content.decode()

    assert sheet_url(w, "cable") not in page
    assert url(w, "ride", w.line.pk) not in page
    assert "/signed/" in page
    assert "Next:" not in page


def test_from_paper_every_address_of_the_walk_says_so(w: SimpleNamespace, as_: Any) -> None:
    page = as_("technician").get(url(w, "walk") + "?paper=1").content.decode()

    for address in (sheet_url(w, "cable"), url(w, "rack", w.store.pk, "A"), url(w, "ride", w.line.pk)):
        assert f'href="{address}?paper=1"' in page


# --- test rides


def test_the_posted_weights_are_due_again_after_seven_days(w: SimpleNamespace) -> None:
    # Both were ridden the day before. DECISION of the makers: posted maximum and minimum at least every seven days.
    for days, due in ((0, []), (5, []), (6, ["35", "115"])):
        at = w.at + timedelta(days=days)
        assert list(due_weights(make.picture(w, at), w.line)) == due

    later = w.at + timedelta(days=6)
    make.ride(w, w.line, at=later, mass="120")
    assert list(due_weights(make.picture(w, later), w.line)) == ["35"]  # more than the maximum covers the maximum
    assert covered_weights(make.picture(w, later), w.line) == ["120", "120"]


def test_a_ride_that_no_longer_counts_covers_nothing(w: SimpleNamespace) -> None:
    make.ride(w, w.line, at=w.t(1), mass="80")
    make.ride(w, w.line, at=w.t(2), mass="115", kind="emergency")

    row = ride_row(make.picture(w, w.t(3)), w.line)

    assert (row.is_done, row.why, row.state) == (False, "ride-voided", "unknown")


# --- stops


def test_person_on_the_line_is_one_tap_that_counts_once_and_leads_back(w: SimpleNamespace, as_: Any) -> None:
    client = as_("technician")
    tap = {"cause": "person", "line": str(w.line.pk), "deed_id": str(uuid4()), "next": sheet_url(w)}

    first, second = client.post(url(w, "hold"), tap), client.post(url(w, "hold"), tap)

    assert first["Location"] == second["Location"] == sheet_url(w)
    [hold] = Hold.objects.all()
    assert (hold.cause, hold.place_id) == ("person", w.line.pk)
    assert "No ballast is sent." in text(client.get(url(w, "walk")))
    assert "Somebody is on this line" in text(client.get(url(w, "ride", w.line.pk)))


@pytest.mark.parametrize("elsewhere", ["https://example.org/", "//example.org/x", "/\\example.org", "javascript:1", ""])
def test_a_hold_leads_to_no_other_site(w: SimpleNamespace, as_: Any, elsewhere: str) -> None:
    answer = as_("technician").post(url(w, "hold"), {"cause": "object", "line": str(w.line.pk), "next": elsewhere})

    called = Hold.objects.get(course=w.course)
    assert answer["Location"] == reverse("inspections:lift", args=[w.course.pk, called.pk])


def test_the_stops_are_on_every_page_of_the_walk_with_its_own_line_first(w: SimpleNamespace, as_: Any) -> None:
    client = as_("technician")
    rack, house = url(w, "rack", w.store.pk, "A"), url(w, "sheet", w.house.pk, "house")

    for address in (url(w, "walk"), sheet_url(w), url(w, "ride", w.line.pk), url(w, "line", w.line.pk), rack, house):
        page = text(client.get(address))
        assert f'action="{url(w, "hold")}"' in page, address
        assert url(w, "withdraw") in page, address
        for line in [w.line] if "Person on line 1" in page else w.lines:
            assert f'name="line" value="{line.pk}"' in page, address
    assert "Person on line 1" in text(client.get(sheet_url(w)))
    assert "Person on line" not in text(client.get(house))


def test_gear_out_of_service_does_not_make_its_rack_look_unchecked(w: SimpleNamespace) -> None:
    harness = make.Component.objects.get(tag="HA-01")
    actions.take_out_of_service(
        make.picture(w, w.t(0)), w.store, title="Strap cut", component=harness, slot="B",
        deed=make.deed(w.technician, at=w.t(0)),
    )  # fmt: skip
    undone = {"gear@HA-01": {"mark": "not_done", "reason": "Out of service."}}
    make.sign(w, w.store, "rack:B", at=w.t(1), answers=undone)

    [row] = [row for stop in stops(make.picture(w, w.t(2)), w.mate) for row in stop.rows if row.section == "rack:B"]

    assert row.state == "ok"
