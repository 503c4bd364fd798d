"""The form of a test ride: what is known of the ride as a whole, then its items."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from crispy_forms.bootstrap import AppendedText
from crispy_forms.helper import FormHelper
from crispy_forms.layout import Field, Layout, Row
from django import forms
from django.utils.html import format_html
from django.utils.translation import gettext_lazy as _

from courses.models import Course
from engineering.units import with_unit
from inspections.forms.items import ItemBlock
from inspections.forms.paper import PAPER, PaperForm
from inspections.measures import as_meant, asked_in

SWITCH = "lineworthy/switch.html"
UNIT_OF = {"mass": "kg", "wind": "m/s", "wind_again": "m/s", "air": "degC"}


def _figure(label: Any, **more: Any) -> forms.CharField:
    # A keypad of digits has no minus on some phones; what can lie below nought gets the whole keyboard.
    mode = more.pop("inputmode", "decimal")
    widget = forms.TextInput(attrs={"inputmode": mode, "autocomplete": "off", "enterkeyhint": "next"})
    return forms.CharField(label=label, max_length=20, widget=widget, **more)


def _choice(label: Any, choices: list[tuple[str, Any]], **more: Any) -> forms.ChoiceField:
    return forms.ChoiceField(label=label, choices=choices, widget=forms.RadioSelect, **more)


class RideForm(PaperForm):
    """``items`` are the items as drawn; what stands in them comes with the same post and is read by the view."""

    kind = _choice(
        _("Which test"),
        [("normal", _("Ballast ride")), ("emergency", _("Emergency brake by itself"))],
        initial="normal",
    )
    landing_clear = forms.CharField(
        label=_("Who said at the landing that it was clear"),
        max_length=120,
        widget=forms.TextInput(attrs={"list": "people", "autocomplete": "off"}),
    )
    mass = _figure(_("Weight of the ballast"))
    wind = _figure(_("Wind"))
    wind_again = _figure(_("Wind, typed again"), required=False)
    wind_from = _choice(
        _("Wind, in the direction of the ride"),
        [("head", _("Head")), ("tail", _("Tail")), ("cross", _("Cross")), ("calm", _("Calm"))],
    )
    air = _figure(
        _("Air temperature"),
        required=False,
        inputmode="text",
        help_text=_("Once a morning is enough. With it and the wind the day's weights are computed."),
    )
    state = _choice(_("Cable"), [("dry", _("Dry")), ("wet", _("Wet"))])
    reached = _choice(_("Ballast reached the landing"), [("yes", _("Yes")), ("no", _("Stopped short"))])
    primary_back = forms.BooleanField(
        label=_("The primary brake was put back. A normal ballast ride comes next."), required=False
    )

    def __init__(
        self, *args: Any, items: Iterable[Mapping[str, Any]] = (), units: str = Course.Units.METRIC, autosave: str = "",
        keep: str = "", asks_wind: bool = False, **kwargs: Any,
    ) -> None:  # fmt: skip
        """``keep``: the browser alone keeps what is typed; ``asks_wind``: the wind has to be typed a second time."""
        super().__init__(*args, **kwargs)
        self.units = units
        self.fields["wind_again"].is_asked = asks_wind  # type: ignore[attr-defined]
        self.items = {item["key"]: item for item in items}
        self.helper = FormHelper()
        self.helper.form_id = "ride"
        self.helper.form_class = "sheet ride"
        self.helper.attrs = {"data-act": "act", "data-autosave": autosave, "data-stays": keep}
        self.helper.layout = Layout(
            "deed_id",
            Field("kind", template=SWITCH),
            "landing_clear",
            Row(*(self._with_unit(name) for name in ("mass", "wind"))),
            *([self._with_unit("wind_again")] if asks_wind else []),
            Field("wind_from", template=SWITCH),
            self._with_unit("air"),
            Field("state", template=SWITCH),
            Field("reached", template=SWITCH),
            *(ItemBlock(item) for item in self.items.values()),
            "primary_back",
            *self.paper_fields,
        )

    def _with_unit(self, name: str) -> AppendedText:
        return AppendedText(name, with_unit("", asked_in(UNIT_OF[name], self.units)).strip())

    def raw(self) -> dict[str, str]:
        """Return the fields as the action reads them: as typed, with the unit that was asked for."""
        return {
            name: as_meant(self._bare(name, str(self.data.get(name, ""))), UNIT_OF.get(name, ""), self.units)
            for name in self.fields
            if name not in {"deed_id", "primary_back", *PAPER}
        } | {"primary_back": "yes" if self.data.get("primary_back") else ""}

    def _bare(self, name: str, text: str) -> str:
        # A bare ring is meant in the unit that the field asks for, and would hide that it has to be said.
        return text.strip().removesuffix("°") if name == "air" and asked_in("degC", self.units) != "degC" else text

    def wrong(self, sentences: Mapping[str, str]) -> None:
        """Say beside each field, and with a link for each item, what is still wanted."""
        for name, sentence in sentences.items():
            if name in self.fields:
                self.errors.pop(name, None)  # the sentence of the deed says more than that a field is required
                self.add_error(name, sentence)
            elif name in self.items:
                text = self.items[name]["question"]
                self.add_error(None, format_html('<a href="#item-{}">{}</a> {}', name, text, sentence))
            else:
                self.add_error(None, sentence)
