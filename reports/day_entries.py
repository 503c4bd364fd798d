"""What goes with a day sheet as files: the day's entries as they are stored, the signed state, what ties the two.

``entries.jsonl``: a line for each entry, byte for byte. ``state.txt``: the signed note. ``proof.json``: from the
roots of the complete subtrees before the first of the entries and the hash of each entry since follows the root of
the state, so that whoever has the file alone, and the public key by another way, can check that these entries are in
it. Entries hold commitments in place of names and notes; their values are not attached.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime
from zoneinfo import ZoneInfo

from courses.calendar import ONE_DAY, day_start
from inspections.models import SignOff
from ledger import chain
from ledger.models import Checkpoint, Entry, Log
from reports.papers.archive import Attached

ENTRIES, STATE, PROOF = "entries.jsonl", "state.txt", "proof.json"
KEYS = ("log-key", "person-key")  # what names or ends a key: of the operator, not of one course
MOST_BYTES = 16 * 2**20  # of entries; a day of forty lines has some two million
MOST_LEAVES = 10_000  # of a proof; more lie between only if a day is signed long after it
CHUNK = 500
HOW = (
    "RFC 6962 over SHA-256. Each line of entries.jsonl without its line end is a leaf; 'entries' are their numbers. "
    "'before' are the roots of the complete subtrees over the first 'first' leaves, from left to right; 'leaves' are "
    "the leaf hashes from there on, those of the lines at their places. The root over all is that in state.txt."
)


@dataclass(frozen=True)
class DayEntries:
    """The files of a sheet and the numbers of its entries; no entries where they are too many to be attached."""

    files: list[Attached] = field(default_factory=list)
    numbers: list[int] = field(default_factory=list)


def day_entries(sign_off: SignOff, state: Checkpoint | None) -> DayEntries:
    """Return what is attached to the day sheet of one revision: entries received from the day's start to the sign-off.

    They are those about this course and those that name or end a key of the operator. What was received after the day
    ended, up to a later sign-off, is among them where it names the day's date.
    """
    log = sign_off.day.course.operator.log
    numbers: list[int] = []
    lines: list[bytes] = []
    size = 0
    for seq, data in _latest_first(log, sign_off):
        size += len(data) + 1
        if size > MOST_BYTES:
            return DayEntries()
        numbers.append(seq)
        lines.append(data + b"\n")
    numbers.reverse()
    lines.reverse()
    files = [Attached(ENTRIES, b"".join(lines), "application/x-ndjson", "The entries of the record about this day")]
    if state is not None:
        files.append(Attached(STATE, state.note.encode(), "text/plain", "The signed state of the record", "Data"))
        proof = _proof(log, numbers, state)
        if proof:
            about = "What shows that the entries are in the signed state"
            files.append(Attached(PROOF, proof, "application/json", about, "Data"))
    return DayEntries(files, numbers)


def _latest_first(log: Log, sign_off: SignOff) -> Iterator[tuple[int, bytes]]:
    """Yield number and bytes from the sign-off back to the day's start: the time has no index, but never runs back."""
    begins, ends = bounds(sign_off)
    course = str(sign_off.day.course_id)
    about_the_day = f'"date":"{sign_off.day.date}"'.encode()
    rows = Entry.objects.filter(log=log, seq__lte=sign_off.seq).order_by("-seq")
    for seq, kind, received, stored in rows.values_list("seq", "kind", "t", "data").iterator(CHUNK):
        if received < begins:
            return
        data = bytes(stored)
        if received >= ends and about_the_day not in data:
            continue
        # The second look is the exact one; the first spares reading every entry of other courses as a structure.
        if kind in KEYS or (course.encode() in data and json.loads(data)["act"].get("course") == course):
            yield seq, data


def bounds(sign_off: SignOff) -> tuple[datetime, datetime]:
    """Return the instants in UTC between which the day of a sign-off lies, by its own zone and hour of change."""
    day = sign_off.day
    zone = ZoneInfo(day.tz)
    return (
        day_start(day.date, zone, day.day_change_hour),
        day_start(day.date + ONE_DAY, zone, day.day_change_hour),
    )


def _proof(log: Log, numbers: list[int], state: Checkpoint) -> bytes:
    """Return what ties the entries to the state, b"" where too much lies between."""
    first = numbers[0] if numbers else state.size
    if not numbers or state.size - first > MOST_LEAVES:
        return b""
    before: list[str] = []
    if first:
        kept = bytes(Entry.objects.values_list("frontier", flat=True).get(log=log, seq=first - 1))
        before = [node.hex() for node in chain.Frontier.from_bytes(first, kept).nodes]
    rows = Entry.objects.filter(log=log, seq__gte=first, seq__lt=state.size).order_by("seq")
    leaves = [bytes(leaf).hex() for leaf in rows.values_list("leaf_hash", flat=True)]
    return (
        chain.canonical(
            {
                "how": HOW, "first": first, "size": state.size, "before": before, "leaves": leaves, "entries": numbers,
            }
        )
        + b"\n"
    )  # fmt: skip
