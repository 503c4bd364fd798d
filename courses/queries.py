"""A course as it is set up at an instant, read in a handful of queries and asked without any more."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.db.models import F, OuterRef, Q, Subquery

from courses import calendar, kept
from courses.models import Component, Course, Place, Placement, Version


def subject_of(kind: str, about: UUID | str) -> str:
    """Return the name of a chain of versions: the kind and the place, component or course it is about."""
    return f"{kind}:{about}"


def versions_in_force(course: Course, at: datetime, *, about: Collection[str] | None = None) -> dict[str, Version]:
    """Return the version in force of every subject of a course, or of the subjects ``about``, in one or two queries.

    Of those that have begun the highest number counts: a tightening that acts at once must not be undone tomorrow by
    an older version that was confirmed before it.
    """
    newest = Version.objects.filter(subject=OuterRef("subject"), from_at__lte=at).order_by("-number").values("pk")[:1]
    rows = Version.objects.filter(course=course, from_at__lte=at, pk=Subquery(newest))
    if about is not None:
        rows = rows.filter(subject__in=about)
    found = kept.versions(list(rows.values_list("pk", flat=True)))
    return {version.subject: version for version in found}


def calendar_versions(course: Course) -> list[tuple[datetime, dict[str, Any]]]:
    """Return every calendar that has been in force, oldest first."""
    rows = Version.objects.filter(course=course, kind=Version.Kind.CALENDAR, from_at__isnull=False)
    found = rows.order_by("from_at", "number").values_list("from_at", "content")
    return [(from_at, content) for from_at, content in found if from_at is not None]


@dataclass(frozen=True)
class Fitted:
    """A component where it is fitted."""

    component: Component
    place_id: UUID
    slot: str
    since: datetime


@dataclass
class Setup:
    """Everything about a course that decides, as of ``at``."""

    course: Course
    at: datetime
    places: dict[UUID, Place]
    versions: dict[str, Version]
    fitted: list[Fitted]
    _by_slot: dict[tuple[UUID, str], list[Fitted]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for item in self.fitted:
            self._by_slot.setdefault((item.place_id, item.slot), []).append(item)

    # --- places
    @property
    def lines(self) -> list[Place]:
        return self.of_kind(Place.Kind.LINE)

    @property
    def platforms(self) -> list[Place]:
        return self.of_kind(Place.Kind.PLATFORM)

    @property
    def stores(self) -> list[Place]:
        return self.of_kind(Place.Kind.STORE)

    @property
    def houses(self) -> list[Place]:
        return self.of_kind(Place.Kind.HOUSE)

    def of_kind(self, kind: str) -> list[Place]:
        return sorted((p for p in self.places.values() if p.kind == kind), key=lambda p: p.number)

    # --- versions
    def version(self, kind: str, about: UUID | str) -> Version | None:
        return self.versions.get(subject_of(kind, about))

    def content(self, kind: str, about: UUID | str) -> dict[str, Any]:
        """Return the content in force, or an empty one where nothing is in force."""
        version = self.version(kind, about)
        return version.content if version else {}

    @property
    def calendar(self) -> dict[str, Any] | None:
        version = self.version(Version.Kind.CALENDAR, self.course.pk)
        return version.content if version else None

    @property
    def criteria(self) -> dict[str, Any]:
        return self.content(Version.Kind.CRITERIA, self.course.pk)

    @property
    def reopening(self) -> dict[str, Any]:
        return self.content(Version.Kind.REOPENING, self.course.pk)

    def document(self, place: Place) -> dict[str, Any]:
        """Return the line's or platform's data in force."""
        return self.content(place.kind, place.pk) if place.kind in {"line", "platform"} else {}

    def checklist(self, place: Place) -> Version | None:
        return self.version(Version.Kind.CHECKLIST, place.pk)

    def limits(self, place: Place) -> dict[str, Any]:
        return self.content(Version.Kind.LIMITS, place.pk)

    def mechanics(self, line: Place) -> dict[str, Any]:
        """Return what the mechanics of a line are computed from, as in force; of a line as read with its course."""
        return self.content(Version.Kind.MECHANICS, line.pk)

    # --- components
    def at_slot(self, place: Place, slot: str) -> list[Fitted]:
        return self._by_slot.get((place.pk, slot), [])

    def component_at(self, place: Place, slot: str) -> Component | None:
        found = self.at_slot(place, slot)
        return found[0].component if len(found) == 1 else None

    def at_place(self, place: Place) -> list[Fitted]:
        return [item for item in self.fitted if item.place_id == place.pk]

    def component_data(self, component: Component) -> dict[str, Any]:
        return self.content(Version.Kind.COMPONENT, component.pk)

    # --- the day
    @property
    def today(self) -> date:
        return calendar.local_day(self.at, self.course.zone, self.course.day_change_hour)


def setup_at(course: Course, at: datetime, *, place: Place | None = None) -> Setup:
    """Read the set-up of a course as of an instant, in a fixed number of queries whatever its size.

    With ``place`` only what bears on judging that place is read: itself, what is fitted there, and the course's own.
    """
    rows = Place.objects.filter(course=course).in_use(at)
    places = {found.pk: found for found in (rows if place is None else rows.filter(pk=place.pk))}
    for found in places.values():
        found.course = course
        # The platforms are here already; asking for them line by line would be a query each.
        if found.launch_id in places and found.landing_id in places:
            found.launch, found.landing = places[found.launch_id], places[found.landing_id]
    placements = Placement.objects.filter(component__course=course, since__lte=at).filter(
        Q(until__isnull=True) | Q(until__gt=at)
    )
    if place is not None:
        placements = placements.filter(place=place)
    fitted = [
        Fitted(row.component, row.place_id, row.slot, row.since)
        for row in placements.select_related("component").order_by("component__tag")
    ]
    about = None if place is None else _subjects_at(course, place, fitted)
    return Setup(
        course=course, at=at, places=places, versions=versions_in_force(course, at, about=about), fitted=fitted
    )


def _subjects_at(course: Course, place: Place, fitted: list[Fitted]) -> list[str]:
    """Return the subjects of versions that bear on one place: the course's, the place's, those of what is fitted."""
    kinds = Version.Kind
    return [
        *(subject_of(kind, course.pk) for kind in (kinds.CALENDAR, kinds.CRITERIA)),
        *(subject_of(kind, place.pk) for kind in (place.kind, kinds.CHECKLIST, kinds.LIMITS)),
        *(subject_of(kinds.COMPONENT, found.component.pk) for found in fitted),
    ]


def courses_for(user: Any, at: datetime) -> list[Course]:
    """Return the courses at which the person holds any role now."""
    from accounts import policy

    policy.roles_of(user, UUID(int=0), at=at)
    operators: Iterable[UUID] = [operator for operator in user._known_roles if policy.roles_of(user, operator, at=at)]
    return list(
        Course.objects.filter(operator__in=operators, retired_at__isnull=True)
        .select_related("operator__log")
        .order_by("name")
    )


def newest_of(subject: str) -> Version | None:
    """Return the newest version of a subject that was not refused: what the next proposal starts from."""
    return Version.objects.filter(subject=subject, refused_at__isnull=True).order_by("-number").first()


def history_of(subject: str) -> list[Version]:
    """Return every version of one subject, newest first, with the people who proposed and confirmed it."""
    return list(
        Version.objects.filter(subject=subject).select_related("proposed_by", "confirmed_by").order_by("-number")
    )


def waiting(course: Course) -> list[Version]:
    """Return every proposal that nobody has decided yet, oldest first."""
    return list(
        Version.objects.filter(course=course, confirmed_at__isnull=True, refused_at__isnull=True)
        .select_related("place", "component", "proposed_by")
        .order_by("proposed_at", "number")
    )


def components_of(course: Course, *, tag: str = "", kind: str = "") -> list[Component]:
    """Return the register by tag code: those whose code or label holds ``tag``, the retired ones last."""
    rows = Component.objects.filter(course=course)
    if tag:
        rows = rows.filter(Q(tag__icontains=tag) | Q(label__icontains=tag))
    if kind:
        rows = rows.filter(kind=kind)
    return list(rows.order_by(F("retired_at").asc(nulls_first=True), "tag"))


def placements_of(component: Component) -> list[Placement]:
    """Return where a component is and was fitted, newest first."""
    return list(Placement.objects.filter(component=component).select_related("place").order_by("-since"))


def before(version: Version) -> Version | None:
    """Return the version of the same subject that was confirmed before this one."""
    return (
        Version.objects.filter(subject=version.subject, number__lt=version.number, confirmed_at__isnull=False)
        .order_by("-number")
        .first()
    )
