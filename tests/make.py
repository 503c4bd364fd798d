"""Builders of what tests stand on. They call the actions, so nothing exists in a test that could not exist in use.

Names are invented. Every person has the same password; every deed is given at an instant that the test can name.
"""

from __future__ import annotations

import random
from datetime import UTC, datetime, timedelta
from io import BytesIO
from itertools import count
from types import SimpleNamespace
from typing import TYPE_CHECKING, Any

from PIL import Image

from accounts import actions as people_actions
from accounts.deeds import COMMAND, PASSWORD, Deed
from accounts.models import Operator, Role, User
from courses import actions as course_actions
from courses.actions.files import store_bytes
from courses.models import Component, Course, Place, Version
from tests.worlds import world

if TYPE_CHECKING:
    from inspections.models import Draft
    from inspections.picture import Picture
    from ledger.models import Entry

WORD = "nine wet larches"  # everybody's password
FOUNDED = datetime(2026, 5, 1, 8, 0, tzinfo=UTC)
ZONE = "Europe/Vienna"

NAMES = {
    Role.Kind.GUIDE: "Gesa Lorn",
    Role.Kind.TECHNICIAN: "Tarik Oben",
    Role.Kind.MANAGER: "Mirte Valk",
    Role.Kind.ENGINEER: "Edda Quist",
    Role.Kind.AUDITOR: "Aino Rehm",
}
_number = count(1)


def deed(by: User, *, at: datetime = FOUNDED, how: str = PASSWORD, **more: Any) -> Deed:
    """Return a deed signed with the password, which is enough for everything but founding."""
    return Deed(by=by, at=at, how=how, **more)


def account(name: str = "Nobody Yet", *, email: str = "", **fields: Any) -> User:
    """Return an account that belongs to no operator."""
    return User.objects.create_user(email or f"person{next(_number)}@example.org", WORD, name=name, **fields)


def operator(name: str = "Kestrel Hollow", *, tz: str = ZONE, at: datetime = FOUNDED) -> Operator:
    """Return an operator with a founder who is its first manager and takes part in nothing else."""
    founder = account("Founder Person")
    return people_actions.found_operator(name, tz=tz, deed=Deed(by=founder, at=at, how=COMMAND))


def founder_of(operator: Operator) -> User:
    """Return who signed the first entry of the operator's log; others may have become managers at the same instant."""
    from ledger.models import Entry

    founding = Entry.objects.filter(log=operator.log_id).earliest("seq")
    return User.objects.get(ref=founding.record["act"]["signer"]["ref"])


def person(
    operator: Operator, *kinds: str, name: str = "", email: str = "", by: User | None = None, at: datetime = FOUNDED
) -> User:
    """Return a person with these roles who has chosen a password."""
    name = name or NAMES[Role.Kind(kinds[0])]
    email = email or f"{name.split()[0].lower()}{next(_number)}@example.org"
    user = people_actions.invite(operator, email, name, kinds, deed=deed(by or founder_of(operator), at=at))
    user.set_password(WORD)
    user.save(update_fields=["password"])
    return user


def staff(operator: Operator, *, at: datetime = FOUNDED) -> dict[str, User]:
    """Return one person for each role, by the role's name; the two who inspect are authorised for everything."""
    founder = founder_of(operator)
    found = {kind.value: person(operator, kind, by=founder, at=at) for kind in Role.Kind}
    for kind in ("technician", "engineer"):
        people_actions.authorise(
            operator, found[kind], "any", (at + timedelta(days=365)).date(), deed=deed(founder, at=at)
        )
    return found


def course(operator: Operator, name: str = "Kestrel Hollow Lines", *, at: datetime = FOUNDED, **more: Any) -> Course:
    """Return a course with its gear store and course house."""
    return course_actions.found_course(
        operator, name=name, **{"tz": operator.tz, **more}, deed=deed(founder_of(operator), at=at)
    )


def place(course: Course, kind: str, number: int, name: str, *, at: datetime = FOUNDED, **ends: Place) -> Place:
    return course_actions.add_place(
        course, kind=kind, number=number, name=name, **ends, deed=deed(founder_of(course.operator), at=at)
    )


def line(course: Course, number: int = 1, name: str = "Heron", *, at: datetime = FOUNDED) -> Place:
    """Return a line with two platforms of its own."""
    launch = place(course, Place.Kind.PLATFORM, 2 * number - 1, f"{name} launch", at=at)
    landing = place(course, Place.Kind.PLATFORM, 2 * number, f"{name} landing", at=at)
    return place(course, Place.Kind.LINE, number, name, launch=launch, landing=landing, at=at)


