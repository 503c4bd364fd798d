"""Two people and a day between: what decides is proposed by one, confirmed by another, and counts from the next day.

The rules are the project's own (no published source); the days are counted by hand from the calendar in ``build``.
"""

from collections.abc import Callable
from contextlib import AbstractContextManager
from copy import deepcopy
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from django.db import IntegrityError, transaction

from accounts.models import User
from courses import actions, checklists
from courses.models import Course, Place, Version
from courses.queries import setup_at
from ledger.models import Entry
from tests import make
from tests.courses import build

AT = datetime(2026, 6, 15, 6, 0, tzinfo=UTC)  # a Monday, eight o'clock in Vienna
TOMORROW = datetime(2026, 6, 16, 1, 0, tzinfo=UTC)  # Tuesday, three o'clock in Vienna: the day changes
Refusal = Callable[[str], AbstractContextManager[None]]
Staff = dict[str, User]


def propose(course: Course, content: Any, place: Place, by: User, *, kind: str = "line", at: datetime = AT) -> Version:
    return actions.propose(course, kind, content, source="Letter, page 2", place=place, deed=make.deed(by, at=at))


def changed(**changes: Any) -> dict[str, Any]:
    return deepcopy(build.LINE) | changes


def document(course: Course, line: Place, at: datetime) -> dict[str, Any]:
    return setup_at(course, at).document(line)


def test_a_looser_version_waits_for_a_second_person_and_counts_from_the_next_operating_day(
    course: Course, complete: Place, staff: Staff
) -> None:
    version = propose(course, changed(mass_max_kg="125"), complete, staff["engineer"])

    assert (version.tightens, version.confirmed_at, version.from_at) == (False, None, None)
    assert document(course, complete, TOMORROW)["mass_max_kg"] == "120"

    actions.confirm(version, deed=make.deed(staff["manager"], at=AT + timedelta(hours=2)))

    assert document(course, complete, TOMORROW - timedelta(seconds=1))["mass_max_kg"] == "120"
    assert document(course, complete, TOMORROW)["mass_max_kg"] == "125"


def test_days_without_operation_are_passed_over(course: Course, complete: Place, staff: Staff) -> None:
    closed = build.CALENDAR | {"closed": ["2026-06-16", "2026-06-17"]}
    actions.propose(course, "calendar", closed, source="Works", deed=make.deed(staff["engineer"], at=AT))
    version = propose(course, changed(mass_max_kg="125"), complete, staff["engineer"])

    confirmed = actions.confirm(version, deed=make.deed(staff["manager"], at=AT))

    assert confirmed.from_at == datetime(2026, 6, 18, 1, 0, tzinfo=UTC)


def test_a_confirmation_in_the_night_still_belongs_to_the_day_before(
    course: Course, complete: Place, staff: Staff
) -> None:
    at = datetime(2026, 6, 16, 0, 30, tzinfo=UTC)  # Tuesday, half past two in Vienna: Monday's day goes on until three
    version = propose(course, changed(mass_max_kg="125"), complete, staff["engineer"])

    assert actions.confirm(version, deed=make.deed(staff["manager"], at=at)).from_at == TOMORROW


def test_nobody_confirms_their_own_proposal(course: Course, complete: Place, staff: Staff, refused: Refusal) -> None:
    version = propose(course, changed(mass_max_kg="125"), complete, staff["engineer"])

    with refused("own-proposal"):
        actions.confirm(version, deed=make.deed(staff["engineer"], at=AT))


def test_the_database_refuses_a_proposer_as_second_person(course: Course, complete: Place, staff: Staff) -> None:
    version = propose(course, changed(mass_max_kg="125"), complete, staff["engineer"])

    with pytest.raises(IntegrityError), transaction.atomic():
        Version.objects.filter(pk=version.pk).update(
            confirmed_by=staff["engineer"], confirmed_at=AT, from_at=AT
        )  # fmt: skip


@pytest.mark.parametrize("role", ["guide", "technician", "auditor"])
def test_only_manager_and_engineer_propose(
    course: Course, complete: Place, staff: Staff, refused: Refusal, role: str
) -> None:
    with refused("no-right"):
        propose(course, changed(mass_max_kg="125"), complete, staff[role])


