"""What is typed when something is to be erased. Forms check shape; what may be done is asked by the actions."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from accounts.forms import PasswordDeedForm
from reports.erasures import GROUNDS


class _SignedForm(PasswordDeedForm):
    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["password"].help_text = ""


class AskForm(_SignedForm):
    """On what grounds something is to be erased, and why."""

    grounds = forms.ChoiceField(label=_("Grounds"), choices=list(GROUNDS.items()), widget=forms.RadioSelect)
    reason = forms.CharField(
        label=_("Reason"), max_length=2000, widget=forms.Textarea(attrs={"rows": 3}),
        help_text=_("As a letter of which day. Do not write the name into it: the reason stays."),
    )  # fmt: skip
    field_order = ("person", "grounds", "reason", "password")
    field_of = PasswordDeedForm.field_of | {"grounds-needed": "grounds", "reason-needed": "reason"}
    submit = _("Ask for it")


class AskPersonForm(AskForm):
    """The same of a person's name; ``people``: (reference, words) of those who can be chosen."""

    person = forms.ChoiceField(label=_("Whose name"), widget=forms.RadioSelect)

    def __init__(self, *args: Any, people: list[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["person"].choices = people  # type: ignore[attr-defined]
        # A name shows nothing: that ground is one of photos and papers.
        self.fields["grounds"].choices = [one for one in GROUNDS.items() if one[0] != "shows"]  # type: ignore[attr-defined]


class ConfirmForm(_SignedForm):
    sure = forms.BooleanField(label=_("I have looked at what is lost. It cannot be brought back."))
    field_order = ("sure", "password")
    submit = _("Erase for ever")
    submit_class = "button--danger button--solid"
    leave = _("Leave it")


class WithdrawForm(_SignedForm):
    submit = _("Withdraw")
    leave = _("Leave it asked for")
