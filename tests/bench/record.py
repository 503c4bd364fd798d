"""A long record in bulk, for taking away and checking: entries, photos, signed states, names and notes.

The day that ``generator`` copies, copied as bytes: what differs from day to day are the numbers, links, dates,
identities, commitments and photos, and these are put into the places where they stand. So the entries are those of
``generator.write`` (a test holds one against the other), some ten times as quickly, without the rows of the tables.
"""

from __future__ import annotations

import random
import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime
from hashlib import sha256
from pathlib import Path
from types import SimpleNamespace
from typing import Any
from uuid import UUID, uuid5

from django.db import transaction

from inspections.projection import day_id
from ledger import acts, chain
from ledger.models import Disclosure, Entry
from tests.bench.generator import NAMESPACE, Pattern, Writer
from tests.signing import Phone

BATCH = 20  # days that are stored together
NUMBER = 777_000_111_000_777  # stands for a number that is not known yet; occurs nowhere else
HASH = re.compile(r"[0-9a-f]{64}")


@dataclass
class Mould:
    """One entry of the pattern, cut where something is put in. ``act`` and ``rest`` are pieces and names in turn."""

    kind: str
    ref: str
    act: list[bytes]
    rest: list[bytes]


@dataclass
class Moulds:
    """The entries of one day, and what stands in them that belongs to that day alone."""

    on: date
    day: str
    own: frozenset[str]
    commits: frozenset[str]
    photos: list[str]
    entries: list[Mould] = field(default_factory=list)

    @classmethod
    def of(cls, course: Any, on: date, *, photos: int, signed: bool) -> Moulds:
        """Cut the pattern of a day, with so many photos beside its readings; ``signed``: room for signatures."""
        pattern = Pattern.of(course, on)
        readings = [one for record in pattern.records for one in record["act"].get("readings", ())]
        names = [sha256(b"photo %d" % number).hexdigest() for number in range(photos)]
        for number, name in enumerate(names):
            readings[number * len(readings) // max(photos, 1)].setdefault("photos", []).append(name)
        found = set(HASH.findall("".join(repr(record["act"]) for record in pattern.records)))
        commits = frozenset(Disclosure.objects.filter(commit__in=found).values_list("commit", flat=True))
        moulds = cls(on, day_id(str(course.pk), on.isoformat()), pattern.own, commits, names)
        for record in pattern.records:
            moulds.entries.append(moulds._cut(record, signed=signed))
        return moulds

    def _cut(self, record: dict[str, Any], *, signed: bool) -> Mould:
        own = {**record, "prev": "PREVIOUS", "seq": NUMBER}
        if signed:
            own["act"] = {**record["act"], "seen": {"root": "ROOT", "size": NUMBER}}
            own["sig"] = {"alg": acts.ALGORITHM, "key": "KEY", "sig": "SIGNATURE"}
        data = chain.canonical(own)
        act = chain.canonical(own["act"])
        head = b'{"act":'
        if not data.startswith(head + act):
            raise SystemExit("an entry does not begin with its act")
        ref = record["act"]["signer"]["ref"]
        return Mould(record["kind"], ref, self._pieces(act), self._pieces(data[len(head) + len(act) :]))

    def _pieces(self, data: bytes) -> list[bytes]:
        names = [*self.own, *self.commits, *self.photos, self.on.isoformat(), str(NUMBER)]
        marks = [name.encode() for name in names] + [b"PREVIOUS", b"ROOT", b"KEY", b"SIGNATURE"]
        return re.split(b"(" + b"|".join(marks) + b")", data)

    def of_day(self, course: Any, on: date) -> dict[bytes, bytes]:
        """Return what is put in on another date, as far as it is the same for every entry of the day."""
        found = {one.encode(): str(uuid5(NAMESPACE, f"{on}:{one}")).encode() for one in self.own}
        found[self.day.encode()] = day_id(str(course.pk), on.isoformat()).encode()
        found[self.on.isoformat().encode()] = on.isoformat().encode()
        return found


def filled(pieces: list[bytes], names: dict[bytes, bytes]) -> bytes:
    return b"".join(names[piece] if number & 1 else piece for number, piece in enumerate(pieces))


def photo(number: int, *, size: int) -> bytes:
    """Return bytes that begin and end as a JPEG does and are nobody else's."""
    return b"\xff\xd8\xff\xe0\x00\x10JFIF" + random.Random(number).randbytes(size - 12) + b"\xff\xd9"


@dataclass
class Keeper:
    """Writes photos and salted commitments where the application has them."""

    w: SimpleNamespace
    at: datetime
    photo_bytes: int
    photos: int = 0
    files: list[Any] = field(default_factory=list)
    opened: list[Disclosure] = field(default_factory=list)
    values: dict[str, Disclosure] = field(default_factory=dict)

    def photo(self) -> bytes:
        from courses.actions.files import path_of
        from courses.models import StoredFile

        data = photo(self.photos, size=self.photo_bytes)
        self.photos += 1
        digest = sha256(data).hexdigest()
        path = Path(path_of(self.w.operator.pk, digest))
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
        self.files.append(
            StoredFile(
                operator=self.w.operator, sha256=digest, kind="photo", media_type="image/jpeg", size=len(data), width=1,
                height=1, stored_at=self.at, stored_by=self.w.technician,
            )
        )  # fmt: skip
        return digest.encode()

    def commitment(self, like: str, number: bytes) -> bytes:
        """Commit once more, under another salt, to what a commitment of the pattern stands for."""
        before = self.values[like]
        salt = sha256(number + like.encode()).digest()[:16]
        commit = sha256(b"commit/v1\n" + salt + before.value.encode()).hexdigest()
        self.opened.append(
            Disclosure(commit=commit, log_id=before.log_id, salt=salt, value=before.value, subject=before.subject)
        )
        return commit.encode()

    def store(self) -> None:
        from courses.models import StoredFile

        StoredFile.objects.bulk_create(self.files)
        Disclosure.objects.bulk_create(self.opened)
        self.files, self.opened = [], []


@transaction.atomic
def lengthen(
    w: SimpleNamespace, moulds: Moulds, days: Iterable[date], *, entries: int, photo_bytes: int = 4096,
    phones: dict[str, Phone] | None = None, own_commits: bool = True,
) -> int:  # fmt: skip
    """Write days until the record has so many entries, or the days are at an end, and return how many entries it has.

    ``phones``: a key for the reference of everybody who signs in the pattern. ``own_commits``: another commitment to
    each name and note every time, as in a real record; otherwise those of the pattern again.
    """
    writer = Writer.after(w.operator.log)
    keeper = Keeper(w, writer.last or w.at, photo_bytes)
    keeper.values = Disclosure.objects.in_bulk(list(moulds.commits))
    log = w.operator.log
    for number, on in enumerate(days, start=1):
        if writer.seq >= entries:
            break
        names = moulds.of_day(w.course, on)
        names |= {one.encode(): keeper.photo() for one in moulds.photos}
        for one in moulds.commits:
            names[one.encode()] = keeper.commitment(one, on.isoformat().encode()) if own_commits else one.encode()
        if phones:
            names |= {b"ROOT": writer.tree.root().hex().encode()}
        seen = str(writer.seq).encode()
        for mould in moulds.entries:
            act = filled(mould.act, {**names, str(NUMBER).encode(): seen})
            names |= {b"PREVIOUS": writer.prev.encode(), str(NUMBER).encode(): str(writer.seq).encode()}
            if phones:
                phone = phones[mould.ref]
                signature = phone.sign(b"act/v1\n" + mould.kind.encode() + b"\n" + act)
                names |= {b"KEY": phone.id.encode(), b"SIGNATURE": signature.encode()}
            data = b'{"act":' + act + filled(mould.rest, names)
            act_id = UUID(act[act.index(b',"id":"') + 7 :][:36].decode())
            t = data[data.rindex(b'"t":"') + 5 :][:20].decode()
            leaf = chain.leaf_hash(data)
            writer.tree = writer.tree.appended(leaf)
            writer.entries.append(
                Entry(
                    log=log, seq=writer.seq, kind=mould.kind, act_id=act_id, t=datetime.fromisoformat(t), data=data,
                    leaf_hash=leaf, frontier=writer.tree.to_bytes(),
                )
            )  # fmt: skip
            writer.seq, writer.prev = writer.seq + 1, leaf.hex()
        if number % BATCH == 0:
            keeper.store()
            writer.store()
    keeper.store()
    writer.store()
    return writer.seq
