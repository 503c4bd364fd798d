"""The morning test ride under statistical control: baseline, chart, alarms, and where to look first.

``follow`` takes all rides and marks of one line's chart and tells how it stands today. It only ever advises: an alarm
opens a watch, it holds nothing, and "in control" betters no verdict, opens no line and shortens no inspection. The
limits of the maker, of the designer of record and of the law decide.

An alarm stands until a person has looked and said so (``LOOKED``: the sums begin anew, the baseline stays) or has
serviced the line (``SERVICE``: a new baseline begins), each with a reason. The chart never adapts itself to what it
alarmed about.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from engineering.control_baseline import Baseline, baseline_of, baseline_rides
from engineering.control_charts import Cusum, Ewma, cusum, ewma, onset
from engineering.control_residual import (
    STROKE,
    UNITS,
    Dropped,
    Model,
    MorningRide,
    Plan,
    Residual,
    plan_problem,
    residual,
)
from engineering.control_tuning import EWMA_WEIGHT, MOST_CHARTS, Tuning, tuning
from engineering.control_words import Note, note
from engineering.units import with_unit

SERVICE = "service"  # work on brake, trolley or cable: a new baseline
LOOKED = "looked"  # an alarm was followed up and nothing was changed
ARRIVAL_MOVED = 2.0  # sigmas of the arrival speed on the same morning that point away from the brake (judgement)


@dataclass(frozen=True)
class Mark:
    """A person's entry that restarts something, with its reason."""

    at: datetime | None
    kind: str
    reason: str


@dataclass(frozen=True)
class Point:
    """One charted morning: ``value`` is the residual, ``sigmas`` how far from the centre.

    ``high`` and ``low`` are the sums in sigmas, ``average`` the drawn EWMA in the residual's unit. ``signals`` are the
    codes of what this morning signals; ``gap_days`` is more than nought where the record was interrupted before it.
    """

    at: datetime
    value: float
    sigmas: float
    high: float
    low: float
    average: float
    signals: tuple[str, ...]
    gap_days: int = 0


@dataclass(frozen=True)
class Alarm:
    """What signalled first since the last mark, where to look first, and ``since`` which morning it creeps."""

    at: datetime
    code: str
    words: Note
    look_first: Note
    since: date


@dataclass(frozen=True)
class Control:
    """How a chart stands. Figures are there only where the status has them; ``low`` and ``high`` are residuals.

    ``status`` is one of alarm, in-control, today-missing, baseline-complete, baseline-short, no-rides, no-scatter,
    setting-impossible.
    ``standing`` are the alarms nobody has looked at yet, ``past`` the earlier ones since the baseline.
    """

    status: Note
    baseline: Baseline | None = None
    tuning: Tuning | None = None
    low: float | None = None
    high: float | None = None
    points: tuple[Point, ...] = ()
    standing: tuple[Alarm, ...] = ()
    past: tuple[Alarm, ...] = ()
    dropped: tuple[Dropped, ...] = ()
    notes: tuple[Note, ...] = ()


