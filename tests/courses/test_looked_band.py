"""The band that a proposal would give, beside what is posted and in force, as who proposes and who confirms sees it.

What the figures ought to be comes from ``engineering.envelope`` ridden weight by weight, not from the maps of the page;
that engine is checked against published cases in ``tests/engineering``.
"""

from __future__ import annotations

from copy import deepcopy
from datetime import timedelta
from typing import Any

import pytest

from courses import documents
from courses.looked_band import NEW, BandLooked, band_looked
from courses.mechanics import plan_of
from courses.models import Course, Place, Version
from engineering.envelope import Outcome, Plan, outcome
from inspections.demo.course import LINES
from inspections.demo.mechanics import MECHANICS
from tests import make
from tests.courses.build import LINE, settle
from tests.courses.pages import As, look, path, text
from tests.courses.test_mechanics_pages import PAPERS

LINE_OF = {line.number: line.document for line in LINES}
ALL, NOW = "All together", "In force now"
NAMES = {"new": "As entered", "worn": "Primary worn", "emergency-alone": "Emergency alone"}


def entered(number: int, **changes: str) -> dict[str, Any]:
    found = deepcopy(documents.clean("mechanics", MECHANICS[number]))
    for at, value in changes.items():
        group, _dash, name = at.partition("__")
        found[group][name] = value
    return found


def looked(number: int, units: str = "metric", *, line: dict[str, Any] | None = None, **more: Any) -> BandLooked:
    document = more.pop("mechanics", entered(number))
    found = band_looked(LINE_OF[number] | (line or {}), document, units, **more)
    assert found is not None
    return found


def cells(found: BandLooked, column: str) -> dict[str, float]:
    """Return the edges of one column by their label, as figures."""
    return {row.label: float(dict(row.cells)[column].split()[0]) for row in found.rows if dict(row.cells)[column]}


def states(number: int, arrangement: str, masses: list[float], wind: float) -> set[str]:
    plan = plan_of(LINE_OF[number], entered(number), air_c=15.0, cross_mps=0.0, arrangement_of=arrangement)
    assert isinstance(plan, Plan)
    found = [outcome(plan, mass, wind) for mass in masses]
    return {one.names()[0] for one in found if isinstance(one, Outcome)}


@pytest.mark.parametrize("number", sorted(MECHANICS))
def test_every_edge_of_the_band_is_good_when_it_is_ridden_and_within_what_is_posted(number: int) -> None:
    found = looked(number)
    posted = {row.label: float(row.posted.split()[0]) for row in found.rows}
    for arrangement, column in [*NAMES.items(), *((name, ALL) for name in NAMES)]:
        edges = cells(found, column)
        assert posted["Lightest rider"] <= edges["Lightest rider"] < edges["Heaviest rider"]
        assert edges["Heaviest rider"] <= posted["Heaviest rider"]
        masses = [edges["Lightest rider"], edges["Heaviest rider"]]
        for label, sign in (("Head wind up to", 1.0), ("Tail wind up to", -1.0)):
            assert 0.0 <= edges[label] <= posted[label]
            assert states(number, arrangement, masses, sign * edges[label]) == {"ok"}


@pytest.mark.parametrize("number", sorted(MECHANICS))
def test_no_edge_reads_wider_in_us_units_than_it_is(number: int) -> None:
    """A pound is 0.453 592 37 kg, a mile 1,609.344 m (NIST SP 811, appendix B; from memory)."""
    metric, us = looked(number), looked(number, "us")
    for there, here in zip(metric.rows, us.rows, strict=True):
        pairs = zip([there.posted, *dict(there.cells).values()], [here.posted, *dict(here.cells).values()], strict=True)
        for one, other in (pair for pair in pairs if pair[0]):
            value, unit = one.split()
            by, as_unit = (0.45359237, "lb") if unit == "kg" else (0.44704, "mph")
            assert other.endswith(as_unit)
            inward = float(value) / by - float(other.split()[0])
            inward = -inward if there.label == "Lightest rider" else inward
            assert -0.001 <= inward <= 0.101


def test_what_was_posted_in_pounds_reads_as_it_was_posted() -> None:
    line = {"mass_min_kg": "27.2155422", "mass_max_kg": "113.3980925"}  # 60 and 250 lb
    found = looked(2, "us", line=line)
    assert [row.posted for row in found.rows][:2] == ["60 lb", "250 lb"]


def test_columns_are_the_brakes_as_far_as_they_are_entered() -> None:
    found = looked(2)
    assert found.columns == (*NAMES.values(), ALL)
    assert (found.air, found.wider, found.notes) == ("15 °C", "", ())
    assert [row.label for row in found.rows][-1] == "Cross wind up to"
    plain = entered(2)
    plain["parts"] = plain["parts"][:1]
    for name in [name for name in plain["parts"][0] if name.startswith("worn_")]:
        del plain["parts"][0][name]
    alone = looked(2, line={"brakes": LINE_OF[2]["brakes"][:1]}, mechanics=plain)
    assert alone.columns == (NAMES[NEW], ALL)
    assert alone.notes == (
        "Not looked at: primary brake at its worn limit. The worn limit of the primary brake is not entered.",
        "Not looked at: emergency brake alone. No emergency brake is entered.",
    )


