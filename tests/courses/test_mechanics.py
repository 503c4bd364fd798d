"""The mechanics of a line as a document: its shape, what is missing of it, and the plan that is computed from it."""

from __future__ import annotations

from copy import deepcopy
from typing import Any

import pytest

from courses import documents, tightening, wording
from courses.errors import Refused
from courses.mechanics import brakes_of, line_of, plan_of, posted_of
from courses.mechanics_gaps import mechanics_gaps
from engineering.brakes import Cord, Eddy, Friction, Spring
from engineering.envelope import Plan
from engineering.refusal import Refusal
from inspections.demo.course import LINES
from inspections.demo.mechanics import MECHANICS

LINE = {line.number: line.document for line in LINES}


def entered(number: int = 2, **changes: Any) -> dict[str, Any]:
    """Return the figures of an invented line, some changed by their path with ``__`` between the steps."""
    found = deepcopy(documents.clean("mechanics", MECHANICS[number]))
    for path, value in changes.items():
        *steps, last = path.split("__")
        target: Any = found
        for step in steps:
            target = target[int(step)] if step.isdecimal() else target[step]
        if value is None:
            del target[last]
        else:
            target[last] = value
    return found


def plan(document: dict[str, Any], number: int = 2, **more: Any) -> Plan | Refusal:
    return plan_of(LINE[number] | more.pop("line", {}), document, **({"air_c": 15.0, "cross_mps": 0.0} | more))


@pytest.mark.parametrize("number", sorted(MECHANICS))
@pytest.mark.parametrize("arrangement", ["new", "worn", "worn-alone", "emergency-alone"])
def test_every_invented_line_makes_a_plan(number: int, arrangement: str) -> None:
    assert isinstance(plan(entered(number), number, arrangement_of=arrangement), Plan)
    assert mechanics_gaps(LINE[number], entered(number), {}) == []


def test_figures_become_si_and_nothing_is_put_in_their_place() -> None:
    found = plan(entered())
    assert isinstance(found, Plan)
    assert (found.line.span_m, found.line.drop_m, found.line.tension_n) == (207.7, 11.4, 9000.0)
    assert (found.line.cable.stiffness_n, found.line.cable.breaking_force_n) == (6.0e6, 101_000.0)
    assert found.air.pressure_pa == 100_500.0
    assert found.drag_by_weight
    spring = found.parts[0]
    assert isinstance(spring, Spring)
    assert (spring.rate_n_per_m, spring.preload_n, spring.to_bind_m, spring.caught) == (500.0, 220.0, 7.0, True)
    empty = line_of({}, {})
    assert (empty.span_m, empty.tension_n, empty.reference_c, empty.cable.expansion_per_k) == (None, None, None, None)


def test_each_kind_of_brake_is_computed_as_what_it_is() -> None:
    assert [type(part) for part in brakes_of(entered(5)).primary] == [Eddy, Cord]
    assert [type(part) for part in brakes_of(entered(4)).primary] == [Friction]
    assert brakes_of(entered(4)).primary[0].reaction_s == 0.75  # type: ignore[union-attr]


def test_worn_brake_needs_its_worn_limit_for_every_primary_part() -> None:
    assert brakes_of(entered(5)).wears is not None
    document = entered(5, parts__1__worn_length_m=None, parts__1__worn_share=None)
    assert brakes_of(document).wears is None
    refused = plan(document, 5, arrangement_of="worn")
    assert isinstance(refused, Refusal)
    assert refused.code == "figure-missing"


def test_emergency_brake_alone_has_limits_of_its_own_where_they_are_set() -> None:
    alone, both = plan(entered(), arrangement_of="emergency-alone"), plan(entered())
    assert isinstance(alone, Plan)
    assert isinstance(both, Plan)
    assert (alone.limits.peak_g, both.limits.peak_g) == (5.0, 3.2)
    plain = plan(entered(stop__emergency_peak_g=None), arrangement_of="emergency-alone")
    assert isinstance(plain, Plan)
    assert plain.limits.peak_g == 3.2


