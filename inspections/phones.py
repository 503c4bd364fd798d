"""What phones owe: signed on them and not in the history yet, and phones that are away with today on them.

It comes from what the phones said of themselves (``actions.phones``), so it can hold a line and never open one. What
is owed ends when the act stands in the history, when its phone has it no longer (it was taken back there), when a
manager has set it aside, or when it is too old to be taken (``stands_of``). A hold, and what takes something out of
service, does not end by being taken back: others were told of it, so that a manager sets it aside, unless what was
signed in its place has arrived (``is_put_right``).
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any
from uuid import UUID

from django.db.models import Exists, OuterRef, QuerySet
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from accounts import policy
from accounts.deeds import WORSENING
from accounts.models import Role
from accounts.policy import RIGHTS_OF, Right
from accounts.signing import ALONE, OLD_PAGE
from courses.models import Course, Place
from courses.queries import Setup
from inspections.phone_model import Phone
from ledger import chain
from ledger.actions import as_text
from ledger.models import Entry, Log

# What can be signed on a phone. Whether its person may sign it is asked when it arrives: until then it can only hold.
KINDS = frozenset(
    {
        "sheet", "amendment", "ride", "hold", "hold-renewed", "hold-told", "finding-opened", "finding-note",
        "finding-work", "finding-reinspection",
    }
)  # fmt: skip
# Their place is that of their page; a hold of the whole course is called from the page of a line, too.
OF_PAGE = frozenset({"sheet", "amendment", "ride"})
OUT, HOLDS = "finding-opened", frozenset({"hold", "hold-renewed"})
# By what a deed that was signed anew is known for the same: {as a phone tells it: as its act names it}.
PUT_RIGHT = {
    "sheet": {"place": "place", "section": "section"},
    "hold": {"place": "place"},
    OUT: {"place": "place", "part": "component"},
}
OTHER = "other"  # something signed of which this service cannot read what it is: by a newer program, perhaps
SPEAKS = frozenset({Right.INSPECT, Right.REPORT})  # without one of them nothing can be signed on a phone
AWAY = timedelta(minutes=5)  # judgement: a phone in use says hello every two minutes, so that two were missed
SHOWN = timedelta(days=7)  # how long a phone that was not seen again is told of
# What is ticked before the day is signed past them. The words stand in the entry: others may be asked in other years.
TICK = gettext_lazy("I have asked them by radio. Nothing they hold back changes what I sign.")
_PLACE = re.compile(r"/(?:sheet|rack|ride|line)/([0-9a-f-]{36})/")
_SECTION = re.compile(r"/(sheet|rack)/[0-9a-f-]{36}/([^/?#]{1,60})/")
_COURSE = re.compile(r"^/course/([0-9a-f-]{36})/")


@dataclass(frozen=True)
class Owed:
    """One deed that a phone said it holds.

    ``is_out``: it takes something out of service when it arrives. ``is_unknown``: something is "not checked" in it.

    ``may_come``: who signed it, or who told of it, may still sign something here. Anything else would not be taken when
    it arrives; it is told and asked for, and holds nothing.
    """

    id: str
    kind: str
    title: str
    ref: str
    place: UUID | None
    part: UUID | None
    is_out: bool
    is_unknown: bool
    since: datetime
    gone_at: datetime | None
    aside_at: datetime | None
    aside_by: str
    may_come: bool = True
    is_put_right: bool = False

    @property
    def worsens(self) -> bool:
        """Tell whether it holds a line by itself, or takes something out of service."""
        return self.kind in HOLDS or self.kind == OUT or self.is_out

    @property
    def is_taken_back(self) -> bool:
        """Tell whether its phone has it no longer, and nothing waits for it."""
        return self.gone_at is not None and not (self.worsens and self.may_come and not self.is_put_right)


@dataclass(frozen=True)
class Seen:
    """One phone in one person's hands, with what it owes of one course, what was taken back on it and set aside."""

    id: UUID
    phone: UUID
    name: str
    ref: str
    seen_at: datetime
    has: date | None
    owes: tuple[Owed, ...] = ()
    taken_back: tuple[Owed, ...] = ()
    aside: tuple[Owed, ...] = ()

    def is_away(self, on: date, at: datetime) -> bool:
        """Tell whether it has the pages of a day with it and was not heard of for a while."""
        return self.has == on and at - self.seen_at > AWAY


def course_of(page: str) -> UUID | None:
    """Return the course that an address is about."""
    return uuid_of(found[1]) if (found := _COURSE.match(page)) else None


def place_of(page: str) -> UUID | None:
    """Return the place that an address is about."""
    return uuid_of(found[1]) if (found := _PLACE.search(page)) else None


def section_of(page: str) -> str:
    """Return the section of a sheet, or the rack, that an address is about, as the act names it; "" for none."""
    found = _SECTION.search(page)
    if found is None:
        return ""
    return f"rack:{found[2]}" if found[1] == "rack" else found[2]