# --- a course that is ready to be inspected

RACK_TAGS = {"A": ("trolley", ("TR-01", "TR-02")), "B": ("harness", ("HA-01", "HA-02"))}


def ready(*, lines: int = 1, on: datetime, way_off: str = "stairs", name: str = "Kestrel Hollow") -> SimpleNamespace:
    """Return an operator with a course that is set up and was ridden the day before ``on``.

    Each line has spring brakes, as the second line of the demo course has; its data are that line's. They are proposed
    by the engineer, confirmed by the manager, and have been in force since the day after ``FOUNDED``. Line 2 starts
    where line 1 ends. ``way_off`` is the middle platform's: "line:2" makes line 2 the only way on.

    The result has ``at``, ``operator``, ``course``, ``line``, ``lines``, ``platforms``, ``house``, ``store``, one
    person for each role, ``mate`` (a second technician) and ``deputy`` (a second manager).
    """
    return world(("ready", lines, on, way_off, name), lambda: _ready(lines, on, way_off, name))


def inspected(*, lines: int = 1, on: datetime) -> SimpleNamespace:
    """Return the course of ``ready`` with everything signed and ridden at minute 5."""

    def build() -> SimpleNamespace:
        w = ready(lines=lines, on=on)
        inspect(w, at=on + timedelta(minutes=5))
        return w

    return world(("inspected", lines, on), build)


def _ready(lines: int, on: datetime, way_off: str, name: str) -> SimpleNamespace:
    from inspections.demo import course as plan

    w = SimpleNamespace(at=on, operator=operator(name))
    w.course = course(w.operator)
    w.people = staff(w.operator)
    w.people["mate"] = person(w.operator, "technician", name="Runa Feld")
    w.people["deputy"] = person(w.operator, "manager", name="Dorte Hase")
    founder = founder_of(w.operator)
    people_actions.authorise(
        w.operator, w.people["mate"], "any", (FOUNDED + timedelta(days=365)).date(), deed=deed(founder)
    )
    for role, one in w.people.items():
        setattr(w, role, one)
    w.store, w.house = (Place.objects.get(course=w.course, kind=kind) for kind in ("store", "house"))
    w.platforms = [place(w.course, "platform", n, f"Platform {n}") for n in range(1, lines + 2)]
    w.lines = [
        place(w.course, "line", n, f"Line {n}", launch=w.platforms[n - 1], landing=w.platforms[n])
        for n in range(1, lines + 1)
    ]
    w.line = w.lines[0]
    for line_ in w.lines:
        for slot, (tag, kind, label) in plan.LINES[1].fitted.items():
            _fitted(w, f"{tag[:2]}-{line_.number}{slot[0]}{slot[-1]}", kind, label, line_, slot)
    for platform in w.platforms:
        _fitted(w, f"PF-{platform.number}", "other", "staff and guest anchors", platform, "platform")
    for rack, (kind, tags) in RACK_TAGS.items():
        for tag in tags:
            _fitted(w, tag, kind, kind, w.store, rack)
    _fitted(w, "RK-1", "rescue_kit", "rescue kit", w.store, "rescue")
    _fitted(w, "WS-1", "scale", "weigh scale", w.house, "house")
    _versions(w, way_off)
    w.setup_day = FOUNDED + timedelta(days=1)
    for number, line_ in enumerate(w.lines):
        before = on - timedelta(days=1) + timedelta(minutes=number)
        for kind, mass in (("emergency", "115"), ("normal", "35"), ("normal", "115")):
            ride(w, line_, at=before, mass=mass, kind=kind)
    return w


def photo(w: SimpleNamespace) -> str:
    """Keep a photo and return its hash: one that is named and not here pays for nothing."""
    out = BytesIO()
    Image.new("RGB", (40, 30), "teal").save(out, "JPEG")
    kept = store_bytes(w.operator, out.getvalue(), kind="photo", media_type="image/jpeg", deed=deed(w.technician))
    return kept.sha256


def _fitted(w: SimpleNamespace, tag: str, kind: str, label: str, where: Place, slot: str) -> None:
    founder = founder_of(w.operator)
    made = course_actions.add_component(w.course, kind=kind, tag=tag, label=label, deed=deed(founder))
    course_actions.fit(made, where, slot, deed=deed(founder))


