"""The four papers as they come out of the drawing: what stands on them, on which pages, in which ink.

They are read with other programs than the one that draws: pypdf and Poppler's pdftotext, pdffonts and pdftoppm. What a
daily record must contain is the list of the amusement rules (reference standards, R-241, by way of
``completeness.FIELDS``); what a tag must say is 29 CFR 1910.147(c)(5) and (e)(3).
"""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from collections.abc import Callable, Iterator
from datetime import date
from io import BytesIO
from itertools import combinations, pairwise
from pathlib import Path
from typing import Any, NamedTuple
from xml.etree import ElementTree

import pytest
from PIL import Image, ImageChops
from pypdf import PdfReader

from reports.papers.blank_sheet import draw_blank_sheets
from reports.papers.completeness import FIELDS, gaps
from reports.papers.day_sheet import draw_day_sheet
from reports.papers.launch_card import draw_launch_card
from reports.papers.tag import draw_blank_tags, draw_tags
from tests.reports import papers_data as make

Data = dict[str, Any]
MM = 72 / 25.4


def draw_day(data: Data) -> bytes:
    return draw_day_sheet(data, photos=make.photos)


PAPERS: dict[str, tuple[Callable[[Data], bytes], Callable[[], Data]]] = {
    "day sheet": (draw_day, lambda: make.day_sheet(3)),
    "launch card": (draw_launch_card, make.launch_cards),
    "tag": (draw_tags, make.tags),
    "blank sheet": (draw_blank_sheets, make.blank_sheets),
}
every_paper = pytest.mark.parametrize("name", PAPERS)


def drawn(name: str, size: str = "a4") -> bytes:
    draw, data = PAPERS[name]
    return draw({**data(), "paper": size})


# --- reading a paper


def pages(pdf: bytes) -> list[str]:
    """The text of each page, on one line."""
    return [" ".join(page.extract_text().split()) for page in PdfReader(BytesIO(pdf)).pages]


def tight(text: str) -> str:
    """Text without any space, so that it is found wherever a line ends."""
    return re.sub(r"\s", "", text)


def letters(pdf: bytes) -> str:
    return tight("".join(pages(pdf)))


class Word(NamedTuple):
    page: int
    left: float
    top: float
    right: float
    bottom: float
    text: str


def words(pdf: bytes, folder: Path) -> tuple[list[Word], tuple[float, float]]:
    """Every word with its box, in points from the page's upper left corner, and the size of the pages."""
    path = folder / "paper.pdf"
    path.write_bytes(pdf)
    shown = subprocess.run(["pdftotext", "-bbox", path, "-"], check=True, capture_output=True).stdout
    found, size = [], (0.0, 0.0)
    space = "{http://www.w3.org/1999/xhtml}"
    for number, page in enumerate(ElementTree.fromstring(shown).iter(f"{space}page")):  # noqa: S314 of our own paper
        size = float(page.attrib["width"]), float(page.attrib["height"])
        for word in page.iter(f"{space}word"):
            box = (float(word.attrib[key]) for key in ("xMin", "yMin", "xMax", "yMax"))
            found.append(Word(number, *box, word.text or ""))
    return found, size


def squares(pdf: bytes, side: float) -> list[list[tuple[float, float]]]:
    """The lower left corner of each drawn square of one size, page by page."""
    number = rb"(-?[\d.]+)"
    rectangle = re.compile(rb" ".join([number] * 4) + rb" re")
    found = []
    for page in PdfReader(BytesIO(pdf)).pages:
        boxes = [tuple(map(float, box)) for box in rectangle.findall(page.get_contents().get_data())]
        found.append([(x, y) for x, y, wide, high in boxes if abs(wide - side) < 0.01 and abs(high - side) < 0.01])
    return found


# --- every paper


@every_paper
def test_each_page_says_which_it_is_of_how_many(name: str) -> None:
    """But for tags, which are cut apart: their number is what tells them from one another."""
    if name == "tag":
        assert "Page" not in letters(drawn(name))
        return
    found = pages(drawn(name))
    assert len(found) > 1
    for number, text in enumerate(found, 1):
        assert f"Page {number} of {len(found)}" in text


