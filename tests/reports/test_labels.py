"""Labels with a code to scan: read off the printed page by another program, and measured.

The code is read by ZXing-C++, a reader that shares nothing with what draws it, from the page as Poppler draws it. That
a code has four empty modules round it is ISO/IEC 18004, from memory. The sizes of labels are common ones, from memory.
"""

from __future__ import annotations

import re
import subprocess
from io import BytesIO
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
import zxingcpp
from django.urls import reverse
from PIL import Image
from pypdf import PdfReader

from courses import actions as setup
from courses.models import Component
from inspections.tags import token_of
from reports.papers.label_sheet import LEAST_MODULE, Label, code_on, draw_labels
from reports.papers.label_sizes import SIZES
from reports.papers.style import MM
from tests import make
from tests.reports.paper_reader import words

pytestmark = pytest.mark.usefixtures("clock")
DOTS = 200
ADDRESS = "https://lines.example.org/tag/EjRWeBI0VngSNFZ4EjRWeA/"
# Page and label in millimetres, across, down: what is written on a packet of such labels.
PACKETS = {
    "a4-24": (210, 297, 70, 37, 3, 8),
    "a4-21": (210, 297, 63.5, 38.1, 3, 7),
    "a4-14": (210, 297, 99.1, 38.1, 2, 7),
    "a4-8": (210, 297, 99.1, 67.7, 2, 4),
    "letter-30": (215.9, 279.4, 66.675, 25.4, 3, 10),
    "letter-10": (215.9, 279.4, 101.6, 50.8, 2, 5),
    "roll-62": (62, 29, 62, 29, 1, 1),
    "roll-50": (50, 25, 50, 25, 1, 1),
}


def label(number: int = 0) -> Label:
    return Label(
        f"BR-{number:02}", "Primary brake, spring pack", "Line 3, primary brake 1", "Course", f"{ADDRESS}{number}"
    )


def drawn(pdf: bytes, folder: Path, page: int = 1) -> Image.Image:
    (folder / "labels.pdf").write_bytes(pdf)
    at = ["-f", str(page), "-l", str(page), "-r", str(DOTS)]
    subprocess.run(["pdftoppm", *at, "-gray", "-singlefile", folder / "labels.pdf", folder / "page"], check=True)
    return Image.open(folder / "page.pgm").copy()


def codes(image: Image.Image) -> list[str]:
    """Every code of a page, row by row."""
    found = zxingcpp.read_barcodes(image, formats=zxingcpp.BarcodeFormat.QRCode)
    place = [(round(one.position.top_left.y / 40), one.position.top_left.x, one.text) for one in found]
    return [text for _row, _x, text in sorted(place)]


def test_there_is_each_size_and_no_other() -> None:
    assert set(SIZES) == set(PACKETS)


@pytest.mark.parametrize("name", PACKETS)
def test_labels_lie_on_the_sheet_beside_one_another(name: str) -> None:
    size, (wide, high, width, height, across, down) = SIZES[name], PACKETS[name]
    boxes = list(size.boxes())
    assert len(boxes) == size.count == across * down
    assert size.page == pytest.approx((wide * MM, high * MM), abs=0.1)
    for one in boxes:
        assert (one.right - one.left, one.top - one.bottom) == pytest.approx((width * MM, height * MM), abs=0.01)
        assert -0.01 <= one.left < one.right <= wide * MM + 0.1
        assert -0.01 <= one.bottom < one.top <= high * MM + 0.1
    for place, one in enumerate(boxes):
        for other in boxes[place + 1 :]:
            beside = one.right <= other.left + 0.01 or other.right <= one.left + 0.01
            assert beside or one.top <= other.bottom + 0.01 or other.top <= one.bottom + 0.01
    # As much is left over on the one side as on the other.
    assert boxes[0].left == pytest.approx(size.page[0] - boxes[-1].right, abs=0.01)


