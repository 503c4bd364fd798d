"""Versions of what decides: proposed by one person, confirmed by another, in force from the next operating day."""

from __future__ import annotations

from datetime import datetime
from hashlib import sha256
from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import Max
from django.utils.translation import gettext as _

from accounts.deeds import Deed, demand, record
from accounts.policy import Right
from courses import calendar, documents
from courses.errors import Refused
from courses.models import Component, Course, Place, Version
from courses.queries import subject_of
from courses.tightening import tightens
from ledger import chain

INSTANT = "%Y-%m-%dT%H:%M:%SZ"


def _about(course: Course, place: Place | None, component: Component | None) -> str:
    return str((place or component or course).pk)


def _digest(content: dict[str, Any]) -> str:
    return sha256(chain.canonical(chain.normal(content))).hexdigest()


@transaction.atomic
def propose(
    course: Course, kind: str, content: dict[str, Any], *, source: str, place: Place | None = None,
    component: Component | None = None, source_file: str = "", from_next_day: bool = False, deed: Deed,
) -> Version:  # fmt: skip
    """Propose a version. One that provably only tightens what is in force, and what is to be, counts at once.

    Any other waits for a second person.

    With ``from_next_day`` a tightening counts from the next operating day instead, if it tightens what will be in force
    then as well; it needs no second person either. ``content`` is cleaned by ``courses.documents``, which refuses what
    has another shape.
    """
    demand(deed, course.operator_id, Right.PROPOSE)
    if not source.strip():
        raise Refused("source-needed", _("Say where this comes from: manual and page, drawing, certificate, letter."))
    content = chain.normal(documents.clean(kind, content))
    subject = subject_of(kind, _about(course, place, component))
    last = Version.objects.filter(subject=subject).aggregate(top=Max("number"))["top"] or 0
    current = _in_force(subject, deed.at)
    only_tightens = tightens(kind, current.content if current else None, content)
    starts = deed.at
    if from_next_day:
        starts = _next_start(course, deed.at)
        then = _in_force(subject, starts)
        only_tightens = only_tightens and tightens(kind, then.content if then else None, content)
    later = Version.objects.filter(subject=subject, from_at__gt=starts).order_by("-number").first()
    if only_tightens and later is not None:
        # It would stand above what is to count later: one person alone must not take away what that brings.
        only_tightens = tightens(kind, later.content, content)
    version = Version(
        course=course, kind=kind, place=place, component=component, subject=subject, number=last + 1, content=content,
        source=source.strip(), source_file=source_file, proposed_by=deed.by, proposed_at=deed.at,
        tightens=only_tightens,
    )  # fmt: skip
    if only_tightens:
        version.confirmed_by, version.confirmed_at, version.from_at = deed.by, deed.at, starts
    # A tightening counts from when it is proposed, unless its entry says from when.
    waits = {"from": starts.strftime(INSTANT)} if only_tightens and from_next_day else {}
    record(
        course.operator, "version-proposed",
        {"version": str(version.pk), "course": str(course.pk), "subject": subject, "number": version.number,
         "content": content, "source": version.source, "source_file": source_file, "tightens": only_tightens, **waits},
        deed=deed,
    )  # fmt: skip
    try:
        version.save(force_insert=True)
    except IntegrityError:
        raise Refused(
            "proposed-meanwhile", _("Somebody proposed something for this at this moment. Look again.")
        ) from None
    return version


@transaction.atomic
def confirm(version: Version, *, deed: Deed) -> Version:
    """Confirm somebody else's proposal. It counts from the next operating day.

    The first data of a new component count at once: nothing has been judged by them yet, and a replacement must be
    able to be released on the day it is fitted.
    """
    demand(deed, version.course.operator_id, Right.CONFIRM)
    version = Version.objects.select_for_update().select_related("course__operator__log").get(pk=version.pk)
    if version.confirmed_at is not None or version.refused_at is not None:
        raise Refused("decided", _("This proposal was decided already."))
    if version.proposed_by_id == deed.by.pk:
        raise Refused("own-proposal", _("Somebody else than the person who proposed this must confirm it."))
    newer = Version.objects.filter(subject=version.subject, number__gt=version.number, refused_at__isnull=True)
    if newer.exists():
        raise Refused("superseded", _("A newer proposal stands for the same thing. Decide that one."))
    version.from_at = _start(version, deed.at)
    version.confirmed_by, version.confirmed_at = deed.by, deed.at
    record(
        version.course.operator, "version-confirmed",
        {"version": str(version.pk), "subject": version.subject, "number": version.number,
         "sha256": _digest(version.content), "from": version.from_at.strftime(INSTANT)},
        deed=deed,
    )  # fmt: skip
    version.save(update_fields=["from_at", "confirmed_by", "confirmed_at"])
    return version


@transaction.atomic
def refuse(version: Version, *, why: str, deed: Deed) -> None:
    """Turn a proposal down; its proposer may withdraw it the same way."""
    demand(deed, version.course.operator_id, Right.PROPOSE)
    version = Version.objects.select_for_update().select_related("course__operator__log").get(pk=version.pk)
    if version.confirmed_at is not None or version.refused_at is not None:
        raise Refused("decided", _("This proposal was decided already."))
    record(version.course.operator, "version-refused", {"version": str(version.pk), "why": why}, deed=deed)
    version.refused_at = deed.at
    version.save(update_fields=["refused_at"])


def _in_force(subject: str, at: datetime) -> Version | None:
    return Version.objects.filter(subject=subject, from_at__lte=at).order_by("-number").first()


def _start(version: Version, at: datetime) -> datetime:
    if version.kind == Version.Kind.COMPONENT and version.number == 1:
        return at
    return _next_start(version.course, at)


def _next_start(course: Course, at: datetime) -> datetime:
    current = _in_force(subject_of(Version.Kind.CALENDAR, course.pk), at)
    return calendar.next_start(current.content if current else None, at, course.zone, course.day_change_hour)
