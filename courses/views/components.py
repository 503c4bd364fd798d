"""The register of components: find, enter, describe, fit, take off, retire; and the racks of the gear store."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from accounts import proof
from accounts.access import demand
from accounts.keep import fill
from accounts.policy import Right
from courses import actions, slots, wording
from courses.access import component_for
from courses.forms.components import (
    ComponentForm,
    DataForm,
    FindForm,
    FitForm,
    RackForm,
    RetireComponentForm,
    TakeOffForm,
)
from courses.models import Version
from courses.naming import names_of
from courses.queries import components_of, history_of, placements_of, subject_of
from courses.views.shared import asks, do, offer, setup_for, start_with

SHOWN = 100  # more than that nobody reads through; the search narrows it


@require_safe
def components(request: HttpRequest, course: UUID) -> HttpResponse:
    setup = setup_for(request, course, Right.READ_SETUP, at=timezone.now())
    form = FindForm(request.GET)
    wanted = form.cleaned_data if form.is_valid() else {}
    found = components_of(setup.course, tag=wanted.get("tag", ""), kind=wanted.get("kind", ""))
    where = {one.component.pk: (setup.places.get(one.place_id), slots.words_for(one.slot)) for one in setup.fitted}
    rows = [(one, *where.get(one.pk, (None, ""))) for one in found[:SHOWN]]
    return render(
        request, "courses/components.html",
        {"course": setup.course, "form": form, "rows": rows, "total": len(found), "shown": len(rows),
         "narrowed": any(wanted.values())},
    )  # fmt: skip


@asks
def component_add(request: HttpRequest, course: UUID) -> HttpResponse:
    setup = setup_for(request, course, Right.PROPOSE, at=timezone.now())
    form = fill(ComponentForm(request.POST or None), request)
    back = reverse("courses:components", args=[setup.course.pk])

    def deed(data: dict[str, Any]) -> str:
        new = actions.add_component(
            setup.course, kind=data["kind"], tag=data["tag"], label=data["label"],
            deed=proof.deed(request, at=setup.at, id=data["deed_id"]),
        )  # fmt: skip
        return reverse("courses:component", args=[setup.course.pk, new.pk])

    context = {"course": setup.course, "title": _("Enter a component"), "send": _("Enter it")}
    return do(request, form, deed, template="courses/ask.html", back=back, context=context)


@require_safe
def component(request: HttpRequest, course: UUID, component: UUID) -> HttpResponse:
    setup = setup_for(request, course, Right.READ_SETUP, at=timezone.now())
    found = component_for(request.user, setup.course, component, Right.READ_SETUP, at=setup.at)
    past = [(one, slots.words_for(one.slot)) for one in placements_of(found)]
    return render(
        request, "courses/component.html",
        {"course": setup.course, "component": found, "setup": setup,
         "version": setup.version(Version.Kind.COMPONENT, found.pk),
         "data": wording.grouped(Version.Kind.COMPONENT, setup.component_data(found), names=names_of(setup)),
         "now": next((row for row in past if row[0].until is None), None),
         "before": [row for row in past if row[0].until is not None],
         "history": history_of(subject_of(Version.Kind.COMPONENT, found.pk))},
    )  # fmt: skip


@asks
def component_data(request: HttpRequest, course: UUID, component: UUID) -> HttpResponse:
    setup = setup_for(request, course, Right.PROPOSE, at=timezone.now())
    found = component_for(request.user, setup.course, component, Right.PROPOSE, at=setup.at)
    last = start_with(request, setup, Version.Kind.COMPONENT, found.pk)
    form = DataForm(
        request.POST or None, request.FILES or None, component=found, document=last.content if last else {},
        units=setup.course.units,
    )  # fmt: skip
    form.days_not_after(setup.today)
    return offer(
        request, fill(form, request), setup, Version.Kind.COMPONENT, component=found,
        title=_("Data of %(tag)s") % {"tag": found.tag},
        back=reverse("courses:component", args=[setup.course.pk, found.pk]),
    )  # fmt: skip


@asks
def component_fit(request: HttpRequest, course: UUID, component: UUID) -> HttpResponse:
    setup = setup_for(request, course, Right.WORK, at=timezone.now())
    found = component_for(request.user, setup.course, component, Right.WORK, at=setup.at)
    choices = slots.choices_for(setup, found)
    form = fill(FitForm(request.POST or None, slots=[(key, words) for key, words, *_rest in choices]), request)
    back = reverse("courses:component", args=[setup.course.pk, found.pk])

    def deed(data: dict[str, Any]) -> str:
        place, slot = next((place, slot) for key, _words, place, slot in choices if key == data["where"])
        actions.fit(found, place, slot, deed=proof.deed(request, at=setup.at, id=data["deed_id"]))
        messages.success(request, _("%(tag)s is fitted.") % {"tag": found.tag})
        return back

    context = {
        "course": setup.course, "title": _("Fit %(tag)s") % {"tag": found.tag}, "send": _("Fit it"),
        "points": [
            _("What is fitted there now comes off."),
            _("The line is held until the new part has been inspected and a ballast has been sent with it."),
        ] if not found.is_pooled else [],
    }  # fmt: skip
    return do(request, form, deed, template="courses/ask.html", back=back, context=context)


@asks
def component_take_off(request: HttpRequest, course: UUID, component: UUID) -> HttpResponse:
    setup = setup_for(request, course, Right.WORK, at=timezone.now())
    found = component_for(request.user, setup.course, component, Right.WORK, at=setup.at)
    form = fill(TakeOffForm(request.POST if request.method == "POST" else None), request)
    back = reverse("courses:component", args=[setup.course.pk, found.pk])

    def deed(data: dict[str, Any]) -> str:
        actions.take_off(found, deed=proof.deed(request, at=setup.at, id=data["deed_id"]))
        messages.success(request, _("%(tag)s is taken off.") % {"tag": found.tag})
        return back

    context = {
        "course": setup.course, "title": _("Take %(tag)s off?") % {"tag": found.tag}, "send": _("Take it off"),
        "danger": True, "points": [_("A line that needs it there is held until something is fitted in its place.")],
    }  # fmt: skip
    return do(request, form, deed, template="courses/ask.html", back=back, context=context)


@asks
def component_retire(request: HttpRequest, course: UUID, component: UUID) -> HttpResponse:
    setup = setup_for(request, course, Right.RELEASE, at=timezone.now())
    found = component_for(request.user, setup.course, component, Right.RELEASE, at=setup.at)
    form = fill(RetireComponentForm(request.POST or None), request)
    back = reverse("courses:component", args=[setup.course.pk, found.pk])

    def deed(data: dict[str, Any]) -> str:
        signed = proof.deed(request, at=setup.at, id=data["deed_id"])
        actions.retire_component(found, why=data["why"], destroyed=data["destroyed"], deed=signed)
        messages.success(request, _("%(tag)s is retired.") % {"tag": found.tag})
        return back

    context = {
        "course": setup.course, "title": _("Retire %(tag)s?") % {"tag": found.tag}, "send": _("Retire it"),
        "danger": True, "points": [
            _("It comes off where it is fitted, and is never fitted again."),
            _("Its tag code is not given again. Its past stays readable."),
            _("This cannot be taken back."),
        ],
    }  # fmt: skip
    return do(request, form, deed, template="courses/ask.html", back=back, context=context)


@asks
def racks(request: HttpRequest, course: UUID) -> HttpResponse:
    """Show the racks of the gear store, and place components in one of them."""
    setup = setup_for(request, course, Right.READ_SETUP, at=timezone.now())
    store = setup.stores[0] if setup.stores else None
    if store is None:
        raise Http404
    if request.method == "POST":
        demand(request.user, setup.course.operator_id, Right.WORK, at=setup.at)
    form = fill(RackForm(request.POST or None), request)
    back = reverse("courses:racks", args=[setup.course.pk])

    def deed(data: dict[str, Any]) -> str:
        placed = actions.fill_rack(
            setup.course, store, data["rack"], data["tags"],
            deed=proof.deed(request, at=setup.at, id=data["deed_id"]),
        )  # fmt: skip
        messages.success(request, _("Placed: %(count)s.") % {"count": len(placed)})
        return back

    fitted = [slot for slot in slots.fitted_at(setup, store) if slot.key.startswith(slots.RACK)]
    return do(
        request, form, deed, template="courses/racks.html", back=reverse("courses:setup", args=[setup.course.pk]),
        context={"course": setup.course, "racks": fitted, "store": store},
    )  # fmt: skip
