"""The form of a sheet of items."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Layout
from django import forms
from django.utils.translation import gettext_lazy as _

from accounts.forms import DeedForm
from inspections.forms.items import ItemBlock


class SheetForm(DeedForm):
    """All items of a sheet. What stands in them is kept in the draft; this form only draws and carries them.

    ``opened`` says, signed, when and under which versions it was shown; ``kept_paper`` is the photo of the sheet of
    paper that came with an earlier sending.
    """

    reason = forms.CharField(
        label=_("Why the signed sheet is corrected"), required=False, widget=forms.Textarea(attrs={"rows": 2})
    )
    paper_photo = forms.FileField(
        label=_("Photo of the sheet of paper"),
        required=False,
        widget=forms.FileInput(attrs={"accept": "image/*", "capture": "environment"}),
    )
    opened = forms.CharField(required=False, widget=forms.HiddenInput)
    paper_kept = forms.CharField(required=False, widget=forms.HiddenInput)

    def __init__(
        self, *args: Any, items: Iterable[Mapping[str, Any]], autosave: str, opened: str, amends: bool = False,
        paper: bool = False, reason: str = "", kept_paper: str = "", **kwargs: Any,
    ) -> None:  # fmt: skip
        super().__init__(*args, **kwargs)
        self.initial = {**self.initial, "reason": reason, "opened": opened, "paper_kept": kept_paper}
        if not amends:
            del self.fields["reason"]
        if not paper:
            del self.fields["paper_photo"], self.fields["paper_kept"]
        elif kept_paper:
            self.fields["paper_photo"].help_text = _("A photo is kept already. Another one takes its place.")
        self.helper = FormHelper()
        self.helper.form_id = "sheet"
        self.helper.form_class = "sheet"
        self.helper.attrs = {"data-autosave": autosave}
        own = [name for name in ("reason", "paper_photo", "paper_kept") if name in self.fields]
        self.helper.layout = Layout("deed_id", "opened", *(ItemBlock(item) for item in items), *own)

    def is_multipart(self) -> bool:
        return True
