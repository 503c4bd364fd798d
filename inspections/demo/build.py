"""Set up the invented course through the actions that a real operator uses: proposed by one, confirmed by another."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from typing import Any
from uuid import UUID, uuid5
from zoneinfo import ZoneInfo

from accounts import actions as people
from accounts.deeds import COMMAND, Deed
from accounts.models import Operator, User
from courses import actions, checklists
from courses.calendar import local_day
from courses.models import Component, Course, Place, Version
from courses.queries import setup_at
from engineering import criteria
from inspections.demo import course as plan
from inspections.demo import mechanics, pictures

NAMESPACE = UUID("5f1b2c1e-6a0d-4f9e-9d53-0a3c4be7d911")


@dataclass
class Cast:
    """The invented people, the course, and deeds whose identities come from a counter, so that a load is repeatable."""

    operator: Operator
    people: dict[str, User]
    course: Course
    season: Any = None
    count: int = 0
    components: dict[str, Component] = field(default_factory=dict)
    places: dict[str, Place] = field(default_factory=dict)

    def deed(self, who: str, at: datetime) -> Deed:
        self.count += 1
        return Deed(by=self.people[who], at=at, how=COMMAND, id=uuid5(NAMESPACE, str(self.count)))

    def photo(self, name: str, who: str, at: datetime) -> str:
        """Keep the drawing that stands in for a photo, taken by ``who``, and return its hash."""
        width, height = pictures.SIZE
        deed = self.deed(who, at)
        kept = actions.store_bytes(
            self.operator, pictures.drawn(name), kind="photo", media_type="image/jpeg", deed=deed, width=width,
            height=height,
        )  # fmt: skip
        return kept.sha256


def founded_at(now: datetime, days: int) -> datetime:
    """Return when a course is founded whose mornings began ``days`` before ``now``: at ten, two days before the first.

    By the course's own days: so many times 24 hours back may be another day of it, at night or over a clock change.
    """
    zone = ZoneInfo(plan.TZ)
    today = local_day(now, zone, Course._meta.get_field("day_change_hour").get_default())
    return datetime.combine(today - timedelta(days=days + 2), time(10), tzinfo=zone)


def build(at: datetime) -> Cast:
    """Found operator, people and course at ``at``; everything counts from the following day on."""
    founder = User.objects.create_user(plan.PEOPLE[2][1], plan.PASSWORD, name=plan.PEOPLE[2][2], date_joined=at)
    operator = people.found_operator(
        plan.OPERATOR, tz=plan.TZ, deed=Deed(by=founder, at=at, how=COMMAND, id=uuid5(NAMESPACE, "operator"))
    )
    cast = Cast(operator, {"manager": founder}, None)  # type: ignore[arg-type]
    for role, email, name in plan.PEOPLE:
        key = role if role not in cast.people else name.split()[0].lower()
        if role != "manager":
            user = people.invite(operator, email, name, [role], deed=cast.deed("manager", at))
            user.set_password(plan.PASSWORD)
            user.save(update_fields=["password"])
            cast.people[key] = user
    cast.course = actions.found_course(
        operator, name=plan.COURSE, tz=plan.TZ, town=plan.TOWN, law_place=plan.LAW_PLACE, deed=cast.deed("manager", at)
    )
    _places(cast, at)
    _components(cast, at)
    _versions(cast, at + timedelta(hours=1))
    for who in ("technician", "ruben", "engineer"):
        people.authorise(
            operator, cast.people[who], "any", (at + timedelta(days=500)).date(),
            deed=cast.deed("manager", at + timedelta(hours=2)),
        )  # fmt: skip
    return cast


def _places(cast: Cast, at: datetime) -> None:
    for place in Place.objects.filter(course=cast.course):
        cast.places[place.kind] = place
    for number, name, _document in plan.PLATFORMS:
        cast.places[f"P{number}"] = actions.add_place(
            cast.course, kind="platform", number=number, name=name, deed=cast.deed("engineer", at)
        )
    for line in plan.LINES:
        cast.places[f"L{line.number}"] = actions.add_place(
            cast.course,
            kind="line",
            number=line.number,
            name=line.name,
            launch=cast.places[f"P{line.launch}"],
            landing=cast.places[f"P{line.landing}"],
            deed=cast.deed("engineer", at),
        )


def _components(cast: Cast, at: datetime) -> None:
    def add(tag: str, kind: str, label: str, place: Place, slot: str) -> None:
        component = actions.add_component(cast.course, kind=kind, tag=tag, label=label, deed=cast.deed("engineer", at))
        actions.fit(component, place, slot, deed=cast.deed("engineer", at))
        cast.components[tag] = component

    for line in plan.LINES:
        for slot, (tag, kind, label) in line.fitted.items():
            add(tag, kind, label, cast.places[f"L{line.number}"], slot)
    for number, _name, _document in plan.PLATFORMS:
        add(f"PF-{number:02d}", "other", "staff and guest anchors", cast.places[f"P{number}"], "platform")
    store, house = cast.places["store"], cast.places["house"]
    for rack, kind, prefix, count, label in plan.RACKS:
        for index in range(1, count + 1):
            add(f"{prefix}-{index:02d}", kind, label, store, rack)
    for index, (tag, label) in enumerate(plan.RESCUE_KITS):
        add(tag, "rescue_kit", label, store, "rescue" if index == 0 else f"rescue-{index + 1}")
    add("WS-1", "scale", "weigh scale", house, "house")


def propose_and_confirm(
    cast: Cast, kind: str, content: dict[str, Any], *, source: str, at: datetime, **about: Any
) -> None:
    """Propose by the engineer and confirm by the manager, two minutes later."""
    version = actions.propose(cast.course, kind, content, source=source, deed=cast.deed("engineer", at), **about)
    if version.confirmed_at is None:
        actions.confirm(version, deed=cast.deed("manager", at + timedelta(minutes=2)))


def _versions(cast: Cast, at: datetime) -> None:
    def put(kind: str, content: dict[str, Any], source: str, **about: Any) -> None:
        propose_and_confirm(cast, kind, content, source=source, at=at, **about)

    first_day = (at + timedelta(days=2)).date().isoformat()
    put("criteria", {"sets": list(plan.SETS), "promote": []}, f"{plan.MANUAL} 2, criteria adopted by the engineer")
    for number, _name, document in plan.PLATFORMS:
        way = document["way_off"]
        if way.startswith("line:"):
            document = {**document, "way_off": f"line:{cast.places['L' + way[5:]].pk}"}
        place = cast.places[f"P{number}"]
        put("platform", document, plan.DESIGNER, place=place)
        _checklist(cast, "platform", document, place, put)
    for line in plan.LINES:
        place = cast.places[f"L{line.number}"]
        put("line", line.document, plan.DESIGNER, place=place)
        _checklist(cast, "line", line.document, place, put)
        if line.number in mechanics.MECHANICS:
            put("mechanics", mechanics.MECHANICS[line.number], mechanics.SOURCE, place=place)
    _checklist(cast, "store", {}, cast.places["store"], put)
    _checklist(cast, "house", {}, cast.places["house"], put)
    for component, data in _data(cast, at):
        put("component", data, "Maker's certificate (invented)", component=component)
    # Last, so that all of it counts from the very next date, on which the lines are ridden before the season begins.
    calendar = {**plan.CALENDAR, "seasons": [{"from": first_day, "to": "2035-12-31"}]}
    put("calendar", calendar, "Season plan (invented)")


def _checklist(cast: Cast, kind: str, document: dict[str, Any], place: Place, put: Any) -> None:
    ends: dict[str, Any] = {}
    if kind == "line":
        by_number = {number: data for number, _name, data in plan.PLATFORMS}
        line = next(one for one in plan.LINES if one.document is document)
        ends = {"launch_document": by_number[line.launch], "landing_document": by_number[line.landing]}
    content = checklists.compose(kind, document, **ends)
    for item in content["items"]:
        # More often than the library asks: the carriage is on the cable that day for the broken wires anyway.
        if item["measures"] == "rope.diameter":
            item["every"] = "14"
    put("checklist", content, f"{plan.MANUAL} 5, composed from the library", place=place)
    own: dict[str, Any] = {}
    for item in content["items"]:
        quantity = item["measures"]
        if quantity == "arrival.speed":
            most = (Decimal(document["arrival_speed_mps"]) * Decimal("1.10")).quantize(Decimal("0.1"))
            own[item["key"]] = {
                "rules": [
                    {
                        "id": f"FH-{item['code']}",
                        "on": [quantity],
                        "kind": "max",
                        "compare": ">",
                        "unit": "m/s",
                        "params": {"limit": str(most)},
                        "source": f"{plan.MANUAL} 4, table 4.1",
                        "got": "COURSE",
                    }
                ]
            }
        if quantity in plan.OWN_LIMITS:
            rule_kind, compare, unit, params, source = plan.OWN_LIMITS[quantity]
            own[item["key"]] = {
                "rules": [
                    {
                        "id": f"FH-{item['code']}",
                        "on": [quantity],
                        "kind": rule_kind,
                        "compare": compare,
                        "unit": unit,
                        "params": params,
                        "source": source,
                        "got": "COURSE",
                    }
                ]
            }
        if quantity in plan.GAUGES:
            own[item["key"]] = {"rules": [], **own.get(item["key"], {}), "gauge_u": plan.GAUGES[quantity]}
    if own:
        put("limits", {"items": own}, f"{plan.MANUAL} 4 to 9", place=place)


def _data(cast: Cast, at: datetime) -> Iterator[tuple[Component, dict[str, Any]]]:
    made = (at - timedelta(days=420)).date().isoformat()
    used = (at - timedelta(days=200)).date().isoformat()
    new = at.date().isoformat()
    inspected = (at - timedelta(days=150)).date().isoformat()
    base = {
        "dates": {
            "made": made,
            "purchased": made,
            "first_use": used,
            "last_inspection": inspected,
            "last_done": inspected,
        }
    }
    for line in plan.LINES:
        cable = line.document["cable"]
        nominal = Decimal(cable["diameter_mm"])
        for slot, (tag, kind, _label) in line.fitted.items():
            component = cast.components[tag]
            figures: dict[str, Any] = {}
            extra: dict[str, Any] = {}
            if slot == "cable":
                figures["rope.diameter"] = {
                    "nominal": cable["diameter_mm"],
                    "baseline": str(nominal + Decimal("0.20")),
                    "baseline_date": used,
                    "gauge": "calliper FH-C1",
                    "station": "A to E",
                }
                extra["maker_note"] = (
                    "Delivered 0.20 mm over nominal, as new wire rope is; the baseline was read after bedding in, "
                    "crown to crown at stations A to E."
                )
                extra["certificate"] = {
                    **cable,
                    "wires_load": cable["wires_total"],
                    "wires_strand": "19" if cable["wires_total"] == "133" else "36",
                    "rotation_resistant": "no",
                    "outer_wire_mm": "0.85",
                }
            elif kind == "spring":
                figures["spring.free_length"] = {
                    "baseline": "600",
                    "baseline_date": used,
                    "gauge": "rule FH-R1",
                    "station": "each",
                }
            elif kind == "cord":
                figures["cord.free_length"] = {
                    "baseline": "1800",
                    "baseline_date": new,
                    "gauge": "tape FH-T1",
                    "station": "each",
                }
                extra["max_cycles"] = "40000"
                extra["dates"] = dict.fromkeys(base["dates"], new)  # fitted new: their count begins at none
            elif kind == "rope":
                figures["brake.bore"] = {"nominal": "13.5"}
            figures["rope.sag"] = {"reference": str(Decimal(line.document["length_m"]) / 50)}
            figures["retraction.time"] = {"nominal": "6.0", "reference": "6.0"}
            figures["tail.length"] = {"baseline": "320", "baseline_date": used, "gauge": "tape FH-T1", "station": "end"}
            figures["hardware.section"] = {"nominal": "22.0"}
            yield component, {**base, "figures": figures, **extra}
    for number, _name, _document in plan.PLATFORMS:
        figures = {
            "hardware.section": {"nominal": "22.0"},
            "guy.tension": {"reference": "12.0"},
            "structure.lean": {"baseline": "8", "baseline_date": used, "gauge": "plumb line", "station": "top"},
        }
        yield cast.components[f"PF-{number:02d}"], {**base, "figures": figures}
    for component in cast.components.values():
        if component.kind in {"trolley", "harness", "lanyard", "helmet", "rescue_kit", "scale"}:
            yield component, dict(base)


def spring_data(on: date) -> dict[str, Any]:
    """Return the register's data of a new spring pack."""
    day = on.isoformat()
    return {
        "dates": {"made": day, "purchased": day, "first_use": day, "last_inspection": day},
        "figures": {
            "spring.free_length": {"baseline": "600", "baseline_date": day, "gauge": "rule FH-R1", "station": "each"}
        },
    }


def gaps(cast: Cast, at: datetime) -> list[str]:
    """Return quantities that the composed checklists measure and for which nothing that is switched on has a limit."""
    setup = setup_at(cast.course, at)
    found = []
    for place in setup.places.values():
        version: Version | None = setup.checklist(place)
        own = setup.limits(place).get("items", {})
        for item in version.content["items"] if version else ():
            if item["key"] not in own and not criteria.rules_for(item["measures"], plan.SETS):
                found.append(f"{place}: {item['key']} {item['measures']}")
    return found
