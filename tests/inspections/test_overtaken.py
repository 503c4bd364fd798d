"""Test rides, weather and sheets that were signed alone and come later: what lies between decides whether they count.

The rules are ours (inspections.overtaken); there is no outside source for them. That a ride comes after the checks of
its line is R-201, READ; that what was worked on is ridden anew is R-305 in the dossier, READ.
"""

from __future__ import annotations

from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import pytest
from django.urls import reverse

from courses import actions as course_actions
from inspections.actions import call_hold, lift_hold
from inspections.actions.findings import record_work, take_out_of_service
from inspections.actions.rides import ride_items
from inspections.band import Weather, weather_of
from inspections.facts import LineStatus
from inspections.models import Finding, FindingStep, Hold, Reading, Ride, Sheet
from inspections.rebuild import projection_faults, signature_faults
from ledger.models import Entry
from tests import make
from tests.inspections.alone import Held
from tests.inspections.pages import hidden, posted, ride_fields, sheet_url, url
from tests.inspections.test_sheets import LOOK, _tighten, amend

pytestmark = pytest.mark.usefixtures("clock")
SPRING, MARK = "primary-1", "TA-04M@end-landing"


@pytest.fixture
def rode(w: SimpleNamespace, hold: Callable[..., Held]) -> Callable[..., Held]:
    """Return a function that signs a ride of line 1 on the phone, a minute of the morning given."""

    def sign(minute: float, *, off: int | None = 0, **fields: str) -> Held:
        return hold(url(w, "ride", w.line.pk), {**ride_fields(w, **fields), "sign": "1"}, at=w.t(minute), off=off)

    return sign


@pytest.fixture
def filled(w: SimpleNamespace, as_: Any, hold: Callable[..., Held]) -> Callable[..., Held]:
    """Return a function that signs a sheet on the phone."""

    def sign(minute: float, section: str, where: Any = None, *, off: int | None = 0, **changed: str) -> Held:
        path = sheet_url(w, section, where)
        given = {**hidden(as_("technician").get(path)), "sign": "1", **posted(w, section, where, **changed)}
        return hold(path, given, at=w.t(minute), off=off)

    return sign


def codes(status: LineStatus) -> set[str]:
    return {reason.code for reason in status.clearance.reasons}


def refused(held: Held, client: Any, **more: Any) -> str:
    answer = held.sent(client, **more)
    assert answer.status_code == 422, answer.content
    return str(answer.json()["refused"])


def taken(held: Held, client: Any) -> None:
    answer = held.sent(client)
    assert answer.json().get("id") == held.fields["deed_id"], answer.content


def faults(w: SimpleNamespace) -> list[str]:
    return [*signature_faults(w.operator), *projection_faults(w.operator)]


def test_a_whole_morning_without_a_signal_counts_as_if_it_had_arrived_then(
    w: SimpleNamespace, as_: Any, rode: Any, filled: Any, clock: Any, status: Any
) -> None:
    sections = make.sections(w, at=w.t(0))
    own = [(place, name) for place, name in sections if place.pk == w.line.pk]
    for place, name in sections:
        if place.pk != w.line.pk:
            make.sign(w, place, name, at=w.t(0))
    held = [filled(1 + n, name) for n, (_place, name) in enumerate(own)]
    held += [rode(15, mass="35"), rode(20)]
    assert "sheet-missing" in codes(status(80))
    clock.move_to(w.t(90))
    for one in held:
        taken(one, as_("technician"))
    assert status(90).word == "ready"
    assert [ride.rode_at for ride in Ride.objects.filter(day__date=w.at.date())] == [w.t(15), w.t(20)]
    assert faults(w) == []


@pytest.mark.parametrize("ride_first", [True, False])
def test_a_ride_from_before_its_checks_does_not_count_in_whatever_order_they_arrive(
    w: SimpleNamespace, as_: Any, rode: Any, filled: Any, clock: Any, status: Any, ride_first: bool
) -> None:
    for place, name in make.sections(w, at=w.t(0)):
        if name != "landing":
            make.sign(w, place, name, at=w.t(0))
    ride, sheet = rode(20), filled(30, "landing")
    clock.move_to(w.t(90))
    for one in (ride, sheet) if ride_first else (sheet, ride):
        taken(one, as_("technician"))
    assert "ride-order" in codes(status(90))


