"""Charts: where things stand on them, and that what is written is well-formed, named and free of style.

The places are worked out by hand from the size of the drawing; there is no published case of a chart.
"""

from __future__ import annotations

import doctest
import re
from datetime import date
from io import BytesIO
from types import ModuleType
from xml.etree import ElementTree as ET

import pytest
from pypdf import PdfReader

from reports import charts, wear_charts, wear_words
from reports.charts import ACROSS, BOTTOM, LEFT, RIGHT, TOP, Chart, Mark, Point, drawn, nice_ticks, svg
from reports.papers.chart import SCALE, STROKES, draw_chart
from reports.papers.frame import Paper
from reports.papers.style import sheet_size
from reports.wear_charts import date_ticks
from tests.reports.paper_reader import letters, tight


def chart(**changed: object) -> Chart:
    return Chart(
        **{  # type: ignore[arg-type]
            "title": "Lining <1> by date", "about": "4 readings.",
            "points": (Point(0.0, 12.0, counts=False), Point(5.0, 11.0), Point(10.0, 10.0, wild=True)),
            "levels": (Mark(9.0, "limit 9 mm", "limit"),),
            "instants": (Mark(10.0, "", "today"), Mark(20.0, "from 5 Jul", "early")),
            "ticks": ((0.0, "1 Jun"), (20.0, "5 Jul")), "x_low": 0.0, "x_high": 20.0,
            "line": ((0.0, 12.0), (20.0, 8.0)), "band": ((0.0, 11.8, 12.2), (20.0, 7.0, 9.0)), **changed,
        }
    )  # fmt: skip


def test_points_stand_at_their_share_of_the_drawing() -> None:
    found = drawn(chart())

    assert [dot.x for dot in found.dots] == pytest.approx(
        [LEFT, LEFT + (RIGHT - LEFT) / 4, LEFT + (RIGHT - LEFT) / 2], abs=0.06
    )
    assert [dot.role for dot in found.dots] == ["old", "dot", "wild"]
    # Sizes from 8 to 12 and eight hundredths of four above and below.
    span = 4 * (1 + 2 * charts.ROOM)
    assert found.dots[0].y == pytest.approx(BOTTOM - (BOTTOM - TOP) * (12 - 8 + 0.32) / span, abs=0.06)


def test_what_lies_higher_is_drawn_higher_and_the_limit_goes_right_across() -> None:
    found = drawn(chart())
    limit = next(path for path in found.paths if path.role == "limit")

    assert found.dots[0].y < found.dots[1].y < found.dots[2].y < limit.places[0][1]
    assert [x for x, _y in limit.places] == [0, ACROSS]


def test_a_band_closes_around_its_line() -> None:
    found = drawn(chart())
    band = next(path for path in found.paths if path.role == "band")
    line = next(path for path in found.paths if path.role == "line")

    assert band.closed
    assert len(band.places) == 4
    assert band.places[0][1] > line.places[0][1] > band.places[3][1]  # the lower edge, the line, the upper one


def test_no_label_of_a_size_lies_on_the_name_of_the_limit() -> None:
    found = drawn(chart())
    named = [label.y for label in found.labels if label.role == "limit"]
    sizes = [label.y for label in found.labels if label.role == "size"]

    assert sizes
    assert all(abs(y - other) > charts.TEXT for y in sizes for other in named)


def test_one_point_alone_and_equal_points_are_drawn_too() -> None:
    for points in ((Point(0.0, 12.0),), (Point(0.0, 12.0), Point(1.0, 12.0))):
        found = drawn(chart(points=points, levels=(), line=(), band=(), x_high=1.0))

        assert len(found.dots) == len(points)
        assert all(TOP <= dot.y <= BOTTOM for dot in found.dots)


def test_the_svg_is_well_formed_named_and_without_style() -> None:
    text = str(svg(drawn(chart()), "wear-1"))
    root = ET.fromstring(text)  # noqa: S314 - written by the code under test

    assert root.attrib["role"] == "img"
    assert root.attrib["aria-labelledby"] == "wear-1-title wear-1-about"
    assert root.find("title").text == "Lining <1> by date"  # type: ignore[union-attr]
    assert "style" not in text
    assert "<script" not in text
    assert len(root.findall("circle")) == 3


@pytest.mark.parametrize(
    ("low", "high", "most", "ticks"),
    [
        (566.0, 601.0, 4, [570.0, 580.0, 590.0, 600.0]),
        (0.0, 5.2, 4, [0.0, 2.0, 4.0]),
        (8.97, 12.03, 4, [9.0, 10.0, 11.0, 12.0]),
        (-1.2, 1.2, 4, [-1.0, 0.0, 1.0]),
        (5.0, 5.0, 4, [5.0]),
    ],
)
def test_ticks_are_round_and_few(low: float, high: float, most: int, ticks: list[float]) -> None:
    # By hand: steps of 1, 2, 2.5 and 5 times a power of ten, common practice.
    assert nice_ticks(low, high, most) == ticks


@pytest.mark.parametrize(
    ("first", "last", "labels"),
    [
        (date(2026, 6, 15), date(2026, 6, 19), ["15 Jun", "16 Jun", "17 Jun", "18 Jun", "19 Jun"]),
        (date(2026, 9, 25), date(2027, 1, 3), ["1 Oct", "1 Nov", "1 Dec", "1 Jan"]),
        (date(2026, 1, 10), date(2028, 1, 20), ["Jul 2026", "Jan 2027", "Jul 2027", "Jan 2028"]),
    ],
)
def test_dates_on_the_axis_are_days_else_firsts_of_months(first: date, last: date, labels: list[str]) -> None:
    found = date_ticks(first.toordinal(), last.toordinal())

    assert [label for _at, label in found] == labels


@pytest.mark.parametrize("module", [charts, wear_charts, wear_words])
def test_the_examples_hold(module: ModuleType) -> None:
    found = doctest.testmod(module)

    assert found.attempted > 0
    assert found.failed == 0


def test_one_drawing_serves_page_and_paper() -> None:
    """Every dot is a circle of four arcs on the paper, every label a text, the limit the thickest line."""
    drawing = drawn(chart())
    paper = Paper(size=sheet_size("a4"), title="t", author="a", subject="s", language="en")
    before = paper.y
    draw_chart(paper, drawing)
    assert before - paper.y > charts.HEIGHT * SCALE
    data = paper.finish()

    stream = PdfReader(BytesIO(data)).pages[0].get_contents().get_data()  # type: ignore[union-attr]
    assert len(re.findall(rb" c\n", stream)) == 4 * len(drawing.dots)
    widths = {float(one) for one in re.findall(rb"([0-9.]+) w\b", stream)}
    assert max(widths) == STROKES["limit"].width
    text = letters(data)
    for label in drawing.labels:
        assert tight(label.text) in text
    assert svg(drawing, "n").count("<circle") == len(drawing.dots)


def test_every_role_that_is_drawn_has_its_stroke_on_paper() -> None:
    roles = {path.role for path in drawn(chart(instants=(Mark(1.0, "", "reset"), Mark(2.0, "", "today")))).paths}
    assert roles - {"band"} <= set(STROKES)
