"""A season of mornings on the invented course: plausible wear, findings worked and released, from a fixed seed."""

from __future__ import annotations

import random
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

from courses.calendar import local_day
from courses.models import Place
from courses.queries import Setup, setup_at
from inspections import actions
from inspections.actions.drafts import versions_shown
from inspections.actions.rides import ride_items
from inspections.demo import course as plan
from inspections.demo.build import Cast
from inspections.demo.events import EVENTS, Morning, place_key
from inspections.demo.readings import figure_for
from inspections.facts import CLOSED, OPEN, line_statuses
from inspections.judging import TYPED_KINDS, Answer
from inspections.models import Draft, SignOff
from inspections.picture import Picture, picture_of
from inspections.words import meaning

SEED = 20260614
MEANING = "I reviewed today's inspection and decide for every line whether it is open."


@dataclass
class Season:
    """The running of the demo: who, which day out of how many, and the random numbers of it."""

    cast: Cast
    days: int
    on_signed: Callable[[SignOff, Any], None] | None = None
    on_morning: Callable[[int], None] | None = None  # told how many mornings are played

    def run(self, now: datetime) -> None:
        """Play every morning from ``days`` ago up to ``now``; the last one stays unfinished."""
        zone = self.cast.course.zone
        today = local_day(now, zone, self.cast.course.day_change_hour)
        self.commission(today - timedelta(days=self.days + 1))
        for back in range(self.days, -1, -1):
            on = today - timedelta(days=back)
            opening = datetime.combine(on, datetime.min.time(), tzinfo=zone) + timedelta(hours=9, minutes=30)
            start = opening - timedelta(hours=2, minutes=20)
            if back == 0:
                start = min(start, now - timedelta(minutes=75))
            self.morning(on, start, back, now)
            if self.on_morning:
                self.on_morning(self.days - back)

    def morning(self, on: date, start: datetime, back: int, now: datetime) -> None:
        index = self.days - back
        rng = self.rng(on)
        events = EVENTS.get(index if back else -1, Morning())
        if events.nobody_came:
            return
        setup = setup_at(self.cast.course, start)
        picture = picture_of(self.cast.course, at=start, on=on, setup=setup)
        clock = Clock(start, now if back == 0 else None)
        for place, section in walk(picture):
            if back == 0 and events.leave_out == (place.kind, place.number, section):
                continue
            self.sheet(picture, place, section, index, rng, events, clock)
        picture = picture_of(self.cast.course, at=clock.tick(60), on=on, setup=setup)
        for line in setup.lines:
            if not (back == 0 and events.leave_out and events.leave_out[:2] == ("line", line.number)):
                self.rides(picture, line, index, rng, clock)
        for step in events.after:
            step(self.cast, on, clock)
        if back:
            self.sign(on, clock, late=events.late)
            for step in events.day:
                step(self.cast, on, clock)
            self.close(on, index, rng, start + timedelta(hours=10, minutes=30))

    def commission(self, on: date) -> None:
        """Ride every line the day before the season, the emergency brakes by themselves first."""
        start = datetime.combine(on, datetime.min.time(), tzinfo=self.cast.course.zone) + timedelta(hours=13)
        clock = Clock(start)
        picture = picture_of(self.cast.course, at=start, on=on)
        for line in picture.setup.lines:
            self.rides(picture, line, 0, self.rng(on), clock)

    # --- the technicians
    def sheet(
        self,
        picture: Picture,
        place: Place,
        section: str,
        index: int,
        rng: random.Random,
        events: Morning,
        clock: Clock,
    ) -> None:
        who = "technician" if (place.number % 2 or place.kind != "line") else "ruben"
        found = picture.section(place, section)
        if found is None:
            return
        content = {}
        for item in found.items:
            answer = events.answers.get((place_key(place), item["key"]))
            if answer and answer.get("mark") == "defect" and not answer.get("photos"):
                answer = {**answer, "photos": [self.cast.photo]}
            content[item["key"]] = answer or self.answer(picture.setup, place, item, index, rng)
        draft = Draft.objects.create(
            course=self.cast.course,
            date=picture.date,
            place=place,
            section=section,
            person=self.cast.people[who],
            started_at=clock.now,
            changed_at=clock.now,
            versions=versions_shown(picture, place),
            content=content,
        )
        actions.sign_sheet(
            draft, meaning=meaning(place, section), deed=self.cast.deed(who, clock.tick(90)), picture=picture
        )

    def answer(
        self, setup: Setup, place: Place, item: Mapping[str, Any], index: int, rng: random.Random
    ) -> dict[str, Any]:
        if item["kind"] not in TYPED_KINDS:
            return {"mark": "sound"}
        return {"text": figure_for(setup, place, item, index / max(self.days, 1), rng)}

    def rides(self, picture: Picture, line: Place, index: int, rng: random.Random, clock: Clock) -> None:
        described = next(one for one in plan.LINES if one.number == line.number)
        document = described.document
        masses = [document["mass_max_kg"]]
        if index % 6 == line.number % 6 or index == 0:
            masses.append(document["mass_min_kg"])
        tests = [(mass, "normal") for mass in masses]
        has_emergency = any(brake["role"] == "emergency" for brake in document["brakes"])
        if has_emergency and (index % 21 == line.number or not index):
            tests.insert(0, (document["mass_max_kg"], "emergency"))
        for mass, kind in tests:
            light = Decimal(mass) < 60
            answers = {}
            for item in ride_items(picture, line):
                answers[item["key"]] = self.ride_answer(described, item, light, rng)
            raw = {
                "mass": str(mass),
                "wind": f"{rng.uniform(0.5, 4.5):.1f}",
                "wind_from": rng.choice(("head", "tail", "cross")),
                "state": "dry" if rng.random() < 0.8 else "wet",
                "reached": "yes",
                "kind": kind,
                "primary_back": "yes",
                "landing_clear": self.cast.people["ruben"].name,
            }
            actions.record_ride(
                picture, line, raw=raw, answers=answers, deed=self.cast.deed("technician", clock.tick(100))
            )

    def ride_answer(self, line: plan.DemoLine, item: Mapping[str, Any], light: bool, rng: random.Random) -> Answer:
        if item["kind"] not in TYPED_KINDS:
            return Answer(mark="sound")
        factor = Decimal("0.62") if light else Decimal(1)
        spread = Decimal(f"{rng.gauss(0, 0.03):.3f}")
        values = {
            "stroke.used": Decimal(line.stroke_m) * factor * (1 + spread),
            "arrival.speed": Decimal(line.speed_mps)
            * (Decimal("0.86") if light else Decimal("0.97"))
            * (1 + spread / 2),
            "swing": Decimal(17) + 60 * spread,
            "brake.reset_distance": Decimal("0.05") + abs(spread) / 2,
            "rollback": Decimal("0.8") + abs(spread),
        }
        return Answer(text=f"{values.get(item['measures'], Decimal('0.1')):.2f}")

    def rng(self, on: date) -> random.Random:
        """Return the random numbers of one morning: the same for the same seed and date."""
        return random.Random(f"{SEED}:{on.toordinal()}")  # noqa: S311 - invented readings, not secrets

    def sheets_of(self, place: Place, on: date, clock: Clock) -> None:
        """Fill in again what a new component asks for."""
        picture = picture_of(self.cast.course, at=clock.tick(120), on=on)
        for section in picture.sections(picture.setup.places[place.pk]):
            spot = picture.setup.places[place.pk]
            if any(not picture.answered(spot, item["key"]) for item in section.items):
                self.sheet(picture, picture.setup.places[place.pk], section.name, 0, self.rng(on), Morning(), clock)

    # --- the manager
    def sign(self, on: date, clock: Clock, *, late: bool) -> None:
        at = clock.tick(5400 if late else 420)
        picture = picture_of(self.cast.course, at=at, on=on)
        decisions = {
            str(status.line.pk): OPEN if status.clearance.is_ready else CLOSED for status in line_statuses(picture)
        }
        self.record_sign_off(picture, decisions, at)

    def record_sign_off(self, picture: Picture, decisions: dict[str, str], at: datetime) -> None:
        entry = actions.sign_off(
            self.cast.course,
            decisions=decisions,
            meaning=MEANING,
            deed=self.cast.deed("manager", at),
            seen_revision=picture.sign_off.revision if picture.sign_off else 0,
        )
        if self.on_signed is not None:
            signed = SignOff.objects.get(seq=entry.seq, day__course=self.cast.course)
            self.on_signed(signed, self.cast.deed("manager", at))

    def close(self, on: date, index: int, rng: random.Random, at: datetime) -> None:
        picture = picture_of(self.cast.course, at=at, on=on)
        busy = 1.6 if on.isoweekday() >= 6 else 1.0
        riders = {}
        for line in picture.setup.lines:
            opened = any(one.lines.get(str(line.pk), {}).get("decision") == OPEN for one in picture.sign_offs)
            riders[str(line.pk)] = int(rng.randint(38, 74) * busy) if opened else 0
        actions.close_day(picture, riders=riders, deed=self.cast.deed("technician", at))


@dataclass
class Clock:
    """The time of one morning, moving on with every deed; today's never passes the present."""

    now: datetime
    latest: datetime | None = None

    def tick(self, seconds: int) -> datetime:
        self.now += timedelta(seconds=seconds)
        if self.latest is not None and self.now > self.latest:
            self.now = self.latest
        return self.now


def walk(picture: Picture) -> list[tuple[Place, str]]:
    """Return the places and sections of the morning in the order in which they are walked."""
    setup = picture.setup
    found = [(place, section.name) for place in (*setup.houses, *setup.stores) for section in picture.sections(place)]
    for platform in setup.platforms:
        found += [(platform, section.name) for section in picture.sections(platform)]
        for line in setup.lines:
            names = [section.name for section in picture.sections(line)]
            found += [(line, name) for name in names if line.landing_id == platform.pk and name == "landing"]
            found += [(line, name) for name in names if line.launch_id == platform.pk and name != "landing"]
    return found
