"""The entries of the record in words: what was done, by whom, how that person was known, and the stored content."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as L

from accounts.models import Operator
from courses.models import Component, Course, Place, StoredFile
from inspections.entries import Apart, said_apart
from inspections.owing import kept_ever
from inspections.telling import disclosed
from ledger.erasures import named, owed_by
from ledger.models import Entry
from reports.owed import asides_in_words

PAGE = 50
# Every kind of entry; a test asks that none is written that is not named here.
KINDS: dict[str, Any] = {
    "operator-founded": L("Operator founded"),
    "person-invited": L("Person invited, with roles"),
    "role-given": L("Role given"),
    "role-taken": L("Role taken away"),
    "authorisation-given": L("Authorised to inspect"),
    "authorisation-ended": L("Authorisation ended"),
    "course-founded": L("Course founded"),
    "course-changed": L("Course data changed"),
    "place-added": L("Place added"),
    "place-retired": L("Place retired"),
    "component-added": L("Component entered in the register"),
    "component-fitted": L("Component fitted"),
    "component-taken-off": L("Component taken off"),
    "component-retired": L("Component retired"),
    "version-proposed": L("Change of the set-up proposed"),
    "version-confirmed": L("Change of the set-up confirmed"),
    "version-refused": L("Change of the set-up turned down"),
    "day-opened": L("Day begun"),
    "sheet": L("Sheet signed"),
    "amendment": L("Sheet corrected"),
    "ride": L("Test ride"),
    "finding-opened": L("Finding opened"),
    "finding-note": L("Finding added to"),
    "finding-work": L("Work recorded"),
    "finding-reinspection": L("Looked at again"),
    "finding-release": L("Released"),
    "finding-watch": L("Allowed to wait"),
    "finding-ruling": L("Ruled on in writing"),
    "hold": L("Hold called"),
    "hold-renewed": L("Hold begun anew"),
    "hold-told": L("Told by radio of a hold"),
    "hold-lifted": L("Hold lifted"),
    "sign-off": L("Day signed"),
    "closing": L("Day closed"),
    "phone-aside": L("What a phone owes set aside"),
    "photo-arrived": L("Photo arrived from its phone"),
    "paper": L("Paper drawn"),
    "log-key": L("Key that signs the record"),
    "person-key": L("Key of a person's device"),
    "erasure-asked": L("Erasing asked for"),
    "erasure-withdrawn": L("Asking to erase withdrawn"),
    "erasure": L("Erased by a decision"),
}
KNOWN_BY = {
    "session": L("logged in"),
    "password": L("typed the password for this"),
    "command": L("by a command of the server's administrator"),
}
SUBJECTS = {
    "line": L("line data"), "platform": L("platform data"), "component": L("component data"), "limits": L("own limits"),
    "criteria": L("criteria sets"), "checklist": L("checklist"), "calendar": L("season calendar"),
    "reopening": L("reopening after a hold"), "mechanics": L("mechanics of a line"), "course": L("course data"),
}  # fmt: skip


@dataclass(frozen=True)
class Told:
    """One entry as listed: ``about`` names the place, part, day or subject that it is about.

    ``key`` is the beginning of the name of the person's own key that signed it; empty where none did.
    """

    seq: int
    at: datetime
    what: str
    about: str
    who: str
    how: str
    key: str
    said_at: Apart | None  # when it was signed, where that is another time
    kind: str


def listed(course: Course, *, below: int | None = None, kind: str = "") -> list[Told]:
    """Return up to ``PAGE`` entries of the course's operator, newest first, from ``below`` downward (inclusive)."""
    rows = Entry.objects.filter(log=course.operator.log)
    if below is not None:
        rows = rows.filter(seq__lte=below)
    if kind:
        rows = rows.filter(kind=kind)
    return list(_told(course, rows.order_by("-seq")[:PAGE]))


def told(course: Course, entry: Entry) -> Told:
    return next(_told(course, [entry]))


def _told(course: Course, entries: Iterable[Entry]) -> Iterator[Told]:
    found = [(entry, entry.record) for entry in entries]
    names = disclosed(record["act"].get("signer", {}).get("commit", "") for _entry, record in found)
    labels = _labels(record["act"] for _entry, record in found)
    asides = asides_in_words(record for _entry, record in found)
    for entry, record in found:
        act, signer = record["act"], record["act"].get("signer", {})
        yield Told(
            entry.seq,
            entry.t,
            str(KINDS.get(entry.kind, entry.kind)),
            asides.get(entry.seq) or ", ".join(_about(act, labels)),
            names.get(signer.get("commit", "")) or _("name erased"),
            str(KNOWN_BY.get(record["auth"].get("how", ""), record["auth"].get("how", ""))),
            record.get("sig", {}).get("key", "")[:8],
            said_apart(record),
            entry.kind,
        )


def _labels(acts: Iterable[dict[str, Any]]) -> dict[str, str]:
    """Return what places and parts are called, by identity, in two queries."""
    given = {str(value) for act in acts for name in ("place", "component", "id") if (value := act.get(name))}
    labels = {str(one.pk): str(one) for one in Place.objects.filter(pk__in=given)}
    return labels | {str(one.pk): f"{one.tag} {one.label}" for one in Component.objects.filter(pk__in=given)}


def _about(act: dict[str, Any], labels: dict[str, str]) -> Iterator[str]:
    if act.get("kind") in SUBJECTS:
        yield str(SUBJECTS[act["kind"]])
    for name in ("place", "component"):
        if str(act.get(name, "")) in labels:
            yield labels[str(act[name])]
    if not act.get("place") and str(act.get("id", "")) in labels:
        yield labels[str(act["id"])]
    if act.get("tag") and not act.get("component"):
        yield str(act["tag"])


@dataclass(frozen=True)
class Standing:
    """What a commitment stands for. ``is_note``: not the name of a person with a log-in, so it is erased by itself."""

    commit: str
    value: str
    is_note: bool


def content_of(entry: Entry) -> tuple[str, list[Standing]]:
    """Return (the stored content, laid out for reading; what its commitments stand for, as far as not erased)."""
    record = entry.record
    laid_out = json.dumps(record, indent=2, ensure_ascii=False, sort_keys=True)
    commits = sorted(set(_commits(record)))
    names = disclosed(commits)
    persons = {one for one, ref in named(record).commits.items() if ref}
    return laid_out, [Standing(one, names[one], one not in persons) for one in commits if names.get(one)]


def files_of(operator: Operator, entry: Entry) -> tuple[list[StoredFile], list[StoredFile]]:
    """Return the photos and papers that an entry names, those that were erased too."""
    here = named(entry.record)
    rows = StoredFile.objects.filter(operator=operator, sha256__in=here.photos | here.papers).order_by("sha256")
    kinds = StoredFile.Kind
    return [one for one in rows if one.kind == kinds.PHOTO], [one for one in rows if one.kind == kinds.PAPER]


def not_here_yet(operator: Operator, entry: Entry) -> list[str]:
    """Return the hashes of the photos that were still on a phone when an entry was recorded and are not here yet."""
    owed = owed_by(entry.record)
    return sorted(owed - kept_ever(operator.pk, owed))


def _commits(value: Any) -> Iterator[str]:
    """Yield everything in a record that has the shape of a commitment; what is none is simply not disclosed."""
    if isinstance(value, dict):
        for one in value.values():
            yield from _commits(one)
    elif isinstance(value, list):
        for one in value:
            yield from _commits(one)
    elif isinstance(value, str) and len(value) == 64 and all(sign in "0123456789abcdef" for sign in value):
        yield value
