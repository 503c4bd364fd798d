"""The two charts of a wearing figure: against the date and against the riders over it, from its outlook."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from engineering.wear import Forecast
from inspections.coming_words import day
from inspections.wear import END_OF_DAY, THOUSAND, Life, Reset, Season, Seen, Told
from reports.charts import Chart, Mark, Point, band_places, nice_ticks
from reports.wear_words import TELLING, Scale, first_sentence, riders, thousands

TICKS = 5
AHEAD_SHARE = 0.25  # of the span so far is shown ahead where no day is told
MONTHS = (1, 2, 3, 6, 12, 24, 60)
DAYS = (1, 2, 5, 7, 14)


@dataclass(frozen=True)
class _Side:
    """What differs between the two charts: x of a reading, of a reset, of today; the forecast; what x is called."""

    forecast: Forecast
    xs: tuple[float, ...]
    resets: tuple[Mark, ...]
    today: float
    early: float | None
    early_label: str
    title: str


def by_date(told: Told, seen: Sequence[Seen], resets: Sequence[Reset], season: Season, scale: Scale) -> Chart:
    """Return the chart of the readings against the date."""
    measured = _measured(seen)
    found = told.outlook
    early = found.early
    side = _Side(
        forecast=found.age,
        xs=tuple(one.day for one in measured),
        resets=tuple(Mark(one.day, _why(one), "reset") for one in resets if measured and one.day > measured[0].day),
        today=(told.until or season.today).toordinal() + END_OF_DAY,
        early=None if early is None else float(early.toordinal()),
        early_label="" if early is None else _("from %(day)s") % {"day": date_format(early, "j M")},
        title=_("%(what)s by date") % {"what": told.figure.text},
    )
    chart = _chart(told, measured, resets, side, scale)
    return _with_ticks(chart, date_ticks(chart.x_low, chart.x_high))


def by_riders(told: Told, seen: Sequence[Seen], resets: Sequence[Reset], life: Life, scale: Scale) -> Chart:
    """Return the chart of the readings against the riders over the part."""
    measured = _measured(seen)
    each = told.outlook.cycles
    sure = told.outlook.status in TELLING and each.status in TELLING and each.early is not None
    early = each.early if sure and each.horizon is not None and (each.early or 0.0) <= each.horizon else None
    side = _Side(
        forecast=each,
        xs=tuple(life.before(one.on) for one in measured),
        resets=tuple(
            Mark(life.before(one.on), _why(one), "reset") for one in resets if measured and one.day > measured[0].day
        ),
        today=life.sums[-1] / THOUSAND,
        early=early,
        early_label="" if early is None else _("from %(riders)s") % {"riders": riders(early)},
        title=_("%(what)s by riders") % {"what": told.figure.text},
    )
    chart = _chart(told, measured, resets, side, scale)
    marks = nice_ticks(chart.x_low, chart.x_high, TICKS - 1)
    return _with_ticks(chart, tuple((at, thousands(at)) for at in marks))


def _measured(seen: Sequence[Seen]) -> list[Seen]:
    return [one for one in seen if one.value is not None]


def _why(one: Reset) -> str:
    return _("released") if one.why == "release" else _("new baseline")


def _with_ticks(chart: Chart, ticks: tuple[tuple[float, str], ...]) -> Chart:
    return replace(chart, ticks=ticks)


def _chart(told: Told, measured: Sequence[Seen], resets: Sequence[Reset], side: _Side, scale: Scale) -> Chart:
    last_reset = max((one.day for one in resets), default=float("-inf"))
    low = min(side.xs)
    high = max(*side.xs, side.today, low)
    each = side.forecast
    if side.early is not None:
        high = max(high, side.early + 0.08 * (side.early - low))
    elif each.horizon is not None and told.until is None:
        high = max(high, min(each.horizon, high + AHEAD_SHARE * (high - low)))
    if high <= low:
        low, high = low - 1.0, high + 1.0
    kept = [one.day > last_reset for one in measured]
    before = kept.count(False)  # the forecast numbers the readings that count, and these come last
    points = tuple(
        Point(x, scale.at(float(one.value or 0)), is_kept, each.wild is not None and number == before + each.wild)
        for number, (x, one, is_kept) in enumerate(zip(side.xs, measured, kept, strict=True))
    )
    line, band = _line(told, each, [x for x, is_kept in zip(side.xs, kept, strict=True) if is_kept], high, scale)
    levels = tuple(
        Mark(scale.at(limit), _("limit %(size)s") % {"size": scale.size(limit)}, "limit")
        for _way, limit in told.figure.ends
    )
    instants = (Mark(side.today, _("taken off") if told.until else "", "today"), *side.resets)
    if side.early is not None:
        instants += (Mark(side.early, side.early_label, "early"),)
    return Chart(side.title, _about(told, measured, side, scale), points, levels, instants, (), low, high, line, band)


def _line(
    told: Told, each: Forecast, xs: Sequence[float], high: float, scale: Scale
) -> tuple[tuple[tuple[float, float], ...], tuple[tuple[float, float, float], ...]]:
    """Return the fitted line and its band, up to where anything is told; nothing where the record does not allow it."""
    if each.line is None or not xs or told.outlook.status not in TELLING or each.status not in TELLING:
        return (), ()
    start, end = min(xs), min(high, each.horizon) if each.horizon is not None else high
    line = tuple((x, scale.at(each.line.at(x))) for x in (start, end))
    band = []
    for x in band_places(start, end):
        half = each.line.half_width(x, s=each.s_used)
        ends = sorted((scale.at(each.line.at(x) - half), scale.at(each.line.at(x) + half)))
        band.append((x, ends[0], ends[1]))
    return line, tuple(band)


def _about(told: Told, measured: Sequence[Seen], side: _Side, scale: Scale) -> str:
    """Return in sentences what the picture shows."""
    first, last = measured[0], measured[-1]
    said = [
        ngettext(
            "%(n)s reading, %(last)s on %(to)s.", "%(n)s readings, from %(first)s on %(since)s to %(last)s on %(to)s.",
            len(measured),
        )
        % {
            "n": len(measured), "first": scale.size(float(first.value or 0)), "since": day(first.on),
            "last": scale.size(float(last.value or 0)), "to": day(last.on),
        }
    ]  # fmt: skip
    said += [_("Limit %(size)s.") % {"size": scale.size(limit)} for _way, limit in told.figure.ends]
    said.append(first_sentence(told))
    return " ".join(said)


def date_ticks(low: float, high: float) -> tuple[tuple[float, str], ...]:
    """Return days for the axis with their labels, at most five: single days, else the first days of months.

    >>> [label for _at, label in date_ticks(date(2026, 9, 25).toordinal(), date(2027, 1, 3).toordinal())]
    ['1 Oct', '1 Nov', '1 Dec', '1 Jan']
    """
    first, last = date.fromordinal(int(low)), date.fromordinal(int(high))
    span = (last - first).days
    for step in DAYS:
        if span // step < TICKS:
            days = [first + timedelta(days=n) for n in range(0, span + 1, step)]
            return tuple((float(one.toordinal()), date_format(one, "j M")) for one in days)
    months = [
        date(year, month, 1)
        for year in range(first.year, last.year + 1)
        for month in range(1, 13)
        if first <= date(year, month, 1) <= last
    ]
    for each in MONTHS:
        chosen = [one for one in months if (one.year * 12 + one.month - 1) % each == 0]
        if 0 < len(chosen) <= TICKS:
            return tuple((float(one.toordinal()), date_format(one, "j M" if each < 6 else "M Y")) for one in chosen)
    return ((float(first.toordinal()), date_format(first, "M Y")),)