def settle(w: SimpleNamespace, kind: str, content: dict[str, Any], *, at: datetime = FOUNDED, **about: Any) -> Version:
    """Propose as the engineer and, where a second person is needed, confirm as the manager."""
    version = course_actions.propose(
        w.course, kind, content, source="Designer's folder, sheet 4", deed=deed(w.engineer, at=at), **about
    )
    if version.confirmed_at is None:
        version = course_actions.confirm(version, deed=deed(w.manager, at=at))
    return version


def _versions(w: SimpleNamespace, way_off: str) -> None:
    from courses import checklists
    from inspections.demo import course as plan

    settle(w, "calendar", dict(plan.CALENDAR))
    settle(w, "criteria", {"sets": list(plan.SETS), "promote": []})
    document = dict(plan.LINES[1].document)
    platform = {"support": "pole", "guys": "4", "way_off": "stairs", "gate": "yes", "padding": "yes"}

    def checklist(where: Place, content: dict[str, Any]) -> None:
        settle(w, "checklist", content, place=where)
        if own := own_limits(content):
            settle(w, "limits", {"items": own}, place=where)

    for index, one in enumerate(w.platforms):
        off = f"line:{w.lines[1].pk}" if index == 1 and way_off == "line:2" else "stairs"
        settle(w, "platform", {**platform, "way_off": off}, place=one)
        checklist(one, checklists.compose("platform", platform))
    for one in w.lines:
        settle(w, "line", document, place=one)
        checklist(one, checklists.compose("line", document, launch_document=platform, landing_document=platform))
    for one in (w.store, w.house):
        checklist(one, checklists.compose(one.kind, {}))
    for component in Component.objects.filter(course=w.course):
        settle(w, "component", component_data(component), component=component)


def own_limits(checklist: dict[str, Any]) -> dict[str, Any]:
    """Return the course's own limits for what no published rule has a number for."""
    from inspections.demo import course as plan

    found = {}
    for item in checklist["items"]:
        known = plan.OWN_LIMITS.get(item["measures"])
        if item["measures"] == "arrival.speed":
            known = ("max", ">", "m/s", {"limit": "6.7"}, "Course manual, table 4.1")
        if known:
            kind, compare, unit, params, source = known
            rule = {
                "id": f"OWN-{item['code']}", "on": [item["measures"]], "kind": kind, "compare": compare, "unit": unit,
                "params": params, "source": source, "got": "COURSE",
            }  # fmt: skip
            found[item["key"]] = {"rules": [rule]}
    return found


def component_data(component: Component, *, on: str = "2026-02-01") -> dict[str, Any]:
    """Return what the register says of a component: dates, certificate, the figures it is measured against."""
    from inspections.demo import course as plan

    def base(value: str, gauge: str) -> dict[str, str]:
        return {"baseline": value, "baseline_date": on, "gauge": gauge, "station": "each"}

    dates = dict.fromkeys(("made", "purchased", "first_use", "last_inspection", "last_done"), on)
    found: dict[str, Any] = {"dates": dates}
    cable = plan.LINES[1].document["cable"]
    figures: dict[str, Any] = {
        "rope.sag": {"reference": "4.16"},
        "retraction.time": {"nominal": "6.0", "reference": "6.0"},
        "tail.length": base("320", "tape 1"),
        "hardware.section": {"nominal": "22.0"},
        "guy.tension": {"reference": "12.0"},
        "structure.lean": base("8", "plumb line"),
    }
    if component.kind == "spring":
        figures["spring.free_length"] = base("600", "rule 1")
    if component.kind == "cable":
        figures["rope.diameter"] = {"nominal": "12.7", **base("12.90", "calliper 1")}
        found["certificate"] = {
            **cable, "wires_load": "133", "wires_strand": "19", "rotation_resistant": "no", "outer_wire_mm": "0.85",
        }  # fmt: skip
    if component.kind in {"cable", "spring", "termination", "other"}:
        found["figures"] = figures
    return found


# --- the morning


def picture(w: SimpleNamespace, at: datetime) -> Picture:
    from inspections.picture import picture_of

    return picture_of(w.course, at=at)


def answers(
    w: SimpleNamespace, where: Place, section: str, *, at: datetime, now: Picture | None = None
) -> dict[str, dict[str, Any]]:
    """Return sound answers for everything due in a section, figures as a new course has them; ``now``: as read then."""
    from inspections.demo.readings import figure_for
    from inspections.judging import TYPED_KINDS

    now = now or picture(w, at)
    found = now.section(where, section)
    assert found is not None, f"nothing is due in {section}"
    rng = random.Random(section)
    return {
        item["key"]: {"text": figure_for(now.setup, where, item, 0.0, rng)}
        if item["kind"] in TYPED_KINDS
        else {"mark": "sound"}
        for item in found.items
    }


