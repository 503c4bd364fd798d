"""What an auditor finds years later: every expected day, what was entered on it, and what each component went through.

The cases of the calendar follow DESIGN.md part 6 and rule R-241 (READ): a morning that nobody came to must be visible.
Everything here is read with the auditor's role, which can read the history and nothing else.
"""

from __future__ import annotations

import re
from datetime import date, timedelta
from hashlib import sha256
from types import SimpleNamespace
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from courses.actions.files import path_of
from courses.models import Component
from inspections import actions
from inspections.demo import course as plan
from inspections.models import Hold, Paper, SignOff
from ledger.models import Disclosure, Entry
from reports.actions import issue_papers
from reports.life import gauge_of
from reports.past_day import past_day
from tests import make


@pytest.fixture
def auditor(as_one: Any) -> Client:
    return as_one("auditor")


def signed(w: SimpleNamespace, at: Any, **decided: str) -> SignOff:
    entry = make.open_lines(w, at=at, **decided)
    return SignOff.objects.select_related("day__course__operator__log").get(day__course=w.course, seq=entry.seq)


def squares(html: str) -> dict[tuple[str, int], str]:
    """Return the state of each date of a calendar page by month and number."""
    found = {}
    for month, table in re.findall(r"<caption>(\w+) \d{4}</caption>(.*?)</table>", html, re.DOTALL):
        for state, number in re.findall(r'class="day is-(\w+)[^>]*><span>(\d+)</span>', table):
            found[month, int(number)] = state
    return found


def calendar(w: SimpleNamespace, client: Client, **query: str) -> dict[tuple[str, int], str]:
    return squares(client.get(reverse("reports:calendar", args=[w.course.pk]), query).content.decode())


def day(w: SimpleNamespace, client: Client, on: Any = None) -> str:
    return client.get(reverse("reports:day", args=[w.course.pk, on or w.on])).content.decode()


# --- the calendar


def test_a_day_signed_in_time_a_missing_one_and_one_to_come(w: SimpleNamespace, as_one: Any) -> None:
    signed(w, w.t(10))
    w.clock.move_to(w.t(2 * 24 * 60 + 12 * 60))  # two days later, after opening; nobody came since

    found = calendar(w, as_one("auditor"))

    assert found["June", 15] == "day_signed"
    assert found["June", 14] == "day_missing", "test rides alone are no signature"
    assert found["June", 16] == "day_missing", "nothing at all was entered"
    assert found["June", 17] == "day_missing", "today, after the opening time"
    assert found["June", 18] == "day_ahead"
    # Nothing was ever entered before 14 June: nobody was expected to sign in a record that had not begun.
    assert found["June", 13] == "day_off"
    assert ("May", 31) not in found


def test_today_before_opening_is_still_to_come(w: SimpleNamespace, auditor: Client) -> None:
    assert calendar(w, auditor)["June", 15] == "day_ahead"


def test_signing_after_the_opening_time_is_late(w: SimpleNamespace, auditor: Client) -> None:
    signed(w, w.t(121))  # opens at 09:30 in Vienna, 120 minutes after the tests' morning

    assert calendar(w, auditor)["June", 15] == "day_late"
    assert "Signed after the opening time" in day(w, auditor)


def test_signing_at_the_very_minute_of_opening_is_in_time(w: SimpleNamespace, auditor: Client) -> None:
    signed(w, w.t(120))

    assert calendar(w, auditor)["June", 15] == "day_signed"


def test_the_calendar_of_one_line(w: SimpleNamespace, auditor: Client) -> None:
    signed(w, w.t(10), line2="closed")
    first = calendar(w, auditor, line=str(w.lines[0].pk))
    second = calendar(w, auditor, line=str(w.lines[1].pk))
    signed(w, w.t(130))  # opened after all, when guests were there

    assert first["June", 15] == "day_signed"
    assert second["June", 15] == "closed_today"
    assert calendar(w, auditor, line=str(w.lines[1].pk))["June", 15] == "day_late"
    assert calendar(w, auditor)["June", 15] == "day_signed"


