"""Which published sets judge the course, and what its checklists cover of the daily inspection laws."""

from __future__ import annotations

from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from accounts.keep import fill
from accounts.policy import Right
from courses import coverage as covering
from courses import naming
from courses.forms.limits import CriteriaForm
from courses.models import Place, Version
from courses.queries import Setup, history_of, subject_of
from courses.views.shared import asks, offer, setup_for, start_with
from engineering.criteria import all_sets, defaults_for

# What a day in this program always holds besides the items: see the actions of inspections and the register here.
RECORDED = ("ride", "gear", "day_record", "signed_at_completion", "second_signature", "frequencies", "history")


@require_safe
def criteria(request: HttpRequest, course: UUID) -> HttpResponse:
    setup = setup_for(request, course, Right.READ_SETUP, at=timezone.now())
    on = setup.criteria.get("sets", [])
    sets = [(one, one.is_law_in(setup.course.law_place)) for one in all_sets().values()]
    return render(
        request, "courses/criteria.html",
        {"course": setup.course, "version": setup.version(Version.Kind.CRITERIA, setup.course.pk),
         "on": [row for row in sets if row[0].id in on], "law_off": [o for o, law in sets if law and o.id not in on],
         "promoted": [rule for one, _law in sets for rule in one.rules if rule.id in setup.criteria.get("promote", [])],
         "history": history_of(subject_of(Version.Kind.CRITERIA, setup.course.pk))},
    )  # fmt: skip


@asks
def criteria_edit(request: HttpRequest, course: UUID) -> HttpResponse:
    setup = setup_for(request, course, Right.PROPOSE, at=timezone.now())
    last = start_with(request, setup, Version.Kind.CRITERIA, setup.course.pk)
    document = last.content if last else {"sets": defaults_for(setup.course.law_place)}
    form = CriteriaForm(
        request.POST or None, request.FILES or None, known=tuple(all_sets().values()),
        law_place=setup.course.law_place, document=document,
    )  # fmt: skip
    lead = "" if last else _("Begun with the law of this place, one set for wire rope, and “found defective”.")
    return offer(
        request, fill(form, request), setup, Version.Kind.CRITERIA, title=_("Criteria sets"), lead=lead,
        back=reverse("courses:criteria", args=[setup.course.pk]),
    )  # fmt: skip


@require_safe
def coverage(request: HttpRequest, course: UUID) -> HttpResponse:
    """Show the law of the place point by point: which items cover it, and what none does."""
    setup = setup_for(request, course, Right.READ_SETUP, at=timezone.now())
    wanted = covering.laws_for(setup.course.law_place)
    others = [law for law in covering.laws() if law not in wanted]
    chosen = [law for law in others if law.id == request.GET.get("law")]
    laws = covering.coverage(_contents(setup), RECORDED, of=[*wanted, *chosen])
    rows = [(law, naming.how_seen(law.got), [(point, _by_text(point)) for point in law.points]) for law in laws]
    return render(
        request, "courses/coverage.html",
        {"course": setup.course, "laws": rows, "others": others, "has_law": bool(wanted)},
    )  # fmt: skip


def _by_text(point: covering.Point) -> list[tuple[str, str]]:
    """Return what covers a point, each wording once with the places where it stands."""
    found: dict[str, list[str]] = {}
    for cover in point.covered_by:
        found.setdefault(cover.text, []).append(cover.place)
    return [(text, ", ".join(dict.fromkeys(place for place in places if place))) for text, places in found.items()]


def _contents(setup: Setup) -> dict[str, dict[str, object]]:
    """Return the checklists in force by place. A line without one is named; other places without one have no items."""
    found = {}
    for place in (*setup.lines, *setup.platforms, *setup.stores, *setup.houses):
        version = setup.checklist(place)
        if version is not None or place.kind == Place.Kind.LINE:
            found[str(place)] = version.content if version else {}
    return found
