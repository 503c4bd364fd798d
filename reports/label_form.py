"""What is asked before labels are drawn."""

from __future__ import annotations

import re
from typing import Any

from django import forms
from django.utils.text import capfirst
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from courses.models import Component
from courses.queries import Setup
from reports.labels import PARTS, PLACES, spots_of
from reports.papers.label_sizes import SIZES

MOST_CODES = 2000


class LabelForm(forms.Form):
    size = forms.ChoiceField(
        label=gettext_lazy("Size of the labels"), choices=[(one.name, one.words) for one in SIZES.values()]
    )
    first = forms.IntegerField(
        label=gettext_lazy("First free label on the sheet"),
        min_value=1,
        initial=1,
        help_text=gettext_lazy("Counted row by row from the top left: 1 is a whole sheet. On a roll it is always 1."),
    )
    what = forms.MultipleChoiceField(
        label=gettext_lazy("Labels for"),
        choices=[(PLACES, gettext_lazy("Places: lines, platforms, store, house")), (PARTS, gettext_lazy("Parts"))],
        widget=forms.CheckboxSelectMultiple,
        initial=[PLACES, PARTS],
    )
    kind = forms.ChoiceField(label=gettext_lazy("Parts of one kind only"), required=False)
    codes = forms.CharField(
        label=gettext_lazy("Or only the parts with these tag codes"),
        required=False,
        max_length=MOST_CODES,
        help_text=gettext_lazy("With blanks or commas between them."),
    )
    spots = forms.MultipleChoiceField(
        label=gettext_lazy("Where"),
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text=gettext_lazy("None chosen means everywhere."),
    )

    def __init__(self, setup: Setup, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        kinds = [(value, capfirst(label)) for value, label in Component.Kind.choices]
        self.fields["kind"].choices = [("", _("All kinds")), *kinds]  # type: ignore[attr-defined]
        self.fields["spots"].choices = spots_of(setup)  # type: ignore[attr-defined]

    def clean_codes(self) -> list[str]:
        return [one for one in re.split(r"[\s,;]+", self.cleaned_data["codes"]) if one]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        size = SIZES.get(data.get("size", ""))
        if size is not None and data.get("first", 1) > size.count:
            sentence = _("A sheet of this size has %(count)s labels.") if size.count > 1 else _("On a roll this is 1.")
            self.add_error("first", sentence % {"count": size.count} if size.count > 1 else sentence)
        return data
