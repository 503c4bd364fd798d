"""Which points of the daily inspection laws a course's checklists cover, and which none does. Pure.

An item says itself which points it is for (``laws``, such as ``FL:f``), as far as the author of the library reads the
text; it counts only if it is due every day, since all of these texts speak of each day. Whether a form meets a law is
for the authority to say: this finds what is plainly missing.
"""

from __future__ import annotations

import tomllib
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any

from courses import checklists
from courses.checklists import ChecklistError, Content, LibraryItem

FILE = Path(__file__).with_name("library") / "laws.toml"
GOT = frozenset({"READ", "READ-2", "MEMORY"})
_LAW = frozenset({"id", "title", "where", "source", "got", "note", "point"})
_POINT = frozenset({"letter", "text", "got", "recorded", "each"})


@dataclass(frozen=True)
class Cover:
    """What covers a point: an item of a place, or (``place`` empty, ``key`` its name) what the daily record holds."""

    place: str
    key: str
    text: str


@dataclass(frozen=True)
class Point:
    """One point of a law.

    ``recorded``: names of what the daily record holds that together meet it; ``each``: ``line`` where every line needs
    an item of its own. Filled in by ``coverage``: ``covered_by``; ``lacking_at``, the lines that have none;
    ``left_out``, items for it that people left out, with their reason.
    """

    letter: str
    text: str
    got: str
    recorded: tuple[str, ...] = ()
    each: str = ""
    covered_by: tuple[Cover, ...] = ()
    lacking_at: tuple[str, ...] = ()
    left_out: tuple[Cover, ...] = ()

    @property
    def missing(self) -> bool:
        """Say whether nothing covers it, or nothing on some line where each line needs it."""
        return not self.covered_by or bool(self.lacking_at)


@dataclass(frozen=True)
class Law:
    """One text: where it is law (ISO 3166 codes; none for a standard), where it was seen and how, and its points."""

    id: str
    title: str
    where: tuple[str, ...]
    source: str
    got: str
    note: str
    points: tuple[Point, ...]


# --- the texts


@cache
def laws() -> tuple[Law, ...]:
    """Return every text, in the order of the file. Raises ChecklistError if the file cannot be relied on."""
    return laws_from_toml(FILE.read_text("utf-8"))


@cache
def recordable() -> Mapping[str, str]:
    """Return what a daily record may hold besides items, and what each means."""
    return MappingProxyType(dict(tomllib.loads(FILE.read_text("utf-8"))["recorded"]))


def laws_for(place: str) -> tuple[Law, ...]:
    """Return the texts that are law at a place, such as ``US-FL``."""
    return tuple(law for law in laws() if place in law.where)


def laws_from_toml(text: str) -> tuple[Law, ...]:
    """Read a file of laws. Raises ChecklistError for a key that nobody reads or a value without a meaning."""
    data = tomllib.loads(text)
    if set(data) != {"recorded", "law"}:
        raise ChecklistError("laws", "The file of laws has other parts than it should.")
    found = tuple(_law(row, data["recorded"]) for row in data["law"])
    if len({law.id for law in found}) != len(found):
        raise ChecklistError("twice", "Two laws have the same name.")
    return found


def _law(row: Mapping[str, Any], recorded: Mapping[str, str]) -> Law:
    name = str(row.get("id", "?"))
    if set(row) - _LAW or not _LAW - {"note"} <= set(row) or row["got"] not in GOT or not row["source"]:
        raise ChecklistError("law", f"The law {name} has keys that nobody reads, or lacks one.")
    points = tuple(_point(point, row, recorded) for point in row["point"])
    if not points or len({point.letter for point in points}) != len(points):
        raise ChecklistError("law", f"The law {name} has no points, or two with the same letter.")
    return Law(name, row["title"], tuple(row["where"]), row["source"], row["got"], row.get("note", ""), points)


