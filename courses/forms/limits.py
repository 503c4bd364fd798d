"""A limit of the course's own for one item, and which published sets are switched on."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from copy import deepcopy
from typing import Any

from crispy_forms.layout import HTML, Div
from django import forms
from django.utils.html import format_html
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from courses.forms.base import VersionForm
from courses.forms.fields import CountField, FigureField
from engineering.criteria import CriteriaSet
from engineering.exact import parse_exact
from engineering.rules import Verdict
from engineering.units import BARE

L = gettext_lazy
# Basis of a limit: the kind of rule (engineering.rules), and the fact that it is measured from (QUANTITIES.md).
SHARES = {
    "loss_new": ("loss_percent", "nominal"),
    "loss_baseline": ("loss_percent", "baseline"),
    "change_reference": ("deviation_percent", "reference"),
}
BASES = {
    "figure": L("the figure itself"),
    "loss_new": L("loss in percent of the size when new"),
    "loss_baseline": L("loss in percent of the baseline"),
    "change_reference": L("change in percent of the reference value"),
}
AGES = {"age_days": L("days"), "age_months": L("months")}
DATES = {
    "last_done": L("when it was last done"), "last_inspection": L("the last inspection"),
    "fitted": L("when it was fitted"),
    "first_use": L("first use"), "purchased": L("purchase"), "made": L("manufacture"),
}  # fmt: skip


class LimitForm(VersionForm):
    """The course's own limit for one item: an upper and a lower figure, or a share of what the part was when new.

    ``limits`` is the document it belongs to; all other items of it stay as they are.
    """

    def __init__(
        self, *args: Any, item: Mapping[str, Any], limits: Mapping[str, Any], **kwargs: Any
    ) -> None:  # fmt: skip
        self.item, self.limits = item, limits
        self.is_age = item["kind"] in {"date", "dates"}
        self.is_figure = item["kind"] in {"figure", "pair"}
        super().__init__(*args, **kwargs)
        own = limits.get("items", {}).get(item["key"], {})
        self.initial = {**self._initial_of(own), **self.initial}

    def more_fields(self) -> dict[str, forms.Field]:
        found: dict[str, forms.Field] = {}
        if self.is_age:
            found["age"] = CountField(label=L("At most"), required=True)
            found["age_unit"] = forms.ChoiceField(label=L("In"), choices=list(AGES.items()))
            found["age_from"] = forms.ChoiceField(label=L("Counted from"), choices=list(DATES.items()))
            found["watch_high"] = CountField(label=L("Watched from"))
            return found
        if self.is_figure:
            found["basis"] = forms.ChoiceField(label=L("Measured as"), choices=list(BASES.items()), initial="figure")
        unit = "" if self.item["unit"] in BARE else self.item["unit"]
        for end, words in (("high", L("At most")), ("low", L("At least"))):
            found[end] = FigureField(label=words, unit=unit or "1")
            found[f"watch_{end}"] = FigureField(label=L("Watched from"), unit=unit or "1")
        found["itself"] = forms.BooleanField(label=L("The limit itself already counts as past it."), required=False)
        if self.is_figure:
            found["gauge_u"] = FigureField(
                label=L("The gauge may be off by"), unit=unit or "1",
                help_text=L("Widens the watch before the limit, never the limit."),
            )  # fmt: skip
        return found

    def body(self) -> Iterable[Any]:
        if self.is_age:
            yield self.section(_("Own limit"), ("age", "age_unit", "age_from"), "watch_high")
            return
        basis = ["basis"] if self.is_figure else []
        lead = _("As a share, only “at most” is filled in, in percent.") if self.is_figure else ""
        yield self.section(
            _("Own limit"), *basis, ("high", "watch_high"), ("low", "watch_low"), "itself", lead=lead
        )  # fmt: skip
        if self.is_figure:
            yield self.section(_("Gauge"), "gauge_u")

    def clean(self) -> dict[str, Any]:
        data = self.cleaned_data
        if self.is_age:
            if data.get("watch_high") and data.get("age") and int(data["watch_high"]) > int(data["age"]):
                self.add_error("watch_high", _("The watch begins before the limit is reached."))
            return data
        high, low = (getattr(data.get(end), "value", "") for end in ("high", "low"))
        if data.get("basis", "figure") != "figure" and (low or not high):
            self.add_error("high", _("As a share, fill in “at most” and leave “at least” empty."))
        elif not (high or low or getattr(data.get("gauge_u"), "value", "") or self._had_rules()):
            self.add_error("high", _("Fill in at least one figure."))
        for end in ("high", "low"):
            limit, watch = (getattr(data.get(name), "value", "") for name in (end, f"watch_{end}"))
            if watch and not (limit and _lies_before(watch, limit, end)):
                self.add_error(f"watch_{end}", _("The watch begins before the limit is reached."))
        return data

    def content(self) -> dict[str, Any]:
        found = deepcopy({"items": dict(self.limits.get("items", {}))})
        own = {"rules": self._rules()}
        gauge = self.cleaned_data.get("gauge_u")
        if gauge and gauge.value:
            own["gauge_u"] = gauge.value
        found["items"][self.item["key"]] = own
        return found

    def _had_rules(self) -> bool:
        return bool(self.limits.get("items", {}).get(self.item["key"], {}).get("rules"))

    def _rules(self) -> list[dict[str, Any]]:
        data = self.cleaned_data
        if self.is_age:
            params = {"limit": data["age"], "from": data["age_from"], "watch": data["watch_high"]}
            return [self._rule("age", data["age_unit"], ">", data["age_unit"].removeprefix("age_"), params)]
        past = {"high": ">=", "low": "<="} if data["itself"] else {"high": ">", "low": "<"}
        figures = {name: data[name].value for name in ("high", "watch_high", "low", "watch_low")}
        if data.get("basis", "figure") != "figure":
            kind, origin = SHARES[data["basis"]]
            params = {"limit": figures["high"], "from": origin, "watch": figures["watch_high"]}
            return [self._rule("share", kind, past["high"], self.item["unit"], params)]
        return [
            self._rule(
                end, "max" if end == "high" else "min", past[end], self.item["unit"],
                {"limit": figures[end], "watch": figures[f"watch_{end}"]},
            )
            for end in ("high", "low")
            if figures[end]
        ]  # fmt: skip

    def _rule(self, name: str, kind: str, compare: str, unit: str, params: Mapping[str, str]) -> dict[str, Any]:
        return {
            "id": f"own-{self.item['key']}-{name}"[:40], "on": [self.item["measures"]], "kind": kind,
            "compare": compare, "unit": unit, "params": {key: value for key, value in params.items() if value},
            "source": self.cleaned_data["source"], "got": "COURSE",
        }  # fmt: skip

    def _initial_of(self, own: Mapping[str, Any]) -> dict[str, Any]:
        found: dict[str, Any] = {"gauge_u": own.get("gauge_u", "")}
        for rule in own.get("rules", ()):
            params = rule["params"]
            if rule["kind"] in AGES:
                found |= {"age": params["limit"], "age_unit": rule["kind"], "age_from": params["from"]}
                found["watch_high"] = params.get("watch", "")
                continue
            end = "low" if rule["kind"] == "min" else "high"
            found |= {end: params["limit"], f"watch_{end}": params.get("watch", ""), "itself": "=" in rule["compare"]}
            found["basis"] = next(
                (basis for basis, made in SHARES.items() if made == (rule["kind"], params.get("from"))), "figure"
            )
        return found


def _lies_before(watch: str, limit: str, end: str) -> bool:
    first, second = parse_exact(watch), parse_exact(limit)
    return first <= second if end == "high" else first >= second


class CriteriaForm(VersionForm):
    """Which published sets judge this course, and which cautions withdraw."""

    promote = forms.MultipleChoiceField(
        label=L("Cautions that take an item out of service here"), required=False, widget=forms.CheckboxSelectMultiple
    )

    def __init__(
        self, *args: Any, known: Sequence[CriteriaSet], law_place: str, document: Mapping[str, Any], **kwargs: Any
    ) -> None:  # fmt: skip
        self.known, self.law_place = known, law_place
        super().__init__(*args, **kwargs)
        on = {f"set__{name}": True for name in document.get("sets", [])}
        self.initial = {**on, "promote": document.get("promote", []), **self.initial}

    def more_fields(self) -> dict[str, forms.Field]:
        self.fields["promote"].choices = [  # type: ignore[attr-defined]
            (rule.id, f"{rule.id}: {rule.text}")
            for one in self.known
            for rule in one.rules
            if rule.verdict is Verdict.WATCH
        ]
        return {f"set__{one.id}": forms.BooleanField(label=one.title, required=False) for one in self.known}

    def body(self) -> Iterable[Any]:
        law = [one for one in self.known if one.is_law_in(self.law_place)]
        others = [one for one in self.known if one not in law]
        if law:
            yield self.section(_("Law of this place"), *(self._set(one) for one in law))
        yield self.section(_("Criteria that a course may adopt"), *(self._set(one) for one in others))
        if self.fields["promote"].choices:  # type: ignore[attr-defined]
            yield self.section(_("Cautions"), "promote")

    def _set(self, one: CriteriaSet) -> Div:
        return Div(f"set__{one.id}", HTML(format_html('<p class="field__help">{}</p>', one.applies)))

    def content(self) -> dict[str, Any]:
        sets = [one.id for one in self.known if self.cleaned_data[f"set__{one.id}"]]
        return {"sets": sets, "promote": self.cleaned_data["promote"]}