@every_paper
@pytest.mark.parametrize("size", ["a4", "letter"])
def test_the_paper_has_its_size(name: str, size: str) -> None:
    """ISO 216 and ANSI/ASME Y14.1; half a sheet is A5 or half letter."""
    full = {"a4": (210 * MM, 297 * MM), "letter": (8.5 * 72, 11 * 72)}[size]
    wide = {
        "day sheet": full,
        "blank sheet": full,
        "tag": full[::-1],
        "launch card": (full[0], full[1] / 2) if size == "letter" else (210 * MM, 148 * MM),
    }[name]
    for page in PdfReader(BytesIO(drawn(name, size))).pages:
        assert [float(page.mediabox.width), float(page.mediabox.height)] == pytest.approx(wide, abs=0.8)


@every_paper
def test_the_same_data_give_the_same_bytes(name: str) -> None:
    assert drawn(name) == drawn(name)


def test_the_bytes_are_those_of_another_process_too() -> None:
    """Whatever order that process puts its sets in."""
    program = (
        "import django; django.setup(); from hashlib import sha256; from tests.reports import test_papers as t; "
        "print(*[sha256(t.drawn(name)).hexdigest() for name in t.PAPERS])"
    )
    hashes = {
        subprocess.run(
            [sys.executable, "-c", program],
            check=True,
            capture_output=True,
            env={**os.environ, "PYTHONHASHSEED": seed, "DJANGO_SETTINGS_MODULE": "tests.settings"},
        ).stdout
        for seed in ("1", "2")
    }
    assert len(hashes) == 1
    assert len(hashes.pop().split()) == len(PAPERS)


@every_paper
def test_every_font_is_in_the_file(name: str, tmp_path: Path) -> None:
    data = PAPERS[name][1]()
    data["course"]["name"] = "Ostermoor Ωκεανός"  # a word that the first face cannot write
    path = tmp_path / "paper.pdf"
    path.write_bytes(PAPERS[name][0](data))
    listed = subprocess.run(["pdffonts", path], check=True, capture_output=True, text=True).stdout.splitlines()[2:]
    assert len(listed) >= 2
    for line in listed:
        embedded, subset, unicode = line.split()[-5:-2]
        assert (embedded, subset, unicode) == ("yes", "yes", "yes"), line


@every_paper
def test_the_paper_is_black_and_white(name: str, tmp_path: Path) -> None:
    """But for photos, which are left out here."""
    draw, data = PAPERS[name]
    path = tmp_path / "paper.pdf"
    path.write_bytes(draw_day_sheet(data(), photos=lambda _sha: None) if name == "day sheet" else draw(data()))
    subprocess.run(["pdftoppm", "-r", "50", path, tmp_path / "page"], check=True)
    images = sorted(tmp_path.glob("*.ppm"))
    assert images
    for file in images:
        with Image.open(file) as image:
            red, green, blue = image.convert("RGB").split()
            assert ImageChops.difference(red, green).getbbox() is None
            assert ImageChops.difference(red, blue).getbbox() is None
            assert red.getextrema() == (0, 255), "there is black on it, and white"


LONG = "Upper Heron Meadow crossing above the old quarry road and the mill race " * 3
UNBROKEN = "Oberhasenmattwasserfallschluchtquerungslandeplattform" * 2
# What is no free text: codes the paper spells out itself, instants, dates, values that other parts refer to.
CODES = frozenset({
    "paper", "tz", "date", "revision", "verdict", "mark", "kind", "state", "decision", "severity", "hash", "snapshot",
    "last_on", "until", "watch_until", "address", "mass_min_kg", "mass_max_kg", "head_mps", "tail_mps", "cross_mps",
    "gust_mps", "photos",
})  # fmt: skip


def leaves(data: Any, *path: Any) -> Iterator[tuple[tuple[Any, ...], str]]:
    """Every text within the data with the way to it, but for codes and instants."""
    if isinstance(data, dict):
        for key, value in data.items():
            if key not in CODES and key != "at" and not key.endswith("_at"):
                yield from leaves(value, *path, key)
    elif isinstance(data, list):
        for place, value in enumerate(data):
            yield from leaves(value, *path, place)
    elif isinstance(data, str) and data:
        yield path, data


def put(data: Any, path: tuple[Any, ...], value: Any) -> None:
    for key in path[:-1]:
        data = data[key]
    data[path[-1]] = value


