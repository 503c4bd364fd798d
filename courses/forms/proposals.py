"""Deciding somebody else's proposal."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy

from accounts.forms import PasswordDeedForm
from courses.forms.base import SetupForm

L = gettext_lazy


class ConfirmForm(PasswordDeedForm):
    """Confirmed with the password in the same request."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["password"].help_text = L("What decides about lines is confirmed with it.")
        self.helper.form_tag = False
        self.helper.disable_csrf = True
        self.helper.layout.pop()  # the page has the buttons


class RefuseForm(SetupForm):
    why = forms.CharField(label=L("Why"), max_length=300, widget=forms.Textarea({"rows": 3}))
