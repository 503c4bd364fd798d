"""Checklist items as parts of a crispy form: each item is drawn by the one partial for items."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from crispy_forms.layout import LayoutObject
from crispy_forms.utils import TEMPLATE_PACK
from django.http import QueryDict
from django.template.loader import render_to_string
from django.utils.translation import gettext as _

from inspections.judging import REGISTER_KINDS, TYPED_KINDS, Judged
from inspections.words import VERDICTS

# The words of the switch on the page and the marks of the record.
TO_MARK = {"sound": "sound", "defect": "defect", "cannot_check": "not_done"}
FROM_MARK = {"sound": "sound", "defect": "defect", "not_done": "cannot_check"}


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
    missing: str = "",
    photos: int = 0,
    added: bool = False,
) -> dict[str, Any]:
    """Return one item as its partial takes it. The last figure is told only once one stands in the field."""
    item, answer = judged.item, judged.answer
    key, typed = item["key"], item["kind"] in TYPED_KINDS
    answered = not answer.is_empty or item["kind"] in REGISTER_KINDS
    sentence = judged.question.sentence if judged.question is not None else judged.judgement.sentence
    if missing and not (answered and sentence):
        sentence = missing
    state = "unknown" if ask else judged.verdict
    found: dict[str, Any] = {
        "key": key,
        "question": item["text"] + (f" ({judged.component.tag})" if judged.component else ""),
        "detail": item.get("look", ""),
        "clause": judged.judgement.source if answered else "",
        "unit": "" if item["unit"] == "count" else item["unit"],
        "limit": limit,
        "note_name": f"note-{key}",
        "note": answer.note or answer.reason,
        "photo_name": f"photo-{key}",
        "photo_said": _("%(count)s kept") % {"count": photos} if photos else "",
        "withdraw_value": key,
    }
    if item["kind"] in REGISTER_KINDS:
        found |= {"note_name": "", "photo_name": "", "withdraw_value": ""}
    elif typed:
        found |= {"figure_name": f"text-{key}", "figure": answer.text, "figure_label": _label(item)}
        found |= {"answer_name": "", "answer": ""}
    else:
        found |= {"answer_name": f"mark-{key}", "answer": FROM_MARK.get(answer.mark, "")}
    if answered or missing:
        found |= {"verdict": state, "word": str(VERDICTS[state]), "sentence": sentence}
    if typed and answer.text:
        found |= {"last": last, "difference": difference}
    if ask:
        found["ask"] = {"sentence": ask, "keep": key}
    if added:
        found["detail"] = _("Added to the checklist since this sheet was opened.") + " " + found["detail"]
    return found


def _label(item: Mapping[str, Any]) -> str:
    if item["kind"] == "pair":
        return _("Two readings at right angles, as in 11.8 / 11.7")
    return _("Count") if item["kind"] == "count" else _("Figure")


def answer_from(post: QueryDict, key: str, kind: str) -> dict[str, str]:
    """Return what was posted about one item; only what the form had fields for."""
    found: dict[str, str] = {}
    if f"note-{key}" in post:
        found["note"] = str(post[f"note-{key}"]).strip()[:2000]
    if kind in TYPED_KINDS:
        if f"text-{key}" in post:
            found["text"] = str(post[f"text-{key}"]).strip()[:60]
            found["mark"] = ""
    elif f"mark-{key}" in post:
        found["mark"] = TO_MARK.get(str(post[f"mark-{key}"]), "")
    return found
