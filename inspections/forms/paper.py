"""What a form asks besides when it is typed in from paper: the photo of the sheet of paper."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from accounts.forms import DeedForm

PAPER = ("paper_photo", "paper_kept")


class PaperForm(DeedForm):
    """``kept_paper`` is the hash of a photo that came with an earlier sending of the same form."""

    paper_photo = forms.FileField(
        label=_("Photo of the sheet of paper"),
        required=False,
        widget=forms.FileInput(attrs={"accept": "image/*", "capture": "environment"}),
    )
    paper_kept = forms.CharField(required=False, widget=forms.HiddenInput)

    def __init__(self, *args: Any, paper: bool = False, kept_paper: str = "", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.initial = {**self.initial, "paper_kept": kept_paper}
        if not paper:
            for name in PAPER:
                del self.fields[name]
        elif kept_paper:
            self.fields["paper_photo"].help_text = _("A photo is kept already. Another one takes its place.")

    @property
    def paper_fields(self) -> list[str]:
        """Return the names to lay out at the end of the form."""
        return [name for name in PAPER if name in self.fields]

    def is_multipart(self) -> bool:
        return True
