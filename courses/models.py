"""What is there: courses, places, components, where each is fitted, and the versions of everything that decides.

Anything that could change a verdict or a line's status is not a column but the content of a ``Version``: proposed by
one person, confirmed by another, in force from a day on. Rows here are retired, never deleted.
"""

from __future__ import annotations

import uuid
from datetime import datetime
from zoneinfo import ZoneInfo

from django.db import models
from django.db.models.functions import Upper
from django.utils.translation import gettext_lazy as _


class Course(models.Model):
    """One zip line course."""

    class Units(models.TextChoices):
        METRIC = "metric", _("metric (mm, m, kg)")
        US = "us", _("US (in, ft, lb)")

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    operator = models.ForeignKey("accounts.Operator", on_delete=models.PROTECT, related_name="courses")
    name = models.CharField(_("name"), max_length=120)
    town = models.CharField(_("town or site"), max_length=120, blank=True)
    law_place = models.CharField(_("law of the place"), max_length=20, blank=True, help_text=_("For example US-FL."))
    tz = models.CharField(_("time zone"), max_length=60, default="UTC")
    units = models.CharField(_("units"), max_length=8, choices=Units.choices, default=Units.METRIC)
    retention_years = models.PositiveSmallIntegerField(_("years that records are kept"), default=5)
    day_change_hour = models.PositiveSmallIntegerField(_("hour at which the day changes"), default=3)
    trial = models.BooleanField(default=False)
    retired_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=models.Q(retention_years__gte=5), name="course_retention_at_least_five"),
            models.CheckConstraint(condition=models.Q(day_change_hour__lte=8), name="course_day_change_at_night"),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.tz)


class PlaceQuerySet(models.QuerySet["Place"]):
    def in_use(self, at: datetime) -> PlaceQuerySet:
        return self.filter(models.Q(retired_at__isnull=True) | models.Q(retired_at__gt=at))

    def lines(self) -> PlaceQuerySet:
        return self.filter(kind=Place.Kind.LINE)


class Place(models.Model):
    """A place that is inspected once a day: a line, a platform, the gear store, the course house."""

    class Kind(models.TextChoices):
        LINE = "line", _("line")
        PLATFORM = "platform", _("platform")
        STORE = "store", _("gear store")
        HOUSE = "house", _("course house")

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    course = models.ForeignKey(Course, on_delete=models.PROTECT, related_name="places")
    kind = models.CharField(max_length=8, choices=Kind.choices)
    number = models.PositiveSmallIntegerField(_("number"))
    name = models.CharField(_("name"), max_length=80)
    launch = models.ForeignKey("self", on_delete=models.PROTECT, null=True, blank=True, related_name="lines_from")
    landing = models.ForeignKey("self", on_delete=models.PROTECT, null=True, blank=True, related_name="lines_to")
    retired_at = models.DateTimeField(null=True, blank=True)

    objects = PlaceQuerySet.as_manager()

    class Meta:
        ordering = ("kind", "number")
        constraints = [
            models.CheckConstraint(
                condition=models.Q(kind="line", launch__isnull=False, landing__isnull=False)
                | (~models.Q(kind="line") & models.Q(launch__isnull=True, landing__isnull=True)),
                name="place_line_has_two_platforms",
            ),
            models.UniqueConstraint(
                fields=["course", "kind", "number"],
                condition=models.Q(retired_at__isnull=True),
                name="place_number_once",
                violation_error_message=_("This number is taken."),
            ),
        ]

    def __str__(self) -> str:
        if self.kind == self.Kind.LINE:
            return _("Line %(number)s %(name)s") % {"number": self.number, "name": self.name}
        if self.kind == self.Kind.PLATFORM:
            return _("Platform %(number)s %(name)s") % {"number": self.number, "name": self.name}
        return self.name


class Component(models.Model):
    """One physical thing with a tag code that can be measured, worn, moved, replaced."""

    class Kind(models.TextChoices):
        CABLE = "cable", _("cable")
        TERMINATION = "termination", _("termination")
        BRAKE = "brake", _("brake")
        SPRING = "spring", _("spring pack")
        CORD = "cord", _("elastic cord")
        ROPE = "rope", _("brake rope")
        TROLLEY = "trolley", _("trolley")
        HARNESS = "harness", _("harness")
        LANYARD = "lanyard", _("lanyard")
        HELMET = "helmet", _("helmet")
        RESCUE_KIT = "rescue_kit", _("rescue kit")
        SCALE = "scale", _("weigh scale")
        RADIO = "radio", _("radio")
        OTHER = "other", _("other")

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    course = models.ForeignKey(Course, on_delete=models.PROTECT, related_name="components")
    tag = models.CharField(_("tag code"), max_length=30)
    kind = models.CharField(_("kind"), max_length=12, choices=Kind.choices)
    label = models.CharField(_("what it is"), max_length=120, blank=True)
    retired_at = models.DateTimeField(null=True, blank=True)
    retired_why = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ("tag",)
        constraints = [
            models.UniqueConstraint(
                "course",
                Upper("tag"),
                name="component_tag_once",
                violation_error_message=_("This tag code is in use already."),
            ),
        ]

    def __str__(self) -> str:
        return self.tag

    @property
    def is_pooled(self) -> bool:
        """Gear that is handed out from the store and never belongs to one line."""
        return self.kind in {self.Kind.TROLLEY, self.Kind.HARNESS, self.Kind.LANYARD, self.Kind.HELMET}


