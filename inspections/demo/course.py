"""The invented course: six lines that differ in length, brakes and ends, their platforms, components and gear.

Every number here is made up to be plausible; none is taken from a real course, maker or designer.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

OPERATOR = "Fernhollow Adventures"
COURSE = "Fernhollow Zip Course"
TOWN = "Fernhollow Ridge"
TZ = "America/New_York"
LAW_PLACE = "US-FL"  # whose published daily list the coverage page compares with; the course itself is nowhere
DESIGNER = "Marchbank Engineering, drawing set FH-2024, rev. C (invented)"
MANUAL = "Course manual FH, part"

SETS = (
    "found-defective",
    "osha-1926-1413",
    "msha-30cfr-56-19024",
    "hardware-b3026",
    "california-8497-clips",
    "washington-296",
    "ppe-en365",
    "osha-1926-502-gear",
    "zipline-speed-bands",
    "thunder-30",
    "judgement-values",
    "starting-values",
    "line-brake-manual",
    "en-1176-4-swing",
    "faa-ac43-13-turnbuckles",
)

PEOPLE = (
    ("technician", "tamsin@fernhollow.example", "Tamsin Okafor"),
    ("technician", "ruben@fernhollow.example", "Ruben Vale"),
    ("manager", "maren@fernhollow.example", "Maren Holt"),
    ("engineer", "edda@fernhollow.example", "Edda Lindqvist"),
    ("auditor", "anselm@audits.example", "Anselm Prior"),
    ("guide", "gwen@fernhollow.example", "Gwen Tarrant"),
)
PASSWORD = "morning-walk-2026"  # noqa: S105 - printed for everyone who loads the demo

CALENDAR = {
    "seasons": [{"from": "2024-01-01", "to": "2035-12-31"}],
    "weekdays": [1, 2, 3, 4, 5, 6, 7],
    "opens": "09:30",
    "closes": "17:30",
    "closed": [],
    "extra": [],
}

PLATFORMS = (
    (1, "Gatehouse", {"support": "tower", "guys": "4", "way_off": "stairs", "gate": "yes", "padding": "no"}),
    (2, "Old Oak", {"support": "tree", "guys": "0", "way_off": "line:2", "gate": "yes", "padding": "yes"}),
    (3, "Quarry Edge", {"support": "pole", "guys": "4", "way_off": "stairs", "gate": "yes", "padding": "yes"}),
    (4, "Beech Ring", {"support": "tree", "guys": "0", "way_off": "lowering", "gate": "yes", "padding": "yes"}),
    (5, "Long Ridge", {"support": "pole", "guys": "4", "way_off": "walk", "gate": "yes", "padding": "yes"}),
    (6, "Mill Pond", {"support": "tower", "guys": "4", "way_off": "stairs", "gate": "yes", "padding": "yes"}),
    (7, "Home Field", {"support": "ground", "guys": "0", "way_off": "walk", "gate": "no", "padding": "yes"}),
)


@dataclass(frozen=True)
class DemoLine:
    """One line: its document and the tags of what is fitted on it, by slot."""

    number: int
    name: str
    launch: int
    landing: int
    document: dict[str, Any]
    fitted: dict[str, tuple[str, str, str]]  # slot: (tag, kind, label)
    stroke_m: str  # usual brake travel with the heavy ballast
    speed_mps: str


def _end(kind: str, anchor: str, diameter: str, *, turnbuckle: str = "no", backup: str = "yes") -> dict[str, Any]:
    end: dict[str, Any] = {
        "kind": kind,
        "anchor": anchor,
        "backup": backup,
        "turnbuckle": turnbuckle,
        "shackle": "no" if anchor == "tree" else "yes",
    }
    if kind == "clips":
        end["clips"] = {"count": "4", "size_mm": diameter, "torque_nm": "88.1", "table": "drop_forged"}
    return end


def _cable(construction: str, diameter: str, mbf: str, wires: str) -> dict[str, str]:
    return {
        "construction": construction,
        "diameter_mm": diameter,
        "grade": "1960",
        "core": "steel",
        "lay": "ordinary",
        "mbf_kn": mbf,
        "wires_total": wires,
    }


def _line(
    number: int,
    name: str,
    *,
    length: str,
    drop: str,
    speed: str,
    stroke: str,
    available: str,
    ends: tuple[Any, Any],
    cable: dict[str, str],
    brakes: list[dict[str, Any]],
    mass: tuple[str, str] = ("35", "115"),
    wind: tuple[str, str, str] = ("9", "6", "8"),
) -> DemoLine:
    document = {
        "length_m": length,
        "drop_m": drop,
        "mass_min_kg": mass[0],
        "mass_max_kg": mass[1],
        "mass_as": "with_harness",
        "wind": {"head_mps": wind[0], "tail_mps": wind[1], "cross_mps": wind[2]},
        "arrival_speed_mps": speed,
        "speed_instrument": "radar at the landing" if number in (3, 5, 6) else "",
        "designer": DESIGNER,
        "maker": "Tarnbeck Ropeways (invented)",
        "serial": f"TR-24-{number:03d}",
        "stroke_available_m": available,
        "engineered_landing": "yes",
        "cable": cable,
        "ends": {"launch": ends[0], "landing": ends[1]},
        "brakes": brakes,
    }
    kinds = {"hand": "rope", "spring": "spring", "magnetic": "brake", "cord": "cord"}
    labels = {
        "hand": "block and rope brake",
        "spring": "spring pack",
        "magnetic": "eddy-current brake",
        "cord": "elastic cord",
    }
    fitted = {
        "cable": (f"CB-{number:02d}", "cable", f"{cable['diameter_mm']} mm {cable['construction']}"),
        "end-launch": (f"TL-{number:02d}", "termination", f"launch end, {ends[0]['kind']}"),
        "end-landing": (f"TG-{number:02d}", "termination", f"landing end, {ends[1]['kind']}"),
    }
    for index, brake in enumerate(brakes):
        if brake["kind"] != "runout":
            letter = "E" if brake["role"] == "emergency" else "P"
            fitted[brake["slot"]] = (
                f"B{letter}-{number:02d}{'ABC'[index]}",
                kinds[brake["kind"]],
                labels[brake["kind"]],
            )
    return DemoLine(number, name, number, number + 1, document, fitted, stroke, speed)


def _brake(slot: str, kind: str) -> dict[str, Any]:
    return {"slot": slot, "role": slot.split("-")[0], "kind": kind, "shares": []}


LINES = (
    _line(
        1,
        "Wren",
        length="82",
        drop="3.1",
        speed="2.4",
        stroke="1.9",
        available="6",
        ends=(_end("clips", "tower", "12.7"), _end("wrap", "tree", "12.7")),
        cable=_cable("7x19", "12.7", "101", "133"),
        brakes=[_brake("primary-1", "runout")],
    ),
    _line(
        2,
        "Kestrel",
        length="208",
        drop="11.4",
        speed="11",
        stroke="4",
        available="7",
        ends=(_end("wrap", "tree", "12.7"), _end("sleeve", "pole", "12.7", turnbuckle="yes")),
        cable=_cable("7x19", "12.7", "101", "133"),
        brakes=[_brake("primary-1", "spring"), _brake("emergency-1", "spring")],
    ),
    _line(
        3,
        "Heron",
        length="318",
        drop="18",
        speed="12",
        stroke="7.2",
        available="15",
        ends=(_end("socket", "pole", "16"), _end("wrap", "tree", "16")),
        cable=_cable("6x36WS", "16", "178.6", "216"),
        brakes=[_brake("primary-1", "magnetic"), _brake("emergency-1", "spring")],
        wind=("10", "7", "9"),
    ),
    _line(
        4,
        "Lapwing",
        length="176",
        drop="8.2",
        speed="9.8",
        stroke="9.3",
        available="16",
        ends=(_end("clips", "tree", "12.7"), _end("clips", "pole", "12.7", turnbuckle="yes")),
        cable=_cable("7x19", "12.7", "101", "133"),
        brakes=[_brake("primary-1", "hand"), _brake("emergency-1", "magnetic")],
        mass=("40", "105"),
    ),
    _line(
        5,
        "Goshawk",
        length="402",
        drop="25.6",
        speed="12.8",
        stroke="7.8",
        available="20",
        ends=(_end("sleeve", "pole", "16"), _end("socket", "tower", "16")),
        cable=_cable("6x36WS", "16", "178.6", "216"),
        brakes=[_brake("primary-1", "magnetic"), _brake("primary-2", "cord"), _brake("emergency-1", "spring")],
        wind=("10", "7", "8"),
    ),
    _line(
        6,
        "Osprey",
        length="556",
        drop="36",
        speed="12.8",
        stroke="4.5",
        available="9",
        ends=(_end("socket", "tower", "19"), _end("sleeve", "ground", "19")),
        cable=_cable("6x36WS", "19", "251.9", "216"),
        brakes=[_brake("primary-1", "spring"), _brake("emergency-1", "cord")],
        wind=("11", "7", "8"),
        mass=("45", "115"),
    ),
)

RACKS = (
    ("A", "trolley", "TR", 12, "tandem trolley"),
    ("B", "harness", "HA", 16, "full harness"),
    ("C", "lanyard", "LA", 16, "twin lanyard"),
    ("D", "helmet", "HE", 16, "helmet"),
)
RESCUE_KITS = (("RK-1", "rescue kit, ridge"), ("RK-2", "rescue kit, pond"))

# Own limits where no published number exists, by quantity: rule kind, comparison, unit, parameters, where it is from.
# Standard uncertainty of the course's gauges with the hand that holds them, by quantity, in its unit (invented).
GAUGES = {
    "rope.diameter": "0.02", "rope.sag": "0.06", "spring.free_length": "0.6", "cord.free_length": "4",
    "tail.length": "1", "scale.error": "0.1",
}  # fmt: skip

OWN_LIMITS: dict[str, tuple[str, str, str, dict[str, str], str]] = {
    "swage.mark": ("max", ">", "mm", {"limit": "0.5"}, f"{MANUAL} 3, table 3.2"),
    "cord.cycles": ("max", ">=", "count", {"limit": "40000"}, "Cord maker's manual (invented), page 7"),
    "periodic.resocket": ("age_months", ">", "months", {"limit": "24", "from": "last_done"}, f"{MANUAL} 3, section 6"),
    "periodic.annual": ("age_months", ">", "months", {"limit": "12", "from": "last_done"}, f"{MANUAL} 1, section 4"),
    "scale.seal": ("age_months", ">", "months", {"limit": "12", "from": "last_done"}, f"{MANUAL} 8, section 6"),
    "tree.assessment": (
        "age_months",
        ">",
        "months",
        {"limit": "12", "from": "last_inspection"},
        f"{MANUAL} 3, section 8",
    ),
    "brake.rope_age": ("age_months", ">", "months", {"limit": "48", "from": "purchased"}, f"{MANUAL} 4, section 5"),
    "weather.wind_gust": ("max", ">", "m/s", {"limit": "9"}, f"{MANUAL} 6, table 6.1"),
    "weather.wind_mean": ("max", ">", "m/s", {"limit": "7"}, f"{MANUAL} 6, table 6.1"),
    "rescue.people": ("min", "<", "count", {"limit": "2"}, f"{MANUAL} 9, section 2"),
    "rollback": ("max", ">", "m", {"limit": "3.5"}, f"{MANUAL} 4, line 1"),
    "air.gap": ("range", ">", "mm", {"min": "4", "max": "7"}, "Brake maker's manual (invented), page 21"),
    "structure.lean": ("max", ">", "mm", {"limit": "25"}, f"{MANUAL} 3, table 3.4"),
    "trolley.spin_time": ("min", "<", "s", {"limit": "12"}, f"{MANUAL} 8, section 4"),
}
