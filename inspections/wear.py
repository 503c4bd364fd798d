"""When parts may reach their limits: from signed readings, riders and limits to an outlook. Advice only.

Nothing here makes a verdict, and nothing that decides reads it: a part past its limit is taken out of service by
``engineering.limits`` alone. A figure whose record is too thin, too old or contradicts itself has no date but the name
of what is wrong (``engineering.wear_words``).

This module is without queries; ``inspections.wear_record`` reads what it is given.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from courses import calendar
from courses.facts import facts_for
from courses.models import Component, Place, Placement
from courses.queries import Setup
from engineering import limits
from engineering import wear_words as words
from engineering.bounds import Bounds
from engineering.rules import AGES, Verdict
from engineering.wear_dates import HORIZON_DAYS, OPEN_DAYS, pace
from engineering.wear_outlook import CONTRADICTIONS, TELLING, Ahead, Outlook, Reading, outlook
from inspections.judging import TYPED_KINDS, Bench
from inspections.picture import component_of

FALLING, RISING = -1, 1
THOUSAND = 1000.0
END_OF_DAY = 0.999  # of a day: what is typed after midnight, or days later from paper, belongs to its own day
JUST_BEFORE = 1e-6  # of a day: a release is reset by its second look, which is itself the first new reading
LOOK_BACK = 400  # days in which the last open ones are looked for
# A size that may go either way to a limit contradicts nothing by going one of them.
ONE_SIDED_ONLY = frozenset({words.WRONG_SIGN, words.GREW})


@dataclass(frozen=True)
class Figure:
    """One measured figure of one fitted part, with the bounds that take it out of service (in ``unit``).

    ``u`` is the standard uncertainty of its gauge; ``measures`` the quantity of ``engineering/criteria/QUANTITIES.md``.
    """

    component: Component
    place: Place
    key: str
    text: str
    measures: str
    unit: str
    severity: str
    bounds: Bounds | None
    u: float | None

    @property
    def ends(self) -> list[tuple[int, float]]:
        """Return each bound with the way in which the figure goes to it."""
        if self.bounds is None:
            return []
        low, high = self.bounds.low, self.bounds.high
        found = [(FALLING, float(low))] if low is not None else []
        return found + ([(RISING, float(high))] if high is not None else [])

    def asks(self, key: str, wording: str) -> bool:
        """Say whether a reading is of this figure: the same item, or the same question at another spot."""
        return key == self.key or (key.partition("@")[0] == self.key.partition("@")[0] and wording == self.text)


@dataclass(frozen=True)
class Seen:
    """One signed reading: ``day`` as the ordinal of its date and the share of the day passed, ``value`` in the unit.

    ``frees``: it is the second look upon which a finding was released. Its value is None if only a mark was made.
    """

    seq: int
    on: date
    day: float
    value: Decimal | None
    key: str
    wording: str
    frees: bool = False


@dataclass(frozen=True)
class Reset:
    """From here on the readings count: ``why`` is ``release`` or ``baseline``; ``day`` as in ``Seen``."""

    on: date
    day: float
    why: str


@dataclass(frozen=True)
class Told:
    """What is told of one figure, against which bound (``direction`` -1 falling, +1 rising, 0 without one).

    ``newest`` is the last reading that counts; ``uncounted`` the open days since then without a number of riders, for
    each of which a busy day was taken. ``until`` is the day on which the part was taken off, None while it is fitted.
    """

    figure: Figure
    outlook: Outlook
    direction: int = 0
    limit: float | None = None
    newest: Seen | None = None
    uncounted: int = 0
    until: date | None = None

    def taken_off(self, on: date) -> Told:
        """Return what the readings said of a part that was taken off: nothing of days to come, for nothing wears it."""
        found = self.outlook
        cycles, age = replace(found.cycles, early=None, late=None), replace(found.age, early=None, late=None)
        bare = replace(found, cycles=cycles, age=age, clock=None, early=None, middle=None, beyond=None, notes=())
        return replace(self, outlook=bare, uncounted=0, until=on)


@dataclass(frozen=True)
class Life:
    """Riders over one part by day, in order of time, since the day on which it was first fitted on a line."""

    since: date
    days: tuple[date, ...]
    sums: tuple[int, ...]  # before each day, then in all

    def before(self, day: date) -> float:
        """Return the riders of the days before one, in thousands."""
        return self.sums[bisect_left(self.days, day)] / THOUSAND


def day_of(on: date, at: datetime, zone: ZoneInfo) -> float:
    """Return an instant as the ordinal of the course's day and the share of it that has passed."""
    passed = at.astimezone(zone).replace(tzinfo=None) - datetime.combine(on, time())
    return on.toordinal() + min(max(passed / timedelta(days=1), 0.0), END_OF_DAY)


