"""A checklist in the hands of the engineer: wording, frequency, class, what is left out and why, what is added."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from copy import deepcopy
from typing import Any

from crispy_forms.layout import HTML, Div
from django import forms
from django.utils.html import format_html
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from courses import naming
from courses.forms.base import VersionForm

L = gettext_lazy
OWN = "OWN"
# What an item of the course's own measures: nothing published speaks of it, so its limit is the course's own too.
OWN_QUANTITY = {"look": "general.sound", "function": "general.sound", "figure": "own.figure", "count": "own.count"}
OWN_UNITS = ("mm", "m", "kg", "kN", "Nm", "m/s", "s", "min", "deg", "degC", "%")


class ChecklistForm(VersionForm):
    """Every item folded up, one fold for each; beneath, what the library has besides.

    ``items`` are those of the version that is adapted, ``lacking`` those that composing would give besides.
    """

    def __init__(
        self, *args: Any, base: Mapping[str, Any], lacking: list[dict[str, Any]], **kwargs: Any
    ) -> None:  # fmt: skip
        self.base, self.items, self.lacking = base, list(base["items"]), lacking
        super().__init__(*args, **kwargs)

    def more_fields(self) -> dict[str, forms.Field]:
        found: dict[str, forms.Field] = {}
        for row, item in enumerate(self.items):
            found |= {
                f"item__{row}__text": forms.CharField(
                    label=L("Wording"), max_length=200, initial=item["text"], widget=forms.Textarea({"rows": 2})
                ),
                f"item__{row}__every": _every(item["every"]),
                f"item__{row}__class": _class(item["class"]),
                f"item__{row}__out": forms.CharField(
                    label=L("Leave it out, because"), max_length=200, required=False
                ),
            }  # fmt: skip
        for row in range(len(self.lacking)):
            found[f"add__{row}"] = forms.BooleanField(label=L("Add it"), required=False)
        return found

    def body(self) -> Iterable[Any]:
        sheets: dict[str, list[Any]] = {}
        for row, item in enumerate(self.items):
            sheets.setdefault(item["sheet"], []).append(self._fold(row, item))
        for sheet, folds in sheets.items():
            yield self.section(naming.sheet_words(sheet), *folds)
        if self.lacking:
            adds = [Div(_head(item), f"add__{row}") for row, item in enumerate(self.lacking)]
            yield self.section(_("In the library besides"), *adds, lead=_("What is not added stays as it is."))

    def _fold(self, row: int, item: Mapping[str, Any]) -> Div:
        at = f"item__{row}__"
        open_ = " open" if self.is_bound and any(name.startswith(at) for name in self.errors) else ""
        start = HTML(format_html(
            '<details{}><summary class="fold"><span><span class="code">{}</span> {}</span></summary>',
            open_, item["code"], item["text"],
        ))  # fmt: skip
        return Div(
            start, Div(at + "text", self.side_by_side(at + "every", at + "class"), at + "out", css_class="form"),
            HTML("</details>"),
        )  # fmt: skip

    def content(self) -> dict[str, Any]:
        data, kept = self.cleaned_data, []
        out = [dict(one) for one in self.base.get("left_out", ())]
        for row, item in enumerate(self.items):
            at = f"item__{row}__"
            if data[at + "out"]:
                out.append({"code": item["code"], "key": item["key"], "why": data[at + "out"]})
                continue
            kept.append({**item, **{name: data[at + name] for name in ("text", "every", "class")}})
        for row, item in enumerate(self.lacking):
            if data[f"add__{row}"]:
                kept.append(deepcopy(item))
        keys = {item["key"] for item in kept}
        return {**self.base, "items": kept, "left_out": [one for one in out if one.get("key") not in keys]}


class AddItemForm(VersionForm):
    """One item that the library does not have."""

    text = forms.CharField(label=L("What is asked"), max_length=200, help_text=L("Short, as it stands on the phone."))
    look = forms.CharField(
        label=L("What to look at"), max_length=600, widget=forms.Textarea({"rows": 3}),
        help_text=L("How it is done, and what makes it a defect."),
    )  # fmt: skip
    kind = forms.ChoiceField(
        label=L("What is entered"), widget=forms.RadioSelect,
        choices=[("look", L("sound or defect, by looking")), ("function", L("sound or defect, by trying it")),
                 ("figure", L("a figure")), ("count", L("a number of things"))],
    )  # fmt: skip
    unit = forms.ChoiceField(
        label=L("Unit of the figure"), required=False, choices=[("", "—"), *((unit, unit) for unit in OWN_UNITS)]
    )
    slot = forms.ChoiceField(label=L("About"))
    sheet = forms.ChoiceField(label=L("On the sheet"))

    def __init__(
        self, *args: Any, base: Mapping[str, Any], slots: Iterable[tuple[str, str]], sheets: Iterable[str],
        **kwargs: Any,
    ) -> None:  # fmt: skip
        self.base = base
        super().__init__(*args, **kwargs)
        self.fields["slot"].choices = list(slots)  # type: ignore[attr-defined]
        self.fields["sheet"].choices = [(one, naming.sheet_words(one)) for one in sheets]  # type: ignore[attr-defined]

    def more_fields(self) -> dict[str, forms.Field]:
        reach = forms.ChoiceField(label=L("Reached"), choices=list(naming.REACHES.items()))
        return {"class": _class("major"), "every": _every("1"), "reach": reach}

    def body(self) -> Iterable[Any]:
        yield self.section(_("The item"), "text", "look", "kind", "unit")
        yield self.section(_("Where and how often"), ("slot", "sheet"), ("class", "every", "reach"))

    def clean(self) -> dict[str, Any]:
        if (self.cleaned_data.get("kind") == "figure") != bool(self.cleaned_data.get("unit")):
            self.add_error("unit", _("A figure, and nothing else, has a unit."))
        return self.cleaned_data

    def content(self) -> dict[str, Any]:
        data = self.cleaned_data
        taken = {item["code"] for item in self.base["items"]}
        code = next(f"{OWN}-{number}" for number in range(1, 1000) if f"{OWN}-{number}" not in taken)
        kind = data["kind"]
        item = {
            "key": f"{code}@{data['slot']}", "code": code, "text": data["text"], "look": data["look"], "kind": kind,
            "unit": data["unit"] or ("count" if kind == "count" else ""), "measures": OWN_QUANTITY[kind],
            "sources": [data["source"]], "needs": [], "laws": [], "caution": "", "drawing": "", "photo": "",
            **{name: data[name] for name in ("class", "sheet", "slot", "every", "reach")},
        }  # fmt: skip
        return {**self.base, "items": [*self.base["items"], item]}


def _class(initial: str) -> forms.ChoiceField:
    return forms.ChoiceField(label=L("A defect is"), choices=list(naming.CLASSES.items()), initial=initial)


def _every(initial: str) -> forms.ChoiceField:
    return forms.ChoiceField(label=L("Due"), choices=list(naming.EVERY.items()), initial=initial)


def _head(item: Mapping[str, Any]) -> HTML:
    return HTML(format_html('<p><span class="code">{}</span> {}</p>', item["code"], item["text"]))
