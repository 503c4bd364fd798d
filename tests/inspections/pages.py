"""Addresses, texts and posts of the pages of the running day, for the tests that ask for them."""

import re
from types import SimpleNamespace
from typing import Any

from django.urls import reverse

from inspections.actions.rides import ride_items
from tests import make


def url(w: SimpleNamespace, name: str, *more: Any) -> str:
    return reverse(f"inspections:{name}", args=[w.course.pk, *more])


def sheet_url(w: SimpleNamespace, section: str = "landing", where: Any = None) -> str:
    return url(w, "sheet", (where or w.line).pk, section)


def text(response: Any) -> str:
    return re.sub(r"\s+", " ", response.content.decode())


def seen(response: Any) -> str:
    """Return the text without what is there for scripts alone."""
    return re.sub(r"<script.*?</script>", "", text(response))


def posted(w: SimpleNamespace, section: str = "landing", where: Any = None, **changed: str) -> dict[str, str]:
    """Return what a browser posts for a section with sound answers; ``changed`` by field name."""
    fields = {}
    for key, answer in make.answers(w, where or w.line, section, at=w.t(0)).items():
        if "text" in answer:
            fields[f"text-{key}"] = answer["text"]
        else:
            fields[f"mark-{key}"] = "sound"
    return {**fields, **changed}


def ride_fields(w: SimpleNamespace, **more: str) -> dict[str, str]:
    """Return what a browser posts for a good test ride of line 1; ``more`` by field name."""
    fields = make.ride_raw()
    for item in ride_items(make.picture(w, w.t(0)), w.line):
        value = make.RIDE_FIGURES.get(item["measures"], "0.1")
        name, said = ("mark", "sound") if item["kind"] in {"look", "function", "choice"} else ("text", value)
        fields[f"{name}-{item['key']}"] = said
    return {**fields, **more}


def hidden(response: Any) -> dict[str, str]:
    """Return the hidden fields of the forms on a page, which a browser sends back."""
    return dict(re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)"', response.content.decode()))