def follow(
    rides: Iterable[MorningRide],
    marks: Iterable[Mark],
    plan: Plan,
    model: Model,
    *,
    today: date,
    frozen: Baseline | None = None,
) -> Control:
    """Tell how the chart of one line stands on ``today``; rides and marks in any order.

    ``today`` is the course's day; rides after it are not looked at. ``frozen`` is the baseline as it was when it was
    first complete: its figures are kept whatever became of old entries; leave it out once, after a person struck a
    morning from it. A watch that an alarm opened stands on its own, whatever becomes of the baseline. Nothing is raised
    for bad entries: they are dropped with their reason.

    >>> from datetime import UTC, timedelta
    >>> first = datetime(2026, 5, 1, 8, tzinfo=UTC)
    >>> strokes = [2.0 + 0.1 * (i * 7 % 5) for i in range(24)] + [3.4]
    >>> rides = [MorningRide(first + timedelta(i), s, 80.0, 0.0, 12.0) for i, s in enumerate(strokes)]
    >>> plan = Plan(STROKE, 79.0, 81.0, -3.0, 3.0, charts=8)
    >>> found = follow(rides, [], plan, lambda ride: 2.2, today=date(2026, 5, 25))
    >>> found.status.code, found.standing[0].code, len(found.points)
    ('alarm', 'beyond-high', 5)
    """
    settings = tuning(plan.charts, both_sides=plan.both_sides)
    problem = plan_problem(plan) or (settings if isinstance(settings, Note) else None)
    if problem or isinstance(settings, Note):
        return Control(problem or note("no-rides"))
    notes = [note("tuned-for-fewer", most=MOST_CHARTS)] if plan.charts > settings.charts else []
    services, looks, ignored = _sorted_marks(marks, today)
    notes += ignored
    usable, dropped = _usable(rides, plan, model, today)
    begun = services[-1] if services else None
    current = [one for one in usable if begun is None or one.at >= begun]
    taken, left = baseline_rides(current)
    baseline = baseline_of(taken, plan)
    if frozen is not None and (begun is None or frozen.first >= begun):
        if isinstance(baseline, Note) or not frozen.same_figures(baseline):
            notes.append(note("baseline-moved"))
        baseline = frozen
    if isinstance(baseline, Note):
        return Control(baseline, dropped=(*dropped, *left), notes=tuple(notes))
    dropped += [one for one in left if one.ride.at is not None and one.ride.at <= baseline.last]
    charted, second = _one_a_day([one for one in current if one.at > baseline.last], baseline.centre)
    dropped += second
    points = _points(charted, looks, baseline, settings, plan)
    past, standing = _alarms(points, looks, baseline, settings, plan)
    if points and points[-1].gap_days:
        notes.append(note("gap", days=points[-1].gap_days))
    return Control(
        status=_status(points, standing, baseline, today),
        baseline=baseline,
        tuning=settings,
        low=baseline.centre - settings.width * baseline.sigma,
        high=baseline.centre + settings.width * baseline.sigma,
        points=tuple(points),
        standing=tuple(standing),
        past=tuple(past),
        dropped=tuple(dropped),
        notes=(*baseline.notes, *notes),
    )


def look_first(quantity: str, code: str, arrival_sigmas: float | None = None) -> Note:
    """Return where to look first after an alarm (common practice, no source; the maker's manual comes before it).

    ``arrival_sigmas`` is how far the arrival speed of the same morning lies from its own baseline, where it is charted:
    a longer brake travel with a faster arrival (or shorter with slower) is not the brake's doing. Raises ``KeyError``
    for a code that is no alarm.

    >>> look_first(STROKE, "creep-high").code, look_first(STROKE, "beyond-high", 3.1).code
    ('first-longer-creep', 'first-arrival')
    """
    kind, _, side = code.partition("-")
    words = {"high": ("longer", "faster"), "low": ("shorter", "slower")}[side]
    if quantity == STROKE and arrival_sigmas is not None:
        toward = arrival_sigmas if side == "high" else -arrival_sigmas
        if toward > ARRIVAL_MOVED:
            return note("first-arrival")
    word = words[0] if quantity == STROKE else words[1]
    manner = {"beyond": "jump", "creep": "creep"}[kind]
    return note(f"first-{word}-{manner}")


def _sorted_marks(marks: Iterable[Mark], today: date) -> tuple[list[datetime], list[datetime], list[Note]]:
    """Return the instants of services and of looks, and a note for each entry that restarts nothing."""
    found: dict[str, list[datetime]] = {SERVICE: [], LOOKED: []}
    ignored = []
    for mark in marks:
        if mark.at is None or not mark.reason.strip() or mark.kind not in found:
            ignored.append(note("mark-ignored"))
        elif mark.at.date() <= today:
            found[mark.kind].append(mark.at)
    return sorted(found[SERVICE]), sorted(found[LOOKED]), ignored


def _usable(
    rides: Iterable[MorningRide], plan: Plan, model: Model, today: date
) -> tuple[list[Residual], list[Dropped]]:
    usable: list[Residual] = []
    dropped: list[Dropped] = []
    for ride in rides:
        if ride.at is not None and ride.at.date() > today:
            continue
        found = residual(ride, plan, model)
        if isinstance(found, Residual):
            usable.append(found)
        else:
            dropped.append(found)
    return sorted(usable, key=lambda one: one.at), dropped


