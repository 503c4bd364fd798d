"""The form of a sheet of items."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Layout
from django import forms
from django.utils.translation import gettext_lazy as _

from inspections.forms.items import ItemBlock
from inspections.forms.paper import PaperForm


class SheetForm(PaperForm):
    """All items of a sheet. What stands in them is kept in the draft; this form only draws and carries them.

    ``opened`` says, signed, when and under which versions it was shown.
    """

    use_required_attribute = False  # what is missing is said in our own words
    reason = forms.CharField(label=_("Why the signed sheet is corrected"), widget=forms.Textarea(attrs={"rows": 2}))
    opened = forms.CharField(required=False, widget=forms.HiddenInput)

    def __init__(
        self, *args: Any, items: Iterable[Mapping[str, Any]], autosave: str, opened: str, amends: bool = False,
        reason: str = "", **kwargs: Any,
    ) -> None:  # fmt: skip
        super().__init__(*args, **kwargs)
        self.initial = {**self.initial, "reason": reason, "opened": opened}
        if not amends:
            del self.fields["reason"]
        self.helper = FormHelper()
        self.helper.form_id = "sheet"
        self.helper.form_class = "sheet"
        self.helper.attrs = {"data-autosave": autosave, "data-act": "act"}
        own = [*(["reason"] if amends else []), *self.paper_fields]
        self.helper.layout = Layout("deed_id", "opened", *(ItemBlock(item) for item in items), *own)
