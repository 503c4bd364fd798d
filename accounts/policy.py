"""Who may do what: plain questions about a person and an operator, asked by actions, access functions and pages."""

from __future__ import annotations

from datetime import datetime
from enum import StrEnum
from typing import Any
from uuid import UUID

from django.db.models import Q

from accounts.models import Role


class Right(StrEnum):
    SEE = "see"  # board, walk, findings of a running day
    READ_HISTORY = "read_history"  # past days, papers, exports
    INSPECT = "inspect"  # fill in and sign sheets, test rides
    WITHDRAW = "withdraw"  # take an item out of service, open a finding
    HOLD = "hold"  # hold a line or the course
    REPORT = "report"  # tell of a hard stop, an object on the line
    LIFT = "lift"  # reopen after a hold
    WORK = "work"  # record a repair or a re-inspection
    RELEASE = "release"  # put back into service
    DECIDE_WATCH = "decide_watch"  # let a watch stay open until a date
    RULE = "rule"  # rule in writing on a major finding
    SIGN_OFF = "sign_off"  # open and close lines for the day
    CLOSE = "close"  # close the day with rider counts
    READ_FINDING = "read_finding"  # the page of one finding, whenever it was
    READ_SETUP = "read_setup"  # lines, checklists, limits, who changed them and when
    READ_PEOPLE = "read_people"  # who may sign, since when, authorised for what
    PROPOSE = "propose"  # propose a change of set-up
    CONFIRM = "confirm"  # confirm somebody else's change of set-up
    PEOPLE = "people"  # invite people, give and take roles
    FORGET = "forget"  # ask that a name, note, photo or paper be erased; confirm it in the other role


_TECHNICIAN = {
    Right.SEE, Right.READ_HISTORY, Right.READ_SETUP, Right.READ_FINDING, Right.INSPECT, Right.WITHDRAW,
    Right.HOLD, Right.REPORT, Right.LIFT, Right.WORK, Right.CLOSE,
}  # fmt: skip
_MANAGER = _TECHNICIAN - {Right.INSPECT} | {
    Right.RELEASE, Right.DECIDE_WATCH, Right.SIGN_OFF, Right.PROPOSE, Right.CONFIRM, Right.PEOPLE, Right.READ_PEOPLE,
    Right.FORGET,
}  # fmt: skip

RIGHTS_OF: dict[str, frozenset[Right]] = {
    Role.Kind.GUIDE: frozenset({Right.SEE, Right.READ_SETUP, Right.READ_FINDING, Right.HOLD, Right.REPORT}),
    Role.Kind.TECHNICIAN: frozenset(_TECHNICIAN),
    Role.Kind.MANAGER: frozenset(_MANAGER),
    Role.Kind.ENGINEER: frozenset(
        _TECHNICIAN | {Right.RELEASE, Right.RULE, Right.PROPOSE, Right.CONFIRM, Right.FORGET}
    ),
    Role.Kind.AUDITOR: frozenset({Right.READ_HISTORY, Right.READ_SETUP, Right.READ_FINDING, Right.READ_PEOPLE}),
}


def roles_of(user: Any, operator_id: UUID, *, at: datetime) -> frozenset[str]:
    """Return the roles a person holds at an operator now. Asked once per request and kept on the user object."""
    if not getattr(user, "is_authenticated", False) or not user.is_active:
        return frozenset()
    known: dict[UUID, list[tuple[str, datetime, datetime | None]]] | None = getattr(user, "_known_roles", None)
    if known is None:
        known = {}
        for operator, kind, since, until in Role.objects.filter(user=user).values_list(
            "operator_id", "kind", "since", "until"
        ):
            known.setdefault(operator, []).append((kind, since, until))
        user._known_roles = known
    return frozenset(
        kind for kind, since, until in known.get(operator_id, []) if since <= at and (until is None or at < until)
    )


def forget(user: Any) -> None:
    """Drop the roles kept on the object after they were changed."""
    if hasattr(user, "_known_roles"):
        del user._known_roles


def rights_of(user: Any, operator_id: UUID, *, at: datetime) -> frozenset[Right]:
    """Return everything the person may do at this operator now."""
    found: set[Right] = set()
    for role in roles_of(user, operator_id, at=at):
        found |= RIGHTS_OF[role]
    return frozenset(found)


def may(user: Any, operator_id: UUID, right: Right, *, at: datetime) -> bool:
    return right in rights_of(user, operator_id, at=at)


def current(at: datetime) -> Q:
    """Return the filter for roles that are held at ``at``."""
    return Q(since__lte=at) & (Q(until__isnull=True) | Q(until__gt=at))
