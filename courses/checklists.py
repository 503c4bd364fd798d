"""Checklists: what a course looks at, composed from the library for a place, changed by people, compared. Pure.

The library is a set of files in ``courses/library``. A checklist is a copy: what the library says later changes no
course. Its content is ``{"format": 1, "items": [...], "left_out": [{"code", "key", "why"}]}``; an item is a map of
text with the names of ``ITEM``, its key being ``CODE@SLOT``, such as ``MC-04@cable``.

An item of the library belongs to a kind of spot (``slot``): ``cable``, ``ride``, ``end`` (composed for both ends),
``brake`` (every brake), ``primary`` or ``emergency`` (every brake of that role), ``platform``, ``rescue``, ``house``;
``gear`` is guidance for racks and never becomes an item. ``when`` names conditions on it, all of which must hold:

* at a brake, or anywhere on a line (then some brake must meet both): ``brake``, ``role``
* at an end, or anywhere on a line (then some end must meet all): ``end anchor backup turnbuckle shackle``
* on a line: ``speed_instrument stranded``; of gear: ``gear`` (the component's kind)
* on a platform, and at an end or brake by the platform it stands on: ``support guys gate padding way_off``

A yes-or-no that nobody has entered is no "no": the item is composed, and a person may leave it out and say why.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from copy import deepcopy
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

from engineering.units import UNITS

FOLDER = Path(__file__).with_name("library")
FILES = ("cable", "ends", "brakes", "platform", "gear", "rescue", "house", "ride")
FORMAT = 1

Content = Mapping[str, Any]
Item = Mapping[str, Any]
Spot = Mapping[str, str]

TEXTS = frozenset({"code", "text", "look", "kind", "unit", "class", "sheet", "slot", "every", "reach", "measures",
                   "caution", "drawing", "photo"})  # fmt: skip
LISTS = frozenset({"needs", "sources", "laws"})
OPTIONAL = frozenset({"unit", "needs", "caution", "drawing", "laws", "photo"})
ITEM = TEXTS | LISTS | {"key"}

KINDS = frozenset({"look", "function", "figure", "pair", "count", "date", "dates"})
MEASURED = frozenset({"figure", "pair", "count"})
FIGURE_UNITS = frozenset(UNITS) - {"count", "-"}
CLASSES = ("minor", "major", "critical")
DAYS = ("1", "7", "14", "30", "90", "180", "365")
EVENTS = ("event:wind", "event:wet", "event:strike", "event:storm", "event:brake_work")
REACHES = frozenset({"hand", "platform", "riding"})
DRAWINGS = frozenset({"", "lay", "crown", "valley", "tail", "live_dead_end", "witness_mark"})
SHEETS = ("launch", "cable", "landing", "ride", "platform", "gear", "rescue", "house")
PLACE_SLOTS = {
    "line": frozenset({"cable", "ride", "end", "brake", "primary", "emergency"}),
    "platform": frozenset({"platform"}),
    "store": frozenset({"rescue"}),
    "house": frozenset({"house"}),
}
CODE = re.compile(r"[A-Z][A-Z0-9]{0,7}-[A-Z0-9]{1,8}")
SLOT = re.compile(r"cable|ride|end-launch|end-landing|(primary|emergency)-[1-9]|platform|rescue|house")
QUANTITY = re.compile(r"[a-z][a-z0-9_]*(\.[a-z0-9_]+){0,2}")

_LINE, _BRAKE = frozenset({"speed_instrument", "stranded"}), frozenset({"brake", "role"})
_END = frozenset({"end", "anchor", "backup", "turnbuckle", "shackle"})
_PLATFORM = frozenset({"support", "guys", "gate", "padding", "way_off"})
CONDITIONS = {
    "cable": _LINE | _BRAKE | _END, "ride": _LINE | _BRAKE | _END, "end": _LINE | _END | _PLATFORM,
    "brake": _LINE | _BRAKE | _PLATFORM, "primary": _LINE | _BRAKE | _PLATFORM, "emergency": _LINE | _BRAKE | _PLATFORM,
    "platform": _PLATFORM, "gear": frozenset({"gear"}), "rescue": frozenset[str](), "house": frozenset[str](),
}  # fmt: skip
FLAGS = frozenset({"speed_instrument", "stranded", "backup", "turnbuckle", "shackle", "guys", "gate", "padding"})
SPIRAL = re.compile(r"1\s*[x×]\s*[0-9]+.*", re.IGNORECASE)  # one strand only, such as 1x19


class ChecklistError(ValueError):
    """A checklist that cannot be relied on. ``code`` and ``params`` for translation, the text for people."""

    def __init__(self, code: str, sentence: str, **params: str) -> None:
        super().__init__(sentence)
        self.code, self.sentence, self.params = code, sentence, params


@dataclass(frozen=True)
class LibraryItem:
    """One item of the library. ``severity`` is its class; ``when`` its conditions; ``file`` where it stands."""

    code: str
    text: str
    look: str
    kind: str
    severity: str
    sheet: str
    slot: str
    every: str
    reach: str
    measures: str
    sources: tuple[str, ...]
    unit: str = ""
    needs: tuple[str, ...] = ()
    caution: str = ""
    drawing: str = ""
    laws: tuple[str, ...] = ()
    photo: str = ""
    allow_negative: bool = False
    when: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    file: str = ""

    def composed(self, slot: str, sheet: str) -> dict[str, Any]:
        """Return the item as it stands in a checklist, for one slot and on one sheet."""
        plain = {name: getattr(self, name) for name in TEXTS - {"class"}} | {
            name: list(getattr(self, name)) for name in LISTS
        }
        item = plain | {"key": f"{self.code}@{slot}", "slot": slot, "sheet": sheet, "class": self.severity}
        return item | {"allow_negative": True} if self.allow_negative else item

    def applies(self, spot: Spot) -> bool:
        """Tell whether every condition holds at a spot; a yes-or-no that was not entered counts as a yes."""
        return all(
            (spot[name] in wanted if name in spot else name in FLAGS and "yes" in wanted)
            for name, wanted in self.when.items()
        )


# --- the library


@cache
def library() -> tuple[LibraryItem, ...]:
    """Return every item of the library, in the order of its files. Raises ChecklistError if it cannot be relied on."""
    found = [
        item for name in FILES for item in library_from_toml((FOLDER / f"{name}.toml").read_text("utf-8"), file=name)
    ]
    _refuse_twins(found)
    return tuple(found)


def library_from_toml(text: str, *, file: str = "") -> tuple[LibraryItem, ...]:
    """Read one file of the library. Raises ChecklistError for a key that nobody reads, or a value without a meaning."""
    data = tomllib.loads(text)
    if set(data) - {"item"}:
        raise ChecklistError("library", f"The file {file} has parts that nobody reads: {sorted(set(data) - {'item'})}.")
    found = tuple(_library_item(row, file) for row in data.get("item", ()))
    _refuse_twins(found)
    return found


def _refuse_twins(items: Sequence[LibraryItem]) -> None:
    seen: set[tuple[str, str]] = set()
    for item in items:
        if (item.code, item.slot) in seen:
            raise ChecklistError("twice", f"{item.code} stands twice in the library for {item.slot}.")
        seen.add((item.code, item.slot))


def _library_item(row: Mapping[str, Any], file: str) -> LibraryItem:
    name = f"{row.get('code', '?')} in {file or 'the library'}"
    slot, sheet = row.get("slot", ""), row.get("sheet", "")
    if slot not in CONDITIONS:
        raise ChecklistError("slot", f"{name}: there is no kind of spot {slot!r}.")
    if (slot == "end") != (sheet == "end"):
        raise ChecklistError("sheet", f"{name}: an item of the ends, and no other, is on the sheet of both.")
    when = {key: (value,) if isinstance(value, str) else tuple(value) for key, value in row.get("when", {}).items()}
    if set(when) - CONDITIONS[slot]:
        raise ChecklistError("when", f"{name}: conditions nobody can ask here: {sorted(set(when) - CONDITIONS[slot])}.")
    if any(not values or (key in FLAGS and set(values) - {"yes", "no"}) for key, values in when.items()):
        raise ChecklistError("when", f"{name}: a condition that never holds.")
    if not row.get("sources"):
        raise ChecklistError("source", f"{name}: no source is named.")
    plain = {"photo": "", **{key: value for key, value in row.items() if key != "when"}}
    # An item of both ends or of a role is checked as one of the items that it becomes.
    sample = {"end": "end-launch", "brake": "primary-1", "primary": "primary-1", "emergency": "emergency-1"}
    checked = _completed(
        plain | {"slot": sample.get(slot, slot), "sheet": "launch" if sheet == "end" else sheet}, gear=slot == "gear"
    )
    fields: dict[str, Any] = {
        key: tuple(checked[key]) if key in LISTS else checked[key] for key in (TEXTS | LISTS) - {"class"}
    }
    fields |= {"slot": slot, "sheet": sheet, "allow_negative": "allow_negative" in checked}
    return LibraryItem(**fields, severity=checked["class"], when=when, file=file)


def gear_guidance(kind: str) -> tuple[LibraryItem, ...]:
    """Return what to look at on one kind of pooled gear (a component's kind): shown on the rack, never an item."""
    return tuple(item for item in library() if item.slot == "gear" and item.applies({"gear": kind}))


# --- composing


def compose(
    kind: str,
    document: Mapping[str, Any],
    *,
    launch_document: Mapping[str, Any] | None = None,
    landing_document: Mapping[str, Any] | None = None,
    items: Sequence[LibraryItem] | None = None,
) -> dict[str, Any]:
    """Return the library's checklist for a place of a kind (line, platform, store, house) with this document.

    ``launch_document``, ``landing_document``: the platforms of a line. ``items``: another library than the stored one.
    """
    if kind not in PLACE_SLOTS:
        raise ChecklistError("place", f"There is no checklist for a place of the kind {kind!r}.")
    ends = {"launch": launch_document, "landing": landing_document}
    found = []
    for item in library() if items is None else items:
        if item.slot in PLACE_SLOTS[kind]:
            for slot, sheet, spots in _spots(item, document, ends):
                if any(item.applies(spot) for spot in spots):
                    found.append(item.composed(slot, sheet))
    found.sort(key=lambda item: SHEETS.index(item["sheet"]))  # stable: within a sheet the library's own order
    content = {"format": FORMAT, "items": found, "left_out": []}
    validate(content)
    return content


def lacking(content: Content, composed: Content) -> list[dict[str, Any]]:
    """Return the items that composing gives and a checklist neither has nor says to have left out."""
    known = {item["key"] for item in content["items"]}
    known |= {out.get("key", "") for out in content.get("left_out", ())}
    return [dict(item) for item in composed["items"] if item["key"] not in known]


def _spots(
    item: LibraryItem, document: Mapping[str, Any], platforms: Mapping[str, Mapping[str, Any] | None]
) -> Iterator[tuple[str, str, list[dict[str, str]]]]:
    """Yield the slots that an item may be composed for, each with its sheet and what may meet its conditions there."""
    if item.slot not in PLACE_SLOTS["line"]:
        yield item.slot, item.sheet, [_platform_spot(document) if item.slot == "platform" else {}]
        return
    line = _line_spot(document)
    ends = {name: _end_spot((document.get("ends") or {}).get(name) or {}) for name in ("launch", "landing")}
    brakes = {brake["slot"]: {"brake": brake["kind"], "role": brake["role"]} for brake in document.get("brakes") or ()}
    on = {name: _platform_spot(platform) if platform else {} for name, platform in platforms.items()}
    if item.slot == "end":
        for name, end in ends.items():
            yield f"end-{name}", name, [line | end | on[name]]
    elif item.slot in {"brake", "primary", "emergency"}:
        side = "launch" if item.sheet == "launch" else "landing"
        for slot, brake in brakes.items():
            if item.slot in {"brake", brake["role"]}:
                yield slot, item.sheet, [line | brake | on[side]]
    else:
        yield item.slot, item.sheet, [line | end | brake for end in ends.values() for brake in brakes.values() or [{}]]


def _line_spot(document: Mapping[str, Any]) -> dict[str, str]:
    construction = (document.get("cable") or {}).get("construction")
    found = {"speed_instrument": "yes" if document.get("speed_instrument") else "no"}
    if construction:
        found["stranded"] = "no" if SPIRAL.fullmatch(construction.strip()) else "yes"
    return found


def _end_spot(end: Mapping[str, Any]) -> dict[str, str]:
    names = {"kind": "end", "anchor": "anchor", "backup": "backup", "turnbuckle": "turnbuckle", "shackle": "shackle"}
    return {name: end[key] for key, name in names.items() if end.get(key)}


def _platform_spot(document: Mapping[str, Any]) -> dict[str, str]:
    found = {name: document[name] for name in ("support", "gate", "padding") if document.get(name)}
    if document.get("guys"):
        found["guys"] = "yes" if int(document["guys"]) else "no"
    if document.get("way_off"):
        found["way_off"] = document["way_off"].split(":")[0]
    return found


# --- validity


def validate(content: Content) -> None:
    """Refuse a checklist that could be misread. Raises ChecklistError(code, sentence)."""
    if set(content) - {"format", "items", "left_out"}:
        raise ChecklistError("unknown", f"Nobody reads {sorted(set(content) - {'format', 'items', 'left_out'})}.")
    if content.get("format") != FORMAT:
        raise ChecklistError("format", "This checklist is written in another format.")
    if not isinstance(content.get("items"), list):
        raise ChecklistError("items", "A checklist needs a list of items.")
    keys = set()
    for item in content["items"]:
        if not isinstance(item, Mapping) or _completed(item) != dict(item):
            raise ChecklistError("item", "An item lacks a part that it must have.")
        if item["key"] in keys:
            raise ChecklistError("twice", f"The item {item['key']} stands twice in this checklist.", key=item["key"])
        keys.add(item["key"])
    for out in content.get("left_out", ()):
        if not isinstance(out, Mapping) or not {"code", "why"} <= set(out) <= {"code", "key", "why"}:
            raise ChecklistError("left_out", "What was left out is named by its code and the reason.")
        if not str(out["why"]).strip():
            raise ChecklistError("why", f"Say why {out['code']} is left out.", item=str(out["code"]))


def _completed(item: Item, *, gear: bool = False) -> dict[str, Any]:
    """Return an item with everything optional filled in. Raises ChecklistError for anything that could be misread."""
    name = str(item.get("key") or item.get("code") or "?")
    if set(item) - ITEM - {"allow_negative"}:
        strange = ", ".join(sorted(set(item) - ITEM - {"allow_negative"}))
        raise ChecklistError("unknown", f"{name}: nobody reads {strange}.", key=name, what=strange)
    found = {key: [] if key in LISTS else "" for key in OPTIONAL} | dict(item)
    found.setdefault("key", f"{found.get('code', '')}@{found.get('slot', '')}")
    for key in sorted(ITEM):
        if key not in found or (key not in OPTIONAL and not found[key]):
            raise ChecklistError("missing", f"{name}: {key} is missing.", key=name, what=key)
        is_list, value = key in LISTS, found[key]
        texts = list(value) if isinstance(value, list | tuple) else [value]
        if is_list != isinstance(value, list | tuple) or not all(isinstance(one, str) for one in texts):
            raise ChecklistError("type", f"{name}: {key} is written in another way.", key=name, what=key)
        if any(one != one.strip() or (is_list and not one) for one in texts):
            raise ChecklistError("type", f"{name}: {key} has an empty entry or blanks around it.", key=name, what=key)
        if is_list:
            found[key] = texts
    for key, known in (("kind", KINDS), ("class", CLASSES), ("every", DAYS + EVENTS), ("reach", REACHES),
                       ("sheet", SHEETS), ("drawing", DRAWINGS)):  # fmt: skip
        if found[key] not in known:
            raise ChecklistError("choice", f"{name}: {found[key]!r} is no {key}.", key=name, what=key)
    slot_fits = found["slot"] == "gear" if gear else SLOT.fullmatch(found["slot"])
    if not CODE.fullmatch(found["code"]) or not slot_fits or found["key"] != f"{found['code']}@{found['slot']}":
        raise ChecklistError("key", f"{name}: code, slot and key do not fit together.", key=name)
    if not QUANTITY.fullmatch(found["measures"]):
        raise ChecklistError("measures", f"{name}: {found['measures']!r} is no quantity.", key=name)
    unit, kind = found["unit"], found["kind"]
    if unit not in ({"count"} if kind == "count" else FIGURE_UNITS if kind in MEASURED else {""}):
        raise ChecklistError("unit", f"{name}: {unit!r} is no unit for a {kind}.", key=name)
    if "allow_negative" in found and (found["allow_negative"] is not True or kind not in MEASURED - {"count"}):
        raise ChecklistError("type", f"{name}: only a figure may be below nought, and says so.", key=name)
    return found


# --- comparing


@dataclass(frozen=True)
class Change:
    """One difference of two checklists. ``what``: added, removed, left_out or the part of the item that differs."""

    code: str
    key: str
    what: str
    before: str
    after: str


def differences(old: Content | None, new: Content) -> list[Change]:
    """Return what differs, in the order of the new checklist, then what is gone; texts as they stand in both."""
    before = {item["key"]: item for item in (old or {}).get("items", ())}
    after = {item["key"]: item for item in new.get("items", ())}
    found = []
    for key, item in after.items():
        if key not in before:
            found.append(Change(item["code"], key, "added", "", item["text"]))
            continue
        for name in [*item, *(name for name in before[key] if name not in item)]:
            was, becomes = _shown(before[key].get(name, "")), _shown(item.get(name, ""))
            if was != becomes:
                found.append(Change(item["code"], key, name, was, becomes))
    gone = [(key, item) for key, item in before.items() if key not in after]
    found += [Change(item["code"], key, "removed", item["text"], "") for key, item in gone]
    told = {(out["code"], out.get("key", "")): out["why"] for out in (old or {}).get("left_out", ())}
    for out in new.get("left_out", ()):
        was = told.get((out["code"], out.get("key", "")), "")
        if was != out["why"]:
            found.append(Change(out["code"], out.get("key", ""), "left_out", was, out["why"]))
    return found


def _shown(value: Any) -> str:
    if isinstance(value, list | tuple):
        return "; ".join(str(one) for one in value)
    return "yes" if value is True else str(value)


def loosens(old: Content, new: Content) -> bool:
    """Tell whether anything could be looked at less, later or otherwise. In doubt it does.

    Not loosening: an item more, a graver class, a shorter interval (daily instead of after an event), a source or a
    tool named besides the old ones, another order.
    """
    keys = [item.get("key") for item in new.get("items", ())]
    after = {item.get("key"): item for item in new.get("items", ())}
    if len(after) != len(keys) or {**old, "items": 0, "left_out": 0} != {**new, "items": 0, "left_out": 0}:
        return True
    return any(
        item.get("key") not in after or _item_loosens(item, after[item.get("key")]) for item in old.get("items", ())
    )


def _item_loosens(old: Item, new: Item) -> bool:
    for name in {*old, *new}:
        was, becomes = old.get(name), new.get(name)
        if was == becomes:
            continue
        if name == "class" and was in CLASSES and becomes in CLASSES:
            looser = CLASSES.index(becomes) < CLASSES.index(was)
        elif name == "every":
            looser = not _at_least_as_often(str(was), str(becomes))
        elif name in {"sources", "needs"} and isinstance(was, list) and isinstance(becomes, list):
            looser = not set(was) <= set(becomes)
        else:
            looser = True
        if looser:
            return True
    return False


def _at_least_as_often(was: str, becomes: str) -> bool:
    if was in DAYS and becomes in DAYS:
        return int(becomes) <= int(was)
    return was == becomes or (was in EVENTS and becomes == "1")


# --- changing: each returns a new checklist


def with_item(content: Content, item: Item) -> dict[str, Any]:
    """Add an item; its key and optional parts may be left away. It counts as left out no more."""
    added = _completed(item)
    if any(each["key"] == added["key"] for each in content["items"]):
        raise ChecklistError("twice", f"The item {added['key']} is in this checklist already.", key=added["key"])
    found = deepcopy(dict(content))
    found["left_out"] = [out for out in found.get("left_out", []) if out.get("key") != added["key"]]
    found["items"] = sorted([*found["items"], added], key=lambda each: SHEETS.index(each["sheet"]))
    validate(found)
    return found


def without_item(content: Content, key: str, why: str) -> dict[str, Any]:
    """Take an item out and keep the reason."""
    item, found = _item_of(content, key), deepcopy(dict(content))
    if not why.strip():
        raise ChecklistError("why", f"Say why {key} is left out.", key=key)
    found["items"] = [each for each in found["items"] if each["key"] != key]
    found["left_out"] = [*found.get("left_out", []), {"code": item["code"], "key": key, "why": why.strip()}]
    validate(found)
    return found


def changed(content: Content, key: str, **fields: Any) -> dict[str, Any]:
    """Change parts of an item; what it is called and where it belongs stays, since its history hangs on them."""
    item, found = _item_of(content, key), deepcopy(dict(content))
    if {"key", "code", "slot"} & set(fields):
        raise ChecklistError("key", "Code and place of an item cannot be changed; leave it out and add another.")
    new = _completed({**item, **fields})
    found["items"] = [new if each["key"] == key else each for each in found["items"]]
    validate(found)
    return found


def _item_of(content: Content, key: str) -> Item:
    for item in content["items"]:
        if item["key"] == key:
            return item  # type: ignore[no-any-return]
    raise ChecklistError("no-item", f"There is no item {key} in this checklist.", key=key)


def daily_budget(content: Content) -> tuple[int, int]:
    """Return how many items are due every day apart from the test ride, and how many of them ask for figures."""
    daily = [item for item in content["items"] if item["every"] == "1" and item["sheet"] not in {"ride", "gear"}]
    return len(daily), sum(1 for item in daily if item["kind"] in MEASURED)
