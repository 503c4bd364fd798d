"""Check the history and what was signed of it, derive every row anew and compare: what no entry explains is a fault."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from accounts.clock import follows
from accounts.models import Operator
from inspections import models
from inspections.entering import converted
from inspections.projection import changes, key_of
from ledger import chain, notes, sealing
from ledger.act_faults import act_faults
from ledger.models import Checkpoint, Countersignature, Entry

PROJECTED = (
    "Day",
    "Sheet",
    "Reading",
    "ItemState",
    "Ride",
    "Finding",
    "FindingStep",
    "Hold",
    "SignOff",
    "Closing",
    "RiderCount",
    "Paper",
)
_COURSE_PATH = {
    "Day": "course",
    "Sheet": "day__course",
    "Reading": "day__course",
    "ItemState": "place__course",
    "Ride": "day__course",
    "Finding": "course",
    "FindingStep": "finding__course",
    "Hold": "course",
    "SignOff": "day__course",
    "Closing": "day__course",
    "RiderCount": "day__course",
    "Paper": "course",
}
CHUNK = 500


def chain_faults(operator: Operator) -> Iterator[str]:
    """Yield what is wrong with the entries themselves: numbers, links, hashes, canonical bytes, times."""
    rows = (
        (seq, bytes(data), bytes(leaf), bytes(frontier))
        for seq, data, leaf, frontier in Entry.objects.filter(log=operator.log_id)
        .order_by("seq")
        .values_list("seq", "data", "leaf_hash", "frontier")
        .iterator(CHUNK)
    )
    for fault in chain.faults(str(operator.log_id), rows):
        yield f"Entry {fault.seq}: {fault.sentence}"


def checkpoint_faults(operator: Operator) -> Iterator[str]:
    """Yield what does not agree with the states of the history that were signed: their roots, their signatures.

    Only after ``chain_faults`` found none: the stored frontiers are taken as they stand.
    """
    known = sealing.keys_of(operator.log)
    for one in Checkpoint.objects.filter(log=operator.log_id).order_by("size").iterator(CHUNK):
        last = Entry.objects.filter(log=operator.log_id, seq=one.size - 1).values_list("frontier", flat=True).first()
        if last is None or chain.Frontier.from_bytes(one.size, bytes(last)).root() != bytes(one.root):
            yield f"Checkpoint {one.size}: the entries up to there are not those that were signed."
        stated = notes.Checkpoint(sealing.name_of(operator.log), one.size, bytes(one.root)).text
        try:
            text, signers = notes.opened(one.note, [key.key for key in known])
        except notes.NoteError as error:
            yield f"Checkpoint {one.size}: {error}."
            continue
        if text != stated:
            yield f"Checkpoint {one.size}: the signed text is about another state."
        elif not any(_signs_still(known, key, one.size) for key in signers):
            yield f"Checkpoint {one.size}: only a key that was exchanged before signed this."
    for seen in Countersignature.objects.filter(log=operator.log_id).order_by("size", "witness").iterator(CHUNK):
        yield from _witness_faults(operator, seen)


def _signs_still(known: list[sealing.LogKey], signer: notes.Key, size: int) -> bool:
    """Tell whether a key was still the one that signs when there were so many entries."""
    place = [one.key for one in known].index(signer)
    retired = known[place].retire_after
    # Until the exchange stands among the entries, the old key is the only one; the state with it may have both.
    return retired is None or size <= max(retired, known[place + 1].since)


def unbelieved_states(operator: Operator) -> Iterator[str]:
    """Yield, in sentences, which signed states only a key signed that is not believed for as many entries.

    No fault of the history: a stolen key was exchanged, and its signatures count only up to where that was said. The
    state of the exchange, by the new key, is one over the same entries. Only after ``checkpoint_faults`` found none.
    """
    known = {one.key: one for one in sealing.keys_of(operator.log)}
    for one in Checkpoint.objects.filter(log=operator.log_id).order_by("size").iterator(CHUNK):
        _text, signers = notes.opened(one.note, known)
        until = [known[key].retire_after for key in signers]
        believed = max((size for size in until if size is not None), default=0)
        if None not in until and believed < one.size:
            yield f"State of {one.size} entries: signed only by a key that is believed for {believed} entries."


def _witness_faults(operator: Operator, seen: Countersignature) -> Iterator[str]:
    """Yield what is wrong with the line by which a witness said that it saw a signed state."""
    about = f"Checkpoint {seen.size}, witness {seen.witness}"
    note = Checkpoint.objects.filter(log=operator.log_id, size=seen.size).values_list("note", flat=True).first()
    try:
        notes.opened((note or "") + seen.line, [notes.Key.of(seen.key)])
    except notes.NoteError as error:
        yield f"{about}: {error}."


def signature_faults(operator: Operator) -> Iterator[str]:
    """Yield what is wrong with the signatures of persons' own keys, and with the true times that follow from them.

    Only after ``chain_faults`` found none.
    """
    rows = Entry.objects.filter(log=operator.log_id).order_by("seq").values_list("data").iterator(CHUNK)
    otherwise: list[int] = []

    def records() -> Iterator[dict[str, Any]]:
        for (data,) in rows:
            record = chain.parse(bytes(data))
            if not follows(record):
                otherwise.append(record["seq"])
            yield record

    for seq, sentence in act_faults(str(operator.log_id), records()):
        yield f"Entry {seq}: {sentence}"
    for seq in otherwise:
        yield f"Entry {seq}: When it was really signed does not follow from its device's clock."


def derived(operator: Operator) -> dict[tuple[str, str], dict[str, Any]]:
    """Return every row that the history makes, as {(table, key): fields}."""
    found: dict[tuple[str, str], dict[str, Any]] = {}
    for (data,) in Entry.objects.filter(log=operator.log_id).order_by("seq").values_list("data").iterator(CHUNK):
        for change in changes(chain.parse(bytes(data))):
            spot = (change.model, key_of(change.key))
            if change.how == "new" or spot not in found:
                found[spot] = dict(change.fields)
            else:
                found[spot] |= change.fields
    return found


def projection_faults(operator: Operator) -> Iterator[str]:
    """Yield every row that differs from what the history derives, is missing, or is there without an entry."""
    expected = derived(operator)
    for name in PROJECTED:
        model = getattr(models, name)
        rows = model._base_manager.filter(**{f"{_COURSE_PATH[name]}__operator": operator})
        for row in rows.iterator(CHUNK):
            fields = expected.pop((name, key_of(row.pk)), None)
            if fields is None:
                yield f"{name} {row.pk}: no entry of the history explains this row."
                continue
            for column, value in converted(model, fields).items():
                if getattr(row, column) != value:
                    yield f"{name} {row.pk}: {_difference(column, getattr(row, column), value)}"
    for name, key in expected:
        if name in PROJECTED:
            yield f"{name} {key}: the row that the history makes is missing."


def _difference(where: str, here: Any, there: Any) -> str:
    """Say where two values differ, and how, without all that is the same in them."""
    if isinstance(here, dict) and isinstance(there, dict):
        for key in sorted(here.keys() | there.keys()):
            if here.get(key) != there.get(key):
                return _difference(f"{where}.{key}", here.get(key), there.get(key))
    if isinstance(here, list) and isinstance(there, list) and len(here) == len(there):
        for number, (one, other) in enumerate(zip(here, there, strict=True)):
            if one != other:
                return _difference(f"{where}[{number}]", one, other)
    return f"{where} is {here!r}, the history says {there!r}."
