"""Since which version each figure of a line stands: every figure is traced to the paper that it came from.

What has to come out is written down by hand from the versions that each test makes; there is no outside source.
"""

from __future__ import annotations

from copy import deepcopy
from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import uuid4

import pytest

from courses import documents, origins
from courses.mechanics import plan_of, posted_of
from courses.mechanics_sources import slots_of, sources_of
from courses.models import Course, Place, Version
from courses.origin_words import papers_told
from courses.origins import origin_at, origins_of
from engineering.brakes_worn import ARRANGEMENTS
from engineering.envelope import Map, Plan, weight_wind_map
from engineering.envelope_band import grid
from engineering.envelope_notes import trace
from inspections.demo.course import LINES
from inspections.demo.mechanics import MECHANICS
from tests import make
from tests.courses.build import LINE, settle
from tests.courses.pages import As, path, text

LINE_OF = {line.number: line.document for line in LINES}
FIRST = datetime(2026, 3, 1, 9, tzinfo=UTC)


def entered(**changes: Any) -> dict[str, Any]:
    found = deepcopy(documents.clean("mechanics", MECHANICS[2]))
    for at, value in changes.items():
        *steps, last = at.split("__")
        target: Any = found
        for step in steps:
            target = target[int(step)] if step.isdecimal() else target.setdefault(step, {})
        target[last] = value
    return found


def version(number: int, content: dict[str, Any], source: str, *, day: int = 0, kind: str = "mechanics") -> Version:
    """Return a version that began so many days after the first; 0 for the day of its number."""
    at = FIRST + timedelta(days=day or number)
    return Version(
        pk=uuid4(), kind=kind, number=number, content=content, source=source, proposed_at=at,
        confirmed_at=at, from_at=at,
    )  # fmt: skip


CALIBRATED = {
    "rider__drag_area_m2": "0.44", "rider__given_by": "calibrated", "calibration__rides": "77",
    "calibration__interval_mps": "0.3", "calibration__on": "2026-05-01",
}  # fmt: skip
WAVE = {"tension_kn": "9.1", "reference_c": "14", "tension_date": "2026-04-02"}


def test_partial_changes_leave_every_other_figure_with_its_own_paper() -> None:
    chain = [
        version(1, entered(), "Calculation FH-7"),
        version(2, entered(**WAVE), "Return wave"),
        version(3, entered(**WAVE, **CALIBRATED), "Calibration with 77 test rides"),
    ]
    found = origins_of(chain[2], chain)

    def of(at: str) -> str:
        return found[at].paper.source

    for at in ("span_m", "cable.mass_kg_per_m", "cable.stiffness_kn", "parts.primary-1.rate_n_per_m", "zone.start_m",
               "parts.emergency-1.bind_m", "stop.peak_g", "pressure_hpa", "launch_mps"):  # fmt: skip
        assert of(at) == "Calculation FH-7", at
    assert {of(at) for at in ("tension_kn", "reference_c", "tension_date", "tension_how")} == {"Return wave"}
    # Rolling is the same figure, but the calibration says that the rides gave it.
    assert {of(at) for at in ("rider.drag_area_m2", "rider.rolling", "calibration.rides")} == {chain[2].source}
    assert all(one.said is None for at, one in found.items() if not at.endswith("given_by"))


def test_the_same_tension_measured_anew_is_from_the_new_measuring() -> None:
    chain = [version(1, entered(), "Sheet 1"), version(2, entered(tension_date="2026-09-01"), "Gauge, September")]
    assert origins_of(chain[1], chain)["tension_kn"].paper.number == 2


def test_figure_that_comes_back_is_from_the_version_that_brought_it_back() -> None:
    chain = [
        version(1, entered(launch_mps="1"), "A"),
        version(2, entered(launch_mps="2"), "B"),
        version(3, entered(launch_mps="1"), "C"),
        version(4, entered(launch_mps="1", pressure_hpa="990"), "D"),
    ]
    assert origins_of(chain[3], chain)["launch_mps"].paper.source == "C"


