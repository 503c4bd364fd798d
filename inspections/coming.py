"""What lies ahead of a course: parts out of service, or that may reach a limit, dates and ages that end, inspections.

All of it is advice for planning. A part is taken out of service by its reading and its date on the day, never by this.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any
from uuid import UUID

from django.db.models import Max
from django.utils.translation import gettext as _

from courses import calendar
from courses.facts import facts_for
from courses.models import Component, Place
from courses.queries import Setup
from engineering import wear_outlook
from engineering.bounds import Unknowable, applies, bounds_of
from engineering.explain import Phrase, missing_phrase
from engineering.reliability_service import Cycles, cycle_clock
from engineering.rules import AGES, Rule, Verdict
from engineering.wear_dates import OPEN_DAYS
from inspections.judging import GEAR_QUANTITIES, REGISTER_KINDS, Bench, severity_of
from inspections.models import Finding, Ride
from inspections.picture import State, component_of, gear_item
from inspections.wear import LOOK_BACK, Life, Season, Told

OVERDUE, UNKNOWN, DUE = "overdue", "unknown", "due"
WEAR, CYCLES, AGE, DATE, INTERVAL = "wear", "cycles", "age", "date", "interval"
OUT = "out_of_service"
RANK = (OVERDUE, UNKNOWN, DUE)
TO_ORDER = frozenset({OUT, WEAR, CYCLES, AGE})
INSPECTED = frozenset({"last_inspection", "last_done"})  # an age from one of these ends with an inspection, not a part
LEAST_INTERVAL = 30  # days; what is asked more often stands on the day's own sheets
COUNTED = "cord.cycles"  # a count that is read off the part itself is better than riders of the line
HOLDS_WITHIN = timedelta(days=14)
_NONE: tuple[date | None, Rule | None] = (None, None)
_OF_OUTLOOK = {wear_outlook.AT_LIMIT: OVERDUE, wear_outlook.LOOK: UNKNOWN, wear_outlook.DUE: DUE}


@dataclass(frozen=True)
class Coming:
    """One thing to act on. ``day``: the last or earliest one, by ``why``; None where nothing can be told.

    ``code`` and ``params`` are of ``SENTENCES`` or of ``engineering``'s lists, for what is not known. ``told`` is the
    outlook of a wearing figure; ``source`` where the limit is from; ``every`` the interval in days. ``finding``: what
    took the part out of service, on its day ``last``.
    """

    why: str
    state: str
    place: Place
    component: Component | None
    key: str
    text: str
    severity: str
    day: date | None = None
    last: date | None = None
    source: str = ""
    missing: Phrase | None = None
    told: Told | None = None
    every: int = 0
    cycles: tuple[int, int] | None = None  # carried, allowed
    finding: Finding | None = None

    @property
    def to_order(self) -> bool:
        return self.why in TO_ORDER

    @property
    def place_in_order(self) -> tuple[Any, ...]:
        """Sort what is out of service first, what is overdue, then what is not known, then by day."""
        tag = self.component.tag if self.component else ""
        rank = (self.why != OUT, RANK.index(self.state))
        return (*rank, self.day or date.min, self.place.kind, self.place.number, tag, self.key)


def out_of_service(setup: Setup) -> list[Coming]:
    """Return the parts that stand out of service and are not retired, one row for each finding; one query.

    Each may have to be replaced, so each is to order. What was entered as work on it changes nothing before its
    release.
    """
    found = (
        Finding.objects.filter(
            course=setup.course, state=Finding.State.OPEN, out_of_service=True, component__isnull=False,
            component__retired_at__isnull=True,
        )
        .select_related("component", "place")
        .order_by("seq")
    )  # fmt: skip
    return [
        Coming(
            OUT, OVERDUE, one.place, one.component, one.key or (f"@{one.slot}" if one.slot else ""), "",
            one.severity, last=one.opened_on,
            source=one.clause, finding=one,
        )
        for one in found
    ]  # fmt: skip


def worn(found: Iterable[Told], until: date) -> list[Coming]:
    """Return the figures that may reach their limit up to a day, those at it and those whose record is not sound."""
    by_figure = {(one.figure.component.pk, one.figure.key): one for one in found}
    due = wear_outlook.parts_ahead({key: one.outlook for key, one in by_figure.items()}, until)
    rows = []
    for each in due:
        one = by_figure[each.key]
        figure = one.figure
        rows.append(
            Coming(
                WEAR, _OF_OUTLOOK[each.why], figure.place, figure.component, figure.key, figure.text, figure.severity,
                day=each.early, last=one.newest.on if one.newest else None, told=one,
            )
        )  # fmt: skip
    return rows


def dated(setup: Setup, place: Place, tests: Mapping[UUID, date] | None = None) -> Iterator[Coming]:
    """Yield every date and age of a place's register with its last day; without a query.

    ``tests`` are the days on which the emergency brake of each line was last tried by itself; without them that item is
    left out.
    """
    bench = Bench.in_force(setup, place)
    for item, part, quantity in _registered(setup, place):
        facts = facts_for(setup, place, item, part, setup.today)
        if quantity == "emergency.test_age":
            if tests is None:
                continue
            facts |= {"last_done": tests[place.pk].isoformat()} if place.pk in tests else {}
        yield _ended(setup, place, item, part, bench.rules(item, [quantity], facts), facts)


def _registered(setup: Setup, place: Place) -> Iterator[tuple[Mapping[str, Any], Component | None, str]]:
    checklist = setup.checklist(place)
    for item in checklist.content["items"] if checklist else ():
        if item["kind"] in REGISTER_KINDS and item["sheet"] != "gear":
            yield item, component_of(setup, place, item), item.get("measures", "")
    if place.kind == Place.Kind.STORE:
        for fitted in setup.at_place(place):
            kind = Component.Kind(fitted.component.kind)
            for quantity in GEAR_QUANTITIES.get(kind, ())[1:]:
                yield gear_item(fitted.component, fitted.slot), fitted.component, quantity


def _ended(
    setup: Setup,
    place: Place,
    item: Mapping[str, Any],
    part: Component | None,
    rules: list[Rule],
    facts: Mapping[str, str],
) -> Coming:
    """Return the first of the rules to end; past it counts before not known, and that before a day to come."""
    missing: Phrase | None = None
    ends: list[tuple[date, Rule]] = []
    for rule in rules:
        if rule.kind not in AGES or rule.verdict is not Verdict.WITHDRAW:
            continue
        try:
            if applies(rule, facts) and (high := (bounds := bounds_of(rule, facts)).high) is not None:
                ends.append((date.fromordinal(int(high) - bounds.breach_at), rule))
        except Unknowable as reason:
            missing = missing or missing_phrase(reason.code, reason.params)
    if not ends and missing is None:
        missing = Phrase("no-rule-applies" if rules else "no-limit")
    day, first = min(ends, key=lambda end: (end[0], end[1].id), default=_NONE)
    past = day is not None and day < setup.today
    state = OVERDUE if past else UNKNOWN if missing else DUE
    inspected = first is None or first.params["from"].split()[0] in INSPECTED
    text = item["look" if item.get("gear") else "text"]
    return Coming(
        DATE if inspected else AGE, state, place, part, item["key"], text,
        severity_of(item), day=day if state != UNKNOWN else None, source=first.source if first else "",
        missing=missing if state == UNKNOWN else None,
    )  # fmt: skip


def intervals(setup: Setup, place: Place, states: Mapping[tuple[UUID, str], State]) -> Iterator[Coming]:
    """Yield what is inspected at an interval of 30 days or more, with the day on which it is due again.

    Never looked at, or looked at on another part, is not known and due at once.
    """
    checklist = setup.checklist(place)
    for item in checklist.content["items"] if checklist else ():
        every = int(item["every"]) if str(item["every"]).isdecimal() else 0
        if every < LEAST_INTERVAL or item["kind"] in REGISTER_KINDS or item["sheet"] == "ride":
            continue
        state, part = states.get((place.pk, item["key"])), component_of(setup, place, item)
        known = state is not None and (part is None or state.component in (None, part.pk))
        day = state.day_date + timedelta(days=every) if state is not None and known else None
        yield Coming(
            INTERVAL, UNKNOWN if day is None else OVERDUE if day < setup.today else DUE, place, part, item["key"],
            item["text"], severity_of(item), day=day, last=state.day_date if state and known else None, every=every,
        )  # fmt: skip


def cycled(
    setup: Setup, lives: Mapping[UUID, Life | None], riders: Mapping[UUID, Mapping[date, int]], found: Iterable[Told]
) -> Iterator[Coming]:
    """Yield every part with the maker's most cycles, and when its line's riders may reach them.

    What a part carried before it was fitted here is not known; then neither is its count. Source of the early day: the
    count of riders that nine of ten days do not exceed (``engineering.reliability_service``).
    """
    counted = {one.figure.component.pk for one in found if one.figure.measures == COUNTED}
    season = Season.of(setup)
    for fitted in setup.fitted:
        part, data = fitted.component, setup.component_data(fitted.component)
        place = setup.places.get(fitted.place_id)
        if not data.get("max_cycles") or part.pk in counted or place is None:
            continue
        life = lives.get(part.pk)
        done = round(life.sums[-1]) if life is not None and new_here(setup, data, life) else None
        by_day = riders.get(place.pk, {})
        recent = [float(by_day[day]) for day in season.past[-OPEN_DAYS:] if day in by_day]
        coming = season.coming[1:] if season.today in by_day and season.today in season.coming[:1] else season.coming
        most = int(data["max_cycles"])
        clock = cycle_clock(setup.today, Cycles(float(most), None if done is None else float(done), recent, coming))
        if clock.note is not None and clock.note.code == "clock-beyond":
            continue
        missing = None
        if clock.note is not None:
            missing = Phrase(clock.note.code, {"clock": _("cycles")}, {clock.note.code: clock.note.sentence})
        yield Coming(
            CYCLES, OVERDUE if clock.reached else UNKNOWN if missing else DUE, place, part, "", "", "",
            day=clock.ends, missing=missing, cycles=None if done is None else (done, most),
        )  # fmt: skip


def new_here(setup: Setup, data: Mapping[str, Any], life: Life) -> bool:
    """Say whether a part was first used on the day it was fitted here, or later."""
    first = data.get("dates", {}).get("first_use")
    return bool(first) and date.fromisoformat(first) >= life.since


def emergency_tests(setup: Setup) -> dict[UUID, date]:
    """Return on which day the emergency brake of each line was last tried by itself; one query."""
    since = setup.today - timedelta(days=LOOK_BACK)
    rides = Ride.objects.filter(place__in=setup.places, day__date__gte=since, fields__kind="emergency")
    newest = rides.values_list("place_id").annotate(newest=Max("rode_at"))
    return {line: calendar.local_day(at, setup.course.zone, 0) for line, at in newest}


def will_hold(setup: Setup, found: Iterable[Told]) -> list[Coming]:
    """Return what will hold a line within 14 days if nothing is done: critical, and past its day or its limit by then.

    What is not known holds already, and each line says so itself.
    """
    until = setup.today + HOLDS_WITHIN
    rows = worn(found, until)
    for place in setup.places.values():
        if place.kind != Place.Kind.STORE:
            rows += dated(setup, place)
    rows = [one for one in rows if one.severity == "critical" and one.state != UNKNOWN]
    # A limit may hold from its early day on, a date from the day after its last one.
    near = (one for one in rows if one.day is None or one.day < until or (one.why == WEAR and one.day == until))
    return sorted(near, key=lambda one: one.place_in_order)
