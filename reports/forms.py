"""What is typed when the day is signed, and which part of the history is taken away or drawn from."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from accounts.forms import DeedForm, PasswordDeedForm
from courses.models import Place
from inspections.facts import CLOSED, OPEN
from inspections.phones import TICK
from reports.day_links import LONGEST_DAYS

LONGEST_NAME = 60


def field_name(line: Place) -> str:
    return f"line_{line.pk.hex}"


WIND_TOLD = gettext_lazy("I was told the wind by radio just now. It is below the limit of every line that I open.")


class SignForm(PasswordDeedForm):
    """Open or closed for every line, and the password. Whether a line may be opened is asked by the action."""

    seen_revision = forms.IntegerField(widget=forms.HiddenInput, min_value=0)
    asked = forms.BooleanField(label=TICK, required=False)
    wind_told = forms.BooleanField(label=WIND_TOLD, required=False)
    shown = forms.RegexField(r"^[0-9a-f-]{36}( [0-9a-f-]{36})*$", max_length=20_000, required=False)
    field_of = {**PasswordDeedForm.field_of, "phones": "asked"}

    def __init__(
        self,
        *args: Any,
        lines: Sequence[Place],
        chosen: dict[str, str],
        revision: int,
        wind_old: bool = False,
        **kwargs: Any,
    ) -> None:
        """``wind_old``: the wind was read so long ago that whoever opens a line says that it was told anew."""
        super().__init__(*args, **kwargs)
        self.lines = lines
        if not wind_old:
            self.fields.pop("wind_told", None)
        self.fields["password"].help_text = ""
        self.fields["seen_revision"].initial = revision
        for line in lines:
            self.fields[field_name(line)] = forms.ChoiceField(
                label=str(line),
                choices=[(OPEN, _("Open")), (CLOSED, _("Closed today"))],
                widget=forms.RadioSelect,
                initial=chosen.get(str(line.pk)),
                error_messages={"required": _("Say whether this line is open or closed today.")},
            )
        self.order_fields([*(field_name(line) for line in lines), "asked", "password"])

    def clean(self) -> dict[str, Any]:
        found = super().clean() or {}
        opens = any(found.get(field_name(line)) == OPEN for line in self.lines)
        if opens and "wind_told" in self.fields and not found.get("wind_told"):
            self.add_error("wind_told", _("Have the wind read before you open a line, or be told it by radio now."))
        return found

    def asked_after(self) -> list[str] | None:
        """Return what was shown of phones and asked about by radio; None where that was not said."""
        return self.cleaned_data["shown"].split() if self.cleaned_data["asked"] else None

    def show(self, shown: str) -> None:
        """Take the tick out again where other phones are shown now than those that it was set for."""
        if self.is_bound and self.data.get("shown", "") != shown:
            self.data = {name: value for name, value in self.data.items() if name != "asked"}
        elif not self.is_bound and self.initial.get("shown", "") != shown:
            self.initial.pop("asked", None)

    def decisions(self) -> dict[str, str]:
        return {str(line.pk): self.cleaned_data[field_name(line)] for line in self.lines}


class PaperSignForm(SignForm):
    """What was decided on paper: when, by whom, who signed beside, and the photo of the paper."""

    signed_on = forms.DateField(
        label=gettext_lazy("Day on the paper"), widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )
    signed_at = forms.TimeField(
        label=gettext_lazy("Time on the paper"), widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M")
    )
    opened_by = forms.ChoiceField(
        label=gettext_lazy("Who opened the lines"), help_text=gettext_lazy("The manager whose signature is on it.")
    )
    beside = forms.ChoiceField(
        label=gettext_lazy("Who signed beside"),
        help_text=gettext_lazy("The second signature: somebody else who may inspect or sign the day."),
    )
    paper_photo = forms.FileField(
        label=gettext_lazy("Photo of the paper"),
        error_messages={"required": gettext_lazy("Add the photo of the sheet of paper.")},
        widget=forms.FileInput(attrs={"accept": "image/*", "capture": "environment"}),
    )
    paper_kept = forms.CharField(required=False, widget=forms.HiddenInput)
    # What phones say and how the wind is is of now, not of the time on the paper.
    asked = shown = wind_told = None  # type: ignore[assignment]
    field_of = {
        **PasswordDeedForm.field_of,
        "paper-photo": "paper_photo",
        "paper-later": "signed_at",
        "paper-old": "signed_on",
        "paper-second": "beside",
        "paper-right": "opened_by",
        "paper-beside": "beside",
    }

    def __init__(self, *args: Any, people: Sequence[tuple[str, str]], kept: str = "", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in ("opened_by", "beside"):
            self.fields[name].choices = [("", _("Choose")), *people]  # type: ignore[attr-defined]
        self.initial = {**self.initial, "paper_kept": kept}
        if kept:
            self.fields["paper_photo"].required = False
            self.fields["paper_photo"].help_text = _("A photo is kept already. Another one takes its place.")
        lines = [field_name(line) for line in self.lines]
        self.order_fields(["signed_on", "signed_at", "opened_by", "beside", "paper_photo", *lines, "password"])


class TagStockForm(DeedForm):
    count = forms.TypedChoiceField(
        label=gettext_lazy("How many tags"),
        choices=[(10, "10"), (20, "20"), (40, "40"), (100, "100")],
        coerce=int,
        initial=20,
        help_text=gettext_lazy("Two stand on a sheet. The numbers go on from the last."),
    )
    submit = gettext_lazy("Draw the tags (PDF)")


class DayLinkForm(DeedForm):
    whom = forms.CharField(
        label=gettext_lazy("For whom"), max_length=LONGEST_NAME, help_text=gettext_lazy("Name and office.")
    )
    days = forms.TypedChoiceField(
        label=gettext_lazy("For how many days"),
        choices=[(1, "1"), (3, "3"), (7, "7"), (LONGEST_DAYS, str(LONGEST_DAYS))],
        coerce=int,
        initial=3,
    )
    submit = gettext_lazy("Make the link")
    field_of = {**DeedForm.field_of, "link-whom": "whom", "link-days": "days"}


class RangeForm(forms.Form):
    """A range of local dates, both included."""

    first = forms.DateField(
        label=gettext_lazy("First day"), widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )
    last = forms.DateField(
        label=gettext_lazy("Last day"), widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        first, last = data.get("first"), data.get("last")
        if isinstance(first, date) and isinstance(last, date) and first > last:
            self.add_error("last", _("The last day lies before the first."))
        return data


MOST_DRAWN = 1000
LONGEST_SEED = 60


class SampleForm(RangeForm):
    """What an auditor draws from and by which seed; ``upto`` is the newest entry of the record when it was drawn."""

    what = forms.ChoiceField(
        label=gettext_lazy("What to draw"),
        choices=[("sheets", gettext_lazy("Signed sheets")), ("days", gettext_lazy("Signed days"))],
    )
    share = forms.TypedChoiceField(
        label=gettext_lazy("At most this share may be faulty"),
        choices=[(n, f"{n} %") for n in (1, 2, 5, 10, 20)],
        coerce=int,
        help_text=gettext_lazy("With 95 % confidence, if no fault is found. It decides how many are drawn."),
    )
    size = forms.IntegerField(
        label=gettext_lazy("Or this many records"), required=False, min_value=1, max_value=MOST_DRAWN
    )
    seed = forms.CharField(
        label=gettext_lazy("Seed"),
        max_length=LONGEST_SEED,
        help_text=gettext_lazy("Any words or figures, chosen by whoever audits and told before the draw."),
    )
    upto = forms.IntegerField(required=False, min_value=0, widget=forms.HiddenInput)
    field_order = ("what", "first", "last", "share", "size", "seed", "upto")

    def __init__(self, *args: Any, newest: int, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.newest = newest

    def clean_upto(self) -> int | None:
        upto: int | None = self.cleaned_data["upto"]
        if upto is not None and upto > self.newest:
            raise forms.ValidationError(_("There is no entry %(number)s yet.") % {"number": upto})
        return upto


class FaultsForm(forms.Form):
    """How many of the records drawn were looked at, and how many of those show a fault."""

    looked = forms.IntegerField(label=gettext_lazy("Looked at"), min_value=1)
    faults = forms.IntegerField(label=gettext_lazy("With a fault"), min_value=0)

    def __init__(self, *args: Any, drawn: int, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.drawn = drawn

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        looked, faults = data.get("looked"), data.get("faults")
        if looked is not None and looked > self.drawn:
            self.add_error(
                "looked",
                _("Only %(n)s were drawn. Ask for more with the same seed: the first ones stay the same.")
                % {"n": self.drawn},
            )
        if looked is not None and faults is not None and faults > looked:
            self.add_error("faults", _("There cannot be more with a fault than were looked at."))
        return data