def draft(
    w: SimpleNamespace, where: Place, section: str, *, by: User | None = None, at: datetime, **changed: Any
) -> Draft:
    """Return a draft of a section with sound answers, but for ``answers={item key: answer, or None for nothing}``."""
    from inspections import actions

    now = picture(w, at)
    made = actions.draft_for(now, where, section, deed=deed(by or w.technician, at=at))
    filled = answers(w, where, section, at=at, now=now)
    signed = now.section(where, section)
    if signed is not None and signed.sheets:  # as its page asks: what is still open, if anything is
        still = {key: answer for key, answer in filled.items() if not now.answered(where, key)}
        filled = still or filled
    filled |= changed.get("answers", {})
    made.content = {key: answer for key, answer in filled.items() if answer is not None}
    made.save(update_fields=["content"])  # field by field takes a hundred times as long
    return made


def sign(
    w: SimpleNamespace, where: Place, section: str, *, by: User | None = None, at: datetime, **changed: Any
) -> Entry:
    """Fill in and sign one section with sound answers, but for those in ``answers``."""
    from inspections import actions

    who = by or w.technician
    made = draft(w, where, section, by=who, at=at, **changed)
    return actions.sign_sheet(made, meaning="I looked at it myself.", deed=deed(who, at=at))


RIDE_FIGURES = {
    "stroke.used": "2.40", "arrival.speed": "5.9", "swing": "17", "brake.reset_distance": "0.05", "rollback": "0.8",
}  # fmt: skip


def ride_raw(*, mass: str = "115", kind: str = "normal", **more: str) -> dict[str, str]:
    """Return what is typed about a ride as a whole; the wind twice, as who is asked for it again does."""
    if "wind" in more:
        more.setdefault("wind_again", more["wind"])
    return {
        "mass": mass, "wind": "2.1", "wind_from": "head", "state": "dry", "reached": "yes", "kind": kind,
        "primary_back": "yes", "landing_clear": "Runa", **more,
    }  # fmt: skip


def ride(
    w: SimpleNamespace,
    line: Place,
    *,
    at: datetime,
    by: User | None = None,
    figures: dict[str, str] | None = None,
    **more: str,
) -> Entry:
    """Record a good test ride, but for what ``figures`` (by quantity) and the raw fields say."""
    from inspections import actions
    from inspections.actions.rides import ride_items
    from inspections.judging import TYPED_KINDS, Answer

    now = picture(w, at)
    values = RIDE_FIGURES | (figures or {})
    read = {
        item["key"]: Answer(text=values.get(item["measures"], "0.1"), kept=True)
        if item["kind"] in TYPED_KINDS
        else Answer(mark="sound")
        for item in ride_items(now, line)
    }
    return actions.record_ride(
        now, now.setup.places[line.pk], raw=ride_raw(**more), answers=read, deed=deed(by or w.technician, at=at)
    )


def sections(w: SimpleNamespace, *, at: datetime) -> list[tuple[Place, str]]:
    """Return every section that is due and not signed yet."""
    from inspections.demo.season import walk

    now = picture(w, at)
    return [(where, name) for where, name in walk(now) if now.section(where, name).signed is None]


def inspect(w: SimpleNamespace, *, at: datetime, by: User | None = None, but: tuple[str, ...] = ()) -> None:
    """Sign everything that is due, sections named in ``but`` left out, and ride every line with both weights."""
    for where, name in sections(w, at=at):
        if name not in but:
            sign(w, where, name, by=by, at=at)
    for one in w.lines:
        for mass in ("35", "115"):
            ride(w, one, at=at, by=by, mass=mass)


def open_lines(w: SimpleNamespace, *, at: datetime, by: User | None = None, **decided: str) -> Entry:
    """Sign the day with every line open, but for ``line2="closed"`` and the like."""
    from inspections import actions

    now = picture(w, at)
    decisions = {str(one.pk): decided.get(f"line{one.number}", "open") for one in w.lines}
    return actions.sign_off(
        w.course,
        decisions=decisions,
        meaning="I decide for every line.",
        seen_revision=now.sign_off.revision if now.sign_off else 0,
        deed=deed(by or w.manager, at=at),
    )
