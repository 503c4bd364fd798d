"""The phones of the last week, for who signs the day: whose, when last seen, what they owe; setting that aside."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Any
from uuid import UUID

from django import forms
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods, require_safe

from accounts import proof
from accounts.forms import DeedForm
from accounts.models import User
from accounts.policy import Right
from courses.access import course_for
from courses.calendar import local_day
from courses.models import Course
from courses.queries import setup_at
from inspections import actions
from inspections.models import Phone
from inspections.owing import lacking
from inspections.phone_words import photos_of, time_of, title_of, titles_of
from inspections.phones import SHOWN, Owed, Seen, holding, phones_of
from inspections.views.asking import ask

FIRST = gettext_lazy("Ask by radio first, then say so here.")


def _why() -> forms.CharField:
    return forms.CharField(
        label=gettext_lazy("What was said by radio, and by whom"),
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 2}),
        error_messages={"required": gettext_lazy("Say what was answered by radio: it is why nothing waits for it.")},
    )


class AsideForm(DeedForm):
    text = _why()
    asked = forms.BooleanField(
        label=gettext_lazy("I have asked by radio: it will not come."), error_messages={"required": FIRST}
    )
    submit = gettext_lazy("Set it aside")


class AllAsideForm(DeedForm):
    """``shown``: what the phone owed when it was asked about, so that nothing is set aside that nobody has seen."""

    shown = forms.RegexField(r"^[0-9a-f-]{36}( [0-9a-f-]{36})*$", max_length=20_000, widget=forms.HiddenInput)
    text = _why()
    asked = forms.BooleanField(
        label=gettext_lazy("I have asked by radio: none of it will come."), error_messages={"required": FIRST}
    )
    submit = gettext_lazy("Set all of it aside")


@require_safe
def phones(request: HttpRequest, course: UUID) -> HttpResponse:
    at = timezone.now()
    where = course_for(request.user, course, Right.SIGN_OFF, at=at)
    timezone.activate(where.zone)
    found = phones_of(where, at=at, within=SHOWN)
    on = local_day(at, where.zone, where.day_change_hour)
    by = {one.aside_by for phone in found for one in phone.aside}
    names = dict(User.objects.filter(ref__in=by).values_list("ref", "name")) if by else {}
    lacks = lacking(where, since=at - SHOWN)
    carried = {one.ref for one in found}
    context = {
        "course": where,
        "others": photos_of(one for one in lacks if one.ref not in carried),
        "phones": [
            {
                "phone": one,
                "seen": time_of(one.seen_at, at, where.zone),
                "has_today": one.has == on,
                "is_away": one.is_away(on, at),
                "photos": photos_of(lacks, by=one.ref),
                "owes": [_line(deed, at, where) for deed in one.owes],
                "back": [_line(deed, at, where) for deed in one.taken_back],
                "aside": [_line(deed, at, where) | {"by": names.get(deed.aside_by, "")} for deed in one.aside],
            }
            for one in found
        ],
    }
    return render(request, "inspections/phones.html", context)


def _line(deed: Owed, at: Any, course: Course) -> dict[str, Any]:
    last = deed.aside_at or deed.gone_at
    return {
        "deed": deed,
        "title": title_of(deed),
        "since": time_of(deed.since, at, course.zone),
        "at": time_of(last, at, course.zone) if last else "",
    }


def _held_by(course: Course, seen: Seen, owed: Iterable[Owed], at: Any) -> str:
    """Return which lines are held until this arrives from a phone, and what to do about it; empty where none is."""
    setup = setup_at(course, at)
    asked = replace(seen, owes=tuple(owed))
    lines = [str(line) for line in setup.lines if holding([asked], setup, line)]
    if not lines:
        return ""
    return _(
        "It holds %(lines)s now. Set aside it holds nothing, and a line that was signed open is open again at once. If "
        "there is a reason to hold a line, or something was found defective, call the hold or enter the finding "
        "yourself first."
    ) % {"lines": ", ".join(lines)}


@require_http_methods(["GET", "HEAD", "POST"])
def aside(request: HttpRequest, course: UUID, phone: UUID, act: UUID) -> HttpResponse:
    """Ask whether it was asked by radio, then let one deed that a phone owes hold nothing back any more."""
    at = timezone.now()
    where = course_for(request.user, course, Right.SIGN_OFF, at=at)
    timezone.activate(where.zone)
    row = Phone.objects.filter(operator=where.operator_id, pk=phone).first()
    seen: Seen | None = next((one for one in phones_of(where, at=at, within=SHOWN) if one.id == phone), None)
    deed = next((one for one in (*seen.owes, *seen.aside) if one.id == str(act)), None) if seen else None
    if row is None or seen is None or deed is None:
        raise Http404
    back = reverse("inspections:phones", args=[where.pk])

    def do(data: dict[str, Any]) -> str:
        actions.set_aside(where, row, str(act), text=data["text"], deed=proof.deed(request, at=at, id=data["deed_id"]))
        messages.info(request, _("It is set aside. If it arrives all the same, it counts as if it had not been."))
        return back

    about = {"title": title_of(deed), "name": seen.name, "time": time_of(seen.seen_at, at, where.zone)}
    lead = _(
        "The phone of %(name)s, last seen at %(time)s, told of this: %(title)s. Ask by radio what it says. Set aside "
        "it holds nothing back any more; if it arrives all the same it counts. Who set it aside stands in the history."
    )
    context = {
        "course": where,
        "title": _("It will not come"),
        "lead": f"{lead % about} {_held_by(where, seen, [deed], at)}",
    }
    return ask(request, AsideForm(request.POST or None, back=back), do, back=back, context=context)


@require_http_methods(["GET", "HEAD", "POST"])
def all_aside(request: HttpRequest, course: UUID, phone: UUID) -> HttpResponse:
    """Ask whether it was asked by radio, then let nothing that a phone owes hold anything back any more."""
    at = timezone.now()
    where = course_for(request.user, course, Right.SIGN_OFF, at=at)
    timezone.activate(where.zone)
    row = Phone.objects.filter(operator=where.operator_id, pk=phone).first()
    seen: Seen | None = next((one for one in phones_of(where, at=at, within=SHOWN) if one.id == phone), None)
    found = (seen.owes or seen.aside) if seen else ()
    if row is None or seen is None or not found:
        raise Http404
    back = reverse("inspections:phones", args=[where.pk])

    def do(data: dict[str, Any]) -> str:
        deed = proof.deed(request, at=at, id=data["deed_id"])
        actions.set_all_aside(where, row, data["shown"].split(), text=data["text"], deed=deed)
        messages.info(request, _("All of it is set aside. What arrives all the same counts as if it had not been."))
        return back

    about = {"titles": titles_of(found), "name": seen.name, "time": time_of(seen.seen_at, at, where.zone)}
    lead = _(
        "Still on the phone of %(name)s, last seen at %(time)s: %(titles)s. Ask by radio what each of them says. Set "
        "aside they hold nothing back any more; what arrives all the same counts. Who set them aside stands in the "
        "history."
    )
    lead = f"{lead % about} {_held_by(where, seen, found, at)}"
    context = {"course": where, "title": _("None of this phone's will come"), "lead": lead}
    initial = {"shown": " ".join(one.id for one in found)}
    return ask(request, AllAsideForm(request.POST or None, back=back, initial=initial), do, back=back, context=context)
