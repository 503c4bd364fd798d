"""The day sheet: how long it takes, against reportlab drawing the very same strokes without anything else."""

from __future__ import annotations

import io
from datetime import timedelta
from statistics import median
from time import perf_counter
from types import SimpleNamespace
from typing import Any
from unittest import mock

from tests.bench.world import FIRST

ROUNDS = 5
MOST_S, LEAST_SHARE = 1.0, 0.8
# What puts something on a page. Calls that these make among themselves are not noted a second time.
NOTED = (
    "setFont", "drawString", "drawRightString", "drawCentredString", "drawText", "drawPath", "drawImage", "line",
    "rect", "circle", "lines", "setFillColor", "setStrokeColor", "setFillGray", "setStrokeGray", "setLineWidth",
    "setDash", "setLineCap", "setLineJoin", "saveState", "restoreState", "translate", "rotate", "scale", "transform",
    "beginForm", "endForm", "doForm", "showPage", "_startPage",
)  # fmt: skip
TEXT_NOTED = ("setFont", "setTextOrigin", "textLine", "textOut", "setFillGray", "setFillColor", "setCharSpace")


def noting(kind: type[Any], calls: list[tuple[str, Any, Any]]) -> type[Any]:
    """Return a kind of canvas that draws as ``kind`` does and notes every outermost call, on text too."""
    from reportlab.pdfgen.textobject import PDFTextObject

    depth, texts = [0], [0]

    def noted(draw: Any, name: str, of: Any = None) -> Any:
        def call(self: Any, *arguments: Any, **keywords: Any) -> Any:
            if not depth[0]:
                plain = tuple(getattr(one, "number", one) for one in arguments)
                calls.append((name, (self.number, *plain) if of else plain, keywords))
            depth[0] += 1
            try:
                return draw(self, *arguments, **keywords)
            finally:
                depth[0] -= 1

        return call

    marks = {name: noted(getattr(PDFTextObject, name), f"text.{name}", True) for name in TEXT_NOTED}
    text = type("NotingText", (PDFTextObject,), marks)

    def begin_text(self: Any, x: float = 0, y: float = 0, *more: Any, **keywords: Any) -> Any:
        if depth[0]:
            return kind.beginText(self, x, y, *more, **keywords)
        calls.append(("beginText", (x, y), {}))
        depth[0] += 1
        made = text(self, x, y)
        depth[0] -= 1
        made.number = texts[0]
        texts[0] += 1
        return made

    found = {name: noted(getattr(kind, name), name) for name in NOTED if hasattr(kind, name)}
    return type("Noting", (kind,), found | {"beginText": begin_text})


def again(kind: type[Any], size: tuple[float, float], calls: list[tuple[str, Any, Any]]) -> bytes:
    """Draw what was noted on a bare canvas. Each of the pages is begun and ended as reportlab does by itself."""
    out = io.BytesIO()
    canvas = kind(out, pagesize=size, pageCompression=1)
    texts: list[Any] = []
    for name, arguments, keywords in calls:
        if name == "beginText":
            texts.append(canvas.beginText(*arguments))
        elif name.startswith("text."):
            getattr(texts[arguments[0]], name[5:])(*arguments[1:], **keywords)
        elif name == "drawText":
            canvas.drawText(texts[arguments[0]])
        elif name == "_startPage":
            canvas.showPage()
        elif name != "showPage":
            getattr(canvas, name)(*arguments, **keywords)
    canvas.save()
    return out.getvalue()


def day_sheet(w: SimpleNamespace) -> dict[str, Any]:
    """Return seconds and pages per second of the day sheet of the course's first day, and the bare drawing's share."""
    from pypdf import PdfReader
    from reportlab.pdfgen.canvas import Canvas

    from inspections.models import SignOff
    from reports.papers import frame
    from reports.papers.day_sheet import draw_day_sheet
    from reports.resolve import day_sheet_data

    signed = SignOff.objects.get(day__course=w.course, day__date=(FIRST + timedelta(0)).date())
    data = day_sheet_data(signed)

    def draw() -> bytes:
        return draw_day_sheet(data, photos=lambda _sha256: None)

    calls: list[tuple[str, Any, Any]] = []
    with mock.patch.object(frame, "Canvas", noting(Canvas, calls)):
        pages = PdfReader(io.BytesIO(draw())).pages
    size = (float(pages[0].mediabox.width), float(pages[0].mediabox.height))
    same = PdfReader(io.BytesIO(again(Canvas, size, calls)))
    bare_pages = len(same.pages)
    words = [sum(len("".join(page.extract_text().split())) for page in one) for one in (pages, same.pages)]
    if words[1] < 0.98 * words[0]:
        raise SystemExit(f"The bare drawing has {words[1]} letters, the day sheet {words[0]}: not the same strokes.")
    ours, bare = timed(draw), timed(lambda: again(Canvas, size, calls))
    begun = perf_counter()
    day_sheet_data(signed)
    resolving = perf_counter() - begun
    return {
        "lines": len(w.lines),
        "pages": len(pages),
        "s": round(ours + resolving, 2),
        "pages_per_s": round(len(pages) / ours, 1),
        "bare_pages_per_s": round(bare_pages / bare, 1),
        "share": round(len(pages) / ours / (bare_pages / bare), 2),
    }


def timed(draw: Any) -> float:
    """Return the median seconds of a drawing."""
    times = []
    for _ in range(ROUNDS):
        begun = perf_counter()
        draw()
        times.append(perf_counter() - begun)
    return median(times)