@pytest.mark.parametrize("role", ["guide", "technician", "auditor"])
def test_only_manager_and_engineer_confirm(
    course: Course, complete: Place, staff: Staff, refused: Refusal, role: str
) -> None:
    version = propose(course, changed(mass_max_kg="125"), complete, staff["engineer"])

    with refused("no-right"):
        actions.confirm(version, deed=make.deed(staff[role], at=AT))


def test_a_proposal_without_its_source_is_refused(
    course: Course, complete: Place, staff: Staff, refused: Refusal
) -> None:
    with refused("source-needed"):
        actions.propose(
            course, "line", changed(mass_max_kg="125"), source=" ", place=complete, deed=make.deed(staff["engineer"])
        )


def test_a_document_of_another_shape_is_refused_by_the_action_itself(
    course: Course, complete: Place, staff: Staff, refused: Refusal
) -> None:
    with refused("document"):
        propose(course, changed(mass_max_kg="a hundred"), complete, staff["engineer"])


@pytest.mark.parametrize(
    "change",
    [
        {"mass_max_kg": "115"},
        {"mass_min_kg": "40"},
        {"wind": {"head_mps": "7", "tail_mps": "6", "cross_mps": "5.5"}},
        {"mass_max_kg": "119.294837", "mass_max_kg_typed": "263 lb"},
    ],
)
def test_a_tightening_of_the_posted_limits_counts_at_once(
    course: Course, complete: Place, staff: Staff, change: dict[str, Any]
) -> None:
    version = propose(course, changed(**change), complete, staff["engineer"])

    assert (version.tightens, version.from_at, version.confirmed_by) == (True, AT, staff["engineer"])
    assert document(course, complete, AT) == changed(**change)


@pytest.mark.parametrize(
    "change",
    [
        {"mass_max_kg": "120.5"},
        {"mass_min_kg": "30"},
        {"mass_max_kg": "110", "mass_min_kg": "30"},  # one narrower, the other wider
        {"wind": {"head_mps": "7", "tail_mps": "6"}},  # a limit less
        {"arrival_speed_mps": "7.4"},
        {"brakes": [*build.LINE["brakes"], {"slot": "emergency-2", "role": "emergency", "kind": "cord"}]},
        {"designer": "Somebody else"},
    ],
)
def test_whatever_could_better_something_waits(
    course: Course, complete: Place, staff: Staff, change: dict[str, Any]
) -> None:
    assert propose(course, changed(**change), complete, staff["engineer"]).from_at is None


def test_a_tightening_is_not_undone_by_an_older_version_whose_day_begins_later(
    course: Course, complete: Place, staff: Staff
) -> None:
    wider = propose(course, changed(mass_max_kg="125"), complete, staff["engineer"])
    actions.confirm(wider, deed=make.deed(staff["manager"], at=AT))  # from tomorrow

    propose(course, changed(mass_max_kg="100"), complete, staff["manager"], at=AT + timedelta(hours=1))

    assert document(course, complete, AT + timedelta(hours=1))["mass_max_kg"] == "100"
    assert document(course, complete, TOMORROW + timedelta(days=3))["mass_max_kg"] == "100"


def test_an_older_proposal_is_not_confirmed_over_a_newer_one(
    course: Course, complete: Place, staff: Staff, refused: Refusal
) -> None:
    wider = propose(course, changed(mass_max_kg="125"), complete, staff["engineer"])
    propose(course, changed(mass_max_kg="100"), complete, staff["manager"])

    with refused("superseded"):
        actions.confirm(wider, deed=make.deed(staff["manager"], at=AT))


def test_a_proposal_is_decided_once(course: Course, complete: Place, staff: Staff, refused: Refusal) -> None:
    version = propose(course, changed(mass_max_kg="125"), complete, staff["engineer"])
    actions.refuse(version, why="Not in the letter.", deed=make.deed(staff["manager"], at=AT))

    with refused("decided"):
        actions.confirm(version, deed=make.deed(staff["manager"], at=AT))
    with refused("decided"):
        actions.refuse(version, why="Again.", deed=make.deed(staff["engineer"], at=AT))
    assert document(course, complete, TOMORROW)["mass_max_kg"] == "120"


