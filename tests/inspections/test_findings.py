"""Findings: taken out of service at once, what holds which line, what may wait, what is ruled on, what is retired.

Sources: the rules of the service as its makers wrote them down.
"""

from datetime import timedelta
from types import SimpleNamespace
from typing import Any

import pytest

from accounts.models import User
from courses.models import Component
from inspections import actions
from inspections.models import Finding
from ledger.actions import salted_by
from ledger.errors import AlreadyRecorded
from tests import make
from tests.inspections.conftest import codes
from tests.inspections.pages import url
from tests.inspections.steps import deed, fitted, look, release, take_out

pytestmark = pytest.mark.usefixtures("day_open")

SPRING = "BS-1@primary-1"


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


def test_a_finding_by_hand_that_is_sent_twice_with_its_own_salts_is_known(w: SimpleNamespace, refused: Any) -> None:
    """From the phone and from its worker at once the second must find the first, not stumble over its salts."""
    once = deed(w, w.technician, 20)

    def opened() -> None:
        with salted_by(b"s" * 32):
            actions.open_finding(
                make.picture(w, w.t(20)), w.line, title="Loose", severity="major", text="At the bolt.", deed=once
            )

    opened()
    with refused("already-recorded", AlreadyRecorded):
        opened()


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


@pytest.mark.parametrize(("severity", "count"), [("critical", 0), ("major", 1), ("minor", 1)])
def test_what_somebody_can_be_hurt_by_is_not_only_watched(
    w: SimpleNamespace, as_: Any, severity: str, count: int
) -> None:
    typed = {"place": str(w.line.pk), "title": "Crack", "severity": severity, "is_watch": "on"}
    answer = as_("technician").post(url(w, "open_finding"), typed)
    assert Finding.objects.count() == count
    assert ("take one of the two back" in answer.content.decode()) is (count == 0)
