"""What a history decides to forget: who asked, who confirmed, what may stand behind a check value no more.

An erasure is two deeds of two persons, a manager and an engineer. Both are entries, so that the history still tells
that something stood there and who decided that it goes; nothing in an entry itself is ever changed. The program that is
handed out with a record (``reports.verifier.verify``) reads the same; a test holds the two against each other.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

ASKED, WITHDRAWN, ERASED = "erasure-asked", "erasure-withdrawn", "erasure"
KINDS = (ASKED, WITHDRAWN, ERASED)
PERSON, NOTES, PHOTOS, PAPERS = "person", "notes", "photos", "papers"
WHAT = (PERSON, NOTES, PHOTOS, PAPERS)
GROUNDS = ("asked", "over", "shows")  # the person asked for it; its term is over; it shows who should not be in it
DECIDE = ("manager", "engineer")  # one of each, two persons
KEPT = timedelta(days=5 * 365)  # before that nothing is erased, whatever term an installation has

HASH = re.compile("[0-9a-f]{64}")
_PHOTO_KEYS = ("photos", "paper", "photo")
_NO_COMMIT = ("source_file", "sha256", "root")


@dataclass
class Asking:
    """One asking and what became of it: open, withdrawn by an entry, or done by one."""

    seq: int
    id: str
    at: str
    ref: str
    commit: str
    roles: list[str]
    what: dict[str, Any]
    grounds: str
    reason: str
    withdrawn: int | None = None
    done: int | None = None
    done_at: str = ""
    done_ref: str = ""
    done_commit: str = ""
    done_roles: list[str] = field(default_factory=list)
    done_what: dict[str, Any] = field(default_factory=dict)

    @property
    def is_open(self) -> bool:
        return self.withdrawn is None and self.done is None

    @property
    def is_decided_by_two(self) -> bool:
        """Whether what was done is what was asked for, by two persons who may decide it together."""
        same = self.done_what == self.what and self.withdrawn is None
        return same and self.ref != self.done_ref and two_decide(self.roles, self.done_roles)


@dataclass
class Named:
    """What one entry names: files by folder, and commitments with the person each stands beside, "" for none."""

    photos: set[str] = field(default_factory=set)
    papers: set[str] = field(default_factory=set)
    commits: dict[str, str] = field(default_factory=dict)


def two_decide(roles: Iterable[Any], others: Iterable[Any]) -> bool:
    """Tell whether of two persons, by the roles each holds, one can act as manager and the other as engineer."""
    one, other = set(roles), set(others)
    manager, engineer = DECIDE
    return (manager in one and engineer in other) or (engineer in one and manager in other)


def named(record: dict[str, Any]) -> Named:
    """Return what an entry names. What a deed of erasing is about it does not name: that stood there before."""
    found = Named()
    act = record.get("act", {})
    if record.get("kind") in KINDS:
        act = {name: value for name, value in act.items() if name != "what"}
    _walk(act, "", record.get("kind", ""), found)
    return found


def _walk(value: Any, name: str, kind: str, found: Named, ref: str = "") -> None:
    if isinstance(value, dict):
        beside = value.get("ref")
        for key, one in value.items():
            _walk(one, key, kind, found, beside if isinstance(beside, str) and key == "commit" else "")
    elif isinstance(value, list):
        for one in value:
            _walk(one, name, kind, found)
    elif isinstance(value, str) and HASH.fullmatch(value):
        if name in _PHOTO_KEYS:
            found.photos.add(value)
        elif name not in _NO_COMMIT:
            found.commits[value] = ref
        elif name == "sha256" and kind == "paper":
            found.papers.add(value)


def askings(records: Iterable[dict[str, Any]]) -> list[Asking]:
    """Return every asking with what became of it, oldest first, from the entries of KINDS in their order."""
    found: dict[str, Asking] = {}
    for record in records:
        act, seq = record["act"], record["seq"]
        if record["kind"] == ASKED:
            found[act["id"]] = Asking(
                seq, act["id"], record["t"], act["signer"]["ref"], act["signer"]["commit"], _roles(record), act["what"],
                act.get("grounds", ""), act.get("reason", ""),
            )  # fmt: skip
        elif record["kind"] == WITHDRAWN and (one := found.get(act["asked"])):
            one.withdrawn = seq
        elif record["kind"] == ERASED and (one := found.get(act["asked"])):
            one.done, one.done_at, one.done_roles, one.done_what = seq, record["t"], _roles(record), act["what"]
            one.done_ref, one.done_commit = act["signer"]["ref"], act["signer"]["commit"]
    return list(found.values())


def owed_by(record: dict[str, Any]) -> set[str]:
    """Return the hashes of the photos that were still on a phone when an entry that names them was recorded."""
    owed = record.get("judged", {}).get("photos_owed", ())
    return {one for one in owed if isinstance(one, str)}


class Forgotten:
    """What a history names and has decided to forget, entry by entry from the first on."""

    def __init__(self) -> None:
        self.commits: dict[bytes, int] = {}  # every commitment, and the entry that named it first
        self.files: dict[str, set[str]] = {PHOTOS: set(), PAPERS: set()}
        self.had: dict[str, int] = {}  # photos that were here when an entry that names them was recorded, and the first
        self.erased_commits: dict[bytes, int] = {}
        self.erased_files: dict[str, int] = {}
        self.erased_people: dict[str, int] = {}
        self.decided: list[tuple[int, dict[str, Any]]] = []  # what counts: by which entry, and what
        self.faults: list[tuple[int, str]] = []
        self._last: dict[str, str] = {}  # person: when last named
        self._first: dict[str, str] = {}  # commitment or hash of a file: when first named
        self._beside: dict[str, list[bytes]] = {}
        self._asked: dict[str, dict[str, Any]] = {}

    def take(self, record: dict[str, Any]) -> None:
        """Go on by one entry."""
        seq, act = record["seq"], record["act"]
        if record["kind"] == ASKED:
            self._asked[act["id"]] = record
        elif record["kind"] == WITHDRAWN:
            self._asked.pop(str(act.get("asked")), None)
        elif record["kind"] == ERASED:
            wrong = list(self._wrong(record)) or list(self._early(record))
            self.faults += [(seq, sentence) for sentence in wrong]
            if not wrong:  # what one person alone decided takes nothing away
                self._erase(seq, act.get("what"))
        here = named(record)
        for commit, ref in here.commits.items():
            raw = bytes.fromhex(commit)
            self.commits.setdefault(raw, seq)
            if ref:
                self._beside.setdefault(ref, []).append(raw)
                self._last[ref] = record["t"]
        for one in (*(commit for commit, ref in here.commits.items() if not ref), *here.photos, *here.papers):
            self._first.setdefault(one, record["t"])
        for folder, hashes in ((PHOTOS, here.photos), (PAPERS, here.papers)):
            self.files[folder] |= hashes
            if folder == PHOTOS:
                for one in hashes - owed_by(record):
                    self.had.setdefault(one, seq)
            self.faults += [(seq, "It names a file that was erased before.") for _ in hashes & self.erased_files.keys()]

    def _wrong(self, record: dict[str, Any]) -> Iterator[str]:
        act = record["act"]
        asked = self._asked.pop(str(act.get("asked")), None)
        if asked is None:
            yield "It erases what no entry before it asks for, or what was decided before."
            return
        if not _is_one_thing(act.get("what")):
            yield "It does not say what it erases."
        elif asked["act"].get("what") != act.get("what") or asked["seq"] != act.get("asked_entry"):
            yield "It erases something else than what was asked for."
        if asked["act"]["signer"].get("ref") == act["signer"].get("ref"):
            yield "The person who asked and the person who confirmed are one."
        if not two_decide(_roles(asked), _roles(record)):
            yield "It was not decided by a manager and an engineer."

    def _early(self, record: dict[str, Any]) -> Iterator[str]:
        """Tell of what was named too short a time before: whoever wrote such a decision, nothing goes by it."""
        what = record["act"]["what"]
        times = [self._last.get(what.get(PERSON, ""))]
        times += [self._first.get(one) for kind in (NOTES, PHOTOS, PAPERS) for one in what.get(kind, ())]
        if any(one is not None and _instant(record["t"]) - _instant(one) < KEPT for one in times):
            yield "It erases what was entered less than five years before."

    def _erase(self, seq: int, what: dict[str, Any]) -> None:
        self.decided.append((seq, what))
        person, notes = what.get(PERSON), what.get(NOTES)
        if isinstance(person, str):
            self.erased_people[person] = seq
            for raw in self._beside.pop(person, ()):
                self.erased_commits.setdefault(raw, seq)
        for one in _hashes(notes):
            self.erased_commits.setdefault(bytes.fromhex(one), seq)
        for folder in (PHOTOS, PAPERS):
            for one in _hashes(what.get(folder)):
                self.erased_files.setdefault(one, seq)


def _is_one_thing(what: Any) -> bool:
    """Tell whether it says one thing to erase: a person, or a list of notes, photos or papers."""
    if not isinstance(what, dict) or len(what) != 1:
        return False
    [(name, one)] = what.items()
    if name == PERSON:
        return isinstance(one, str)
    return name in WHAT and isinstance(one, list) and all(isinstance(part, str) for part in one)


def _instant(text: str) -> datetime:
    return datetime.fromisoformat(text)


def _roles(record: dict[str, Any]) -> list[Any]:
    judged = record.get("judged")
    roles = judged.get("roles") if isinstance(judged, dict) else None
    return [one for one in roles if isinstance(one, str)] if isinstance(roles, list) else []


def _hashes(value: Any) -> list[str]:
    values = value if isinstance(value, list) else []
    return [one for one in values if isinstance(one, str) and HASH.fullmatch(one)]
