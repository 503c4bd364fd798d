"""The test rides of one line as their page shows them: how each chart stands, the last thirty mornings, and a table.

Drawn is how far each ride lay from what was to be expected of it, never the plain travel: that follows the weather. Of
a ride for which nothing could be computed the reason stands in the table. Advice only.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.utils.formats import date_format
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from courses.models import Place
from courses.queries import Setup
from engineering.control import SERVICE, Alarm, Point
from engineering.control_residual import Dropped, MorningRide, Residual
from inspections.coming_words import day
from inspections.control import UNIT_OF, Basis, Charted, Seen, ballast_of, basis_of
from inspections.control_record import charts_of
from inspections.control_words import (
    alarm_title,
    differing,
    look_first_sentence,
    name_of,
    not_computed,
    remarks_of,
    size_of,
    standing_sentence,
)
from inspections.measures import in_both
from reports import charts
from reports.wear_words import Scale

MORNINGS = 30
TICKS = 3  # stretches of the axis of days


@dataclass(frozen=True)
class Row:
    """One ride of the table; what is not known is empty. ``why`` says why it is not compared.

    ``is_old``: it was ridden before it was known what is usual.
    """

    on: date
    mass: str
    wind: str
    side: str
    air: str
    measured: str
    expected: str
    by: str
    why: str
    is_watch: bool
    is_old: bool


@dataclass(frozen=True)
class Alarmed:
    """One alarm that stands: what, and where to look first."""

    title: str
    look_first: str


@dataclass(frozen=True)
class Shown:
    """One chart in words, as a picture (empty if nothing can be drawn) and as a table, newest ride first."""

    quantity: str
    name: str
    first: str
    newest: str
    alarms: tuple[Alarmed, ...]
    said: tuple[str, ...]
    picture: SafeString
    rows: tuple[Row, ...]
    is_usual_known: bool

    @property
    def has_old(self) -> bool:
        return any(row.is_old for row in self.rows)

    @property
    def has_watch(self) -> bool:
        return any(row.is_watch for row in self.rows)


@dataclass(frozen=True)
class Page:
    """The charts of a line; where there are none, ``missing`` says why."""

    charts: tuple[Shown, ...] = ()
    missing: str = ""


def page_of(setup: Setup, line: Place) -> Page:
    """Return the charts of a line; four queries or five, two where nothing changed since they were asked for last."""
    basis = basis_of(setup, line)
    if basis is None:
        return Page(missing=_("What the mechanics of this line are computed from is not entered."))
    if not basis.quantities:
        return Page(missing=_("A brake worked by hand is not compared, and no instrument reads the speed."))
    found = charts_of(setup, [line])[line.pk]
    return Page(tuple(_shown(one, basis, setup.course.units) for one in found.values()))


def _shown(one: Charted, basis: Basis, units: str) -> Shown:
    control = one.control
    usual = control.baseline.centre if control.baseline else None
    last = next(((ride, found) for _seen, ride, found in reversed(one.rides) if isinstance(found, Residual)), None)
    newest = ""
    if last is not None:
        ride, found = last
        by = found.value - (usual or 0.0)
        newest = f"{day(found.day)}: {differing(one.quantity, ride.measured or 0.0, by, usual is not None, units)}"
    return Shown(
        one.quantity,
        name_of(one.quantity),
        standing_sentence(control.status, _signals(one)),
        newest,
        tuple(_alarmed(one, alarm, basis.brake, units) for alarm in control.standing),
        tuple(_said(one, basis, units)),
        _picture(one, units),
        tuple(_rows(one, units)),
        usual is not None,
    )


def _signals(one: Charted) -> tuple[str, ...]:
    return one.control.points[-1].signals if one.control.points else ()


def _alarmed(one: Charted, alarm: Alarm, brake: str, units: str) -> Alarmed:
    title = _("%(day)s: %(what)s.") % {"day": day(alarm.at.date()), "what": alarm_title(one, alarm, units)}
    return Alarmed(title, look_first_sentence(alarm, brake))


def _said(one: Charted, basis: Basis, units: str) -> list[str]:
    """Return what else there is to say: what is compared, since when what is usual is known, what is remarkable."""
    baseline = one.control.baseline
    said = []
    if (ballast := ballast_of(basis)) is not None:
        low, high = (in_both(f"{kg:.1f}".removesuffix(".0"), "kg", units) for kg in ballast)
        said.append(_("Rides with %(low)s to %(high)s are compared.") % {"low": low, "high": high})
    if basis.setting.anew_on is not None:
        since = {"day": day(basis.setting.anew_on), "why": basis.setting.anew_why}
        said.append(_("The engineer had what is usual settled anew from %(day)s: %(why)s") % since)
    if baseline is not None:
        about = {"n": baseline.count, "first": day(baseline.first.date()), "last": day(baseline.last.date())}
        said.append(
            ngettext(
                "What is usual here is known from %(n)s morning, %(first)s, until work is done.",
                "What is usual here is known from %(n)s mornings, %(first)s to %(last)s, until work is done.",
                baseline.count,
            )
            % about
        )
    past = len(one.control.past)
    if past:
        said.append(
            ngettext(
                "One earlier call for a look was followed up.", "%(n)s earlier calls for a look were followed up.", past
            )
            % {"n": past}
        )
    return [*said, *remarks_of(one.control.notes)]


def _shown_rides(one: Charted) -> list[tuple[Seen, MorningRide, Residual | Dropped]]:
    """Return the rides of the last mornings, oldest first."""
    days = sorted({seen.at.date() for seen, _ride, _found in one.rides})[-MORNINGS:]
    return [row for row in one.rides if days and row[0].at.date() >= days[0]]


def _rows(one: Charted, units: str) -> list[Row]:
    signalled = {point.at for point in one.control.points if point.signals}
    left_out = {dropped.ride: dropped for dropped in one.control.dropped}
    usual = one.control.baseline.centre if one.control.baseline else 0.0
    return [
        _row(one, seen, ride, found, left_out.get(ride), usual, units, ride.at in signalled)
        for seen, ride, found in reversed(_shown_rides(one))
    ]


def _row(
    one: Charted, seen: Seen, ride: MorningRide, found: Residual | Dropped, left_out: Dropped | None, usual: float,
    units: str, is_watch: bool,
) -> Row:  # fmt: skip
    why = not_computed(found.note, found.because, units) if isinstance(found, Dropped) else ""
    expected = by = ""
    if isinstance(found, Residual) and ride.measured is not None:
        expected = size_of(ride.measured - found.value + usual, one.quantity, units)
        difference = found.value - usual
        by = _signed(difference, in_both(f"{abs(difference):.2f}", UNIT_OF[one.quantity], units))
        why = remark_of(left_out)
    wind = seen.fields.get("wind_mps", "")
    base = one.control.baseline
    return Row(
        seen.at.date(),
        in_both(seen.mass, "kg", units),
        in_both(wind, "m/s", units) if wind else "",
        str(seen.fields.get("wind_from", "")),
        "" if ride.temperature_c is None else in_both(f"{ride.temperature_c:g}", "degC", units),
        "" if ride.measured is None else size_of(ride.measured, one.quantity, units),
        expected,
        by,
        why,
        is_watch,
        isinstance(found, Residual) and (base is None or found.at <= base.last),
    )


def remark_of(left_out: Dropped | None) -> str:
    """Return why a ride that was computed is not followed on the chart; empty where it is."""
    sentences = {
        "other-ride": _("Another ride of that day lies farther off and is the one looked at."),
        "baseline-not-good": _("The ride was not good in itself; what is usual is not taken from it."),
        "baseline-second": _("What is usual is taken from the first good ride of a day."),
        "baseline-struck": _("The engineer left this morning out of what is usual: %(reason)s"),
    }
    return sentences.get(left_out.note.code, "") % dict(left_out.note.params) if left_out is not None else ""


def _signed(value: float, shown: str) -> str:
    return f"{'+' if value > 0.0 else '−' if value < 0.0 else ''}{shown}"


def _picture(one: Charted, units: str) -> SafeString:
    """Return how far the last rides lay from what was to be expected, as SVG; empty where nothing was computed."""
    control, scale = one.control, Scale.of(UNIT_OF[one.quantity], units)
    usual = control.baseline.centre if control.baseline else 0.0
    rides = [found for _seen, _ride, found in _shown_rides(one) if isinstance(found, Residual)]
    if not rides:
        return SafeString("")
    points = {point.at: point for point in control.points}

    def at(value: float) -> float:
        return (value - usual) * scale.factor

    dots = tuple(
        charts.Point(float(one.day.toordinal()), at(one.value), one.at in points, _is_watch(points.get(one.at)))
        for one in rides
    )
    low, high = dots[0].x - 0.5, dots[-1].x + 0.5
    drawn = charts.Chart(
        _("%(what)s of the last %(n)s mornings") % {"what": name_of(one.quantity), "n": MORNINGS},
        _about(one, rides, usual, units),
        dots,
        tuple(_levels(one, scale)),
        tuple(
            charts.Mark(float(mark.at.date().toordinal()), _("work") if mark.kind == SERVICE else _("looked"), "reset")
            for mark in one.marks
            if mark.at is not None and low < mark.at.date().toordinal() < high
        ),
        _ticks(rides[0].day, rides[-1].day),
        low,
        high,
        line=tuple(
            (float(point.at.date().toordinal()), at(point.average))
            for point in control.points
            if point.at.date() >= rides[0].day
        ),
    )
    return charts.svg(charts.drawn(drawn), f"rides-{one.quantity}")


def _ticks(first: date, last: date) -> tuple[tuple[float, str], ...]:
    """Return first and last day and two between them, for the axis."""
    span = (last - first).days
    days = [first + timedelta(days=span * n // TICKS) for n in range(TICKS + 1)]
    return tuple((float(one.toordinal()), date_format(one, "j M")) for one in dict.fromkeys(days))


def _is_watch(point: Point | None) -> bool:
    return point is not None and bool(point.signals)


def _levels(one: Charted, scale: Scale) -> list[charts.Mark]:
    control = one.control
    found = [charts.Mark(0.0, _("usual") if control.baseline else _("computed"), "usual")]
    if control.baseline is not None and control.low is not None and control.high is not None:
        for value, sentence in ((control.high, _("look above %(by)s")), (control.low, _("look below %(by)s"))):
            by = (value - control.baseline.centre) * scale.factor
            shown = _signed(by, f"{abs(by):.2f} {scale.unit}")
            found.append(charts.Mark(by, sentence % {"by": shown}, "bound"))
    return found


def _about(one: Charted, rides: Sequence[Residual], usual: float, units: str) -> str:
    """Return in sentences what the picture shows."""
    unit = UNIT_OF[one.quantity]
    least, most = (pick(found.value - usual for found in rides) for pick in (min, max))
    said = [
        _("How far each ride lay from what was to be expected at its wind, weight and temperature."),
        ngettext("%(n)s ride, on %(last)s.", "%(n)s rides, from %(first)s to %(last)s.", len(rides))
        % {"n": len(rides), "first": day(rides[0].day), "last": day(rides[-1].day)},
        _("From %(least)s to %(most)s.")
        % {
            "least": _signed(least, in_both(f"{abs(least):.2f}", unit, units)),
            "most": _signed(most, in_both(f"{abs(most):.2f}", unit, units)),
        },
        standing_sentence(one.control.status, _signals(one)),
    ]
    return " ".join(said)