def test_a_day_closed_by_the_calendar_is_off(w: SimpleNamespace, auditor: Client) -> None:
    make.settle(w, "calendar", {**plan.CALENDAR, "closed": ["2026-06-20"]}, at=w.t(10))

    found = calendar(w, auditor)

    assert found["June", 20] == "day_off"
    assert found["June", 21] == "day_ahead"


def test_the_calendar_takes_at_most_ten_queries_however_much_was_signed(w: SimpleNamespace, auditor: Client) -> None:
    def count() -> int:
        with CaptureQueriesContext(connection) as queries:
            calendar(w, auditor)
        return len(queries)

    before = count()
    for minute in range(10, 16):
        signed(w, w.t(minute))

    assert count() == before <= 10


def test_a_year_that_is_none_is_this_year(w: SimpleNamespace, auditor: Client) -> None:
    for year in ("", "x", "0", "99999"):
        assert ("June", 15) in calendar(w, auditor, year=year)


# --- one day


def test_a_day_says_who_decided_what_and_by_which_entry(w: SimpleNamespace, auditor: Client) -> None:
    first, second = signed(w, w.t(10)), signed(w, w.t(15), line2="closed")
    issue_papers(second, deed=make.deed(w.manager, at=w.t(15)))

    html = day(w, auditor)

    assert html.index("Revision 2") < html.index("Revision 1") < html.index("Replaced by revision 2.")
    newest = Paper.objects.get(sign_off=second, kind=Paper.Kind.DAY_SHEET)
    assert (
        f'<a class="button button--primary" href="{reverse("reports:paper", args=[w.course.pk, newest.pk])}">' in html
    )
    for one in (first, second):
        assert f"entry {one.seq}." in html
        assert one.snapshot[:8] in html
    for paper in Paper.objects.all():
        assert paper.sha256[:8] in html
        assert f"entry {paper.seq}" in html
    assert html.count("Closed today") == 1
    assert "Mirte Valk" in html
    assert "Tarik Oben" in html


def test_a_corrected_reading_stands_beside_what_it_was(w: SimpleNamespace, auditor: Client) -> None:
    sheet = next(one for one in make.picture(w, w.t(8)).sheets if one.section == "house")
    before = sheet.readings.get(key="WX-01@house").text
    deed = make.deed(w.technician, at=w.t(8))
    draft = actions.draft_for(make.picture(w, w.t(8)), w.house, "house", deed=deed, amends=sheet.pk)
    draft.content = {"WX-01@house": {"text": "5.5", "kept": "5.5"}}
    draft.save(update_fields=["content"])
    actions.sign_sheet(draft, meaning="I corrected it.", reason="Read from the wrong mast.", deed=deed)

    html = day(w, auditor)

    assert re.search(rf"<s>{before}</s> → <b class=\"number\">5\.5</b>", html)
    assert "Read from the wrong mast." in html


def test_holds_findings_and_the_closing_of_a_day(w: SimpleNamespace, auditor: Client) -> None:
    actions.call_hold(make.picture(w, w.t(11)), w.line, cause="object", deed=make.deed(w.guide, at=w.t(11)))
    actions.open_finding(
        make.picture(w, w.t(12)),
        w.line,
        title="Bolt missing",
        severity="major",
        text="Left of the gate.",
        deed=make.deed(w.technician, at=w.t(12)),
    )
    actions.close_day(
        make.picture(w, w.t(600)),
        riders={str(w.lines[0].pk): 41, str(w.lines[1].pk): 0},
        deed=make.deed(w.technician, at=w.t(600)),
    )

    html = day(w, auditor)

    for words in ("Object on the line", "Gesa Lorn", "Bolt missing", "Left of the gate.", "41 riders", "0 riders"):
        assert words in html


