"""What phones say of themselves is kept, beside the history: when one was seen, what it owes, what is set aside."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Collection, Mapping, Sequence
from datetime import date, datetime
from typing import Any
from uuid import UUID, uuid5

from django.db import transaction
from django.db.models import Q
from django.utils.translation import gettext as _

from accounts import policy
from accounts.deeds import Deed, demand, note
from accounts.models import User
from accounts.policy import Right
from accounts.signing import OLD_PAGE
from courses.models import Course
from inspections.entering import begin, enter
from inspections.errors import Refused
from inspections.phone_model import Phone
from inspections.phones import (
    HOLDS,
    KINDS,
    OF_PAGE,
    OTHER,
    OUT,
    SHOWN,
    SPEAKS,
    course_of,
    place_of,
    section_of,
    stands_of,
    telling_of,
    uuid_of,
)
from ledger.actions import as_text
from ledger.models import Entry

MOST_HELD = 200
MOST_PHONES = 20  # of one person within SHOWN; whoever empties the storage of a phone makes another one of it
LONGEST = {"title": 120, "made_at": 40}
_REF = re.compile(r"p-[0-9a-f]{12}")

Told = dict[str, Any]


@transaction.atomic
def say_hello(person: User, phone: UUID, *, held: Sequence[Any], has: date | None, at: datetime) -> None:
    """Keep what a phone says it holds, at every operator of the person; what it holds no longer was taken back on it.

    ``held``: [{id, kind, title, made_at, page, place, part, out, ref}] as the phone sends it, the last four where it
    knows them. What cannot be read of it is something that may hold any line: it silences nothing beside it. Raises
    Refused where one person has used too many phones.
    """
    courses = dict(Course.objects.filter(operator__roles__user=person).values_list("pk", "operator_id"))
    rights = {one: policy.rights_of(person, one, at=at) for one in set(courses.values())}
    rights = {one: own for one, own in rights.items() if own & SPEAKS}
    told = _by_operator(person, phone, held, courses, rights, at)
    if not rights:
        return
    rows = list(
        Phone.objects.select_for_update().filter(Q(phone=phone) | Q(person=person), operator__in=rights).order_by("pk")
    )
    for operator in rights:
        of_person = [row for row in rows if row.operator_id == operator and row.person_id == person.pk]
        own = next((row for row in of_person if row.phone == phone), None)
        if own is None:
            _make_room(operator, of_person, at)
            own = Phone(operator_id=operator, phone=phone, person=person)
        own.seen_at = at
        own.has = has if Right.INSPECT in rights[operator] else None
        own.owes = _merged(own.owes, told[operator], at)
        fields = ["seen_at", "has", "owes"]
        Phone.objects.bulk_create(
            [own], update_conflicts=True, unique_fields=["operator", "phone", "person"], update_fields=fields
        )
        for row in rows:
            if row.operator_id == operator and row.phone == phone and row.person_id != person.pk:
                _take_back(row, person.ref, told[operator], at)


def _by_operator(
    person: User,
    phone: UUID,
    held: Sequence[Any],
    courses: Mapping[UUID, UUID],
    operators: Collection[UUID],
    at: datetime,
) -> dict[UUID, dict[str, Told]]:
    """Return what is held as it is kept, by operator and by the identity of the act; all beyond MOST_HELD as one."""
    found: dict[UUID, dict[str, Told]] = {operator: {} for operator in operators}
    nowhere = []
    for one in [*held[:MOST_HELD], *(["more"] if len(held) > MOST_HELD else [])]:
        told = _told(person, phone, one, at)
        course = course_of(told.pop("page"))
        if course is None:
            nowhere.append(told | {"kind": OTHER})
        elif (operator := courses.get(course)) in found:  # else of one where this person has nothing to do any more
            found[operator][told["id"]] = told | {"course": str(course)}
    for told in nowhere:  # it may be of any of their courses, and is set aside at each by itself
        for course, operator in courses.items():
            if operator in found:
                own = str(uuid5(course, told["id"]))
                found[operator][own] = told | {"id": own, "course": str(course)}
    return found


def _told(person: User, phone: UUID, one: Any, at: datetime) -> Told:
    """Return one deed as a phone names it, its sizes bounded; what it is stays open where that cannot be read."""
    given = one if isinstance(one, dict) else {}
    text = {name: _plain(value) for name, value in given.items() if isinstance(value, str)}
    act, kind, page = uuid_of(text.get("id")), text.get("kind", ""), text.get("page", "")
    if act is None or kind not in KINDS:
        kind = OTHER
    # Without an identity of its own it has one that is the same whenever this phone tells of it.
    act = act or uuid5(phone, json.dumps(one, sort_keys=True))
    ref = text.get("ref", "")
    place, part = uuid_of(text.get("place")), uuid_of(text.get("part"))
    if place is None and kind in OF_PAGE:
        place = place_of(page)
    found = {"id": str(act), "kind": kind, "ref": ref if _REF.fullmatch(ref) else person.ref}
    found |= {name: text.get(name, "")[:longest] for name, longest in LONGEST.items()}
    found |= {"place": str(place or ""), "part": str(part or ""), "out": "yes" if given.get("out") else ""}
    found["unknown"] = "yes" if given.get("unknown") else ""
    found["section"] = section_of(page) if kind == "sheet" else ""
    kept = {name: value for name, value in found.items() if value or name == "title"}
    return kept | {"page": page, "since": as_text(at)}


def _plain(text: str) -> str:
    """Return a text without signs that no database keeps."""
    return "".join(sign for sign in text if sign.isprintable())


def _merged(before: Sequence[Told], told: Mapping[str, Told], at: datetime) -> list[Told]:
    """Return what is kept of a phone: what it holds, since when that is known, and what it held until lately."""
    known = {one["id"]: one for one in before}
    kept = ("since", "aside_at", "aside_by")
    found = [one | {name: known[id][name] for name in kept if name in known.get(id, {})} for id, one in told.items()]
    for one in before:
        last = datetime.fromisoformat(one["gone_at"] if "gone_at" in one else one["since"])
        if one["id"] not in told and at - last <= stands_of(one["kind"]):
            found.append({"gone_at": as_text(at)} | one)
    return found[: 2 * MOST_HELD]


def _take_back(row: Phone, ref: str, told: Mapping[str, Told], at: datetime) -> None:
    """Note on what somebody else told of the same phone that whoever signed it has it there no longer."""
    found = [{"gone_at": as_text(at)} | one if one["ref"] == ref and one["id"] not in told else one for one in row.owes]
    if found != row.owes:
        row.owes = found
        row.save(update_fields=["owes"])


def _make_room(operator: UUID, of_person: Sequence[Phone], at: datetime) -> None:
    """Forget phones that were not seen for a week and owe nothing; refuse one more where one person has too many."""
    past = Q(seen_at__lt=at - OLD_PAGE) | Q(seen_at__lt=at - SHOWN, owes=[])
    Phone.objects.filter(past, operator=operator).delete()
    if sum(1 for row in of_person if row.seen_at >= at - SHOWN) >= MOST_PHONES:
        raise Refused("phones-many", _("This person has used too many phones this week."))


def put_away(person: User, phone: UUID) -> None:
    """Note that a person has logged out on a phone: it shows no pages of today any more. What it owes it still owes."""
    Phone.objects.filter(person=person, phone=phone).update(has=None)


def set_aside(course: Course, phone: Phone, act: str, *, text: str = "", deed: Deed) -> Entry:
    """Let one deed that a phone owes hold nothing back any more; if it arrives all the same it counts as ever.

    The entry names the act that was owed, what kind it was, where, whose and since when, so that it can be read later
    who let a line open past what; ``text`` is what was answered by radio. Raises Refused where the phone owes it not.
    """
    return _set_aside(course, phone, {act}, text, deed, lambda owed: {"owed": act, **_as_record(owed[0])})


def set_all_aside(course: Course, phone: Phone, acts: Collection[str], *, text: str = "", deed: Deed) -> Entry:
    """Do the same with all of ``acts`` that a phone owes, by one entry that names each of them.

    What it has told of since they were shown is not among them, and stays owed.
    """
    return _set_aside(
        course,
        phone,
        acts,
        text,
        deed,
        lambda owed: {"all_owed": [{"id": one["id"], **_as_record(one)} for one in owed]},
    )


@transaction.atomic
def _set_aside(
    course: Course,
    phone: Phone,
    acts: Collection[str],
    text: str,
    deed: Deed,
    body: Callable[[list[Told]], dict[str, Any]],
) -> Entry:
    demand(deed, course.operator_id, Right.SIGN_OFF)
    begin(course, deed)
    rows = list(Phone.objects.select_for_update().filter(phone=phone.phone, operator=course.operator_id))
    owed = [
        one
        for row in rows
        if row.pk == phone.pk
        for one in row.owes
        if one["id"] in acts and one["course"] == str(course.pk) and _waits(one)
    ]
    if not owed:
        raise Refused("phone-owes-not", _("This phone does not owe it any more."))
    tellings = {telling_of(one) for one in owed}
    for row in rows:
        for one in row.owes:
            if telling_of(one) in tellings and _waits(one):
                one.setdefault("aside_at", as_text(deed.at))
                one.setdefault("aside_by", deed.by.ref)
        row.save(update_fields=["owes"])
    judged = {"seen_at": as_text(phone.seen_at), "ref": phone.person.ref}
    said = {"note": note(course.operator.log, text)} if text.strip() else {}
    return enter(course, "phone-aside", body(owed) | said, deed=deed, judged=judged, begun=True)


def _waits(one: Told) -> bool:
    """Tell whether something may wait for it: taken back on its phone only what worsens (``phones.Owed``) does."""
    return "gone_at" not in one or one["kind"] in {*HOLDS, OUT} or bool(one.get("out"))


def _as_record(one: Told) -> dict[str, str]:
    return {name: one[name] for name in ("kind", "place", "part", "out", "ref", "since") if name in one}