@every_paper
@pytest.mark.parametrize("size", ["a4", "letter"])
@pytest.mark.parametrize("text", ["", LONG, UNBROKEN], ids=["as it is", "long", "unbroken"])
def test_nothing_leaves_the_page_and_nothing_lies_over_another(name: str, size: str, text: str, tmp_path: Path) -> None:
    """A printer leaves about 4 mm at each edge (common practice, no source)."""
    draw, source = PAPERS[name]
    data = {**source(), "paper": size}
    for path, _old in list(leaves(data)) if text else ():
        if path == ("course", "name") and name == "day sheet":
            continue  # it stands in a running head of one line
        if path[-1] not in ("number", "line", "unit", "tag_number", "role", "tag"):
            put(data, path, text.strip()[: 120 if path[0] == "course" else 250])
    found, (wide, high) = words(draw(data), tmp_path)
    assert len(found) > 40
    for word in found:
        assert word.left >= 4 * MM, word
        assert word.right <= wide - 4 * MM, word
        assert word.top >= 4 * MM, word
        assert word.bottom <= high - 4 * MM, word
        if name == "tag":
            assert (word.left < wide / 2) == (word.right < wide / 2), "within its half of the sheet"
    for page in {word.page for word in found}:
        for one, other in combinations([word for word in found if word.page == page], 2):
            assert not overlap(one, other), (one, other)


def overlap(one: Word, other: Word) -> bool:
    """Whether letters lie on letters: the box of a word is higher than its letters, so its middle counts."""

    def body(word: Word) -> tuple[float, float, float, float]:
        high = word.bottom - word.top
        return word.left + 0.5, word.top + 0.3 * high, word.right - 0.5, word.bottom - 0.3 * high

    a, b = body(one), body(other)
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


def marked(data: Data, *but: str) -> tuple[Data, dict[str, str]]:
    """The data with every free text turned into a word of its own; the words, with the way to each."""
    data = json.loads(json.dumps(data))  # what stands in two places is two things then
    tokens = {}
    for number, (path, _old) in enumerate(list(leaves(data))):
        where = "/".join(map(str, path))
        if any(re.fullmatch(one, where) for one in but):
            continue
        token = f"q{number}z"
        put(data, path, token)
        tokens[token] = where
    return data, tokens


NOT_PRINTED = {
    # Numbers find the line; the name of a ride's line is printed where that is not found. Line 3 is closed and has no
    # band; a part that is released has no tag on it any more.
    "day sheet": ("(places|rides)/.*/line", "rides/.*/name", "lines/2/limits/mass_as", "findings/2/tag_number"),
    # Line 3 is closed: no band and nothing that it comes from. Maker and designer stand on the day sheet.
    "launch card": (
        "cards/2/computed/.*", "cards/2/line/limits/mass_as", "cards/.*/line/(maker|serial|designer)",
        "course/(town|law_place)",
    ),
    "tag": ("course/(town|operator|law_place)",),
    "blank sheet": ("course/(town|operator|law_place)",),
}  # fmt: skip


@every_paper
def test_every_text_of_the_data_stands_on_the_paper(name: str) -> None:
    draw, source = PAPERS[name]
    data = source()
    if name == "tag":
        data["tags"][1] |= {"limit": "Limit: none.", "finding": "entry 4712"}
    data, tokens = marked(data, *NOT_PRINTED[name])
    text = letters(draw(data))
    assert len(tokens) > 10
    assert [where for token, where in tokens.items() if token not in text] == []


# --- the day sheet