def test_a_ride_that_was_here_before_its_checks_does_not_count_though_they_were_signed_first(
    w: SimpleNamespace, as_: Any, filled: Any, clock: Any, status: Any
) -> None:
    """Whoever sent the ballast with a signal could not know of a sheet that lay on another phone."""
    sheet = filled(1, "landing")
    make.inspect(w, at=w.t(20), but=("landing",))
    clock.move_to(w.t(90))
    taken(sheet, as_("technician"))
    assert Sheet.objects.latest("seq").signed_at == w.t(1)
    assert codes(status(90)) == {"ride-order"}


def work(w: SimpleNamespace, minute: float) -> None:
    now = make.picture(w, w.t(minute))
    opened = take_out_of_service(now, w.line, title="Feder", slot=SPRING, deed=make.deed(w.mate, at=w.t(minute)))
    finding = Finding.objects.get(seq=opened.seq)
    record_work(
        now, finding, what="repair", text="Neu eingestellt", energy_released=True, locked_out=True,
        deed=make.deed(w.mate, at=w.t(minute)),
    )  # fmt: skip


def emergency(w: SimpleNamespace, minute: float) -> None:
    make.ride(w, w.line, at=w.t(minute), by=w.mate, kind="emergency")


def wet(w: SimpleNamespace, minute: float) -> None:
    make.ride(w, w.lines[1], at=w.t(minute), by=w.mate, state="wet")


def storm(w: SimpleNamespace, minute: float) -> None:
    call_hold(make.picture(w, w.t(minute)), None, cause="storm", deed=make.deed(w.mate, at=w.t(minute)))


def swapped(w: SimpleNamespace, minute: float) -> None:
    now = make.picture(w, w.t(minute)).setup.at_slot(w.line, SPRING)[0]
    course_actions.take_off(now.component, deed=make.deed(w.manager, at=w.t(minute)))


def tightened(w: SimpleNamespace, minute: float) -> None:
    _tighten(w, MARK, "0.3", at=minute)


BETWEEN = {
    "work": (work, "Work on it was entered at 08:00"),
    "emergency": (emergency, "The emergency brake was tried by itself at 08:00."),
    "wet": (wet, "The cable was found wet at 08:00."),
    "storm": (storm, "A hold was called at 08:00: storm."),
    "swapped": (swapped, "was fitted or taken off."),
    "tightened": (tightened, "Something of the set-up changed: limits."),
}


@pytest.mark.parametrize("name", BETWEEN)
def test_what_lies_between_overtakes_a_ride(
    w: SimpleNamespace, as_: Any, rode: Any, clock: Any, status: Any, name: str
) -> None:
    happens, sentence = BETWEEN[name]
    make.inspect(w, at=w.t(0))
    held = rode(29)
    happens(w, 30)
    count = Entry.objects.count()
    clock.move_to(w.t(90))
    said = refused(held, as_("technician"))
    assert sentence in said
    assert "This was ridden at 07:59 and arrives only now." in said
    assert Entry.objects.count() == count


@pytest.mark.parametrize("name", sorted(set(BETWEEN) - {"swapped"}))
def test_what_lies_before_overtakes_nothing(w: SimpleNamespace, as_: Any, rode: Any, clock: Any, name: str) -> None:
    happens, _sentence = BETWEEN[name]
    make.inspect(w, at=w.t(0))
    happens(w, 30)
    held = rode(33, state="wet" if name == "wet" else "dry")
    clock.move_to(w.t(90))
    taken(held, as_("technician"))


def test_a_minute_after_work_is_not_told_from_a_minute_before(
    w: SimpleNamespace, as_: Any, rode: Any, clock: Any
) -> None:
    make.inspect(w, at=w.t(0))
    work(w, 30)
    held = rode(31)
    clock.move_to(w.t(90))
    assert "Work on it was entered" in refused(held, as_("technician"))


def test_a_ride_past_its_limit_is_taken_whatever_lies_between_and_whatever_its_clock(
    w: SimpleNamespace, as_: Any, rode: Any, clock: Any, status: Any
) -> None:
    """It takes out of service, and lets nothing open."""
    make.inspect(w, at=w.t(0))
    key = next(one["key"] for one in ride_items(make.picture(w, w.t(0)), w.line) if one["measures"] == "stroke.used")
    past = {f"text-{key}": "5.9", f"kept-{key}": "5.9"}
    held, other = rode(29, **past), rode(28, off=None, **past)
    emergency(w, 30)
    clock.move_to(w.t(90))
    taken(held, as_("technician"))
    taken(other, as_("technician"))
    assert {"ride-failed", "finding-critical"} <= codes(status(90))
    assert [ride.rode_at for ride in Ride.objects.order_by("-seq")[:2]] == [w.t(90), w.t(29)]


