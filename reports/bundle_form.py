"""What is asked before the record is taken away."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

ALL, DAYS = "all", "days"


class BundleForm(forms.Form):
    """The whole record, or some days of it on the operator's clock, both included."""

    what = forms.ChoiceField(
        label=gettext_lazy("How much"),
        choices=[(ALL, gettext_lazy("The whole record")), (DAYS, gettext_lazy("Some days"))],
        widget=forms.RadioSelect,
        initial=ALL,
    )
    first = forms.DateField(
        label=gettext_lazy("First day"),
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
    last = forms.DateField(
        label=gettext_lazy("Last day"),
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        help_text=gettext_lazy("It is included."),
    )

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if data.get("what") != DAYS:
            return {**data, "first": None, "last": None}
        for name in ("first", "last"):
            if data.get(name) is None and name not in self.errors:
                self.add_error(name, _("Say which day."))
        first, last = data.get("first"), data.get("last")
        if isinstance(first, date) and isinstance(last, date) and first > last:
            self.add_error("last", _("The last day lies before the first."))
        return data