class Placement(models.Model):
    """Where a component was fitted, from when to when. ``slot`` names the spot ("cable", "primary-1", a rack)."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    component = models.ForeignKey(Component, on_delete=models.PROTECT, related_name="placements")
    place = models.ForeignKey(Place, on_delete=models.PROTECT, related_name="placements")
    slot = models.CharField(max_length=40)
    since = models.DateTimeField()
    until = models.DateTimeField(null=True, blank=True)

    class Meta:
        indexes = [models.Index(fields=["place", "slot"], name="placement_at_slot")]
        constraints = [
            models.UniqueConstraint(
                fields=["component"], condition=models.Q(until__isnull=True), name="placement_one_place_at_a_time"
            ),
            models.CheckConstraint(
                condition=models.Q(until__isnull=True) | models.Q(until__gte=models.F("since")),
                name="placement_in_order",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.component} @ {self.slot}"


class Version(models.Model):
    """One version of one thing that decides: never edited, superseded by the next one.

    ``content`` is JSON with decimal strings, shaped by ``kind`` (see ``courses/documents.py``). It counts from
    ``from_at`` on, once ``confirmed_at`` is set; a tightening is confirmed by its own proposer at once.
    """

    class Kind(models.TextChoices):
        LINE = "line", _("line data")
        PLATFORM = "platform", _("platform data")
        COMPONENT = "component", _("component data")
        CHECKLIST = "checklist", _("checklist")
        LIMITS = "limits", _("limits")
        CRITERIA = "criteria", _("criteria sets")
        CALENDAR = "calendar", _("season calendar")
        REOPENING = "reopening", _("reopening after a hold")
        MECHANICS = "mechanics", _("mechanics of a line")

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    course = models.ForeignKey(Course, on_delete=models.PROTECT, related_name="versions")
    kind = models.CharField(max_length=10, choices=Kind.choices)
    place = models.ForeignKey(Place, on_delete=models.PROTECT, null=True, blank=True, related_name="versions")
    component = models.ForeignKey(Component, on_delete=models.PROTECT, null=True, blank=True, related_name="versions")
    subject = models.CharField(max_length=60, help_text="kind and what it is about, one chain of numbers each")
    number = models.PositiveIntegerField()
    content = models.JSONField()
    source = models.CharField(_("source"), max_length=300)
    source_file = models.CharField(max_length=64, blank=True, help_text="SHA-256 of the attached source")
    proposed_by = models.ForeignKey("accounts.User", on_delete=models.PROTECT, related_name="+")
    proposed_at = models.DateTimeField()
    tightens = models.BooleanField()
    confirmed_by = models.ForeignKey("accounts.User", on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    confirmed_at = models.DateTimeField(null=True, blank=True)
    refused_at = models.DateTimeField(null=True, blank=True)
    from_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        indexes = [
            models.Index(fields=["course", "kind", "from_at"], name="version_in_force"),
            models.Index(fields=["subject", "from_at"], name="version_of_subject"),
        ]
        constraints = [
            models.UniqueConstraint(fields=["subject", "number"], name="version_number_once"),
            models.CheckConstraint(
                condition=models.Q(tightens=True)
                | models.Q(confirmed_by__isnull=True)
                | ~models.Q(confirmed_by=models.F("proposed_by")),
                name="version_needs_a_second_person",
            ),
            models.CheckConstraint(
                condition=models.Q(confirmed_at__isnull=True, from_at__isnull=True)
                | models.Q(confirmed_at__isnull=False, from_at__gte=models.F("confirmed_at")),
                name="version_never_starts_in_the_past",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.number}"


class StoredFile(models.Model):
    """A photo, a source or a paper, kept once under the hash of its bytes. The bytes lie under the data folder.

    Of one that was erased the row stays, without its bytes, and names the entry that decided it.
    """

    class Kind(models.TextChoices):
        PHOTO = "photo", _("photo")
        SOURCE = "source", _("source")
        PAPER = "paper", _("paper")

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    operator = models.ForeignKey("accounts.Operator", on_delete=models.PROTECT, related_name="files")
    sha256 = models.CharField(max_length=64)
    kind = models.CharField(max_length=6, choices=Kind.choices)
    media_type = models.CharField(max_length=60)
    size = models.PositiveIntegerField()
    width = models.PositiveIntegerField(default=0)
    height = models.PositiveIntegerField(default=0)
    stored_at = models.DateTimeField()
    stored_by = models.ForeignKey("accounts.User", on_delete=models.PROTECT, null=True, related_name="+")
    erased_seq = models.BigIntegerField(null=True, blank=True, help_text="entry by which its bytes were erased")
    erased_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["operator", "sha256"], name="file_once_per_operator")]

    def __str__(self) -> str:
        return self.sha256[:12]