def test_a_place_reads_no_better_than_what_was_open_there_when_the_day_ended(w: SimpleNamespace, as_one: Any) -> None:
    def head_of_the_line(on: date) -> str:
        html = " ".join(day(w, as_one("auditor"), on).split())
        line = html.split("What was checked")[1].split(f">{w.line}</span>")[1]
        return line[: line.index("Not signed:") if "Not signed:" in line else line.index("<h3>")]

    assert "OK" in head_of_the_line(w.on)
    out = {"component": None, "slot": "", "text": "Cracked.", "deed": make.deed(w.technician, at=w.t(12))}
    actions.take_out_of_service(make.picture(w, w.t(12)), w.line, title="Splice cracked", **out)
    found = head_of_the_line(w.on)
    assert "Out of service, not released this day:" in found
    assert "Splice cracked" in found
    assert "OK" not in found
    # What was found the day after says nothing of the day before.
    w.clock.move_to(w.t(24 * 60))
    make.sign(w, w.line, "cable", at=w.t(24 * 60))
    late = make.deed(w.technician, at=w.t(24 * 60 + 5))
    actions.open_finding(make.picture(w, late.at), w.line, title="Bolt missing", severity="minor", deed=late)
    w.clock.move_to(w.t(25 * 60))
    assert "Found, not released this day:" in head_of_the_line(w.on + timedelta(days=1))
    assert "Bolt missing" not in head_of_the_line(w.on)


def test_what_was_due_and_not_signed_is_said_where_the_rest_was_checked(w: SimpleNamespace, as_one: Any) -> None:
    w.clock.move_to(w.t(24 * 60))  # this morning was signed whole; the next is not
    for place, section in make.sections(w, at=w.t(24 * 60)):
        if section != "landing" and place != w.platforms[0]:
            make.sign(w, place, section, at=w.t(24 * 60))

    html = " ".join(day(w, as_one("auditor"), w.on + timedelta(days=1)).split())

    assert html.count("Not signed: Landing end and brakes.") == len(w.lines)
    assert "Not signed: Platform." in html
    line = html.split("What was checked")[1].split(f">{w.line}</span>")[1]
    assert "Not checked" in line[: line.index("</summary>")]


def test_a_lifted_hold_says_by_whom_and_on_what(w: SimpleNamespace, auditor: Client) -> None:
    lifted_on = {
        "person": dict.fromkeys(("seen", "counted", "radio"), "yes"),
        "thunder": {"looked": "yes"},
        "gust": {"wind": "2,5", "looked": "yes"},
    }
    for cause in lifted_on:
        line = w.line if cause == "person" else None
        actions.call_hold(make.picture(w, w.t(11)), line, cause=cause, deed=make.deed(w.guide, at=w.t(11)))
    for hold in Hold.objects.filter(course=w.course):
        given, deed = lifted_on[hold.cause], make.deed(w.technician, at=w.t(60))
        actions.lift_hold(make.picture(w, w.t(60)), hold, given=given, text="Clear.", deed=deed)

    html = " ".join(day(w, auditor).split())

    for said in (
        "saw that nobody was on the line or under it, everyone was counted, asked the person who called it by radio.",
        "looked along every line concerned. Clear.",
        "read a wind of 2.5 m/s",
    ):
        assert said in html
    assert html.count("by Tarik Oben, entry") >= 3


def test_a_change_of_the_calendar_after_opening_is_shown_as_late(w: SimpleNamespace, auditor: Client) -> None:
    make.settle(w, "calendar", {**plan.CALENDAR, "closed": ["2026-06-15"]}, at=w.t(300))
    w.clock.move_to(w.t(400))

    html = day(w, auditor)

    assert "Late change of the calendar" in html
    assert "Edda Quist" in html
    assert calendar(w, auditor)["June", 15] == "day_missing", "the calendar of the morning counts"


def test_a_day_on_which_nothing_was_entered_says_so(w: SimpleNamespace, as_one: Any) -> None:
    w.clock.move_to(w.t(2 * 24 * 60))

    html = day(w, as_one("auditor"), w.on + timedelta(days=1))

    assert "Nothing was entered this day" in html
    assert "Expected by the calendar, and not signed" in html


def test_an_erased_name_is_told_as_erased(w: SimpleNamespace, auditor: Client) -> None:
    signed(w, w.t(10))
    Disclosure.objects.filter(subject=w.technician.ref).delete()

    html = day(w, auditor)

    assert "name erased" in html
    assert "Tarik Oben" not in html


