"""What changes about people and their rights. Nothing else writes to the tables of this app.

Each deed is asked for its right, recorded in the operator's history with names as commitments only, and saved, all in
one transaction. What grants something (an invitation, a role, an authorisation) also needs the password in the very
request, so that an unlocked phone left on a table makes nobody a manager; what takes away does not.
"""

from __future__ import annotations

import uuid
from collections.abc import Iterable
from datetime import date, datetime
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from django.db import IntegrityError, transaction
from django.db.models import QuerySet
from django.utils.translation import gettext as _

from accounts import policy
from accounts.deeds import COMMAND, Deed, demand, demand_password, record
from accounts.errors import Refused
from accounts.log_keys import begin_log_key
from accounts.models import Authorisation, Operator, Role, User
from accounts.policy import Right
from ledger import actions as ledger
from ledger import log_key
from ledger.errors import AlreadyRecorded


@transaction.atomic
def found_operator(
    name: str, *, tz: str = "UTC", roles: Iterable[str] = (Role.Kind.MANAGER,), deed: Deed
) -> Operator:  # fmt: skip
    """Begin an operator with a history of its own and the person of the deed as its first manager.

    Only a command of the server's administrator may do so: there is nobody yet who could give the right.
    """
    if deed.how != COMMAND:
        raise Refused("not-from-here", _("An operator is founded by a command of the server's administrator."))
    kinds = _kinds(roles)
    if Role.Kind.MANAGER not in kinds:
        raise Refused("last-manager", _("An operator begins with a manager."))
    try:
        ZoneInfo(tz)
    except (ZoneInfoNotFoundError, ValueError):
        raise Refused("no-such-zone", _("This time zone is not known.")) from None
    operator = Operator(name=_text(name), tz=tz, log=ledger.open_log(at=deed.at))
    operator.save(force_insert=True)
    given = [_open_role(operator, deed.by, kind, until=None, deed=deed) for kind in kinds]
    record(
        operator, "operator-founded",
        {"operator": str(operator.pk), "name": operator.name, "tz": tz, "roles": [_as_body(role) for role in given]},
        deed=deed,
    )  # fmt: skip
    if (private := log_key.configured()) is not None:
        begin_log_key(operator, private, deed=deed.part("log-key"))
    return operator


@transaction.atomic
def invite(operator: Operator, email: str, name: str, roles: Iterable[str], *, deed: Deed) -> User:
    """Bring a person in with first roles and return the account: a new one without a password, or the one there is.

    An account that exists keeps its name: it belongs to the person, not to the operator who invites.
    """
    _begin(operator, deed)
    demand_password(deed)
    kinds = _kinds(roles)
    if not kinds:
        raise Refused("no-role", _("Choose at least one role."))
    user = _account(email, _text(name), deed=deed)
    _demand_another(deed, user)
    if not user.is_active:
        raise Refused("inactive", _("This account was closed. Ask the server's administrator."))
    if _held(operator, user, at=deed.at):
        raise Refused("here-already", _("This person works here already. Give further roles on the person's page."))
    given = [_open_role(operator, user, kind, until=None, deed=deed) for kind in kinds]
    record(
        operator, "person-invited",
        {"person": _person(operator, user), "roles": [_as_body(role) for role in given]},
        deed=deed,
    )  # fmt: skip
    return user


@transaction.atomic
def give_role(operator: Operator, user: User, kind: str, *, until: datetime | None = None, deed: Deed) -> Role:
    """Give a further role; with ``until`` it ends by itself, as an acting manager's does."""
    _begin(operator, deed)
    demand_password(deed)
    _demand_another(deed, user)
    if not user.is_active:
        raise Refused("inactive", _("This account was closed. Ask the server's administrator."))
    held = _held(operator, user, at=deed.at)
    if kind in held:
        raise Refused("role-held", _("This person has this role already."))
    if until is not None and until <= deed.at:
        raise Refused("end-in-the-past", _("The last day has gone by already."))
    _kinds([*held, kind])
    role = _open_role(operator, user, kind, until=until, deed=deed)
    record(operator, "role-given", {"person": _person(operator, user), "role": _as_body(role)}, deed=deed)
    return role


@transaction.atomic
def take_role(operator: Operator, user: User, kind: str, *, deed: Deed) -> Role:
    """End a role now. With the last role that inspects, the person's authorisations end too."""
    _begin(operator, deed)
    _demand_another(deed, user)
    role = _held(operator, user, at=deed.at).get(kind)
    if role is None:
        raise Refused("role-not-held", _("This person does not have this role."))
    if kind == Role.Kind.MANAGER and not _lasting_managers(operator, at=deed.at).exclude(user=user).exists():
        raise Refused("last-manager", _("This is the last manager. Make somebody else a manager without an end first."))
    body = _as_body(role)
    role.until = deed.at
    role.save(update_fields=["until"])
    policy.forget(user)
    ended = []
    if not policy.may(user, operator.pk, Right.INSPECT, at=deed.at):
        for authorisation in _in_force(operator, user):
            _end(authorisation, deed=deed)
            ended.append(str(authorisation.pk))
    record(
        operator, "role-taken",
        {"person": _person(operator, user), "role": body, "authorisations_ended": ended},
        deed=deed,
    )  # fmt: skip
    return role


