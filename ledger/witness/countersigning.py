"""Keep what witnesses answered, and put it under the note again."""

from __future__ import annotations

import struct
from collections.abc import Iterable
from datetime import UTC, datetime, timedelta

from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _

from ledger import notes
from ledger.merkle import Tree
from ledger.models import Checkpoint, Countersignature, Entry
from ledger.witness.asking import NotWitnessed, Witness, ask

# Clocks of two machines that are both right never differ by this much.
APART = timedelta(minutes=5)
CHUNK = 5000


def tree_of(checkpoint: Checkpoint) -> Tree:
    """Return the tree over the entries of a checkpoint. Raises NotWitnessed if they do not give the signed root."""
    rows = Entry.objects.filter(log=checkpoint.log_id, seq__lt=checkpoint.size).order_by("seq")
    tree = Tree(bytes(leaf) for leaf in rows.values_list("leaf_hash", flat=True).iterator(CHUNK))
    if len(tree) != checkpoint.size or tree.root() != bytes(checkpoint.root):
        sentence = _("The entries are not those that were signed. Nothing was sent; run manage.py verify_ledger.")
        raise NotWitnessed("own-history", sentence)
    return tree


def kept_of(checkpoint: Checkpoint) -> list[Countersignature]:
    """Return what is kept of the answers to a checkpoint, by the names of the witnesses; one query."""
    return list(Countersignature.objects.filter(log=checkpoint.log_id, size=checkpoint.size).order_by("witness"))


def whole_note(checkpoint: Checkpoint, answers: Iterable[Countersignature]) -> str:
    """Return the note of a checkpoint with the lines of its witnesses under it, in the order given."""
    return checkpoint.note + "".join(one.line for one in answers)


def countersign(checkpoint: Checkpoint, tree: Tree, witness: Witness, *, at: datetime) -> Countersignature:
    """Send a checkpoint, whose tree is given, to a witness and keep its answer. Raises NotWitnessed.

    Not in a transaction: an answer can take its time, and nobody's entry should wait for it.
    """
    answers = Countersignature.objects.filter(log=checkpoint.log_id, witness=witness.key.name)
    old = answers.filter(size__lte=checkpoint.size).order_by("-size").values_list("size", flat=True).first() or 0
    signature = ask(witness, checkpoint.note, tree, old=old)
    seen_at = _time_of(checkpoint, signature, witness.key)
    if seen_at is None or not checkpoint.made_at - APART <= seen_at <= at + APART:
        sentence = _("The clocks of the witness and of this server differ; nothing was kept. Set them and try again.")
        raise NotWitnessed("clock", sentence)
    kept = Countersignature(
        log_id=checkpoint.log_id, size=checkpoint.size, witness=witness.key.name, key=witness.key.text,
        line=signature.line, seen_at=seen_at, received_at=at,
    )  # fmt: skip
    try:
        with transaction.atomic():
            kept.save(force_insert=True)
    except IntegrityError:  # another run of the command was faster
        return answers.get(size=checkpoint.size)
    return kept


def _time_of(checkpoint: Checkpoint, signature: notes.Signature, key: notes.Key) -> datetime | None:
    """Return the time in a countersignature, None if it is no time. Raises NotWitnessed if the signature is false."""
    try:
        notes.opened(checkpoint.note + signature.line, [key])
    except notes.NoteError:
        raise NotWitnessed("false", _("The signature of the witness is false; nothing was kept.")) from None
    try:
        return datetime.fromtimestamp(struct.unpack(">Q", signature.data[:8])[0], UTC)
    except (ValueError, OverflowError, OSError):
        return None
