"""What is typed about holds and the closing of the day."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from typing import Any

from crispy_forms.layout import Field, Layout
from django import forms
from django.utils.text import capfirst
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from accounts.forms import DeedForm
from courses.models import Place
from inspections.actions.holds import COURSE_WIDE
from inspections.models import Hold

COUNT = r"^[0-9]{1,3}(?:[0-9]*|(?:\s[0-9]{3})+)$"  # a space may part the thousands
LOOK = _("I looked along every line concerned and found it clear")


class HoldForm(DeedForm):
    """Which line comes first; the button stands in the bar of the page, under the thumb."""

    line = forms.ChoiceField(label=_("Which line"), help_text=_("Weather always holds the whole course."))
    cause = forms.ChoiceField(label=_("Why"), widget=forms.RadioSelect)
    text = forms.CharField(label=_("Note"), required=False, widget=forms.Textarea(attrs={"rows": 2}), max_length=1000)
    field_of = {"line-needed": "line"}
    use_required_attribute = False  # for weather no line is chosen

    WHOLE = "all"
    WORDS = {"person": _("somebody on the line or under it")}

    def __init__(self, *args: Any, lines: Iterable[Place] = (), causes: Iterable[str] = (), **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        allowed = set(causes) or set(Hold.Cause.values)
        # Somebody in danger before weather, weather before the rest.
        by_line = sorted(Hold.Cause.choices, key=lambda one: (one[0] != Hold.Cause.PERSON, one[0] not in COURSE_WIDE))
        self.fields["cause"].choices = [  # type: ignore[attr-defined]
            (name, capfirst(self.WORDS.get(name, word))) for name, word in by_line if name in allowed
        ]
        self.fields["line"].choices = [  # type: ignore[attr-defined]
            ("", _("Choose …")), *((str(one.pk), str(one)) for one in lines), (self.WHOLE, _("Whole course")),
        ]  # fmt: skip
        self.fields["line"].error_messages["required"] = gettext("Choose the line, or the whole course.")
        self.helper.form_id = "hold"
        self.helper.attrs = {"data-act": "act"}
        self.helper.layout = Layout("deed_id", "line", Field("cause", wrapper_class="field--two"), "text")

    def clean(self) -> dict[str, Any]:
        found: dict[str, Any] = super().clean() or {}
        if found.get("cause") in COURSE_WIDE:
            self.errors.pop("line", None)
            found["line"] = ""
        return found


class ToldForm(DeedForm):
    where = forms.ChoiceField(
        label=_("Told at"), widget=forms.RadioSelect, choices=[("launch", _("Launch")), ("landing", _("Landing"))]
    )
    text = forms.CharField(label=_("Who confirmed by radio"), max_length=120)
    submit = _("Enter")

    def __init__(self, *args: Any, not_told: Iterable[str] = (), **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        left = list(not_told)
        if left:
            field: Any = self.fields["where"]
            field.choices = [choice for choice in field.choices if choice[0] in left]
            field.initial = left[0] if len(left) == 1 else None


class LiftForm(DeedForm):
    """Asks exactly what the rule of the cause asks."""

    looked = forms.BooleanField(label=LOOK, required=False)
    wind = forms.CharField(
        label=_("Wind now, m/s"), required=False, max_length=20, widget=forms.TextInput(attrs={"inputmode": "decimal"})
    )
    authority = forms.CharField(label=_("Who allowed it, and how"), required=False, max_length=300)
    seen = forms.BooleanField(label=_("I have seen that nobody is on the line or under it"), required=False)
    counted = forms.BooleanField(label=_("Everyone was counted"), required=False)
    radio = forms.BooleanField(label=_("The person who called it was asked by radio"), required=False)
    untold = forms.BooleanField(
        label=_("I asked launch and landing by radio just now, and both know that it was held"),
        error_messages={"required": _("Ask launch and landing first: not both are entered as told of this hold.")},
    )
    text = forms.CharField(label=_("Note"), required=False, widget=forms.Textarea(attrs={"rows": 2}), max_length=1000)
    submit = _("Lift the hold")

    ASKED = {
        "gust": ("wind",),
        "injury": ("authority",),
        "authority": ("authority",),
        "person": ("seen", "counted", "radio"),
    }

    def __init__(
        self, *args: Any, hold: Hold, look: bool, own: bool = False, untold: bool = False, **kwargs: Any
    ) -> None:
        """``own``: who called the hold lifts it, and confirms what was seen. ``untold``: not both ends know of it."""
        super().__init__(*args, **kwargs)
        asked = {*self.ASKED.get(hold.cause, ()), "text", "deed_id"}
        asked |= {name for name, is_asked in (("looked", look), ("untold", untold)) if is_asked}
        if own:
            asked -= {"counted", "radio"}
            self.fields["seen"].required = True
        for name in [name for name in self.fields if name not in asked]:
            del self.fields[name]
        layout = self.helper.layout
        layout.fields[:] = [name for name in layout.fields if not isinstance(name, str) or name in self.fields]

    def given(self) -> dict[str, str]:
        """Return the confirmations as the action takes them."""
        return {
            name: ("yes" if value is True else "" if value is False else str(value))
            for name, value in self.cleaned_data.items()
            if name not in {"text", "deed_id"}
        }


class ClosingForm(DeedForm):
    """Asks the riders of every line in ``lines``; those in ``shut`` were open earlier that day."""

    uncounted = forms.BooleanField(
        label=_("Nobody counted riders today"),
        required=False,
        help_text=_("The cycles of what is fitted then stay as they are, and fall behind what was ridden."),
    )
    text = forms.CharField(
        label=_("Closing note"), required=False, widget=forms.Textarea(attrs={"rows": 2}), max_length=2000
    )
    submit = _("Close the day")

    def __init__(
        self,
        *args: Any,
        lines: Iterable[Place] = (),
        shut: Collection[Place] = (),
        before: dict[str, int] | None = None,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.lines = list(lines)
        for line in self.lines:
            self.fields[f"riders-{line.pk}"] = forms.RegexField(
                COUNT,
                label=gettext("Riders on %(line)s") % {"line": line},
                help_text=gettext("Closed again since; riders before that count.") if line in shut else "",
                required=False,
                initial=(before or {}).get(str(line.pk)),
                widget=forms.TextInput(attrs={"inputmode": "numeric"}),
                error_messages={"invalid": gettext("Enter the number of riders, in whole numbers.")},
            )
        layout = self.helper.layout
        layout.fields[0:0] = [f"riders-{line.pk}" for line in self.lines]

    def clean(self) -> dict[str, Any]:
        found: dict[str, Any] = super().clean() or {}
        empty = not any(self.data.get(f"riders-{line.pk}", "").strip() for line in self.lines)
        if self.lines and empty and not found.get("uncounted"):
            self.add_error("uncounted", gettext("Enter the riders of each line, or say that nobody counted."))
        return found

    def riders(self) -> dict[str, int]:
        return {
            str(line.pk): int("".join(text.split()))
            for line in self.lines
            if (text := self.cleaned_data.get(f"riders-{line.pk}"))
        }
