"""Days to draw: an invented course with invented people. Limits and clauses are those of the reference on standards."""

from __future__ import annotations

import copy
import hashlib
from io import BytesIO
from typing import Any

from PIL import Image, ImageDraw

Data = dict[str, Any]

PEOPLE = ("Mira Castellan", "Tobias Renner", "Aïcha Lindqvist", "Piotr Wójcik")
COMPETENCE = "Authorised for spring, hand and magnetic brakes until 31 March 2027"
NAMES = (
    "Beech to Quarry",
    "Quarry to Mill",
    "Mill Race",
    "Long Meadow",
    "Heron Crossing",
    "Upper Gorge",
    "Lower Gorge",
    "Kiln Hill",
    "Saddle",
    "Old Orchard",
    "River Bend",
    "Home Run",
)
WIND = {"head_mps": "8.0", "tail_mps": "5.0", "cross_mps": "6.5", "gust_mps": "11.0"}


def sha(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()


PHOTO = sha("photo of the spring pack")


def picture(size: tuple[int, int] = (1280, 960)) -> bytes:
    """A drawn stand-in for a photo: a coil spring with one coil marked."""
    image = Image.new("RGB", size, (178, 182, 170))
    pen = ImageDraw.Draw(image)
    wide, high = size
    for coil in range(12):
        x = wide * (0.1 + 0.065 * coil)
        pen.ellipse((x, high * 0.3, x + wide * 0.09, high * 0.7), outline=(50, 52, 56), width=wide // 60)
    pen.rectangle((wide * 0.5, high * 0.2, wide * 0.68, high * 0.8), outline=(150, 20, 20), width=wide // 100)
    out = BytesIO()
    image.save(out, "JPEG", quality=85)
    return out.getvalue()


def photos(name: str) -> bytes | None:
    return picture() if name == PHOTO else None


def sound(code: str, wording: str, component: str = "") -> Data:
    return {"code": code, "component": component, "wording": wording, "mark": "sound", "text": "", "verdict": "ok"}


def figure(code: str, wording: str, text: str, unit: str, limit: str, clause: str, **more: Any) -> Data:
    return {
        "code": code,
        "wording": wording,
        "mark": "sound",
        "text": text,
        "unit": unit,
        "verdict": "ok",
        "limit": limit,
        "clause": clause,
        **more,
    }


def line_sheets(number: int) -> list[Data]:
    """The sheets of a spring-brake line; figures differ a little from line to line."""
    launch, landing = PEOPLE[number % 2], PEOPLE[(number + 1) % 2]
    minute = 2 * number

    def sheet(label: str, signer: str, start: int, end: int, readings: list[Data]) -> Data:
        return {
            "label": label,
            "signer": signer,
            "competence": COMPETENCE,
            "entry": 4600 + 6 * number + len(readings) % 5,
            "started_at": f"2026-06-14T05:{start:02d}:00Z",
            "signed_at": f"2026-06-14T05:{end:02d}:00Z",
            "from_paper": False,
            "amends": False,
            "reason": "",
            "readings": readings,
        }

    return [
        sheet(
            "Launch end",
            launch,
            5 + minute,
            12 + minute,
            [
                sound("PL-02", "Gate closes and latches unaided"),
                sound("PL-03", "Staff and guest anchors on the platform"),
                sound("TA-05", "Thimble seated, not spread"),
                sound("TA-06", "Turnbuckle threads engaged and locked", f"TB-{number:02d}A"),
                sound("SC-01", "Posted limits legible"),
                sound("SC-03", "Radio both directions"),
                figure(
                    "TA-01",
                    "Clips present, saddle on the live side",
                    "4",
                    "",
                    "at least 4",
                    "29 CFR 1926.251 table H-20",
                ),
                figure(
                    "TA-03",
                    "Tail length behind the last clip",
                    f"21{number % 10}.5",
                    "mm",
                    "change at most 1 mm",
                    "Course engineer, sheet 7",
                ),
            ],
        ),
        sheet(
            "Cable",
            landing,
            6 + minute,
            20 + minute,
            [
                sound("MC-06", "No kink, birdcage, crush, core or strand out of place"),
                sound("MC-07", "No rust beyond the surface film"),
                sound("MC-08", "No heat or arc mark"),
                sound("MC-10", "Cable path clear: limbs, other cables, ice"),
                figure(
                    "MC-01",
                    "Broken wires, worst single lay",
                    "0",
                    "",
                    "more than 1 per lay",
                    "Iowa 875-61.2(15)",
                    component=f"CB-{number:02d}",
                ),
                figure(
                    "MC-04",
                    "Diameter at station 3, two readings",
                    f"15.{80 - number}",
                    "mm",
                    "below 15.20",
                    "7 Pa. Code 139: 5 % of nominal",
                    component=f"CB-{number:02d}",
                ),
                figure(
                    "MC-09",
                    "Sag at mid-span, 14 °C",
                    f"{6 + number / 10:.2f}",
                    "m",
                    "6.00 – 7.60",
                    "Course engineer, sheet 3",
                ),
            ],
        ),
        sheet(
            "Landing end",
            landing,
            10 + minute,
            26 + minute,
            [
                sound("BS-2", "Coils whole, gaps even", f"SP-{number:02d}"),
                sound("BS-3", "Guides and end plates slide freely", f"SP-{number:02d}"),
                sound("EB-01", "Emergency brake armed, set at its mark", f"EB-{number:02d}"),
                sound("EB-04", "Emergency brake not used since last check", f"EB-{number:02d}"),
                sound("PL-06", "Landing clear, padding in place"),
                figure(
                    "BS-1",
                    "Free length of the spring pack",
                    f"{1212 - number}",
                    "mm",
                    "below 1187 (2 % set: watch)",
                    "Maker's manual, page 14",
                    component=f"SP-{number:02d}",
                ),
                figure(
                    "BS-4",
                    "Room left before the coils touch",
                    "164",
                    "mm",
                    "below 120",
                    "Course engineer, sheet 9",
                    component=f"SP-{number:02d}",
                ),
            ],
        ),
    ]


def ride(number: int, name: str, mass: str, minute: int, **more: Any) -> Data:
    return {
        "line": str(number),
        "name": name,
        "at": f"2026-06-14T06:{minute:02d}:00Z",
        "mass_kg": mass,
        "wind": "2.1 m/s head",
        "state": "dry",
        "speed": f"{9.4 + float(mass) / 60 + number / 10:.1f}",
        "stroke_used": f"{float(mass) / 60 + 0.9:.2f}",
        "stroke_available": "3.60 m",
        "swing": "20°",
        "reset": True,
        "landing_clear_by": PEOPLE[(number + 1) % 2],
        "verdict": "ok",
        "sentence": "Stopped inside the marks, reset by itself.",
        "signer": PEOPLE[number % 2],
        "voided": False,
        "entry": 4690 + number,
        **more,
    }


def open_line(number: int) -> Data:
    return {
        "number": str(number),
        "name": NAMES[number - 1],
        "maker": "Tarnbeck Ropeworks",
        "serial": f"TB-2019-{number:03d}",
        "decision": "open",
        "state": "ready",
        "reasons": [],
        "cautions": [],
        "limits": {
            "mass_min_kg": "40",
            "mass_max_kg": str(118 - number % 3),
            "mass_as": "dressed, with harness",
            "wind": dict(WIND),
        },
        "rulings": [],
        "designer": "I. Brandvold, structural engineer",
        "opened_at": "2026-06-14T06:52:00Z",
    }


def day_sheet(lines: int = 1) -> Data:
    """A complete day with ``lines`` spring-brake lines.

    With three or more, line 3 is closed over a spring pack past its limit and line 2 opens under a ruling.
    """
    numbers = range(1, lines + 1)
    data: Data = {
        "format": 1,
        "paper": "a4",
        "course": {
            "name": "Ostermoor Lines",
            "town": "Ostermoor",
            "operator": "Ostermoor Forest Cooperative",
            "tz": "Europe/Vienna",
            "law_place": "Ostermoor district, ride rules of 2019",
        },
        "date": "2026-06-14",
        "revision": 1,
        "opens_at": "2026-06-14T07:30:00Z",
        "made_at": "2026-06-14T06:52:31Z",
        "lines": [open_line(n) for n in numbers],
        "places": [{"name": NAMES[n - 1], "line": str(n), "kind": "line", "sheets": line_sheets(n)} for n in numbers],
        "rides": [ride(n, NAMES[n - 1], mass, 20 + n) for n in numbers for mass in ("40", "118")],
        "findings": [],
        "holds": [],
        "weather": {
            "decision": "Open: wind inside every limit, no warning for the district until 18:00.",
            "forecast": "Read 07:05: light westerly wind, dry, 24 °C in the afternoon.",
            "wind": "2.1 m/s, gusts 3.8 m/s from the west at the Beech platform, read 08:10.",
            "thunder": "None heard; none forecast.",
            "state": "Dry.",
            "temperature": "14 °C at 07:40.",
        },
        "communication": [
            {
                "sentence": "Radio and hand signals tried between every launch and landing; all answered.",
                "by": PEOPLE[0],
                "at": "2026-06-14T06:12:00Z",
            }
        ],
        "rescuers": [{"name": PEOPLE[0], "role": "lead"}, {"name": PEOPLE[3], "role": "second"}],
        "missing": [],
        "gear": {
            "racks": [
                {
                    "label": "Trolleys A1 – A20",
                    "count": 19,
                    "register": 20,
                    "exceptions": [{"tag": "A07", "what": "not found; not to be issued"}],
                },
                {
                    "label": "Harnesses H1 – H20",
                    "count": 20,
                    "register": 20,
                    "exceptions": [{"tag": "H12", "what": "stitching worn, out of service"}],
                },
                {"label": "Helmets", "count": 24, "register": 24, "exceptions": []},
            ]
        },
        "signatures": [
            {
                "name": PEOPLE[0],
                "role": "Technician",
                "meaning": "I inspected what these sheets name, at the place, and entered what I found.",
                "at": "2026-06-14T06:31:00Z",
            },
            {
                "name": PEOPLE[1],
                "role": "Technician",
                "meaning": "I inspected what these sheets name, at the place, and entered what I found.",
                "at": "2026-06-14T06:33:00Z",
            },
            {
                "name": PEOPLE[2],
                "role": "Course manager",
                "meaning": "I have read the sheets, findings and test rides of this day and open the lines named here.",
                "at": "2026-06-14T06:52:00Z",
            },
        ],
        "sign_off": {
            "name": PEOPLE[2],
            "role": "course manager",
            "meaning": "I have read the sheets, findings and test rides of this day and open the lines named here.",
            "at": "2026-06-14T06:52:00Z",
            "how": "Password entered again for this signature.",
        },
        "record": {"entry": 4711, "hash": sha("entry 4711"), "snapshot": sha("the content of the day")},
        "trial": False,
    }
    if lines >= 3:
        _with_trouble(data)
    return data


def step(kind: str, at: str, by: str, note: str, detail: str) -> Data:
    return {"kind": kind, "at": at, "by": by, "note": note, "detail": detail}


def _with_trouble(data: Data) -> None:
    """Make the day one with a closed line, a ruling, a caution, findings, an amendment and a hold."""
    second, third = data["lines"][1], data["lines"][2]
    second["rulings"] = [
        {
            "sentence": "Rust bleeding at the lower termination, surface only.",
            "restriction": "Riders up to 100 kg; look again every day.",
            "until": "2026-06-20",
            "by": "I. Brandvold",
        }
    ]
    second["limits"]["mass_max_kg"] = "100"
    data["lines"][0]["cautions"] = [
        "Cable free of shade until noon: spring temperature rises, expect 0.2 m more brake travel."
    ]
    third.update(
        decision="closed",
        state="held",
        reasons=[
            "Free length of the spring pack SP-03 is past its limit.",
            "Critical finding open: Spring pack SP-03 has set by 5.2 %.",
        ],
    )
    spring = data["places"][2]["sheets"][2]["readings"][5]
    spring.update(
        text="1149.5",
        verdict="withdraw",
        mark="defect",
        photos=[PHOTO],
        before="1194.5",
        sentence="1149.5 mm is below the limit of 1152 mm: out of service.",
        note="Measured twice with the long rule, third coil from the landing end sits closer.",
    )
    data["places"][2]["sheets"][2].update(amends=True, reason="First figure was read from the wrong end of the rule.")
    data["places"][1]["sheets"][1]["readings"][1] = {
        **sound("MC-07", "No rust beyond the surface film", "CB-02"),
        "mark": "defect",
        "verdict": "watch",
        "clause": "29 CFR 1926.1413(a)(2)(i)",
        "note": "Brown water at the lower termination after the rain of Friday.",
        "sentence": "Watch: look again every day until 20 June.",
    }
    data["places"][0]["sheets"][1].update(from_paper=True)
    note = "Cover plate frozen shut; measured again with the next ride."
    data["places"][0]["sheets"][2]["readings"][6].update(verdict="unknown", mark="not_done", text="", note=note)
    data["rides"][4].update(voided=True, sentence="Stopped 0.4 m past the mark.")
    data["rides"][5].update(
        verdict="withdraw", sentence="Brake travel 3.55 m of 3.60 m: past the limit of 80 %.", reset=False
    )
    data["findings"] = [
        {
            "title": "Spring pack SP-03 has set by 5.2 %",
            "place": "Mill Race, landing end",
            "component": "SP-03",
            "severity": "critical",
            "state": "open",
            "out_of_service": True,
            "tag_number": "0417",
            "limit": "free length below 1152 mm (5 %)",
            "clause": "Maker's manual, page 14",
            "opened_at": "2026-06-14T05:33:00Z",
            "opened_by": PEOPLE[0],
            "steps": [
                step("out_of_service", "2026-06-14T05:33:00Z", PEOPLE[0], "Tag 0417 tied to the pack.", ""),
                step(
                    "energy_released",
                    "2026-06-14T06:02:00Z",
                    PEOPLE[3],
                    "Pack run out and pinned; second person Tobias Renner.",
                    "",
                ),
            ],
        },
        {
            "title": "Rust bleeding at the lower termination",
            "place": "Quarry to Mill",
            "component": "CB-02",
            "severity": "major",
            "state": "open",
            "out_of_service": False,
            "limit": "corrosion beyond the surface",
            "clause": "29 CFR 1926.1413(a)(2)(i), adopted by the course",
            "opened_at": "2026-06-13T05:20:00Z",
            "opened_by": PEOPLE[1],
            "watch_until": "2026-06-20",
            "watch_reason": "Termination is renewed on 19 June; part ordered.",
            "ruling": "Riders up to 100 kg until then. I. Brandvold, 13 June.",
            "steps": [],
        },
        {
            "title": "Lock nut of trolley A03 loose",
            "place": "Gear store",
            "component": "A03",
            "severity": "critical",
            "state": "released",
            "out_of_service": False,
            "tag_number": "0415",
            "opened_at": "2026-06-12T05:50:00Z",
            "opened_by": PEOPLE[1],
            "steps": [
                step("replacement", "2026-06-13T14:10:00Z", PEOPLE[3], "New lock nut, part 88-12, torque 25 Nm.", ""),
                step(
                    "release",
                    "2026-06-13T15:02:00Z",
                    PEOPLE[0],
                    "Turned by hand, witness mark set.",
                    "Tag 0415 taken off by the person who tied it.",
                ),
            ],
        },
    ]
    data["holds"] = [
        {
            "cause": "Person on the line",
            "where": "Mill Race and its neighbours",
            "called_at": "2026-06-14T06:01:00Z",
            "by": PEOPLE[3],
            "lifted_at": "2026-06-14T06:17:00Z",
            "lifted_by": PEOPLE[3],
            "told": "launch and landing by radio, 08:02",
        }
    ]


def without(data: Data, *path: Any) -> Data:
    """Return a copy of data with one thing taken out."""
    data = copy.deepcopy(data)
    at = data
    for key in path[:-1]:
        at = at[key]
    del at[path[-1]]
    return data
