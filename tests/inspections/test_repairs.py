"""The way back into service: work, a second look, a ride, a release; and a part that is replaced.

Sources: energy released and locked out before work, checks before release and removal of another's tag: 29 CFR
1910.147(d), (e)(1) to (3), READ-2 and READ; replacement of at least the same strength: R-417, READ. The rest are the
rules of the service as its makers wrote them down.
"""

from types import SimpleNamespace
from typing import Any

import pytest

from courses import actions as setup
from courses.models import Component
from inspections import actions
from inspections.actions.releases import RELEASE_TICKS, TAG_TICKS
from inspections.models import Finding, Reading, Ride
from ledger.errors import AlreadyRecorded
from tests import make
from tests.inspections.conftest import codes
from tests.inspections.steps import deed, fitted, look, pay, ready_to_release, release, take_out, work

pytestmark = pytest.mark.usefixtures("day_open")

SPRING = "BS-1@primary-1"


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
    given: dict[str, Any] = {"photos": (make.photo(w),), "text": "Seen.", "tag_number": "0417"}
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
