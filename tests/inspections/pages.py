"""Addresses and text of the pages of the running day, for the tests that ask for them."""

import re
from types import SimpleNamespace
from typing import Any

from django.urls import reverse


def url(w: SimpleNamespace, name: str, *more: Any) -> str:
    return reverse(f"inspections:{name}", args=[w.course.pk, *more])


def sheet_url(w: SimpleNamespace, section: str = "landing") -> str:
    return url(w, "sheet", w.line.pk, section)


def text(response: Any) -> str:
    return re.sub(r"\s+", " ", response.content.decode())
