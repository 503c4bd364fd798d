"""What is typed about findings. Forms check shape; what may be done is asked by the actions."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from typing import Any, NamedTuple

from crispy_forms.layout import Field
from django import forms
from django.utils.html import format_html
from django.utils.text import capfirst
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from accounts.forms import DeedForm, PasswordDeedForm
from courses.models import Component, Place
from inspections.models import Severity


class Spot(NamedTuple):
    """Something that can be taken out of service: the value of its choice, its words, its tag code if it has one."""

    value: str
    words: str
    code: str = ""


def as_spoken(code: str) -> str:
    """Return a tag code without what one leaves out when typing it with gloves: case, signs, noughts before a number.

    >>> as_spoken("LA-04"), as_spoken("la 4"), as_spoken("BP-02A")
    ('la4', 'la4', 'bp2a')
    """
    return "".join(part.lstrip("0") or "0" if part.isdigit() else part for part in PARTS.findall(code.casefold()))


PARTS = re.compile(r"[a-z]+|[0-9]+")
Spots = tuple[str, list[Spot]]  # a place in words, and what can be taken out of service there


def _text(label: Any, *, required: bool = True, rows: int = 3) -> forms.CharField:
    return forms.CharField(label=label, required=required, widget=forms.Textarea(attrs={"rows": rows}), max_length=2000)


def _tick(label: Any) -> forms.BooleanField:
    return forms.BooleanField(label=label, required=False)


CRITICAL_IS_NO_WATCH = _("What somebody can be hurt by is a defect, and not only watched: take one of the two back.")


class PhotoMixin(forms.Form):
    photo = forms.FileField(
        label=_("Photo"),
        required=False,
        widget=forms.ClearableFileInput(attrs={"accept": "image/*", "capture": "environment"}),
    )


class OpenFindingForm(PhotoMixin, DeedForm):
    place = forms.ChoiceField(label=_("Where"))
    title = forms.CharField(label=_("What was found"), max_length=200)
    severity = forms.ChoiceField(label=_("How serious"), choices=Severity.choices, widget=forms.RadioSelect)
    is_watch = _tick(_("To be watched, not yet a defect"))
    text = _text(_("Note"), required=False)
    field_order = ("place", "title", "severity", "is_watch", "text", "photo")
    submit = _("Open the finding")
    MEANS = {
        Severity.CRITICAL: _("Somebody can be hurt. Every line that needs this is held until it is released."),
        Severity.MAJOR: _(
            "To be repaired. Every line that needs this is held until it is released, or ruled on in writing."
        ),
        Severity.MINOR: _("Written down. It holds no line."),
    }  # as engineering.clearance has it

    def __init__(self, *args: Any, places: Iterable[Place] = (), **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper.attrs = {"data-act": "act"}
        # A place that nobody chose is nowhere: the first of a list would be held by mistake.
        self.fields["place"].choices = [  # type: ignore[attr-defined]
            ("", _("Choose …")), *((str(place.pk), str(place)) for place in places),
        ]  # fmt: skip
        self.fields["severity"].choices = [  # type: ignore[attr-defined]
            (one.value, format_html("<b>{}.</b> {}", capfirst(one.label), self.MEANS[one])) for one in Severity
        ]

    def clean(self) -> dict[str, Any]:
        found = super().clean() or {}
        if found.get("is_watch") and found.get("severity") == Severity.CRITICAL:
            self.add_error("is_watch", CRITICAL_IS_NO_WATCH)
        return found


class WithdrawForm(PhotoMixin, DeedForm):
    """Take something out of service: counts at once; photo, note and tag number may come later."""

    code = forms.CharField(
        label=_("Tag code, if it has one"),
        required=False,
        max_length=30,
        widget=forms.TextInput(
            attrs={"autocomplete": "off", "autocapitalize": "characters", "spellcheck": "false", "list": "codes"}
        ),
    )
    spot = forms.ChoiceField(label=_("Or choose what it is"), required=False)
    title = forms.CharField(label=_("What is wrong"), max_length=200)
    text = _text(_("Note"), required=False)
    tag_number = forms.CharField(label=_("Number of the tag"), required=False, max_length=30)
    field_order = ("code", "spot", "title", "photo", "text", "tag_number")
    submit = _("Take out of service")
    submit_class = "button--danger button--solid"

    def __init__(self, *args: Any, spots: Sequence[Spots] = (), **kwargs: Any) -> None:
        """``spots``: (place in words, its choices) for every place; the value of a part ends in its tag code."""
        super().__init__(*args, **kwargs)
        coded = [one for _place, there in spots for one in there if one.code]
        near = Counter(as_spoken(one.code) for one in coded)
        self.by_code = {as_spoken(one.code): one.value for one in coded if near[as_spoken(one.code)] == 1}
        self.by_code |= {one.code.casefold(): one.value for one in coded}
        self.codes = sorted(one.code for _place, there in spots for one in there if one.code)
        self.helper.attrs = {"data-act": "act"}
        self.fields["spot"].choices = [  # type: ignore[attr-defined]
            ("", _("Choose …")), *((place, [(one.value, one.words) for one in there]) for place, there in spots),
        ]  # fmt: skip
        self.fields["tag_number"].help_text = _(
            "Photo, note and number may follow later; they are asked for until they are here."
        )

    def clean(self) -> dict[str, Any]:
        """Take the part that the code names; a code that names none is said so, never guessed at."""
        found: dict[str, Any] = super().clean() or {}
        code = found.get("code", "").strip()
        if code:
            spot = self.by_code.get(code.casefold()) or self.by_code.get(as_spoken(code), "")
            if not spot:
                self.add_error(
                    "code", gettext("No part that is fitted or in the store has the code %(code)s.") % {"code": code}
                )
            elif found.get("spot") and found["spot"] != spot:
                self.add_error("code", gettext("The code names another part than the one chosen below."))
            found["spot"] = spot
        elif not found.get("spot") and "spot" not in self.errors:
            self.add_error("code", gettext("Type the code on its tag, or choose what it is."))
        return found


class AddForm(PhotoMixin, DeedForm):
    text = _text(_("Note"), required=False)
    tag_number = forms.CharField(label=_("Number of the tag"), required=False, max_length=30)
    field_order = ("text", "photo", "tag_number")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper.attrs = {"data-act": "act"}


class WorkForm(PhotoMixin, DeedForm):
    what = forms.ChoiceField(
        label=_("Kind of work"),
        widget=forms.RadioSelect,
        choices=[("repair", _("Repair")), ("adjustment", _("Adjustment")), ("replacement", _("Replacement"))],
    )
    replacement = forms.ChoiceField(label=_("Fitted in its place"), required=False)
    keeps_old = _tick(_("The old part is kept for repair; it stays out of service"))
    text = _text(_("What was done"))
    made_by = forms.CharField(label=_("Made by (maker, workshop, person)"), required=False, max_length=200)
    energy_released = _tick(_("Stored energy was released and checked before the work: springs, tension, weights"))
    locked_out = _tick(_("The line was locked out and tagged; a second person was present"))
    field_order = ("what", "replacement", "keeps_old", "text", "made_by", "energy_released", "locked_out", "photo")
    field_of = {
        "replacement-needed": "replacement",
        "weaker": "replacement",
        "work-needed": "text",
        "energy": "energy_released",
    }

    def __init__(self, *args: Any, spares: Iterable[Component] = (), **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choices = [(str(one.pk), f"{one.tag} {one.label}") for one in spares]
        self.fields["replacement"].choices = [("", _("None")), *choices]  # type: ignore[attr-defined]
        if not choices:
            self.fields["replacement"].help_text = _("No spare of this kind is in the register. Enter it there first.")


class AgainForm(PhotoMixin, DeedForm):
    """The second look after the work."""

    mark = forms.ChoiceField(
        label=_("Found"),
        required=True,
        widget=forms.RadioSelect,
        choices=[("sound", _("Sound")), ("defect", _("Defect"))],
    )
    text = forms.CharField(
        label=_("Reading"), required=False, max_length=60, widget=forms.TextInput(attrs={"inputmode": "decimal"})
    )
    note = _text(_("Note"), required=False)
    field_order = ("mark", "text", "note", "photo")

    def __init__(self, *args: Any, unit: str = "", measured: bool = False, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if measured:
            del self.fields["mark"]
            self.fields["text"].help_text = unit
        else:
            del self.fields["text"]
        layout = self.helper.layout
        layout.fields[:] = [
            Field(name, template="lineworthy/switch.html") if name == "mark" else name
            for name in layout.fields
            if not isinstance(name, str) or name in self.fields
        ]


class ReleaseForm(PasswordDeedForm):
    area = _tick(_("The area was inspected and everything that does not belong there is gone"))
    intact = _tick(_("The part is whole and works"))
    clear = _tick(_("People are clear of the line"))
    told = _tick(_("Everyone concerned was told that it goes back into service"))
    tag_removed_by = forms.ChoiceField(
        label=_("Who took the tag off"),
        required=False,
        widget=forms.RadioSelect,
        choices=[("applier", _("The person who put it on")), ("other", _("Somebody else"))],
    )
    away = _tick(_("Somebody else only: the person who put it on is not on the site"))
    informed = _tick(_("Somebody else only: everything reasonable was done to inform that person"))
    knows = _tick(_("Somebody else only: that person will know before coming back to work"))
    text = _text(_("Note"), required=False, rows=2)
    submit = _("Release")
    use_required_attribute = False
    TAG = ("tag_removed_by", "away", "informed", "knows")

    def __init__(self, *args: Any, tagged: bool, **kwargs: Any) -> None:
        """``tagged``: it was taken out of service by somebody else, whose tag comes off with the release."""
        super().__init__(*args, **kwargs)
        self.fields["tag_removed_by"].required = tagged
        self.fields["tag_removed_by"].error_messages["required"] = gettext("Say who took the tag off.")
        if not tagged:
            for name in self.TAG:
                del self.fields[name]
            self.helper.layout.fields[:] = [name for name in self.helper.layout.fields if name not in self.TAG]

    field_order = ("area", "intact", "clear", "told", "tag_removed_by", "away", "informed", "knows", "text", "password")


class WatchForm(DeedForm):
    until = forms.DateField(label=_("May wait until"), widget=forms.DateInput(attrs={"type": "date"}))
    text = _text(_("Reason"))
    submit = _("Let it wait")


class RuleForm(DeedForm):
    until = forms.DateField(label=_("Valid until"), widget=forms.DateInput(attrs={"type": "date"}))
    mass_max_kg = forms.DecimalField(label=_("Heaviest rider, kg"), required=False, min_value=1, max_value=500)
    mass_min_kg = forms.DecimalField(label=_("Lightest rider, kg"), required=False, min_value=1, max_value=500)
    text = _text(_("Reason"))
    submit = _("Rule in writing")
    field_order = ("until", "mass_max_kg", "mass_min_kg", "text")


class RetireForm(PasswordDeedForm):
    destroyed = _tick(_("It is destroyed or marked unfit, so that nobody can use it"))
    text = _text(_("How"), required=True, rows=2)
    submit = _("Retire it for good")
    submit_class = "button--danger button--solid"
    field_of = {**PasswordDeedForm.field_of, "not-destroyed": "destroyed"}
    field_order = ("destroyed", "text", "password")
