"""The data of a line, as a form in the units of the course."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from crispy_forms.layout import HTML, Div
from django import forms
from django.utils.html import format_html
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from courses import documents
from courses.forms.base import VersionForm, without_empty
from courses.forms.fields import AnswerField, CountField, FigureField, Taken
from courses.shapes import YES_NO

L = gettext_lazy
ENDS = {"launch": L("Launch end"), "landing": L("Landing end")}
BRAKES = range(1, documents.MOST_BRAKES + 1)


def _text(label: Any, most: int, **kwargs: Any) -> forms.CharField:
    return forms.CharField(label=label, required=False, max_length=most, **kwargs)


def _end_fields() -> dict[str, forms.Field]:
    return {
        "kind": AnswerField(label=L("End connection"), words=documents.END_KINDS),
        "anchor": AnswerField(label=L("Anchored to"), words=documents.ANCHORS),
        "clips_count": CountField(label=L("Number of clips")),
        "clips_size_mm": FigureField(label=L("Clip size"), unit="mm"),
        "clips_torque_nm": FigureField(label=L("Torque"), unit="Nm"),
        "clips_table": AnswerField(label=L("Type of clip"), words=documents.CLIP_TYPES),
        "backup": AnswerField(label=L("Backup cable or sling"), words=YES_NO.words),
        "turnbuckle": AnswerField(label=L("Turnbuckle"), words=YES_NO.words),
        "shackle": AnswerField(label=L("Shackle"), words=YES_NO.words),
    }


def _brake_fields() -> dict[str, forms.Field]:
    return {
        "role": AnswerField(label=L("Role"), words=documents.ROLES),
        "kind": AnswerField(label=L("Kind"), words=documents.BRAKE_KINDS),
        "shares": forms.MultipleChoiceField(
            label=L("Shares with the primary brake"),
            choices=list(documents.SHARED.items()),
            required=False,
            widget=forms.CheckboxSelectMultiple,
        ),
        "slot": forms.CharField(required=False, max_length=20, widget=forms.HiddenInput),
    }


class LineForm(VersionForm):
    """Everything about a line that decides. What is left empty is named as missing and holds the line.

    A field is called by its path in the document, with ``__`` between the steps.
    """

    length_m = FigureField(label=L("Length"), unit="m")
    drop_m = FigureField(label=L("Drop"), unit="m", help_text=L("From the launch down to the landing."))
    designer = _text(L("Designer of record"), 120)
    maker = _text(L("Maker of the line"), 80, help_text=L("Stands on the day sheet, with the serial number."))
    serial = _text(L("Serial number"), 40)
    arrival_speed_mps = FigureField(
        label=L("Arrival speed"), unit="m/s", help_text=L("The highest that the designer expects at the brake.")
    )
    speed_instrument = _text(L("Instrument for the arrival speed"), 80, help_text=L("Leave empty if there is none."))
    stroke_available_m = FigureField(
        label=L("Brake travel available"), unit="m", help_text=L("From the start mark to the hard end.")
    )
    engineered_landing = AnswerField(label=L("Landing engineered for this speed"), words=YES_NO.words)
    mass_min_kg = FigureField(label=L("Lightest rider"), unit="kg")
    mass_max_kg = FigureField(label=L("Heaviest rider"), unit="kg")
    mass_as = AnswerField(label=L("Weight as on the scale"), words=documents.MASS_AS)
    wind__head_mps = FigureField(label=L("Headwind at most"), unit="m/s")
    wind__tail_mps = FigureField(label=L("Tailwind at most"), unit="m/s")
    wind__cross_mps = FigureField(label=L("Crosswind at most"), unit="m/s")
    cable__construction = _text(L("Construction"), 40, help_text=L("As on the certificate: 6x36WS, 1x19."))
    cable__diameter_mm = FigureField(label=L("Nominal diameter"), unit="mm")
    cable__grade = _text(L("Grade"), 40)
    cable__core = AnswerField(label=L("Core"), words=documents.CORES)
    cable__lay = AnswerField(label=L("Lay"), words=documents.LAYS)
    cable__mbf_kn = FigureField(label=L("Minimum breaking force"), unit="kN")
    cable__wires_total = CountField(label=L("Wires in all"))

    def __init__(self, *args: Any, document: Mapping[str, Any], units: str, **kwargs: Any) -> None:
        super().__init__(*args, units=units, **kwargs)
        self.initial = {**self._initial_of(document), **self.initial}

    asked = frozenset(
        {"length_m", "drop_m", "designer", "maker", "serial", "arrival_speed_mps", "stroke_available_m",
         "mass_min_kg", "mass_max_kg", "mass_as", "wind__head_mps", "wind__tail_mps", "wind__cross_mps",
         "cable__construction", "cable__diameter_mm", "cable__core", "cable__mbf_kn", "ends__launch__kind",
         "ends__launch__anchor", "ends__landing__kind", "ends__landing__anchor"}
    )  # fmt: skip

    def more_fields(self) -> dict[str, forms.Field]:
        found: dict[str, forms.Field] = {}
        for end in ENDS:
            found |= {f"ends__{end}__{name}": field for name, field in _end_fields().items()}
        for row in BRAKES:
            found |= {f"brakes__{row}__{name}": field for name, field in _brake_fields().items()}
        return found

    def body(self) -> Iterable[Any]:
        yield self.section(
            _("Line"), ("length_m", "drop_m"), ("arrival_speed_mps", "stroke_available_m"),
            ("engineered_landing", "speed_instrument"), "designer", ("maker", "serial"),
            lead=_("What is left empty is named as missing, and holds the line."),
        )  # fmt: skip
        yield self.section(
            _("Weights and wind"), ("mass_min_kg", "mass_max_kg", "mass_as"),
            ("wind__head_mps", "wind__tail_mps", "wind__cross_mps"),
        )  # fmt: skip
        yield self.section(
            _("Cable"), ("cable__construction", "cable__diameter_mm", "cable__grade"),
            ("cable__core", "cable__lay", "cable__wires_total"), "cable__mbf_kn",
        )  # fmt: skip
        for end, title in ENDS.items():
            at = f"ends__{end}__"
            yield self.section(
                str(title), (at + "kind", at + "anchor"),
                (at + "clips_count", at + "clips_size_mm", at + "clips_torque_nm", at + "clips_table"),
                (at + "backup", at + "turnbuckle", at + "shackle"),
                lead=_("Clips are asked for only where the end is made with them."),
            )  # fmt: skip
        yield self.section(_("Brakes"), *(self._brake(row) for row in BRAKES), lead=_("Empty rows are left out."))

    def _brake(self, row: int) -> Div:
        at = f"brakes__{row}__"
        title = HTML(format_html("<h3>{}</h3>", _("Brake %(number)s") % {"number": row}))
        return Div(title, self.side_by_side(at + "role", at + "kind"), at + "shares", at + "slot", css_class="form")

    def clean(self) -> dict[str, Any]:
        for row in BRAKES:
            role, kind = (self.cleaned_data.get(f"brakes__{row}__{name}") for name in ("role", "kind"))
            if bool(role) != bool(kind):
                missing = "kind" if role else "role"
                self.add_error(f"brakes__{row}__{missing}", _("A brake has a role and a kind."))
        return self.cleaned_data

    def content(self) -> dict[str, Any]:
        found: dict[str, Any] = {}
        for name, value in self.cleaned_data.items():
            if name in VersionForm.base_fields or name.startswith("brakes__"):
                continue
            *path, last = name.replace("__clips_", "__clips__").split("__")
            target = found
            for step in path:
                target = target.setdefault(step, {})
            if isinstance(value, Taken):
                value.into(target, last)
            else:
                target[last] = value
        return found | {"brakes": self._brakes()}

    def _brakes(self) -> list[dict[str, Any]]:
        """Return the filled rows. A brake keeps its place for good, since components are fitted there by its name."""
        rows = []
        for row in BRAKES:
            given = {name: self.cleaned_data[f"brakes__{row}__{name}"] for name in ("role", "kind", "shares", "slot")}
            if given["role"]:
                if not given["slot"].startswith(f"{given['role']}-"):
                    given["slot"] = ""
                rows.append(given)
        taken = {given["slot"] for given in rows}
        for given in rows:
            if not given["slot"]:
                free = (f"{given['role']}-{number}" for number in range(1, 10))
                given["slot"] = next(slot for slot in free if slot not in taken)
                taken.add(given["slot"])
        return [without_empty(given) for given in rows]

    def _initial_of(self, document: Mapping[str, Any]) -> dict[str, Any]:
        found: dict[str, Any] = {}
        for name, field in self.fields.items():
            if name in VersionForm.base_fields or name.startswith("brakes__"):
                continue
            *path, last = name.replace("__clips_", "__clips__").split("__")
            part: Any = document
            for step in path:
                part = part.get(step, {})
            found[name] = field.as_initial(part, last) if isinstance(field, FigureField) else part.get(last, "")
        for row, brake in zip(BRAKES, document.get("brakes", []), strict=False):
            found |= {f"brakes__{row}__{name}": brake.get(name, "") for name in ("role", "kind", "slot")}
            found[f"brakes__{row}__shares"] = brake.get("shares", [])
        return found
