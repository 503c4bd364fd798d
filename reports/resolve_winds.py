"""What a signature decided in view of which wind: what was read that day, each beside the limit it stands against.

A limit belongs to a direction, and a direction to a line: a head wind of one line says nothing of the tail wind limit
of another. Only a test ride tells from where the wind blew on its line. What was read without a direction, at the
course house or when a hold was lifted, stands beside the lowest limit of any direction, as it does when a line is
opened (``inspections.facts``); but where the limits of a line were computed they hold for a wind from one side alone,
and no limit stands beside it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal, InvalidOperation
from typing import Any
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as L

from inspections.band import NO_SIDE_MPS

Data = dict[str, Any]
SIDES = {"head": L("head"), "tail": L("tail"), "cross": L("cross")}


@dataclass(frozen=True)
class Wind:
    """A wind in m/s, when it was read, at a ride of which line and from which side; empty where nobody knows."""

    speed: Decimal
    at: str
    line: str = ""
    side: str = ""


@dataclass(frozen=True)
class Against:
    """A wind beside the limit of its own line and direction, both in m/s."""

    wind: Wind
    limit: Decimal

    @property
    def left(self) -> Decimal:
        return self.limit - self.wind.speed


def winds(snapshot: Data) -> Iterator[Wind]:
    """Yield every wind that was read that day: house, platforms, test rides, lifted holds.

    A ride that no longer counts as a test still read the wind. Next to no wind comes from no side.
    """
    for one in snapshot.get("conditions", ()):
        value = _number(one.get("value") or one.get("text"))
        if one["measures"].startswith("weather.wind") and value is not None:
            yield Wind(value, one["at"])
    for ride in snapshot.get("rides", ()):
        fields = ride.get("fields", {})
        if (value := _number(fields.get("wind_mps"))) is not None:
            side = fields.get("wind_from", "")
            yield Wind(value, ride["at"], ride.get("place", ""), side if side in SIDES and value >= NO_SIDE_MPS else "")
    for hold in snapshot.get("holds", ()):
        if hold.get("lifted_at") and (value := _number(hold.get("wind_mps"))) is not None:
            yield Wind(value, hold["lifted_at"])


def decision(snapshot: Data, zone: ZoneInfo) -> str:
    """Say what the signature decided in view of which wind. Without a wind reading nothing is said: it is missing."""
    read = list(winds(snapshot))
    lines = snapshot.get("lines", ())
    limits = {line["id"]: _limits(line) for line in lines if line["decision"] == "open"}
    if not read:
        return ""
    strongest = max(read, key=lambda one: one.speed)
    about = {
        "open": len(limits), "all": len(lines), "wind": f"{strongest.speed:f}", "time": _clock(strongest.at, zone),
    }  # fmt: skip
    if not limits:
        return _("No line was opened. Strongest wind read %(wind)s m/s at %(time)s.") % about
    if not any(limits.values()):
        return ""
    said = [
        _("%(open)s of %(all)s lines are open by this signature. Strongest wind read %(wind)s m/s at %(time)s.") % about
    ]
    if sided := nearest(read, limits):
        numbers = {line["id"]: line.get("number", "?") for line in lines}
        each = "; ".join(_each(one, numbers, zone) for one in sided)
        said.append(
            _("At the test rides, nearest to the limit of its line in that direction: %(each)s.") % {"each": each}
        )
    if unsided := [one for one in read if not one.side]:
        most = max(unsided, key=lambda one: one.speed)
        plain = {"wind": f"{most.speed:f}", "time": _clock(most.at, zone)}
        if any(line.get("computed") for line in lines if line["id"] in limits):
            said.append(_("Read without a direction: at most %(wind)s m/s at %(time)s.") % plain)
        else:
            lowest = min(limit for found in limits.values() for limit in found.values())
            said.append(
                _(
                    "Read without a direction: at most %(wind)s m/s at %(time)s; the lowest limit of an opened line in "
                    "any direction is %(limit)s m/s."
                )
                % {**plain, "limit": f"{lowest:f}"}
            )
    return " ".join(said)


def nearest(read: Sequence[Wind], limits: dict[str, dict[str, Decimal]]) -> list[Against]:
    """Return by direction the wind that came nearest to the limit of its own line, of the lines that were opened.

    A line without a limit for a direction is held to its lowest.
    """
    found = []
    for side in SIDES:
        beside = [
            Against(one, limits[one.line].get(side, min(limits[one.line].values())))
            for one in read
            if one.side == side and limits.get(one.line)
        ]
        if beside:
            found.append(min(beside, key=lambda one: one.left))
    return found


def _each(one: Against, numbers: dict[str, str], zone: ZoneInfo) -> str:
    return _("%(side)s %(wind)s m/s on line %(line)s at %(time)s, limit %(limit)s m/s") % {
        "side": SIDES[one.wind.side],
        "wind": f"{one.wind.speed:f}",
        "line": numbers.get(one.wind.line, "?"),
        "time": _clock(one.wind.at, zone),
        "limit": f"{one.limit:f}",
    }


def _limits(line: Data) -> dict[str, Decimal]:
    """Return the wind limits of a line in m/s by direction."""
    told = line.get("limits", {}).get("wind", {})
    return {name.removesuffix("_mps"): limit for name, text in told.items() if (limit := _number(text)) is not None}


def _clock(text: str, zone: ZoneInfo) -> str:
    return f"{datetime.fromisoformat(text).astimezone(zone):%H:%M}"


def _number(value: Any) -> Decimal | None:
    try:
        found = Decimal(str(value))
    except InvalidOperation:
        return None
    return found if found.is_finite() else None
