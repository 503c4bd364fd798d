"""Sizes, weights and spaces of the papers. Black on white: everything must survive an office printer and a copier."""

from __future__ import annotations

from dataclasses import dataclass

from reportlab.lib.pagesizes import A4, A5, landscape, letter

from reports.papers.fonts import HEAVY, REGULAR, STRONG

MM = 72 / 25.4
HALF_LETTER = (5.5 * 72, 8.5 * 72)

SHEETS = {"a4": A4, "letter": letter}
HALF_SHEETS = {"a4": A5, "letter": HALF_LETTER}


def sheet_size(paper: str, *, half: bool = False, across: bool = False) -> tuple[float, float]:
    """Return width and height in points. ``paper`` is ``a4`` or ``letter``; KeyError otherwise."""
    size = (HALF_SHEETS if half else SHEETS)[paper]
    return landscape(size) if across else size


@dataclass(frozen=True, slots=True)
class Type:
    """A way to set text: face, size and leading in points, grey from 0 (black) to 1."""

    face: str
    size: float
    leading: float
    grey: float = 0.0


TITLE = Type(STRONG, 22, 25)
SECTION = Type(STRONG, 12.5, 15)
PLACE = Type(STRONG, 10.5, 13)
SHEET = Type(STRONG, 9, 11.4)
BODY = Type(REGULAR, 8.8, 11.6)
BODY_STRONG = Type(STRONG, 8.8, 11.6)
DENSE = Type(REGULAR, 8.2, 10.6)
DENSE_STRONG = Type(STRONG, 8.2, 10.6)
SMALL = Type(REGULAR, 7.5, 9.6, 0.25)
SMALL_STRONG = Type(STRONG, 7.5, 9.6)
LABEL = Type(REGULAR, 7.2, 9, 0.3)
FIGURE = Type(STRONG, 16, 18)
FIGURE_SMALL = Type(STRONG, 10.5, 13)
SHOUT = Type(HEAVY, 8.5, 10.5)

HAIR = 0.35
LINE = 0.8
BAR = 1.6
HAIR_GREY = 0.45

GAP_1 = 2.5
GAP_2 = 5.0
GAP_3 = 8.0
GAP_4 = 13.0
GAP_5 = 20.0