def test_a_day_takes_the_same_queries_however_much_is_on_it(w: SimpleNamespace, auditor: Client) -> None:
    def count(on: Any) -> int:
        with CaptureQueriesContext(connection) as queries:
            day(w, auditor, on)
        return len(queries)

    signed(w, w.t(10))

    assert count(w.on) <= 24
    assert count(w.on) - count(w.on - timedelta(days=1)) <= 2


def test_a_date_that_is_none_is_not_found(w: SimpleNamespace, auditor: Client) -> None:
    assert auditor.get(f"/course/{w.course.pk}/history/day/2026-02-30/").status_code == 404


# --- components


def test_the_riders_of_a_component_are_those_of_its_lines_days(w: SimpleNamespace, auditor: Client) -> None:
    cable = Component.objects.get(course=w.course, tag__iexact="CB-1ce")
    for number, riders in enumerate((41, 17)):
        at = w.t(600 + number * 24 * 60)
        counts = {str(w.lines[0].pk): riders, str(w.lines[1].pk): 500}
        actions.close_day(make.picture(w, at), riders=counts, deed=make.deed(w.technician, at=at))

    html = auditor.get(reverse("reports:component", args=[w.course.pk, cable.pk])).content.decode()

    assert "58 riders" in html  # 41 + 17, by hand
    assert "Line 1" in html
    assert "Line 2" not in html.partition("<main")[2].partition("</main>")[0]


def test_handed_out_gear_has_no_count_of_its_own(w: SimpleNamespace, auditor: Client) -> None:
    gear = Component.objects.filter(course=w.course, kind="harness").first()
    assert gear is not None

    html = auditor.get(reverse("reports:component", args=[w.course.pk, gear.pk])).content.decode()

    assert "No count of its own." in html


def test_a_gauge_only_where_new_limit_and_reading_are_plain_numbers() -> None:
    from decimal import Decimal

    from inspections.models import Reading

    newest = Reading(key="MC-04@cable", text="12.60", value="12.6", unit="mm", limit="at least 12.065 mm")
    before = Reading(key="MC-04@cable", text="12.80", value="12.8", unit="mm", limit="at least 12.065 mm")

    gauge = gauge_of([newest, before], Decimal("12.90"))

    assert gauge is not None
    # By hand: 12.90 is on the left, 12.065 on the right, and 12.6 lies 0.3/0.835 of the way after 12.8 with 0.1/0.835.
    assert gauge.new_at < gauge.last_at < gauge.today_at < gauge.limit_at  # type: ignore[operator]
    span = gauge.limit_at - gauge.new_at
    assert abs((gauge.today_at - gauge.new_at) / span - 0.3 / 0.835) < 0.01
    assert gauge_of([newest], None) is None
    assert gauge_of([Reading(text="5", value="5", unit="mm", limit="4 mm to 7 mm")], Decimal(5)) is None
    assert gauge_of([Reading(text="", value="", limit="no defect")], Decimal(5)) is None


def test_components_are_found_by_tag_and_by_kind(w: SimpleNamespace, auditor: Client) -> None:
    page = reverse("reports:components", args=[w.course.pk])

    by_tag = auditor.get(page, {"tag": "rk-1"}).content.decode()
    none = auditor.get(page, {"tag": "nowhere"}).content.decode()

    assert "RK-1" in by_tag
    assert "WS-1" not in by_tag
    assert "No component fits this search." in none


# --- papers, and that reading is all


def test_the_auditor_gets_the_very_bytes_that_were_drawn(w: SimpleNamespace, auditor: Client) -> None:
    papers = issue_papers(signed(w, w.t(10)), deed=make.deed(w.manager, at=w.t(10)))

    response = auditor.get(reverse("reports:paper", args=[w.course.pk, papers[0].pk]))

    assert response["Content-Type"] == "application/pdf"
    assert response["X-Content-Type-Options"] == "nosniff"
    assert sha256(response.content).hexdigest() == papers[0].sha256
    assert papers[0].sha256[:8] in auditor.get(reverse("reports:day_sheets", args=[w.course.pk])).content.decode()


