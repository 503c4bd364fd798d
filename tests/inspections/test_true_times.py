"""When something was really signed that came later: what follows from a phone's clock, what it counts as, what is told.

The rules are ours (accounts.clock, inspections.views.frame): no outside source. Clocks that are days behind or a year
ahead are what phones showed that had lain without power, from memory.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import datetime, timedelta
from types import SimpleNamespace
from typing import Any

import pytest
from django.urls import reverse

from accounts.clock import Clock, told_clock, true_time
from inspections.models import Finding, Hold, Reading, Ride, Sheet, Snapshot
from inspections.rebuild import projection_faults, signature_faults
from ledger.models import Entry
from reports.complete import complete_of
from reports.export_inspections import RIDES, rides
from reports.how_read import visits_in
from tests import make
from tests.inspections.alone import Held
from tests.inspections.pages import hidden, posted, ride_fields, sheet_url, text, url

pytestmark = pytest.mark.usefixtures("clock")
DAY_S = 24 * 3600


@pytest.fixture
def landing(w: SimpleNamespace, as_: Any, hold: Callable[..., Held]) -> Callable[..., Held]:
    """Return a function that signs the sheet of the landing on the phone, a minute of the morning given."""

    def sign(minute: float, off: int | None = 0, **act: Any) -> Held:
        shown = hidden(as_("technician").get(sheet_url(w)))
        return hold(sheet_url(w), {**shown, "sign": "1", **posted(w)}, at=w.t(minute), off=off, **act)

    return sign


def record_of(kind: str = "sheet") -> dict[str, Any]:
    return Entry.objects.filter(kind=kind).latest("seq").record


def faults(w: SimpleNamespace) -> list[str]:
    return [*signature_faults(w.operator), *projection_faults(w.operator)]


NOON = datetime.fromisoformat("2026-06-15T12:00:00+00:00")


@pytest.mark.parametrize(
    ("made", "offset", "measured", "sent", "true"),
    [
        (-3600, 0, -7200, 0, -3600),
        (-3600, 0, -7200, -120, -3600),  # what it took on its way
        (-3600, 0, -7200, -121, None),
        (-3600, 0, -7200, 120, -3600),
        (-3600, 0, -7200, 121, None),
        (-3 * DAY_S - 3600, 3 * DAY_S, -3 * DAY_S - 7200, -3 * DAY_S, -3600),  # three days behind
        (400 * DAY_S - 3600, -400 * DAY_S, 400 * DAY_S - 7200, 400 * DAY_S, -3600),  # far ahead
        (-3600, 0, -7200, 3600, None),  # set on between signing and sending
        (0, 0, 0, 0, 0),
        (120, 0, 0, 0, 0),  # never later than it arrived
        (121, 0, 0, 0, None),
        (-3600, 0, -3480, 0, -3600),
        (-3600, 0, -3479, 0, None),  # measured after it was signed: set back in between
        (0, 10**10, 0, 0, None),
    ],
)  # fmt: skip
def test_the_true_time_follows_only_from_a_clock_that_ran_on(
    made: int, offset: int, measured: int, sent: int, true: int | None
) -> None:
    made_at, measured_at, sent_at = (NOON + timedelta(seconds=one) for one in (made, measured, sent))
    found = true_time(made_at, Clock(offset, measured_at), sent_at=sent_at, at=NOON)
    assert found == (None if true is None else NOON + timedelta(seconds=true))


def test_without_a_measurement_or_the_time_of_sending_it_is_not_known() -> None:
    assert true_time(NOON, None, sent_at=NOON, at=NOON) is None
    assert true_time(NOON, Clock(0, NOON), sent_at=None, at=NOON) is None
    for wrong in ("", "5", "5|", "x|2026-06-15T12:00:00Z", "5|2026-06-31T12:00:00Z", "5.0|2026-06-15T12:00:00Z"):
        assert told_clock(wrong) is None, wrong


@pytest.mark.parametrize("off", [0, -90, 3 * DAY_S, -400 * DAY_S])
def test_a_sheet_counts_from_when_it_was_signed_whatever_the_clock_shows(
    w: SimpleNamespace, as_: Any, landing: Any, clock: Any, off: int
) -> None:
    held = landing(2, off)
    clock.move_to(w.t(90))
    assert held.sent(as_("technician")).json()["id"] == held.fields["deed_id"]
    record = record_of()
    assert record["judged"]["true_at"] == "2026-06-15T05:32:00Z"
    assert record["act"]["clock"]["offset_s"] == off
    assert record["t"] == "2026-06-15T07:00:00Z"
    one = Sheet.objects.get()
    assert (one.signed_at, str(one.day.date)) == (w.t(2), "2026-06-15")
    assert set(Reading.objects.values_list("read_at", flat=True)) == {w.t(2)}
    assert faults(w) == []


@pytest.mark.parametrize("change", [-3600, 180, 3 * DAY_S])
def test_a_clock_that_was_changed_tells_no_time_and_is_marked(
    w: SimpleNamespace, as_: Any, landing: Any, clock: Any, change: int
) -> None:
    held = landing(2, 0)
    clock.move_to(w.t(90))
    assert "id" in held.sent(as_("technician"), off=change).json()
    record = record_of()
    assert "true_at" not in record["judged"]
    assert Sheet.objects.get().signed_at == w.t(90)
    page = text(as_("auditor").get(url(w, "signed", Sheet.objects.get().pk)))
    assert "signed 15 June 2026, 07:32 by the phone's clock, received 15 June 2026, 09:00" in page
    assert "clock was changed" in page
    assert faults(w) == []


def test_both_times_are_told_wherever_it_is_read(w: SimpleNamespace, as_: Any, landing: Any, clock: Any) -> None:
    held = landing(2, 3 * DAY_S)
    clock.move_to(w.t(90))
    held.sent(as_("technician"))
    client, seq = as_("auditor"), record_of()["seq"]
    for page in (
        reverse("reports:entry", args=[w.course.pk, seq]), reverse("reports:entries", args=[w.course.pk]),
        reverse("reports:day", args=[w.course.pk, "2026-06-15"]), url(w, "signed", Sheet.objects.get().pk),
    ):  # fmt: skip
        said = text(client.get(page))
        assert "07:32" in said, page
        assert "09:00" in said, page
        assert "clock was wrong: it showed 12 June 2026, 07:32." in said.replace("&#x27;", "'"), page


@pytest.mark.parametrize(("at", "page", "taken"), [
    (36 * 60, "2026-06-15", True),
    (56 * 60, "2026-06-15", False),  # the day of the page is longer past
    (1, "2026-06-16", False),  # of a day to come
])  # fmt: skip
def test_of_a_clock_that_tells_no_time_the_day_of_the_page_counts(
    w: SimpleNamespace, as_: Any, landing: Any, clock: Any, at: int, page: str, taken: bool
) -> None:
    held = landing(0, 20 * DAY_S)
    clock.move_to(w.t(at))
    answer = held.sent(as_("technician"), off=0, _date=page).json()
    assert ("id" in answer) is taken, answer
    assert taken or "nothing of that day is taken now" in answer["refused"]
    assert [str(one.day.date) for one in Sheet.objects.all()] == ["2026-06-15"] * taken


def test_of_a_known_time_a_day_and_a_half_is_taken_and_no_more(
    w: SimpleNamespace, as_: Any, landing: Any, clock: Any
) -> None:
    held = landing(0, -400 * DAY_S)
    clock.move_to(w.t(36 * 60, seconds=1))
    assert "signed too long ago" in held.sent(as_("technician")).json()["refused"]
    clock.move_to(w.t(36 * 60))
    assert "id" in held.sent(as_("technician")).json()


def test_a_page_of_yesterday_is_not_signed_today(w: SimpleNamespace, as_: Any, landing: Any, clock: Any) -> None:
    held = landing(24 * 60)  # the page was of the day before
    clock.move_to(w.t(24 * 60 + 5))
    refused = held.sent(as_("technician")).json()["refused"]
    assert "This is a page of 15 June 2026, signed on 16 June 2026." in refused
    assert not Sheet.objects.exists()


def test_a_hold_is_taken_from_whatever_page_and_takes_away_what_was_ridden_since(
    w: SimpleNamespace, as_: Any, hold: Any, clock: Any
) -> None:
    held = hold(url(w, "hold"), {"cause": "wet", "line": ""}, at=w.t(24 * 60 + 8), off=0)  # on a page of the day before
    make.inspect(w, at=w.t(24 * 60 + 10))
    clock.move_to(w.t(24 * 60 + 60))
    assert "id" in held.sent(as_("technician")).json()
    one = Hold.objects.get()
    assert (one.called_at, one.renewed_at) == (w.t(24 * 60 + 8), w.t(24 * 60 + 60))
    today = Ride.objects.filter(day__date="2026-06-16")
    assert len(today) == 4
    assert {ride.voided_by for ride in today} == {one.seq}
    assert faults(w) == []


def test_taking_out_of_service_says_when_it_was_found(w: SimpleNamespace, as_: Any, hold: Any, clock: Any) -> None:
    held = hold(url(w, "withdraw"), {"code": "HA-01", "title": "Riemen gerissen"}, at=w.t(3), off=-45)
    clock.move_to(w.t(50))
    assert "id" in held.sent(as_("technician")).json()
    assert Finding.objects.get().opened_at == w.t(3)
    assert faults(w) == []


def test_what_was_here_late_was_not_here_in_time(w: SimpleNamespace, as_: Any, landing: Any, clock: Any) -> None:
    """The course opens at nine: it was signed in time and is counted as late, as nobody knew of it before."""
    held = landing(2)
    clock.move_to(w.t(180))
    held.sent(as_("technician"))
    found = complete_of(w.course, w.at.date(), w.at.date(), at=w.t(24 * 60))
    assert (found.found.signed, found.found.on_time) == (1, 0)


def test_how_long_a_sheet_took_is_told_to_its_true_end_or_not_at_all(
    w: SimpleNamespace, as_: Any, landing: Any, clock: Any
) -> None:
    known, unknown = landing(4), landing(5, None)
    clock.move_to(w.t(180))
    assert "id" in known.sent(as_("technician")).json()
    assert "id" in unknown.sent(as_("technician")).json()
    setup = make.picture(w, w.t(180)).setup
    first, second = Sheet.objects.order_by("seq")
    assert [(one.entry, one.seconds) for one in visits_in(setup, w.at.date())] == [(first.seq, 240.0)]
    assert second.signed_at == w.t(180)


def test_a_ride_is_told_at_its_true_time(w: SimpleNamespace, as_: Any, hold: Any, clock: Any) -> None:
    make.inspect(w, at=w.t(0))
    held = hold(url(w, "ride", w.line.pk), {**ride_fields(w), "sign": "1"}, at=w.t(15), off=3 * DAY_S)
    clock.move_to(w.t(90))
    assert "id" in held.sent(as_("technician")).json()
    assert Ride.objects.latest("seq").rode_at == w.t(15)
    assert faults(w) == []
    row = dict(zip(RIDES, list(rides(w.course, w.at.date(), w.at.date()))[-1], strict=True))
    assert (row["rode_at_utc"], row["received_at_utc"]) == ("2026-06-15T05:45:00Z", "2026-06-15T07:00:00Z")
    page = text(as_("auditor").get(reverse("reports:day", args=[w.course.pk, "2026-06-15"])))
    assert "07:45<br>" in page
    assert "Received 15 Jun 09:00." in page


def test_the_day_that_is_signed_says_what_came_later(w: SimpleNamespace, as_: Any, landing: Any, clock: Any) -> None:
    make.inspect(w, at=w.t(0), but=("landing",))
    held = landing(2)
    clock.move_to(w.t(90))
    held.sent(as_("technician"))
    make.sign(w, w.lines[1], "landing", at=w.t(91))
    for one in w.lines:
        make.ride(w, one, at=w.t(92), mass="35")
        make.ride(w, one, at=w.t(93), mass="115")
    make.open_lines(w, at=w.t(95))
    signed = json.loads(bytes(Snapshot.objects.get().data))
    came = {one["entry"]: one["received_at"] for place in signed["places"] for one in place.get("sheets", ())
            if "received_at" in one}  # fmt: skip
    assert came == {Sheet.objects.get(signed_at=w.t(2)).seq: "2026-06-15T07:00:00Z"}


FAR = "9999-12-31T23:59:59Z"


@pytest.mark.parametrize("more", [{}, {"_clock": f"0|{FAR}"}])
def test_a_time_that_no_clock_can_show_is_not_taken(
    w: SimpleNamespace, as_: Any, hold: Any, clock: Any, more: dict[str, str]
) -> None:
    held = hold(url(w, "hold"), {"line": str(w.line.pk), "cause": "object", "text": "Ast"}, made_at=FAR)
    clock.move_to(w.t(30))
    answer = held.sent(as_("technician"), _date="2026-06-15", _sent_at=FAR, **more)
    assert (answer.status_code, Hold.objects.count()) == (422, 0)


def test_a_place_noted_at_such_a_time_is_not_taken(w: SimpleNamespace, as_: Any) -> None:
    client = as_("technician")
    given = {**hidden(client.get(sheet_url(w))), "sign": "1", **posted(w)}
    assert client.post(sheet_url(w), {**given, "here-noted": f"PF-2|scanned|{FAR}"}).status_code == 302
    assert "here" not in record_of()["act"]


def test_an_entry_of_such_a_time_can_be_read_all_the_same(
    w: SimpleNamespace, as_: Any, landing: Any, clock: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One was taken, and a history cannot be changed: its pages must not fail for ever."""
    monkeypatch.setattr("accounts.clock.LAST", datetime.fromisoformat("9999-12-31T23:59:59+00:00"))
    held = landing(1, None, made_at=FAR, here={"code": "PF-2", "how": "scanned", "at": FAR})
    clock.move_to(w.t(30))
    told = held.sent(as_("technician"), _date="2026-06-15", **{"here-noted": f"PF-2|scanned|{FAR}"}).json()
    client = as_("auditor")
    for page in (
        reverse("reports:entry", args=[w.course.pk, told["seq"]]), reverse("reports:entries", args=[w.course.pk]),
        reverse("reports:day", args=[w.course.pk, "2026-06-15"]), url(w, "signed", Sheet.objects.get().pk),
    ):  # fmt: skip
        assert client.get(page).status_code == 200, page


