"""One operator's history to take away: the entries as they are, what they name, the signed states, and how to check it.

What belongs into it is said by the program that checks it (``reports.verifier.verify``), so that the two agree.
"""

from __future__ import annotations

import json
import logging
import re
import tempfile
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from itertools import islice
from pathlib import Path
from typing import Any

from django.db import transaction
from django.db.models import Sum
from django.db.models.functions import Length

from accounts.models import Operator
from courses.actions.files import path_of
from courses.models import Place, Placement, StoredFile
from ledger import chain
from ledger.actions import as_text
from ledger.models import Checkpoint, Countersignature, Disclosure, Entry, Log
from ledger.sealing import NotSealed, newest, seal
from ledger.witness.countersigning import kept_of, whole_note
from reports.bundle_zip import Member, streamed
from reports.verifier import verify as verifier

logger = logging.getLogger(__name__)
CHUNK = 200  # entries read at once; a sheet has some ten thousand bytes
READ = 1 << 16
ENDINGS = {"application/pdf": "pdf", "image/jpeg": "jpg", "image/png": "png"}
FOLDERS = {"photos": "jpg", "papers": "pdf", "sources": ""}
_DATE = re.compile(rb'"date":"(\d{4}-\d\d-\d\d)"')


@dataclass(frozen=True)
class Days:
    """Days on the operator's clock, both included, and the instants that bound them."""

    first: date
    last: date
    since: datetime
    until: datetime

    @classmethod
    def of(cls, operator: Operator, first: date, last: date) -> Days:
        return cls(first, last, operator.end_of(first - timedelta(days=1)), operator.end_of(last))

    def told(self) -> dict[str, str]:
        """Return what the bundle says of its days."""
        return {
            "from": self.first.isoformat(),
            "to": self.last.isoformat(),
            "since": as_text(self.since),
            "until": as_text(self.until),
        }


