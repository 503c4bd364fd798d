"""A small library and a line described, for the tests of checklists."""

from pathlib import Path
from typing import Any

from courses import checklists
from courses.checklists import compose
from engineering import criteria

QUANTITIES = Path(criteria.__file__).with_name("criteria") / "QUANTITIES.md"
FITTINGS = ("turnbuckle", "shackle", "backup")

SMALL = """
[[item]]
code = "MC-04"
text = "What is the diameter at the marked station?"
look = "Two readings at right angles, crown to crown."
kind = "pair"
unit = "mm"
class = "critical"
sheet = "cable"
slot = "cable"
every = "180"
reach = "hand"
measures = "rope.diameter"
needs = ["calliper"]
sources = ["R-120 (8 CCR 5036(a)(2)(B), READ)", "R-121 (30 CFR 56.19024(g), READ)"]
laws = ["MD:rope"]

[[item]]
code = "TA-06"
text = "Is the turnbuckle locked?"
look = "Both ends fully engaged, locked, straight."
kind = "look"
class = "major"
sheet = "end"
slot = "end"
every = "1"
reach = "hand"
measures = "turnbuckle.condition"
sources = ["R-414 (FAA AC 43.13-1B, READ)"]
when.turnbuckle = "yes"

[[item]]
code = "BS-2"
text = "Are the coils sound?"
look = "No crack, no rust, even gaps."
kind = "look"
class = "critical"
sheet = "landing"
slot = "brake"
every = "event:strike"
reach = "platform"
measures = "spring.condition"
sources = ["common practice, no source"]
laws = ["FL:f"]
when.brake = ["spring"]
when.role = ["primary"]
"""


def line(
    primary: tuple[str, ...] = ("spring",), emergency: str = "cord", *, launch: str = "clips", landing: str = "sleeve",
    anchor: str = "tower", at_launch: tuple[str, ...] = (), at_landing: tuple[str, ...] = (),
    construction: str = "6x36WS",
) -> dict[str, Any]:  # fmt: skip
    """Return a line's data; of the fittings exactly those named are there."""

    def end(kind: str, fitted: tuple[str, ...]) -> dict[str, str]:
        return {"kind": kind, "anchor": anchor} | {name: "yes" if name in fitted else "no" for name in FITTINGS}

    brakes = [{"slot": f"primary-{n}", "role": "primary", "kind": kind} for n, kind in enumerate(primary, 1)]
    return {
        "cable": {"construction": construction},
        "ends": {"launch": end(launch, at_launch), "landing": end(landing, at_landing)},
        "brakes": [*brakes, {"slot": "emergency-1", "role": "emergency", "kind": emergency}],
        "speed_instrument": "light gate",
    }


def small(document: dict[str, Any] | None = None) -> dict[str, Any]:
    document = line(at_launch=("turnbuckle",)) if document is None else document
    return compose("line", document, items=checklists.library_from_toml(SMALL))


def keys(content: dict[str, Any]) -> list[str]:
    return [item["key"] for item in content["items"]]