def _point(row: Mapping[str, Any], law: Mapping[str, Any], recorded: Mapping[str, str]) -> Point:
    name = f"{law.get('id')}:{row.get('letter', '?')}"
    if set(row) - _POINT or not {"letter", "text"} <= set(row):
        raise ChecklistError("point", f"The point {name} has keys that nobody reads, or lacks one.")
    point = Point(
        row["letter"], row["text"], row.get("got", law["got"]), tuple(row.get("recorded", ())), row.get("each", "")
    )
    if set(point.recorded) - set(recorded) or point.each not in {"", "line"} or point.got not in GOT:
        raise ChecklistError("point", f"The point {name} has a value without a meaning.")
    return point


# --- covering


def coverage(
    contents: Mapping[str, Content],
    also: Collection[str] = (),
    *,
    of: Iterable[Law] | None = None,
    items: Iterable[LibraryItem] | None = None,
) -> list[Law]:
    """Return the texts with what covers each of their points.

    ``contents``: the checklists in force by the name of their place, with an empty map for a place that has none;
    ``also``: names of ``recordable`` things that the daily record holds; ``of``: only these texts; ``items``: another
    library, for what left-out items were for. Raises ChecklistError for a name that is not recordable.
    """
    strange = set(also) - set(recordable())
    if strange:
        raise ChecklistError("recorded", f"A daily record holds nothing called {', '.join(sorted(strange))}.")
    library = tuple(checklists.library() if items is None else items)
    return [_covered(law, contents, frozenset(also), library) for law in (laws() if of is None else of)]


def missing(
    contents: Mapping[str, Content],
    also: Collection[str] = (),
    *,
    of: Iterable[Law] | None = None,
    items: Iterable[LibraryItem] | None = None,
) -> list[tuple[Law, Point]]:
    """Return the points that are not covered, each with its law."""
    covered = coverage(contents, also, of=of, items=items)
    return [(law, point) for law in covered for point in law.points if point.missing]


def _covered(
    law: Law, contents: Mapping[str, Content], also: frozenset[str], library: tuple[LibraryItem, ...]
) -> Law:  # fmt: skip
    points = []
    for point in law.points:
        tag = f"{law.id}:{point.letter}"
        by_items = list(_by_items(tag, contents))
        covered = by_items + [Cover("", name, recordable()[name]) for name in _by_record(point, also)]
        lacking: tuple[str, ...] = ()
        if point.each and not _by_record(point, also):
            having = {cover.place for cover in by_items}
            lacking = tuple(name for name, content in contents.items() if _may_be_line(content) and name not in having)
        points.append(
            Point(point.letter, point.text, point.got, point.recorded, point.each, tuple(covered), lacking,
                  tuple(_left_out(tag, contents, library)))
        )  # fmt: skip
    return Law(law.id, law.title, law.where, law.source, law.got, law.note, tuple(points))


def _by_items(tag: str, contents: Mapping[str, Content]) -> Iterator[Cover]:
    for place, content in contents.items():
        for item in content.get("items", ()):
            # What stands on the ride's sheet is read at every test ride, and there is one on every day.
            if tag in item["laws"] and (item["every"] == "1" or item["sheet"] == "ride"):
                yield Cover(place, item["key"], item["text"])


def _by_record(point: Point, also: frozenset[str]) -> tuple[str, ...]:
    return point.recorded if point.recorded and set(point.recorded) <= also else ()


def _may_be_line(content: Content) -> bool:
    """Tell a line's checklist by its slots. An empty one may be a line's, and is named rather than passed over."""
    slots = {item["slot"] for item in content.get("items", ())}
    return not slots or bool(slots - {"platform", "rescue", "house"})


def _left_out(tag: str, contents: Mapping[str, Content], library: tuple[LibraryItem, ...]) -> Iterator[Cover]:
    codes = {item.code for item in library if tag in item.laws}
    for place, content in contents.items():
        for out in content.get("left_out", ()):
            if out["code"] in codes:
                yield Cover(place, out.get("key", out["code"]), out["why"])
