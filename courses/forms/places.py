"""The course itself, its places and its calendar, as forms."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from courses import documents
from courses.forms.base import SetupForm, VersionForm
from courses.forms.fields import AnswerField, CountField
from courses.models import Course, Place
from courses.queries import Setup
from courses.shapes import YES_NO
from courses.wording import WEEKDAYS

L = gettext_lazy


class CourseForm(SetupForm):
    """What may change about a course. Time zone and law of the place stay as they were set."""

    name = forms.CharField(label=L("Name"), max_length=120)
    town = forms.CharField(label=L("Town or site"), max_length=120, required=False)
    units = forms.ChoiceField(
        label=L("Units"), choices=Course.Units.choices, widget=forms.RadioSelect,
        help_text=L("What a bare figure means in a form. What was typed stays as it is."),
    )  # fmt: skip
    retention_years = CountField(
        label=L("Years that records are kept"), required=True, help_text=L("At least five; it can only be made longer.")
    )
    field_of = {"retention-shorter": "retention_years"}

    def clean_retention_years(self) -> int:
        years = int(self.cleaned_data["retention_years"])
        if not 5 <= years <= 100:
            raise ValidationError(_("A number from 5 to 100 is needed."))
        return years

    def changes(self, course: Course) -> dict[str, Any]:
        names = ("name", "town", "units", "retention_years")
        return {name: self.cleaned_data[name] for name in names if self.cleaned_data[name] != getattr(course, name)}


class PlatformPlaceForm(SetupForm):
    """A new platform."""

    number = CountField(label=L("Number"), required=True)
    name = forms.CharField(label=L("Name"), max_length=80)
    field_of = {"number-taken": "number"}

    def clean_number(self) -> int:
        number = int(self.cleaned_data["number"])
        if not 1 <= number <= 999:
            raise ValidationError(_("A number from 1 to 999 is needed."))
        return number


class LinePlaceForm(PlatformPlaceForm):
    """A new line between two platforms."""

    launch = forms.ChoiceField(label=L("Starts at"))
    landing = forms.ChoiceField(label=L("Ends at"))
    field_of = {"number-taken": "number", "line-needs-platforms": "landing"}

    def __init__(self, *args: Any, platforms: list[Place], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.platforms = {str(place.pk): place for place in platforms}
        for name in ("launch", "landing"):
            choices = [("", "—"), *((key, str(place)) for key, place in self.platforms.items())]
            self.fields[name].choices = choices  # type: ignore[attr-defined]

    def sections(self) -> Iterable[Any]:
        return [self.side_by_side("number", "name"), self.side_by_side("launch", "landing"), "deed_id"]


class RetirePlaceForm(SetupForm):
    why = forms.CharField(label=L("Why"), max_length=200)


class PlatformForm(VersionForm):
    """What carries a platform, how people leave it, how many may stand on it."""

    asked = frozenset({"support", "way_off"})

    support = AnswerField(label=L("Carried by"), words=documents.ANCHORS)
    guys = CountField(label=L("Number of guys"))
    way_off = forms.ChoiceField(
        label=L("Way off the platform"), required=False,
        help_text=L("If the only way on is another line, riders are stranded when that line is held."),
    )  # fmt: skip
    gate = AnswerField(label=L("Gate or chain"), words=YES_NO.words)
    padding = AnswerField(label=L("Padding"), words=YES_NO.words)
    load_limit = CountField(label=L("People at once"))

    def __init__(
        self, *args: Any, document: Mapping[str, Any], place: Place, setup: Setup, **kwargs: Any
    ) -> None:  # fmt: skip
        super().__init__(*args, **kwargs)
        onward = [(f"line:{line.pk}", str(line)) for line in setup.lines if line.launch_id == place.pk]
        ways = [("", "—"), *documents.WAYS_OFF.items(), *onward]
        self.fields["way_off"].choices = ways  # type: ignore[attr-defined]
        self.initial = {**document, **self.initial}

    def body(self) -> Iterable[Any]:
        yield self.section(_("Platform"), ("support", "guys"), "way_off", ("gate", "padding"), "load_limit")

    def content(self) -> dict[str, Any]:
        names = ("support", "guys", "way_off", "gate", "padding", "load_limit")
        return {name: self.cleaned_data[name] for name in names}


def _date(label: Any) -> forms.DateField:
    return forms.DateField(label=label, required=False, widget=forms.DateInput({"type": "date"}, "%Y-%m-%d"))


class CalendarForm(VersionForm):
    """Seasons, days of the week, hours, and the dates that are unlike the others."""

    season_1_from = _date(L("First day"))
    season_1_to = _date(L("Last day"))
    season_2_from = _date(L("First day"))
    season_2_to = _date(L("Last day"))
    season_3_from = _date(L("First day"))
    season_3_to = _date(L("Last day"))
    weekdays = forms.TypedMultipleChoiceField(
        label=L("Days of the week"), coerce=int, choices=list(WEEKDAYS.items()), widget=forms.CheckboxSelectMultiple
    )
    opens = forms.TimeField(label=L("Opens"), widget=forms.TimeInput({"type": "time"}, "%H:%M"))
    closes = forms.TimeField(label=L("Closes"), widget=forms.TimeInput({"type": "time"}, "%H:%M"))
    closed = forms.CharField(
        label=L("Closed on"), required=False, widget=forms.Textarea({"rows": 3}),
        help_text=L("One date a line, as 2026-06-24."),
    )  # fmt: skip
    extra = forms.CharField(
        label=L("Open besides on"), required=False, widget=forms.Textarea({"rows": 3}),
        help_text=L("One date a line, outside the seasons or on another day of the week."),
    )  # fmt: skip

    def __init__(self, *args: Any, document: Mapping[str, Any], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["source"].label = _("Reason")
        self.fields["source"].help_text = _("Season plan, works, weather, an authority's order.")
        found: dict[str, Any] = {"weekdays": document.get("weekdays", list(WEEKDAYS))}
        for row, season in enumerate(document.get("seasons", [])[:3], start=1):
            found |= {f"season_{row}_from": season["from"], f"season_{row}_to": season["to"]}
        found |= {name: document[name] for name in ("opens", "closes") if name in document}
        found |= {name: "\n".join(document.get(name, [])) for name in ("closed", "extra")}
        self.initial = {**found, **self.initial}

    def body(self) -> Iterable[Any]:
        seasons = [(f"season_{row}_from", f"season_{row}_to") for row in (1, 2, 3)]
        yield self.section(_("Seasons"), *seasons, lead=_("Both days belong to the season."))
        yield self.section(_("Days and hours"), "weekdays", ("opens", "closes"))
        yield self.section(_("Other dates"), ("closed", "extra"))

    def clean_closed(self) -> list[str]:
        return self._dates("closed")

    def clean_extra(self) -> list[str]:
        return self._dates("extra")

    def clean(self) -> dict[str, Any]:
        for row in (1, 2, 3):
            first, last = (self.cleaned_data.get(f"season_{row}_{end}") for end in ("from", "to"))
            if bool(first) != bool(last):
                self.add_error(f"season_{row}_{'to' if first else 'from'}", _("A season has a first and a last day."))
        return self.cleaned_data

    def content(self) -> dict[str, Any]:
        data = self.cleaned_data
        seasons = [
            {"from": data[f"season_{row}_from"].isoformat(), "to": data[f"season_{row}_to"].isoformat()}
            for row in (1, 2, 3)
            if data[f"season_{row}_from"]
        ]
        hours = {name: data[name].strftime("%H:%M") for name in ("opens", "closes")}
        return {
            "seasons": seasons, "weekdays": data["weekdays"], **hours, "closed": data["closed"], "extra": data["extra"]
        }  # fmt: skip

    def _dates(self, name: str) -> list[str]:
        found = []
        for line in self.cleaned_data[name].replace(",", "\n").split():
            try:
                found.append(date.fromisoformat(line).isoformat())
            except ValueError:
                raise ValidationError(
                    _("“%(text)s” is not a date. Type year-month-day, as in 2026-06-24.") % {"text": line}
                ) from None
        return found
