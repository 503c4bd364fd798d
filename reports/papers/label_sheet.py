"""Labels with a code to scan: black on white without any grey, letters as large as the label lets them be."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django.utils import translation
from django.utils.translation import gettext as _

from reports.papers.code import HIGHER, MEDIUM, QUIET, draw_code, modules
from reports.papers.fonts import HEAVY, REGULAR, STRONG, clean
from reports.papers.frame import Paper
from reports.papers.label_sizes import Box, LabelSize
from reports.papers.style import MM, Type
from reports.papers.text import Line, line_width, set_words

LEAST_MODULE = 0.5 * MM  # smaller squares are read badly wet, worn or from an arm's length; judgement
COURSE = Type(REGULAR, 7, 8.4)
LEAST = 6.5  # points; smaller words nobody reads in rain
MOST_OF_WIDTH = 0.5  # what the code may take of a label; the words need the rest


@dataclass(frozen=True, slots=True)
class Label:
    """What stands on one label: ``head`` large, then what it is and where; ``address`` is in the code."""

    head: str
    what: str
    where: str
    course: str
    address: str


@dataclass(frozen=True, slots=True)
class Code:
    """How the code of an address is drawn on a label: its side without the quiet zone, and that of one square."""

    level: str
    side: float
    module: float

    @property
    def is_coarse(self) -> bool:
        """Tell whether its squares are large enough to be read outdoors."""
        return self.module >= LEAST_MODULE - 1e-6


def code_on(size: LabelSize, address: str) -> Code:
    """Return how a code is drawn: the level that stands more dirt, if its squares are large enough at that.

    The quiet zone reaches into what the printer leaves white: both have to stay empty.
    """
    found = []
    for level in (HIGHER, MEDIUM):
        count = len(modules(address, level=level))
        room = min(size.height, size.width * MOST_OF_WIDTH)
        module = min(room / (count + 2 * QUIET), (size.height - 2 * size.inset) / count)
        found.append(Code(level, count * module, module))
    return found[0] if found[0].is_coarse else found[1]


def draw_labels(labels: Sequence[Label], size: LabelSize, *, first: int = 1, language: str = "en") -> bytes:
    """Draw labels on sheets of one size, on the first sheet from label ``first`` on, counted row by row from 1.

    ValueError for no labels, or where a sheet has no label of that number.
    """
    if not labels or not 1 <= first <= size.count:
        raise ValueError("There are no labels to draw, or no label of this number on a sheet.")
    with translation.override(language):
        paper = Paper(
            size=size.page, title=_("Labels, %(course)s") % {"course": labels[0].course}, author=labels[0].course,
            subject=_("Labels with a code to scan"), language=language, margins=(0, 0, 0, 0),
        )  # fmt: skip
        boxes = list(size.boxes())
        for number, label in enumerate(labels, first - 1):
            if number >= size.count and number % size.count == 0:
                paper.new_page()
            _label(paper, boxes[number % size.count], size, label)
        return paper.finish()


def _label(paper: Paper, box: Box, size: LabelSize, label: Label) -> None:
    """Draw the code at the left and the words beside it, from the height of its upper edge to that of its lower one."""
    code = code_on(size, label.address)
    top = (box.top + box.bottom + code.side) / 2
    right = box.left + max(QUIET * code.module, size.inset) + code.side
    draw_code(paper, label.address, right=right, top=top, side=code.side, level=code.level)
    left = right + QUIET * code.module
    width, bottom = box.right - size.inset - left, top - code.side
    name, lines = _set(label.course, COURSE, width, COURSE.leading)
    paper.lines(left, bottom + name.leading, lines, name.leading)
    bottom += name.leading
    head, lines = _set(label.head, _type(HEAVY, min(34, code.side * 0.34), 0.92), width, code.side * 0.45)
    y = paper.lines(left, top, lines, head.leading)
    words = min(20, max(9, code.side * 0.15))
    where, below = _set(label.where, _type(REGULAR, words), width, (y - bottom) / 2)
    rest = y - bottom - len(below) * where.leading
    what, lines = _set(label.what, _type(STRONG, words), width, rest)
    y = paper.lines(left, y, lines, what.leading)
    paper.lines(left, y, below, where.leading)


def _type(face: str, size: float, leading: float = 1.17) -> Type:
    return Type(face, size, size * leading)


def _set(text: str, kind: Type, width: float, height: float) -> tuple[Type, Sequence[Line]]:
    """Set words into a box: smaller where they must be, down to ``LEAST``; what then is too long ends in three dots."""
    if not text:
        return kind, []
    while True:
        lines = set_words(text, kind, width)
        room = max(1, int(height / kind.leading + 0.01))
        if len(lines) <= room and all(line_width(one) <= width for one in lines) and not _is_torn(text, lines):
            return kind, lines
        if kind.size <= LEAST:
            break
        kind = Type(kind.face, max(LEAST, kind.size * 0.94), kind.leading * max(LEAST / kind.size, 0.94))
    while text and len(lines := set_words(f"{text}…", kind, width)) > room:
        text = text[:-1].rstrip()
    return kind, lines


def _is_torn(text: str, lines: Sequence[Line]) -> bool:
    """Tell whether a word had to be cut to fit: a tag code in two parts is read wrongly."""
    return len(" ".join("".join(span.text for span in line) for line in lines).split()) > len(clean(text).split())