def test_the_first_data_of_a_component_count_as_soon_as_they_are_confirmed(course: Course, staff: Staff) -> None:
    spare = build.component(course, "cord", "EC-02")
    data = {"dates": {"made": "2026-01-10"}, "max_cycles": "5000"}
    version = actions.propose(
        course, "component", data, source="Maker's sheet", component=spare, deed=make.deed(staff["engineer"], at=AT)
    )
    assert setup_at(course, AT).component_data(spare) == {}

    actions.confirm(version, deed=make.deed(staff["manager"], at=AT))

    assert setup_at(course, AT).component_data(spare) == data

    later = actions.propose(
        course, "component", data | {"max_cycles": "9000"}, source="Maker's letter", component=spare,
        deed=make.deed(staff["engineer"], at=AT),
    )  # fmt: skip
    assert actions.confirm(later, deed=make.deed(staff["manager"], at=AT)).from_at == TOMORROW


def test_a_checklist_with_an_item_more_counts_at_once_and_with_one_less_waits(
    course: Course, complete: Place, staff: Staff
) -> None:
    version = setup_at(course, AT).checklist(complete)
    assert version is not None
    content = version.content
    own = {**content["items"][0], "code": "OWN-1", "key": "OWN-1@cable", "slot": "cable"}
    fewer = checklists.without_item(content, content["items"][3]["key"], "Not on this line.")

    more = propose(course, checklists.with_item(content, own), complete, staff["engineer"], kind="checklist")
    less = propose(course, fewer, complete, staff["engineer"], kind="checklist")

    assert (more.from_at, less.from_at) == (AT, None)


def test_a_checklist_with_an_item_more_may_wait_for_its_limit(course: Course, complete: Place, staff: Staff) -> None:
    version = setup_at(course, AT).checklist(complete)
    assert version is not None
    own = {**version.content["items"][0], "code": "OWN-1", "key": "OWN-1@cable", "slot": "cable"}
    more = checklists.with_item(version.content, own)

    later = actions.propose(
        course, "checklist", more, source="Letter, page 2", place=complete, from_next_day=True,
        deed=make.deed(staff["engineer"], at=AT),
    )  # fmt: skip

    assert (later.tightens, later.from_at, later.confirmed_at) == (True, TOMORROW, AT)
    assert setup_at(course, AT).checklist(complete) == version
    assert setup_at(course, TOMORROW).checklist(complete) == later
    act = Entry.objects.filter(log=course.operator.log).latest("seq").record["act"]
    assert act["from"] == TOMORROW.strftime("%Y-%m-%dT%H:%M:%SZ")


def test_what_waits_must_tighten_what_will_be_in_force_then(course: Course, complete: Place, staff: Staff) -> None:
    """One item counts from tomorrow; a list without it, begun from today's, would take it away by one person alone."""
    version = setup_at(course, AT).checklist(complete)
    assert version is not None
    first, second = (
        checklists.with_item(version.content, {**version.content["items"][0], "code": code, "key": f"{code}@cable"})
        for code in ("OWN-1", "OWN-2")
    )

    made = [
        actions.propose(
            course, "checklist", content, source="Letter, page 2", place=complete, from_next_day=True,
            deed=make.deed(staff["engineer"], at=AT),
        )
        for content in (first, second)
    ]  # fmt: skip

    assert [(one.tightens, one.from_at) for one in made] == [(True, TOMORROW), (False, None)]


