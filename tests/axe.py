"""A page read by axe-core, whose rules follow WCAG 2.2."""

from __future__ import annotations

from typing import Any

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

# What passes is not told node by node: on a long sheet that takes as long as the reading.
OPTIONS = {"resultTypes": ["violations"]}


def violations(page: Page) -> list[dict[str, Any]]:
    """Return what axe-core finds wrong on the page as it stands."""
    found: list[dict[str, Any]] = Axe().run(page, options=OPTIONS).response["violations"]
    return found