def dropped(field: str) -> Data:
    """A complete day of one line with one thing of the list taken out."""
    data = make.day_sheet(1)
    sheet = data["places"][0]["sheets"][0]
    if field == "changes":
        data["revision"] = 2
    elif field == "action":
        data["findings"] = [{"title": "Padding torn", "severity": "minor", "state": "open"}]
    elif field == "measurement":
        next(one for one in sheet["readings"] if one.get("unit"))["text"] = ""
    elif field == "sheets":
        for one in data["places"][0]["sheets"]:
            one["readings"] = []
    else:
        path: tuple[Any, ...] = {
            "name": ("lines", 0, "name"),
            "number": ("lines", 0, "number"),
            "maker": ("lines", 0, "maker"),
            "serial": ("lines", 0, "serial"),
            "place": ("course", "town"),
            "date": ("date",),
            "start": ("places", 0, "sheets", 0, "started_at"),
            "end": ("places", 0, "sheets", 0, "signed_at"),
            "person": ("places", 0, "sheets", 0, "signer"),
            "competence": ("places", 0, "sheets", 0, "competence"),
            "result": ("places", 0, "sheets", 0, "readings", 0, "verdict"),
            "ride": ("rides",),
            "ride_time": ("rides", 0, "at"),
            "ballast": ("rides", 0, "mass_kg"),
            "brake_result": ("rides", 0, "verdict"),
            "weather": ("weather", "decision"),
            "communication": ("communication",),
            "inspector_signature": ("signatures",),
            "supervisor_signature": ("sign_off",),
            "opening_time": ("opens_at",),
            "limits": ("lines", 0, "limits"),
            "lines": ("lines",),
        }[field]
        return make.without(data, *path)
    return data


def stamped(pdf: bytes) -> list[bool]:
    """For each page, whether large grey words lie under it."""
    return [
        re.search(rb"(?<![\d.])0?\.88 g", page.get_contents().get_data()) is not None
        for page in PdfReader(BytesIO(pdf)).pages
    ]


def test_a_complete_day_is_not_stamped() -> None:
    data = make.day_sheet(1)
    assert gaps(data) == []
    pdf = draw_day(data)
    assert not any(stamped(pdf))
    assert "INCOMPLETE" not in letters(pdf)


@pytest.mark.parametrize("field", FIELDS)
def test_a_day_that_lacks_one_thing_is_stamped_on_every_page_and_says_what(field: str) -> None:
    """R-241: the union of what the amusement rules ask of a daily record."""
    data = dropped(field)
    found = [gap for gap in gaps(data) if gap.field == field]
    assert found
    pdf = draw_day(data)
    assert all(stamped(pdf))
    for text in pages(pdf):
        assert "INCOMPLETE" in text
    for gap in found:
        assert tight(gap.sentence) in tight(pages(pdf)[0])


def test_a_line_that_is_held_is_never_called_open() -> None:
    data = make.day_sheet(1)
    data["lines"][0]["state"] = "held"
    text = pages(draw_day(data))[0]
    assert "0 of 1" in text
    assert "No riders." in text
    assert "40 – 117" not in text


def test_a_day_on_trial_says_that_the_paper_log_is_the_record() -> None:
    for name in ("day sheet", "launch card", "blank sheet"):
        draw, data = PAPERS[name]
        pdf = draw({**data(), "trial": True})
        assert all(stamped(pdf))
        for text in pages(pdf):
            assert "TRIAL: the paper log is the record" in text


# --- the launch card


def card(**changes: Any) -> Data:
    data = make.launch_cards(1)
    data["cards"][0] |= changes
    return data


def test_a_card_says_for_whom_and_for_which_wind_its_line_is_open() -> None:
    (text,) = pages(draw_launch_card({**card(number="2026-06-14-2-1"), "revision": 2}))
    for words_of_card in (
        "Sunday 14 June 2026", "Beech to Quarry", "Launch card 2026-06-14-2-1, revision 2", "40 – 117",
        "dressed, with harness", "8.0 m/s head", "5.0 m/s tail", "6.5 m/s cross", "11.0 m/s gust",
        "Valid only until a hold is called. Radio outranks this card.", "spring brake", "A07 (not found)",
        "Valid from 14 June 2026, 08:52 (UTC+02:00, Europe/Vienna).", "Record entry 4711.",
        "Planning aid. The line's designer of record, the maker's manual and local law decide.",
    ):  # fmt: skip
        assert words_of_card in text
    assert "NO RIDERS" not in text
    assert " safe" not in text.lower()


def test_a_card_without_a_source_names_what_its_band_is_from() -> None:
    (text,) = pages(draw_launch_card(card(computed={})))
    assert "From the posted limits, the test rides of the last seven days and the rulings in force." in text


def test_a_ruling_stands_on_the_card_with_its_end() -> None:
    data = make.launch_cards(3)
    text = pages(draw_launch_card(data))[1]
    assert "40 – 100" in text
    assert "Riders up to 100 kg; look again every day. Until 20 Jun 2026." in text


