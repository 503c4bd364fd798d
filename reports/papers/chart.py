"""A chart on paper: the same shapes as on the page (``reports.charts``), drawn in black and grey.

What tells the roles apart on a screen by colour is told here by thickness and dashes, so that a copy keeps them.
"""

from __future__ import annotations

from dataclasses import dataclass

from reports.charts import ACROSS, HEIGHT, Drawing, Path
from reports.papers.frame import Paper
from reports.papers.style import SMALL, SMALL_STRONG, Type

SCALE = 0.6  # points for a pixel of the page: letters of 7.5 points belong to labels of 17 pixels with room
DOT = 2.0


@dataclass(frozen=True)
class Stroke:
    width: float
    grey: float = 0.0
    dash: tuple[float, ...] = ()


STROKES = {
    "grid": Stroke(0.3, 0.75),
    "axis": Stroke(0.8),
    "tick": Stroke(0.8),
    "edge": Stroke(0.5, 0.35, (1.2, 1.8)),
    "line": Stroke(1.3),
    "limit": Stroke(2.6),
    "today": Stroke(0.8, 0.3, (0.6, 2.4)),
    "reset": Stroke(0.8, 0.0, (4.2, 1.8)),
    "early": Stroke(1.8, 0.0, (3.6, 2.4)),
}
PLAIN = Stroke(0.8)
STRONG_WORDS = frozenset({"limit", "early", "reset"})


def draw_chart(paper: Paper, drawing: Drawing, *, width: float | None = None) -> None:
    """Draw a chart at the pen and move the pen below it; a new page is begun where it has no room."""
    height = HEIGHT * SCALE
    paper.need(height + SMALL_STRONG.leading + 4)
    paper.paragraph(drawing.title, SMALL_STRONG)
    left, top, wide = paper.left, paper.y - 2, paper.width if width is None else width

    def x(value: float) -> float:
        return round(left + wide * value / ACROSS, 2)

    def y(value: float) -> float:
        return round(top - value * SCALE, 2)

    for path in drawing.paths:
        _path(paper, path, [(x(a), y(b)) for a, b in path.places])
    canvas = paper.canvas
    for dot in drawing.dots:
        filled = dot.role == "dot"
        canvas.setFillGray(0 if filled else 1)
        canvas.setStrokeGray(0)
        canvas.setLineWidth(1.6 if dot.role == "wild" else 0.7)
        canvas.circle(x(dot.x), y(dot.y), DOT * (1.5 if dot.role == "wild" else 1.0), stroke=int(not filled), fill=1)
    paper.lift()
    for label in drawing.labels:
        kind: Type = SMALL_STRONG if label.role in STRONG_WORDS else SMALL
        align = {"start": "left", "middle": "center", "end": "right"}[label.anchor]
        paper.text(x(label.x), y(label.y), label.text, kind, align=align)
    paper.gap(height + 6)


def _path(paper: Paper, path: Path, places: list[tuple[float, float]]) -> None:
    canvas = paper.canvas
    shape = canvas.beginPath()
    shape.moveTo(*places[0])
    for place in places[1:]:
        shape.lineTo(*place)
    if path.closed:
        shape.close()
        canvas.setFillGray(0.88)
        canvas.drawPath(shape, stroke=0, fill=1)
        return
    stroke = STROKES.get(path.role, PLAIN)
    canvas.setStrokeGray(stroke.grey)
    canvas.setLineWidth(stroke.width)
    canvas.setDash(list(stroke.dash))
    canvas.drawPath(shape, stroke=1, fill=0)
    canvas.setDash([])
