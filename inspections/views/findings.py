"""Findings: the list, the page of one with everything that may be done on it, and taking out of service."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_safe

from accounts import policy, proof
from accounts.forms import DeedForm
from accounts.keep import fill
from accounts.policy import Right
from courses.access import course_for
from courses.models import Component, Place
from inspections import actions
from inspections.access import finding_for
from inspections.actions.releases import release_hindrances
from inspections.alone import add_pattern, finding_pattern, withdraw_pattern
from inspections.control import FINDING_KEY
from inspections.forms import finding as forms
from inspections.judging import TYPED_KINDS, Answer
from inspections.models import Finding
from inspections.owing import debts_of
from inspections.picture import Picture, picture_of
from inspections.telling import told_steps
from inspections.views.asking import ask, photos_of
from inspections.views.frame import signed_on

asks = require_http_methods(["GET", "HEAD", "POST"])
LISTED = 200
ALONE = {"add"}  # deeds on a finding that a phone can sign without a signal


@require_safe
def findings(request: HttpRequest, course: UUID) -> HttpResponse:
    at = timezone.now()
    where = course_for(request.user, course, Right.SEE, at=at)
    timezone.activate(where.zone)
    show = request.GET.get("show", "open")
    rows = Finding.objects.filter(course=where).select_related("place", "component")
    counts = {
        "open": rows.filter(state="open", is_watch=False).count(),
        "watch": rows.filter(state="open", is_watch=True).count(),
    }
    chosen = {
        "open": rows.filter(state="open", is_watch=False),
        "watch": rows.filter(state="open", is_watch=True),
        "released": rows.filter(state="released"),
    }.get(show, rows.filter(state="open", is_watch=False))
    segments = [
        {"url": f"?show={name}", "label": label, "active": name == show, "count": counts.get(name)}
        for name, label in (("open", _("Open")), ("watch", _("Watch")), ("released", _("Released")))
    ]
    context = {
        "course": where,
        "findings": chosen.order_by("-seq")[:LISTED],
        "segments": segments,
        "rights": policy.rights_of(request.user, where.operator_id, at=at),
    }
    return render(request, "inspections/findings.html", context)


@require_safe
def finding(request: HttpRequest, course: UUID, finding: UUID) -> HttpResponse:
    at = timezone.now()
    where = course_for(request.user, course, Right.READ_FINDING, at=at)
    timezone.activate(where.zone)
    one = finding_for(request.user, where, finding, Right.READ_FINDING, at=at)
    picture = picture_of(where, at=at)
    rights = policy.rights_of(request.user, where.operator_id, at=at)
    person: Any = request.user
    hindrances = release_hindrances(picture, one, person.ref) if one.state == "open" and not one.is_watch else []
    context = {
        "course": where,
        "finding": one,
        "opened_on": one.opened_on,
        "steps": told_steps(one),
        "rights": rights,
        "hindrances": hindrances,
        "owed": sorted(debts_of(one)),
        "deeds": [deed for deed in _deeds(one, rights) if deed[0] != "finding_release" or not hindrances],
        "asks_for_look": one.key.startswith(FINDING_KEY),
        "heavy": one.slot.startswith(("primary", "emergency", "cable", "end-")),
    }
    return render(request, "inspections/finding.html", context)


def _deeds(one: Finding, rights: frozenset[Right]) -> list[tuple[str, str]]:
    """Return the deeds that this person may do on an open finding: name of the page, label."""
    if one.state != "open":
        return []
    found = [("finding_add", _("Add a note, photo or tag number"), Right.WITHDRAW)]
    if one.is_watch:
        found.append(("finding_watch", _("Let it wait until a date"), Right.DECIDE_WATCH))
    found += [
        ("finding_work", _("Record work"), Right.WORK),
        ("finding_again", _("Look at it again"), Right.WORK),
        ("finding_release", _("Release"), Right.RELEASE),
    ]
    if one.severity == "major" and not one.is_watch:
        found.append(("finding_rule", _("Rule in writing"), Right.RULE))
    if one.component is not None and (one.component.is_pooled or one.slot == "aside"):
        found.append(("finding_retire", _("Retire it for good"), Right.RELEASE))
    return [(name, label) for name, label, right in found if right in rights]


@sensitive_post_parameters("password")
@asks
def deed(request: HttpRequest, course: UUID, finding: UUID, what: str) -> HttpResponse:
    """Show or do one deed on a finding."""
    at = timezone.now()
    right, title, make, do = _DEEDS[what]
    where = course_for(request.user, course, Right.SEE, at=at)
    timezone.activate(where.zone)
    one = finding_for(request.user, where, finding, right, at=at)
    back = reverse("inspections:finding", args=[where.pk, one.pk])
    picture = picture_of(where, at=at, on=signed_on(request, where, at=at) if what in ALONE else None)
    form = fill(make(request, picture, one, back), request)

    def done(data: dict[str, Any]) -> str:
        do(request, picture, one, data, at)
        messages.success(request, _("Entered: %(what)s.") % {"what": title})
        return back

    context = {"course": where, "finding": one, "title": title, "caution": what == "work"}
    if what in ALONE:
        context["pattern"] = add_pattern(picture, one, request.user)  # type: ignore[arg-type]
    return ask(request, form, done, back=back, context=context)


def _bound(request: HttpRequest) -> dict[str, Any]:
    return {"data": request.POST or None, "files": request.FILES or None}


def _plain(kind: type[DeedForm]) -> Any:
    return lambda request, picture, one, back: kind(**_bound(request), back=back)


def _work_form(request: HttpRequest, picture: Picture, one: Finding, back: str) -> DeedForm:
    fitted = {item.component.pk for item in picture.setup.fitted}
    kind = one.component.kind if one.component else None
    spares = Component.objects.filter(course=picture.course, retired_at__isnull=True, kind=kind).exclude(pk__in=fitted)
    return forms.WorkForm(**_bound(request), back=back, spares=spares)


def _again_form(request: HttpRequest, picture: Picture, one: Finding, back: str) -> DeedForm:
    item = next((item for item in picture.items(one.place) if item["key"] == one.key), None)
    measured = item is not None and item["kind"] in TYPED_KINDS
    return forms.AgainForm(**_bound(request), back=back, measured=measured, unit=item["unit"] if item else "")


def _release_form(request: HttpRequest, picture: Picture, one: Finding, back: str) -> DeedForm:
    person: Any = request.user
    tagged = one.out_of_service and one.opened_by_ref != person.ref
    return forms.ReleaseForm(**_bound(request), back=back, tagged=tagged)


def _add(request: HttpRequest, picture: Picture, one: Finding, data: dict[str, Any], at: datetime) -> None:
    deed = proof.deed(request, at=at, id=data["deed_id"])
    actions.add_to_finding(
        picture,
        one,
        text=data["text"],
        photos=photos_of(request, picture.course, deed),
        tag_number=data["tag_number"],
        deed=deed,
    )


def _work(request: HttpRequest, picture: Picture, one: Finding, data: dict[str, Any], at: datetime) -> None:
    deed = proof.deed(request, at=at, id=data["deed_id"])
    replacement = (
        Component.objects.filter(course=picture.course, pk=data["replacement"]).first() if data["replacement"] else None
    )
    actions.record_work(
        picture,
        one,
        what=data["what"],
        text=data["text"],
        made_by=data["made_by"],
        energy_released=data["energy_released"],
        locked_out=data["locked_out"],
        photos=photos_of(request, picture.course, deed),
        replacement=replacement,
        keeps_old=data["keeps_old"],
        deed=deed,
    )


def _again(request: HttpRequest, picture: Picture, one: Finding, data: dict[str, Any], at: datetime) -> None:
    deed = proof.deed(request, at=at, id=data["deed_id"])
    answer = Answer(
        mark=data.get("mark", ""),
        text=data.get("text", ""),
        note=data["note"],
        photos=photos_of(request, picture.course, deed),
    )
    actions.record_reinspection(picture, one, answer=answer, deed=deed)


def _release(request: HttpRequest, picture: Picture, one: Finding, data: dict[str, Any], at: datetime) -> None:
    deed = proof.deed_with_password(request, data["password"], at=at, id=data["deed_id"])
    ticks = frozenset(
        name for name in ("area", "intact", "clear", "told", "away", "informed", "knows") if data.get(name)
    )
    actions.release(
        picture, one, ticks=ticks, tag_removed_by=data.get("tag_removed_by", ""), text=data["text"], deed=deed
    )


def _watch(request: HttpRequest, picture: Picture, one: Finding, data: dict[str, Any], at: datetime) -> None:
    actions.decide_watch(
        picture, one, until=data["until"], text=data["text"], deed=proof.deed(request, at=at, id=data["deed_id"])
    )


def _rule(request: HttpRequest, picture: Picture, one: Finding, data: dict[str, Any], at: datetime) -> None:
    restriction = {name: str(data[name]) for name in ("mass_max_kg", "mass_min_kg") if data[name] is not None}
    actions.rule(
        picture,
        one,
        until=data["until"],
        text=data["text"],
        restriction=restriction,
        deed=proof.deed(request, at=at, id=data["deed_id"]),
    )


def _retire(request: HttpRequest, picture: Picture, one: Finding, data: dict[str, Any], at: datetime) -> None:
    deed = proof.deed_with_password(request, data["password"], at=at, id=data["deed_id"])
    actions.close_by_retiring(picture, one, text=data["text"], destroyed=data["destroyed"], deed=deed)


_DEEDS: dict[str, tuple[Right, Any, Any, Any]] = {
    "add": (Right.WITHDRAW, _("Add to this finding"), _plain(forms.AddForm), _add),
    "work": (Right.WORK, _("Record work"), _work_form, _work),
    "again": (Right.WORK, _("Look at it again"), _again_form, _again),
    "release": (Right.RELEASE, _("Release"), _release_form, _release),
    "watch": (Right.DECIDE_WATCH, _("Let it wait until a date"), _plain(forms.WatchForm), _watch),
    "rule": (Right.RULE, _("Rule in writing"), _plain(forms.RuleForm), _rule),
    "retire": (Right.RELEASE, _("Retire it for good"), _plain(forms.RetireForm), _retire),
}


@asks
def open_finding(request: HttpRequest, course: UUID) -> HttpResponse:
    at = timezone.now()
    where = course_for(request.user, course, Right.WITHDRAW, at=at)
    timezone.activate(where.zone)
    picture = picture_of(where, at=at, on=signed_on(request, where, at=at))
    back = reverse("inspections:findings", args=[where.pk])
    chosen = {"place": request.GET.get("place", "")}
    form = fill(forms.OpenFindingForm(**_bound(request), initial=chosen, back=back, places=_places(picture)), request)
    pattern = finding_pattern(picture, request.user, places=_places(picture))  # type: ignore[arg-type]

    def do(data: dict[str, Any]) -> str:
        deed = proof.deed(request, at=at, id=data["deed_id"])
        actions.open_finding(
            picture,
            _place(picture, data["place"]),
            title=data["title"],
            severity=data["severity"],
            is_watch=data["is_watch"],
            text=data["text"],
            photos=photos_of(request, where, deed),
            deed=deed,
        )
        return back

    context = {"course": where, "title": _("Open a finding"), "pattern": pattern}
    return ask(request, form, do, back=back, context=context)


@asks
def withdraw(request: HttpRequest, course: UUID) -> HttpResponse:
    """Take something out of service without any reading. Counts at once."""
    at = timezone.now()
    where = course_for(request.user, course, Right.WITHDRAW, at=at)
    timezone.activate(where.zone)
    picture = picture_of(where, at=at, on=signed_on(request, where, at=at))
    back = reverse("inspections:board", args=[where.pk])
    chosen = {
        "spot": f"{request.GET.get('place', '')}|{request.GET.get('slot', '')}|{request.GET.get('component', '')}"
    }
    spots = _spots(picture)
    form = fill(forms.WithdrawForm(**_bound(request), initial=chosen, back=back, spots=spots), request)

    def do(data: dict[str, Any]) -> str:
        deed = proof.deed(request, at=at, id=data["deed_id"])
        place, slot, component = _spot(picture, data["spot"])
        entry = actions.take_out_of_service(
            picture,
            place,
            title=data["title"],
            component=component,
            slot=slot,
            text=data["text"],
            photos=photos_of(request, where, deed),
            tag_number=data["tag_number"],
            deed=deed,
        )
        opened = Finding.objects.get(course=where, seq=entry.seq)
        return reverse("inspections:finding", args=[where.pk, opened.pk])

    lead = _(
        "It counts at once, until a second person releases it. A line that it is part of is held; gear from the store "
        "is not handed out and holds no line."
    )
    person: Any = request.user
    words = [(one.value, one.words) for _place, there in spots for one in there]
    context = {
        "course": where,
        "title": _("Take out of service"),
        "lead": lead,
        "codes": form.codes,
        "pattern": withdraw_pattern(picture, person, by_code=form.by_code, spots=words),
    }
    return ask(request, form, do, back=back, context=context)


def _places(picture: Picture) -> list[Place]:
    setup = picture.setup
    return [*setup.lines, *setup.platforms, *setup.stores, *setup.houses]


def _place(picture: Picture, pk: str) -> Place:
    found = next((place for place in picture.setup.places.values() if str(place.pk) == pk), None)
    if found is None:
        raise Http404
    return found


def _spots(picture: Picture) -> list[forms.Spots]:
    """Return everything that can be taken out of service: whole places and every component where it is fitted."""
    found = []
    for place in _places(picture):
        parts = [
            forms.Spot(
                f"{place.pk}|{item.slot}|{item.component.pk}",
                f"{item.component.tag} {item.component.label}",
                item.component.tag,
            )
            for item in picture.setup.at_place(place)
        ]
        found.append((str(place), [forms.Spot(f"{place.pk}||", _("%(place)s as a whole") % {"place": place}), *parts]))
    return found


def _spot(picture: Picture, value: str) -> tuple[Place, str, Component | None]:
    place_id, slot, component_id = value.split("|")
    place = _place(picture, place_id)
    component = next((f.component for f in picture.setup.at_place(place) if str(f.component.pk) == component_id), None)
    return place, slot, component
