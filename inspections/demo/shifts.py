"""Who walks the invented course on which morning, and how long they take: two people, each with an own clock.

The times are judgement: 12 to 20 seconds for an item, a minute more where the cable is ridden for it, some two minutes
from platform to platform, three to four for a ride with ballast.
"""

from __future__ import annotations

import random
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from courses.models import Place
from courses.queries import Setup
from inspections.picture import Picture

FIRST, SECOND, STAND_IN = "technician", "ruben", "engineer"
ITEM_S = (12, 20)
RIDING_S = (60, 110)  # more for what is looked at or measured from the carriage on the cable
STEP_S = (100, 170)  # from one platform to the next
TURN_S = (15, 40)  # from one sheet to the next at the same platform
BALLAST_S = (170, 240)  # carry, ask whether the landing is clear, send, read, pull back
AGAIN_S = (110, 160)  # a further ballast on the same line


@dataclass(frozen=True)
class Turn:
    """One sheet of the morning: whose it is, when it is begun and when it is signed."""

    place: Place
    section: str
    who: str
    start: datetime
    end: datetime


def crew(back: int) -> tuple[str, str]:
    """Return the two who inspect ``back`` days before today, the lead first; each technician has one day a week off."""
    if back % 7 == 2:
        return SECOND, STAND_IN
    if back % 7 == 5:
        return FIRST, STAND_IN
    return (FIRST, SECOND) if back % 2 else (SECOND, FIRST)


def turns(picture: Picture, wanted: Iterable[tuple[Place, str]], pair: tuple[str, str], start: datetime,
          rng: random.Random) -> list[Turn]:  # fmt: skip
    """Return the sheets ``wanted``, in the order in which they are walked, as they are signed by the two side by side.

    One takes the lower half of the lines and the platforms at which they start, the other the rest; gear and house go
    to who has less to do.
    """
    wanted = list(wanted)
    work: dict[str, int] = dict.fromkeys(pair, 0)
    whose = {}
    for index, (place, section) in enumerate(wanted):
        if place.kind in {Place.Kind.LINE, Place.Kind.PLATFORM}:
            whose[index] = pair[_is_upper(picture.setup, place)]
            work[whose[index]] += _count(picture, place, section)
    for index, (place, section) in enumerate(wanted):
        if index not in whose:
            whose[index] = min(pair, key=lambda one: work[one])
            work[whose[index]] += _count(picture, place, section)
    found = []
    for who in pair:
        now, at = start + timedelta(seconds=rng.randint(0, 420)), 0
        for index, (place, section) in enumerate(wanted):
            if whose[index] != who:
                continue
            there = _platform(picture.setup, place, section)
            steps = abs(there - at)
            now += timedelta(seconds=rng.randint(*TURN_S) + sum(rng.randint(*STEP_S) for _step in range(steps)))
            begun, at = now, there
            now += timedelta(seconds=_seconds(picture, place, section, rng))
            found.append(Turn(place, section, who, begun, now))
    return sorted(found, key=lambda turn: turn.end)


def seconds_for(items: Iterable[dict[str, object]], rng: random.Random) -> int:
    """Return how long a person takes to look at these items and answer them."""
    return sum(
        rng.randint(*ITEM_S) + (rng.randint(*RIDING_S) if item.get("reach") == "riding" else 0) for item in items
    )


def _seconds(picture: Picture, place: Place, section: str, rng: random.Random) -> int:
    found = picture.section(place, section)
    return seconds_for(found.items if found else (), rng)


def _count(picture: Picture, place: Place, section: str) -> int:
    found = picture.section(place, section)
    return len(found.items) if found else 0


def _is_upper(setup: Setup, place: Place) -> bool:
    lines = list(setup.lines)
    starting = {line.launch_id: line for line in lines}
    ending = {line.landing_id: line for line in lines}
    line = place if place.kind == Place.Kind.LINE else starting.get(place.pk) or ending.get(place.pk)
    return line is not None and 2 * [one.pk for one in lines].index(line.pk) >= len(lines)


def _platform(setup: Setup, place: Place, section: str) -> int:
    """Return the number of the platform at which a sheet is filled in; 0 for house and store at the entrance."""
    if place.kind == Place.Kind.PLATFORM:
        return place.number
    if place.kind != Place.Kind.LINE:
        return 0
    end = place.landing_id if section == "landing" else place.launch_id
    return setup.places[end].number  # type: ignore[index]
