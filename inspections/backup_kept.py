"""What a signed state that was kept elsewhere says of the history here: is it still the same, and as long?"""

from __future__ import annotations

from accounts.models import Operator
from ledger import chain, notes, sealing
from ledger.models import Entry


class NotUsable(ValueError):
    """What is given is no signed state of a history here, or its signature is false; the message says which."""


def kept_faults(note: str) -> list[str]:
    """Return what does not agree with a checkpoint from a day sheet, a mail or a witness; it names its history.

    Its lines may be typed off a sheet, the first three alone are enough. Raises NotUsable. A history that was set
    back, by a backup or by somebody, continues what its own tables say was signed: only a state kept outside them
    shows it.
    """
    try:
        stated, is_exact = _read(note)
        operators = Operator.objects.select_related("log")
        operator = next((one for one in operators if sealing.name_of(one.log) == stated.origin), None)
        if operator is None:
            raise NotUsable("The kept state is of a history that is not here.")
        if is_exact:
            notes.opened(note, [one.key for one in sealing.keys_of(operator.log)])
    except notes.NoteError as error:
        raise NotUsable(f"The kept state cannot be used: {error}.") from None
    entries = Entry.objects.filter(log=operator.log)
    if stated.size > (count := entries.count()):
        return [
            f"{operator.name}: the kept state has {stated.size} entries, the history only {count}. It was set back: "
            "what was entered since is not here."
        ]
    last = entries.filter(seq=stated.size - 1).values_list("frontier", flat=True).first()
    if last is None or chain.Frontier.from_bytes(stated.size, bytes(last)).root() != stated.root:
        return [f"{operator.name}: the entries up to {stated.size} are not those of the kept state."]
    return []


def _read(note: str) -> tuple[notes.Checkpoint, bool]:
    """Return a state, and whether it stands there in the exact form, with signatures that can be checked."""
    try:
        return notes.Checkpoint.of(notes.split(note)[0]), True
    except notes.NoteError:
        return notes.typed(note), False