def test_kind_of_source_said_anew_names_both_papers() -> None:
    chain = [
        version(1, entered(cable__given_by="assumed"), "Guess"),
        version(2, entered(cable__given_by="certificate"), "Certificate 12"),
        version(3, entered(cable__given_by="certificate", launch_mps="2"), "Launch timed"),
    ]
    found = origins_of(chain[2], chain)["cable.stiffness_kn"]
    assert found.said is not None
    assert (found.paper.number, found.said.number) == (1, 2)


def test_version_that_never_began_is_no_source() -> None:
    """Version 2 was confirmed for the day on which a higher one was in force already, or began with it."""
    third = version(3, entered(), "C")
    for day in (3, 4):
        chain = [version(1, entered(), "A"), version(2, entered(span_m="208"), "B", day=day), third]
        assert origins_of(third, chain)["span_m"].paper.source == "A"


def test_how_a_figure_was_typed_is_no_change_and_another_kind_of_brake_is_one() -> None:
    first = version(1, entered(span_m_typed="681 ft"), "A")
    second = version(2, entered(span_m_typed="681.4 ft", parts__0__kind="cord"), "B")
    found = origins_of(second, [first])
    assert found["span_m"].paper.source == "A"
    assert found["parts.primary-1.rate_n_per_m"].paper.source == "B"
    assert origin_at(found, "parts.emergency-1").paper.source == "A"  # type: ignore[union-attr]
    assert origin_at(found, "nowhere") is None


def map_of(number: int, arrangement: str) -> tuple[dict[str, Any], Map]:
    document = documents.clean("mechanics", MECHANICS[number])
    plan = plan_of(LINE_OF[number], document, air_c=15.0, cross_mps=0.0, arrangement_of=arrangement)
    axes = grid(posted_of(LINE_OF[number]))
    assert isinstance(plan, Plan)
    assert isinstance(axes, tuple)
    made = weight_wind_map(plan, axes[0][::7], axes[1][::10])
    assert isinstance(made, Map)
    return document, made


@pytest.mark.parametrize("arrangement", list(ARRANGEMENTS))
@pytest.mark.parametrize("number", sorted(MECHANICS))
def test_every_figure_of_a_plan_has_a_source_unless_nobody_entered_it(number: int, arrangement: str) -> None:
    document, made = map_of(number, arrangement)
    first, line = version(1, document, "Calculation"), version(4, LINE_OF[number], "Survey", kind="line")
    sources = sources_of(
        LINE_OF[number], document, where="", line_where="", origins=origins_of(first, []),
        line_origins=origins_of(line, []), arrangement_of=arrangement, asked="typed",
    )  # fmt: skip
    given = trace(made, sources).given  # raises for a source of no figure
    assert {one.value for one in given if one.source.kind == "unsaid"} <= {"not entered", "no"}
    for one in given:
        if one.source.kind not in ("unsaid", "method", "asked"):
            assert "Calculation" in one.source.where or one.source.where == "version 4, Survey", one.key
            assert one.source.on, one.key
    by_key = {one.key: one.source for one in given}
    assert (by_key["line.span_m"].kind, by_key["line.drop_m"].where) == ("paper", "version 4, Survey")
    assert by_key["line.cable.mass_kg_per_m"].kind == "certificate"
    assert by_key["line.tension_n"].on == document["tension_date"]
    assert by_key["masses_kg"].where == "version 4, Survey"


@pytest.mark.parametrize("arrangement", list(ARRANGEMENTS))
@pytest.mark.parametrize("start", ["6.95", "7.1"])
def test_parts_of_a_plan_are_traced_to_their_own_brake(arrangement: str, start: str) -> None:
    """The emergency brake begins before or behind the primary one that has come off by its worn length."""
    document = entered(parts__0__start_m="6.9", parts__0__rate_n_per_m="511", parts__1__start_m=start)
    document["zone"]["length_m"] = "30"
    plan = plan_of(LINE_OF[2], document, air_c=15.0, cross_mps=0.0, arrangement_of=arrangement)
    assert isinstance(plan, Plan)
    gone = 1.0 - float(document["parts"][0].get("worn_share", "0"))
    rates = {"primary-1": {511.0, 511.0 * gone}, "emergency-1": {float(document["parts"][1]["rate_n_per_m"])}}
    slots = slots_of(document, arrangement)
    assert len(slots) == len(plan.parts)
    for slot, part in zip(slots, plan.parts, strict=True):
        assert part.rate_n_per_m in rates[slot]  # type: ignore[union-attr]


