"""From out of service to released: what holds, who may do what, and what is asked before a thing goes back.

Sources: energy released and locked out before work, checks before release and removal of another's tag: 29 CFR
1910.147(d), (e)(1) to (3), READ-2 and READ; replacement of at least the same strength: R-417, READ. The rest are the
rules of the service as its makers wrote them down.
"""

from datetime import timedelta
from types import SimpleNamespace
from typing import Any

import pytest

from accounts.models import User
from courses import actions as setup
from courses.models import Component, Placement
from inspections import actions
from inspections.actions.releases import RELEASE_TICKS, TAG_TICKS
from inspections.judging import Answer
from inspections.models import Finding, Reading, Ride
from ledger.errors import AlreadyRecorded
from ledger.models import Entry
from tests import make
from tests.inspections.conftest import codes

pytestmark = pytest.mark.usefixtures("day_open")

SPRING = "BS-1@primary-1"
PHOTO = "ab" * 32


def deed(w: SimpleNamespace, who: User, at: float) -> Any:
    return make.deed(who, at=w.t(at))


def fitted(w: SimpleNamespace, slot: str, place: Any = None) -> Component:
    return Placement.objects.get(place=place or w.line, slot=slot, until__isnull=True).component


def take_out(
    w: SimpleNamespace, *, slot: str = "primary-1", at: float = 20, by: User | None = None, **more: Any
) -> Finding:
    place = more.pop("place", w.line)
    entry = actions.take_out_of_service(
        make.picture(w, w.t(at)), place, title="Spring cracked", component=fitted(w, slot, place) if slot else None,
        slot=slot, deed=deed(w, by or w.technician, at), **more,
    )  # fmt: skip
    return Finding.objects.get(course=w.course, seq=entry.seq)


def pay(w: SimpleNamespace, finding: Finding, *, at: float = 25) -> None:
    actions.add_to_finding(
        make.picture(w, w.t(at)), finding, text="Seen.", photos=(PHOTO,), tag_number="0417",
        deed=deed(w, w.technician, at),
    )  # fmt: skip


def work(w: SimpleNamespace, finding: Finding, *, at: float = 30, by: User | None = None, **more: Any) -> Entry:
    more = {"what": "repair", "text": "New bolt.", "energy_released": True, "locked_out": True, **more}
    return actions.record_work(make.picture(w, w.t(at)), finding, deed=deed(w, by or w.technician, at), **more)


def look(w: SimpleNamespace, finding: Finding, *, at: float = 35, by: User | None = None, **answer: Any) -> Entry:
    answer = answer or {"mark": "sound"}
    return actions.record_reinspection(
        make.picture(w, w.t(at)), finding, answer=Answer(**answer), deed=deed(w, by or w.mate, at)
    )


def release(w: SimpleNamespace, finding: Finding, *, at: float = 60, by: User | None = None, **more: Any) -> Entry:
    more = {"ticks": frozenset(RELEASE_TICKS), "tag_removed_by": "applier", **more}
    return actions.release(make.picture(w, w.t(at)), finding, deed=deed(w, by or w.manager, at), **more)


def ready_to_release(w: SimpleNamespace, finding: Finding) -> None:
    pay(w, finding)
    work(w, finding)
    look(w, finding)
    make.sign(w, w.line, "landing", at=w.t(40))  # what is asked after work on a brake
    for mass in ("35", "115"):
        make.ride(w, w.line, mass=mass, at=w.t(45))


# --- out of service


def test_taking_out_of_service_needs_no_reading_and_holds_at_once(w: SimpleNamespace, status: Any) -> None:
    assert status(19).word == "open"

    finding = take_out(w)

    assert status(20).word == "held"
    assert {"finding-critical", "brake-primary"} <= codes(status(20))
    assert set(finding.owed) == {"photo", "note", "tag"}
    assert status(20, 2).word == "open"


