"""The forms of the walk: a sheet of items, a rack of gear, a test ride."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from crispy_forms.bootstrap import AppendedText, FormActions
from crispy_forms.helper import FormHelper
from crispy_forms.layout import Field, Layout, Row, Submit
from django import forms
from django.utils.translation import gettext_lazy as _

from accounts.forms import DeedForm
from inspections.forms.items import ItemBlock

SWITCH = "lineworthy/switch.html"


class SheetForm(DeedForm):
    """All items of a sheet. What stands in them is kept in the draft; this form only draws and carries them."""

    reason = forms.CharField(
        label=_("Why the signed sheet is corrected"), required=False, widget=forms.Textarea(attrs={"rows": 2})
    )
    paper_photo = forms.FileField(
        label=_("Photo of the sheet of paper"),
        required=False,
        widget=forms.FileInput(attrs={"accept": "image/*", "capture": "environment"}),
    )

    def __init__(
        self,
        *args: Any,
        items: Iterable[Mapping[str, Any]],
        autosave: str,
        amends: bool = False,
        paper: bool = False,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        if not amends:
            del self.fields["reason"]
        if not paper:
            del self.fields["paper_photo"]
        self.helper = FormHelper()
        self.helper.form_id = "sheet"
        self.helper.form_class = "sheet"
        self.helper.attrs = {"data-autosave": autosave}
        own = [name for name in ("reason", "paper_photo") if name in self.fields]
        self.helper.layout = Layout("deed_id", *(ItemBlock(item) for item in items), *own)

    def is_multipart(self) -> bool:
        return True


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


class RideForm(DeedForm):
    kind = forms.ChoiceField(
        label=_("Which test"),
        choices=[("normal", _("Ballast ride")), ("emergency", _("Emergency brake by itself"))],
        initial="normal",
    )
    mass = forms.CharField(
        label=_("Weight of the ballast"),
        required=True,
        max_length=20,
        widget=forms.TextInput(attrs={"inputmode": "decimal"}),
    )
    wind = forms.CharField(
        label=_("Wind"), required=True, max_length=20, widget=forms.TextInput(attrs={"inputmode": "decimal"})
    )
    wind_from = forms.ChoiceField(
        label=_("Wind, seen by the rider"),
        required=True,
        choices=[("head", _("Head")), ("tail", _("Tail")), ("cross", _("Cross")), ("calm", _("Calm"))],
    )
    state = forms.ChoiceField(label=_("Cable"), required=True, choices=[("dry", _("Dry")), ("wet", _("Wet"))])
    landing_clear = forms.CharField(label=_("Who said at the landing that it was clear"), required=True, max_length=120)
    reached = forms.ChoiceField(
        label=_("Ballast reached the landing"), required=True, choices=[("yes", _("Yes")), ("no", _("Stopped short"))]
    )
    primary_back = forms.BooleanField(
        label=_("Emergency-brake test only: the primary brake was put back"), required=False
    )
    submit = _("Sign this test ride")

    def __init__(self, *args: Any, items: Iterable[Mapping[str, Any]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in ("kind", "wind_from", "state", "reached"):
            self.fields[name].widget = forms.RadioSelect(choices=self.fields[name].choices)  # type: ignore[attr-defined]
        self.helper = FormHelper()
        self.helper.form_id = "ride"
        self.helper.form_class = "sheet"
        self.helper.layout = Layout(
            "deed_id",
            Field("kind", template=SWITCH),
            "landing_clear",
            Row(AppendedText("mass", "kg"), AppendedText("wind", "m/s")),
            Field("wind_from", template=SWITCH),
            Field("state", template=SWITCH),
            Field("reached", template=SWITCH),
            *(ItemBlock(item) for item in items),
            "primary_back",
        )

    def is_multipart(self) -> bool:
        return True

    def raw(self) -> dict[str, str]:
        """Return the fields as the action reads them, as typed."""
        return {
            name: ("yes" if value is True else "" if value is False else str(value or ""))
            for name, value in self.cleaned_data.items()
            if name != "deed_id"
        }
