"""The day sheet: how long it takes, against reportlab drawing the very same strokes without anything else.

Twice: as one draws with reportlab ordinarily, a ``drawString`` for each text, and with the very calls that the day
sheet makes, which write a page's text as one object. Both are told which text goes where; the day sheet finds out.

Then the file that is kept of it: entries attached, PDF/A, signature with a key that was loaded before.
"""

from __future__ import annotations

import io
import tempfile
from datetime import timedelta
from pathlib import Path
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


def day_file(w: SimpleNamespace) -> dict[str, Any]:
    """Return what the kept file of the same day sheet takes: entries, PDF/A, signature, and all of it with drawing."""
    from django.test import override_settings

    from inspections.models import SignOff
    from ledger.models import Checkpoint, Entry
    from reports import day_sheet_file, pdf_key
    from reports.day_entries import day_entries
    from reports.papers.archive import archived
    from reports.papers.day_sheet import draw_day_sheet
    from reports.papers.text import set_plain
    from reports.pdf_signing import covers_all, signed
    from reports.resolve import day_sheet_data

    signed_day = SignOff.objects.select_related("day__course__operator__log").get(
        day__course=w.course, day__date=(FIRST + timedelta(0)).date()
    )
    at, log = signed_day.signed_at, w.course.operator.log
    state = Checkpoint(log=log, size=Entry.objects.filter(log=log, seq__lte=signed_day.seq).count(), note="-")
    with tempfile.TemporaryDirectory(prefix="lineworthy-bench-key-") as folder:
        file = Path(folder) / "certificate.p12"
        file.write_bytes(pdf_key.made("Bench", at=at, since=at, password=""))
        with override_settings(PDF_KEY_FILE=str(file), PDF_KEY_PASSWORD=""):
            key = pdf_key.configured()
            if key is None:
                raise SystemExit("No certificate is set: nothing would be signed.")
            attached = day_entries(signed_day, state).files
            drawn = draw_day_sheet(day_sheet_data(signed_day), photos=lambda _sha256: None)
            lasting = archived(drawn, attached, at=at)

            def whole() -> bytes:
                set_plain.cache_clear()
                data = day_sheet_data(signed_day)
                return day_sheet_file.made(data, signed_day, state, photos=lambda _sha256: None, at=at)

            begun = perf_counter()
            kept = whole()
            first = perf_counter() - begun
            if not covers_all(kept):
                raise SystemExit("The file is not signed as a whole: the figures would be of something else.")
            entries_s, archive_s, sign_s, all_s = timed(
                lambda: day_entries(signed_day, state),
                lambda: archived(drawn, attached, at=at),
                lambda: signed(lasting, key, at=at, reason="bench", location="bench"),
                whole,
            )
    return {
        "entries_ms": round(entries_s * 1000),
        "attached_kB": round(sum(len(one.content) for one in attached) / 1000),
        "archive_ms": round(archive_s * 1000),
        "sign_ms": round(sign_s * 1000),
        "s": round(all_s, 2),
        "first_s": round(first, 2),
        "kB": round(len(kept) / 1000),
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
