"""Who does something, when, and how that person was known: what every action is given and every entry says."""

from __future__ import annotations

import uuid
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from django.utils.translation import gettext as _

from accounts import policy
from accounts.errors import Refused
from accounts.models import Operator, User
from accounts.policy import Right
from ledger import actions as ledger
from ledger.models import Entry, Log

SESSION = "session"  # logged in
PASSWORD = "password"  # noqa: S105 - typed the password in the very request of the deed
COMMAND = "command"  # a command of the server's administrator


@dataclass(frozen=True)
class Deed:
    """One deed of one person. ``id`` is made where the deed was made, so that sending it twice does it once."""

    by: User
    at: datetime
    how: str = SESSION
    id: uuid.UUID = field(default_factory=uuid.uuid4)
    made_at: datetime | None = None  # time by the device, where one claimed a time

    @property
    def auth(self) -> dict[str, Any]:
        return {"how": self.how, "ref": self.by.ref}

    def part(self, name: str) -> Deed:
        """Return a deed that belongs to this one, with an identity derived from it."""
        return Deed(by=self.by, at=self.at, how=self.how, id=uuid.uuid5(self.id, name), made_at=self.made_at)


def demand(deed: Deed, operator_id: uuid.UUID, right: Right) -> None:
    """Refuse unless the person of the deed has the right at this operator at the time of the deed."""
    if not policy.may(deed.by, operator_id, right, at=deed.at):
        raise Refused("no-right", _("Your role at this operator does not include this."))


def demand_password(deed: Deed) -> None:
    """Refuse unless the password was given with this very deed."""
    if deed.how not in {PASSWORD, COMMAND}:
        raise Refused("password-needed", _("Give your password to sign this."))


def note(log: Log, text: str, *, about: str = "") -> str:
    """Commit a free text and return the commitment; empty text gives an empty string."""
    text = text.strip()
    return ledger.commit(log, {"note": text}, subject=about) if text else ""


def record(
    operator: Operator, kind: str, body: dict[str, Any], *, deed: Deed, judged: dict[str, Any] | None = None,
    begun: bool = False,
) -> Entry:  # fmt: skip
    """Append the deed to the operator's history and return the entry.

    ``body`` is what the person claims; the signer is added as reference and salted commitment of the name, and
    empty values are left out, since the format has no null. ``begun`` as in ``ledger.actions.append``.
    """
    signer = {
        "ref": deed.by.ref,
        "commit": ledger.commit(operator.log, {"name": deed.by.name}, subject=deed.by.ref),
    }
    act = {
        "id": str(deed.id),
        "made_at": ledger.as_text(deed.made_at or deed.at),
        "signer": signer,
        **{key: value for key, value in body.items() if value not in (None, "", [], {})},
    }
    return ledger.append(operator.log, kind, act, auth=deed.auth, judged=judged, at=deed.at, begun=begun)
