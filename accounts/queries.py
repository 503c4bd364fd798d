"""The people of an operator as one picture, in a number of queries that does not grow with them."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from uuid import UUID

from accounts.models import Authorisation, Operator, Role, User

SOON = timedelta(days=30)


@dataclass(frozen=True)
class HeldRole:
    role: Role
    last_day: date | None  # of a role that ends by itself, or that was ended


@dataclass(frozen=True)
class HeldAuthorisation:
    authorisation: Authorisation
    state: str  # ok, watch (ends soon) or unknown (ran out: what is inspected under it counts as not checked)


@dataclass
class Person:
    """One person as seen from one operator."""

    user: User
    roles: list[HeldRole] = field(default_factory=list)
    past_roles: list[HeldRole] = field(default_factory=list)
    authorisations: list[HeldAuthorisation] = field(default_factory=list)

    @property
    def is_waited_for(self) -> bool:
        """Has roles, but has not chosen a password yet."""
        return bool(self.roles) and not self.user.has_usable_password()

    @property
    def worst(self) -> str:
        """The worst state among the authorisations, ``ok`` where there is none."""
        states = {held.state for held in self.authorisations}
        return "unknown" if "unknown" in states else "watch" if "watch" in states else "ok"


def people(operator: Operator, *, at: datetime, only: UUID | None = None) -> list[Person]:
    """Return everybody who has or had a role here, by name. Two queries."""
    roles = Role.objects.filter(operator=operator).select_related("user").order_by("since", "kind")
    granted = Authorisation.objects.filter(operator=operator, ended_at__isnull=True).order_by("subject")
    if only is not None:
        roles, granted = roles.filter(user=only), granted.filter(user=only)
    found: dict[UUID, Person] = {}
    for role in roles:
        person = found.setdefault(role.user_id, Person(role.user))
        is_held = role.since <= at and (role.until is None or role.until > at)
        last_day = None if role.until is None else operator.last_day(role.until)
        (person.roles if is_held else person.past_roles).append(HeldRole(role, last_day))
    today = operator.date_at(at)
    by_user: dict[UUID, list[HeldAuthorisation]] = defaultdict(list)
    for authorisation in granted:
        by_user[authorisation.user_id].append(HeldAuthorisation(authorisation, _state(authorisation.until, today)))
    for pk, person in found.items():
        person.authorisations = by_user[pk]
    return sorted(found.values(), key=lambda person: (person.user.name.casefold(), person.user.email))


def _state(until: date, today: date) -> str:
    if until < today:
        return "unknown"
    return "watch" if until - today <= SOON else "ok"