# Bad input of a line's papers, each with its own name; the limits are those of engineering.line and its neighbours.
@pytest.mark.parametrize(
    ("change", "line", "code"),
    [
        ({}, {"drop_m": "37.4"}, "drop-feet"),  # 11.4 m read as 37.4 ft and entered as metres
        ({"tension_kn": "2"}, {}, "sag-high"),
        ({"tension_kn": "0"}, {}, "tension-impossible"),
        ({"tension_kn": "150"}, {}, "tension-impossible"),  # above the breaking force
        ({"parts__0__bind_m": None, "parts__0__travel_m": "0.4"}, {}, "bind-preload"),
        ({"span_m": "681"}, {}, "span-length"),  # the span in feet
        ({"cable__stiffness_kn": "1349"}, {}, "stiffness-mass"),
        ({"reference_c": "68"}, {}, "temperature-range"),  # degrees Fahrenheit
        ({"rider__drag_area_m2": "5.4"}, {}, "drag-range"),  # square feet
        ({"zone__start_m": "640"}, {}, "landing-range"),
        ({"tension_date": None}, {}, "figure-missing"),
        ({"rider__by_weight": None}, {}, "figure-missing"),
        ({"pressure_hpa": None}, {}, "pressure-missing"),
        ({"launch_mps": None}, {}, "launch-missing"),
        ({"cable__expansion_per_k": None}, {}, "figure-missing"),
        ({"stop__peak_g": None}, {}, "limit-missing"),
        ({"parts__0__returned": None}, {}, "returned-missing"),
        ({"parts__1__slot": "emergency-2"}, {}, "brakes-differ"),
    ],
)
def test_bad_or_missing_figure_has_a_name_and_a_sentence(
    change: dict[str, Any], line: dict[str, Any], code: str
) -> None:
    refused = plan(entered(**change), line=line)
    assert isinstance(refused, Refusal), refused
    assert refused.code == code
    assert refused.sentence.endswith(".")


def test_nothing_entered_is_no_plan_and_no_gap_of_the_line() -> None:
    refused = plan({})
    assert isinstance(refused, Refusal)
    assert refused.code == "mechanics-missing"
    assert len(mechanics_gaps(LINE[2], {}, {})) > 15


def test_brakes_have_to_be_those_of_the_line() -> None:
    brakes = [*LINE[2]["brakes"], {"slot": "emergency-2", "role": "emergency", "kind": "hand", "shares": []}]
    refused = plan(entered(), line={"brakes": brakes})
    assert isinstance(refused, Refusal)
    assert refused.code == "brake-figures-missing"
    assert plan(entered(), line={"brakes": []}).code == "brakes-differ"  # type: ignore[union-attr]


def test_every_figure_that_may_be_missing_is_a_gap_and_refuses() -> None:
    """A figure without a default here has one in engineering: none may slip in from there."""
    whole = entered()
    for path in _paths(whole):
        document = entered(**{path: None})
        gaps, refused = mechanics_gaps(LINE[2], document, {}), plan(document, arrangement_of="new")
        optional = path.endswith(("given_by", "caught", "worn_length_m", "worn_share", "rated_mps", "_typed"))
        optional |= "__emergency_" in path
        assert bool(gaps) != optional, path
        assert isinstance(refused, Refusal) != optional, path


def _paths(document: Any, at: str = "") -> list[str]:
    found: list[str] = []
    steps = document.items() if isinstance(document, dict) else enumerate(document)
    for key, value in steps:
        if key in ("slot", "kind"):
            continue
        here = f"{at}__{key}" if at else str(key)
        found += _paths(value, here) if isinstance(value, dict | list) else [here]
    return found


def test_posted_figures_come_from_the_line_alone() -> None:
    assert posted_of(LINE[2]).problem() is None
    assert posted_of({}).problem() is not None


@pytest.mark.parametrize(
    "part",
    [
        {"slot": "primary-1", "kind": "eddy", "rate_n_per_m": "500"},
        {"slot": "first", "kind": "spring"},
        {"slot": "primary-1"},
    ],
)
def test_part_of_another_shape_is_refused(part: dict[str, str]) -> None:
    with pytest.raises(Refused):
        documents.clean("mechanics", {"parts": [part]})


def test_one_brake_stands_there_once() -> None:
    part = {"slot": "primary-1", "kind": "spring"}
    with pytest.raises(Refused):
        documents.clean("mechanics", {"parts": [part, part]})


def test_change_of_mechanics_never_only_tightens() -> None:
    """What is computed only narrows; yet a change of what it is computed from may widen it again."""
    assert not tightening.tightens("mechanics", None, entered())
    assert not tightening.tightens("mechanics", entered(), entered(tension_kn="8.5"))
    assert tightening.tightens("mechanics", entered(), entered())


def test_document_is_said_in_words_with_each_brake_under_its_own_heading() -> None:
    names = {"slot:primary-1": "Primary brake", "slot:emergency-1": "Emergency brake"}
    said = wording.grouped("mechanics", entered(), names=names)
    text = repr(said)
    assert "Primary brake" in text
    assert "Emergency brake" in text
    assert "500" in text
