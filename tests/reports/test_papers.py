"""The four papers as they come out of the drawing: what stands on them, on which pages, in which ink.

They are read with other programs than the one that draws: pypdf and Poppler's pdftotext, pdffonts and pdftoppm.
"""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from collections.abc import Callable, Iterator
from io import BytesIO
from itertools import takewhile
from pathlib import Path
from typing import Any

import pytest
from PIL import Image, ImageChops
from pypdf import PdfReader

from reports.papers.blank_sheet import draw_blank_sheets
from reports.papers.day_sheet import draw_day_sheet
from reports.papers.launch_card import draw_launch_card
from reports.papers.tag import draw_tags
from tests.reports import papers_data, small_papers_data
from tests.reports.paper_reader import MM, Word, letters, pages, put, stamped, words

Data = dict[str, Any]


def draw_day(data: Data) -> bytes:
    return draw_day_sheet(data, photos=papers_data.photos)


PAPERS: dict[str, tuple[Callable[[Data], bytes], Callable[[], Data]]] = {
    "day sheet": (draw_day, lambda: papers_data.day_sheet(3)),
    "launch card": (draw_launch_card, small_papers_data.launch_cards),
    "tag": (draw_tags, small_papers_data.tags),
    "blank sheet": (draw_blank_sheets, small_papers_data.blank_sheets),
}
every_paper = pytest.mark.parametrize("name", PAPERS)


def drawn(name: str, size: str = "a4") -> bytes:
    draw, data = PAPERS[name]
    return draw({**data(), "paper": size})


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


@every_paper
@pytest.mark.parametrize("size", ["a4", "letter"])
@pytest.mark.parametrize("text", ["", LONG, UNBROKEN], ids=["as it is", "long", "unbroken"])
def test_nothing_leaves_the_page_and_nothing_lies_over_another(name: str, size: str, text: str, tmp_path: Path) -> None:
    """A printer leaves about 4 mm at each edge (common practice, no source)."""
    draw, source = PAPERS[name]
    data = {**source(), "paper": size}
    for path, _old in list(leaves(data)) if text else ():
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
    found.sort(key=lambda word: (word.page, word.top))
    for at, one in enumerate(found, 1):
        # Of those below the first that begins under it none lies on it.
        for other in takewhile(lambda below, one=one: below.page == one.page and below.top < one.bottom, found[at:]):
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


def test_a_day_on_trial_says_that_the_paper_log_is_the_record() -> None:
    for name in ("day sheet", "launch card", "blank sheet"):
        draw, data = PAPERS[name]
        pdf = draw({**data(), "trial": True})
        assert all(stamped(pdf))
        for text in pages(pdf):
            assert "TRIAL: the paper log is the record" in text