def uuid_of(text: Any) -> UUID | None:
    try:
        return UUID(text)
    except (TypeError, ValueError, AttributeError):
        return None


def phones_of(course: Course, *, at: datetime, within: timedelta = ALONE) -> list[Seen]:
    """Return the phones that were seen within ``within`` or owe something, the newest first.

    Two queries, one where nothing is owed.

    A deed that two people's log-ins told of from one phone is told once, with whoever signed it. Told of by another
    phone, or as something else, it counts beside that: nobody can say what is on a phone but that phone.
    """
    of_person = _speaking(course, at).filter(user=OuterRef("person"))
    rows = list(
        Phone.objects.filter(operator=course.operator_id, seen_at__gte=at - max(within, OLD_PAGE))
        .annotate(speaks=Exists(of_person))
        .select_related("person")
        .order_by("-seen_at", "pk")
    )
    said = [(row, one) for row in rows for one in row.owes if one["course"] == str(course.pk)]
    arrived = _arrived(course.operator.log, {one["id"] for _row, one in said})
    told: dict[tuple[Any, ...], tuple[Phone, dict[str, Any]]] = {}
    for row, one in said:
        telling = row.phone, *telling_of(one)
        before = told.get(telling)
        if (one["id"], one["ref"]) not in arrived and (before is None or _says_more(row, one, before)):
            told[telling] = (row, one)
    speakers = {row.person.ref for row in rows if row.speaks}
    if others := {one["ref"] for _row, one in told.values()} - {row.person.ref for row in rows}:
        speakers |= set(_speaking(course, at).filter(user__ref__in=others).values_list("user__ref", flat=True))
    mended = _put_right(course.operator.log, [one for _row, one in told.values() if "gone_at" in one])

    def owed(row: Phone, one: dict[str, Any]) -> Owed:
        return replace(_owed(one, speakers & {row.person.ref, one["ref"]}), is_put_right=one["id"] in mended)

    found = (_seen(row, [owed(row, one) for by, one in told.values() if by is row], at) for row in rows)
    return _told_apart([one for one in found if at - one.seen_at <= within or one.owes or one.aside])


def _told_apart(phones: list[Seen]) -> list[Seen]:
    """Return phones with the end of their identity in the name where one person has several.

    The page of what is on a phone shows it too, so that it can be asked for by radio.
    """
    several = Counter(one.ref for one in phones)
    return [
        replace(one, name=_("%(name)s, phone %(mark)s") % {"name": one.name, "mark": str(one.phone)[-4:].upper()})
        if several[one.ref] > 1
        else one
        for one in phones
    ]


def stands_of(kind: str) -> timedelta:
    """Return how long something is owed after its phone first told of it: as long as it would be taken.

    What cannot be read may be a hold.
    """
    return OLD_PAGE if kind in WORSENING or kind == OTHER else ALONE


def telling_of(one: dict[str, Any]) -> tuple[str, ...]:
    """Return what a phone says of a deed, as far as that decides what it may hold."""
    return tuple(str(one.get(name, "")) for name in ("id", "kind", "place", "part", "out", "unknown"))


def _says_more(row: Phone, one: dict[str, Any], before: tuple[Phone, dict[str, Any]]) -> bool:
    """Tell whether a second telling of a deed counts: set aside counts, then owed, then whoever signed it."""

    def weight(row: Phone, one: dict[str, Any]) -> tuple[bool, bool, bool]:
        return "aside_at" in one, "gone_at" not in one, one["ref"] == row.person.ref

    return weight(row, one) > weight(*before)


def _arrived(log: Log, ids: set[str]) -> set[tuple[str, str]]:
    """Return which acts stand in the history, each with whoever signed it: of another person it is not the one."""
    if not ids:
        return set()
    rows = Entry.objects.filter(log=log, act_id__in=ids).values_list("act_id", "data")
    return {(str(act), chain.parse(bytes(data))["act"]["signer"]["ref"]) for act, data in rows}


def _put_right(log: Log, gone: list[dict[str, Any]]) -> set[str]:
    """Return what its person has signed anew since, of what a phone has no longer.

    A sheet of the same place and section, a hold of the same place, or the same part taken out of service. Whether two
    findings by hand are about the same nobody can tell but who was there.
    """
    kinds = {one["kind"] for one in gone if one["kind"] in PUT_RIGHT}
    if not kinds:
        return set()
    since = min(datetime.fromisoformat(one["since"]) for one in gone)
    later = [
        (row.kind, row.t, row.record["act"]) for row in Entry.objects.filter(log=log, kind__in=kinds, t__gte=since)
    ]
    return {
        one["id"]
        for one in gone
        for kind, t, act in later
        if kind == one["kind"]
        and t >= datetime.fromisoformat(one["since"])
        and act["signer"]["ref"] == one["ref"]
        and _same(one, act)
    }


