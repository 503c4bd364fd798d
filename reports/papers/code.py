"""A code to scan (QR, ISO/IEC 18004), drawn as black bars: no image, no seams in print."""

from __future__ import annotations

import segno

from reports.papers.frame import Paper

MEDIUM, HIGHER = "M", "Q"
QUIET = 4  # modules that stay empty on every side


def modules(content: str, *, level: str = MEDIUM) -> list[list[bool]]:
    """Return the rows of a code, dark is True, without its quiet zone. ``level``: how much of it may be spoiled."""
    code = segno.make_qr(content, error=level, boost_error=False)
    return [[bool(cell) for cell in row] for row in code.matrix]


def draw_code(paper: Paper, content: str, *, right: float, top: float, side: float, level: str = MEDIUM) -> None:
    """Draw a code with its upper right corner at a spot. ``QUIET`` of its modules beside it have to stay empty."""
    rows = modules(content, level=level)
    cell = side / len(rows)
    paper.canvas.setFillGray(0)
    for row, cells in enumerate(rows):
        start = None
        for column, dark in enumerate([*cells, False]):  # one bar for each run of dark cells
            if dark and start is None:
                start = column
            elif not dark and start is not None:
                x = right - side + start * cell
                paper.canvas.rect(x, top - (row + 1) * cell, (column - start) * cell, cell, stroke=0, fill=1)
                start = None
