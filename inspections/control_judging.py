"""What the server judges of a test ride for the charts of its line, as it is signed: residual, standing, alarms.

An alarm opens a watch. It is advice to look: it holds no line and clears none (``inspections.facts`` leaves it out),
and while one stands of the same chart and side no second one is opened.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any
from uuid import UUID, uuid5

from accounts.deeds import Deed
from courses.models import Place
from inspections.control import CHARTED_KIND, FOUND_AT, Charted, Seen, basis_of, finding_key, on_day
from inspections.control_kept import as_record
from inspections.control_record import air_before, airs_for, charts_from, deeds_on, rides_of, watched
from inspections.control_words import alarm_title, look_first_sentence
from inspections.figures import number
from inspections.models import Day
from inspections.picture import Picture


def judge_charts(
    picture: Picture,
    line: Place,
    day: Day,
    *,
    fields: Mapping[str, Any],
    figures: Mapping[str, str],
    verdict: str,
    deed: Deed,
) -> tuple[dict[str, Any], list[dict[str, Any]]]:
    """Return what the entry of a ride keeps of its charts, and the findings that it opens; up to five queries.

    ``figures`` by quantity. The history is locked: what is read is what the entry is appended to. Of a line without
    mechanics nothing is read and nothing kept.
    """
    setup = picture.setup
    basis = basis_of(setup, line)
    if basis is None or not basis.quantities or fields["kind"] != CHARTED_KIND:
        return {}, []
    zone = setup.course.zone
    rides = rides_of([line], zone)[line.pk]
    newest = rides[-1].seq + 1 if rides else 0
    own = number(fields.get("air_c"))
    air_c = float(own) if own is not None else air_before(day.pk)
    at = on_day(picture.date, deed.true_at or deed.at, zone)
    seen = Seen(UUID(str(deed.id)), newest, at, fields["mass_kg"], fields, figures, verdict, {})
    airs = airs_for(rides) | ({} if air_c is None else {seen.pk: air_c})
    found = charts_from(setup, line, basis, [*rides, seen], deeds_on([line], zone)[line.pk], airs)
    return as_record(basis, air_c, found.values(), seen), list(_findings(picture, line, found, seen, basis.brake))


def _findings(
    picture: Picture, line: Place, found: Mapping[str, Charted], seen: Seen, brake: str
) -> Iterator[dict[str, Any]]:
    alarmed = [
        one for one in found.values()
        if one.control.standing and any(other.pk == seen.pk for other, _ride, _found in one.rides)
    ]  # fmt: skip
    standing = watched(line) if alarmed else set()
    for one in alarmed:
        for alarm in one.control.standing:
            key = finding_key(one.quantity, alarm.code)
            if key in standing:
                continue
            standing.add(key)
            slot = FOUND_AT[one.quantity]
            opened = {
                "id": str(uuid5(seen.pk, key)),
                "key": key,
                "slot": slot,
                "severity": "minor",
                "is_watch": True,
                "out_of_service": False,
                "title": alarm_title(one, alarm, picture.course.units),
                "clause": look_first_sentence(alarm, brake),
            }
            part = picture.setup.component_at(line, slot)
            yield opened if part is None else {**opened, "component": str(part.pk)}