@pytest.mark.parametrize("off", [0, -400 * DAY_S])
@pytest.mark.parametrize(("days", "taken"), [(3, True), (14, True), (15, False)])
def test_a_hold_and_a_defect_are_taken_after_days_by_a_clock_that_was_right_too(
    w: SimpleNamespace, as_: Any, hold: Any, clock: Any, off: int, days: int, taken: bool
) -> None:
    """A tree of Friday lies there on Monday. Fourteen days are our own judgement."""
    tree = hold(url(w, "hold"), {"line": str(w.line.pk), "cause": "object", "text": "Ast"}, at=w.t(0), off=off)
    crack = {"place": str(w.line.pk), "title": "Riss", "severity": "critical"}
    found = hold(url(w, "open_finding"), crack, at=w.t(0), off=off)
    clock.move_to(w.t(days * 24 * 60))
    assert ["id" in one.sent(as_("technician")).json() for one in (tree, found)] == [taken] * 2
    assert [one.called_at for one in Hold.objects.all()] == [w.t(0)] * taken
    assert [one.opened_at for one in Finding.objects.all()] == [w.t(0)] * taken
    assert faults(w) == []


def test_a_true_time_that_does_not_follow_from_the_clock_is_found(
    w: SimpleNamespace, as_: Any, landing: Any, clock: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    held = landing(60)
    clock.move_to(w.t(90))
    monkeypatch.setattr("accounts.signing.true_time", lambda *_, **__: w.t(30))
    told = held.sent(as_("technician")).json()
    assert faults(w) == [f"Entry {told['seq']}: When it was really signed does not follow from its device's clock."]