@pytest.mark.parametrize(
    "path",
    [("mass_min_kg",), ("mass_max_kg",), ("wind",), ("wind", "head_mps"), ("wind", "tail_mps"), ("wind", "cross_mps")],
    ids="/".join,
)
def test_a_card_with_a_limit_that_is_not_stated_lets_nobody_ride(path: tuple[str, ...]) -> None:
    """Missing is unknown, and unknown holds the line."""
    data = card()
    put(data["cards"][0]["line"]["limits"], path, None)
    (text,) = pages(draw_launch_card(data))
    assert "NO RIDERS" in text
    assert "The weight band or the wind limits of this line are not stated." in text
    assert "Valid only" not in text
    assert "40" not in re.sub(r"\d{4,}|\w*\d+\w*-\d+", "", text).replace("Page", "")


def test_a_card_of_a_line_that_is_closed_or_held_lets_nobody_ride() -> None:
    text = pages(draw_launch_card(make.launch_cards(3)))[2]
    assert "NO RIDERS" in text
    assert "Free length of the spring pack SP-03 is past its limit." in text
    assert "Valid only" not in text
    held = card()
    held["cards"][0]["line"]["state"] = "held"
    assert "NO RIDERS" in pages(draw_launch_card(held))[0]


def test_gear_that_nobody_counted_is_not_called_complete() -> None:
    assert "No gear is taken out today." in pages(draw_launch_card(card(not_issued=[])))[0]
    unknown = card()
    del unknown["cards"][0]["not_issued"]
    text = pages(draw_launch_card(unknown))[0]
    assert "Not stated. Ask the gear store." in text
    assert "No gear is taken out" not in text


def test_the_band_is_the_largest_thing_on_the_card(tmp_path: Path) -> None:
    """It is read at arm's length: figures at least 15 mm high with their line (common practice, no source)."""
    found, _size = words(draw_launch_card(card()), tmp_path)
    height = {word.text: word.bottom - word.top for word in found}
    assert height["117"] == max(height.values())
    assert height["117"] >= 15 * MM


# --- the tag


def test_a_tag_warns_in_the_words_of_the_rule() -> None:
    """29 CFR 1910.147(c)(5)(iii) (R-702): a tag warns of the hazard and has a legend such as these."""
    (text,) = pages(draw_tags(make.tags()))
    for legend in ("DO NOT OPERATE", "OUT OF SERVICE", "Do not start.", "Do not open.", "Do not close.", "Hazard:"):
        assert text.count(legend) == 2, "on each of the two"


def test_a_tag_names_item_defect_person_and_time_with_zone() -> None:
    """1910.147(c)(5)(ii)(D): it says who tied it. Vienna is at UTC+2 in June (Directive 2000/84/EC)."""
    data = make.tags()
    data["tags"][0]["finding"] = "Entry 4711, finding 7f3k9q2m"
    (text,) = pages(draw_tags(data))
    for said in (
        "0417", "Spring pack", "SP-03, Mill Race, landing end", "Free length 1149.5 mm. Limit: below 1152 mm.",
        "Mira Castellan", "14 June 2026, 07:33 (UTC+02:00, Europe/Vienna)", "Entry 4711, finding 7f3k9q2m",
        "https://lines.example.org/findings/7f3k9q2m",
    ):  # fmt: skip
        assert said in text
    data["tags"][0]["at"] = "2026-11-25T05:33:00Z"  # summer time has ended
    assert "25 November 2026, 06:33 (UTC+01:00, Europe/Vienna)" in pages(draw_tags(data))[0]


def test_a_time_without_an_offset_is_refused() -> None:
    data = make.tags()
    data["tags"][0]["at"] = "2026-06-14T05:33:00"
    with pytest.raises(ValueError, match="time zone"):
        draw_tags(data)


def test_a_tag_says_how_it_is_tied_and_who_takes_it_off() -> None:
    """R-701: (c)(5)(ii)(C)(2), read; 50 lbf are 222.4 N by the definition of the pound-force. R-703: (e)(3), read."""
    (text,) = pages(draw_tags(make.tags()))
    for said in (
        "one-piece nylon cable tie", "not reusable", "attached by hand", "self-locking", "not releasable",
        "at least 50 lb, 222 N (29 CFR 1910.147(c)(5)(ii)(C)(2))",
        "Only the person who tied this tag takes it off.", "that person is not at the site",
        "every reasonable effort was made to tell that person", "that person knows before work begins again",
        "29 CFR 1910.147(e)(3)",
    ):  # fmt: skip
        assert text.count(said) == 2, said
    assert round(50 * 0.45359237 * 9.80665) == 222


