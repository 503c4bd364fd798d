"""Documents in words: an item of a checklist says what is read, and two that differ never read alike."""

from __future__ import annotations

from typing import Any

import pytest

from courses.wording import item_in_words

ITEM = {"class": "major", "every": "7", "reach": "hand", "measures": "own.figure", "unit": "mm"}


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({}, "major, 7, hand, a figure that only this course measures, mm"),
        ({"unit": "degC"}, "major, 7, hand, a figure that only this course measures, °C"),
        ({"measures": "own.count", "unit": "count"}, "major, 7, hand, a count that only this course takes"),
        ({"measures": "general.sound", "unit": ""}, "major, 7, hand, looked at"),
        ({"measures": "rope.diameter"}, "major, 7, hand, rope.diameter, mm"),
    ],
)
def test_an_item_says_what_is_read(changed: dict[str, Any], said: str) -> None:
    assert item_in_words(ITEM | changed, {}) == said