def test_a_stored_paper_that_was_altered_is_not_given_out(w: SimpleNamespace, auditor: Client) -> None:
    papers = issue_papers(signed(w, w.t(10)), deed=make.deed(w.manager, at=w.t(10)))
    path = path_of(w.operator.pk, papers[0].sha256)
    kept = path.read_bytes()
    path.chmod(0o640)
    try:
        path.write_bytes(kept.replace(b"PDF", b"pdf", 1))
        assert auditor.get(reverse("reports:paper", args=[w.course.pk, papers[0].pk])).status_code == 404
    finally:
        path.write_bytes(kept)
        path.chmod(0o440)


def test_the_history_is_read_only_for_the_auditor(w: SimpleNamespace, auditor: Client) -> None:
    signed(w, w.t(10))
    entries = Entry.objects.count()
    cable = Component.objects.filter(course=w.course).first()
    assert cable is not None
    pages = [
        reverse("reports:calendar", args=[w.course.pk]),
        reverse("reports:day", args=[w.course.pk, w.on]),
        reverse("reports:components", args=[w.course.pk]),
        reverse("reports:component", args=[w.course.pk, cable.pk]),
        reverse("reports:day_sheets", args=[w.course.pk]),
        reverse("reports:exports", args=[w.course.pk]),
    ]

    for page in pages:
        main = auditor.get(page).content.decode().partition("<main")[2].partition("</main>")[0]
        assert 'method="post"' not in main
        for address in set(re.findall(r'href="(/course/[^"#]+)"', main)):
            assert auditor.get(address).status_code == 200, f"{page} leads the auditor to {address}"
    assert Entry.objects.count() == entries


def test_blank_sheets_hold_todays_items_with_limit_and_last_reading(w: SimpleNamespace, as_one: Any) -> None:
    from io import BytesIO

    from pypdf import PdfReader

    w.clock.move_to(w.t(24 * 60))
    response = as_one("technician").get(reverse("reports:blank_sheets", args=[w.course.pk]))
    text = "\n".join(page.extract_text() for page in PdfReader(BytesIO(response.content)).pages)

    assert "16 June 2026" in text
    assert "WX-01" in text
    assert not Paper.objects.exists()


def test_before_the_record_began_nothing_is_missing_and_tomorrow_holds_nothing(w: SimpleNamespace, as_one: Any) -> None:
    actions.call_hold(make.picture(w, w.t(15)), None, cause="thunder", deed=make.deed(w.guide, at=w.t(15)))

    def read(on: date) -> str:
        return as_one("auditor").get(reverse("reports:day", args=[w.course.pk, on])).content.decode()

    rides = w.on - timedelta(days=1)  # the first entries of the course are of the day before
    assert "Before the first day of this record" in read(rides - timedelta(days=1))
    assert "Expected by the calendar, and not signed" in read(rides)
    assert "Thunder or lightning" in read(w.on)
    tomorrow = read(w.on + timedelta(days=1))
    assert "thunder or lightning" not in tomorrow.lower()
    assert "Nothing is entered yet" in tomorrow
    assert calendar(w, as_one("auditor")).get(("June", 13)) != "day_missing"


def test_a_ride_that_no_longer_counts_shows_no_ok_and_rides_stand_by_line(w: SimpleNamespace, as_one: Any) -> None:
    make.ride(w, w.lines[0], kind="emergency", at=w.t(15))  # voids the rides of line 1 before it

    found = past_day(w.course, w.on, at=w.t(20)).rides
    html = as_one("auditor").get(reverse("reports:day", args=[w.course.pk, w.on])).content.decode()

    assert [one["line"].number for one in found] == [1, 1, 1, 2, 2]
    assert [one["ride"].voided_by is not None for one in found] == [True, True, False, False, False]
    table = html[html.index("Test rides with ballast") :].split("</table>")[0]
    assert table.count("Does not count any more") == 2
    assert table.count('class="mark is-ok"') == 3
