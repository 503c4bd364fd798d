"""What the mechanics of a line are computed from, as a form: the paper file of a line, figure by figure."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from crispy_forms.layout import HTML, Div
from django import forms
from django.utils.html import format_html
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as L

from courses.forms.base import VersionForm
from courses.forms.fields import AnswerField, ComputedFigureField, DayField, Taken
from courses.mechanics_shape import (
    GIVEN_BY,
    MOST_LEFT_OUT,
    MOST_STRUCK,
    PART_FIGURES,
    PART_KINDS,
    PART_OF_BRAKE,
    TENSION_HOW,
    WORN_FIGURES,
)
from courses.shapes import YES_NO


def _metres(label: Any, help_text: Any = "") -> ComputedFigureField:
    return ComputedFigureField(label=label, unit="m", help_text=help_text)


def _force(label: Any, help_text: Any = "") -> ComputedFigureField:
    return ComputedFigureField(label=label, unit="N", us="lbf", help_text=help_text)


def _rate(label: Any, help_text: Any = "") -> ComputedFigureField:
    return ComputedFigureField(label=label, unit="N/m", us="lbf/in", help_text=help_text)


def _speed(label: Any, help_text: Any = "") -> ComputedFigureField:
    return ComputedFigureField(label=label, unit="m/s", help_text=help_text)


def _bare(label: Any, help_text: Any = "") -> ComputedFigureField:
    return ComputedFigureField(label=label, unit="1", help_text=help_text)


def _gravities(label: Any) -> ComputedFigureField:
    return ComputedFigureField(label=label, unit="g0")


def _given() -> AnswerField:
    return AnswerField(label=L("These figures are from"), words=GIVEN_BY)


def _reason(label: Any) -> forms.CharField:
    widget = forms.TextInput(attrs={"autocomplete": "off"})
    return forms.CharField(label=label, required=False, max_length=120, widget=widget)


# Each figure of a brake, as asked for. Which of them a kind has, says ``courses.mechanics_shape.PART_FIGURES``.
PART_FIELDS: Mapping[str, Any] = {
    "start_m": lambda: _metres(L("Begins at"), L("From the start of the brake zone.")),
    "rate_n_per_m": lambda: _rate(L("Rate"), L("Force per length, of the whole pack or cord.")),
    "preload_n": lambda: _force(L("Preload"), L("Enter 0 where there is none.")),
    "bind_m": lambda: _metres(L("Travel until it binds"), L("Measured on the line, from first contact.")),
    "travel_m": lambda: _metres(
        L("Free length less solid length"), L("From the maker's sheet. One of the two will do.")
    ),
    "bind_rate_n_per_m": lambda: _rate(L("Rate once it binds"), L("Leave empty if the maker gives none.")),
    "first_force_n": lambda: _force(L("First force"), L("What the cord holds from the beginning; 0 for none.")),
    "first_length_m": lambda: _metres(L("Comes in over"), L("The length over which the first force builds up.")),
    "returned": lambda: _bare(L("Share of the energy given back"), L("Between 0.5 and 0.98; the maker's figure.")),
    "caught": lambda: AnswerField(label=L("A catch holds the rider"), words=YES_NO.words),
    "force_n": lambda: _force(L("Force")),
    "reaction_s": lambda: ComputedFigureField(
        label=L("Reaction time"), unit="s", help_text=L("From the signal until the brake acts.")
    ),
    "speed_mps": lambda: _speed(L("Speed of the greatest force"), L("From the maker's curve.")),
    "length_m": lambda: _metres(L("Length along the cable")),
    "gap_more_m": lambda: _metres(L("Gap wider than certified by"), L("0 if it is as on the certificate.")),
    "pole_pitch_m": lambda: _metres(
        L("Pole pitch"), L("From magnet to magnet of the same pole, half of it: the maker.")
    ),
    "worn_length_m": lambda: _metres(L("Worn limit: length lost")),
    "worn_preload_n": lambda: _force(L("Worn limit: preload lost")),
    "worn_share": lambda: _bare(L("Worn limit: share of the force lost"), L("0.1 for a tenth.")),
    "worn_gap_m": lambda: _metres(L("Worn limit: gap wider by")),
}

# A force is another figure on each kind of brake: what to enter is said by the kind.
FORCE_HELP: Mapping[str, Any] = {
    "eddy": L("The greatest one, as on the maker's curve."),
    "friction": L("Steady, along the run-out, beside the rolling resistance. Where there is none, leave both empty."),
    "hand": L("Steady, as the person at the brake holds it."),
}


class MechanicsForm(VersionForm):
    """The figures of cable, rider, brake zone, brakes and stop. What is left empty is named; it holds no line.

    A field is called by its path in the document, with ``__`` between the steps; a brake's by its slot. A brake that is
    left empty is left out. ``line`` is the
    content of the line's data in force, ``words`` are its slots in words.
    """

    span_m = _metres(L("Span"), L("Level distance from support to support, from the designer's drawing."))
    cable__mass_kg_per_m = ComputedFigureField(
        label=L("Weight of the cable"), unit="kg/m", us="lb/ft", help_text=L("Per length, from the rope's certificate.")
    )
    cable__stiffness_kn = ComputedFigureField(
        label=L("Stiffness, E times A"),
        unit="kN",
        help_text=L("From the rope maker: modulus of the rope times its metallic area, for a bedded-in rope."),
    )
    cable__expansion_per_k = ComputedFigureField(
        label=L("Expansion"), unit="1/K", metric="ppm/K", us="ppm/degF", help_text=L("For steel ropes near 12 ppm/K.")
    )
    cable__given_by = _given()
    tension_kn = ComputedFigureField(
        label=L("Tension"), unit="kN", help_text=L("Level part, with nobody on the cable. The stopwatch page tells it.")
    )
    reference_c = ComputedFigureField(
        label=L("Cable at that time"), unit="degC", us="degF", signed=True, help_text=L("Its temperature then.")
    )
    tension_date = DayField(label=L("Measured on"))
    tension_how = AnswerField(label=L("How it is known"), words=TENSION_HOW)
    anchor_kn_per_m = ComputedFigureField(
        label=L("Stiffness of both anchors"),
        unit="kN/m",
        us="lbf/in",
        help_text=L("Leave empty for anchors that do not give."),
    )
    constant_tension = AnswerField(label=L("Kept taut by a weight or ram"), words=YES_NO.words)
    rider__drag_area_m2 = ComputedFigureField(
        label=L("Drag area"),
        unit="m2",
        us="ft2",
        help_text=L("Seated riders have about 0.3 to 0.8 m² (from memory; nothing measured was found). Calibrate it."),
    )
    rider__by_weight = AnswerField(
        label=L("Smaller for lighter riders"),
        words=YES_NO.words,
        help_text=L("Then it is that of a rider of 80 kg, and grows with the weight to the power of two thirds."),
    )
    rider__rolling = _bare(L("Rolling resistance"), L("Share of the weight, about 0.005 to 0.03 (from memory)."))
    rider__given_by = _given()
    calibration__rides = ComputedFigureField(
        label=L("Calibrated with"),
        unit="count",
        help_text=L("Number of accepted test rides. The calibration page fills it in."),
    )
    calibration__least_kg = ComputedFigureField(label=L("Lightest of them"), unit="kg")
    calibration__most_kg = ComputedFigureField(label=L("Heaviest of them"), unit="kg")
    calibration__interval_mps = _speed(L("Arrival off by at most"), L("In 95 of 100 rides."))
    calibration__on = DayField(label=L("Last of them on"))
    calibration__left_out = forms.CharField(
        label=L("Left out by hand"), required=False, max_length=MOST_LEFT_OUT, widget=forms.Textarea({"rows": 3}),
        help_text=L("Test rides with day, time and weight. The calibration page fills it in."),
    )  # fmt: skip
    calibration__left_why = _reason(L("Because"))
    pressure_hpa = ComputedFigureField(
        label=L("Air pressure"), unit="hPa", us="inHg", help_text=L("Usual at the height of the course, not at sea.")
    )
    launch_mps = _speed(L("Speed at the launch"), L("0 if riders start from rest."))
    zone__start_m = _metres(L("Brake zone begins"), L("Level distance from the launch support."))
    zone__length_m = _metres(L("Length of the brake zone"))
    zone__capture_m = _metres(
        L("A rider is caught from"), L("Who stops before it, counted from the start of the zone, stopped short.")
    )
    stop__rated_mps = _speed(L("Trolley and brake rated for"), L("Without it no arrival is called too fast."))
    stop__travel_share = _bare(L("Share of the travel to use"), L("0.9 is usual here; the designer's figure counts."))
    stop__least_mps = _speed(L("Least arrival speed"))
    stop__mean_g = _gravities(L("Mean deceleration at most"))
    stop__peak_g = _gravities(L("Peak deceleration at most"))
    stop__peak_s = ComputedFigureField(label=L("A peak counts if longer than"), unit="s")
    stop__emergency_mean_g = _gravities(L("Emergency brake alone: mean"))
    stop__emergency_peak_g = _gravities(L("Emergency brake alone: peak"))
    stop__given_by = _given()
    chart__least_kg = ComputedFigureField(label=L("Ballast, at least"), unit="kg")
    chart__most_kg = ComputedFigureField(label=L("Ballast, at most"), unit="kg")
    chart__anew_on = DayField(label=L("Settled anew from"))
    chart__anew_why = _reason(L("Because"))

    def __init__(
        self,
        *args: Any,
        document: Mapping[str, Any],
        line: Mapping[str, Any],
        words: Mapping[str, str],
        units: str,
        **kwargs: Any,
    ) -> None:
        self.words = words
        # A run-out may have friction and mostly has none; the others are computed as what they are.
        self.kinds = {brake["slot"]: PART_OF_BRAKE[brake["kind"]] for brake in line.get("brakes", [])}
        super().__init__(*args, units=units, **kwargs)
        for name, field in self.fields.items():
            field.is_asked = not self.can_do_without(name)  # type: ignore[attr-defined]
        self.initial = {**self._initial_of(document), **self.initial}
        for name, field in self.fields.items():
            if isinstance(field, ComputedFigureField) and name in self.initial:
                self.initial[name] = field.bare(self.initial[name])

    def can_do_without(self, name: str) -> bool:
        """Tell whether a figure is not missed: what is then left out is said beside it."""
        return (
            name.startswith(("calibration", "chart", "struck"))
            or name.endswith(("given_by", "rated_mps", "caught"))
            or any(
                part in name
                for part in ("anchor_kn", "worn_", "emergency_mean", "emergency_peak", "bind_rate", "travel_m")
            )
        )

    def more_fields(self) -> dict[str, forms.Field]:
        found: dict[str, forms.Field] = {}
        for slot, kind in self.kinds.items():
            names = [name for name in PART_FIGURES[kind] if name not in WORN_FIGURES or slot.startswith("primary-")]
            found |= {f"parts__{slot}__{name}": PART_FIELDS[name]() for name in names}
            if kind in FORCE_HELP:
                found[f"parts__{slot}__force_n"].help_text = FORCE_HELP[kind]
            found[f"parts__{slot}__given_by"] = _given()
        for row in range(MOST_STRUCK):
            found |= {f"struck__{row}__on": DayField(label=L("Morning left out"))}
            found |= {f"struck__{row}__why": _reason(L("Because"))}
        return found

    def body(self) -> Iterable[Any]:
        yield self.section(
            _("Cable"), "span_m", ("cable__mass_kg_per_m", "cable__stiffness_kn", "cable__expansion_per_k"),
            "cable__given_by", "anchor_kn_per_m",
            lead=_("Drop, breaking force, posted weights and winds are taken from the line's data."),
        )  # fmt: skip
        yield self.section(
            _("Tension"), ("tension_kn", "reference_c"), ("tension_date", "tension_how"), "constant_tension",
        )  # fmt: skip
        yield self.section(
            _("Rider and air"), ("rider__drag_area_m2", "rider__rolling"), ("rider__by_weight", "rider__given_by"),
            ("pressure_hpa", "launch_mps"),
        )  # fmt: skip
        yield self.section(
            _("Calibration on this line"), ("calibration__rides", "calibration__on"),
            ("calibration__least_kg", "calibration__most_kg", "calibration__interval_mps"),
            "calibration__left_out", "calibration__left_why",
            lead=_("Leave it empty until test rides with several weights were evaluated."),
        )  # fmt: skip
        yield self.section(_("Brake zone"), ("zone__start_m", "zone__length_m", "zone__capture_m"))
        for slot in self.kinds:
            yield self._brake(slot)
        yield self.section(
            _("Limits of a stop"), ("stop__rated_mps", "stop__least_mps", "stop__travel_share"),
            ("stop__mean_g", "stop__peak_g", "stop__peak_s"),
            ("stop__emergency_mean_g", "stop__emergency_peak_g"), "stop__given_by",
            lead=_(
                "Planning values, no ride standard's: 1 g mean and 2.5 g for more than 0.04 s are those of lift "
                "buffers. The designer's figures come before them."
            ),
        )  # fmt: skip
        yield self.section(
            _("Test rides compared from morning to morning"), ("chart__least_kg", "chart__most_kg"),
            ("chart__anew_on", "chart__anew_why"),
            *((f"struck__{row}__on", f"struck__{row}__why") for row in range(MOST_STRUCK)),
            lead=_(
                "Left empty, the rides with the posted maximum weight, up to a twentieth more, are compared, and what "
                "is usual is settled anew by work on brake, cable or ends or by a new part there. A morning that was "
                "read wrongly is left out of what is usual; a ride after that is compared in any case. "
                "A watch that is open stays open whatever is set here."
            ),
        )  # fmt: skip

    def _brake(self, slot: str) -> Div:
        kind = self.kinds[slot]
        at = f"parts__{slot}__"
        names = [at + name for name in (*PART_FIGURES[kind], "given_by") if at + name in self.fields]
        told = HTML(
            format_html("<p class='field__help'>{}</p>", _("Computed as: %(kind)s.") % {"kind": PART_KINDS[kind]})
        )
        rows = [tuple(names[i : i + 2]) for i in range(0, len(names), 2)]
        return self.section(self.words.get(slot, slot), told, *rows)

    def content(self) -> dict[str, Any]:
        found: dict[str, Any] = {}
        parts: dict[str, dict[str, Any]] = {}
        struck: dict[str, dict[str, Any]] = {}
        for name, value in self.cleaned_data.items():
            if name in VersionForm.base_fields:
                continue
            *path, last = name.split("__")
            rows_of = {"parts": parts, "struck": struck}.get(path[0]) if path else None
            if rows_of is not None:
                target = rows_of.setdefault(path[1], {})
            else:
                target = found
                for step in path:
                    target = target.setdefault(step, {})
            if isinstance(value, Taken):
                value.into(target, last)
            elif value:
                target[last] = value
        rows = [{"slot": slot, "kind": self.kinds[slot], **given} for slot, given in parts.items() if given]
        left_out = [given for given in struck.values() if given]
        return found | ({"parts": rows} if rows else {}) | ({"struck": left_out} if left_out else {})

    def _initial_of(self, document: Mapping[str, Any]) -> dict[str, Any]:
        found: dict[str, Any] = {}
        parts = {part["slot"]: part for part in document.get("parts", [])}
        struck = dict(enumerate(document.get("struck", [])))
        for name, field in self.fields.items():
            if name in VersionForm.base_fields:
                continue
            *path, last = name.split("__")
            inside: Any = document
            if path[:1] == ["parts"]:
                inside = parts.get(path[1], {})
                inside = inside if inside.get("kind") == self.kinds[path[1]] else {}
            elif path[:1] == ["struck"]:
                inside = struck.get(int(path[1]), {})
            else:
                for step in path:
                    inside = inside.get(step, {})
            if isinstance(field, ComputedFigureField):
                found[name] = field.as_initial(inside, last)
            else:
                found[name] = inside.get(last, "")
        return found