def figures_at(setup: Setup, place: Place, *, was: tuple[Component, str] | None = None) -> list[Figure]:
    """Return every figure that the checklist in force asks of a part fitted at a place.

    A count that has to be exact (clips) does not wear; ages go by the calendar. Neither is among them. ``was``: instead
    of what is fitted now, a part that was taken off and the spot where it was.
    """
    checklist = setup.checklist(place)
    bench = Bench.in_force(setup, place)
    found = []
    for item in checklist.content["items"] if checklist else ():
        if item["kind"] not in TYPED_KINDS or item["sheet"] == "ride" or (was and item["slot"] != was[1]):
            continue
        part = was[0] if was else component_of(setup, place, item)
        if part is not None and (figure := _figure(setup, place, item, part, bench)) is not None:
            found.append(figure)
    return found


def _figure(setup: Setup, place: Place, item: Mapping[str, Any], part: Component, bench: Bench) -> Figure | None:
    facts = facts_for(setup, place, item, part, setup.today)
    rules = [rule for rule in bench.rules(item, [item.get("measures", "")], facts) if rule.kind not in AGES]
    if any(rule.kind == "equals" and rule.verdict is Verdict.WITHDRAW for rule in rules):
        return None
    return Figure(
        part, place, item["key"], item["text"], item.get("measures", ""), item["unit"], item["class"],
        limits.tightest(rules, facts), float(facts["gauge_u"]) if facts.get("gauge_u") else None,
    )  # fmt: skip


def life_of(
    component: Component, stays: Iterable[Placement], riders: Mapping[UUID, Sequence[tuple[date, int]]], setup: Setup
) -> Life | None:
    """Return the riders over a part, or None where they cannot be known.

    Gear is handed out from the store, and a platform carries the riders of several lines: neither has a count of its
    own. In the store nobody rides. The days of fitting and taking off count in full, as on the part's own page.
    """
    if component.is_pooled:
        return None
    by_day: dict[date, int] = {}
    since: date | None = None
    for stay in stays:
        if stay.place.kind == Place.Kind.PLATFORM:
            return None
        if stay.place.kind != Place.Kind.LINE:
            continue
        first = calendar.local_day(stay.since, setup.course.zone, setup.course.day_change_hour)
        last = calendar.local_day(stay.until or setup.at, setup.course.zone, setup.course.day_change_hour)
        since = first if since is None else min(since, first)
        for on, count in riders.get(stay.place_id, ()):
            if first <= on <= last:
                by_day[on] = by_day.get(on, 0) + count
    if since is None:
        return None
    days, sums = tuple(sorted(by_day)), [0]
    for on in days:
        sums.append(sums[-1] + by_day[on])
    return Life(since, days, tuple(sums))


@dataclass(frozen=True)
class Season:
    """The open days of the calendar in force: those to come within a year, today among them, and the last ones past.

    Without a calendar every day counts as open: rather too early than too late.
    """

    today: date
    coming: tuple[date, ...]
    past: tuple[date, ...]  # in order of time, today not among them

    @classmethod
    def of(cls, setup: Setup) -> Season:
        content, today = setup.calendar, setup.today

        def is_open(day: date) -> bool:
            return content is None or calendar.operates(content, day)

        ahead = [today + timedelta(days=n) for n in range(HORIZON_DAYS + 1)]
        before = [today - timedelta(days=n) for n in range(LOOK_BACK, 0, -1)]
        return cls(today, tuple(filter(is_open, ahead)), tuple(filter(is_open, before)))

    def nth(self, number: int) -> date:
        """Return the open day on which so many will have been, today counted, or the last one known."""
        return self.coming[min(number, len(self.coming)) - 1] if self.coming else self.today