def test_a_whole_place_can_be_taken_out(w: SimpleNamespace, status: Any) -> None:
    take_out(w, slot="")

    assert "finding-critical" in codes(status(20))


@pytest.mark.parametrize("role", ["guide", "auditor"])
def test_who_does_not_inspect_does_not_take_out(w: SimpleNamespace, refused: Any, role: str) -> None:
    with refused("no-right"):
        take_out(w, by=w.people[role])


def test_a_second_time_is_refused_and_a_second_sending_is_known(w: SimpleNamespace, refused: Any) -> None:
    once = deed(w, w.technician, 20)

    def take(deed: Any) -> None:
        actions.take_out_of_service(
            make.picture(w, w.t(20)), w.line, title="x", component=fitted(w, "primary-1"), slot="primary-1", deed=deed
        )

    take(once)
    with refused("already-recorded", AlreadyRecorded):
        take(once)
    with refused("out-already"):
        take(deed(w, w.mate, 21))


def test_a_critical_finding_on_a_platform_holds_every_line_that_uses_it(w: SimpleNamespace, status: Any) -> None:
    def opened(platform: Any, at: float) -> None:
        actions.open_finding(
            make.picture(w, w.t(at)), platform, title="Beam cracked", severity="critical",
            deed=deed(w, w.technician, at),
        )  # fmt: skip

    opened(w.platforms[0], 20)
    assert codes(status(21, 1)) == {"finding-place"}
    assert status(21, 2).word == "open"

    opened(w.platforms[1], 22)  # the end of line 1 and the start of line 2
    assert codes(status(23, 1)) == codes(status(23, 2)) == {"finding-place"}


def test_a_critical_finding_at_the_course_house_holds_every_line(w: SimpleNamespace, status: Any) -> None:
    entry = actions.open_finding(
        make.picture(w, w.t(20)), w.house, title="Radios dead", severity="critical", deed=deed(w, w.technician, 20)
    )
    assert codes(status(21, 1)) == codes(status(21, 2)) == {"finding-place"}

    finding = Finding.objects.get(seq=entry.seq, course=w.course)
    look(w, finding)
    release(w, finding)
    # The opening of the morning does not come back by itself.
    assert [status(61, n).word for n in (1, 2)] == ["ready", "ready"]


def test_pooled_gear_never_holds_a_line(w: SimpleNamespace, status: Any) -> None:
    trolley = Component.objects.get(course=w.course, tag="TR-01")
    actions.take_out_of_service(
        make.picture(w, w.t(20)), w.store, title="Wheel loose", component=trolley, slot="A",
        deed=deed(w, w.technician, 20),
    )  # fmt: skip

    assert [status(21, n).word for n in (1, 2)] == ["open", "open"]


@pytest.mark.parametrize(("severity", "reason"), [("major", "finding-major"), ("minor", None)])
def test_what_is_less_than_critical(w: SimpleNamespace, status: Any, severity: str, reason: str | None) -> None:
    opened(w, severity)

    assert codes(status(21)) == ({reason} if reason else set())


def opened(w: SimpleNamespace, severity: str, **more: Any) -> Finding:
    entry = actions.open_finding(
        make.picture(w, w.t(20)), w.line, title="Cover plate loose", severity=severity,
        deed=deed(w, w.technician, 20), **more,
    )  # fmt: skip
    return Finding.objects.get(course=w.course, seq=entry.seq)


# --- the way back


def test_worked_looked_at_ridden_and_released_by_another(w: SimpleNamespace, status: Any) -> None:
    finding = take_out(w, key=SPRING)
    pay(w, finding)
    work(w, finding)
    look(w, finding, text="599")
    assert "finding-critical" in codes(status(36))
    make.sign(w, w.line, "landing", at=w.t(40))
    for mass in ("35", "115"):
        make.ride(w, w.line, mass=mass, at=w.t(45))

    release(w, finding)

    finding.refresh_from_db()
    assert finding.state == "released"
    assert [step.kind for step in finding.steps.all()] == ["opened", "note", "work", "reinspection", "release"]
    # Repaired later, opened by a signing of its own.
    assert status(61).word == "ready"
    make.open_lines(w, at=w.t(62))
    assert status(63).word == "open"


