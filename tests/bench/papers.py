"""The day sheet: how long it takes, against reportlab drawing the very same strokes without anything else.

Twice: as one draws with reportlab ordinarily, a ``drawString`` for each text, and with the very calls that the day
sheet makes, which write a page's text as one object. Both are told which text goes where; the day sheet finds out.
"""

from __future__ import annotations

import io
from datetime import timedelta
from statistics import median
from time import perf_counter
from types import SimpleNamespace
from typing import Any
from unittest import mock

from tests.bench.world import FIRST

ROUNDS = 9
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


def plainly(kind: type[Any], size: tuple[float, float], calls: list[tuple[str, Any, Any]]) -> bytes:
    """Draw what was noted on a bare canvas with a ``drawString`` for each text."""
    out = io.BytesIO()
    canvas = kind(out, pagesize=size, pageCompression=1)
    x = y = 0.0
    page: list[Any] = []
    for name, arguments, keywords in calls:
        if name == "text.setTextOrigin":
            _text, x, y = arguments
        elif name in {"text.textLine", "text.textOut"}:
            page.append(("drawString", (x, y, arguments[1])))
        elif name in {"text.setFont", "text.setFillGray"}:
            page.append((name.removeprefix("text."), arguments[1:]))
        elif name == "drawText":
            for call, given in page:  # the text lies over the shapes, as on the day sheet
                getattr(canvas, call)(*given)
            page.clear()
        elif name == "_startPage":
            canvas.showPage()
        elif name not in {"showPage", "beginText"}:
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
    from reports.papers.text import set_plain
    from reports.resolve import day_sheet_data

    signed = SignOff.objects.get(day__course=w.course, day__date=(FIRST + timedelta(0)).date())
    data = day_sheet_data(signed)

    def draw() -> bytes:
        return draw_day_sheet(data, photos=lambda _sha256: None)

    calls: list[tuple[str, Any, Any]] = []
    with mock.patch.object(frame, "Canvas", noting(Canvas, calls)):
        pages = PdfReader(io.BytesIO(draw())).pages
    size = (float(pages[0].mediabox.width), float(pages[0].mediabox.height))
    for bare in (plainly, again):
        same = PdfReader(io.BytesIO(bare(Canvas, size, calls))).pages
        words = [sum(len("".join(page.extract_text().split())) for page in one) for one in (pages, same)]
        if words[1] < 0.98 * words[0] or len(same) != len(pages):
            raise SystemExit(f"{bare.__name__} draws {words[1]} letters, the day sheet {words[0]}: not the same.")

    def anew() -> bytes:
        set_plain.cache_clear()  # a sheet is drawn once; what it repeats within itself is all that may be remembered
        return draw()

    ours, plain, same_calls = timed(
        anew, lambda: plainly(Canvas, size, calls), lambda: again(Canvas, size, calls)
    )  # fmt: skip
    begun = perf_counter()
    day_sheet_data(signed)
    resolving = perf_counter() - begun
    return {
        "lines": len(w.lines),
        "pages": len(pages),
        "s": round(ours + resolving, 2),
        "pages_per_s": round(len(pages) / ours, 1),
        "bare_pages_per_s": round(len(pages) / plain, 1),
        "share": round(plain / ours, 2),
        "share_of_same_calls": round(same_calls / ours, 2),
    }


def timed(*drawings: Any) -> list[float]:
    """Return the median seconds of each drawing. They take turns, so that all of them meet the same machine."""
    from config import memory

    memory.settle()  # as the server does
    times: list[list[float]] = [[] for _drawing in drawings]
    for _ in range(ROUNDS):
        for draw, took in zip(drawings, times, strict=True):
            begun = perf_counter()
            draw()
            took.append(perf_counter() - begun)
    return [median(took) for took in times]