def test_stock_is_numbered_and_has_the_print_of_a_filled_tag(tmp_path: Path) -> None:
    """WAC 296-803-40020 (R-702): one print and format in a facility."""
    numbers = [f"{number:04d}" for number in range(419, 424)]
    pdf = draw_blank_tags(numbers, make.day_sheet()["course"], paper="letter")
    text = pages(pdf)
    assert [[n for n in numbers if n in page] for page in text] == [["0419", "0420"], ["0421", "0422"], ["0423"]]
    assert text[2].count("DO NOT OPERATE") == 1
    filled, blank = pages(draw_tags(make.tags()))[0], text[0]
    for label in (
        "Item",
        "Code and place",
        "Defect",
        "Taken out of service by",
        "Date and time",
        "Finding in the record",
    ):
        assert blank.count(label) == filled.count(label) == 2
    found, _size = words(pdf, tmp_path)
    left = {word.text: word for word in found if word.page == 0 and word.left < 100}
    heights = [
        round(left[b].top - left[a].top, 1) for a, b in pairwise(("Item", "Code", "Defect", "Taken", "Date", "Finding"))
    ]
    assert min(heights) >= 9 * MM, "a line for a gloved hand"


# --- blank sheets


def test_a_blank_sheet_has_for_each_item_what_a_pair_of_eyes_needs() -> None:
    first, second = pages(draw_blank_sheets(make.blank_sheets()))
    for said in (
        "Monday 15 June 2026", "Beech to Quarry", "Cable", "Landing end", "MC-04 Diameter at station 3",
        "Two readings at right angles, crown to crown.", "15.79 mm 13 Jun 2026", "below 15.20", "more than 1 per lay",
        "Sound", "Defect", "Can't check", "Notes, defects, tag numbers", "Name", "Signature", "Date", "Time",
        "By signing I say: I inspected these items at the place and wrote down what I found.",
        "What is not sure is not checked, and holds the line.", "29 CFR 1910.147(d)(5)", "Planning aid.",
    ):  # fmt: skip
        assert said in first
    assert first.count("By signing I say") == 2
    assert "Quarry platform" in second


def test_a_figure_without_a_limit_says_that_none_is_stated() -> None:
    data = make.blank_sheets()
    assert "none stated" not in pages(draw_blank_sheets(data))[0]
    data["places"][0]["sheets"][0]["items"][1]["limit"] = ""
    assert "none stated" in pages(draw_blank_sheets(data))[0]


def long_sheet(count: int = 45) -> Data:
    data = make.blank_sheets()
    sheets = data["places"][0]["sheets"]
    sheets[0]["items"] = [{**sheets[0]["items"][4], "code": f"MC-{number:02d}"} for number in range(count)]
    data["places"] = [{**data["places"][0], "sheets": sheets[:1]}]
    return data


def test_three_boxes_stand_in_each_row_and_rows_are_nine_millimetres_high() -> None:
    pdf = draw_blank_sheets(long_sheet())
    ticks = squares(pdf, 5 * MM)
    assert sum(map(len, ticks)) == 3 * 45
    for page in ticks:
        rows = sorted({y for _x, y in page}, reverse=True)
        assert len(page) == 3 * len(rows)
        assert all(above - below >= 9 * MM for above, below in pairwise(rows))


def test_the_head_of_a_sheet_is_repeated_on_every_page() -> None:
    found = pages(draw_blank_sheets(long_sheet()))
    assert len(found) >= 2
    for text in found:
        assert "Item and what to look at Last reading Limit Figure" in text
    for text in found[1:]:
        assert "Beech to Quarry, Cable, continued" in text
    codes = [code for text in found for code in re.findall(r"MC-\d\d", text)]
    assert codes == [f"MC-{number:02d}" for number in range(45)], "each once, in order"


def test_dates_are_printed_for_the_day_they_name() -> None:
    """14 June 2026 is a Sunday by the calendar of the standard library."""
    assert date(2026, 6, 14).strftime("%A") == "Sunday"
    assert "Sunday 14 June 2026" in pages(draw_day(make.day_sheet(1)))[0]
