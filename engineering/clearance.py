"""What a line may do today: from facts to ``held`` or ``ready``, always with reasons. It never opens anything.

``clearance`` is a pure function. It is monotone: a worse verdict, a missing reading, one finding or one hold more can
only add reasons or narrow limits. Opening is a person's deed (the sign-off), and possible only for a ``ready`` line.
Sources of the single rules stand beside them; those without a published source are marked as judgement.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from decimal import Decimal

from engineering import ballast
from engineering.ballast import EXTREMES_DAYS, RideFact
from engineering.sentences import in_metric

HELD = "held"
READY = "ready"

WALKING_SPEED_MPS = Decimal("2.682")  # 6 mph: R-301, READ (advisory); the stricter of 6 mph and 10 km/h
HIGH_SPEED_MPS = Decimal("11.176")  # 25 mph: R-307, READ-2
THUNDER_WAIT = timedelta(minutes=30)  # R-501, READ-2
GUST_WAIT = timedelta(minutes=10)  # judgement: reading below the limit for ten minutes
RIDE_AGAIN = frozenset({"ride-order", "ride-voided"})  # ballast was sent, and does not count

# Sentences for people, by code; the web layer translates them. Names in %(...)s are keys of Reason.params.
SENTENCES = {
    "retired": "This line is retired.",
    "no-setup": "%(what)s is not entered for this line.",
    "not-operating": "The calendar has the course closed today.",
    "sheet-missing": "%(sheet)s is not signed yet.",
    "item-unknown": "Not checked: %(item)s",
    "item-withdraw": "Past its limit: %(item)s",
    "finding-critical": "Critical finding open: %(title)s",
    "finding-major": "Major finding open without a ruling: %(title)s",
    "finding-watch": "A watch waits for the manager's decision: %(title)s",
    "finding-place": "Critical finding on %(place)s: %(title)s",
    "ride-missing": "No good test ride with ballast today.",
    "ride-order": "The test ride was made before the checks were signed.",
    "ride-failed": "The test ride at %(mass)s %(kg)s was past its limit.",
    "ride-unknown": "The test ride at %(mass)s %(kg)s is not complete.",
    "ride-voided": "Work, adjustment or an emergency-brake test came after the test ride.",
    "ride-extremes": "The posted %(which)s weight was not tested in the last %(days)s days.",
    "ride-no-band": "No band of rider weights is covered by the test rides: a lighter and a heavier one are needed.",
    "signed-none": "Nothing is left of the weights that were signed for today; what is good now needs a new signing.",
    "computed-none": "Computed: in today's wind no rider weight of the band arrives and stops within the limits.",
    "brake-primary": "No sound primary brake.",
    "brake-emergency": "No sound, independent, automatic emergency brake; the arrival speed demands one.",
    "brake-hand-fast": "A hand-operated brake may not be the primary brake at this arrival speed.",
    "wind-limit": "Wind %(reading)s %(m/s)s (%(direction)s) is above the limit of %(limit)s %(m/s)s.",
    "wind-unknown": "No wind reading today.",
    "hold": "Held: %(cause)s.",
    "owed-hold": "A phone reported a hold that has not arrived.",
    "owed-out": "A phone reported a defect that has not arrived.",
    "owed-unknown": "A phone reported something not checked that has not arrived.",
    "thunder": "Thunder: %(minutes)s minutes of %(of)s are left.",
    "stranded": "Riders would be stranded: the only way off %(place)s is %(line)s, which is not open.",
    "house": "%(item)s at the course house is not in order.",
}


@dataclass(frozen=True)
class Reason:
    """Why a line is held, or what narrows it. ``ref`` is (kind, id) of what it leads to."""

    code: str
    params: tuple[tuple[str, str], ...] = ()
    ref: tuple[str, str] = ("", "")

    @property
    def sentence(self) -> str:
        """
        >>> Reason("sheet-missing", (("sheet", "Cable"),)).sentence
        'Cable is not signed yet.'
        """
        return in_metric(SENTENCES[self.code], dict(self.params))


@dataclass(frozen=True)
class ItemFact:
    """One item due today at a place this line needs: its worst signed verdict since the last release naming it."""

    key: str
    label: str
    severity: str  # critical, major, minor
    verdict: str  # ok, watch, unknown, withdraw; unknown where nobody answered
    ref: str = ""


@dataclass(frozen=True)
class SheetFact:
    """One section that must be signed today."""

    label: str
    signed_at: datetime | None
    before_ride: bool = True  # the checks of the line itself come before its test ride: R-201, READ
    ref: str = ""
    number: int = 0  # the place of its arrival in the history


@dataclass(frozen=True)
class FindingFact:
    """An open finding that bears on this line."""

    id: str
    title: str
    severity: str
    is_watch: bool = False
    watch_decided: bool = False
    ruled: bool = False
    elsewhere: str = ""  # name of the platform, tower, house it is on; empty for the line itself
    mass_max_kg: Decimal | None = None  # restriction in the engineer's ruling
    mass_min_kg: Decimal | None = None


@dataclass(frozen=True)
class BrakeFact:
    """One brake as configured and as found this morning."""

    slot: str
    role: str  # primary, emergency
    kind: str  # hand, spring, magnetic, cord, runout
    sound: bool
    independent: bool = True  # shares no rope, anchor or trolley catch with the primary: R-304, READ-2


@dataclass(frozen=True)
class HoldFact:
    """A hold that is not lifted."""

    id: str
    cause: str
    label: str
    renewed_at: datetime
    wait: timedelta | None = None  # what the course's engineer asks; never below the floor


@dataclass(frozen=True)
class OwedFact:
    """What a phone says was signed on it and has not arrived: it may hold this line, so nothing is opened past it."""

    is_hold: bool  # else something is taken out of service by it, or
    is_unknown: bool = False  # something is answered "not checked" in it


@dataclass(frozen=True)
class WindFact:
    """A wind reading against the limit of its direction."""

    direction: str
    reading_mps: Decimal
    limit_mps: Decimal


@dataclass(frozen=True)
class Limits:
    """What a ready line may be opened for: a band of rider weight and wind limits by direction."""

    mass_min_kg: Decimal | None = None
    mass_max_kg: Decimal | None = None
    wind_mps: tuple[tuple[str, Decimal], ...] = ()
    narrowed: bool = False


@dataclass(frozen=True)
class ComputedFact:
    """What was computed for today's wind and temperature: it can cut the day's limits, and cuts only.

    ``none`` says that no weight was found good. Where nothing could be computed there is no such fact at all.
    """

    mass_min_kg: Decimal | None = None
    mass_max_kg: Decimal | None = None
    wind_mps: tuple[tuple[str, Decimal], ...] = ()
    none: bool = False


@dataclass(frozen=True)
class LineFacts:
    """Everything that bears on one line today. The default of every field is the one that holds the line."""

    line: str
    gaps: tuple[str, ...] = ("Line data",)
    operating: bool = False
    retired: bool = False
    sheets: tuple[SheetFact, ...] = ()
    items: tuple[ItemFact, ...] = ()
    findings: tuple[FindingFact, ...] = ()
    rides: tuple[RideFact, ...] = ()
    brakes: tuple[BrakeFact, ...] = ()
    holds: tuple[HoldFact, ...] = ()
    owed: tuple[OwedFact, ...] = ()
    winds: tuple[WindFact, ...] = ()
    wind_known: bool = False
    stranded: tuple[str, str] | None = None  # (platform, line that would have to take the riders on)
    arrival_speed_mps: Decimal | None = None
    posted_min_kg: Decimal | None = None
    posted_max_kg: Decimal | None = None
    wind_limits: tuple[tuple[str, Decimal], ...] = ()
    computed: ComputedFact | None = None  # advice: where there is none nothing is cut, and nothing is held for it
    signed: ComputedFact | None = None  # what a line was opened for today: until it is signed again nothing is wider


@dataclass(frozen=True)
class Clearance:
    """``state`` is held or ready; ``reasons`` hold the line; ``cautions`` only narrow or remind."""

    state: str
    reasons: tuple[Reason, ...]
    cautions: tuple[Reason, ...] = ()
    limits: Limits = field(default_factory=Limits)

    @property
    def is_ready(self) -> bool:
        return self.state == READY


def clearance(facts: LineFacts, at: datetime) -> Clearance:
    """Return whether the line is held or ready, with every reason.

    Valid for facts gathered at ``at``. A line without facts is held.

    >>> from datetime import UTC
    >>> clearance(LineFacts("Line 1"), datetime(2026, 6, 1, tzinfo=UTC)).state
    'held'
    """
    limits, band_reasons = _band(facts)
    reasons = (*_hard_reasons(facts, at), *ride_reasons(facts), *band_reasons)
    if reasons:
        return Clearance(HELD, reasons, _cautions(facts), Limits())
    return Clearance(READY, (), _cautions(facts), limits)


def with_stranding(facts: LineFacts, platform: str, onward_line: str) -> LineFacts:
    """Return the facts with the one addition that riders arriving here could not get on."""
    return replace(facts, stranded=(platform, onward_line))


def _hard_reasons(facts: LineFacts, at: datetime) -> Iterator[Reason]:
    if facts.retired:
        yield Reason("retired")
    if not facts.operating:
        yield Reason("not-operating")
    for gap in facts.gaps:
        yield Reason("no-setup", (("what", gap),), ("setup", facts.line))
    for hold in facts.holds:
        yield Reason("hold", (("cause", hold.label),), ("hold", hold.id))
        if hold.cause == "thunder":
            wait = max(THUNDER_WAIT, hold.wait or THUNDER_WAIT)
            left = wait - (at - hold.renewed_at)
            if left > timedelta(0):
                minute = timedelta(minutes=1)
                said = (("minutes", str(-(-left // minute))), ("of", str(wait // minute)))
                yield Reason("thunder", said, ("hold", hold.id))
    for owed in facts.owed:
        code = "owed-hold" if owed.is_hold else "owed-unknown" if owed.is_unknown else "owed-out"
        yield Reason(code, (), ("owed", ""))
    for sheet in facts.sheets:
        if sheet.signed_at is None:
            yield Reason("sheet-missing", (("sheet", sheet.label),), ("sheet", sheet.ref))
    yield from _item_reasons(facts)
    yield from _finding_reasons(facts)
    yield from _brake_reasons(facts)
    if not facts.wind_known:
        yield Reason("wind-unknown")
    for wind in facts.winds:
        if wind.reading_mps > wind.limit_mps:
            yield Reason(
                "wind-limit",
                (("reading", str(wind.reading_mps)), ("direction", wind.direction), ("limit", str(wind.limit_mps))),
            )
    if facts.stranded is not None:
        yield Reason("stranded", (("place", facts.stranded[0]), ("line", facts.stranded[1])))


def _item_reasons(facts: LineFacts) -> Iterator[Reason]:
    for item in facts.items:
        if item.severity == "minor":
            continue
        if item.verdict == "withdraw":
            # A major item past its limit has a finding, which an engineer may rule on; a critical one holds by itself.
            if item.severity == "critical":
                yield Reason("item-withdraw", (("item", item.label),), ("item", item.ref))
        elif item.verdict not in {"ok", "watch"}:
            yield Reason("item-unknown", (("item", item.label),), ("item", item.ref))


def _finding_reasons(facts: LineFacts) -> Iterator[Reason]:
    for finding in facts.findings:
        ref = ("finding", finding.id)
        title = ("title", finding.title)
        if finding.is_watch:
            if not finding.watch_decided:
                yield Reason("finding-watch", (title,), ref)
        elif finding.severity == "critical":
            if finding.elsewhere:
                yield Reason("finding-place", (("place", finding.elsewhere), title), ref)
            else:
                yield Reason("finding-critical", (title,), ref)
        elif finding.severity == "major" and not finding.ruled:
            yield Reason("finding-major", (title,), ref)


def _brake_reasons(facts: LineFacts) -> Iterator[Reason]:
    speed = facts.arrival_speed_mps
    if speed is None:
        return  # named as a gap of the set-up
    primaries = [brake for brake in facts.brakes if brake.role == "primary"]
    if not primaries or not all(brake.sound for brake in primaries):
        yield Reason("brake-primary")
    # Above 6 mph a primary and an independent emergency brake that needs nobody's hand, READ-2.
    emergency = [b for b in facts.brakes if b.role == "emergency" and b.sound and b.independent and b.kind != "hand"]
    if speed > WALKING_SPEED_MPS and not emergency:
        yield Reason("brake-emergency")
    if speed > HIGH_SPEED_MPS and any(brake.kind == "hand" for brake in primaries):
        yield Reason("brake-hand-fast")


def _standing(facts: LineFacts) -> list[RideFact]:
    return [ride for ride in facts.rides if ride.today and ride.stands]


def ride_reasons(facts: LineFacts) -> Iterator[Reason]:
    """Yield why today's test rides do not let the line open: what is missing of them, or does not count.

    Valid for facts whose sheets and rides are gathered; the rest of them is not looked at.
    """
    today = [ride for ride in facts.rides if ride.today]
    standing = _standing(facts)
    for ride in standing:
        if ride.verdict == "withdraw":
            yield Reason("ride-failed", (("mass", str(ride.mass_kg)),), ("ride", ride.id))
        elif ride.verdict == "unknown":
            yield Reason("ride-unknown", (("mass", str(ride.mass_kg)),), ("ride", ride.id))
    good = [ride for ride in standing if ride.verdict in {"ok", "watch"}]
    if not good:
        yield Reason("ride-voided" if today and not standing else "ride-missing")
        return
    checks = [
        (sheet.signed_at, sheet.number) for sheet in facts.sheets if sheet.before_ride and sheet.signed_at is not None
    ]
    if not checks:
        return
    # What arrives late is before the ride only if both say so: when it was signed, and that it was there.
    last, newest = max(at for at, _number in checks), max(number for _at, number in checks)
    if all(ride.rode_at < last or ride.number < newest for ride in good):
        yield Reason("ride-order")


def _band(facts: LineFacts) -> tuple[Limits, tuple[Reason, ...]]:
    """Return the day's limits: the posted band, cut to the masses that were tested and to rulings. Never wider."""
    if facts.posted_min_kg is None or facts.posted_max_kg is None:
        return Limits(), ()  # named as a gap of the set-up
    low, high = facts.posted_min_kg, facts.posted_max_kg
    reached = ballast.arrived(facts.rides)
    if not reached:
        found = [*ballast.tested(facts.rides), *ballast.stopped_short(facts.rides)]
        return Limits(), (Reason("ride-no-band"),) if found else ()
    low, high = max(low, min(reached)), min(high, max(reached))
    for finding in facts.findings:
        if finding.mass_max_kg is not None:
            high = min(high, finding.mass_max_kg)
        if finding.mass_min_kg is not None:
            low = max(low, finding.mass_min_kg)
    if low >= high:
        return Limits(), (Reason("ride-no-band"),)  # of one weight alone there is no rider
    winds = facts.wind_limits
    if facts.computed is not None:
        low, high, winds = _cut(low, high, winds, facts.computed)
        if low >= high or facts.computed.none:
            return Limits(), (Reason("computed-none"),)
    if facts.signed is not None:
        low, high, winds = _cut(low, high, winds, facts.signed)
        if low >= high:
            return Limits(), (Reason("signed-none"),)
    narrowed = low > facts.posted_min_kg or high < facts.posted_max_kg or winds != facts.wind_limits
    return Limits(low, high, winds, narrowed), ()


def _cut(
    low: Decimal, high: Decimal, winds: tuple[tuple[str, Decimal], ...], computed: ComputedFact
) -> tuple[Decimal, Decimal, tuple[tuple[str, Decimal], ...]]:
    """Return weights and winds cut to what was computed; a wind that is not posted is not made up here."""
    if computed.mass_min_kg is not None:
        low = max(low, computed.mass_min_kg)
    if computed.mass_max_kg is not None:
        high = min(high, computed.mass_max_kg)
    found = dict(computed.wind_mps)
    return low, high, tuple((name, min(limit, found.get(name, limit))) for name, limit in winds)


def _cautions(facts: LineFacts) -> tuple[Reason, ...]:
    found = []
    recent = [ride.mass_kg for ride in ballast.tested(facts.rides)]
    days = ("days", str(EXTREMES_DAYS))
    if facts.posted_max_kg is not None and not any(mass >= facts.posted_max_kg for mass in recent):
        found.append(Reason("ride-extremes", (("which", "maximum"), days)))
    if facts.posted_min_kg is not None and not any(mass <= facts.posted_min_kg for mass in recent):
        found.append(Reason("ride-extremes", (("which", "minimum"), days)))
    return tuple(found)
