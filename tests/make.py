"""Builders of what tests stand on. They call the actions, so nothing exists in a test that could not exist in use.

Names are invented. Every person has the same password; every deed is given at an instant that the test can name.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from itertools import count
from typing import Any

from accounts import actions as people_actions
from accounts.deeds import COMMAND, PASSWORD, Deed
from accounts.models import Operator, Role, User
from courses import actions as course_actions
from courses.models import Course, Place

WORD = "nine wet larches"  # everybody's password
FOUNDED = datetime(2026, 5, 1, 8, 0, tzinfo=UTC)
ZONE = "Europe/Vienna"

NAMES = {
    Role.Kind.GUIDE: "Gesa Lorn",
    Role.Kind.TECHNICIAN: "Tarik Oben",
    Role.Kind.MANAGER: "Mirte Valk",
    Role.Kind.ENGINEER: "Edda Quist",
    Role.Kind.AUDITOR: "Aino Rehm",
}
_number = count(1)


def deed(by: User, *, at: datetime = FOUNDED, how: str = PASSWORD, **more: Any) -> Deed:
    """Return a deed signed with the password, which is enough for everything but founding."""
    return Deed(by=by, at=at, how=how, **more)


def account(name: str = "Nobody Yet", *, email: str = "", **fields: Any) -> User:
    """Return an account that belongs to no operator."""
    return User.objects.create_user(email or f"person{next(_number)}@example.org", WORD, name=name, **fields)


def operator(name: str = "Kestrel Hollow", *, tz: str = ZONE, at: datetime = FOUNDED) -> Operator:
    """Return an operator with a founder who is its first manager and takes part in nothing else."""
    founder = account("Founder Person")
    return people_actions.found_operator(name, tz=tz, deed=Deed(by=founder, at=at, how=COMMAND))


def founder_of(operator: Operator) -> User:
    return User.objects.filter(roles__operator=operator, roles__kind=Role.Kind.MANAGER).earliest("roles__since")


def person(
    operator: Operator, *kinds: str, name: str = "", email: str = "", by: User | None = None, at: datetime = FOUNDED
) -> User:
    """Return a person with these roles who has chosen a password."""
    name = name or NAMES[Role.Kind(kinds[0])]
    email = email or f"{name.split()[0].lower()}{next(_number)}@example.org"
    user = people_actions.invite(operator, email, name, kinds, deed=deed(by or founder_of(operator), at=at))
    user.set_password(WORD)
    user.save(update_fields=["password"])
    return user


def staff(operator: Operator, *, at: datetime = FOUNDED) -> dict[str, User]:
    """Return one person for each role, by the role's name; the two who inspect are authorised for everything."""
    founder = founder_of(operator)
    found = {kind.value: person(operator, kind, by=founder, at=at) for kind in Role.Kind}
    for kind in ("technician", "engineer"):
        people_actions.authorise(
            operator, found[kind], "any", (at + timedelta(days=365)).date(), deed=deed(founder, at=at)
        )
    return found


def course(operator: Operator, name: str = "Kestrel Hollow Lines", *, at: datetime = FOUNDED, **more: Any) -> Course:
    """Return a course with its gear store and course house."""
    return course_actions.found_course(
        operator, name=name, **{"tz": operator.tz, **more}, deed=deed(founder_of(operator), at=at)
    )


def place(course: Course, kind: str, number: int, name: str, *, at: datetime = FOUNDED, **ends: Place) -> Place:
    return course_actions.add_place(
        course, kind=kind, number=number, name=name, **ends, deed=deed(founder_of(course.operator), at=at)
    )


def line(course: Course, number: int = 1, name: str = "Heron", *, at: datetime = FOUNDED) -> Place:
    """Return a line with two platforms of its own."""
    launch = place(course, Place.Kind.PLATFORM, 2 * number - 1, f"{name} launch", at=at)
    landing = place(course, Place.Kind.PLATFORM, 2 * number, f"{name} landing", at=at)
    return place(course, Place.Kind.LINE, number, name, launch=launch, landing=landing, at=at)
