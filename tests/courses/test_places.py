"""Courses, places, components and where they are fitted. The refusals are the project's own rules unless cited."""

from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import UTC, datetime, timedelta

import pytest

from accounts.models import Operator, User
from courses import actions
from courses.models import Component, Course, Place, Placement
from courses.queries import setup_at
from ledger.errors import AlreadyRecorded
from ledger.models import Entry
from tests import make
from tests.courses import build

AT = datetime(2026, 6, 15, 6, 0, tzinfo=UTC)
Refusal = Callable[[str], AbstractContextManager[None]]
Staff = dict[str, User]


def where(component: Component) -> list[tuple[str, bool]]:
    rows = Placement.objects.filter(component=component).order_by("since")
    return [(row.slot, row.until is None) for row in rows]


def test_a_course_begins_with_its_gear_store_and_its_course_house(operator: Operator) -> None:
    course = make.course(operator)

    assert sorted(Place.objects.filter(course=course).values_list("kind", flat=True)) == ["house", "store"]


def test_a_zone_that_does_not_exist_is_refused(operator: Operator, refused: Refusal) -> None:
    with refused("no-such-zone"):
        make.course(operator, tz="Europe/Atlantis")


def test_retention_is_only_made_longer(course: Course, staff: Staff, refused: Refusal) -> None:
    actions.change_course(course, changes={"retention_years": 12}, deed=make.deed(staff["manager"]))

    with refused("retention-shorter"):
        actions.change_course(course, changes={"retention_years": 11}, deed=make.deed(staff["manager"]))
    with refused("cannot-change"):
        actions.change_course(course, changes={"tz": "UTC"}, deed=make.deed(staff["manager"]))


def test_a_number_is_taken_once_and_is_free_again_when_its_place_is_retired(
    course: Course, line: Place, staff: Staff, refused: Refusal
) -> None:
    ends = {"launch": line.launch, "landing": line.landing}
    with refused("number-taken"):
        make.place(course, "line", line.number, "Twin", **ends)  # type: ignore[arg-type]

    actions.retire_place(line, why="Taken down.", deed=make.deed(staff["manager"], at=AT))

    assert make.place(course, "line", line.number, "Successor", **ends).number == line.number  # type: ignore[arg-type]


def test_a_line_goes_from_one_platform_to_another(course: Course, line: Place, refused: Refusal) -> None:
    assert line.launch is not None
    with refused("line-needs-platforms"):
        make.place(course, "line", 8, "Circle", launch=line.launch, landing=line.launch)


def test_a_platform_in_use_is_not_retired(line: Place, staff: Staff, refused: Refusal) -> None:
    assert line.launch is not None
    with refused("platform-in-use"):
        actions.retire_place(line.launch, why="Rotten.", deed=make.deed(staff["manager"], at=AT))


@pytest.mark.parametrize("kind", ["store", "house"])
def test_gear_store_and_course_house_are_never_retired(
    course: Course, staff: Staff, refused: Refusal, kind: str
) -> None:
    with refused("always-there"):
        actions.retire_place(
            Place.objects.get(course=course, kind=kind), why="Tidy.", deed=make.deed(staff["manager"], at=AT)
        )


# --- components


@pytest.mark.parametrize("tag", ["CB-01", "cb-01", " cb-01 "])
def test_a_tag_code_is_never_given_twice(course: Course, staff: Staff, refused: Refusal, tag: str) -> None:
    first = build.component(course, "cable", "CB-01")
    actions.retire_component(first, why="Worn.", destroyed=True, deed=make.deed(staff["manager"], at=AT))

    with refused("tag-taken"):
        build.component(course, "cable", tag)


def test_fitting_moves_the_component_and_takes_off_what_was_there(
    course: Course, complete: Place, staff: Staff
) -> None:
    old = Component.objects.get(tag="EC-01")
    new = build.component(course, "cord", "EC-02")
    other = make.line(course, 2, "Kestrel")
    actions.fit(new, other, "emergency-1", deed=make.deed(staff["technician"], at=AT))

    actions.fit(new, complete, "emergency-1", deed=make.deed(staff["technician"], at=AT + timedelta(hours=1)))

    assert where(old) == [("emergency-1", False)]
    assert where(new) == [("emergency-1", False), ("emergency-1", True)]
    setup = setup_at(course, AT + timedelta(hours=1))
    assert setup.component_at(complete, "emergency-1") == new
    assert setup.component_at(other, "emergency-1") is None


def test_pooled_gear_shares_its_rack(course: Course, staff: Staff) -> None:
    store = Place.objects.get(course=course, kind="store")
    tags = [build.component(course, "trolley", f"TR-{number:02d}").tag for number in range(1, 4)]

    actions.fill_rack(course, store, "A", tags, deed=make.deed(staff["technician"], at=AT))

    assert [one.component.tag for one in setup_at(course, AT).at_slot(store, "rack-A")] == tags


def test_a_rack_is_filled_wholly_or_not_at_all(course: Course, complete: Place, staff: Staff, refused: Refusal) -> None:
    store = Place.objects.get(course=course, kind="store")
    build.component(course, "trolley", "TR-01")

    for tags, code in ((["TR-01", "TR-77"], "tag-unknown"), (["TR-01", "CB-01"], "not-gear"), ([], "rack-size")):
        with refused(code):
            actions.fill_rack(course, store, "A", tags, deed=make.deed(staff["technician"], at=AT))


def test_a_rack_holds_twenty(course: Course, staff: Staff, refused: Refusal) -> None:
    store = Place.objects.get(course=course, kind="store")
    tags = [build.component(course, "helmet", f"HE-{number:02d}").tag for number in range(1, 22)]
    actions.fill_rack(course, store, "A", tags[:20], deed=make.deed(staff["technician"], at=AT))

    with refused("rack-full"):
        actions.fill_rack(course, store, "A", tags[20:], deed=make.deed(staff["technician"], at=AT))


def test_a_retired_component_comes_off_and_is_never_fitted_again(
    course: Course, complete: Place, staff: Staff, refused: Refusal
) -> None:
    cord = Component.objects.get(tag="EC-01")
    # Marked unfit for further use: Mich. R 408.15226(4), R-163, READ; destroyed: NJAC 5:14A-10.9, R-222, READ.
    with refused("not-destroyed"):
        actions.retire_component(cord, why="Worn.", destroyed=False, deed=make.deed(staff["manager"], at=AT))
    with refused("no-right"):
        actions.retire_component(cord, why="Worn.", destroyed=True, deed=make.deed(staff["technician"], at=AT))

    actions.retire_component(cord, why="Worn.", destroyed=True, deed=make.deed(staff["manager"], at=AT))

    assert where(cord) == [("emergency-1", False)]
    with refused("retired"):
        actions.fit(cord, complete, "emergency-1", deed=make.deed(staff["manager"], at=AT))


def test_sending_a_deed_twice_does_it_once(course: Course, complete: Place, staff: Staff) -> None:
    cord = Component.objects.get(tag="EC-01")
    deed = make.deed(staff["technician"], at=AT)
    actions.take_off(cord, deed=deed)
    actions.fit(cord, complete, "emergency-1", deed=make.deed(staff["technician"], at=AT))
    entries = Entry.objects.count()

    with pytest.raises(AlreadyRecorded):
        actions.take_off(cord, deed=deed)

    assert Entry.objects.count() == entries
    assert where(cord)[-1] == ("emergency-1", True)
