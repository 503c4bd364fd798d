"""Who may open which page about people."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from accounts import actions
from accounts.policy import Right
from tests import make
from tests.access.table import ANYBODY, Row, World
from tests.signing import Phone


def build(w: World) -> None:
    # Somebody who is none of the visitors, so that no visitor meets "your own rights".
    w.guest = actions.invite(
        w.operator, "guest@example.org", "Ulla Steen", ["technician"], deed=make.deed(make.founder_of(w.operator))
    )
    w.key = Phone(9).enrol(w.operator, w.technician)
    w.guest_role = w.guest.roles.get()
    w.authorisation = actions.authorise(
        w.operator, w.guest, "gear", (w.at + timedelta(days=90)).date(), deed=make.deed(make.founder_of(w.operator))
    )


def _guest(w: World) -> dict[str, Any]:
    return {"person": w.guest.pk}


def _role(w: World) -> dict[str, Any]:
    return {"person": w.guest.pk, "role": w.guest_role.pk}


def _authorisation(w: World) -> dict[str, Any]:
    return {"person": w.guest.pk, "authorisation": w.authorisation.pk}


def _nothing(w: World) -> dict[str, Any]:
    return {}


def _invitation(w: World) -> dict[str, Any]:
    return {"name": "Ole Birk", "email": "ole@example.org", "roles": ["guide"], "password": make.WORD}


def _guide(w: World) -> dict[str, Any]:
    return {"kind": "guide", "password": make.WORD}


def _springs(w: World) -> dict[str, Any]:
    return {"subject": "spring", "last_day": (w.at + timedelta(days=30)).date().isoformat(), "password": make.WORD}


def _own_key(w: World) -> dict[str, Any]:
    return {"key": w.key.pk}


# It is the technician's; a manager ends it too.
_NOT_THEIRS = dict.fromkeys(("guide", "engineer", "auditor"), 404)


ROWS = [
    Row("accounts:people", Right.READ_PEOPLE),
    Row("accounts:person", Right.READ_PEOPLE, kwargs=_guest),
    Row("accounts:invite", Right.PEOPLE),
    Row("accounts:invite", Right.PEOPLE, post=_invitation),
    Row("accounts:give_role", Right.PEOPLE, kwargs=_guest),
    Row("accounts:give_role", Right.PEOPLE, kwargs=_guest, post=_guide),
    Row("accounts:take_role", Right.PEOPLE, kwargs=_role),
    Row("accounts:take_role", Right.PEOPLE, kwargs=_role, post=_nothing),
    Row("accounts:authorise", Right.PEOPLE, kwargs=_guest),
    Row("accounts:authorise", Right.PEOPLE, kwargs=_guest, post=_springs),
    Row("accounts:end_authorisation", Right.PEOPLE, kwargs=_authorisation),
    Row("accounts:end_authorisation", Right.PEOPLE, kwargs=_authorisation, post=_nothing),
    Row("accounts:keys", Right.READ_SETUP),
    Row("accounts:keys", Right.READ_SETUP, ok=200, post=lambda w: {"password": make.WORD}),  # no script made a key
    Row("accounts:unlock", ANYBODY, post=lambda w: {"password": make.WORD}, json=True),
    Row("accounts:end_key", Right.READ_SETUP, kwargs=_own_key, but=_NOT_THEIRS),
    Row("accounts:end_key", Right.READ_SETUP, kwargs=_own_key, post=lambda w: {"why": "lost"}, but=_NOT_THEIRS),
    Row("accounts:person_keys", Right.PEOPLE, kwargs=lambda w: {"person": w.technician.pk}),
    Row("accounts:send_invitation", Right.PEOPLE, kwargs=_guest),
    Row("accounts:send_invitation", Right.PEOPLE, kwargs=_guest, post=_nothing),
]