@pytest.mark.parametrize("off", [None, 0])
def test_when_it_is_not_known_when_it_was_ridden_it_is_not_taken(
    w: SimpleNamespace, as_: Any, rode: Any, clock: Any, off: int | None
) -> None:
    make.inspect(w, at=w.t(0))
    held = rode(20, off=off)
    clock.move_to(w.t(90))
    more = {} if off is None else {"off": 200}
    assert "cannot be told from this phone's clock" in refused(held, as_("technician"), **more)


def test_a_ride_of_yesterday_is_not_taken_today(w: SimpleNamespace, as_: Any, rode: Any, clock: Any) -> None:
    make.inspect(w, at=w.t(0))
    held = rode(20)
    clock.move_to(w.t(24 * 60))
    assert "on another day" in refused(held, as_("technician"))


@pytest.mark.parametrize(("called", "lifted", "sends"), [
    (10, None, False), (10, 30, False), (10, 15, True), (25, None, True), (25, 40, True),
])  # fmt: skip
def test_somebody_on_the_line_bars_a_ride_that_was_sent_then(
    w: SimpleNamespace, as_: Any, rode: Any, clock: Any, called: int, lifted: int | None, sends: bool
) -> None:
    make.inspect(w, at=w.t(0))
    held = rode(20)
    call_hold(make.picture(w, w.t(called)), w.line, cause="person", deed=make.deed(w.mate, at=w.t(called)))
    if lifted is not None:
        lift_hold(make.picture(w, w.t(lifted)), Hold.objects.get(), given={}, deed=make.deed(w.mate, at=w.t(lifted)))
    clock.move_to(w.t(90))
    if sends:
        taken(held, as_("technician"))
    else:
        assert "Somebody is on this line" in refused(held, as_("technician"))


@pytest.mark.parametrize(
    ("first", "then", "holds"), [("8.9", "2.1", True), ("2.1", "8.9", True), ("2.1", "2.0", False)]
)
def test_of_an_old_wind_and_a_newer_one_the_worse_counts(
    w: SimpleNamespace, as_: Any, rode: Any, clock: Any, status: Any, first: str, then: str, holds: bool
) -> None:
    """A tail wind of more than six metres per second holds the line (its posted limit)."""
    make.inspect(w, at=w.t(0))
    held = rode(20, wind=first, wind_again=first, wind_from="tail")
    make.ride(w, w.line, at=w.t(40), by=w.mate, wind=then, wind_from="tail")
    clock.move_to(w.t(90))
    taken(held, as_("technician"))
    assert ("wind-limit" in codes(status(90))) is holds


def test_much_wind_is_taken_from_a_phone_without_being_asked_again(
    w: SimpleNamespace, as_: Any, rode: Any, clock: Any, status: Any
) -> None:
    make.inspect(w, at=w.t(0))
    held = rode(20, wind="30", wind_again="30")
    clock.move_to(w.t(90))
    taken(held, as_("technician"))
    assert Ride.objects.latest("seq").fields["wind_again"] == "30"
    assert "wind-limit" in codes(status(90))


def test_the_weather_of_the_house_is_taken_at_its_time(
    w: SimpleNamespace, as_: Any, filled: Any, clock: Any, status: Any
) -> None:
    make.inspect(w, at=w.t(0), but=("house",))
    held = filled(10, "house", w.house)
    assert "wind-unknown" not in codes(status(80))  # the rides say one
    clock.move_to(w.t(90))
    taken(held, as_("technician"))
    assert Reading.objects.latest("seq").read_at == w.t(10)
    assert status(90).word == "ready"


@pytest.mark.parametrize(("off", "read", "answers"), [(0, 29, False), (0, 31, False), (0, 33, True), (None, 33, False)])
def test_an_answer_from_before_work_answers_nothing(
    w: SimpleNamespace, as_: Any, filled: Any, clock: Any, status: Any, off: int | None, read: int, answers: bool
) -> None:
    make.inspect(w, at=w.t(0), but=("landing",))
    held = filled(read, "landing", off=off)
    work(w, 30)
    clock.move_to(w.t(90))
    taken(held, as_("technician"))
    readings = Reading.objects.filter(sheet=Sheet.objects.latest("seq"), key__endswith=f"@{SPRING}")
    found = set(readings.values_list("verdict", flat=True))
    assert found, "the landing asks for the brake"
    assert ("unknown" not in found) is answers
    assert ("item-unknown" in codes(status(90))) is not answers
    assert faults(w) == []


