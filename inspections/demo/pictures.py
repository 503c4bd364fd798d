"""Drawings that stand in for the photos of the invented season: one for each thing that was photographed."""

from __future__ import annotations

from collections.abc import Callable
from io import BytesIO

from PIL import Image, ImageDraw

SIZE = (640, 480)
WALL, DARK, STEEL, RULE = "#c9c3b4", "#2b2926", "#7d8288", "#f4ecd0"
Pen = ImageDraw.ImageDraw


def drawn(name: str) -> bytes:
    """Return the drawing of that name as a JPEG, byte for byte the same each time. Raises KeyError for another name."""
    image = Image.new("RGB", SIZE, WALL)
    pen = ImageDraw.Draw(image)
    DRAWINGS[name](pen)
    out = BytesIO()
    image.save(out, "JPEG", quality=82)
    return out.getvalue()


def _rule(pen: Pen, *, top: int = 410) -> None:
    pen.rectangle((40, top, 600, top + 36), fill=RULE, outline=DARK, width=3)
    for step in range(28):
        pen.line((50 + step * 20, top, 50 + step * 20, top + (12 if step % 5 else 24)), fill=DARK, width=2)


def _tag(pen: Pen, x: int, y: int) -> None:
    pen.line((x + 20, y, x + 44, y - 50), fill=DARK, width=3)
    pen.polygon([(x, y + 12), (x + 14, y), (x + 72, y), (x + 72, y + 96), (x, y + 96)], fill="#c8402c", outline=DARK)
    pen.ellipse((x + 14, y + 8, x + 26, y + 20), fill=WALL, outline=DARK)
    for line in range(3):
        pen.line((x + 12, y + 40 + 16 * line, x + 60, y + 40 + 16 * line), fill="#f7f3e8", width=4)


def _helmet(pen: Pen) -> None:
    pen.pieslice((150, 90, 470, 450), 180, 360, fill="#d8a52a", outline=DARK, width=6)
    pen.rounded_rectangle((130, 262, 510, 292), 14, fill="#b9871a", outline=DARK, width=4)
    for x in range(250, 400, 60):
        pen.rounded_rectangle((x, 140, x + 14, 210), 7, fill="#8a6413")
    pen.ellipse((186, 228, 210, 252), fill=STEEL, outline=DARK, width=3)
    pen.line([(206, 232), (226, 214), (222, 196), (244, 176), (240, 158)], fill="#1a0d08", width=5)
    pen.line([(180, 292), (230, 380), (300, 392)], fill="#3a3f46", width=12)
    _rule(pen, top=424)


def _lanyard(pen: Pen) -> None:
    pen.rounded_rectangle((60, 200, 330, 260), 10, fill="#2e5f8a", outline=DARK, width=4)
    pen.rounded_rectangle((60, 224, 330, 236), 4, fill="#e8e2d2")
    for x in range(190, 316, 14):
        pen.line((x, 206, x + 8, 254), fill="#d33f2f", width=3)
    for index, y in enumerate(range(196, 268, 6)):
        pen.line((318, y + 4, 348 + 9 * (index % 3), y - 6 + 5 * (index % 4)), fill="#6f93b3", width=3)
    pen.ellipse((352, 176, 460, 284), fill=STEEL, outline=DARK, width=6)
    pen.ellipse((384, 208, 428, 252), fill=WALL, outline=DARK, width=5)
    pen.rectangle((452, 212, 560, 248), fill=STEEL, outline=DARK, width=5)
    _tag(pen, 500, 290)
    _rule(pen)


def _coil(pen: Pen, left: int, right: int, turns: int, colour: str) -> None:
    step = (right - left) / turns
    for turn in range(turns):
        x = left + turn * step
        pen.line((x, 190, x + step * 0.55, 310), fill=DARK, width=20)
        pen.line((x, 190, x + step * 0.55, 310), fill=colour, width=12)
        pen.line((x + step * 0.55, 310, x + step, 190), fill="#4b4f54", width=8)
    for x in (left - 30, right):
        pen.rectangle((x, 168, x + 30, 332), fill="#5a5d61", outline=DARK, width=5)


def _spring_short(pen: Pen) -> None:
    _coil(pen, 110, 470, 13, "#8a5a35")  # short, closed up, rusted
    for x, y in ((170, 230), (250, 270), (330, 222), (410, 266)):
        pen.ellipse((x, y, x + 26, y + 14), fill="#a8521f")
    pen.line((530, 150, 530, 400), fill="#c8402c", width=5)  # where it should reach to
    _tag(pen, 548, 190)
    _rule(pen)


def _spring_new(pen: Pen) -> None:
    _coil(pen, 90, 526, 11, "#b9c0c8")
    pen.line((556, 150, 556, 400), fill="#2f7d4a", width=5)
    pen.rounded_rectangle((240, 96, 400, 142), 6, fill="#f7f3e8", outline=DARK, width=3)
    pen.line((256, 112, 384, 112), fill=DARK, width=4)
    pen.line((256, 126, 350, 126), fill=DARK, width=4)
    _rule(pen)


def _block(pen: Pen) -> None:
    pen.line((0, 130, 640, 108), fill="#55595e", width=16)
    pen.rounded_rectangle((170, 96, 470, 250), 22, fill="#8b6b43", outline=DARK, width=6)
    for x in (230, 410):
        pen.ellipse((x - 16, 160, x + 16, 192), fill=STEEL, outline=DARK, width=4)
    pen.rounded_rectangle((452, 120, 540, 270), 18, fill="#33312e", outline=DARK, width=5)
    pen.polygon([(548, 206), (494, 214), (506, 236), (480, 250), (512, 262), (500, 280), (548, 284)], fill=WALL)
    pen.line([(494, 214), (506, 236), (480, 250), (512, 262), (500, 276)], fill="#6d675e", width=5)
    pen.line((250, 250, 214, 392), fill="#d9cfb2", width=12)
    _rule(pen)


def _block_tagged(pen: Pen) -> None:
    pen.rectangle((250, 0, 330, 480), fill="#6b4e33", outline=DARK, width=5)
    pen.line((0, 176, 640, 150), fill="#55595e", width=10)
    pen.rounded_rectangle((360, 138, 500, 212), 14, fill="#8b6b43", outline=DARK, width=5)
    pen.rounded_rectangle((490, 150, 530, 222), 10, fill="#33312e", outline=DARK, width=4)
    pen.line([(330, 200), (392, 250), (392, 212)], fill="#d3b23a", width=9)  # tied back to the pole
    _tag(pen, 410, 262)


def _pole_foot(pen: Pen) -> None:
    pen.rectangle((0, 380, 640, 480), fill="#7f8a5b")
    pen.rectangle((230, 0, 410, 392), fill="#5d7466", outline=DARK, width=5)
    pen.polygon([(250, 250), (300, 232), (352, 262), (392, 300), (360, 352), (286, 360), (248, 318)], fill="#b08d5e")
    for x, y in ((256, 268), (330, 250), (372, 322), (280, 346)):
        pen.polygon([(x, y), (x + 24, y - 8), (x + 18, y + 16)], fill="#86a091", outline="#3f5148")
    pen.rectangle((190, 384, 450, 430), fill="#9c9a94", outline=DARK, width=5)


DRAWINGS: dict[str, Callable[[Pen], None]] = {
    "helmet": _helmet,
    "lanyard": _lanyard,
    "spring-short": _spring_short,
    "spring-new": _spring_new,
    "block": _block,
    "block-tagged": _block_tagged,
    "pole-foot": _pole_foot,
}
