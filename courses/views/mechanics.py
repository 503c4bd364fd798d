"""What the mechanics of a line are computed from: in force, missing, proposed."""

from __future__ import annotations

from collections.abc import Mapping
from uuid import UUID

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from accounts.keep import fill
from accounts.policy import Right
from courses import origins, slots, wording
from courses.access import place_for
from courses.advised import advised, told
from courses.forms.mechanics import MechanicsForm
from courses.handed_over import handed_over
from courses.looked import mechanics_looked, problem_of
from courses.looked_band import band_looked
from courses.mechanics_gaps import mechanics_gaps
from courses.mechanics_steps import steps_of
from courses.models import Place, Version
from courses.naming import names_of
from courses.origin_words import traced
from courses.queries import Setup, history_of, subject_of
from courses.views.shared import asks, offer, setup_for, start_with

KIND = Version.Kind.MECHANICS


@require_safe
def mechanics(request: HttpRequest, course: UUID, place: UUID) -> HttpResponse:
    setup = setup_for(request, course, Right.READ_SETUP, at=timezone.now())
    line = _line(request, setup, place, Right.READ_SETUP)
    content, version = setup.mechanics(line), setup.version(KIND, line.pk)
    words = _slot_words(setup, line)
    data = wording.grouped(KIND, content, names=names_of(setup) | _named(words))
    history = history_of(subject_of(KIND, line.pk))
    # The newest that was not turned down: where it is not the one in force, it is not in force yet.
    newest = next((one for one in history if one.refused_at is None), None)
    waiting = (newest,) if newest is not None and newest != version else ()
    described = advised(setup.versions, line).version(Version.Kind.LINE, line)
    context = {
        "course": setup.course, "place": line, "version": version,
        "data": traced(data, origins.of_versions([version])[version.pk], setup.course.zone) if version else [],
        "gaps": mechanics_gaps(setup.document(line), content, words) if content else [],
        "problem": problem_of(setup.document(line), content, setup.course.units) if content else "",
        "history": history, "waiting": told(setup.course, waiting),
        "steps": steps_of(
            setup.course, line, described.content if described else {}, history, speeds=_speeds(line)
        ),
    }  # fmt: skip
    return render(request, "courses/mechanics.html", context)


@asks
def mechanics_edit(request: HttpRequest, course: UUID, place: UUID) -> HttpResponse:
    setup = setup_for(request, course, Right.PROPOSE, at=timezone.now())
    line = _line(request, setup, place, Right.PROPOSE)
    last = start_with(request, setup, KIND, line.pk)
    words = _slot_words(setup, line)
    document = setup.document(line)
    form = MechanicsForm(
        request.POST or None, request.FILES or None, document=last.content if last else {}, line=document, words=words,
        units=setup.course.units, initial=handed_over(request.GET),
    )  # fmt: skip
    form.days_not_after(setup.today)
    fill(form, request)
    lead = "" if document.get("brakes") else _("Enter the brakes in the line's data first: their figures follow here.")
    return offer(
        request, form, setup, KIND, place=line, title=_("Mechanics of %(line)s") % {"line": line},
        back=reverse("courses:mechanics", args=[setup.course.pk, line.pk]), names=_named(words),
        lead=lead, looked=lambda content: mechanics_looked(document, content, words, setup.course.units),
        band=lambda content: band_looked(
            document, content, setup.course.units, line_now=document, mechanics_now=setup.mechanics(line)
        ),
    )  # fmt: skip


def _speeds(line: Place) -> int:
    """Return how many normal ballast rides arrived with a speed. The rides are of the application that records them."""
    rides = line.rides.filter(fields__reached="yes").exclude(fields__kind="emergency").exclude(speed="")
    return int(rides.count())


def _line(request: HttpRequest, setup: Setup, place: UUID, right: Right) -> Place:
    found = place_for(request.user, setup.course, place, right, at=setup.at)
    if found.kind != Place.Kind.LINE:
        raise Http404
    return found


def _slot_words(setup: Setup, line: Place) -> dict[str, str]:
    kinds = slots.brake_kinds(setup, line)
    return {slot: slots.words_for(slot, kinds) for slot in kinds}


def _named(words: Mapping[str, str]) -> dict[str, str]:
    return {f"slot:{slot}": said for slot, said in words.items()}
