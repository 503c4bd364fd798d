"""A sheet being filled in, kept field by field. Not yet part of the history, except for what goes out of service."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext as _

from accounts.deeds import Deed, demand
from accounts.policy import Right
from courses.models import Place, Version
from inspections.authority import demand_authority
from inspections.errors import Refused
from inspections.models import Draft
from inspections.picture import RACK, Spot

ANSWER_FIELDS = frozenset({"mark", "text", "unit", "note", "reason", "photos", "kept", "code", "gauge"})


def versions_shown(picture: Spot, place: Place) -> dict[str, str]:
    """Return the versions of checklist, limits and criteria that a form shows now."""
    setup = picture.setup
    found = {
        "checklist": setup.checklist(place),
        "limits": setup.version("limits", place.pk),
        "criteria": setup.version("criteria", setup.course.pk),
        "document": setup.version(place.kind, place.pk),
    }
    return {name: str(version.pk) for name, version in found.items() if version is not None}


@dataclass(frozen=True)
class Opened:
    """When a form was shown, and under which versions of checklist, limits and criteria."""

    at: datetime
    versions: dict[str, str]


@transaction.atomic
def draft_for(
    picture: Spot,
    place: Place,
    section: str,
    *,
    deed: Deed,
    amends: UUID | None = None,
    from_paper: bool = False,
    opened: Opened | None = None,
    alone: bool = False,
) -> Draft:
    """Return the person's draft of a section today, begun now if there is none. ``amends`` begins a correction.

    ``opened`` says when and under which versions the form was shown from which the draft comes. A draft that was once
    said to be from paper stays so.

    ``alone``: for a deed that was signed without a signal. What was begun elsewhere, from another showing of the form,
    is no part of it, and stays as it is: the deed then has a draft of its own, which is not stored.
    """
    demand(deed, picture.course.operator_id, Right.INSPECT)
    if place.retired_at is not None and place.retired_at <= deed.at:
        raise Refused("place-retired", _("%(place)s was retired and is not inspected any more.") % {"place": place})
    demand_authority(deed.by, picture.course, picture.setup, place, section, picture.date)
    which = {"date": picture.date, "place": place, "section": section, "person": deed.by, "amends": amends}
    new = {
        "course": picture.course,
        "from_paper": from_paper,
        "started_at": opened.at if opened else deed.said_at,
        "changed_at": deed.at,
        "versions": opened.versions if opened else versions_shown(picture, place),
    }
    if alone and opened and Draft.objects.filter(**which).exclude(started_at=opened.at).exists():
        return Draft(**which, **new)
    draft, _made = Draft.objects.get_or_create(**which, defaults=new)
    if from_paper and not draft.from_paper:
        draft.from_paper = True
        draft.save(update_fields=["from_paper"])
    return draft


def keep_answer(draft: Draft, key: str, fields: dict[str, Any], *, at: datetime) -> Draft:
    """Keep what was entered for one item. Later entries for the same item replace earlier ones, field by field."""
    return keep_answers(draft, {key: fields}, at=at)


@transaction.atomic
def keep_answers(draft: Draft, answers: Mapping[str, Mapping[str, Any]], *, at: datetime) -> Draft:
    """Keep what was entered for several items at once, as ``keep_answer`` does for one.

    A draft that went meanwhile, because another phone of its person signed it, is there again as it was read. One that
    is not to be stored (see ``draft_for``) is not.
    """
    if any(set(fields) - ANSWER_FIELDS for fields in answers.values()):
        raise Refused("no-such-field", _("This form is not known here. Open the sheet again."))
    is_apart = draft._state.adding
    there = None if is_apart else Draft.objects.select_for_update().filter(pk=draft.pk).first()
    draft = there or draft
    for key, fields in answers.items():
        draft.content[key] = {**draft.content.get(key, {}), **fields}
    draft.changed_at = at
    if there:
        draft.save(update_fields=["content", "changed_at"])
    elif not is_apart:
        draft.save(force_insert=True)
    return draft


def added_since(picture: Spot, draft: Draft, keys: Iterable[str]) -> set[str]:
    """Return the items that the checklist did not have when the draft's form was opened."""
    then, now = draft.versions.get("checklist"), picture.setup.checklist(draft.place)
    if now is None or then in (None, str(now.pk)) or draft.section.startswith(RACK):
        return set()
    version = Version.objects.filter(pk=then).first()
    known = {item["key"] for item in version.content["items"]} if version else set()
    return set(keys) - known


def drop_old_drafts(*, before: date) -> int:
    """Remove drafts of past days that were never signed; they were never part of the record."""
    return Draft.objects.filter(date__lt=before).delete()[0]
