"""What an engineer asks for reopening after a hold, beyond what is asked in any case."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as L

from courses.documents import GUST_FLOOR, REOPEN_LOOK, REOPEN_RIDE, THUNDER_FLOOR
from courses.forms.base import VersionForm


def _minutes(label: Any, least: int) -> forms.IntegerField:
    return forms.IntegerField(
        label=label, min_value=least, max_value=240, initial=least, widget=forms.TextInput({"inputmode": "numeric"})
    )


def _causes(label: Any, words: Mapping[str, Any]) -> forms.MultipleChoiceField:
    return forms.MultipleChoiceField(
        label=label, required=False, choices=list(words.items()), widget=forms.CheckboxSelectMultiple
    )


class ReopeningForm(VersionForm):
    """Waits never below the floor, and causes after which more is asked."""

    gust_minutes = _minutes(L("Minutes with the wind below the limit"), GUST_FLOOR)
    thunder_minutes = _minutes(L("Minutes since the last thunder or lightning"), THUNDER_FLOOR)
    look = _causes(L("Ask for a look along the line also after"), REOPEN_LOOK)
    ride = _causes(L("Ask for a new ballast ride also after"), REOPEN_RIDE)

    def __init__(self, *args: Any, document: Mapping[str, Any], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.initial = {**document, **self.initial}

    def body(self) -> Iterable[Any]:
        yield self.section(_("Waits"), "gust_minutes", "thunder_minutes")
        yield self.section(_("What is asked besides"), "look", "ride")

    def content(self) -> dict[str, Any]:
        data = self.cleaned_data
        return {
            "gust_minutes": str(data["gust_minutes"]),
            "thunder_minutes": str(data["thunder_minutes"]),
            "look": data["look"],
            "ride": data["ride"],
        }
