"""Launch cards, tags and blank sheets to draw, of the day in ``papers_data``."""

from __future__ import annotations

from tests.reports.papers_data import PEOPLE, Data, day_sheet


def launch_cards(lines: int = 3) -> Data:
    """The cards of the same day."""
    day = day_sheet(lines)
    cards = [
        {
            "number": f"14-{line['number']}",
            "line": line,
            "brakes": [
                {"role": "primary", "kind": "spring", "what": "pack SP-01, resets by itself"},
                {"role": "emergency", "kind": "cord", "what": "EB-01, catches without anybody's help"},
            ],
            "not_issued": [{"tag": "A07", "what": "not found"}, {"tag": "H12", "what": "out of service"}],
            "way_off": "Stairs at the back of the platform.",
            "computed": {
                "from": "Band between the weights tested on 14 June; wind limits as set by the designer of record.",
                "source": "Course engineer, sheet 9, in force since 2 May 2026.",
            },
            "opened_by": {"name": PEOPLE[2], "role": "course manager", "at": "2026-06-14T06:52:00Z"},
        }
        for line in day["lines"]
    ]
    return {key: day[key] for key in ("format", "paper", "course", "date", "record", "trial")} | {"cards": cards}


def tags() -> Data:
    return {
        "format": 1,
        "paper": "a4",
        "course": day_sheet()["course"],
        "tags": [
            {
                "number": "0417",
                "item": "Spring pack",
                "component": "SP-03",
                "place": "Mill Race, landing end",
                "defect": "Free length 1149.5 mm.",
                "limit": "Limit: below 1152 mm.",
                "by": PEOPLE[0],
                "at": "2026-06-14T05:33:00Z",
                "address": "https://lines.example.org/findings/7f3k9q2m",
            },
            {
                "number": "0418",
                "item": "Harness",
                "component": "H12",
                "place": "Gear store",
                "defect": "Stitching worn at the left leg loop.",
                "by": PEOPLE[1],
                "at": "2026-06-14T05:41:00Z",
            },
        ],
    }


def blank_sheets() -> Data:
    """The evening before: one place as above, one with longer wording."""

    def item(code: str, text: str, look: str, kind: str = "mark", **more: str) -> Data:
        return {"code": code, "text": text, "look": look, "kind": kind, **more}

    cable = [
        item(
            "MC-01",
            "Broken wires, worst single lay",
            "Cloth along the whole length; count where it catches.",
            "count",
            limit="more than 1 per lay",
            last="0",
            last_on="2026-06-13",
        ),
        item(
            "MC-04",
            "Diameter at station 3",
            "Two readings at right angles, crown to crown.",
            "pair",
            unit="mm",
            limit="below 15.20",
            last="15.79",
            last_on="2026-06-13",
        ),
        item("MC-06", "Kink, birdcage, crush, core or strand out of place", "Look along the cable from both ends."),
        item(
            "MC-07",
            "Rust beyond the surface film",
            "At the terminations above all; wipe first.",
            last="sound",
            last_on="2026-06-13",
        ),
        item("MC-08", "Heat or arc mark", "Any blue, brown or pitted spot."),
        item(
            "MC-09",
            "Sag at mid-span",
            "With the temperature.",
            "figure",
            unit="m",
            limit="6.00 – 7.60",
            last="6.30",
            last_on="2026-06-13",
        ),
        item("MC-10", "Cable path clear", "Limbs, other cables, animals, ice."),
    ]
    brake = [
        item(
            "BS-1",
            "Free length of the spring pack",
            "Long rule from end plate to end plate, brake reset.",
            "figure",
            unit="mm",
            limit="below 1152; watch below 1187",
            last="1211",
            last_on="2026-06-13",
        ),
        item("BS-2", "Coils whole, gaps even", "Cracks, rust, coils that touched."),
        item("EB-01", "Emergency brake armed, set at its mark", "Mark and pin."),
    ]
    return {
        "format": 1,
        "paper": "a4",
        "course": day_sheet()["course"],
        "date": "2026-06-15",
        "places": [
            {
                "name": "Beech to Quarry",
                "kind": "line",
                "sheets": [{"label": "Cable", "items": cable}, {"label": "Landing end", "items": brake}],
            },
            {"name": "Quarry platform", "kind": "platform", "sheets": [{"label": "Platform", "items": brake[1:]}]},
        ],
    }