def test_what_counts_at_once_must_tighten_what_is_to_count_later(course: Course, complete: Place, staff: Staff) -> None:
    """One item counts from tomorrow; a list without it, sent to count at once, would stand above it tomorrow."""
    version = setup_at(course, AT).checklist(complete)
    assert version is not None
    own = {**version.content["items"][0], "key": "OWN-1@cable", "code": "OWN-1"}
    first = checklists.with_item(version.content, own)
    second, both = (
        checklists.with_item(base, {**own, "code": "OWN-2", "key": "OWN-2@cable"}) for base in (version.content, first)
    )
    actions.propose(
        course, "checklist", first, source="Letter, page 2", place=complete, from_next_day=True,
        deed=make.deed(staff["engineer"], at=AT),
    )  # fmt: skip

    undone = propose(course, second, complete, staff["engineer"], kind="checklist")
    with_it = propose(course, both, complete, staff["engineer"], kind="checklist")

    assert (undone.tightens, undone.from_at) == (False, None)
    assert (with_it.tightens, with_it.from_at) == (True, AT)


def test_what_is_to_wait_must_tighten_what_is_in_force_too(course: Course, complete: Place, staff: Staff) -> None:
    """A looser list was confirmed for tomorrow; between the two is looser than today's, so a second person is asked."""
    version = setup_at(course, AT).checklist(complete)
    assert version is not None
    keys = [one["key"] for one in version.content["items"][3:5]]
    fewer = checklists.without_item(version.content, keys[0], "Not on this line.")
    fewest = checklists.without_item(fewer, keys[1], "Not on this line.")
    loose = propose(course, fewest, complete, staff["engineer"], kind="checklist")
    actions.confirm(loose, deed=make.deed(staff["manager"], at=AT))

    between = actions.propose(
        course, "checklist", fewer, source="Letter, page 2", place=complete, from_next_day=True,
        deed=make.deed(staff["engineer"], at=AT),
    )  # fmt: skip

    assert (between.tightens, between.from_at) == (False, None)


def test_what_loosens_cannot_be_let_wait_without_a_second_person(course: Course, complete: Place, staff: Staff) -> None:
    version = setup_at(course, AT).checklist(complete)
    assert version is not None
    fewer = checklists.without_item(version.content, version.content["items"][3]["key"], "Not on this line.")

    made = actions.propose(
        course, "checklist", fewer, source="Letter, page 2", place=complete, from_next_day=True,
        deed=make.deed(staff["engineer"], at=AT),
    )  # fmt: skip

    assert (made.tightens, made.from_at) == (False, None)


def rule(limit: str, compare: str = ">") -> dict[str, Any]:
    return {
        "id": "own-1", "on": ["stroke.used"], "kind": "max", "params": {"limit": limit}, "compare": compare,
        "unit": "m", "source": "Letter, page 2", "got": "COURSE",
    }  # fmt: skip


def test_a_lower_limit_counts_at_once_and_a_first_limit_waits(course: Course, complete: Place, staff: Staff) -> None:
    key = "BR-05@ride"
    first = propose(course, {"items": {key: {"rules": [rule("7")]}}}, complete, staff["engineer"], kind="limits")
    assert first.from_at is None  # it could turn "not checked" into "ok"
    actions.confirm(first, deed=make.deed(staff["manager"], at=AT))

    lower = {"items": {key: {"rules": [rule("6.5", ">=")]}}}
    higher = {"items": {key: {"rules": [rule("7.5")]}}}

    assert propose(course, lower, complete, staff["engineer"], kind="limits", at=TOMORROW).from_at == TOMORROW
    assert propose(course, higher, complete, staff["engineer"], kind="limits", at=TOMORROW).from_at is None


def test_every_step_stands_in_the_history(course: Course, complete: Place, staff: Staff) -> None:
    version = propose(course, changed(mass_max_kg="125"), complete, staff["engineer"])
    actions.confirm(version, deed=make.deed(staff["manager"], at=AT))

    proposed, confirmed = Entry.objects.filter(log=course.operator.log).order_by("-seq")[:2][::-1]

    assert (proposed.kind, confirmed.kind) == ("version-proposed", "version-confirmed")
    assert proposed.record["act"]["content"]["mass_max_kg"] == "125"
    assert proposed.record["act"]["source"] == "Letter, page 2"
    assert confirmed.record["act"]["from"] == "2026-06-16T01:00:00Z"
    assert confirmed.record["auth"]["ref"] == staff["manager"].ref
