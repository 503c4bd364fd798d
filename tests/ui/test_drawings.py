"""The drawings of the trade's words: each one known to the checklists is there, and says in words what it shows.

What each word means is the trade's common wording, from memory; which side of a clip sits where is from memory too.
"""

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from playwright.sync_api import BrowserContext

from courses.checklists import DRAWINGS, library
from tests.conftest import PHONE
from tests.ui.page import draw, show

FOLDER = Path(settings.BASE_DIR) / "templates/ui/drawings"
NAMES = sorted(DRAWINGS - {""})
PAGE = """{% extends "base.html" %}{% block main %}<form class="sheet">{% for item in items %}
{% include "ui/_item.html" with item=item only %}{% endfor %}</form>{% endblock main %}"""

pytestmark = pytest.mark.usefixtures("collected_static")


def items(names: list[str]) -> list[dict[str, str]]:
    return [{"key": name, "question": name, "drawing": name, "answer_name": name} for name in names]


def test_each_drawing_has_one_file_and_each_file_an_item() -> None:
    assert sorted(path.stem for path in FOLDER.iterdir()) == NAMES
    assert {item.drawing for item in library()} - {""} == set(NAMES)


@pytest.mark.parametrize("name", NAMES)
def test_a_drawing_stands_behind_what_is_this_with_the_same_in_words(name: str) -> None:
    html = draw(PAGE, items=items([name]))

    [details] = re.findall(r'<details class="item__detail item__drawing">.*?</details>', html, re.DOTALL)
    assert "What is this?" in details
    assert re.search(r'role="img" aria-label="[^"]{40,}"', details)
    assert re.search(r"<p>[^<]{60,}</p>", details)
    assert "style=" not in details
    assert "http" not in details


def test_an_item_without_a_drawing_asks_nothing() -> None:
    assert "What is this?" not in draw(PAGE, items=[{"key": "a", "question": "a", "drawing": "", "answer_name": "a"}])


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_no_word_of_a_drawing_is_cut_off(open_window: Callable[[dict[str, Any]], BrowserContext], theme: str) -> None:
    page = show(open_window({**PHONE, "color_scheme": theme}), draw(PAGE, items=items(NAMES)))
    page.evaluate("document.querySelectorAll('details').forEach((one) => (one.open = true))")

    cut = page.evaluate(
        """[...document.querySelectorAll(".drawing text")].filter((text) => {
          const box = text.getBBox(), room = text.ownerSVGElement.viewBox.baseVal;
          return box.x < 0 || box.y < 0 || box.x + box.width > room.width || box.y + box.height > room.height;
        }).map((text) => text.textContent)"""
    )

    assert page.locator(".drawing text").count() >= len(NAMES)
    assert cut == []