def ahead_of(
    figure: Figure, life: Life | None, riders: Mapping[date, int], season: Season, since: date | None
) -> Ahead:
    """Return what lies before a part: the days to come, riders of past days of its line, riders over it until now.

    ``riders`` are those of the line it is fitted on. A day closed already brings no more riders. ``since`` is the day
    of the newest reading: an open day from then on without a count is taken for a busy one.
    """
    if life is None or figure.place.kind != Place.Kind.LINE:
        return Ahead(season.today, season.coming)
    counts = [riders.get(day) for day in season.past[-OPEN_DAYS:]]
    per_day = [None if count is None else count / THOUSAND for count in counts]
    coming = season.coming[1:] if season.today in riders and season.today in season.coming[:1] else season.coming
    now = life.sums[-1] / THOUSAND + uncounted(riders, season, since) * pace(per_day).busy
    return Ahead(season.today, coming, per_day, now)


def uncounted(riders: Mapping[date, int], season: Season, since: date | None) -> int:
    """Return how many open days from one on have no number of riders."""
    return 0 if since is None else sum(1 for day in season.past if day >= since and day not in riders)


def told(
    figure: Figure,
    seen: Sequence[Seen],
    resets: Sequence[Reset],
    life: Life | None,
    riders: Mapping[date, int],
    season: Season,
) -> Told:
    """Return the outlook of one figure from the readings of its part, oldest first."""
    measured = [one for one in seen if one.value is not None]
    newest = measured[-1] if measured else None
    ahead = ahead_of(figure, life, riders, season, newest.on if newest else None)
    readings = points_of(measured, life)
    marks = [reset.day for reset in resets]
    ends = figure.ends
    missing = uncounted(riders, season, newest.on if newest else None) if life else 0
    if not ends:
        found = outlook(readings, None, FALLING, figure.u, ahead, resets=marks)
        return Told(figure, found, newest=newest, uncounted=missing)
    both = [
        Told(figure, outlook(readings, limit, way, figure.u, ahead, resets=marks), way, limit, newest, missing)
        for way, limit in ends
    ]
    return nearer(both)


def points_of(seen: Iterable[Seen], life: Life | None) -> list[Reading]:
    """Return readings as the forecast takes them: those of a morning stand before that day's riders."""
    return [
        Reading(one.day, float(one.value), life.before(one.on) if life else None)
        for one in seen
        if one.value is not None
    ]


def nearer(both: Sequence[Told]) -> Told:
    """Return which of the bounds of a figure is to be told of: the one at hand, then a contradiction, then the nearer.

    Where a size may go either way, going away from one bound is going to the other, and no contradiction, as long as
    the other forecast can tell of it.
    """
    if len(both) == 1:
        return both[0]
    if at_hand := [one for one in both if one.outlook.status == words.AT_LIMIT]:
        return at_hand[0]
    straight = [one for one in both if one.outlook.status not in ONE_SIDED_ONLY]
    if not straight:
        return both[0]
    if len(straight) < len(both) and not _resolved(straight[0].outlook):
        # It neither wears towards this bound nor can the way to the other one be told.
        grown = [one for one in both if one.outlook.status == words.GREW]
        return grown[0] if grown else straight[0]
    for status in CONTRADICTIONS:
        if wrong := [one for one in straight if one.outlook.status == status]:
            return wrong[0]
    if dated := [one for one in straight if one.outlook.early is not None]:
        return min(dated, key=lambda one: one.outlook.early or date.max)
    return max(straight, key=lambda one: (TELLING.index(one.outlook.status), -_way_left(one)))


def _way_left(one: Told) -> float:
    return abs((one.limit or 0.0) - float(one.newest.value or 0)) if one.newest else 0.0


def _resolved(found: Outlook) -> bool:
    return any(one.status in {words.OK, words.WEAK, words.BEYOND_HORIZON} for one in (found.cycles, found.age))


def resets_of(figure: Figure, setup: Setup, seen: Iterable[Seen]) -> list[Reset]:
    """Return from when on the readings of a figure count, in order of time.

    A release that names the item counts from its second look on. The day of a new baseline belongs to the time before
    it, whole. A replacement is another part, with readings of its own.
    """
    found = [Reset(one.on, one.day - JUST_BEFORE, "release") for one in seen if one.frees]
    sizes = setup.component_data(figure.component).get("figures", {}).get(figure.measures, {})
    if sizes.get("baseline_date"):
        on = date.fromisoformat(sizes["baseline_date"])
        found.append(Reset(on, on.toordinal() + END_OF_DAY, "baseline"))
    return sorted(found, key=lambda one: one.day)
