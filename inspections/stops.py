"""The walk of a day: what is to be inspected, stop by stop in the order in which one comes past, and what is left."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Any
from uuid import UUID

from django.utils.translation import gettext as _

from courses.models import Place
from inspections.models import Draft, Finding, Hold, Sheet, Verdict
from inspections.picture import BADNESS, Picture, Section
from inspections.riding import RideRow, checks_before, ride_row, ride_rows
from inspections.words import section_label


@dataclass(frozen=True)
class Row:
    """One sheet of the walk.

    ``begun`` is how many items the person who looks has answered without signing yet; ``left`` how many of a signed
    sheet have nobody's answer that counts.
    """

    place: Place
    section: str
    title: str
    is_rack: bool
    items: int
    state: str
    sheet: Sheet | None = None
    sheets: int = 0
    begun: int = 0
    from_paper: bool = False
    left: int = 0
    out: tuple[str, ...] = ()  # tag codes on this rack that are not handed out
    is_near: bool = False  # told by next_after: at the stop where one stands

    @property
    def is_done(self) -> bool:
        """Tell whether it is signed and nothing has come up since, by work on a brake or a new part."""
        return self.sheet is not None and not self.left


@dataclass(frozen=True)
class Stop:
    """One place on the way with everything that is reached from it."""

    title: str
    rows: tuple[Row, ...]

    @property
    def done(self) -> int:
        return sum(1 for row in self.rows if row.is_done)

    @property
    def is_done(self) -> bool:
        return self.done == len(self.rows)

    @property
    def is_quiet(self) -> bool:
        """Tell whether nothing here is left to do for the person who looks."""
        return self.is_done and not any(row.begun for row in self.rows)

    @property
    def state(self) -> str:
        """Return the worst of what was signed here."""
        return max((row.state for row in self.rows if row.is_done), key=lambda one: BADNESS[one], default="unknown")


def stops(picture: Picture, person: Any) -> list[Stop]:
    """Return the walk: course house, gear store, then each platform with the lines that land and start there."""
    found = [
        Stop(title, tuple(row_of(picture, section, person) for section in there)) for title, there in _way(picture)
    ]
    return [stop for stop in found if stop.rows]


def is_walked(picture: Picture) -> bool:
    """Tell whether nothing of today's walk is left to sign or to ride, whoever does it."""
    way = (section for _title, there in _way(picture) for section in there)
    return all(row_of(picture, section, None).is_done for section in way) and all(
        one.is_done for one in ride_rows(picture)
    )


def _way(picture: Picture) -> Iterator[tuple[str, list[Section]]]:
    setup = picture.setup
    for place in (*setup.houses, *setup.stores):
        there = picture.sections(place)
        racks = sorted((one for one in there if one.is_rack), key=lambda one: one.name)
        yield str(place), [*(one for one in there if not one.is_rack), *racks]
    for platform in setup.platforms:
        here = list(picture.sections(platform))
        # What one arrives at comes before what one leaves by.
        here += [s for s in _of_lines(picture, landing=platform) if s.name == "landing"]
        here += [s for s in _of_lines(picture, launch=platform) if s.name != "landing"]
        yield str(platform), here


def _of_lines(picture: Picture, *, launch: Place | None = None, landing: Place | None = None) -> Iterator[Section]:
    for line in picture.setup.lines:
        if (launch and line.launch_id == launch.pk) or (landing and line.landing_id == landing.pk):
            yield from picture.sections(line)


def row_of(picture: Picture, section: Section, person: Any) -> Row:
    """Return one section as the walk and the page of its line show it."""
    draft = own_draft(picture.drafts, section.place, section.name, person)
    sheet = section.signed
    return Row(
        place=section.place,
        section=section.name,
        title=_title(section),
        is_rack=section.is_rack,
        items=len(section.items),
        state=state_of(picture, section) if sheet else "unknown",
        sheet=sheet,
        sheets=len(section.sheets),
        begun=len([one for one in draft.content.values() if one.get("mark") or one.get("text")]) if draft else 0,
        from_paper=any(one.from_paper for one in section.sheets),
        left=_left(picture, section) if sheet else 0,
        out=_out_of(picture, section) if section.is_rack else (),
    )


def _left(picture: Picture, section: Section) -> int:
    """Return how many items nobody has answered since they came due; that one could not be checked is an answer."""
    out = out_of_service(picture) if section.is_rack else set()
    return sum(
        1
        for item in section.items
        if not picture.readings_of(section.place.pk, item["key"])
        and getattr(item.get("component"), "pk", None) not in out
    )