@pytest.mark.parametrize("name", PACKETS)
def test_what_is_drawn_is_read_and_stays_on_its_label(name: str, tmp_path: Path) -> None:
    size = SIZES[name]
    count = min(size.count, 3) + 1
    pdf = draw_labels([label(n) for n in range(count)], size, first=size.count)
    reader = PdfReader(BytesIO(pdf))
    assert len(reader.pages) == 1 + -(-(count - 1) // size.count)
    assert codes(drawn(pdf, tmp_path)) == [f"{ADDRESS}0"]  # the last label of the first sheet
    second = drawn(pdf, tmp_path, 2)
    assert codes(second) == [f"{ADDRESS}{n}" for n in range(1, min(count, size.count + 1))]
    assert sum(second.histogram()[40:216]) < 0.2 * sum(second.histogram()[:40])  # black on white: only edges are grey
    boxes, high = list(size.boxes()), size.page[1]
    shown, _page = words(pdf, tmp_path)
    for word in shown:
        x, y = (word.left + word.right) / 2, high - (word.top + word.bottom) / 2
        [box] = [one for one in boxes if one.left <= x < one.right and one.bottom <= y < one.top]
        assert (box == boxes[-1]) is (word.page == 0 or size.count == 1)
        assert box.left <= word.left < word.right <= box.right
        # The box of a word has room for the tallest letter and the deepest; these need less.
        assert box.bottom <= high - word.bottom + 2
        assert high - word.top - 4 <= box.top
    assert [word.text for word in shown if word.page == 0 and word.text.startswith("BR-")] == ["BR-00"]


@pytest.mark.parametrize("name", PACKETS)
def test_the_squares_of_the_code_are_half_a_millimetre_and_nothing_is_near_them(name: str, tmp_path: Path) -> None:
    size = SIZES[name]
    code = code_on(size, ADDRESS)
    assert code.module >= LEAST_MODULE
    image = drawn(draw_labels([label()], size), tmp_path)
    box = next(size.boxes())
    dots = DOTS / 72
    corner = zxingcpp.read_barcodes(image)[0].position
    left, top, right, bottom = corner.top_left.x, corner.top_left.y, corner.bottom_right.x, corner.bottom_right.y
    module = code.module * dots
    assert (right - left) / module == pytest.approx(code.side / code.module, abs=0.5)
    # Four modules of nothing on every side, up to the edge of the page where the label ends before that.
    quiet = (left - 4 * module + 1, top - 4 * module + 1, right + 4 * module - 1, bottom + 4 * module - 1)
    assert quiet[0] >= box.left * dots - 1
    assert quiet[1] >= (size.page[1] - box.top) * dots - 1
    assert quiet[3] <= (size.page[1] - box.bottom) * dots + 1
    zone = image.crop(tuple(round(max(0, at)) for at in quiet))  # type: ignore[arg-type]
    inside = (round(left - max(0, quiet[0])) - 2, round(top - max(0, quiet[1])) - 2)
    zone.paste(255, (*inside, inside[0] + round(right - left) + 4, inside[1] + round(bottom - top) + 4))
    assert zone.getextrema()[0] > 250  # type: ignore[operator]


def test_a_long_address_takes_the_coarser_code() -> None:
    short, long = code_on(SIZES["a4-8"], ADDRESS), code_on(SIZES["roll-50"], ADDRESS + "x" * 60)
    assert short.level != long.level
    assert not long.is_coarse


@pytest.mark.parametrize(("labels", "first"), [([], 1), ([label()], 0), ([label()], 22)])
def test_no_label_and_no_place_on_the_sheet_is_no_paper(labels: list[Label], first: int) -> None:
    with pytest.raises(ValueError, match="no labels to draw"):
        draw_labels(labels, SIZES["a4-21"], first=first)


# --- the page


def sheet_of(w: SimpleNamespace, client: Any, **asked: Any) -> Any:
    query = {"size": "a4-21", "first": "1", "what": ["places", "parts"], **asked}
    return client.get(reverse("reports:label_sheet", args=[w.course.pk]), query)


def heads(w: SimpleNamespace, client: Any, folder: Path, **asked: Any) -> str:
    answer = sheet_of(w, client, **asked)
    assert answer["Content-Type"] == "application/pdf"
    found, _size = words(answer.content, folder)
    return " ".join(word.text for word in found)


def test_a_part_is_drawn_with_what_it_is_where_and_an_address_of_its_own(
    w: SimpleNamespace, as_one: Any, tmp_path: Path
) -> None:
    part = Component.objects.get(tag="PF-2")
    answer = sheet_of(w, as_one("technician"), codes=" pf-2 ,")
    found, _size = words(answer.content, tmp_path)
    text = " ".join(word.text for word in found)
    assert text.startswith("PF-2")
    assert "Platform 2" in text
    assert w.course.name in text
    assert codes(drawn(answer.content, tmp_path)) == [f"http://testserver/tag/{token_of(part.pk)}/"]


def test_what_is_chosen_is_drawn_and_nothing_else(w: SimpleNamespace, as_one: Any, tmp_path: Path) -> None:
    client = as_one("guide")
    places = heads(w, client, tmp_path, what="places")
    assert "Line 1" in places
    assert "PF-2" not in places
    rack = heads(w, client, tmp_path, what="parts", spots=f"{w.store.pk}|B")
    assert {tag for _id, tag in [(0, one) for one in rack.split()] if tag.startswith("HA-")} == {
        one.tag for one in Component.objects.filter(placements__slot="B", placements__until=None)
    }
    kind = heads(w, client, tmp_path, what="parts", kind="harness")
    assert "PF-2" not in kind
    # One that was taken off is under what is fitted nowhere; one that was retired is on no label.
    part = Component.objects.get(tag="PF-2")
    setup.take_off(part, deed=make.deed(w.technician, at=w.t(0)))
    assert "PF-2" in heads(w, client, tmp_path, what="parts", spots="shelf")
    Component.objects.filter(pk=part.pk).update(retired_at=w.t(0))
    assert sheet_of(w, client, what="parts", spots="shelf").status_code == 400


@pytest.mark.parametrize(
    ("asked", "sentence"),
    [
        ({"first": "22"}, "A sheet of this size has 21 labels."),
        ({"size": "roll-50", "first": "2"}, "On a roll this is 1."),
        ({"codes": "none"}, "There is no such part or place."),
        ({"size": "a5"}, "a5"),
        ({"first": "0"}, "greater than or equal to 1"),
    ],
)
def test_what_cannot_be_drawn_is_said(w: SimpleNamespace, as_one: Any, asked: dict[str, str], sentence: str) -> None:
    answer = sheet_of(w, as_one("manager"), **asked)
    assert answer.status_code == 400
    assert sentence in answer.content.decode()


def test_the_page_says_what_a_label_is_not(w: SimpleNamespace, as_one: Any) -> None:
    page = " ".join(as_one("guide").get(reverse("reports:labels", args=[w.course.pk])).content.decode().split())
    assert "Print on weather-proof film." in page
    current = re.findall(r'<a href="([^"]+)" aria-current="page"', page)
    assert set(current) == {reverse("courses:setup", args=[w.course.pk])}
    assert "no identification by the maker" in page
    assert "may be read badly" not in page  # the test's address is short
