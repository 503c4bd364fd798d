"""Fields that take what a person types and give what a document keeps: exact decimal text in metric units."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _

from engineering import typed
from engineering.exact import exact_text, parse_exact, rounded_to, shown
from engineering.units import convert, with_unit

WITH_UNIT = re.compile(r"[^0-9.,/ +-]")
# What a bare figure means on a US course, by the metric unit that is kept.
US_UNITS = {"m": "ft", "kg": "lb", "m/s": "mph", "mm": "in", "kN": "lbf", "Nm": "ft-lb"}
SIGNIFICANT = 12  # digits kept of a figure that has no end in metric units and of which more than enough is known


@dataclass(frozen=True)
class Taken:
    """A figure as it is kept: metric text, and what was typed where that was in another unit."""

    value: str = ""
    typed: str = ""

    def into(self, target: dict[str, Any], name: str) -> None:
        """Put the figure under its name, and what was typed beside it."""
        if self.value:
            target[name] = self.value
            if self.typed:
                target[f"{name}_typed"] = self.typed


def asked_back(unclear: typed.Unclear) -> ValidationError:
    """Say what could not be read, and what to type instead."""
    sentence = _(typed.SENTENCES[unclear.code]) % unclear.params
    if unclear.code in typed.SUGGESTIONS:
        sentence += " " + _(typed.SUGGESTIONS[unclear.code]) % unclear.params
    return ValidationError(sentence, code=unclear.code)


class FigureField(forms.CharField):
    """A figure in ``unit``; a bare one is in the unit of the course (``use_units``). Cleans to ``Taken``."""

    def __init__(self, *, unit: str, required: bool = False, **kwargs: Any) -> None:
        kwargs.setdefault("widget", forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}))
        super().__init__(required=required, max_length=40, **kwargs)
        self.unit = unit
        self.shown_unit = unit

    def use_units(self, units: str) -> None:
        """Take bare figures in the units of the course: ``metric`` or ``us``."""
        self.shown_unit = US_UNITS.get(self.unit, self.unit) if units == "us" else self.unit

    def clean(self, value: Any) -> Taken:
        text = super().clean(value)
        if not text:
            return Taken()
        try:
            figure = typed.read_figure(text, self.shown_unit)
        except typed.Unclear as unclear:
            raise asked_back(unclear) from None
        exact = exact_text(convert(figure.value, self.shown_unit, self.unit))
        said = text if WITH_UNIT.search(text) else with_unit(text, self.shown_unit)
        if "/" in exact:
            near = shown(parse_exact(exact), most=3)
            raise ValidationError(
                _("%(typed)s has no end as a decimal in %(unit)s (%(near)s). Type it in %(unit)s.")
                % {"typed": said, "unit": self.unit, "near": near},
                code="endless",
            )
        return Taken(exact, "" if figure.typed_unit == self.unit else said)

    def as_initial(self, document: Any, name: str) -> str:
        """Return what to show again of a kept figure: as typed, else the metric figure with its unit where needed."""
        value = str(document.get(name, ""))
        if document.get(f"{name}_typed"):
            return str(document[f"{name}_typed"])
        return with_unit(value, self.unit) if value and self.shown_unit != self.unit else value


class ComputedFigureField(FigureField):
    """A figure that is only computed with, never judged: kept in ``unit``, typed in ``metric`` or ``us`` units.

    Where it has no end as a decimal, twelve digits are kept, and what was typed beside them. Cleans to ``Taken``.
    """

    def __init__(self, *, unit: str, metric: str = "", us: str = "", signed: bool = False, **kwargs: Any) -> None:
        super().__init__(unit=unit, **kwargs)
        self.metric, self.signed = metric or unit, signed
        self.us = us or US_UNITS.get(self.metric, self.metric)
        self.shown_unit = self.metric

    def use_units(self, units: str) -> None:
        """Take bare figures in the units of the course: ``metric`` or ``us``."""
        self.shown_unit = self.us if units == "us" else self.metric

    def clean(self, value: Any) -> Taken:
        text = forms.CharField.clean(self, value)
        if not text:
            return Taken()
        try:
            figure = typed.read_figure(text, self.shown_unit, signed=self.signed)
        except typed.Unclear as unclear:
            raise asked_back(unclear) from None
        exact = exact_text(rounded_to(convert(figure.value, self.shown_unit, self.unit), SIGNIFICANT))
        said = text if WITH_UNIT.search(text) else with_unit(text, self.shown_unit)
        return Taken(exact, "" if figure.typed_unit == self.unit else said)

    def bare(self, text: str) -> str:
        """Return a figure as it stands in its field: without the unit that is printed behind the field anyway."""
        return text.removesuffix(with_unit("", self.shown_unit))

    def as_initial(self, document: Any, name: str) -> str:
        """Return what to show again of a kept figure: as typed, else in the unit of the field."""
        typed_text, value = str(document.get(f"{name}_typed", "")), str(document.get(name, ""))
        if typed_text or not value or self.shown_unit == self.unit:
            return typed_text or value
        for unit in (self.shown_unit, self.metric):
            exact = exact_text(convert(parse_exact(value), self.unit, unit))
            if "/" not in exact:
                return exact if unit == self.shown_unit else with_unit(exact, unit)
        return value


class CountField(forms.CharField):
    """A whole number. Cleans to text."""

    def __init__(self, *, required: bool = False, **kwargs: Any) -> None:
        kwargs.setdefault("widget", forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}))
        super().__init__(required=required, max_length=12, **kwargs)

    def clean(self, value: Any) -> str:
        text = super().clean(value)
        if not text:
            return ""
        try:
            return typed.read_count(text).exact
        except typed.Unclear as unclear:
            raise asked_back(unclear) from None


class DayField(forms.DateField):
    """A date. Cleans to ISO text; ``not_after`` is set by the form where the date cannot lie ahead."""

    def __init__(self, *, required: bool = False, **kwargs: Any) -> None:
        widget = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
        super().__init__(required=required, widget=widget, input_formats=["%Y-%m-%d"], **kwargs)
        self.not_after: date | None = None

    def clean(self, value: Any) -> Any:
        found = super().clean(value)
        if found is None:
            return ""
        if self.not_after is not None and found > self.not_after:
            raise ValidationError(_("This date still lies ahead."), code="date-ahead")
        return found.isoformat()


class AnswerField(forms.ChoiceField):
    """One of a few answers in a list that begins empty."""

    def __init__(self, *, words: Any, required: bool = False, empty: str = "", **kwargs: Any) -> None:
        choices = [("", empty or "—"), *words.items()] if not required or empty else list(words.items())
        super().__init__(choices=choices, required=required, **kwargs)
