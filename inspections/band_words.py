"""What was computed for a line, in words: for the board, the line's page, the card and the day sheet."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as L

from courses import origins
from courses.mechanics_shape import GIVEN_BY, TENSION_HOW
from courses.models import Place, Version
from courses.origin_words import papers_told
from courses.refusals import sentence_of, sentence_of_note
from engineering.envelope_band import EDGES, Edge
from engineering.envelope_cross import OBLIQUE, OF_MAP
from inspections.band import NO_WEIGHT, Today, Weather, notes_of, today_of
from inspections.facts import signed_limits
from inspections.measures import in_both
from inspections.picture import Picture

LOOKED_AT = {
    "new": L("brakes as entered"),
    "worn": L("primary brake at its worn limit"),
    "emergency-alone": L("emergency brake alone"),
    "cross wind": L("with the cross wind"),
    OF_MAP: L("with the strongest wind along the line of this band"),
}
WHICH = {
    "least": L("Lightest rider"),
    "most": L("Heaviest rider"),
    "head": L("Head wind up to"),
    "tail": L("Tail wind up to"),
    "cross": L("Cross wind up to"),
}
FROM = {
    "head": L("%(wind)s head, gust %(gust)s"),
    "tail": L("%(wind)s tail, gust %(gust)s"),
    "cross": L("%(wind)s cross, gust %(gust)s"),
    "": L("%(wind)s from no one side, gust %(gust)s"),
}


@dataclass(frozen=True)
class EdgeSaid:
    """One end of the computed band: what it is, its figure, and what lies beyond it."""

    label: str
    value: str
    why: str
    narrows: bool


@dataclass(frozen=True)
class Said:
    """What was computed for a line today; ``problem`` where nothing was, then the rest of the figures is empty."""

    short: str
    problem: str
    edges: tuple[EdgeSaid, ...]
    given: tuple[tuple[str, str], ...]
    left_out: tuple[str, ...]
    warnings: tuple[str, ...]
    calibration: str
    across: str  # how a wind that is called across is looked at; empty where none is posted


def for_line(picture: Picture, line: Place, *, as_signed: bool = True) -> Said | None:
    """Return what was computed for a line today, in words; None where no mechanics of it are in force.

    With ``as_signed`` within what an open line was signed for, else as a new signing would have it.
    """
    today = today_of(picture, line, signed_limits(picture, line) if as_signed else None)
    if today is None:
        return None
    setup, kinds = picture.setup, (Version.Kind.LINE, Version.Kind.MECHANICS)
    # All lines at once: who asks for one line of a day asks for the others too.
    origins.of_versions(setup.version(kind, one.pk) for one in setup.lines for kind in kinds)
    return said(today, place=str(line), units=picture.course.units, zone=picture.course.zone)


def short_of(picture: Picture, line: Place, *, as_signed: bool = True) -> str:
    """Return the one sentence about what was computed for a line; empty where it has no mechanics."""
    today = today_of(picture, line, signed_limits(picture, line) if as_signed else None)
    return _short(today, picture.course.units, picture.course.zone) if today else ""


def as_record(told: Said) -> dict[str, Any]:
    """Return what the day sheet is drawn from later, as plain text."""
    return {
        "short": told.short,
        "calibration": told.calibration,
        "edges": [{"label": edge.label, "value": edge.value, "why": edge.why} for edge in told.edges if edge.narrows],
        "given": [{"label": label, "value": value} for label, value in told.given],
        "left_out": list(told.left_out),
        "warnings": list(told.warnings),
    }


def said(today: Today, *, place: str, units: str, zone: Any) -> Said:
    """Put what was computed into words. ``place``: where the wind was read; times are told in ``zone``."""
    computed = today.computed
    notes = notes_of(today, place)
    calibration = next((sentence_of_note(one, units) for one in notes if one.code in CALIBRATION), "")
    return Said(
        short=_short(today, units, zone),
        problem=sentence_of(computed.refusal, units) if computed.refusal else "",
        edges=tuple(_edges(today, units)),
        given=tuple(_given(today, units, zone)),
        left_out=tuple(
            _("Not looked at: %(what)s. %(why)s") % {"what": LOOKED_AT[name], "why": sentence_of(why, units)}
            for name, why in computed.left_out
        ),
        warnings=tuple(sentence_of_note(one, units) for one in notes),
        calibration=calibration,
        across=across_said() if computed.band is not None and computed.band.cross is not None else "",
    )


def across_said() -> str:
    """Return how a wind that somebody calls a cross wind is looked at."""
    return _("A cross wind is looked at with up to %(share)s of it along the line, from ahead and from behind.") % {
        "share": f"{OBLIQUE:.1f}"
    }


CALIBRATION = {"not-calibrated", "calibrated", "extrapolated"}


def _short(today: Today, units: str, zone: Any) -> str:
    """Return the one sentence for the board: what the computation narrows, or why it says nothing."""
    read = _read(today.weather, units, zone) if today.weather else {"at": "", "wind": ""}
    computed, fact = today.computed, today.fact
    if computed.refusal is not None and computed.refusal.code in NO_WEIGHT:
        why = sentence_of(computed.refusal, units)
        return _("Computed for the wind of %(at)s (%(wind)s): %(why)s") % {**read, "why": why}
    if computed.band is None or fact is None:
        why = sentence_of(computed.refusal, units) if computed.refusal else ""
        return _("Not computed today. %(why)s") % {"why": why} if why else ""
    edges = [edge for edge in _edges(today, units) if edge.narrows]
    if not edges:
        return _("Computed for the wind of %(at)s (%(wind)s): as posted.") % read
    told = "; ".join(f"{edge.label.lower()} {edge.value}" for edge in edges)
    return _("Computed for the wind of %(at)s (%(wind)s), narrower than posted: %(what)s.") % {**read, "what": told}


def _read(weather: Weather, units: str, zone: Any) -> dict[str, str]:
    """Return when the wind was read, and from where how much: the reading, the gust, and more read on another line."""
    told = FROM[weather.side] % {
        "wind": in_both(f"{weather.own_mps:g}", "m/s", units),
        "gust": in_both(f"{weather.gust_mps:g}", "m/s", units),
    }
    if weather.strongest_mps > max(weather.own_mps, weather.gust_mps):
        most = in_both(f"{weather.strongest_mps:g}", "m/s", units)
        told = _("%(told)s, %(most)s on another line since") % {"told": told, "most": most}
    return {"at": f"{weather.read_at.astimezone(zone):%H:%M}", "wind": str(told)}


def _edges(today: Today, units: str) -> list[EdgeSaid]:
    band, fact = today.computed.band, today.fact
    if band is None or fact is None or fact.mass_min_kg is None or fact.mass_max_kg is None:
        return []
    winds: Mapping[str, Any] = dict(fact.wind_mps)
    found = [
        _edge("least", band.least, in_both(f"{fact.mass_min_kg:f}", "kg", units, toward="up")),
        _edge("most", band.most, in_both(f"{fact.mass_max_kg:f}", "kg", units, toward="down")),
    ]
    for name, edge in (("head", band.head), ("tail", band.tail), ("cross", band.cross)):
        if name in winds and edge is not None:
            found.append(_edge(name, edge, in_both(f"{winds[name]:f}", "m/s", units, toward="down")))
    return found


def _edge(which: str, edge: Edge, value: str) -> EdgeSaid:
    # Within a signing the bound of the weights is what was signed.
    why = _("As signed for today.") if edge.set_by == "tested" else str(_(EDGES[edge.set_by]))
    if edge.of_map and edge.of_map != "new":
        why = _("%(why)s (%(what)s).") % {"why": why.rstrip("."), "what": LOOKED_AT[edge.of_map]}
    return EdgeSaid(str(WHICH[which]), value, why, edge.set_by != "posted")


def _given(today: Today, units: str, zone: Any) -> list[tuple[str, str]]:
    """Return from what it was computed, each with where it stands: weather, versions, tension, method."""
    found = []
    weather = today.weather
    if weather is not None:
        if weather.cross_mps:
            told = _("cross, up to %(most)s, with up to %(share)s of it along the line") % {
                "most": in_both(f"{weather.cross_mps:g}", "m/s", units),
                "share": f"{OBLIQUE:.1f}",
            }
        else:
            head, tail = abs(max(weather.to_mps, 0.0)), abs(min(weather.from_mps, 0.0))
            told = _("head up to %(head)s, tail up to %(tail)s") % {
                "head": in_both(f"{head:g}", "m/s", units),
                "tail": in_both(f"{tail:g}", "m/s", units),
            }
        read = {
            "told": told,
            "own": in_both(f"{weather.own_mps:g}", "m/s", units),
            "at": f"{weather.read_at.astimezone(zone):%H:%M}",
            "gust": in_both(f"{weather.gust_mps:g}", "m/s", units),
            "gust_at": f"{weather.gust_at.astimezone(zone):%H:%M}" if weather.gust_at else "–",
        }
        words = _(
            "%(told)s: %(own)s at this line's test ride of %(at)s, gust %(gust)s at the course house, %(gust_at)s"
        )
        if weather.strongest_mps > max(weather.own_mps, weather.gust_mps):
            words = _(
                "%(told)s: more was read on another line since this line's test ride of %(at)s (%(own)s; gust %(gust)s)"
            )
        found.append((_("Wind"), words % read))
        air = in_both(f"{weather.air_c:g}", "degC", units)
        at = f"{weather.air_at.astimezone(zone):%H:%M}"
        found.append((_("Air"), _("%(air)s, newest on the course, test ride of %(at)s") % {"air": air, "at": at}))
    found += papers_told([today.line, today.mechanics], zone)
    content = today.mechanics.content if today.mechanics else {}
    if content.get("tension_how") and content.get("tension_date"):
        how = {"how": TENSION_HOW[content["tension_how"]], "on": _day(content["tension_date"])}
        found.append((_("Tension"), _("%(how)s, of %(on)s") % how))
    for label, group in ((_("Cable"), "cable"), (_("Rider"), "rider"), (_("Limits of a stop"), "stop")):
        kind = content.get(group, {}).get("given_by")
        found.append((label, str(GIVEN_BY[kind]) if kind else _("no source entered")))
    if today.computed.step_kg:
        steps = {
            "kg": in_both(f"{today.computed.step_kg:.1f}", "kg", units),
            "wind": in_both(f"{today.computed.step_mps:.2f}", "m/s", units),
        }
        found.append((_("Steps"), _("%(kg)s and %(wind)s: an edge is the last step that is good") % steps))
    if today.computed.fingerprint:
        what = {"model": today.computed.model, "mark": today.computed.fingerprint[:12]}
        found.append((_("Method"), _("%(model)s, check value %(mark)s") % what))
    return found


def _day(text: str) -> str:
    return date_format(date.fromisoformat(text), "j F Y")
