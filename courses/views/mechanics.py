"""What the mechanics of a line are computed from: in force, missing, proposed."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
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
from courses.forms.mechanics import MechanicsForm
from courses.looked import mechanics_looked, problem_of
from courses.mechanics_gaps import mechanics_gaps
from courses.models import Place, Version
from courses.naming import names_of
from courses.origin_words import traced
from courses.queries import Setup, history_of, subject_of
from courses.views.shared import asks, offer, setup_for, start_with
from engineering import typed
from engineering.units import BARE, with_unit

KIND = Version.Kind.MECHANICS


@require_safe
def mechanics(request: HttpRequest, course: UUID, place: UUID) -> HttpResponse:
    setup = setup_for(request, course, Right.READ_SETUP, at=timezone.now())
    line = _line(request, setup, place, Right.READ_SETUP)
    content, version = setup.mechanics(line), setup.version(KIND, line.pk)
    words = _slot_words(setup, line)
    data = wording.grouped(KIND, content, names=names_of(setup) | _named(words))
    context = {
        "course": setup.course, "place": line, "version": version,
        "data": traced(data, origins.of_versions([version])[version.pk], setup.course.zone) if version else [],
        "gaps": mechanics_gaps(setup.document(line), content, words) if content else [],
        "problem": problem_of(setup.document(line), content, setup.course.units) if content else "",
        "history": history_of(subject_of(KIND, line.pk)),
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
        units=setup.course.units, initial=_handed_over(request),
    )  # fmt: skip
    form.days_not_after(setup.today)
    fill(form, request)
    lead = "" if document.get("brakes") else _("Enter the brakes in the line's data first: their figures follow here.")
    return offer(
        request, form, setup, KIND, place=line, title=_("Mechanics of %(line)s") % {"line": line},
        back=reverse("courses:mechanics", args=[setup.course.pk, line.pk]), names=_named(words),
        lead=lead, looked=lambda content: mechanics_looked(document, content, words, setup.course.units),
    )  # fmt: skip


# What the calibration page hands over, by field, with the unit it is in.
CALIBRATED = {
    "rider__drag_area_m2": "m2", "rider__rolling": "1", "calibration__rides": "count", "calibration__least_kg": "kg",
    "calibration__most_kg": "kg", "calibration__interval_mps": "m/s",
}  # fmt: skip


def _handed_over(request: HttpRequest) -> dict[str, str]:
    """Return what the stopwatch or the calibration page hands over in the address, if all of it can be read."""
    try:
        if "tension_kn" in request.GET:
            return _tension(request.GET.dict())
        return _calibration(request.GET.dict()) if "calibration__rides" in request.GET else {}
    except (typed.Unclear, ValueError):
        return {}


def _tension(given: Mapping[str, str]) -> dict[str, str]:
    warm = given.get("reference_c", "")
    typed.read_figure(given["tension_kn"], "kN")
    if warm:
        typed.read_figure(warm, "degC", signed=True)
    # Without its temperature a tension is not that of the figure before either: it is asked for anew.
    return {
        "tension_kn": with_unit(given["tension_kn"], "kN"),
        "reference_c": with_unit(warm, "degC") if warm else "",
        "tension_date": date.fromisoformat(given.get("tension_date", "")).isoformat(),
        "tension_how": "stopwatch",
        "source": _("Return wave under the stopwatch, %(on)s") % {"on": given.get("tension_date", "")},
    }


def _calibration(given: Mapping[str, str]) -> dict[str, str]:
    found = {
        "rider__given_by": "calibrated",
        "rider__by_weight": "yes" if given.get("rider__by_weight") == "yes" else "no",
    }
    for name, unit in CALIBRATED.items():
        typed.read_figure(given.get(name, ""), unit)
        found[name] = given[name] if unit in BARE else with_unit(given[name], unit)
    found["calibration__on"] = date.fromisoformat(given.get("calibration__on", "")).isoformat()
    found["source"] = _("Calibration with %(rides)s test rides, %(least)s to %(most)s kg, until %(on)s") % {
        "rides": given["calibration__rides"], "least": given["calibration__least_kg"],
        "most": given["calibration__most_kg"], "on": found["calibration__on"],
    }  # fmt: skip
    return found


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
