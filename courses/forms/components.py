"""Components: entering, describing, fitting, retiring, and the racks of the gear store."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from crispy_forms.layout import HTML, Div
from django import forms
from django.core.exceptions import ValidationError
from django.utils.html import format_html
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from courses import documents
from courses.forms.base import SetupForm, VersionForm, without_empty
from courses.forms.fields import AnswerField, CountField, DayField, FigureField, Taken
from courses.models import Component
from courses.shapes import YES_NO
from courses.sizes import FIGURES, SIZES, WITH_CERTIFICATE, WITH_CYCLES, Figure

L = gettext_lazy
K = Component.Kind
DATES = {"made": L("Made"), "purchased": L("Purchased"), "first_use": L("First used"),
         "last_inspection": L("Last inspected"), "last_done": L("Last done")}  # fmt: skip

CERTIFICATE = {
    "construction": L("Construction"), "diameter_mm": L("Nominal diameter"), "grade": L("Grade"), "core": L("Core"),
    "lay": L("Lay"), "mbf_kn": L("Minimum breaking force"), "wires_total": L("Wires in all"),
    "wires_load": L("Load-bearing wires"), "wires_strand": L("Wires in one strand"),
    "outer_wire_mm": L("Diameter of an outer wire"), "iso_row_wires": L("Load-bearing wires in the outer strands"),
    "rotation_resistant": L("Rotation resistant"),
}  # fmt: skip


class FindForm(forms.Form):
    """Look for components by tag code and kind."""

    tag = forms.CharField(label=L("Tag code"), required=False, max_length=30)
    kind = forms.ChoiceField(label=L("Kind"), required=False, choices=[("", L("every kind")), *K.choices])


class ComponentForm(SetupForm):
    """Enter a component in the register."""

    tag = forms.CharField(
        label=L("Tag code"), max_length=30, widget=forms.TextInput({"autocapitalize": "characters"}),
        help_text=L("As on its tag. A code is given once and never again."),
    )  # fmt: skip
    kind = forms.ChoiceField(label=L("Kind"), choices=[("", "—"), *K.choices])
    label = forms.CharField(
        label=L("What it is"), max_length=120, required=False, help_text=L("Maker, model, serial number.")
    )
    field_of = {"tag-taken": "tag", "tag-empty": "tag"}


class FitForm(SetupForm):
    """Fit a component in one of the slots of a place."""

    where = forms.ChoiceField(label=L("Where"))

    def __init__(self, *args: Any, slots: Iterable[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["where"].choices = [("", "—"), *slots]  # type: ignore[attr-defined]


class TakeOffForm(SetupForm):
    """Nothing to fill in: the page asks once more."""


class RetireComponentForm(SetupForm):
    why = forms.CharField(label=L("Why"), max_length=200)
    destroyed = forms.BooleanField(
        label=L("It is marked as unfit or destroyed, so that nobody can use it."), required=False
    )
    field_of = {"not-destroyed": "destroyed"}


class RackForm(SetupForm):
    """Place up to twenty components in one rack."""

    rack = forms.RegexField(
        label=L("Rack"), regex=r"^[A-Za-z0-9][A-Za-z0-9 -]{0,19}$", max_length=20, help_text=L("For example A or 3.")
    )
    tags = forms.CharField(
        label=L("Tag codes"), widget=forms.Textarea({"rows": 4, "autocapitalize": "characters"}),
        help_text=L("At most twenty, with spaces or on lines of their own."),
    )  # fmt: skip

    def clean_tags(self) -> list[str]:
        found = list(dict.fromkeys(self.cleaned_data["tags"].replace(",", " ").upper().split()))
        if len(found) > 20:
            raise ValidationError(_("A rack holds at most twenty components; these are %(n)s.") % {"n": len(found)})
        return found

    field_of = {"tag-unknown": "tags", "not-gear": "tags", "rack-full": "tags", "rack-size": "tags", "retired": "tags"}


class DataForm(VersionForm):
    """Dates, figures and certificate of one component; what is asked depends on its kind."""

    maker_note = forms.CharField(
        label=L("What the maker asks for"), required=False, max_length=400, widget=forms.Textarea({"rows": 3})
    )

    def __init__(self, *args: Any, component: Component, document: Mapping[str, Any], **kwargs: Any) -> None:
        self.component = component
        super().__init__(*args, **kwargs)
        self.initial = {**self._initial_of(document), **self.initial}

    @property
    def figures(self) -> tuple[Figure, ...]:
        return FIGURES.get(self.component.kind, ())

    def more_fields(self) -> dict[str, forms.Field]:
        found: dict[str, forms.Field] = {f"dates__{name}": DayField(label=label) for name, label in DATES.items()}
        for row, figure in enumerate(self.figures):
            for size in figure.sizes:
                found[f"figure__{row}__{size}"] = FigureField(label=SIZES[size], unit=figure.unit)
            if "baseline" in figure.sizes:
                found[f"figure__{row}__baseline_date"] = DayField(label=L("Taken on"))
                found[f"figure__{row}__gauge"] = forms.CharField(label=L("Gauge used"), required=False, max_length=60)
                found[f"figure__{row}__station"] = forms.CharField(
                    label=L("Where it is measured"), required=False, max_length=60
                )
        if self.component.kind in WITH_CERTIFICATE:
            found |= {f"certificate__{name}": _certificate_field(name) for name in CERTIFICATE}
        if self.component.kind in WITH_CYCLES:
            found["max_cycles"] = CountField(label=L("Maker's maximum number of cycles"))
        return found

    def body(self) -> Iterable[Any]:
        yield self.section(_("Dates"), tuple(f"dates__{name}" for name in DATES))
        if self.figures:
            yield self.section(_("Sizes"), *(self._figure(row) for row in range(len(self.figures))))
        if self.component.kind in WITH_CERTIFICATE:
            yield self.section(_("Certificate"), tuple(f"certificate__{name}" for name in CERTIFICATE))
        maker = ["max_cycles"] if "max_cycles" in self.fields else []
        yield self.section(_("Maker"), *maker, "maker_note")

    def _figure(self, row: int) -> Div:
        title = HTML(format_html("<h3>{}</h3>", self.figures[row].label))
        names = [name for name in self.fields if name.startswith(f"figure__{row}__")]
        return Div(title, self.side_by_side(*names), css_class="form")

    def content(self) -> dict[str, Any]:
        data = self.cleaned_data
        figures = {}
        for row, figure in enumerate(self.figures):
            figures[figure.quantity] = self._part(f"figure__{row}__")
        return without_empty(
            {
                "dates": {name: data[f"dates__{name}"] for name in DATES},
                "figures": {quantity: part for quantity, part in figures.items() if part},
                "certificate": self._part("certificate__"),
                "max_cycles": data.get("max_cycles", ""),
                "maker_note": data["maker_note"],
            }
        )

    def _part(self, prefix: str) -> dict[str, Any]:
        found: dict[str, Any] = {}
        for name, value in self.cleaned_data.items():
            if name.startswith(prefix):
                if isinstance(value, Taken):
                    value.into(found, name.removeprefix(prefix))
                elif value:
                    found[name.removeprefix(prefix)] = value
        return found

    def _initial_of(self, document: Mapping[str, Any]) -> dict[str, Any]:
        found: dict[str, Any] = {name: document.get(name, "") for name in ("max_cycles", "maker_note")}
        for name, field in self.fields.items():
            first, *path = name.split("__")
            if first == "figure":
                part = document.get("figures", {}).get(self.figures[int(path[0])].quantity, {})
            elif first in {"dates", "certificate"}:
                part = document.get(first, {})
            else:
                continue
            found[name] = field.as_initial(part, path[-1]) if isinstance(field, FigureField) else part.get(path[-1], "")
        return found


def _certificate_field(name: str) -> forms.Field:
    label = CERTIFICATE[name]
    words = {"core": documents.CORES, "lay": documents.LAYS, "rotation_resistant": YES_NO.words}
    if name in words:
        return AnswerField(label=label, words=words[name])
    if name in {"diameter_mm", "outer_wire_mm", "mbf_kn"}:
        return FigureField(label=label, unit="kN" if name == "mbf_kn" else "mm")
    if name in {"construction", "grade"}:
        return forms.CharField(label=label, required=False, max_length=40)
    return CountField(label=label)