def test_a_defect_from_before_work_still_takes_it_out(
    w: SimpleNamespace, as_: Any, filled: Any, clock: Any, status: Any
) -> None:
    key = next(one["key"] for one in make.picture(w, w.t(0)).section(w.line, "landing").items
               if one["slot"] == SPRING and one["kind"] in {"look", "function"})  # fmt: skip
    make.inspect(w, at=w.t(0), but=("landing",))
    defect = {f"mark-{key}": "defect", f"kept-{key}": "defect", f"note-{key}": "Riss"}
    held = filled(29, "landing", **defect)
    work(w, 30)
    clock.move_to(w.t(90))
    taken(held, as_("technician"))
    assert "item-withdraw" in codes(status(90))
    assert Finding.objects.filter(key=key, out_of_service=True).exists()


def test_a_correction_that_took_an_answer_back_is_not_undone_by_an_older_sheet(
    w: SimpleNamespace, as_: Any, filled: Any, clock: Any, status: Any
) -> None:
    make.inspect(w, at=w.t(0))
    held = filled(3, "landing")
    amend(w, LOOK, {"mark": "not_done", "reason": "I ticked the wrong one."}, at=5)
    assert "item-unknown" in codes(status(80))
    clock.move_to(w.t(90))
    taken(held, as_("technician"))
    assert "item-unknown" in codes(status(90))
    make.sign(w, w.line, "landing", at=w.t(95))
    assert "item-unknown" not in codes(status(95))


def past(w: SimpleNamespace) -> dict[str, str]:
    """A brake travel past its limit, and kept: such a ride is taken whenever it comes."""
    key = next(one["key"] for one in ride_items(make.picture(w, w.t(0)), w.line) if one["measures"] == "stroke.used")
    return {f"text-{key}": "5.9", f"kept-{key}": "5.9"}


def test_the_air_and_wind_of_a_ride_of_unknown_time_hide_nothing_newer(
    w: SimpleNamespace, as_: Any, rode: Any, clock: Any
) -> None:
    make.inspect(w, at=w.t(0))
    make.ride(w, w.lines[1], at=w.t(5), by=w.mate, wind="2", wind_from="head", air="10")
    calm = rode(28, off=None, **past(w), wind="1.0", wind_from="head", air="12")
    make.ride(w, w.line, at=w.t(40), by=w.mate, wind="8.0", wind_from="tail", air="18")
    before = weather_of(make.picture(w, w.t(80)), w.lines[1])
    clock.move_to(w.t(90))
    taken(calm, as_("technician"))
    assert weather_of(make.picture(w, w.t(91)), w.lines[1]) == before
    of_line = weather_of(make.picture(w, w.t(91)), w.line)
    assert isinstance(of_line, Weather)
    assert (of_line.own_mps, of_line.air_c, of_line.side) == (8.0, 18.0, "")
    assert faults(w) == []


def test_the_wind_of_a_ride_of_unknown_time_adds_to_what_is_known(
    w: SimpleNamespace, as_: Any, rode: Any, clock: Any, status: Any
) -> None:
    make.inspect(w, at=w.t(0))
    for line in w.lines:
        make.ride(w, line, at=w.t(5), by=w.mate, wind="2", wind_from="head", air="10")
    blown = rode(28, off=None, **past(w), wind="9.0", wind_again="9.0", wind_from="tail")
    clock.move_to(w.t(90))
    taken(blown, as_("technician"))
    make.ride(w, w.line, at=w.t(95), by=w.mate, wind="1", wind_from="head", air="11")
    found = [weather_of(make.picture(w, w.t(96)), line) for line in w.lines]
    assert [one.strongest_mps for one in found if isinstance(one, Weather)] == [9.0, 9.0]
    assert max(fact.reading_mps for fact in status(96).facts.winds) == 9


def test_work_has_no_earlier_time_than_its_arrival(
    w: SimpleNamespace, as_: Any, rode: Any, hold: Any, clock: Any
) -> None:
    """No page signs work alone: a clock that is sent along with it must not set it before a ride that it overtakes."""
    make.inspect(w, at=w.t(0))
    now, deed = make.picture(w, w.t(10)), make.deed(w.mate, at=w.t(10))
    finding = Finding.objects.get(seq=take_out_of_service(now, w.line, title="Feder", slot=SPRING, deed=deed).seq)
    ride = rode(29)
    clock.move_to(w.t(40))
    path = reverse("inspections:finding_work", args=[w.course.pk, finding.pk])
    form = {"what": "repair", "text": "Neu", "energy_released": "on", "locked_out": "on", "made_by": ""}
    done = hold(path, form, at=w.t(12), off=0)
    del done.fields["_date"]
    taken(done, as_("technician"))
    assert FindingStep.objects.get(kind="work").at == w.t(40)
    clock.move_to(w.t(90))
    assert "Work on it" in refused(ride, as_("technician"))
