"""The shapes of states, as on the pages (static/img/shapes.svg), drawn in black.

Each differs in outline and in how much of it is filled, so it is told apart without colour. The boxes are those of the
symbols: 24 x 24 units, 48 x 24 for the state of a line; y points down there and is turned here.
"""

from __future__ import annotations

from typing import Any

WIDE = frozenset({"open", "open_with_limits", "ready", "held", "closed_today"})
STATES = WIDE | {"ok", "watch", "withdraw", "unknown", "critical", "major", "minor", "released"}

_CROSS = (
    (7.7, 5.6), (5.6, 7.7), (9.9, 12), (5.6, 16.3), (7.7, 18.4), (12, 14.1),
    (16.3, 18.4), (18.4, 16.3), (14.1, 12), (18.4, 7.7), (16.3, 5.6), (12, 9.9),
)  # fmt: skip
_TAG = ((8.5, 2.7), (15.5, 2.7), (19.8, 7.5), (19.8, 21.3), (4.2, 21.3), (4.2, 7.5))
_FULL_TAG = ((8, 1.5), (16, 1.5), (21, 7), (21, 22.5), (3, 22.5), (3, 7))
_DIAMOND = ((12, 2), (22, 12), (12, 22), (2, 12))


def width(state: str, height: float) -> float:
    """Return the width of a state's shape of the given height."""
    return height * 2 if state in WIDE else height


def draw(canvas: Any, state: str, x: float, y: float, height: float) -> float:
    """Draw the shape of ``state`` with its lower left corner at (x, y); return its width. KeyError for another name.

    Each shape is in the file once, as a form that is placed wherever it is needed.
    """
    if state not in STATES:
        raise KeyError(state)
    name = f"state-{state}"
    if not canvas.hasForm(name):
        _define(canvas, state, name)
    scale = round(height / 24, 4)
    canvas.saveState()
    canvas.transform(scale, 0, 0, scale, x, y)
    canvas.doForm(name)
    canvas.restoreState()
    return width(state, height)


def _define(canvas: Any, state: str, name: str) -> None:
    canvas.beginForm(name, 0, 0, 48 if state in WIDE else 24, 24)
    canvas.transform(1, 0, 0, -1, 0, 24)
    canvas.setStrokeGray(0)
    canvas.setFillGray(0)
    canvas.setLineWidth(2.5)
    canvas.setLineJoin(1)
    if state in WIDE:
        _line_state(canvas, state)
    else:
        _OTHER[state](canvas)
    canvas.endForm()


def _shape(canvas: Any, *outlines: tuple[tuple[float, float], ...], fill: int = 0, stroke: int = 1) -> None:
    path = canvas.beginPath()
    for outline in outlines:
        path.moveTo(*outline[0])
        for point in outline[1:]:
            path.lineTo(*point)
        path.close()
    canvas.drawPath(path, stroke=stroke, fill=fill, fillMode=0)  # 0: even-odd, so an inner outline is a hole


def _rectangle(x1: float, y1: float, x2: float, y2: float) -> tuple[tuple[float, float], ...]:
    return ((x1, y1), (x2, y1), (x2, y2), (x1, y2))


def _ok(canvas: Any) -> None:
    canvas.circle(12, 12, 9, stroke=0, fill=1)


def _watch(canvas: Any) -> None:
    _shape(canvas, _DIAMOND)
    _shape(canvas, ((3, 12), (21, 12), (12, 21.5)), fill=1, stroke=0)


def _withdraw(canvas: Any) -> None:
    _shape(canvas, _rectangle(2, 2, 22, 22), _CROSS, fill=1, stroke=0)


def _unknown(canvas: Any) -> None:
    canvas.setDash([4.4, 4.4], 2.2)
    _shape(canvas, _rectangle(3.2, 3.2, 20.8, 20.8))


def _critical(canvas: Any) -> None:
    bars = [_rectangle(6.5, top, 17.5, top + 2) for top in (10.5, 14.2, 17.9)]
    _shape(canvas, _FULL_TAG, *bars, fill=1, stroke=0)
    canvas.setFillGray(1)
    canvas.circle(12, 6.1, 1.9, stroke=0, fill=1)


def _tag(canvas: Any, bars: tuple[float, ...], line: float) -> None:
    canvas.setLineWidth(line)
    _shape(canvas, _TAG)
    canvas.circle(12, 7, 1.6, stroke=0, fill=1)
    for bar in bars:
        canvas.line(7.5, bar, 16.5, bar)


def _major(canvas: Any) -> None:
    _tag(canvas, (12.7, 17), 2.4)


def _minor(canvas: Any) -> None:
    _tag(canvas, (17,), 1.8)


def _released(canvas: Any) -> None:
    canvas.setLineWidth(1.8)
    _shape(canvas, _TAG)
    canvas.setLineWidth(2.4)
    canvas.line(2, 21, 22, 4)


_OTHER = {
    "ok": _ok,
    "watch": _watch,
    "withdraw": _withdraw,
    "unknown": _unknown,
    "critical": _critical,
    "major": _major,
    "minor": _minor,
    "released": _released,
}


def _cable(canvas: Any) -> None:
    """The whole cable: the curve of the symbol, its one control point turned into two."""
    canvas.bezier(3, 6, 17, 14.667, 31, 14.667, 45, 6)


def _line_state(canvas: Any, state: str) -> None:
    canvas.setLineWidth(3.5)
    canvas.line(3, 3, 3, 22)
    canvas.line(45, 3, 45, 22)
    canvas.setLineWidth(2.5)
    if state == "open":
        _cable(canvas)
        canvas.circle(24, 12.5, 6, stroke=0, fill=1)
    elif state == "open_with_limits":
        _cable(canvas)
        canvas.circle(24, 12.5, 4.5, stroke=0, fill=1)
        for outer, inner in ((13, 17), (35, 31)):
            canvas.lines([(inner, 3, outer, 3), (outer, 3, outer, 22), (outer, 22, inner, 22)])
    elif state == "ready":
        canvas.bezier(15.5, 12.2, 25.167, 14.067, 35, 12, 45, 6)
        canvas.line(3, 6, 6, 8)
        canvas.circle(10.5, 10.5, 5, stroke=1, fill=0)
    elif state == "held":
        canvas.bezier(3, 6, 7, 8.533, 10.667, 10.2, 14, 11)
        canvas.bezier(34, 11, 37.333, 10.2, 41, 8.533, 45, 6)
        canvas.rect(16, 2, 16, 20, stroke=0, fill=1)
    else:
        canvas.setDash([4, 5])
        canvas.line(8, 20.7, 40, 20.7)
