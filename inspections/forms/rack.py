"""The form of a rack of gear: a count, the exceptions, one confirmation."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Layout, LayoutObject
from crispy_forms.utils import TEMPLATE_PACK
from django import forms
from django.http import QueryDict
from django.template.loader import render_to_string
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from inspections.forms.paper import PaperForm

MOST_NOTE = 2000
OUT = _("Out of service, so neither handed out nor looked at.")


@dataclass(frozen=True)
class Piece:
    """One piece of gear of a rack; ``out``: out of service already, so neither counted nor looked at."""

    key: str
    tag: str
    label: str
    out: bool


class PiecesBlock(LayoutObject):
    """The pieces of the rack, each with what is wrong with it where something is."""

    def render(self, form: Any, context: Any, template_pack: Any = TEMPLATE_PACK, **kwargs: Any) -> str:
        return render_to_string("inspections/_pieces.html", {"pieces": form.shown_pieces()})


class RackForm(PaperForm):
    count = forms.IntegerField(
        label=_("How many did you have in your hands?"),
        min_value=0,
        max_value=9999,  # what does not agree with the register is said below, with what the register has
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
    )
    opened = forms.CharField(required=False, widget=forms.HiddenInput)
    defect = forms.MultipleChoiceField(required=False)
    missing = forms.MultipleChoiceField(required=False)
    note = forms.CharField(
        label=_("Note for the whole rack"),
        required=False,
        widget=forms.Textarea(attrs={"rows": 2}),
        max_length=MOST_NOTE,
    )

    def __init__(
        self,
        *args: Any,
        pieces: Iterable[Piece],
        photos: Mapping[str, list[str]] | None = None,
        kept: QueryDict | None = None,
        opened: str = "",
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.initial = {**self.initial, "opened": opened}
        self.pieces = list(pieces)
        self.photos = photos or {}
        self.kept = kept  # what was typed before a log-in ran out
        self.helper = FormHelper()
        self.helper.form_id = "rack"
        self.helper.attrs = {"data-act": "act"}
        self.helper.layout = Layout("deed_id", "opened", PiecesBlock(), "count", "note", *self.paper_fields)
        for name in ("defect", "missing"):
            self.fields[name].choices = [(one.tag, one.tag) for one in self.pieces if not one.out]  # type: ignore[attr-defined]
            self.fields[name].label = gettext("Pieces")

    @property
    def in_use(self) -> list[Piece]:
        return [piece for piece in self.pieces if not piece.out]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        defect, missing = set(data.get("defect", ())), set(data.get("missing", ()))
        for tag in sorted(defect & missing):
            self.add_error(None, gettext("%(tag)s cannot be defect and not found.") % {"tag": tag})
        for tag in sorted(defect):
            if not self.note_of(tag):
                self.add_error(None, gettext("%(tag)s: Say what is wrong.") % {"tag": tag})
        expected = len(self.in_use) - len(missing)
        if data.get("count") is not None and data["count"] != expected:
            said = {"all": len(self.in_use), "missing": len(missing), "expected": expected, "count": data["count"]}
            self.add_error(
                "count",
                gettext(
                    "The register has %(all)s here, %(missing)s of them not found: that makes %(expected)s, not "
                    "%(count)s. Count again."
                )
                % said,
            )
        return data

    def note_of(self, tag: str) -> str:
        """Return what was said of a piece; the note for the whole rack where nothing was said of it alone."""
        own = str(self.data.get(f"note-{tag}", "")).strip()[:MOST_NOTE]
        return own or str(self.data.get("note", "")).strip()[:MOST_NOTE]

    def answer_of(self, piece: Piece) -> dict[str, Any]:
        """Return the answer about a piece as a draft keeps it. Only after ``is_valid``."""
        if piece.out:
            return {"mark": "not_done", "reason": str(OUT)}
        photos = self.photos.get(piece.tag, [])
        if piece.tag in self.cleaned_data["defect"]:
            return {"mark": "defect", "note": self.note_of(piece.tag), "photos": photos, "kept": "defect"}
        if piece.tag in self.cleaned_data["missing"]:
            return {"mark": "missing", "note": self.note_of(piece.tag), "photos": photos}
        return {"mark": "sound"}

    def shown_pieces(self) -> list[dict[str, Any]]:
        """Return the pieces as drawn, with what was tapped and typed before."""
        typed = self.data if self.is_bound else self.kept or QueryDict()
        given = {name: typed.getlist(name) for name in ("defect", "missing")}  # type: ignore[union-attr]
        return [
            {
                "piece": piece,
                "defect": piece.tag in given["defect"],
                "missing": piece.tag in given["missing"],
                "note": typed.get(f"note-{piece.tag}", ""),
                "photos": self.photos.get(piece.tag, []),
                "silent": self.is_bound and piece.tag in given["defect"] and not self.note_of(piece.tag),
            }
            for piece in self.pieces
        ]
