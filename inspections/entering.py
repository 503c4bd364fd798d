"""Append a deed to the history and store the rows it makes, in one transaction."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from contextlib import nullcontext
from datetime import date, datetime
from typing import Any

from django.db import models as db
from django.db import transaction
from django.utils.translation import gettext as _

from accounts.deeds import Deed, record
from courses.models import Course, StoredFile
from inspections import models
from inspections.errors import Refused
from inspections.projection import Change, changes, day_id
from ledger.actions import lock, recorded
from ledger.erasures import named
from ledger.errors import AlreadyRecorded
from ledger.models import Entry


def begin(course: Course, deed: Deed) -> None:
    """Take the history's lock before anything is decided. Raises AlreadyRecorded if the deed was received before.

    Asked first, so that sending it again is answered with its entry and not with what the deed itself has changed.
    """
    lock(course.operator.log)
    if (seq := recorded(course.operator.log, deed.id)) is not None:
        raise AlreadyRecorded(seq)


def enter(
    course: Course,
    kind: str,
    body: dict[str, Any],
    *,
    deed: Deed,
    judged: dict[str, Any] | None = None,
    begun: bool = False,
) -> Entry:
    """Record a deed about a course and store its rows. Raises AlreadyRecorded if it was received before.

    ``begun``: ``begin`` was called for this very deed in this very transaction; a savepoint is then not needed either.
    A photo that it names and that is not here yet is told in what is judged, as ``photos_owed``. Raises Refused where
    it names a file that was erased.
    """
    with nullcontext() if begun else transaction.atomic():
        if owed := _demand_files(course, kind, body, begun):
            judged = {**(judged or {}), "photos_owed": owed}
        body = {"course": str(course.pk), **body}
        entry = record(course.operator, kind, body, deed=deed, judged=judged, begun=begun)
        store(changes(entry.record))
    return entry


def _demand_files(course: Course, kind: str, body: dict[str, Any], begun: bool) -> list[str]:
    """Return the photos that it names and that are not here yet.

    Refuse to name what was erased: it would be a fault of the whole history for ever, whoever sent its hash.
    """
    here = named({"kind": kind, "act": body})
    if not (files := here.photos | here.papers):
        return []
    if not begun:
        lock(course.operator.log)
    rows = StoredFile.objects.filter(operator=course.operator_id, sha256__in=files)
    kept = dict(rows.values_list("sha256", "erased_seq"))
    if (seq := next((one for one in kept.values() if one is not None), None)) is not None:
        raise Refused(
            "file-erased", _("A photo or paper of this was erased by a decision, entry %(seq)s.") % {"seq": seq}
        )
    return sorted(here.photos - kept.keys())


def converted(model: type[db.Model], fields: Mapping[str, Any]) -> dict[str, Any]:
    """Return the fields of a change as Python values of the model's columns."""
    result: dict[str, Any] = {}
    for name, value in fields.items():
        column = model._meta.get_field(name.removesuffix("_id") if name.endswith("_id") else name)
        if value is None or isinstance(column, db.JSONField):
            result[name] = value
        elif isinstance(column, db.ForeignKey):
            result[name] = column.target_field.to_python(value)
        else:
            result[name] = column.to_python(value)  # type: ignore[union-attr]
    return result


def store(found: Iterable[Change]) -> None:
    """Write the rows of one entry: new ones together per table, then what is set on rows that exist."""
    made: dict[str, list[db.Model]] = {}
    upserted: dict[str, dict[str, db.Model]] = {}
    touched: list[Change] = []
    for change in found:
        model = getattr(models, change.model)
        if change.how == "set":
            touched.append(change)
            continue
        row = model(pk=change.key, **converted(model, change.fields))
        if change.how == "new":
            made.setdefault(change.model, []).append(row)
        else:
            upserted.setdefault(change.model, {})[change.key] = row
    for name, rows in made.items():
        getattr(models, name)._base_manager.bulk_create(rows)
    for name, by_key in upserted.items():
        model = getattr(models, name)
        columns = [column.name for column in model._meta.concrete_fields if not column.primary_key]
        model._base_manager.bulk_create(
            by_key.values(), update_conflicts=True, unique_fields=["id"], update_fields=columns
        )
    for change in touched:
        model = getattr(models, change.model)
        model._base_manager.filter(pk=change.key).update(**converted(model, change.fields))


def day_row(course: Course, on: date) -> models.Day | None:
    """Return the row of a day, if any deed has made it yet."""
    return models.Day.objects.filter(pk=day_id(str(course.pk), on.isoformat())).first()


@transaction.atomic
def day_for_deed(course: Course, on: date, *, opens_at: datetime | None, deed: Deed) -> models.Day:
    """Return the day of a deed; the first deed of a day makes it, with zone and opening instant copied in."""
    lock(course.operator.log)
    known = day_row(course, on)
    if known is not None:
        return known
    judged = {"opens_at": opens_at.strftime("%Y-%m-%dT%H:%M:%SZ")} if opens_at else {}
    enter(
        course,
        "day-opened",
        {"date": on.isoformat(), "tz": course.tz, "day_change_hour": course.day_change_hour},
        deed=deed.part(f"day:{on}"),
        judged=judged or None,
    )
    made = day_row(course, on)
    assert made is not None  # noqa: S101 - written in this very transaction
    return made
