"""Courses, places, components and where they are fitted."""

from __future__ import annotations

from datetime import timedelta
from typing import Any
from uuid import UUID, uuid5
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _

from accounts.deeds import Deed, demand, record
from accounts.models import Operator
from accounts.policy import Right
from courses.errors import Refused
from courses.models import Component, Course, Place, Placement

RACK_HOLDS = 20


def _zone(name: str) -> str:
    try:
        ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError):
        raise Refused("no-such-zone", _("This time zone is not known.")) from None
    return name


@transaction.atomic
def found_course(
    operator: Operator, *, name: str, tz: str, town: str = "", law_place: str = "", units: str = "metric",
    retention_years: int = 5, deed: Deed,
) -> Course:  # fmt: skip
    """Set up a course with its gear store and course house; everything on it is held until it is described."""
    demand(deed, operator.pk, Right.PROPOSE)
    course = Course(
        operator=operator, name=name, tz=_zone(tz), town=town, law_place=law_place, units=units,
        retention_years=max(retention_years, 5),
    )  # fmt: skip
    course.save(force_insert=True)
    record(
        operator, "course-founded",
        {"course": str(course.pk), "name": name, "tz": tz, "town": town, "law_place": law_place, "units": units,
         "retention_years": course.retention_years, "day_change_hour": course.day_change_hour},
        deed=deed,
    )  # fmt: skip
    add_place(course, kind=Place.Kind.STORE, number=1, name=_("Gear store"), deed=deed.part("store"))
    add_place(course, kind=Place.Kind.HOUSE, number=1, name=_("Course house"), deed=deed.part("house"))
    return course


@transaction.atomic
def change_course(course: Course, *, changes: dict[str, Any], deed: Deed) -> Course:
    """Change the name, town, units or retention of a course. The zone stays, since past days were counted by it."""
    demand(deed, course.operator_id, Right.PROPOSE)
    allowed = {"name", "town", "units", "retention_years"}
    if not set(changes) <= allowed:
        raise Refused("cannot-change", _("Time zone and law of the place are set when a course is founded."))
    if int(changes.get("retention_years", course.retention_years)) < course.retention_years:
        raise Refused("retention-shorter", _("The time that records are kept can only be made longer."))
    for key, value in changes.items():
        setattr(course, key, value)
    record(course.operator, "course-changed", {"course": str(course.pk), **changes}, deed=deed)
    course.save(update_fields=[*changes])
    return course


@transaction.atomic
def add_place(
    course: Course, *, kind: str, number: int, name: str, launch: Place | None = None, landing: Place | None = None,
    deed: Deed,
) -> Place:  # fmt: skip
    """Add a place. A line names its two platforms."""
    demand(deed, course.operator_id, Right.PROPOSE)
    if kind == Place.Kind.LINE and (launch is None or landing is None or launch.pk == landing.pk):
        raise Refused("line-needs-platforms", _("A line goes from one platform to another one."))
    if Place.objects.filter(course=course, kind=kind, number=number, retired_at__isnull=True).exists():
        raise Refused("number-taken", _("This number is taken."))
    place = Place(
        id=uuid5(deed.id, "place"), course=course, kind=kind, number=number, name=name, launch=launch, landing=landing
    )
    place.save(force_insert=True)
    body = {"course": str(course.pk), "place": str(place.pk), "kind": kind, "number": number, "name": name}
    if launch and landing:
        body |= {"launch": str(launch.pk), "landing": str(landing.pk)}
    record(course.operator, "place-added", body, deed=deed)
    return place


@transaction.atomic
def retire_place(place: Place, *, why: str, deed: Deed) -> None:
    """Retire a place for good. Its past stays; a sheet begun for it is refused at signing."""
    demand(deed, place.course.operator_id, Right.PROPOSE)
    place = Place.objects.select_for_update().select_related("course__operator__log").get(pk=place.pk)
    if place.retired_at is not None:
        raise Refused("retired", _("This place is retired already."))
    if place.kind in {Place.Kind.STORE, Place.Kind.HOUSE}:
        # What is looked at there holds every line that needs it; without the place nothing would.
        raise Refused("always-there", _("Every course has its gear store and its course house."))
    used_by = Place.objects.lines().in_use(deed.at).filter(launch=place) | Place.objects.lines().in_use(deed.at).filter(
        landing=place
    )
    if used_by.exists():
        raise Refused("platform-in-use", _("A line still starts or lands here. Retire the line first."))
    record(place.course.operator, "place-retired", {"place": str(place.pk), "why": why}, deed=deed)
    place.retired_at = deed.at
    place.save(update_fields=["retired_at"])


@transaction.atomic
def add_component(course: Course, *, kind: str, tag: str, label: str = "", deed: Deed) -> Component:
    """Enter a component in the register under its tag code."""
    demand(deed, course.operator_id, Right.PROPOSE)
    tag = tag.strip().upper()
    if not tag:
        raise Refused("tag-empty", _("Give the tag code."))
    if Component.objects.filter(course=course, tag__iexact=tag).exists():
        raise Refused("tag-taken", _("This tag code is in use already; codes are never given twice."))
    component = Component(id=uuid5(deed.id, "component"), course=course, kind=kind, tag=tag, label=label)
    component.save(force_insert=True)
    record(
        course.operator, "component-added",
        {"course": str(course.pk), "component": str(component.pk), "kind": kind, "tag": tag, "label": label}, deed=deed,
    )  # fmt: skip
    return component