def test_work_voids_the_rides_before_it(w: SimpleNamespace, status: Any) -> None:
    finding = take_out(w)
    entry = work(w, finding)

    assert set(Ride.objects.filter(place=w.line, day__date=w.at.date()).values_list("voided_by", flat=True)) == {
        entry.seq
    }
    assert not Ride.objects.filter(place=w.lines[1], voided_by__isnull=False, day__date=w.at.date()).exists()


def test_after_work_on_a_brake_what_is_asked_after_it_is_not_checked(w: SimpleNamespace, status: Any) -> None:
    finding = take_out(w)
    work(w, finding)

    assert "item-unknown" in codes(status(36))
    make.sign(w, w.line, "landing", at=w.t(37))
    assert "item-unknown" not in codes(status(38))


@pytest.mark.parametrize(
    ("missing", "code"),
    [({"text": " "}, "work-needed"), ({"energy_released": False}, "energy"), ({"locked_out": False}, "energy"),
     ({"what": "replacement"}, "replacement-needed")],
)  # fmt: skip
def test_work_on_a_brake_says_what_and_how_it_was_made_harmless(
    w: SimpleNamespace, refused: Any, missing: dict[str, Any], code: str
) -> None:
    finding = take_out(w)

    with refused(code):
        work(w, finding, **missing)


def test_who_did_the_work_neither_looks_again_nor_releases(w: SimpleNamespace, refused: Any) -> None:
    finding = take_out(w)
    pay(w, finding)
    work(w, finding, by=w.manager)
    with refused("own-work"):
        look(w, finding, by=w.manager)
    look(w, finding)
    make.sign(w, w.line, "landing", at=w.t(40))
    make.ride(w, w.line, at=w.t(45))

    with refused("not-releasable"):
        release(w, finding)
    release(w, finding, by=w.deputy)


def test_who_opened_it_does_not_release_it_without_work_by_another(w: SimpleNamespace, refused: Any) -> None:
    finding = take_out(w, by=w.manager)
    pay(w, finding)
    look(w, finding)

    with refused("not-releasable"):
        release(w, finding)
    release(w, finding, by=w.deputy)


@pytest.mark.parametrize("role", ["guide", "technician", "auditor"])
def test_nobody_else_than_manager_or_engineer_releases(w: SimpleNamespace, refused: Any, role: str) -> None:
    finding = take_out(w)
    ready_to_release(w, finding)

    with refused("no-right"):
        release(w, finding, by=w.people[role])


def test_nothing_is_released_while_something_is_owed(w: SimpleNamespace, refused: Any) -> None:
    finding = take_out(w)
    work(w, finding)
    look(w, finding)
    make.ride(w, w.line, at=w.t(45))

    with refused("not-releasable"):
        release(w, finding)
    pay(w, finding, at=50)
    release(w, finding)


@pytest.mark.parametrize("left_out", ["photos", "text", "tag_number"])
def test_each_debt_is_paid_by_itself(w: SimpleNamespace, left_out: str) -> None:
    finding = take_out(w)
    given: dict[str, Any] = {"photos": (PHOTO,), "text": "Seen.", "tag_number": "0417"}
    del given[left_out]
    actions.add_to_finding(make.picture(w, w.t(25)), finding, deed=deed(w, w.mate, 25), **given)

    finding.refresh_from_db()
    assert set(finding.owed) == {{"photos": "photo", "text": "note", "tag_number": "tag"}[left_out]}


