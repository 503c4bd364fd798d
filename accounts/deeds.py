"""Who does something, when, and how that person was known: what every action is given and every entry says."""

from __future__ import annotations

import logging
import uuid
from contextlib import nullcontext
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from accounts import policy
from accounts.clock import Clock
from accounts.errors import Refused
from accounts.models import Operator, PersonKey, User
from accounts.policy import Right
from ledger import actions as ledger
from ledger import acts, chain
from ledger.errors import AlreadyRecorded
from ledger.models import Checkpoint, Entry, Log

logger = logging.getLogger(__name__)
SESSION = "session"  # logged in
PASSWORD = "password"  # noqa: S105 - typed the password in the very request of the deed
COMMAND = "command"  # a command of the server's administrator
# What can only hold a line or take out of service: taken from a phone however late, within accounts.signing.OLD_PAGE.
WORSENING = frozenset({"hold", "hold-renewed", "finding-opened"})
# What a page can sign alone. Anything else has no other time than its arrival, whatever is sent along with it.
ALONE_TOO = WORSENING | {"sheet", "amendment", "ride", "finding-note"}
LATER = timedelta(minutes=11)  # a little more than accounts.signing gives between preparing and signing


@dataclass(frozen=True)
class Signing:
    """How a deed is signed by a key of the person's own: first asked for what it will say, then sent signed.

    ``seen``: size and root of the newest state of the history that the device was shown. Without ``signature`` nothing
    is recorded: ``record`` raises Prepared with what there is to sign. ``is_late``: it does not say when it was signed,
    or says so of another time than now; ``record`` refuses it. ``alone``: it was signed without the server, before;
    ``clock`` is then how far the device's clock was off as it knew, and ``true_at`` when it was really signed, None
    where that is not known. ``is_old``: that was so long ago that only what worsens is taken.
    """

    seen: tuple[int, str] | None = None
    key: str = ""
    signature: str = ""
    is_late: bool = False
    alone: bool = False
    clock: Clock | None = None
    true_at: datetime | None = None
    is_old: bool = False


class Prepared(Exception):
    """Nothing was recorded: this is what would be, for the person's own key to sign."""

    def __init__(self, operator: Operator, kind: str, act: dict[str, Any]) -> None:
        super().__init__(kind)
        self.operator, self.kind, self.act = operator, kind, act


@dataclass(frozen=True)
class Deed:
    """One deed of one person. ``id`` is made where the deed was made, so that sending it twice does it once."""

    by: User
    at: datetime
    how: str = SESSION
    id: uuid.UUID = field(default_factory=uuid.uuid4)
    made_at: datetime | None = None  # time by the device, where one claimed a time
    signing: Signing | None = None

    @property
    def auth(self) -> dict[str, Any]:
        return {"how": self.how, "ref": self.by.ref}

    @property
    def said_at(self) -> datetime:
        """When it was made by the device that made it, else when it was received. What an act says of time is this."""
        return self.made_at or self.at

    @property
    def true_at(self) -> datetime | None:
        """When it was really signed, of a deed that was signed alone and came later; None where that is not known."""
        return self.signing.true_at if self.signing is not None else None

    @property
    def came_later(self) -> bool:
        """Whether it was signed without a signal, at a time that only its device knows, and arrives only now."""
        return self.signing is not None and (self.signing.alone or abs(self.at - self.said_at) > LATER)

    def part(self, name: str) -> Deed:
        """Return a deed that belongs to this one, with an identity derived from it. No key of a person signs it."""
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
    empty values are left out, since the format has no null. When a deed was really signed that came later, as far as
    that is known, is the server's to say: it stands in what is judged, as ``true_at``. ``begun`` as in
    ``ledger.actions.append``. Raises Prepared, or Refused, where a key of the person's own is to sign it or has not
    signed it so; AlreadyRecorded before either.
    """
    # What is recorded along with a deed uses up none of its salts: a device that signs alone knows nothing of it.
    with ledger.salted_by_chance() if deed.signing is None else nullcontext():
        commit = ledger.commit(operator.log, {"name": deed.by.name}, subject=deed.by.ref)
    signer = {"ref": deed.by.ref, "commit": commit}
    act = {
        "id": str(deed.id),
        "made_at": ledger.as_text(deed.said_at),
        "signer": signer,
        **{key: value for key, value in body.items() if value not in (None, "", [], {})},
    }
    sig = None
    if deed.signing is not None:
        # What was done already is no more refused for how it is signed now: the salts of the first time are forgotten.
        if not begun and (known := ledger.recorded(operator.log, deed.id)) is not None:
            raise AlreadyRecorded(known)
        if (seen := _seen(operator, deed)) is not None:
            act["seen"] = seen
        if deed.signing.clock is not None:
            act["clock"] = deed.signing.clock.as_record
        act = chain.normal(act)
        if not deed.signing.signature:
            raise Prepared(operator, kind, act)
        sig = _checked(operator, kind, act, deed)
    if deed.true_at is not None and kind in ALONE_TOO:
        judged = {**(judged or {}), "true_at": ledger.as_text(deed.true_at)}
    return ledger.append(operator.log, kind, act, auth=deed.auth, judged=judged, sig=sig, at=deed.at, begun=begun)


def _seen(operator: Operator, deed: Deed) -> dict[str, Any] | None:
    """Return the state that the device of a deed had seen, if this history was once signed at it.

    Another one is left out before anything is signed: its device is then not told of it, and warns its person.
    """
    if deed.signing is None or deed.signing.seen is None:
        return None
    size, root = deed.signing.seen
    known = Checkpoint.objects.filter(log=operator.log_id, size=size).values_list("root", flat=True).first()
    if known is None or bytes(known).hex() != root:
        about = operator.name, size, deed.by.ref
        logger.error("The history of %s was never signed as it is at %s entries on a device of %s.", *about)
        return None
    return {"size": size, "root": root}


def _no_key(operator: Operator, key: PersonKey | None) -> str:
    if key is None or key.ended_at is None:
        return _("The key of this device is not known any more. Make a new one under Menu.")
    ended = date_format(timezone.localtime(key.ended_at, operator.zone), "j F, H:i")
    return _(
        "The key of this device is not known any more. It was ended on %(time)s. Make a new one under Menu, then sign "
        "this anew."
    ) % {"time": ended}


def _checked(operator: Operator, kind: str, act: dict[str, Any], deed: Deed) -> dict[str, str]:
    """Return the signature as it stands in the entry. Raises Refused if it is not that of a key of the person."""
    signing = deed.signing
    if signing is not None and (signing.is_late or (signing.is_old and kind not in WORSENING)):
        raise Refused("signed-too-long-ago", _("This was signed too long ago. Look at it again and sign once more."))
    key = operator.keys.filter(key=signing.key, user=deed.by).first() if signing else None
    if signing is None or key is None or key.ended_at is not None:
        raise Refused("no-such-key", _no_key(operator, key))
    if not acts.is_signed(bytes(key.public), signing.signature, acts.message(kind, act)):
        raise Refused(
            "not-what-was-signed",
            _("What was to be recorded has changed since it was signed. Look at it again and sign once more."),
        )
    return {"alg": acts.ALGORITHM, "key": key.key, "sig": signing.signature}