@transaction.atomic
def authorise(operator: Operator, user: User, subject: str, until: date, *, deed: Deed) -> Authorisation:
    """Note that a person was trained for a subject and may inspect it until a date; it takes an older one's place."""
    _begin(operator, deed)
    demand_password(deed)
    _demand_another(deed, user)
    if subject not in Authorisation.Subject.values:
        raise Refused("no-such-subject", _("This subject is not known."))
    if not policy.may(user, operator.pk, Right.INSPECT, at=deed.at):
        raise Refused("not-inspector", _("Only a technician or an engineer can be authorised to inspect."))
    today = operator.date_at(deed.at)
    if until < today:
        raise Refused("end-in-the-past", _("The last day has gone by already."))
    replaced = list(_in_force(operator, user).filter(subject=subject))
    for older in replaced:
        _end(older, deed=deed)
    authorisation = Authorisation(
        id=uuid.uuid5(deed.id, "authorisation"), operator=operator, user=user, subject=subject, since=today, until=until
    )
    authorisation.save(force_insert=True)
    record(
        operator, "authorisation-given",
        {
            "person": _person(operator, user), "authorisation": str(authorisation.pk), "subject": subject,
            "since": today.isoformat(), "until": until.isoformat(), "replaces": [str(older.pk) for older in replaced],
        },
        deed=deed,
    )  # fmt: skip
    return authorisation


@transaction.atomic
def end_authorisation(authorisation: Authorisation, *, deed: Deed) -> Authorisation:
    """End an authorisation before its date."""
    operator = authorisation.operator
    _begin(operator, deed)
    _demand_another(deed, authorisation.user)
    fresh = _in_force(operator, authorisation.user).filter(pk=authorisation.pk).first()
    if fresh is None:
        raise Refused("ended-already", _("This authorisation was ended already."))
    _end(fresh, deed=deed)
    record(
        operator, "authorisation-ended",
        {"person": _person(operator, fresh.user), "authorisation": str(fresh.pk), "subject": fresh.subject},
        deed=deed,
    )  # fmt: skip
    return fresh


def _begin(operator: Operator, deed: Deed) -> None:
    # Locked, or two managers who take each other's role at once would leave an operator without any; and asked anew
    # behind the lock, since the right may have been taken while this deed waited for it.
    Operator.objects.select_for_update().get(pk=operator.pk)
    policy.forget(deed.by)
    demand(deed, operator.pk, Right.PEOPLE)
    # Before anything else is asked, or a deed that is sent twice would be refused for what it did itself.
    known = ledger.recorded(operator.log, deed.id)
    if known is not None:
        raise AlreadyRecorded(known)


def _demand_another(deed: Deed, user: User) -> None:
    # The server's administrator may, where two people are all there are: the entry says that it was a command.
    if user.pk == deed.by.pk and deed.how != COMMAND:
        raise Refused("own-roles", _("Nobody changes their own roles or authorisations. Ask another manager."))


def _kinds(roles: Iterable[str]) -> list[str]:
    kinds = list(dict.fromkeys(str(kind) for kind in roles))
    if not set(kinds) <= set(Role.Kind.values):
        raise Refused("no-such-role", _("This role is not known."))
    if Role.Kind.AUDITOR in kinds and len(kinds) > 1:
        raise Refused("auditor-independent", _("An auditor is independent and has no other role at the same operator."))
    return kinds


def _text(name: str) -> str:
    name = " ".join(name.split())
    if not name:
        raise Refused("name-missing", _("A name is needed."))
    return name


def _account(email: str, name: str, *, deed: Deed) -> User:
    known = User.objects.filter(email__iexact=email.strip())
    found = known.first()
    if found is not None:
        return found
    try:
        with transaction.atomic():
            # Its pseudonym comes from the deed, so that the same deed, asked twice, says the same.
            ref = f"p-{uuid.uuid5(deed.id, 'person').hex[:12]}"
            return User.objects.create_user(email.strip(), None, name=name, date_joined=deed.at, ref=ref)
    except IntegrityError:  # invited by another operator in the same moment
        return known.get()


def _held(operator: Operator, user: User, *, at: datetime) -> dict[str, Role]:
    return {role.kind: role for role in Role.objects.filter(policy.current(at), operator=operator, user=user)}


def _lasting_managers(operator: Operator, *, at: datetime) -> QuerySet[Role]:
    return Role.objects.filter(
        policy.current(at), operator=operator, kind=Role.Kind.MANAGER, until__isnull=True, user__is_active=True
    )


def _in_force(operator: Operator, user: User) -> QuerySet[Authorisation]:
    return Authorisation.objects.filter(operator=operator, user=user, ended_at__isnull=True)


def _open_role(operator: Operator, user: User, kind: str, *, until: datetime | None, deed: Deed) -> Role:
    # From the deed, so that the same deed, asked twice, says the same.
    role = Role(
        id=uuid.uuid5(deed.id, f"role:{user.ref}:{kind}"),
        user=user,
        operator=operator,
        kind=kind,
        since=deed.at,
        until=until,
    )
    role.save(force_insert=True)
    policy.forget(user)
    return role


def _end(authorisation: Authorisation, *, deed: Deed) -> None:
    authorisation.ended_at = deed.at
    authorisation.save(update_fields=["ended_at"])


def _person(operator: Operator, user: User) -> dict[str, str]:
    commit = ledger.commit(operator.log, {"name": user.name}, subject=user.ref)
    return {"ref": user.ref, "commit": commit}


def _as_body(role: Role) -> dict[str, str]:
    body = {"id": str(role.pk), "kind": role.kind}
    if role.until is not None:
        body["until"] = ledger.as_text(role.until)
    return body