def test_it_is_looked_at_again_after_the_work_and_found_good(w: SimpleNamespace, refused: Any) -> None:
    finding = take_out(w)
    pay(w, finding)
    look(w, finding, at=27)
    work(w, finding)
    make.ride(w, w.line, at=w.t(45))
    with refused("not-releasable"):  # the look was before the work
        release(w, finding)

    look(w, finding, at=46, mark="defect")
    with refused("not-releasable"):
        release(w, finding)
    look(w, finding, at=47)
    release(w, finding)


def test_a_new_reading_past_the_limit_is_not_good(w: SimpleNamespace, refused: Any) -> None:
    finding = take_out(w, key=SPRING)
    pay(w, finding)
    work(w, finding)
    make.ride(w, w.line, at=w.t(45))
    for text, code in (("", "answer-needed"), ("x", "unclear")):
        with refused(code):
            look(w, finding, text=text, mark="")
    look(w, finding, text="560")

    assert Reading.objects.filter(finding=finding.pk).latest("seq").verdict == "withdraw"
    with refused("not-releasable"):
        release(w, finding)


def test_work_on_a_brake_counts_only_after_a_new_good_ride(w: SimpleNamespace, refused: Any) -> None:
    finding = take_out(w)
    pay(w, finding)
    work(w, finding)
    look(w, finding)
    with refused("not-releasable"):
        release(w, finding)

    make.ride(w, w.line, kind="emergency", at=w.t(45))  # the primary was parked: shows nothing of it
    with refused("not-releasable"):
        release(w, finding)
    make.ride(w, w.line, at=w.t(46))
    release(w, finding)


@pytest.mark.parametrize("tick", RELEASE_TICKS)
def test_each_confirmation_is_asked(w: SimpleNamespace, refused: Any, tick: str) -> None:
    finding = take_out(w)
    ready_to_release(w, finding)

    with refused("ticks-needed"):
        release(w, finding, ticks=frozenset(RELEASE_TICKS) - {tick})


@pytest.mark.parametrize("tick", TAG_TICKS)
def test_another_persons_tag_is_taken_off_under_three_more(w: SimpleNamespace, refused: Any, tick: str) -> None:
    finding = take_out(w)
    ready_to_release(w, finding)
    with refused("tag-needed"):
        release(w, finding, tag_removed_by="")

    every = frozenset((*RELEASE_TICKS, *TAG_TICKS))
    with refused("tag-ticks-needed"):
        release(w, finding, tag_removed_by="other", ticks=every - {tick})
    release(w, finding, tag_removed_by="other", ticks=every)


def test_a_release_is_signed_with_the_password_and_once(w: SimpleNamespace, refused: Any) -> None:
    finding = take_out(w)
    ready_to_release(w, finding)
    without = make.deed(w.manager, at=w.t(60), how="session")
    once = deed(w, w.manager, 60)

    def do(deed: Any) -> None:
        actions.release(
            make.picture(w, w.t(60)), finding, ticks=frozenset(RELEASE_TICKS), tag_removed_by="applier", deed=deed
        )

    with refused("password-needed"):
        do(without)
    do(once)
    with refused("already-recorded", AlreadyRecorded):
        do(once)
    with refused("released"):
        do(deed(w, w.deputy, 61))


def test_whoever_worked_on_a_line_does_not_open_it(w: SimpleNamespace, refused: Any) -> None:
    finding = take_out(w)
    pay(w, finding)
    work(w, finding, by=w.manager)
    look(w, finding, by=w.deputy)
    make.sign(w, w.line, "landing", at=w.t(40))
    for mass in ("35", "115"):
        make.ride(w, w.line, mass=mass, at=w.t(45))
    release(w, finding, by=w.deputy)

    with refused("own-inspection"):
        make.open_lines(w, by=w.manager, at=w.t(62))
    # The look that belongs to one's own release does not bar from opening: two people are enough.
    make.open_lines(w, by=w.deputy, at=w.t(62))


