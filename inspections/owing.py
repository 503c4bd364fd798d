"""Photos that an entry names and that had not come from the phone: what is owed, and what of it has come.

A deed that was signed without a signal is recorded before its photos are here; it names the hashes of their bytes, and
its entry tells which of them were not here (``judged.photos_owed``). Until one has come nothing becomes better by it:
a finding owes its photo as if there were none. That it has come is an entry of its own (``photo-arrived``, of
``actions.photos``), so that nobody can take it away again and say that it never came.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db.models import Subquery
from django.db.models.functions import Coalesce

from accounts.models import Operator
from courses.models import Course, StoredFile
from inspections.models import Finding, FindingStep
from ledger.erasures import HASH, named, owed_by
from ledger.models import Entry, Log
from ledger.search import naming

ON_PHONE = "on-phone"  # why a finding owes a photo: it was named, and had not come


def following(operator: UUID, hashes: Iterable[str]) -> set[str]:
    """Return those of the hashes under which nothing was ever kept at an operator: their photos can still come."""
    found = {one for one in hashes if HASH.fullmatch(one)}
    return found - kept_ever(operator, found)


def kept_ever(operator: UUID, hashes: Iterable[str]) -> set[str]:
    """Return those of the hashes under which something is kept, or was until it was erased."""
    wanted = list(hashes)
    if not wanted:
        return set()
    rows = StoredFile.objects.filter(operator_id=operator, sha256__in=wanted)
    return set(rows.values_list("sha256", flat=True))


def act_owing(operator: Operator, sha256: str) -> str:
    """Return the first act that names a photo which never came, "" where there is none.

    Where something is kept under the hash no entry is read. A photo that some entry had was here, whatever others say.
    """
    if not HASH.fullmatch(sha256) or kept_ever(operator.pk, [sha256]):
        return ""
    records = [entry.record for entry in naming(operator.log, sha256).order_by("seq")]
    if any(sha256 in named(record).photos - owed_by(record) for record in records):
        return ""
    return next((record["act"]["id"] for record in records if sha256 in owed_by(record)), "")


@dataclass(frozen=True)
class Lacking:
    """An entry with photos that are not here yet: how many, who signed it, and what it is about as it says itself."""

    seq: int
    n: int
    ref: str
    about: dict[str, str]


def lacking(course: Course, *, since: datetime) -> list[Lacking]:
    """Return the entries of a course since an instant whose photos are not here yet, the oldest first.

    A photo that several of them name is told with the first. In two queries, which read the entries of these days
    alone; in one where none of them lacked any.
    """
    log = course.operator.log
    rows = naming(log, "photos_owed").filter(seq__gte=seq_before(log, since), t__gte=since).order_by("seq")
    records = [record for entry in rows if (record := entry.record)["act"].get("course") == str(course.pk)]
    left = set().union(*map(owed_by, records))
    left -= kept_ever(course.operator_id, left)
    found = []
    for record in records:
        act, here = record["act"], owed_by(record) & left
        left -= here
        if here:
            about = {"kind": record["kind"], "place": act.get("place", ""), "part": act.get("component", "")}
            found.append(Lacking(record["seq"], len(here), act["signer"]["ref"], about))
    return found


def seq_before(log: Log, since: datetime) -> Coalesce:
    """Return the number of an entry that was made before an instant, and not long before; 0 for the first ones.

    It is a part of a query. A day begins with an entry of its own, and those are few: so no question about some days
    reads the whole history.
    """
    days = Entry.objects.filter(log=log, kind="day-opened", t__lt=since).order_by("-seq")
    return Coalesce(Subquery(days.values("seq")[:1]), 0)


def photo_owed(operator: UUID, photos: Iterable[str]) -> str:
    """Return why a photo is owed where these were given: "" if one of them is here, or none was given."""
    wanted = list(photos)
    return ON_PHONE if wanted and not kept_ever(operator, wanted) else ""


def debts_of(finding: Finding) -> dict[str, Any]:
    """Return what a finding still owes: photo, note, tag, each with the reason. A photo is paid once it is here."""
    owed: dict[str, Any] = dict(finding.owed)
    if owed.get("photo") != ON_PHONE:
        return owed
    steps = FindingStep.objects.filter(finding=finding.pk).values_list("photos", flat=True)
    if kept_ever(finding.course.operator_id, {one for photos in steps for one in photos}):
        del owed["photo"]
    return owed
