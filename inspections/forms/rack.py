"""The form of a rack of gear."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from crispy_forms.bootstrap import FormActions
from crispy_forms.layout import Field, Layout, Submit
from django import forms
from django.utils.translation import gettext_lazy as _

from accounts.forms import DeedForm

SWITCH = "lineworthy/switch.html"


class RackForm(DeedForm):
    count = forms.IntegerField(
        label=_("How many did you have in your hands?"),
        min_value=0,
        max_value=100,
        widget=forms.TextInput(attrs={"inputmode": "numeric"}),
    )
    defect = forms.MultipleChoiceField(
        label=_("Tap what is defect"), required=False, widget=forms.CheckboxSelectMultiple
    )
    missing = forms.MultipleChoiceField(
        label=_("Tap what was not found"), required=False, widget=forms.CheckboxSelectMultiple
    )
    note = forms.CharField(label=_("What is wrong with it"), required=False, widget=forms.Textarea(attrs={"rows": 2}))
    photo = forms.FileField(
        label=_("Photo"), required=False, widget=forms.FileInput(attrs={"accept": "image/*", "capture": "environment"})
    )
    submit = _("Confirm and sign this rack")

    def __init__(self, *args: Any, tags: Iterable[str] = (), **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.tags = list(tags)
        self.helper.layout = Layout(
            "deed_id",
            "count",
            Field("defect", template="inspections/tags.html"),
            Field("missing", template="inspections/tags.html"),
            "note",
            "photo",
            FormActions(Submit("send", self.submit, css_class="button--primary")),
        )
        for name in ("defect", "missing"):
            self.fields[name].choices = [(tag, tag) for tag in self.tags]  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        both = set(data.get("defect", ())) & set(data.get("missing", ()))
        if both:
            self.add_error("missing", _("%(tags)s cannot be defect and not found.") % {"tags": ", ".join(sorted(both))})
        expected = len(self.tags) - len(data.get("missing", ()))
        if data.get("count") is not None and data["count"] != expected:
            self.add_error(
                "count",
                _(
                    "The register has %(all)s here, %(missing)s of them not found: that makes %(expected)s, not "
                    "%(count)s. Count again."
                )
                % {
                    "all": len(self.tags),
                    "missing": len(data.get("missing", ())),
                    "expected": expected,
                    "count": data["count"],
                },
            )
        if data.get("defect") and not data.get("note", "").strip():
            self.add_error("note", _("Say what is wrong."))
        return data