def test_whoever_worked_on_a_platform_does_not_open_its_line(w: SimpleNamespace, refused: Any) -> None:
    finding = take_out(w, slot="platform", place=w.platforms[0])
    pay(w, finding)
    work(w, finding, by=w.manager)
    look(w, finding)
    release(w, finding, by=w.deputy)

    with refused("own-inspection"):
        make.open_lines(w, by=w.manager, at=w.t(62))
    make.open_lines(w, by=w.manager, at=w.t(62), line1="closed")


# --- replacement


def spare(w: SimpleNamespace, kind: str = "spring", tag: str = "SP-99", *, at: float = 26, **data: Any) -> Component:
    new = setup.add_component(w.course, kind=kind, tag=tag, label="", deed=deed(w, w.engineer, at))
    content = make.component_data(new)
    make.settle(w, "component", {**content, **data}, at=w.t(at), component=new)
    return new


def replaced(w: SimpleNamespace, *, keeps_old: bool) -> tuple[Component, Component, Finding]:
    finding = take_out(w, key=SPRING)
    old, new = fitted(w, "primary-1"), spare(w)
    pay(w, finding)
    work(w, finding, what="replacement", replacement=new, keeps_old=keeps_old)
    look(w, finding, text="600")
    return old, new, finding


def test_a_replacement_is_fitted_and_the_old_part_retired_on_release(w: SimpleNamespace, status: Any) -> None:
    old, new, finding = replaced(w, keeps_old=False)

    assert fitted(w, "primary-1") == new
    # What was read of the old part this morning says nothing about the new one.
    assert "item-unknown" in codes(status(36))
    make.sign(w, w.line, "landing", at=w.t(40))
    for mass in ("35", "115"):
        make.ride(w, w.line, mass=mass, at=w.t(45))
    assert Component.objects.get(pk=old.pk).retired_at is None
    release(w, finding)

    assert Component.objects.get(pk=old.pk).retired_at == w.t(60)
    assert status(61).word == "ready"


def test_an_old_part_that_is_kept_stays_out_of_service_wherever_it_lies(w: SimpleNamespace, status: Any) -> None:
    old, _new, finding = replaced(w, keeps_old=True)
    make.sign(w, w.line, "landing", at=w.t(40))
    for mass in ("35", "115"):
        make.ride(w, w.line, mass=mass, at=w.t(45))
    release(w, finding)

    assert Component.objects.get(pk=old.pk).retired_at is None
    [aside] = Finding.objects.filter(component=old, state="open")
    assert (aside.place, aside.out_of_service) == (w.store, True)
    assert status(61).word == "ready"

    # Fitted on the other line it holds that one.
    setup.take_off(fitted(w, "primary-1", w.lines[1]), deed=deed(w, w.engineer, 62))
    setup.fit(old, w.lines[1], "primary-1", deed=deed(w, w.engineer, 63))
    assert "finding-place" in codes(status(64, 2))


def test_a_weaker_replacement_is_refused(w: SimpleNamespace, refused: Any) -> None:
    finding = take_out(w, slot="cable")
    certificate = make.component_data(fitted(w, "cable"))["certificate"]
    weak = spare(w, "cable", "CB-98", certificate={**certificate, "mbf_kn": "100.9"})  # the old one: 101.0
    bare = spare(w, "cable", "CB-97", certificate={k: v for k, v in certificate.items() if k != "mbf_kn"})
    equal = spare(w, "cable", "CB-99", certificate=certificate)

    for new in (weak, bare):
        with refused("weaker"):
            work(w, finding, what="replacement", replacement=new)
    work(w, finding, what="replacement", replacement=equal)


# --- watch, ruling, retiring


