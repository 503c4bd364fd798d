"""Checklist items as parts of a crispy form: each item is drawn by the one partial for items."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from crispy_forms.layout import LayoutObject
from crispy_forms.utils import TEMPLATE_PACK
from django.http import QueryDict
from django.template.loader import render_to_string
from django.utils.translation import gettext as _

from courses.models import Course
from engineering.units import BARE, UNITS
from inspections.judging import REGISTER_KINDS, TYPED_KINDS, Answer, Judged
from inspections.measures import as_meant, as_typed, asked_in
from inspections.words import VERDICTS

# The words of the switch on the page and the marks of the record.
TO_MARK = {"sound": "sound", "defect": "defect", "cannot_check": "not_done"}
FROM_MARK = {"sound": "sound", "defect": "defect", "not_done": "cannot_check"}
BETWEEN = re.compile(r"\s+/\s+|\s*;\s*")  # between the two readings of a pair, as engineering.typed reads it
MOST_NOTE, MOST_FIGURE, MOST_GAUGE = 2000, 60, 60


class ItemBlock(LayoutObject):
    """One item in the layout of a form."""

    def __init__(self, shown: Mapping[str, Any]) -> None:
        self.shown = shown

    def render(self, form: Any, context: Any, template_pack: Any = TEMPLATE_PACK, **kwargs: Any) -> str:
        return render_to_string("ui/_item.html", {"item": self.shown})


def shown(
    judged: Judged,
    *,
    limit: str = "",
    last: str = "",
    difference: str = "",
    ask: str = "",
    need: str = "",
    photos: tuple[str, ...] = (),
    tool: Mapping[str, Any] | None = None,
    caution: str = "",
    added: bool = False,
    withdraw: bool = True,
    keeps: bool = True,
    units: str = Course.Units.METRIC,
) -> dict[str, Any]:
    """Return one item as its partial takes it. The last figure is told only once one stands in the field.

    ``need`` is what is still wanted before signing; ``photos`` are addresses; ``caution`` is given where it is new.
    ``keeps``: what is entered is kept by the server as one goes, photos too; otherwise the form has none. ``units``: in
    which the course is asked. ``tool``: what ``inspections.tools`` says of the measuring tool.
    """
    item, answer = judged.item, judged.answer
    key, typed = item["key"], item["kind"] in TYPED_KINDS
    register = item["kind"] in REGISTER_KINDS
    found: dict[str, Any] = {
        "key": key,
        "question": item["text"],
        "tag": judged.component.tag if judged.component else "",
        "part": str(judged.component.pk) if judged.component else "",
        "detail": item.get("look", ""),
        "drawing": item.get("drawing", ""),
        "caution": caution,
        "added": added,
        "limit": limit,
        "need": need,
        "photos": photos,
        "withdraw_value": key if withdraw and not register else "",
    }
    if not register:
        found |= {"note_name": f"note-{key}", "note": answer.note or answer.reason}
        found |= {"kept_name": f"kept-{key}", "kept": _insisted(answer)}
        found |= {"photo_name": f"photo-{key}"} if keeps else {}
    if typed:
        found |= _typed(judged, tool or {}, units)
    elif not register:
        found |= {"answer_name": f"mark-{key}", "answer": FROM_MARK.get(answer.mark, "")}
    if register or not answer.is_empty:
        found |= _verdict(judged, ask, units)
    if typed and answer.text:
        found |= {"last": last, "difference": difference}
    return found


def _insisted(answer: Answer) -> str:
    return (answer.text or answer.mark) if answer.kept else ""


def _typed(judged: Judged, tool: Mapping[str, Any], units: str) -> dict[str, Any]:
    item, answer = judged.item, judged.answer
    key, text = item["key"], as_typed(answer.text, item["unit"], units)
    asked = asked_in(item["unit"], units)
    found = {
        "figure_name": f"text-{key}",
        "figure": text,
        "figure_label": _("Count") if item["kind"] == "count" else _("Figure"),
        "unit": "" if asked in BARE else UNITS[asked].shown.strip(),
        # Fractions of an inch have a stroke, which a pad of digits does not.
        "keypad": "numeric" if item["kind"] == "count" else "text" if asked == "in" else "decimal",
        "cannot_name": f"mark-{key}",
        "cannot": answer.mark == "not_done",
    }
    if item["kind"] == "pair":
        halves = BETWEEN.split(text, maxsplit=1)
        first, second = halves[0], halves[1] if len(halves) > 1 else ""
        found |= {"figure": first, "figure_label": _("First reading"), "second_name": f"second-{key}"}
        found |= {"second": second, "second_label": _("At right angles to it"), "whole": text}
    if tool:
        found |= {"gauge_name": f"gauge-{key}", **tool}
    return found


def _verdict(judged: Judged, ask: str, units: str) -> dict[str, Any]:
    state = "unknown" if ask else judged.verdict
    sentence = judged.question.sentence if judged.question is not None else judged.judgement.sentence
    found: dict[str, Any] = {"verdict": state, "word": str(VERDICTS[state]), "sentence": sentence}
    if judged.question is not None:
        found["sentence"] = f"{sentence} {judged.question.suggestion}".strip()
        found["choices"] = [as_typed(one, judged.item["unit"], units) for one in judged.question.choices]
    elif judged.answer.mark == "not_done":
        found["sentence"] = (
            _("Written down. It holds no line.")
            if judged.item["class"] == "minor"
            else _("No line that needs it opens until somebody has checked it.")
        )
    if judged.question is None:
        found["clause"] = judged.judgement.source
    if ask:
        found["ask"] = {
            "sentence": ask, "keep": judged.item["key"], "value": judged.answer.text or judged.answer.mark,
        }  # fmt: skip
        found["sentence"] = found["clause"] = ""
        if not judged.answer.text:
            found["ask"] |= {"said": _("Defect"), "keep_word": _("Out of service"), "change_word": _("Change")}
    return found


def answer_from(post: QueryDict, item: Mapping[str, Any], units: str) -> dict[str, str]:
    """Return what was posted about one item; only what the form had fields for."""
    key, found = item["key"], {}
    if f"note-{key}" in post:
        found["note"] = str(post[f"note-{key}"]).strip()[:MOST_NOTE]
    if item["kind"] not in TYPED_KINDS:
        if f"mark-{key}" in post:
            found["mark"] = TO_MARK.get(str(post[f"mark-{key}"]), "")
    elif f"text-{key}" in post:
        parts = [str(post[f"text-{key}"]).strip(), str(post.get(f"second-{key}", "")).strip()]
        text = as_meant(" / ".join(part for part in parts if part), item["unit"], units)
        found["text"] = text[:MOST_FIGURE]
        # A box that is not ticked is not posted; where the figure's field was there, the box was too.
        found["mark"] = "not_done" if post.get(f"mark-{key}") == "cannot_check" else ""
        if f"gauge-{key}" in post:
            other = str(post.get(f"tool-{key}", "")).strip()
            found["gauge"] = (other or str(post[f"gauge-{key}"]).strip())[:MOST_GAUGE]
    if f"kept-{key}" in post:
        found["kept"] = str(post[f"kept-{key}"])
    if post.get("keep") == key:
        found["kept"] = found.get("text") or found.get("mark") or ""
    return found