def test_wider_edges_are_said_in_words_and_narrower_ones_are_not() -> None:
    draggy = entered(2, rider__drag_area_m2="0.5")
    wide = looked(2, line_now=LINE_OF[2], mechanics_now=draggy)
    now, then = cells(wide, NOW), cells(wide, ALL)
    assert now["Head wind up to"] < then["Head wind up to"]
    told = f"head wind {now['Head wind up to']:g} m/s to {then['Head wind up to']:g} m/s"
    assert wide.wider == f"Wider than now: {told}."
    narrow = looked(2, mechanics=draggy, line_now=LINE_OF[2], mechanics_now=entered(2))
    assert "head wind" not in narrow.wider
    assert looked(2, line_now=LINE_OF[2], mechanics_now=entered(2)).wider == ""


def test_lighter_lightest_is_wider() -> None:
    draggy = entered(3, rider__drag_area_m2="0.42")
    found = looked(3, line={"wind": {**LINE_OF[3]["wind"]}}, line_now={**LINE_OF[3], "mass_min_kg": "60"},
                   mechanics_now=draggy)  # fmt: skip
    assert "lightest rider 60 kg to" in found.wider


def test_what_computes_nothing_any_more_is_wider_than_any_band() -> None:
    broken = entered(2)
    del broken["pressure_hpa"]
    found = looked(2, mechanics=broken, line_now=LINE_OF[2], mechanics_now=entered(2))
    assert found.rows == ()
    assert found.wider.startswith("Wider than now: nothing would be computed, and nothing narrow what is posted.")
    assert band_looked(LINE_OF[2], broken, "metric") is None
    assert band_looked(LINE_OF[2], broken, "metric", line_now=LINE_OF[2], mechanics_now=broken) is None


def test_what_is_in_force_and_computes_nothing_is_said() -> None:
    broken = entered(2)
    del broken["pressure_hpa"]
    found = looked(2, line_now=LINE_OF[2], mechanics_now=broken)
    assert NOW not in found.columns
    assert found.notes[0].startswith("With what is in force nothing is computed, so it narrows nothing:")


def test_no_band_in_still_air_is_none_in_every_edge() -> None:
    slow = entered(2, rider__rolling="0.05")
    found = looked(2, mechanics=slow, line_now=LINE_OF[2], mechanics_now=entered(2))
    assert {dict(row.cells)[ALL] for row in found.rows} == {"none"}
    assert found.notes[0].startswith("No band in still air:")
    back = looked(2, line_now=LINE_OF[2], mechanics_now=slow)
    assert back.wider == "Wider than now: with what is in force no weights are good in still air."


def test_us_course_reads_its_own_units() -> None:
    metric, us = looked(2), looked(2, "us")
    assert us.air == "59 °F"
    for before, after in zip(metric.rows, us.rows, strict=True):
        # Exact factors: the pound of 1959 is 0.45359237 kg, the mile of 1959 is 1609.344 m.
        factor = 1 / 0.45359237 if before.posted.endswith("kg") else 3600 / 1609.344
        assert float(after.posted.split()[0]) == pytest.approx(float(before.posted.split()[0]) * factor, abs=0.1001)


def test_engineer_sees_it_at_the_look_and_the_manager_before_confirming(
    as_: As, course: Course, complete: Place, staff: Any
) -> None:
    engineer, address = as_("engineer"), path("mechanics_edit", course, complete)
    response, again = look(engineer, address, **PAPERS)
    page = text(response)
    assert "The weights and winds that would be computed" in page
    assert "Computed in still air at 15 °C" in page
    assert NOW not in page  # nothing is in force yet
    engineer.post(address, again)
    first = Version.objects.get(kind="mechanics", place=complete)
    assert "Emergency alone" in text(as_("manager").get(path("proposal", course, first)))
    from courses.actions import confirm

    confirm(first, deed=make.deed(staff["manager"], at=make.FOUNDED + timedelta(days=1)))
    assert "The weights and winds" not in text(as_("manager").get(path("proposal", course, first)))
    response, again = look(engineer, address, rider__drag_area_m2="0.30", source="Letter")
    assert "Wider than now: " in text(response)
    engineer.post(address, again)
    second = Version.objects.get(kind="mechanics", place=complete, number=2)
    page = text(as_("manager").get(path("proposal", course, second)))
    assert "Wider than now: " in page
    assert NOW in page
    assert page.index("Wider than now: ") < page.index("What changes")


def test_other_data_of_the_line_show_what_follows_for_its_band(
    as_: As, course: Course, complete: Place, staff: Any
) -> None:
    engineer, address = as_("engineer"), path("place_edit", course, complete)
    response, _again = look(engineer, address, mass_min_kg="30", source="Sheet 8")
    assert "The weights and winds" not in text(response)  # no mechanics in force
    _response, again = look(engineer, path("mechanics_edit", course, complete), **PAPERS)
    engineer.post(path("mechanics_edit", course, complete), again)
    content = Version.objects.get(kind="mechanics", place=complete).content
    settle(course, "mechanics", {**content, "launch_mps": "1.6"}, people=staff, place=complete)
    response, _again = look(engineer, address, mass_max_kg="125", source="Sheet 8")
    assert "heaviest rider 120 kg to 125 kg" in text(response)
    assert LINE["mass_max_kg"] == "120"
