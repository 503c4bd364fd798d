"""What is asked before the record is taken away."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from courses.models import Course, Place

ALL, DAYS, LINE = "all", "days", "line"


class BundleForm(forms.Form):
    """The whole record, some days of it on the operator's clock, both included, or one line of the course."""

    what = forms.ChoiceField(
        label=gettext_lazy("How much"),
        choices=[
            (ALL, gettext_lazy("The whole record")),
            (DAYS, gettext_lazy("Some days")),
            (LINE, gettext_lazy("One line")),
        ],
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
    line = forms.ModelChoiceField(
        label=gettext_lazy("Line"),
        queryset=Place.objects.none(),
        required=False,
        empty_label=gettext_lazy("Choose a line"),
        help_text=gettext_lazy(
            "Everything about it, its parts and the days of its course. Whether something about it was left out can be "
            "seen only from days or from the whole record."
        ),
    )

    def __init__(self, course: Course, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        lines: Any = self.fields["line"]
        lines.queryset = Place.objects.filter(course=course, kind=Place.Kind.LINE).order_by("number", "pk")

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if data.get("what") != LINE:
            data["line"] = None
        elif data.get("line") is None and "line" not in self.errors:
            self.add_error("line", _("Say which line."))
        if data.get("what") != DAYS:
            return {**data, "first": None, "last": None}
        for name in ("first", "last"):
            if data.get(name) is None and name not in self.errors:
                self.add_error(name, _("Say which day."))
        first, last = data.get("first"), data.get("last")
        if isinstance(first, date) and isinstance(last, date) and first > last:
            self.add_error("last", _("The last day lies before the first."))
        return data