@dataclass
class Bundle:
    """A bundle that is being made. ``missing`` holds what entries name and the store does not have, once it is made.

    A photo that has not come from its phone yet does not count: its entry says so, and so does who checks the bundle.
    """

    operator: Operator
    size: int
    signed: int  # entries under the newest signed state
    note: str  # that state with its witnesses, "" if there is none
    at: datetime
    days: Days | None = None
    line: Place | None = None
    unsigned: str = ""  # why the newest state is not signed: a code of ``ledger.sealing.WHY``
    missing: list[str] = field(default_factory=list)
    _had: set[str] = field(default_factory=set)  # photos that were here when an entry that names them was recorded
    _named: dict[str, set[str]] = field(default_factory=lambda: {name: set() for name in (*FOLDERS, "commits")})

    @property
    def name(self) -> str:
        """What the file is called."""
        some = f"-{self.days.first}-{self.days.last}" if self.days else f"-line-{self.line.number}" if self.line else ""
        return f"record-{self.size}{some}.zip"

    @property
    def span(self) -> dict[str, str] | None:
        """What the bundle says of itself where it does not show everything."""
        if self.line is not None:
            return {"course": str(self.line.course_id), "line": str(self.line.pk)}
        return self.days.told() if self.days else None

    def chunks(self) -> Iterator[bytes]:
        """Yield the ZIP file piece by piece; memory holds hashes, a page of entries and a piece of a file."""
        return streamed(self._members(), at=self.at)

    def _members(self) -> Iterator[Member]:
        log = self.operator.log
        yield Member(verifier.README, [self._readme().encode()])
        yield Member(verifier.PROGRAM, [program()])
        if self.note:
            yield Member(verifier.HEAD, [self.note.encode()])
        yield from self._states()
        if self.span is not None:
            yield Member(verifier.RANGE, [chain.canonical(self.span) + b"\n"])
            yield Member(verifier.LEAVES, _leaves(log, self.size), packed=False)
        with tempfile.SpooledTemporaryFile(max_size=1 << 20) as table:
            table.write(verifier.table_line(verifier.COLUMNS))
            yield Member(verifier.ENTRIES, self._entries(table), size=_length(log))
            table.seek(0)
            yield Member(verifier.TABLE, iter(lambda: table.read(READ), b""))
        yield Member(verifier.NAMES, self._disclosures())
        for folder in FOLDERS:
            yield from self._files(folder)

    def _states(self) -> Iterator[Member]:
        seen: dict[int, list[Countersignature]] = {}
        for answer in Countersignature.objects.filter(log=self.operator.log).order_by("size", "witness"):
            seen.setdefault(answer.size, []).append(answer)
        for one in Checkpoint.objects.filter(log=self.operator.log, size__lte=self.signed).order_by("size"):
            # A witness may answer while this is sent: both copies of the newest state are as it was at the beginning.
            note = self.note if one.size == self.signed else whole_note(one, seen.get(one.size, []))
            yield Member(f"{verifier.STATES}{one.size}.txt", [note.encode()])

    def _readme(self) -> str:
        first = Entry.objects.filter(log=self.operator.log, seq=0).first()
        name = first.record["act"].get("name", "") if first is not None else ""
        return verifier.readme(name, str(self.operator.log_id), self.size, self.signed, self.span)

    def _entries(self, table: Any) -> Iterator[bytes]:
        """Yield the lines, and take on the way what they name and their row of the table."""
        for data in self._shown():
            record = json.loads(data)
            named = verifier.named_by(record)
            for kind, found in self._named.items():
                found |= getattr(named, kind)
            self._had |= named.photos - verifier.owed_by(record)
            table.write(verifier.table_line(verifier.table_row(record, chain.leaf_hash(data))))
            yield data + b"\n"

    def _shown(self) -> Iterator[bytes]:
        """Yield the entries that are shown: all, those about a line, or those of some days.

        With some of them always the first, the last, and what names a key or erases something.
        """
        if self.days is not None:
            yield from self._of_days(self.days)
        elif self.line is not None:
            yield from self._of_line(self.line)
        else:
            yield from (data for _seq, data in _rows(self.operator.log, 0, self.size))

    def _of_line(self, line: Place) -> Iterator[bytes]:
        log = self.operator.log
        parts = Placement.objects.filter(place=line).values_list("component_id", flat=True)
        of = verifier.OfLine(str(line.course_id), str(line.pk), map(str, parts))
        proof = {0, self.size - 1, *_always(log)}
        for seq, data in _rows(log, 0, self.size):
            if of.has(json.loads(data), data) or seq in proof:
                yield data

    def _of_days(self, days: Days) -> Iterator[bytes]:
        """Beside the entries received on those days: what proves that none of them lacks, the one before and after.

        And whatever was entered later about one of the days.
        """
        log = self.operator.log
        begin, end = _first_since(log, days.since, self.size), _first_since(log, days.until, self.size)
        proof = {0, begin - 1, end, self.size - 1, *_always(log)}
        first, last = days.first.isoformat().encode(), days.last.isoformat().encode()
        for seq, data in _rows(log, 0, self.size):
            about = any(first <= on <= last for on in _DATE.findall(data))
            if begin <= seq < end or seq in proof or about:
                yield data

    def _disclosures(self) -> Iterator[bytes]:
        for some in _some_of(sorted(self._named["commits"])):
            # Asked for by their key alone: told to look for them in one log, a database may go through all of that log.
            rows = Disclosure.objects.filter(commit__in=some).order_by("commit")
            for commit, salt, value, log in rows.values_list("commit", "salt", "value", "log_id"):
                if log != self.operator.log_id:
                    continue
                yield chain.canonical({"commit": commit, "salt": bytes(salt).hex(), "value": json.loads(value)}) + b"\n"

    def _files(self, folder: str) -> Iterator[Member]:
        for some in _some_of(sorted(self._named[folder])):
            rows = StoredFile.objects.filter(operator=self.operator, sha256__in=some)
            endings, erased = {}, set()
            for one, kind, seq in rows.values_list("sha256", "media_type", "erased_seq"):
                endings[one] = ENDINGS.get(kind, "bin")
                if seq is not None:
                    erased.add(one)
            for digest in some:
                if digest in erased:
                    continue  # it is not there, and the entry that decided it comes along
                name = f"{folder}/{digest}.{FOLDERS[folder] or endings.get(digest, 'bin')}"
                path = path_of(self.operator.pk, digest)
                if path.is_file():
                    yield Member(name, _file(path), size=path.stat().st_size, packed=False)
                elif folder != "photos" or digest in self._had:
                    self.missing.append(name)