def _one_a_day(rides: Sequence[Residual], centre: float) -> tuple[list[Residual], list[Dropped]]:
    """Return the ride of each day that lies farthest out, and the others."""
    kept: list[Residual] = []
    dropped = []
    for one in rides:
        if kept and kept[-1].day == one.day:
            nearer, farther = sorted((kept.pop(), one), key=lambda ride: abs(ride.value - centre))
            dropped.append(Dropped(nearer.ride, note("other-ride")))
            kept.append(farther)
        else:
            kept.append(one)
    return kept, dropped


def _status(points: Sequence[Point], standing: Sequence[Alarm], baseline: Baseline, today: date) -> Note:
    if standing:
        return note("alarm")
    if points and points[-1].at.date() == today:
        return note("in-control")
    if not points and baseline.last.date() == today:
        return note("baseline-complete")
    return note("today-missing")


def _points(
    charted: Sequence[Residual], looks: Sequence[datetime], baseline: Baseline, settings: Tuning, plan: Plan
) -> list[Point]:
    if not charted:
        return []
    restarts = _restarts([one.at for one in charted], looks)
    sigmas = [(one.value - baseline.centre) / baseline.sigma for one in charted]
    sums = cusum(sigmas, target=0.0, slack=settings.slack, decision=settings.decision, restarts=restarts)
    values = [one.value for one in charted]
    drawn = ewma(values, centre=baseline.centre, sigma=baseline.sigma, weight=EWMA_WEIGHT, restarts=restarts)
    if not isinstance(sums, Cusum) or not isinstance(drawn, Ewma):
        raise TypeError("residuals and baseline are finite, so that they can be charted")
    points = []
    before = baseline.last.date()
    for i, one in enumerate(charted):
        signals = []
        if abs(sigmas[i]) > settings.width:
            signals.append("beyond-high" if sigmas[i] > 0.0 else "beyond-low")
        if i in sums.high_signals:
            signals.append("creep-high")
        if plan.both_sides and i in sums.low_signals:
            signals.append("creep-low")
        apart = (one.day - before).days
        gap = apart if apart > plan.gap_days else 0
        points.append(
            Point(one.at, one.value, sigmas[i], sums.high[i], sums.low[i], drawn.series[i], tuple(signals), gap)
        )
        before = one.day
    return points


def _restarts(instants: Sequence[datetime], looks: Sequence[datetime]) -> Collection[int]:
    """Return the first position after each look."""
    return {bisect_right(instants, look) for look in looks}


def _alarms(
    points: Sequence[Point], looks: Sequence[datetime], baseline: Baseline, settings: Tuning, plan: Plan
) -> tuple[list[Alarm], list[Alarm]]:
    """Return the alarms that a look has followed, and those that stand: the first of each code since the last look."""
    past: list[Alarm] = []
    standing: list[Alarm] = []
    restarts = _restarts([one.at for one in points], looks)
    for i, point in enumerate(points):
        if i in restarts:
            past, standing = past + standing, []
        for code in point.signals:
            known = {alarm.code for alarm in standing}
            # A jump keeps the sum over its decision for many mornings: that is one event, not a creep besides.
            if code not in known and code.replace("creep", "beyond") not in known:
                standing.append(_alarm(points, i, code, baseline, settings, plan))
    if len(points) in restarts:
        past, standing = past + standing, []
    return past, standing


def _alarm(points: Sequence[Point], at: int, code: str, baseline: Baseline, settings: Tuning, plan: Plan) -> Alarm:
    point, unit = points[at], UNITS[plan.quantity]
    first = point.at.date()
    if code.startswith("beyond"):
        by = abs(point.value - baseline.centre)
        limit = settings.width * baseline.sigma
        words = note(code, by=with_unit(f"{by:.2f}", unit), limit=with_unit(f"{limit:.2f}", unit))
    else:
        sums = [one.high if code == "creep-high" else one.low for one in points]
        first = points[onset(sums, at)].at.date()
        words = note(code, since=first.isoformat())
    return Alarm(point.at, code, words, look_first(plan.quantity, code), first)