def test_only_a_watch_can_wait_and_at_most_thirty_days(w: SimpleNamespace, refused: Any, status: Any) -> None:
    watch, defect = opened(w, "major", is_watch=True), take_out(w)

    def wait(finding: Finding, days: int, text: str = "Ordered.", by: User | None = None) -> None:
        actions.decide_watch(
            make.picture(w, w.t(30)), finding, until=w.at.date() + timedelta(days=days), text=text,
            deed=deed(w, by or w.manager, 30),
        )  # fmt: skip

    for days in (-1, 31):
        with refused("date-too-far"):
            wait(watch, days)
    with refused("reason-needed"):
        wait(watch, 3, text=" ")
    with refused("not-a-watch"):
        wait(defect, 3)
    with refused("no-right"):
        wait(watch, 3, by=w.technician)
    assert "finding-watch" in codes(status(31))
    for days in (0, 30):
        wait(watch, days)
    assert "finding-watch" not in codes(status(31))


def test_a_watch_whose_date_is_over_holds_again(w: SimpleNamespace, status: Any) -> None:
    watch = opened(w, "minor", is_watch=True)
    actions.decide_watch(
        make.picture(w, w.t(30)), watch, until=w.at.date(), text="Ordered.", deed=deed(w, w.manager, 30)
    )
    assert "finding-watch" not in codes(status(31))

    assert "finding-watch" in codes(status(31 + 24 * 60))


def test_a_ruling_is_the_engineers_on_a_major_finding_alone(w: SimpleNamespace, refused: Any, status: Any) -> None:
    major, critical = opened(w, "major"), take_out(w, slot="cable")

    def rule(finding: Finding, *, by: User | None = None, days: int = 10, text: str = "Letter 4.") -> None:
        actions.rule(
            make.picture(w, w.t(30)), finding, until=w.at.date() + timedelta(days=days), text=text,
            restriction={"mass_max_kg": "90", "mass_min_kg": ""}, deed=deed(w, by or w.engineer, 30),
        )  # fmt: skip

    with refused("not-major"):
        rule(critical)
    with refused("no-right"):
        rule(major, by=w.manager)
    with refused("reason-needed"):
        rule(major, text="")
    for days in (-1, 91):
        with refused("date-too-far"):
            rule(major, days=days)
    rule(major)
    assert codes(status(31)) == {"finding-critical"}


def test_a_ruling_narrows_and_ends(w: SimpleNamespace, status: Any) -> None:
    major = opened(w, "major")
    actions.rule(
        make.picture(w, w.t(30)), major, until=w.at.date(), text="Letter 4.", restriction={"mass_max_kg": "90"},
        deed=deed(w, w.engineer, 30),
    )  # fmt: skip

    assert status(31).clearance.limits.mass_max_kg == 90
    assert status(31).clearance.limits.narrowed
    assert "finding-major" in codes(status(31 + 24 * 60))


def test_gear_is_retired_for_good(w: SimpleNamespace, refused: Any) -> None:
    trolley = Component.objects.get(course=w.course, tag="TR-01")
    entry = actions.take_out_of_service(
        make.picture(w, w.t(20)), w.store, title="Wheel loose", component=trolley, slot="A",
        deed=deed(w, w.technician, 20),
    )  # fmt: skip
    gear, brake = Finding.objects.get(course=w.course, seq=entry.seq), take_out(w)

    def retire(finding: Finding, **more: Any) -> None:
        actions.close_by_retiring(
            make.picture(w, w.t(30)), finding, text="Cut.", deed=deed(w, w.manager, 30), **{"destroyed": True, **more}
        )

    with refused("not-retirable"):
        retire(brake)
    with refused("not-destroyed"):
        retire(gear, destroyed=False)
    retire(gear)
    gear.refresh_from_db()
    assert gear.state == "released"
    assert Component.objects.get(pk=trolley.pk).retired_at == w.t(30)


def test_something_is_said_or_nothing_is_added(w: SimpleNamespace, refused: Any) -> None:
    finding = take_out(w)

    with refused("nothing-added"):
        actions.add_to_finding(make.picture(w, w.t(25)), finding, text=" ", deed=deed(w, w.technician, 25))
    with refused("title-needed"):
        actions.open_finding(
            make.picture(w, w.t(25)), w.line, title=" ", severity="minor", deed=deed(w, w.technician, 25)
        )
