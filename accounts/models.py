"""People, the operators they work for, and what each may do there."""

from __future__ import annotations

import secrets
import uuid
from datetime import UTC, date, datetime, time, timedelta
from typing import Any, ClassVar
from zoneinfo import ZoneInfo

from django.contrib.auth.models import AbstractBaseUser, BaseUserManager, PermissionsMixin
from django.db import models
from django.db.models.functions import Lower
from django.utils.translation import gettext_lazy as _


def new_reference() -> str:
    """Return a fresh pseudonym for a person in the history."""
    return "p-" + secrets.token_hex(6)


class UserManager(BaseUserManager["User"]):
    def create_user(self, email: str, password: str | None = None, **fields: Any) -> User:
        user = self.model(email=self.normalize_email(email).lower(), **fields)
        user.set_password(password)
        user.save(using=self._db)
        return user

    def create_superuser(self, email: str, password: str | None = None, **fields: Any) -> User:
        return self.create_user(email, password, is_staff=True, is_superuser=True, **fields)

    def get_by_natural_key(self, username: str | None) -> User:
        return self.get(email__iexact=username)


class User(AbstractBaseUser, PermissionsMixin):
    """A person who logs in with an e-mail address."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    ref = models.CharField(max_length=20, unique=True, default=new_reference, editable=False)
    email = models.EmailField(_("e-mail address"), max_length=254, unique=True)
    name = models.CharField(_("name"), max_length=120)
    is_active = models.BooleanField(default=True)
    is_staff = models.BooleanField(default=False)
    date_joined = models.DateTimeField(null=True, blank=True)

    objects: ClassVar[UserManager] = UserManager()

    USERNAME_FIELD = "email"
    EMAIL_FIELD = "email"
    REQUIRED_FIELDS: ClassVar[list[str]] = ["name"]

    class Meta:
        constraints = [
            models.UniqueConstraint(
                Lower("email"), name="user_email_once", violation_error_message=_("This address is in use already.")
            ),
        ]

    def __str__(self) -> str:
        return self.name or self.email

    def get_full_name(self) -> str:
        return self.name


class Operator(models.Model):
    """Who runs one or more courses. Each operator has its own history."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    name = models.CharField(_("name"), max_length=120)
    tz = models.CharField(_("time zone"), max_length=60, default="UTC", help_text="in which a last day ends")
    log = models.OneToOneField("ledger.Log", on_delete=models.PROTECT, related_name="operator")

    def __str__(self) -> str:
        return self.name

    @property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.tz)

    def date_at(self, at: datetime) -> date:
        """Return the date on the office's wall at an instant."""
        return at.astimezone(self.zone).date()

    def end_of(self, last_day: date) -> datetime:
        """Return the instant, in UTC, at which the day after ``last_day`` begins at the office."""
        return datetime.combine(last_day + timedelta(days=1), time(), tzinfo=self.zone).astimezone(UTC)

    def last_day(self, until: datetime) -> date:
        """Return the last date of which any part lies before ``until``: the inverse of ``end_of``."""
        return self.date_at(until - timedelta(microseconds=1))


class Role(models.Model):
    """One role of one person at one operator, from when and, for an acting manager, until when."""

    class Kind(models.TextChoices):
        GUIDE = "guide", _("Guide")
        TECHNICIAN = "technician", _("Technician")
        MANAGER = "manager", _("Manager")
        ENGINEER = "engineer", _("Engineer")
        AUDITOR = "auditor", _("Auditor")

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    user = models.ForeignKey(User, on_delete=models.PROTECT, related_name="roles")
    operator = models.ForeignKey(Operator, on_delete=models.PROTECT, related_name="roles")
    kind = models.CharField(max_length=12, choices=Kind.choices)
    since = models.DateTimeField()
    until = models.DateTimeField(null=True, blank=True)

    class Meta:
        indexes = [models.Index(fields=["user", "operator"], name="role_of_user")]
        constraints = [
            models.UniqueConstraint(
                fields=["user", "operator", "kind"], condition=models.Q(until__isnull=True), name="role_once_open"
            )
        ]

    def __str__(self) -> str:
        return f"{self.user} · {self.get_kind_display()}"


class Authorisation(models.Model):
    """What a technician has been trained and authorised to inspect, by subject, until when."""

    class Subject(models.TextChoices):
        ANY = "any", _("everything on this course")
        HAND = "hand", _("hand-operated brakes")
        SPRING = "spring", _("spring brakes")
        MAGNETIC = "magnetic", _("magnetic brakes")
        CORD = "cord", _("elastic cord brakes")
        RUNOUT = "runout", _("gravity run-outs")
        GEAR = "gear", _("gear and rescue kits")

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    user = models.ForeignKey(User, on_delete=models.PROTECT, related_name="authorisations")
    operator = models.ForeignKey(Operator, on_delete=models.PROTECT, related_name="authorisations")
    subject = models.CharField(max_length=12, choices=Subject.choices)
    since = models.DateField()
    until = models.DateField()
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        indexes = [models.Index(fields=["user", "operator"], name="authorisation_of_user")]

    def __str__(self) -> str:
        return f"{self.user} · {self.get_subject_display()} · {self.until}"


class PersonKey(models.Model):
    """A public key of one person on one device, for the history of one operator. The private half never leaves it."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    user = models.ForeignKey(User, on_delete=models.PROTECT, related_name="keys")
    operator = models.ForeignKey(Operator, on_delete=models.PROTECT, related_name="keys")
    key = models.CharField(max_length=32)
    public = models.BinaryField(max_length=65)
    since = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["operator", "key"], name="key_once")]

    def __str__(self) -> str:
        return f"{self.user} · {self.key[:8]}"
