"""What entries say of phones that owed something: what became of it, and what was said of an entry before it came.

An act is found by its identity, of which the history has an index; who named it before it came is asked of the two
kinds of entries that do, and only of those of the days before.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.utils.dateparse import parse_datetime
from django.utils.translation import gettext as _

from accounts.signing import OLD_PAGE
from courses.models import Place
from inspections.owed_words import Known, known_of, words_of
from inspections.owing import seq_before
from inspections.phone_words import few_of
from inspections.phones import KINDS, uuid_of
from ledger.erasures import owed_by
from ledger.models import Entry, Log
from ledger.search import naming

ASIDE, SIGNED, CAME = "phone-aside", "sign-off", "photo-arrived"


@dataclass(frozen=True)
class Thing:
    """One deed that an entry names as owed. Entries of the time before do not say whose and since when: "" and None.

    ``came``: the entry by which it arrived all the same, where it did.
    """

    what: str
    whose: str
    since: datetime | None
    seen_at: datetime | None
    is_aside: bool
    came: int | None
    came_at: datetime | None


@dataclass(frozen=True)
class Before:
    """That an entry named something as owed before it came. ``is_by_itself``: to set it aside, not to sign the day."""

    seq: int
    is_aside: bool
    is_by_itself: bool


@dataclass(frozen=True)
class Photo:
    """Of what a photo is that came by itself."""

    seq: int
    place: str


@dataclass(frozen=True)
class Arrival:
    """When a photo that an entry owed came, and by which entry; None where it came along with another deed."""

    at: datetime
    seq: int | None


Named = tuple[dict[str, Any], dict[str, Any], bool]  # the deed, the phone, whether it is set aside


def _named(record: dict[str, Any]) -> Iterator[Named]:
    act, judged = record["act"], record.get("judged", {})
    if record["kind"] == ASIDE:
        one = {name: act[name] for name in ("kind", "place", "part", "out", "ref", "since") if name in act}
        for thing in act.get("all_owed") or [{"id": act.get("owed", ""), **one}]:
            yield thing, judged, True
    elif record["kind"] == SIGNED:
        for phone in judged.get("phones", ()):
            for name in ("owes", "aside"):
                for thing in phone.get(name, ()):
                    yield thing, phone, name == "aside"


def things_of(log: Log, record: dict[str, Any]) -> list[Thing]:
    """Return what an entry names as owed by phones."""
    found = list(_named(record))
    if not found:
        return []
    known = _known(found)
    arrived = {act: (ref, entry) for act, ref, entry in _arrived(log, [one["id"] for one, _p, _a in found])}
    things = []
    for one, phone, is_aside in found:
        ref, came = arrived.get(one["id"], ("", None))
        if one.get("ref", ref) != ref:
            came = None
        things.append(
            Thing(
                words_of(one, known, phone_of=phone.get("ref", "")),
                known.name(phone.get("ref", "")),
                parse_datetime(one.get("since", "")),
                parse_datetime(phone.get("seen_at", "")),
                is_aside,
                came.seq if came else None,
                came.t if came else None,
            )
        )
    return things


def _known(found: Iterable[Named]) -> Known:
    found = list(found)
    return known_of([one for one, _phone, _aside in found], [phone.get("ref", "") for _one, phone, _aside in found])


def _arrived(log: Log, acts: Iterable[str]) -> Iterator[tuple[str, str, Entry]]:
    """Yield the acts that stand in the history, with who signed each: of another person it is not the one."""
    for entry in Entry.objects.filter(log=log, act_id__in=filter(uuid_of, acts)):
        yield str(entry.act_id), entry.record["act"]["signer"]["ref"], entry


def asides_in_words(records: Iterable[dict[str, Any]]) -> dict[int, str]:
    """Return what was set aside and whose it was, by the number of the entry that did; three queries at most."""
    found = {record["seq"]: list(_named(record)) for record in records if record["kind"] == ASIDE}
    if not found:
        return {}
    known = _known(one for named in found.values() for one in named)
    return {seq: few_of([_in_words(one, phone, known) for one, phone, _aside in named]) for seq, named in found.items()}


def _in_words(one: dict[str, Any], phone: dict[str, Any], known: Known) -> str:
    what = words_of(one, known, phone_of=phone.get("ref", ""))
    if not phone.get("ref"):
        return what
    return _("%(what)s (%(name)s)") % {"what": what, "name": known.name(phone["ref"])}


def named_before(log: Log, entry: Entry) -> list[Before]:
    """Return the entries that named an act as owed before it came, the oldest first."""
    if entry.kind not in KINDS:
        return []
    act, ref = str(entry.act_id), entry.record["act"]["signer"]["ref"]
    since = seq_before(log, entry.t - OLD_PAGE)
    rows = naming(log, act).filter(kind__in=(ASIDE, SIGNED), seq__gte=since, seq__lt=entry.seq)
    return [
        Before(row.seq, any(said), row.kind == ASIDE)
        for row in rows.order_by("seq")
        if (said := [aside for one, _p, aside in _named(row.record) if one["id"] == act and one.get("ref", ref) == ref])
    ]


def photo_of(log: Log, record: dict[str, Any]) -> Photo | None:
    """Return the entry that a photo which came by itself belongs to, and the place that it is about."""
    act = uuid_of(record["act"].get("of")) if record["kind"] == CAME else None
    entry = Entry.objects.filter(log=log, act_id=act).order_by("seq").first() if act else None
    if entry is None:
        return None
    place = uuid_of(entry.record["act"].get("place"))
    found = Place.objects.filter(pk=place).first() if place else None
    return Photo(entry.seq, str(found or ""))


def arrivals_of(log: Log, entry: Entry, kept: dict[str, datetime]) -> dict[str, Arrival]:
    """Return when the photos came that an entry named and that were not here then, by hash.

    ``kept``: when what is kept here came, by hash.
    """
    owed = owed_by(entry.record)
    found: dict[str, Arrival] = {one: Arrival(at, None) for one, at in kept.items() if one in owed}
    for one in found:
        since = seq_before(log, found[one].at)
        rows = naming(log, one).filter(kind=CAME, seq__gte=since, seq__gt=entry.seq)
        if came := rows.order_by("seq").first():
            found[one] = Arrival(came.t, came.seq)
    return found