def _out_of(picture: Picture, section: Section) -> tuple[str, ...]:
    out = out_of_service(picture)
    parts = [one for item in section.items if (one := item.get("component")) is not None]
    return tuple(sorted(one.tag for one in parts if one.pk in out))


def _title(section: Section) -> str:
    label = section_label(section.name)
    if section.place.kind != Place.Kind.LINE:
        return label
    return _("Line %(number)s: %(section)s") % {"number": section.place.number, "section": label}


def own_draft(drafts: Iterable[Draft], place: Place, section: str, person: Any) -> Draft | None:
    """Return the person's unsigned sheet of a section, corrections apart."""
    wanted = (place.pk, section, getattr(person, "pk", None), None)
    return next((one for one in drafts if (one.place_id, one.section, one.person_id, one.amends) == wanted), None)


def state_of(picture: Picture, section: Section) -> str:
    """Return the worst verdict that counts in a signed section, and no better than what is open there.

    Gear that is out of service is not looked at: it holds no line.
    """
    out = out_of_service(picture) if section.is_rack else set()
    looked_at = [item for item in section.items if getattr(item.get("component"), "pk", None) not in out]
    found = [picture.worst(section.place, item["key"]) for item in looked_at]
    if not section.is_rack:
        found += [Verdict.WITHDRAW if one.out_of_service else Verdict.WATCH for one in _open_in(picture, section)]
    return max(found, key=lambda one: BADNESS[one], default=Verdict.OK)


def _open_in(picture: Picture, section: Section) -> Iterator[Finding]:
    """Yield the findings that are open at what the section looks at, by whomever and however they were opened."""
    keys = {item["key"] for item in section.items}
    slots = {item["slot"] for item in section.items if item.get("slot")}
    for one in picture.open_findings(section.place):
        is_of_place = not (one.key or one.slot)
        if is_of_place or one.key in keys or (one.slot and one.slot in slots):
            yield one


def out_of_service(picture: Picture) -> set[UUID]:
    """Return the components that are out of service and not released."""
    return {one.component_id for one in picture.open_findings() if one.out_of_service and one.component_id is not None}


# --- what is left, and who is on a line


def next_row(found: list[Stop], after: UUID | None = None, section: str = "") -> Row | None:
    """Return the next sheet that nobody signed yet, on from the one given; the walk begins anew at its end."""
    rows = [row for stop in found for row in stop.rows]
    here = next((n for n, row in enumerate(rows) if (row.place.pk, row.section) == (after, section)), -1)
    return next((row for row in (*rows[here + 1 :], *rows[: here + 1]) if not row.is_done), None)


def next_after(picture: Picture, person: Any, place: Place, section: str) -> Row | RideRow | None:
    """Return what comes after a sheet that is signed just now: a sheet at this stop, then the walk on, then a ride.

    After a test ride (``section`` is "ride") ``picture`` is of after it, and a weight that is still due comes first,
    unless checks of that line are to be signed before ballast counts.
    After a sheet it may be of before: what is signed just now is not named again.
    """
    if section == "ride" and not (again := ride_row(picture, place)).is_done and not checks_before(picture, place):
        return again
    found = stops(picture, person)
    here = next((stop for stop in found if any(_is(row, place, section) for row in stop.rows)), None)
    near = next((row for row in here.rows if not row.is_done and not _is(row, place, section)), None) if here else None
    if near is not None:
        return replace(near, is_near=True)
    rows = [row for stop in found for row in stop.rows]
    at = next((n for n, row in enumerate(rows) if _is(row, place, section)), -1)
    ahead = (row for row in (*rows[at + 1 :], *rows[: max(at, 0)]) if not row.is_done)
    return next(ahead, None) or next((one for one in ride_rows(picture) if not one.is_done), None)


def _is(row: Row, place: Place, section: str) -> bool:
    return (row.place.pk, row.section) == (place.pk, section)


def on_lines(picture: Picture) -> list[tuple[Place | None, Hold]]:
    """Return every hold that stands, with its line; somebody on a line comes first."""
    standing = [hold for hold in picture.holds if hold.lifted_at is None]
    standing.sort(key=lambda hold: (hold.cause not in {Hold.Cause.PERSON, Hold.Cause.STUCK}, hold.seq))
    return [(picture.setup.places.get(hold.place_id) if hold.place_id else None, hold) for hold in standing]
