"""How text is set and shapes are drawn: nothing typed is lost, nothing is wider than its column."""

from __future__ import annotations

from itertools import combinations
from pathlib import Path
from subprocess import run

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from PIL import Image, ImageChops
from reportlab.pdfbase.pdfmetrics import stringWidth

from reports.papers import marks
from reports.papers.fonts import HEAVY, REGULAR, STRONG, clean, face_of, text_width
from reports.papers.frame import Paper, fit
from reports.papers.style import BODY, DENSE, DENSE_STRONG, SHEETS, TITLE
from reports.papers.tag import fit_lines
from reports.papers.text import Piece, line_width, set_plain, set_words, shortened, width_of

TEXT = st.text(st.characters(codec="utf-8", exclude_categories=["Cs"]), max_size=200)


def said(text: str) -> str:
    return "".join(clean(line) for line in text.splitlines()).replace(" ", "").replace("\xa0", "")


@given(TEXT, st.floats(40, 400))  # the number that stands for an unknown sign is not cut: up to 32 points
@example("\u017f\uffff", 40.0)
@example("\u017f\u07fe", 40.0)
@example("000000\u00b5\u0363\u0c00\U0001f150", 78.0)
def test_set_text_keeps_every_letter_and_its_width(text: str, width: float) -> None:
    lines = set_plain(text, BODY, width)
    assert "".join(span.text for line in lines for span in line).replace(" ", "").replace("\xa0", "") == said(text)
    for line in lines:
        one_letter = len(line[0].text) <= 1  # one that is wider than the column cannot be cut
        # The spare face is a little wider: a word may be cut by it before its last letter only.
        assert line_width(line) <= width + 0.01 or one_letter


@given(st.lists(st.tuples(TEXT, st.booleans()), min_size=1, max_size=5), st.floats(30, 400))
def test_set_pieces_keep_every_letter_and_their_width(parts: list[tuple[str, bool]], width: float) -> None:
    given_pieces = [Piece(text, DENSE_STRONG if strong else DENSE) for text, strong in parts]
    lines = set_words(given_pieces, DENSE, width)
    found = "".join(span.text for line in lines for span in line).replace(" ", "").replace("\xa0", "")
    assert found == "".join(said(text) for text, _strong in parts)
    for line in lines:
        assert line_width(line) <= width + 0.01 or len(line) == 1


@pytest.mark.parametrize("face", [REGULAR, STRONG, HEAVY])
def test_widths_are_those_of_the_drawing_library(face: str) -> None:
    for text in ("Spring pack SP-03", "Łukasz Wójcik, Åse Ødegård", "15.79 mm – 6.00", ""):
        assert text_width(clean(text), face, 9.0) == pytest.approx(stringWidth(clean(text), face, 9.0))


@pytest.mark.parametrize("text", ["Zoë Ångström", "Łukasz Żółć", "İpek Çağlar", "Nguyễn Thị Hạnh", "Ωκεανός", "Днестр"])
def test_names_of_many_countries_are_written_out(text: str) -> None:
    assert clean(text) == text


def test_a_word_is_written_in_one_face() -> None:
    assert face_of("Hạnh", STRONG) != STRONG
    assert face_of("Hanh", STRONG) == STRONG


def test_a_sign_that_no_face_has_is_written_as_its_number() -> None:
    assert clean("tag 中") == "tag [U+4E2D]"
    assert clean("a\u202eb") == "a[U+202E]b", "a sign that would turn the reading order is shown"


def test_a_unit_keeps_to_its_figure() -> None:
    assert clean("below 15.20 mm, 5 % of nominal") == "below 15.20\xa0mm, 5\xa0% of nominal"
    assert clean("4 mornings, 3 minutes") == "4 mornings, 3 minutes"


def test_text_is_made_smaller_to_fit_but_not_below_half() -> None:
    assert fit("x", TITLE, 100) is TITLE
    small = fit("Long name of a line", TITLE, 150)
    assert width_of("Long name of a line", small) <= 150.01
    assert fit("y" * 500, TITLE, 100).size == TITLE.size / 2


def test_a_running_head_is_shortened_with_a_sign() -> None:
    short = shortened("Ostermoor Forest Cooperative", BODY, 60)
    assert short.endswith("…")
    assert width_of(short, BODY) <= 60
    assert shortened("Ostermoor", BODY, 60) == "Ostermoor"


def test_what_is_too_long_for_a_box_says_where_the_rest_is() -> None:
    kind, lines = fit_lines("stitching worn " * 200, BODY, 150, 40)
    assert len(lines) * kind.leading <= 40.5
    assert "Whole text in the record." in " ".join(span.text for line in lines for span in line)
    kind, lines = fit_lines("stitching worn", BODY, 150, 40)
    assert kind is BODY


def test_each_state_has_a_shape_of_its_own(tmp_path: Path) -> None:
    """Drawn, shrunk to the size of print and compared: at least a tenth of the darker one's ink differs."""
    paper = Paper(size=SHEETS["a4"], title="", author="", subject="", language="en")
    states = sorted(marks.STATES)
    for number, state in enumerate(states):
        paper.mark(state, 40 + 60 * (number % 8), 700 - 60 * (number // 8), 20)
    path = tmp_path / "shapes.pdf"
    path.write_bytes(paper.finish())
    run(["pdftoppm", "-r", "144", "-gray", path, tmp_path / "page"], check=True)
    (file,) = tmp_path.glob("page*.pgm")
    drawn: dict[str, Image.Image] = {}
    with Image.open(file) as page:
        for number, state in enumerate(states):
            x, y = 2 * (40 + 60 * (number % 8)), page.height - 2 * (700 - 60 * (number // 8) + 20)
            drawn[state] = page.crop((x - 2, y - 2, x + 82, y + 42)).copy()

    def ink(image: Image.Image) -> int:
        return sum(count for level, count in enumerate(image.histogram()) if level < 128)

    for one, other in combinations(states, 2):
        differing = ImageChops.invert(ImageChops.difference(drawn[one], drawn[other]))
        assert ink(differing) >= 0.1 * max(ink(drawn[one]), ink(drawn[other])), (one, other)


def test_a_state_without_a_shape_is_refused() -> None:
    paper = Paper(size=SHEETS["a4"], title="", author="", subject="", language="en")
    with pytest.raises(KeyError):
        paper.mark("fine", 10, 10, 10)
