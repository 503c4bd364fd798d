"""A chart of readings: where everything stands, and the SVG that says it. No database, no clock, no words of its own.

``Chart`` holds figures and ready-made labels; ``drawn`` turns it into a ``Drawing``: shapes with places and a role
each, which any writer can draw. ``svg`` writes it for the page: widths as shares of the room there is, heights and type
in pixels, so that the letters are as large on a phone as on a desk. Colours and strokes are the style sheet's, by role.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

ACROSS, HEIGHT = 1000, 300  # the drawing's own units: thousandths of its width, pixels of height
LEFT, RIGHT, TOP, BOTTOM = 130, 975, 34, 262  # on the left the sizes are written
ROOM = 0.08  # of the span, above and below everything
BAND_STEPS = 24
STEPS = (1.0, 2.0, 2.5, 5.0, 10.0)
Place = Callable[[float], float]
TEXT = 17  # pixels, as much as a label needs above the line it belongs to


@dataclass(frozen=True)
class Point:
    """One reading. ``counts``: it is one of those that the line was drawn from; ``wild``: it lies far off them."""

    x: float
    y: float
    counts: bool = True
    wild: bool = False


@dataclass(frozen=True)
class Mark:
    """A level (of y) or an instant (of x) with its label.

    ``role`` of a level is limit, bound (advice, not a limit) or usual; of an instant reset, early or today.
    """

    at: float
    label: str
    role: str


@dataclass(frozen=True)
class Chart:
    """Everything that a chart says. ``band`` are (x, low, high) from left to right, ``line`` its places.

    ``ticks`` are (x, label); labels of y are made from ``decimals``.
    """

    title: str
    about: str
    points: tuple[Point, ...]
    levels: tuple[Mark, ...]
    instants: tuple[Mark, ...]
    ticks: tuple[tuple[float, str], ...]
    x_low: float
    x_high: float
    line: tuple[tuple[float, float], ...] = ()
    band: tuple[tuple[float, float, float], ...] = ()


@dataclass(frozen=True)
class Path:
    """A line through places, or an area around them if ``closed``."""

    role: str
    places: tuple[tuple[float, float], ...]
    closed: bool = False


@dataclass(frozen=True)
class Dot:
    role: str
    x: float
    y: float


@dataclass(frozen=True)
class Label:
    """A word; ``anchor`` is start, middle or end."""

    role: str
    x: float
    y: float
    text: str
    anchor: str = "start"


@dataclass(frozen=True)
class Drawing:
    """Shapes in order, the lowest first; x from 0 to ``ACROSS``, y from 0 (top) to ``HEIGHT``."""

    title: str
    about: str
    paths: tuple[Path, ...]
    dots: tuple[Dot, ...]
    labels: tuple[Label, ...]


def nice_ticks(low: float, high: float, most: int) -> list[float]:
    """Return round figures from ``low`` to ``high``, at most ``most`` of them.

    >>> nice_ticks(566.0, 601.0, 4)
    [570.0, 580.0, 590.0, 600.0]
    >>> nice_ticks(0.0, 0.0, 4)
    [0.0]
    """
    span = high - low
    if not span > 0.0 or most < 2:
        return [low]
    size = 10.0 ** math.floor(math.log10(span / most))
    for step in (size * many for many in (*STEPS, 20.0, 25.0, 50.0)):
        first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
        if last - first + 1 <= most:
            return [round(n * step, 9) for n in range(first, last + 1)]
    return [low]


def decimals_for(ticks: Sequence[float]) -> int:
    """Return how many decimals tell the ticks from each other.

    >>> decimals_for([0.1, 0.15]), decimals_for([570.0, 580.0])
    (2, 0)
    """
    return next((n for n in range(6) if all(abs(one - round(one, n)) < 1e-9 for one in ticks)), 6)


def band_places(low: float, high: float) -> list[float]:
    """Return where a band is computed, from one end to the other."""
    return [low + (high - low) * n / BAND_STEPS for n in range(BAND_STEPS + 1)]


def drawn(chart: Chart) -> Drawing:
    """Place everything of a chart."""
    low, high = _span(chart)

    def x(value: float) -> float:
        width = chart.x_high - chart.x_low
        share = (value - chart.x_low) / width if width > 0.0 else 0.5
        return round(LEFT + (RIGHT - LEFT) * min(max(share, 0.0), 1.0), 1)

    def y(value: float) -> float:
        share = (value - low) / (high - low)
        return round(BOTTOM - (BOTTOM - TOP) * min(max(share, 0.0), 1.0), 1)

    ticks = nice_ticks(low, high, 4)
    places = decimals_for(ticks)
    paths = [Path("grid", ((0, y(at)), (ACROSS, y(at)))) for at in ticks]
    if chart.band:
        lower, upper = [(x(at), y(a)) for at, a, _b in chart.band], [(x(at), y(b)) for at, _a, b in chart.band]
        paths += [Path("band", (*lower, *reversed(upper)), closed=True)]
        paths += [Path("edge", tuple(lower)), Path("edge", tuple(upper))]
    paths += [Path(one.role, ((x(one.at), TOP - 8), (x(one.at), BOTTOM))) for one in chart.instants]
    paths += [Path(one.role, ((0, y(one.at)), (ACROSS, y(one.at)))) for one in chart.levels]
    if chart.line:
        paths.append(Path("line", tuple((x(at), y(size)) for at, size in chart.line)))
    paths += [Path("axis", ((0, BOTTOM), (ACROSS, BOTTOM)))]
    paths += [Path("tick", ((x(at), BOTTOM), (x(at), BOTTOM + 6))) for at, _label in chart.ticks]
    dots = [Dot("wild" if one.wild else "dot" if one.counts else "old", x(one.x), y(one.y)) for one in chart.points]
    return Drawing(chart.title, chart.about, tuple(paths), tuple(dots), tuple(_labels(chart, ticks, places, x, y)))


def _span(chart: Chart) -> tuple[float, float]:
    """Return the lowest and highest size of the picture: readings and limits, and the line where it is drawn."""
    sizes = [one.y for one in chart.points] + [one.at for one in chart.levels] + [size for _at, size in chart.line]
    low, high = min(sizes, default=0.0), max(sizes, default=1.0)
    room = (high - low) * ROOM or max(abs(high) * ROOM, 1.0)
    return low - room, high + room


def _labels(chart: Chart, ticks: Sequence[float], places: int, x: Place, y: Place) -> Iterable[Label]:
    # A limit at the upper edge is named below its line, or the name would leave the picture.
    named = {one: y(one.at) + (TEXT if y(one.at) < TOP + TEXT else -6) for one in chart.levels}
    for at in ticks:
        clear = all(abs(y(at) - 4 - other) > TEXT for other in named.values())
        if clear and all(abs(y(at) - 10 - y(one.at)) > TEXT / 2 for one in named):
            yield Label("size", 0, y(at) - 4, f"{at:.{places}f}")
    # At the left, where the part was new and its readings are far from the limit.
    for one, height in named.items():
        yield Label(one.role, 0, height, one.label)
    for one in chart.instants:
        if one.label:
            anchor = "end" if x(one.at) > 0.7 * ACROSS else "start" if x(one.at) < 0.3 * ACROSS else "middle"
            yield Label(one.role, x(one.at), TOP - 14, one.label, anchor)
    for at, label in chart.ticks:
        anchor = "start" if x(at) < 0.1 * ACROSS else "end" if x(at) > 0.9 * ACROSS else "middle"
        yield Label("when", x(at), HEIGHT - 14, label, anchor)


def svg(drawing: Drawing, name: str) -> SafeString:
    """Write a drawing as SVG that fills the width there is. ``name`` is unique on the page."""
    paths = format_html_join("", '<path class="chart__{}" d="{}"/>', ((one.role, _path(one)) for one in drawing.paths))
    dots = format_html_join(
        "", '<circle class="chart__{}" cx="{}%" cy="{}" r="{}"/>',
        ((one.role, f"{one.x / 10:.2f}", f"{one.y:.1f}", "4.5" if one.role != "wild" else "7") for one in drawing.dots),
    )  # fmt: skip
    labels = format_html_join(
        "", '<text class="chart__say chart__say--{}" x="{}%" y="{}" text-anchor="{}">{}</text>',
        ((one.role, f"{one.x / 10:.2f}", f"{one.y:.1f}", one.anchor, one.text) for one in drawing.labels),
    )  # fmt: skip
    return format_html(
        '<svg class="chart__svg" role="img" width="100%" height="{height}" aria-labelledby="{name}-title {name}-about">'
        '<title id="{name}-title">{title}</title><desc id="{name}-about">{about}</desc>'
        '<svg width="100%" height="{height}" viewBox="0 0 {across} {height}" preserveAspectRatio="none">{paths}</svg>'
        "{dots}{labels}</svg>",
        name=name, height=HEIGHT, across=ACROSS, title=drawing.title, about=drawing.about, paths=paths, dots=dots,
        labels=labels,
    )  # fmt: skip


def _path(one: Path) -> str:
    steps = " ".join(f"{x:.1f} {y:.1f}" for x, y in one.places)
    return f"M{steps}{'Z' if one.closed else ''}"