def begin_bundle(
    operator: Operator, *, at: datetime, first: date | None = None, last: date | None = None, line: Place | None = None
) -> Bundle:
    """Fix what a bundle is of, and sign that state if it is not signed yet and the key is there.

    ``first`` and ``last``: days on the operator's clock, both included; or ``line``; without them the whole history.
    Raises ValueError for days of one line, and for a line of another operator.
    """
    if line is not None and (first or last or line.kind != Place.Kind.LINE or line.course.operator_id != operator.pk):
        raise ValueError("A line is one of the operator, and alone.")
    unsigned = ""
    try:
        with transaction.atomic():
            head: Checkpoint | None = seal(operator.log, at=at)
    except NotSealed as not_sealed:
        unsigned, head = not_sealed.code, newest(operator.log)
        logger.warning("A bundle of %s was made whose newest entries are not signed: %s", operator.name, not_sealed)
    last_seq = Entry.objects.filter(log=operator.log).order_by("-seq").values_list("seq", flat=True).first()
    size = head.size if head and not unsigned else 0 if last_seq is None else last_seq + 1
    days = Days.of(operator, first, last) if first and last else None
    note = whole_note(head, kept_of(head)) if head else ""
    return Bundle(operator, size, head.size if head else 0, note, at, days, line, unsigned)


def program() -> bytes:
    """Return the verifier as it is handed out."""
    return Path(verifier.__file__).read_bytes()


def _rows(log: Log, begin: int, end: int) -> Iterator[tuple[int, bytes]]:
    """Yield (number, bytes) in pages, so that no cursor stands open while somebody's line is slow."""
    for start in range(begin, end, CHUNK):
        rows = Entry.objects.filter(log=log, seq__gte=start, seq__lt=min(start + CHUNK, end)).order_by("seq")
        for seq, data in rows.values_list("seq", "data"):
            yield seq, bytes(data)


def _some_of(values: Iterable[str]) -> Iterator[list[str]]:
    """Yield a long list in pieces that a query can ask for."""
    left = iter(values)
    while some := list(islice(left, CHUNK)):
        yield some


def _leaves(log: Log, size: int) -> Iterator[bytes]:
    for start in range(0, size, 10 * CHUNK):
        rows = Entry.objects.filter(log=log, seq__gte=start, seq__lt=min(start + 10 * CHUNK, size)).order_by("seq")
        yield b"".join(map(bytes, rows.values_list("leaf_hash", flat=True)))


def _always(log: Log) -> set[int]:
    """Return the numbers of the entries that are needed to check any other."""
    return set(Entry.objects.filter(log=log, kind__in=verifier.ALWAYS).values_list("seq", flat=True))


def _first_since(log: Log, at: datetime, size: int) -> int:
    """Return the number of the first entry that was received at ``at`` or later; ``size`` if there is none."""
    found = Entry.objects.filter(log=log, t__gte=at, seq__lt=size).order_by("seq").values_list("seq", flat=True).first()
    return size if found is None else found


def _length(log: Log) -> int:
    return Entry.objects.filter(log=log).aggregate(total=Sum(Length("data")))["total"] or 0


def _file(path: Path) -> Iterator[bytes]:
    with path.open("rb") as stream:
        while chunk := stream.read(READ):
            yield chunk