def test_worn_figure_names_also_the_paper_of_its_worn_limit() -> None:
    chain = [version(1, entered(), "Maker's sheet"), version(2, entered(parts__0__worn_length_m="0.11"), "Letter")]
    found = origins_of(chain[1], chain)
    worn, new = (
        sources_of(
            LINE_OF[2], chain[1].content, where="", line_where="", origins=found, arrangement_of=name
        )["part 1.rate_n_per_m"].where
        for name in ("worn", "new")
    )  # fmt: skip
    assert worn == "version 1, Maker's sheet; version 2, Letter"
    assert new == "version 1, Maker's sheet"


def test_record_names_each_paper_once_with_what_is_from_it(course: Course, complete: Place, staff: Any) -> None:
    settle(course, "mechanics", entered(), people=staff, place=complete)
    later = make.FOUNDED + timedelta(days=60)
    second = settle(course, "mechanics", entered(**WAVE), people=staff, place=complete, at=later)
    third = settle(
        course, "mechanics", entered(**WAVE, **CALIBRATED), people=staff, place=complete, at=later + timedelta(days=2)
    )  # fmt: skip
    Version.objects.filter(pk=second.pk).update(source="Return wave")
    Version.objects.filter(pk=third.pk).update(source="Calibration")
    third.refresh_from_db()
    line = Version.objects.get(kind="line", place=complete)
    assert papers_told([line, third], UTC)[1:] == [
        ("Mechanics", "rider and trolley, calibration: version 3, from Calibration, of 2 July 2026"),
        ("Mechanics", "tension with nobody on the cable, temperature of the cable then: version 2, "
                      "from Return wave, of 30 June 2026"),
        ("Mechanics", "all other figures: version 1, from Designer's folder, sheet 4, of 1 May 2026"),
    ]  # fmt: skip


def test_many_lines_are_read_in_one_query_and_then_in_none(
    course: Course, complete: Place, staff: Any, django_assert_num_queries: Any
) -> None:
    mechanics = settle(course, "mechanics", entered(), people=staff, place=complete)
    line = Version.objects.get(kind="line", place=complete)
    origins.forget()
    with django_assert_num_queries(1):
        found = origins.of_versions([line, None, mechanics])
    assert set(found) == {line.pk, mechanics.pk}
    with django_assert_num_queries(0):
        assert origins.of_versions([mechanics, line]) == found


def test_page_names_the_paper_of_every_figure(as_: As, course: Course, complete: Place, staff: Any) -> None:
    settle(course, "mechanics", entered(), people=staff, place=complete)
    settle(course, "line", {**LINE, "drop_m": "11.4", "length_m": "208"}, people=staff, place=complete)
    changed = entered(cable__stiffness_kn="6100")
    second = settle(course, "mechanics", changed, people=staff, place=complete, at=make.FOUNDED + timedelta(days=5))
    Version.objects.filter(pk=second.pk).update(source="Letter of the rope maker")
    page = text(as_("engineer").get(path("mechanics", course, complete)))
    cable = page.partition("<h2>Cable</h2>")[2].partition("<h2>")[0]
    assert cable.count("Version 1</a>, from Designer&#x27;s folder, sheet 4") == 3
    assert cable.count("Version 2</a>, from Letter of the rope maker") == 1
    zone = page.partition("<h2>Brake zone</h2>")[2].partition("</dl>")[0]
    assert zone.count("Version 1</a>, from") == 1  # all of a section from one version: said once


def test_what_was_kept_survives_that_the_memory_is_full(
    course: Course, complete: Place, staff: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = settle(course, "mechanics", entered(), people=staff, place=complete)
    described = Version.objects.filter(kind="line", place=complete).latest("number")
    monkeypatch.setattr(origins, "MOST", 1)
    origins._known.clear()
    origins.of_versions([first])
    found = origins.of_versions([first, described])
    assert set(found) == {first.pk, described.pk}
    assert found[first.pk]
