"""Read a paper with other programs than the one that draws it: pypdf and Poppler's pdftotext."""

from __future__ import annotations

import re
import subprocess
from io import BytesIO
from pathlib import Path
from typing import Any, NamedTuple
from xml.etree import ElementTree

from pypdf import PdfReader

MM = 72 / 25.4


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


def stamped(pdf: bytes) -> list[bool]:
    """For each page, whether large grey words lie under it."""
    return [
        re.search(rb"(?<![\d.])0?\.88 g", page.get_contents().get_data()) is not None
        for page in PdfReader(BytesIO(pdf)).pages
    ]


def put(data: Any, path: tuple[Any, ...], value: Any) -> None:
    """Set what stands at the end of a way into nested data."""
    for key in path[:-1]:
        data = data[key]
    data[path[-1]] = value
