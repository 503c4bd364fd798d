"""The form of a test ride."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from crispy_forms.bootstrap import AppendedText
from crispy_forms.helper import FormHelper
from crispy_forms.layout import Field, Layout, Row
from django import forms
from django.utils.translation import gettext_lazy as _

from accounts.forms import DeedForm
from inspections.forms.items import ItemBlock

SWITCH = "lineworthy/switch.html"


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
