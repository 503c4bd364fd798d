"""Every state has a word and a shape, and the shapes are told apart without colour."""

import io
import itertools
import re
from pathlib import Path

import pytest
from django.conf import settings
from PIL import Image, ImageChops

from tests.ui.page import draw

pytestmark = pytest.mark.usefixtures("collected_static")

SPRITE = (Path(settings.BASE_DIR) / "static/img/shapes.svg").read_text()
SYMBOLS = re.findall(r'<symbol id="(\w+)" viewBox="0 0 (\d+) 24">(.*?)</symbol>', SPRITE, re.DOTALL)
PARTS = (Path(settings.BASE_DIR) / "static/css/parts.css").read_text()
FAMILIES = {
    "verdicts": {"ok": "OK", "watch": "Watch", "withdraw": "Out of service", "unknown": "Not checked"},
    "lines": {
        "open": "Open",
        "open_with_limits": "Open with limits",
        "ready": "Ready",
        "held": "Held",
        "closed_today": "Closed today",
    },
    "findings": {"critical": "Critical", "major": "Major", "minor": "Minor", "released": "Released"},
    "days": {
        "day_signed": "Signed before opening",
        "day_late": "Signed late",
        "day_missing": "Missing",
        "day_off": "Not operating",
        "day_ahead": "Still to come",
    },
}
STATES = [(state, word) for family in FAMILIES.values() for state, word in family.items()]


@pytest.mark.parametrize(("state", "word"), STATES)
def test_a_mark_has_word_shape_and_tone(state, word):
    html = draw('{% include "ui/_mark.html" with state=state only %}', state=state)

    assert f"<span>{word}</span>" in html
    assert f'#{state}"' in html
    assert state in [name for name, _, _ in SYMBOLS]
    assert re.search(rf"\.is-{state}\b", PARTS)


def test_a_mark_can_say_another_word():
    html = draw('{% include "ui/_mark.html" with state="ok" word=word only %}', word="Within <limit>")

    assert "<span>Within &lt;limit&gt;</span>" in html
    assert "OK" not in html


@pytest.mark.parametrize("family", FAMILIES)
def test_shapes_of_one_kind_differ_in_black_and_white(family, browser):
    # No published figure: that a tenth of the ink of the fuller shape must differ is judgement, at the size of text.
    pictures = {}
    page = browser.new_page(viewport={"width": 48, "height": 24})
    for name, width, content in SYMBOLS:
        if name in FAMILIES[family]:
            page.set_content(
                f'<body style="margin:0"><svg width="{width}" height="24" viewBox="0 0 {width} 24">{content}</svg>'
            )
            pictures[name] = Image.open(io.BytesIO(page.screenshot())).convert("L").point(lambda v: 255 * (v < 128))
    page.close()

    assert pictures.keys() == FAMILIES[family].keys()
    for one, other in itertools.combinations(pictures, 2):
        ink = max(pictures[name].histogram()[255] for name in (one, other))
        differing = ImageChops.difference(pictures[one], pictures[other]).histogram()[255]
        assert differing >= ink / 10, f"{one} and {other} look alike: {differing} of {ink} dots differ"
