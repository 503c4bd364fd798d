"""The table of rights, cell by cell, written a second time by hand.

Source: the project's own rules, none published: sign-off is the manager's, release a second person's, set-up is
proposed by one and confirmed by another, guides hold and report, an auditor reads the history, the set-up and who
may sign, and changes nothing.
"""

from datetime import timedelta

import pytest
from django.contrib.auth.models import AnonymousUser

from accounts import policy
from accounts.models import Operator, User
from accounts.policy import Right
from tests import make

#              guide technician manager engineer auditor
TABLE = """
see            x     x          x       x        .
read_history   .     x          x       x        x
inspect        .     x          .       x        .
withdraw       .     x          x       x        .
hold           x     x          x       x        .
report         x     x          x       x        .
lift           .     x          x       x        .
work           .     x          x       x        .
release        .     .          x       x        .
decide_watch   .     .          x       .        .
rule           .     .          .       x        .
sign_off       .     .          x       .        .
close          .     x          x       x        .
propose        .     .          x       x        .
confirm        .     .          x       x        .
people         .     .          x       .        .
forget         .     .          x       x        .
read_finding   x     x          x       x        x
read_setup     x     x          x       x        x
read_people    .     .          x       .        x
"""
ROLES = ("guide", "technician", "manager", "engineer", "auditor")
CELLS = [
    (role, line.split()[0], cell == "x")
    for line in TABLE.strip().splitlines()
    for role, cell in zip(ROLES, line.split()[1:], strict=True)
]


def test_the_table_has_every_right() -> None:
    assert {right for _, right, _ in CELLS} == {right.value for right in Right}


@pytest.mark.parametrize(("role", "right", "has"), CELLS)
def test_role_has_right(role: str, right: str, has: bool) -> None:
    assert (Right(right) in policy.RIGHTS_OF[role]) is has


def test_rights_of_two_roles_add_up(operator: Operator) -> None:
    person = make.person(operator, "manager", "technician", name="Ivo Nord")

    assert policy.may(person, operator.pk, Right.INSPECT, at=make.FOUNDED)
    assert policy.may(person, operator.pk, Right.SIGN_OFF, at=make.FOUNDED)


def test_who_is_not_logged_in_or_was_closed_has_no_right(operator: Operator) -> None:
    person = make.person(operator, "manager")
    person.is_active = False

    assert policy.rights_of(AnonymousUser(), operator.pk, at=make.FOUNDED) == frozenset()
    assert policy.rights_of(person, operator.pk, at=make.FOUNDED) == frozenset()


def test_a_superuser_has_no_right_at_an_operator(operator: Operator) -> None:
    root = User.objects.create_superuser("root@example.org", make.WORD, name="Root")

    assert policy.rights_of(root, operator.pk, at=make.FOUNDED) == frozenset()


def test_roles_count_from_their_beginning(operator: Operator) -> None:
    founder = make.founder_of(operator)

    assert policy.roles_of(founder, operator.pk, at=make.FOUNDED) == {"manager"}
    assert policy.roles_of(founder, operator.pk, at=make.FOUNDED - timedelta(seconds=1)) == frozenset()
