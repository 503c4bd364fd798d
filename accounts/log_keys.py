"""Begin and exchange the key that signs the states of an operator's history. Each is an entry of that history."""

from __future__ import annotations

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from django.db import transaction
from django.utils.translation import gettext as _

from accounts.deeds import COMMAND, Deed, demand, record
from accounts.errors import Refused
from accounts.models import Operator
from accounts.policy import Right
from ledger import sealing
from ledger.actions import lock
from ledger.models import Checkpoint, Entry

PLANNED, LOST, STOLEN = "planned", "lost", "stolen"
REASONS = (PLANNED, LOST, STOLEN)


@transaction.atomic
def begin_log_key(operator: Operator, private: Ed25519PrivateKey, *, deed: Deed) -> Checkpoint:
    """Name the first key in the history and sign its state. Raises Refused if one is named already."""
    _demand(operator, deed)
    lock(operator.log)
    if sealing.keys_of(operator.log):
        raise Refused("key-begun", _("This history names a log key already; exchange it instead."))
    key = sealing.public_key(operator.log, private)
    record(operator, sealing.KIND, {"op": sealing.BEGIN, "key": key.text}, deed=deed)
    return sealing.seal(operator.log, at=deed.at, signers=[private])


@transaction.atomic
def rotate_log_key(
    operator: Operator, new: Ed25519PrivateKey, *, old: Ed25519PrivateKey | None, reason: str, deed: Deed,
    good_until: int | None = None,
) -> Checkpoint:  # fmt: skip
    """Let a new key take the place of the one that is named, and sign the state with both. ``reason`` is of REASONS.

    Without ``old`` (lost, or in other hands) the new key signs alone, and who holds only the old one has to be given
    the new one by another way. ``good_until``: how many entries the old key is still believed for; by default all up
    to this exchange. Raises Refused.
    """
    _demand(operator, deed)
    lock(operator.log)
    known = sealing.keys_of(operator.log)
    if not known:
        raise Refused("not-begun", _("This history names no log key yet; begin one."))
    if reason not in REASONS:
        raise Refused("reason-needed", _("Say why the key is exchanged."))
    retired, key = known[-1].key, sealing.public_key(operator.log, new)
    if any(one.key == key for one in known):
        raise Refused("same-key", _("This history named this key before. Make a new one."))
    if old is not None and sealing.public_key(operator.log, old) != retired:
        raise Refused("other-key", _("The key that is set is not the one that this history names."))
    size = Entry.objects.filter(log=operator.log).count() + 1  # with the entry that is about to be made
    if good_until is not None and not 0 <= good_until < size:
        raise Refused("no-such-size", _("The history has no so many entries."))
    body = {
        "op": sealing.ROTATE,
        "key": key.text,
        "retires": retired.text,
        "retire_after": size if good_until is None else good_until,
        "reason": reason,
    }
    record(operator, sealing.KIND, body, deed=deed)
    signers = [new] if old is None or good_until is not None else [new, old]
    return sealing.seal(operator.log, at=deed.at, signers=signers)


def _demand(operator: Operator, deed: Deed) -> None:
    """Refuse unless it is a command on the server, in the name of a manager or engineer of the operator."""
    if deed.how != COMMAND:
        raise Refused("not-from-here", _("The log key is handled by a command of the server's administrator."))
    demand(deed, operator.pk, Right.CONFIRM)
