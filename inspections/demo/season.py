"""A season of mornings on the invented course: plausible wear, findings worked and released, from a fixed seed."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from functools import cached_property
from typing import Any
from uuid import UUID

from courses.calendar import day_start, local_day
from courses.models import Place
from courses.queries import setup_at
from inspections import actions
from inspections.actions.drafts import versions_shown
from inspections.actions.rides import ride_items
from inspections.actions.sheets import Incomplete
from inspections.demo import course as plan
from inspections.demo import riding
from inspections.demo.build import Cast
from inspections.demo.events import EVENTS, Morning, place_key
from inspections.demo.readings import figure_for
from inspections.demo.shifts import AGAIN_S, BALLAST_S, STEP_S, Turn, crew, seconds_for, turns
from inspections.demo.weather import weather_of
from inspections.facts import CLOSED, OPEN, line_statuses
from inspections.judging import TYPED_KINDS, Answer
from inspections.models import Draft, SignOff
from inspections.picture import Picture, picture_of
from inspections.words import meaning

SEED = 20260614
MORNING = timedelta(minutes=135)  # what the walk and the rides of today need at most
AIR_AT = (1, 4)  # lines at whose first ride the air temperature is entered too
LIGHT_EVERY = timedelta(days=5)  # one less than six, so that a morning on which nobody comes makes no gap
MEANING = "I reviewed today's inspection and decide for every line whether it is open."


@dataclass
class Season:
    """The running of the demo: who, which day out of how many, and the random numbers of it."""

    cast: Cast
    days: int
    on_signed: Callable[[SignOff, Any], None] | None = None
    on_morning: Callable[[int], None] | None = None  # told how many mornings are played
    today: date = date.min
    light: dict[UUID, date] = field(default_factory=dict)  # when the posted minimum was last ridden, by line
    states: dict[UUID, str] = field(default_factory=dict)  # whether the cable was dry or wet then
    cycles: Counter[tuple[int, str]] = field(default_factory=Counter)  # of the brakes of a role, by line

    @cached_property
    def runs(self) -> riding.Runs:
        """Return what becomes of the ballast on every morning, from the one before the season to today."""
        return riding.Runs(self.today - timedelta(days=self.days + 1), self.days + 1, SEED)

    def run(self, now: datetime) -> None:
        """Play every morning from ``days`` ago up to ``now``; the last one stays unfinished."""
        zone = self.cast.course.zone
        self.today = local_day(now, zone, self.cast.course.day_change_hour)
        self.commission(self.today - timedelta(days=self.days + 1))
        for back in range(self.days, -1, -1):
            on = self.today - timedelta(days=back)
            start = datetime.combine(on, time(6, 45), tzinfo=zone)
            if back == 0:
                # Loaded at night, today's morning is short: what is of today is not before the day's change.
                begins = day_start(on, zone, self.cast.course.day_change_hour)
                start = max(min(start, now - MORNING), begins)
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
        left = events.leave_out if back == 0 else None
        wanted = [(place, name) for place, name in walk(picture) if (place.kind, place.number, name) != left]
        for turn in turns(picture, wanted, self.crew(on), start, self.rng(on, "walk")):
            self.sheet(picture, turn, index, rng, events, clock)
        picture = picture_of(self.cast.course, at=clock.tick(rng.randint(*STEP_S)), on=on, setup=setup)
        for line in setup.lines:
            if left is None or left[:2] != ("line", line.number):
                self.rides(picture, line, clock)
        for step in events.after:
            step(self.cast, on, clock)
        if back:
            self.sign(on, clock, closed=events.closed, late=events.late)
            for step in events.day:
                step(self.cast, on, clock)
            said = events.said % {"yesterday": f"{on - timedelta(days=1):%d %B}"} if events.said else ""
            self.close(on, start + timedelta(hours=11, minutes=rng.randint(0, 25)), said)

    def commission(self, on: date) -> None:
        """Ride every line the day before the season, the emergency brakes by themselves first."""
        start = datetime.combine(on, time(13), tzinfo=self.cast.course.zone)
        clock = Clock(start)
        picture = picture_of(self.cast.course, at=start, on=on)
        for line in picture.setup.lines:
            self.rides(picture, line, clock, both=True)
            self.light[line.pk] = on - _spread(line)

    def crew(self, on: date) -> tuple[str, str]:
        """Return who inspects on a day, the lead first."""
        return crew((self.today - on).days)

    # --- the technicians
    def sheet(
        self, picture: Picture, turn: Turn, index: int, rng: random.Random, events: Morning, clock: Clock
    ) -> None:
        place, section = turn.place, turn.section
        found = picture.section(place, section)
        if found is None:
            return
        signed_at = clock.until(turn.end)
        content = {}
        still = [item for item in found.items if not picture.answered(place, item["key"])] if found.sheets else []
        for item in still or found.items:
            answer = dict(events.answers.get((place_key(place), item["key"]), {}))
            if "photos" in answer:
                answer["photos"] = [self.cast.photo(name, turn.who, signed_at) for name in answer["photos"]]
            content[item["key"]] = answer or self.answer(picture, place, item, index, rng)
        draft = Draft.objects.create(
            course=self.cast.course,
            date=picture.date,
            place=place,
            section=section,
            person=self.cast.people[turn.who],
            started_at=min(turn.start, signed_at),
            changed_at=signed_at,
            versions=versions_shown(picture, place),
            content=content,
        )
        deed = self.cast.deed(turn.who, signed_at)
        try:
            actions.sign_sheet(draft, meaning=meaning(place, section), deed=deed, picture=picture)
        except Incomplete as asked:
            # A figure that is asked back was measured a second time, and stands.
            for key in asked.wanted:
                content[key]["kept"] = content[key]["text"]
            draft.save(update_fields=["content"])
            actions.sign_sheet(draft, meaning=meaning(place, section), deed=deed, picture=picture)

    def answer(
        self, picture: Picture, place: Place, item: Mapping[str, Any], index: int, rng: random.Random
    ) -> dict[str, Any]:
        if item["kind"] not in TYPED_KINDS:
            return {"mark": "sound"}
        weather = weather_of(picture.date, SEED)
        known = {
            "weather.wind_mean": f"{weather.mean:.1f}",
            "weather.wind_gust": f"{weather.gust:.1f}",
            "cord.cycles": str(self.cycles[place.number, item["slot"].partition("-")[0]]),
        }
        figure = known.get(item["measures"])
        return {"text": figure or figure_for(picture.setup, place, item, index / max(self.days, 1), rng)}

    def rides(self, picture: Picture, line: Place, clock: Clock, *, both: bool = False) -> None:
        """Send the heavy ballast, where it is time the light one too, and every three weeks the emergency brake's.

        The light one goes at least every six days, and when the cable has turned wet or dry. Nothing is sent on a line
        of which something is out of service, until the work on it is entered.
        """
        if any(one.out_of_service and one.work_seq is None for one in picture.open_findings(line)):
            return
        on = picture.date
        rng = self.rng(on, f"rides:{line.number}")
        weather = weather_of(on, SEED)
        described = next(one for one in plan.LINES if one.number == line.number)
        document = described.document
        masses = [document["mass_max_kg"]]
        turned = weather.state != self.states.get(line.pk)
        if both or turned or on - self.light[line.pk] >= LIGHT_EVERY:
            masses.append(document["mass_min_kg"])
            self.light[line.pk] = on - _spread(line) if turned else on
        self.states[line.pk] = weather.state
        tests = [(mass, "normal") for mass in masses]
        index = self.days - (self.today - on).days
        has_emergency = any(brake["role"] == "emergency" for brake in document["brakes"])
        if has_emergency and (index % 21 == line.number or index < 0):
            tests.insert(0, (document["mass_max_kg"], "emergency"))
        pair = self.crew(on)
        who, partner = pair if (line.number + on.toordinal()) % 2 else pair[::-1]
        clock.tick(rng.randint(*STEP_S))
        for number, (mass, kind) in enumerate(tests):
            light = Decimal(mass) < 60
            wind = self.runs.wind(line.number, on, mass)
            raw = {
                "mass": mass,
                "wind": wind.read,
                "wind_again": wind.read,
                "wind_from": wind.side,
                "state": weather.state,
                "reached": "yes",
                "kind": kind,
                "primary_back": "yes",
                "landing_clear": self.cast.people[partner].name,
                "air": f"{weather.air_c:.0f}" if number == 0 and line.number in AIR_AT else "",
            }
            ran = self.runs.run(line.number, on, mass, kind, days_left=(self.today - on).days, rng=rng)
            answers = {
                item["key"]: self.ride_answer(described, item, light, rng, ran) for item in ride_items(picture, line)
            }
            at = clock.tick(rng.randint(*(AGAIN_S if number else BALLAST_S)))
            actions.record_ride(picture, line, raw=raw, answers=answers, deed=self.cast.deed(who, at))
            self.cycles[line.number, "emergency" if kind == "emergency" else "primary"] += 1

    def ride_answer(
        self, line: plan.DemoLine, item: Mapping[str, Any], light: bool, rng: random.Random,
        ran: Mapping[str, float] | None,
    ) -> Answer:  # fmt: skip
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
        if ran is not None:
            values |= {name: Decimal(f"{value:.2f}") for name, value in ran.items()}
        return Answer(text=f"{values.get(item['measures'], Decimal('0.1')):.2f}")

    def rng(self, on: date, about: str = "") -> random.Random:
        """Return the random numbers of one morning: the same for the same seed and date."""
        return random.Random(f"{SEED}:{about}:{on.toordinal()}")  # noqa: S311 - invented readings, not secrets

    def sheets_of(self, place: Place, on: date, clock: Clock) -> None:
        """Fill in again what a new component asks for."""
        picture = picture_of(self.cast.course, at=clock.tick(120), on=on)
        rng = self.rng(on, "again")
        spot = picture.setup.places[place.pk]
        for section in picture.sections(spot):
            asked = [item for item in section.items if not picture.answered(spot, item["key"])]
            if asked:
                end = clock.now + timedelta(seconds=seconds_for(asked, rng))
                turn = Turn(spot, section.name, self.crew(on)[0], clock.now, end)
                self.sheet(picture, turn, 0, rng, Morning(), clock)

    # --- the manager
    def sign(self, on: date, clock: Clock, *, closed: tuple[int, ...] = (), late: bool = False) -> None:
        """Open every line that is ready, but for those in ``closed`` and what hangs on them."""
        at = clock.tick(5400 if late else self.rng(on, "sign").randint(420, 900))
        picture = picture_of(self.cast.course, at=at, on=on)
        wish = {str(line.pk): CLOSED if line.number in closed else OPEN for line in picture.setup.lines}
        decisions = {
            str(status.line.pk): wish[str(status.line.pk)] if status.clearance.is_ready else CLOSED
            for status in line_statuses(picture, wish)
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

    def close(self, on: date, at: datetime, said: str) -> None:
        """Count the day's riders: nearly the same on every line, as most guests ride them one after the other."""
        picture = picture_of(self.cast.course, at=at, on=on)
        rng = self.rng(on, "riders")
        guests = int(rng.randint(46, 74) * (1.6 if on.isoweekday() >= 6 else 1.0))
        riders = {}
        for line in picture.setup.lines:
            opened = [one.lines.get(str(line.pk), {}).get("decision") == OPEN for one in picture.sign_offs]
            share = (1.0 if opened[0] else 0.75) if any(opened) else 0.0
            count = max(0, round(guests * share) - rng.randint(0, 5)) if share else 0
            riders[str(line.pk)] = count
            self.cycles[line.number, "primary"] += count
        who = self.crew(on)[rng.randrange(2)]
        actions.close_day(picture, riders=riders, text=said, deed=self.cast.deed(who, at))


def _spread(line: Place) -> timedelta:
    """Return how much earlier a line's next light ride falls due, so that not all lines have theirs on one morning."""
    return timedelta(days=(line.number - 1) % LIGHT_EVERY.days)


@dataclass
class Clock:
    """The time of one morning, moving on with every deed; today's never passes the present."""

    now: datetime
    latest: datetime | None = None

    def tick(self, seconds: int) -> datetime:
        return self.until(self.now + timedelta(seconds=seconds))

    def until(self, at: datetime) -> datetime:
        """Move on to a time; never back."""
        self.now = max(self.now, at)
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