@transaction.atomic
def retire_component(component: Component, *, why: str, destroyed: bool, deed: Deed) -> None:
    """Retire a component for good: marked unfit or destroyed (R-163 READ, R-222 READ), it is never fitted again."""
    demand(deed, component.course.operator_id, Right.RELEASE)
    component = Component.objects.select_for_update().select_related("course__operator__log").get(pk=component.pk)
    if component.retired_at is not None:
        raise Refused("retired", _("This component is retired already."))
    if not destroyed:
        raise Refused("not-destroyed", _("Confirm that it is marked as unfit or destroyed, so that nobody can use it."))
    record(
        component.course.operator, "component-retired",
        {"component": str(component.pk), "tag": component.tag, "why": why, "destroyed": True}, deed=deed,
    )  # fmt: skip
    Placement.objects.filter(component=component, until__isnull=True).update(until=deed.at)
    component.retired_at, component.retired_why = deed.at, why[:200]
    component.save(update_fields=["retired_at", "retired_why"])


@transaction.atomic
def fit(component: Component, place: Place, slot: str, *, deed: Deed) -> Placement:
    """Fit a component at a place. What was in that slot comes off; pooled gear shares its slot.

    A line whose cable, end or brake was exchanged has no reading of the new part and no ride with it yet, and is held
    until it has: see ``inspections.facts``.
    """
    demand(deed, component.course.operator_id, Right.WORK)
    component = Component.objects.select_for_update().select_related("course__operator__log").get(pk=component.pk)
    if component.retired_at is not None:
        raise Refused("retired", _("%(tag)s is retired and is not fitted again.") % {"tag": component.tag})
    if place.course_id != component.course_id:
        raise Refused("other-course", _("This component belongs to another course."))
    moment = deed.at
    if not component.is_pooled:
        for other in Placement.objects.filter(place=place, slot=slot, until__isnull=True).exclude(component=component):
            _end(other, moment)
    for own in Placement.objects.filter(component=component, until__isnull=True):
        _end(own, moment)
    placement = Placement(component=component, place=place, slot=slot, since=moment)
    record(
        component.course.operator, "component-fitted",
        {"component": str(component.pk), "tag": component.tag, "place": str(place.pk), "slot": slot}, deed=deed,
    )  # fmt: skip
    try:
        placement.save(force_insert=True)
    except IntegrityError:
        raise Refused(
            "fitted-elsewhere", _("This component was fitted elsewhere at this moment. Look again.")
        ) from None
    return placement


@transaction.atomic
def fill_rack(course: Course, store: Place, rack: str, tags: list[str], *, deed: Deed) -> list[Placement]:
    """Place up to twenty components in one rack, all or none of them."""
    demand(deed, course.operator_id, Right.WORK)
    if not 1 <= len(tags) <= RACK_HOLDS:
        raise Refused("rack-size", _("A rack holds up to %(most)s components.") % {"most": RACK_HOLDS})
    slot = f"rack-{rack.strip()}"
    found = {component.tag: component for component in Component.objects.filter(course=course, tag__in=tags)}
    unknown = [tag for tag in tags if tag not in found]
    if unknown:
        raise Refused("tag-unknown", _("Not in the register: %(tags)s.") % {"tags": ", ".join(unknown)})
    there = Placement.objects.filter(place=store, slot=slot, until__isnull=True)
    inside = set(there.values_list("component__tag", flat=True))
    if len(inside | set(tags)) > RACK_HOLDS:
        raise Refused("rack-full", _("This rack would hold more than %(most)s components.") % {"most": RACK_HOLDS})
    placed = []
    for tag in (tag for tag in tags if tag not in inside):
        component = found[tag]
        component.course = course
        if not component.is_pooled:
            raise Refused("not-gear", _("%(tag)s is no gear that lies in a rack.") % {"tag": tag})
        placed.append(fit(component, store, slot, deed=deed.part(tag)))
    return placed


@transaction.atomic
def take_off(component: Component, *, deed: Deed) -> None:
    """End where a component is fitted, without fitting it anywhere else."""
    demand(deed, component.course.operator_id, Right.WORK)
    current = Placement.objects.select_for_update().filter(component=component, until__isnull=True).first()
    if current is None:
        raise Refused("not-fitted", _("This component is not fitted anywhere."))
    record(
        component.course.operator, "component-taken-off",
        {"component": str(component.pk), "tag": component.tag, "place": str(current.place_id), "slot": current.slot},
        deed=deed,
    )  # fmt: skip
    _end(current, deed.at)


def _end(placement: Placement, at: Any) -> None:
    placement.until = max(at, placement.since + timedelta(0))
    placement.save(update_fields=["until"])


def place_by_id(course: Course, pk: UUID | str) -> Place:
    """Return a place of the course; raises Place.DoesNotExist."""
    return Place.objects.get(course=course, pk=pk)
