"""What is asked of the mechanics of a line in the address of its page: weight, wind, temperature, launch, brakes.

What is not in the address begins with what was read last: posted weight, newest test ride, launch speed as entered. A
field that was emptied is missing, and missing is computed with nothing in its place.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from fractions import Fraction
from typing import Any, NamedTuple

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as L

from courses.models import Place
from engineering import typed
from engineering.exact import exact_text, parse_exact, rounded, shown
from engineering.line import LAUNCH_MPS, MASS_KG, WIND_MPS
from inspections.models import Ride, Verdict
from inspections.picture import RIDE_DAYS
from reports.course_units import CourseUnits

AIR_C = (-30.0, 45.0)  # in which lines are ridden; the method reaches further
BRAKES = {
    "new": L("As new"),
    "worn": L("Primary at its worn limit"),
    "emergency-alone": L("Emergency brake alone"),
}
LARGE = 1e9


class Kind(NamedTuple):
    """One field: its quantity of ``course_units``, the range in SI, decimals of its range input's steps."""

    label: Any
    help: Any
    quantity: str
    within: tuple[float, float]
    step: str


KINDS = {
    "weight": Kind(L("Rider weight"), L("As on the scale."), "weight", MASS_KG, "1"),
    "wind": Kind(L("Head wind"), L("A tail wind with a minus."), "speed", WIND_MPS, "0.1"),
    "cross": Kind(L("Cross wind"), L("From either side."), "speed", (0.0, WIND_MPS[1]), "0.1"),
    "air": Kind(L("Air temperature"), "", "temperature", AIR_C, "1"),
    "launch": Kind(L("Speed at the launch"), "", "speed", LAUNCH_MPS, "0.1"),
}


@dataclass(frozen=True)
class Start:
    """What is known before anybody asks: decimal strings in the units of the record, ``None`` where there is none.

    ``tested`` are the lightest and heaviest ballast ridden and accepted in the last days, in kg.
    """

    weight: str | None
    launch: str | None
    wind: str | None = None
    cross: str | None = None
    air: str | None = None
    wind_at: datetime | None = None
    air_at: datetime | None = None
    tested: tuple[float, float] | None = None


@dataclass(frozen=True)
class Field:
    """One field as shown: text as typed, exact figure in the unit of the computation, what is wrong with it."""

    name: str
    kind: Kind
    unit: str
    text: str
    value: Fraction | None
    wrong: str
    least: str
    most: str


@dataclass(frozen=True)
class Asked:
    """All that is asked at once. ``is_typed`` says that somebody asked, and did not only open the page."""

    fields: tuple[Field, ...]
    brakes: str
    is_typed: bool

    def figure(self, name: str) -> float | None:
        value = self._value(name)
        return None if value is None else float(value)

    def exact(self, name: str) -> str:
        """Return the figure as text of the record; empty where it is missing."""
        value = self._value(name)
        return "" if value is None else exact_text(value)

    @property
    def wrong(self) -> str:
        """Return what is wrong with the fields, each by its name; empty where nothing is."""
        return " ".join(f"{one.kind.label}: {one.wrong}" for one in self.fields if one.wrong)

    def _value(self, name: str) -> Fraction | None:
        return next(one.value for one in self.fields if one.name == name)


def start_of(line: Place, document: Mapping[str, Any], mechanics: Mapping[str, Any], *, at: datetime) -> Start:
    """Return what a line's page begins with: from its data, and from the test rides of the last days in one query."""
    since = at - timedelta(days=RIDE_DAYS)
    rides = Ride.objects.filter(place__course=line.course_id, rode_at__gt=since, rode_at__lte=at, voided_by=None)
    newest = list(rides.only("place_id", "rode_at", "fields", "mass", "verdict").order_by("-rode_at"))
    own = [one for one in newest if one.place_id == line.pk]
    windy = next((one for one in own if _winds(one.fields) is not None), None)
    wind, cross = (_winds(windy.fields) if windy else None) or (None, None)
    warm = next((one for one in newest if _number(one.fields.get("air_c")) is not None), None)
    accepted = [
        float(one.mass) for one in own
        if one.verdict in {Verdict.OK, Verdict.WATCH} and one.fields.get("kind", "normal") == "normal"
        and one.fields.get("reached", "yes") == "yes" and _number(one.mass) is not None
    ]  # fmt: skip
    return Start(
        weight=document.get("mass_max_kg") or None,
        launch=mechanics.get("launch_mps") or None,
        wind=wind,
        cross=cross,
        air=warm.fields["air_c"] if warm else None,
        wind_at=windy.rode_at if windy else None,
        air_at=warm.rode_at if warm else None,
        tested=(min(accepted), max(accepted)) if accepted and min(accepted) < max(accepted) else None,
    )


def asked_of(given: Mapping[str, str], start: Start, units: CourseUnits) -> Asked:
    """Return what is asked: from the address where it says so, else from the start.

    An address that says the wind along the line and none across asks about a wind along it alone.
    """
    texts = {name: given[name] for name in KINDS if name in given}
    if "wind" in texts:
        texts.setdefault("cross", "0")
    fields = tuple(_field(name, texts, getattr(start, name), units) for name in KINDS)
    brakes = given.get("brakes", "")
    return Asked(fields, brakes if brakes in BRAKES else "new", bool(texts))


def _field(name: str, given: Mapping[str, str], start: str | None, units: CourseUnits) -> Field:
    kind = KINDS[name]
    unit = units.name(kind.quantity)
    low, high = (_inward(units.own(kind.quantity, edge), up=edge == kind.within[0]) for edge in kind.within)
    text, value, wrong = given.get(name, "").strip(), None, ""
    if name not in given and (known := _number(start)) is not None:
        text = shown(rounded(Fraction(units.own(kind.quantity, float(known))), 1), most=1)
        # As it is in the record, not as it was rounded to be shown.
        value = known
    elif text:
        try:
            own = typed.read_figure(text, unit, signed=low < 0).value
        except typed.Unclear as question:
            wrong = f"{_(typed.SENTENCES[question.code]) % question.params} {question.suggestion}".strip()
        else:
            if low <= own <= high:
                value = units.computed(kind.quantity, own)
            else:
                wrong = _("From %(least)s to %(most)s %(unit)s.") % {
                    "least": low, "most": high, "unit": units.unit(kind.quantity),
                }  # fmt: skip
    return Field(name, kind, units.unit(kind.quantity), text, value, wrong, str(low), str(high))


def _inward(edge: float, *, up: bool) -> int:
    """Return a whole figure within the range, so that what the field allows is never refused by the method."""
    return int(-(-edge // 1)) if up else int(edge // 1)


def _winds(fields: Mapping[str, Any]) -> tuple[str, str] | None:
    """Return the wind at a test ride in m/s, along the line (head wind positive) and across; None where not known."""
    speed = _number(fields.get("wind_mps"))
    if speed is None:
        return None
    toward = {"head": (1, 0), "tail": (-1, 0), "cross": (0, 1)}.get(str(fields.get("wind_from", "")))
    if toward is None and speed:
        return None
    along, across = toward or (0, 0)
    return exact_text(speed * along), exact_text(speed * across)


def _number(text: Any) -> Fraction | None:
    try:
        found = parse_exact(str(text))
    except ValueError:
        return None
    return found if abs(found) < LARGE else None
