"""Limits of a line: what applies to each figure, by whose word, and the course's own."""

from __future__ import annotations

from uuid import UUID

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from accounts.keep import fill
from accounts.policy import Right
from courses import limits as limiting
from courses.access import place_for
from courses.forms.limits import LimitForm
from courses.models import Version
from courses.naming import item_names
from courses.queries import history_of, subject_of
from courses.views.shared import asks, offer, setup_for, start_with

KIND = Version.Kind.LIMITS


@require_safe
def limits(request: HttpRequest, course: UUID, place: UUID) -> HttpResponse:
    setup = setup_for(request, course, Right.READ_SETUP, at=timezone.now())
    found = place_for(request.user, setup.course, place, Right.READ_SETUP, at=setup.at)
    items = limiting.of_place(setup, found)
    return render(
        request, "courses/limits.html",
        {"course": setup.course, "place": found, "setup": setup, "items": items,
         "without": [one for one in items if not one.rules], "version": setup.version(KIND, found.pk),
         "history": history_of(subject_of(KIND, found.pk))},
    )  # fmt: skip


@asks
def limit_edit(request: HttpRequest, course: UUID, place: UUID, key: str) -> HttpResponse:
    setup = setup_for(request, course, Right.PROPOSE, at=timezone.now())
    found = place_for(request.user, setup.course, place, Right.PROPOSE, at=setup.at)
    item = limiting.of_key(setup, found, key)
    if item is None:
        raise Http404
    last = start_with(request, setup, KIND, found.pk)
    form = LimitForm(
        request.POST or None, request.FILES or None, item=item.item, limits=last.content if last else {}
    )  # fmt: skip
    return offer(
        request, fill(form, request), setup, KIND, place=found,
        names=item_names(setup, found) | {f"item:{key}": f"{item.item['code']} {item.item['text']}"},
        title=_("Own limit: %(item)s") % {"item": item.item["text"]},
        lead=_("All limits of an item apply; the strictest wins. An own limit never sets aside a published one."),
        back=reverse("courses:limits", args=[setup.course.pk, found.pk]),
    )  # fmt: skip