def _same(one: dict[str, Any], act: dict[str, Any]) -> bool:
    return all(one.get(told) and one[told] == act.get(name) for told, name in PUT_RIGHT[one["kind"]].items())


def _speaking(course: Course, at: datetime) -> QuerySet[Role]:
    """Return the roles by which somebody may sign something on a phone at a course now."""
    kinds = [kind for kind, rights in RIGHTS_OF.items() if rights & SPEAKS]
    return Role.objects.filter(policy.current(at), operator=course.operator_id, kind__in=kinds, user__is_active=True)


def _owed(one: dict[str, Any], speakers: set[str]) -> Owed:
    times = {name: datetime.fromisoformat(one[name]) if name in one else None for name in ("gone_at", "aside_at")}
    return Owed(
        one["id"],
        one["kind"],
        one["title"],
        one["ref"],
        uuid_of(one.get("place")),
        uuid_of(one.get("part")),
        bool(one.get("out")),
        bool(one.get("unknown")),
        datetime.fromisoformat(one["since"]),
        times["gone_at"],
        times["aside_at"],
        one.get("aside_by", ""),
        bool(speakers),
    )


def _seen(row: Phone, found: list[Owed], at: datetime) -> Seen:
    fresh = [one for one in found if at - one.since <= stands_of(one.kind)]
    waits = [one for one in fresh if one.aside_at is None]
    return Seen(
        row.pk,
        row.phone,
        row.person.name,
        row.person.ref,
        row.seen_at,
        row.has,
        tuple(one for one in waits if not one.is_taken_back),
        tuple(one for one in waits if one.is_taken_back and one.gone_at and at - one.gone_at <= ALONE),
        tuple(one for one in fresh if one.aside_at is not None),
    )


def to_ask(phones: Iterable[Seen], on: date, at: datetime, *, walked: bool = False) -> frozenset[str]:
    """Return what has to be asked by radio before the day is signed: acts that are owed, and phones that are away.

    ``walked``: nothing of the walk is left, so that a phone that is not heard of lies in a pocket. Who were asked to
    radio for that every morning would soon tick without asking.
    """
    found = {one.id for phone in phones for one in phone.owes}
    return frozenset(found | {str(phone.id) for phone in phones if not walked and phone.is_away(on, at)})


def phones_record(phones: Iterable[Seen], on: date, at: datetime, *, walked: bool = False) -> list[dict[str, Any]]:
    """Return what the entry of a signing says of the phones that were asked after: whose, what kind, where, since when.

    No name, no title, no free text. ``ticked`` is what the signer has said of them: without it nothing is signed past
    a phone that owes something or is away (``actions.sign_off``).
    """
    seen = [(phone, not walked and phone.is_away(on, at)) for phone in phones]
    return [
        {
            "ref": phone.ref,
            "seen_at": as_text(phone.seen_at),
            **({"away": "yes"} if is_away else {}),
            **({"owes": [as_record(one) for one in phone.owes]} if phone.owes else {}),
            **({"aside": [as_record(one) for one in phone.aside]} if phone.aside else {}),
            **({"ticked": str(TICK)} if phone.owes or is_away else {}),
        }
        for phone, is_away in seen
        if phone.owes or phone.aside or is_away
    ]


def as_record(one: Owed) -> dict[str, str]:
    """Return what an entry says of one deed that was owed: ``ref`` is whoever signed it."""
    found = {"id": one.id, "kind": one.kind, "place": str(one.place or ""), "part": str(one.part or "")}
    found |= {"out": "yes" if one.is_out else "", "ref": one.ref, "since": as_text(one.since)}
    return {name: value for name, value in found.items() if value}


def holding(phones: Iterable[Seen], setup: Setup, line: Place) -> list[Owed]:
    """Return what is owed that may hold a line once it arrives.

    Holds, what takes something out of service, and sheets in which something is "not checked".

    Where the phone does not say which place it is about, or what it is, every line is meant. Pooled gear holds no
    line.
    """
    return [one for phone in phones for one in phone.owes if one.may_come and _would_hold(one, setup, line)]


def _would_hold(one: Owed, setup: Setup, line: Place) -> bool:
    if one.kind == OTHER:
        return True
    if not (one.kind in HOLDS or one.kind == OUT or one.is_out or one.is_unknown):
        return False
    place = setup.places.get(one.place) if one.place else None
    if place is None:
        return True
    if place.kind == Place.Kind.STORE and one.kind not in HOLDS:
        return one.kind == OUT and one.part not in {fitted.component.pk for fitted in setup.at_place(place)}
    if place.kind in {Place.Kind.HOUSE, Place.Kind.STORE}:
        return True
    return place.pk in {line.pk, line.launch_id, line.landing_id}
