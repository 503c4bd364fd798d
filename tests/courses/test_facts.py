"""What the rules are told of a part, from what was entered about the line and about the component fitted there."""

from typing import Any

from accounts.models import User
from courses.facts import facts_for
from courses.models import Component, Course, Place
from courses.queries import setup_at
from tests.courses import build

CERTIFICATE = {
    "construction": "6x36WS", "diameter_mm": "16", "grade": "1960", "core": "steel", "lay": "ordinary", "mbf_kn": "161",
    "rotation_resistant": "no",
}  # fmt: skip


def facts(course: Course, line: Place, slot: str, measures: str, morning: Any) -> dict[str, str]:
    setup = setup_at(course, morning)
    item = {"key": f"X-1@{slot}", "slot": slot, "measures": measures, "kind": "figure"}
    return facts_for(setup, line, item, setup.component_at(line, slot), setup.today)


def test_the_cable_is_a_standing_rope_described_by_the_line(course: Course, complete: Place, morning: Any) -> None:
    found = facts(course, complete, "cable", "rope.diameter", morning)

    # 6x36WS has 216 wires, 36 a strand (engineering.rope, CONSTRUCTIONS); 16 mm as on the drawing
    assert (found["rope_class"], found["nominal"], found["wires_total"]) == ("standing", "16", "216")
    assert (found["stranded"], found["rope_core"], found["day"]) == ("yes", "steel", "2026-06-15")
    assert found["fitted"] == "2026-05-01"
    assert "rotation_resistant" not in found  # nobody entered it, so rules that hang on it say so


def test_the_certificate_of_the_very_rope_goes_first(
    course: Course, complete: Place, staff: dict[str, User], morning: Any
) -> None:
    cable = Component.objects.get(tag="CB-01")
    figure = {"nominal": "16", "baseline": "16.3", "baseline_date": "2026-05-01", "gauge": "C-2"}
    data = {"certificate": CERTIFICATE, "figures": {"rope.diameter": figure}, "dates": {"made": "2025-11-03"}}
    build.settle(course, "component", data, people=staff, component=cable)

    found = facts(course, complete, "cable", "rope.diameter", morning)

    assert (found["rotation_resistant"], found["baseline"], found["made"]) == ("no", "16.3", "2025-11-03")
    # The weaker end counts: clips keep 80 % (WAC 296-874-30020, engineering.rope EFFICIENCY): 161 x 0.8
    assert found["mbf_kn"] == "128.8"


def test_an_end_knows_its_clips_and_the_rope_but_has_no_size_from_it(
    course: Course, complete: Place, morning: Any
) -> None:
    found = facts(course, complete, "end-launch", "clip.torque", morning)

    assert (found["required_torque"], found["clip_type"], found["rope_diameter"]) == ("129", "drop_forged", "16")
    assert "nominal" not in found


def test_the_brakes_of_the_line_are_told_in_the_rules_words(course: Course, complete: Place, morning: Any) -> None:
    found = facts(course, complete, "ride", "stroke.used", morning)

    assert (found["primary_brake"], found["emergency_brake"], found["stroke_available"]) == ("spring", "yes", "9")
