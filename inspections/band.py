"""The rider weights and winds computed for a line today: advice that can only narrow what is posted and tested.

Wind and its direction come from the line's newest test ride of the day, the gust from the course house, the air's
temperature from the newest test ride of the day on the course. Where one of them, or a figure of the line's mechanics,
is missing or impossible, nothing is computed, and the reason is told; what is posted is not thereby confirmed.
"""

from __future__ import annotations

import math
from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from itertools import pairwise
from threading import Lock
from typing import Any

from courses.mechanics import calibrated_by, plan_of, posted_of
from courses.models import Place, Version
from engineering.clearance import ComputedFact
from engineering.envelope import Map, Plan
from engineering.envelope_band import Band, day_band, grid
from engineering.envelope_cross import OBLIQUE
from engineering.envelope_notes import MODEL, CalibratedBy, Note, fingerprint, warnings
from engineering.envelope_sensitivity import share_lost_per_head_wind
from engineering.refusal import Refusal, refuse
from inspections.figures import number
from inspections.kept_maps import cross_of, map_of
from inspections.models import Reading, Ride
from inspections.newest import by_time, newest_two
from inspections.picture import Picture

GUST = "weather.wind_gust"
# Looked at for the band: the brakes as new, the primary at its worn limit, the emergency brake alone.
NEW = "new"
ARRANGEMENTS = (NEW, "worn", "emergency-alone")
NO_SIDE_MPS = 0.5  # with less wind than this a side says nothing: it may come from any (judgement)
SIDES = ("head", "tail", "cross")
NO_WEIGHT = frozenset({"band-none", "wind-over", "wind-range"})  # refused because of the wind, not of a figure
MOST = 256


@dataclass(frozen=True)
class Weather:
    """Wind along the line in m/s (against the rider positive) from ``from_mps`` to ``to_mps``, and the rest of it.

    A wind may fall to nothing at any time: nought is always within. ``cross_mps`` is the strongest across the line.
    ``own_mps`` was read at the ride, ``side`` is from where (empty where that says nothing), ``gust_mps`` was read at
    the course house; ``strongest_mps`` is the greatest of these and of what other lines' later rides read.
    """

    from_mps: float
    to_mps: float
    cross_mps: float
    air_c: float
    read_at: datetime
    air_at: datetime
    own_mps: float = 0.0
    gust_mps: float = 0.0
    gust_at: datetime | None = None
    strongest_mps: float = 0.0
    side: str = ""


@dataclass(frozen=True)
class Computed:
    """What was computed for one line: a band, or why there is none (``refusal``).

    ``left_out``: which arrangements of the brakes could not be looked at, and why.
    """

    band: Band | None = None
    refusal: Refusal | None = None
    left_out: tuple[tuple[str, Refusal], ...] = ()
    plan: Plan | None = None
    fingerprint: str = ""
    step_kg: float = 0.0
    step_mps: float = 0.0
    model: str = MODEL


@dataclass(frozen=True)
class Today:
    """What was computed for a line today, from which weather and which versions; ``fact`` is what clearance takes."""

    computed: Computed
    weather: Weather | None = None
    line: Version | None = None
    mechanics: Version | None = None
    fact: ComputedFact | None = None
    calibrated: CalibratedBy | None = None


_kept: OrderedDict[tuple[Any, ...], Computed] = OrderedDict()
_lock = Lock()


def today_of(picture: Picture, line: Place, within: ComputedFact | None = None) -> Today | None:
    """Return what is computed for a line today; None where no mechanics of it are in force.

    ``within`` is what the line was opened for: then the winds are those for the weights that were signed.
    """
    setup = picture.setup
    mechanics = setup.version(Version.Kind.MECHANICS, line.pk)
    described = setup.version(Version.Kind.LINE, line.pk)
    if mechanics is None:
        return None
    weather = weather_of(picture, line)
    if isinstance(weather, Refusal):
        return Today(Computed(refusal=weather), None, described, mechanics)
    content = described.content if described else {}
    signed = None
    if within is not None and within.mass_min_kg is not None and within.mass_max_kg is not None:
        signed = (float(within.mass_min_kg), float(within.mass_max_kg))
    # What is in force never changes, and neither does what follows from it in the same weather.
    key = (
        described and described.pk, mechanics.pk, weather.from_mps, weather.to_mps, weather.cross_mps, weather.air_c,
        signed,
    )  # fmt: skip
    found = _known(key) or _keep(key, computed_of(content, mechanics.content, weather, signed))
    fact = fact_of(found, content, weather)
    return Today(found, weather, described, mechanics, fact, calibrated_by(mechanics.content))


def computed_of(
    line: Mapping[str, Any],
    mechanics: Mapping[str, Any],
    weather: Weather,
    signed: tuple[float, float] | None = None,
) -> Computed:
    """Compute the band of a line in a weather from the contents of its two documents, within the weights signed."""
    posted = posted_of(line)
    axes = grid(posted, signed)
    if isinstance(axes, Refusal):
        return Computed(refusal=axes)
    maps: dict[str, Map] = {}
    left_out = []
    # A cross wind only holds riders back, and may fall to nothing: with it, who comes short is seen with any brake.
    looked = [(name, 0.0) for name in ARRANGEMENTS] + [(NEW, weather.cross_mps)] * bool(weather.cross_mps)
    for name, cross in looked:
        made = plan_of(line, mechanics, air_c=weather.air_c, cross_mps=cross, arrangement_of=name)
        found = made if isinstance(made, Refusal) else map_of(made, *axes, beside=None if cross else maps.get(NEW))
        if not isinstance(found, Refusal):
            maps["cross wind" if cross else name] = found
        elif name == NEW:
            return Computed(refusal=found)
        else:
            left_out.append((name, found))
    first = maps[NEW]
    middle, half = (weather.from_mps + weather.to_mps) / 2.0, (weather.to_mps - weather.from_mps) / 2.0
    band = day_band(maps, posted, middle, half, signed)
    if isinstance(band, Band) and posted.cross_mps is not None:
        band = replace(band, cross=cross_of(first, band, posted.cross_mps, now_mps=weather.cross_mps))
    return Computed(
        band=None if isinstance(band, Refusal) else band,
        refusal=band if isinstance(band, Refusal) else None,
        left_out=tuple(left_out),
        plan=first.plan,
        fingerprint=fingerprint(first.plan, *axes, steps=first.steps),
        step_kg=float(max(b - a for a, b in pairwise(axes[0].tolist()))),
        step_mps=float(axes[1][1] - axes[1][0]),
    )


def notes_of(today: Today, place: str) -> tuple[Note, ...]:
    """Return the six warnings that go with what was computed; ``place`` is where the wind was read."""
    computed, weather = today.computed, today.weather
    if computed.plan is None or weather is None or today.line is None:
        return ()
    posted = posted_of(today.line.content)
    least, most = posted.least_kg or 0.0, posted.most_kg or 0.0
    if computed.band is not None:
        least, most = computed.band.least.value, computed.band.most.value
    middle = round((least + most) / 2.0)
    lost = share_lost_per_head_wind(computed.plan, middle, weather.to_mps)
    return warnings(computed.plan, (least, most), place, lost, middle, today.calibrated)


def fact_of(computed: Computed, line: Mapping[str, Any], weather: Weather | None = None) -> ComputedFact | None:
    """Return what clearance takes: edges rounded inward to whole kilograms and tenths of a metre per second.

    None where nothing was computed; then nothing is cut. A wind beyond what is posted, or beyond the method, leaves no
    weight: more wind must never give more than less wind does. A wind across that was read in this ``weather`` and
    found good is not rounded away: it would hold the line that was computed for it.
    """
    band = computed.band
    if band is None:
        none = computed.refusal is not None and computed.refusal.code in NO_WEIGHT
        return ComputedFact(none=True) if none else None
    least, most = number(line.get("mass_min_kg")), number(line.get("mass_max_kg"))
    low = _rounded(band.least.value, ROUND_CEILING, "1") if band.least.set_by != "posted" else least
    high = _rounded(band.most.value, ROUND_FLOOR, "1") if band.most.set_by != "posted" else most
    winds = []
    if band.head.set_by != "posted":
        winds.append(("head", _rounded(max(band.head.value, 0.0), ROUND_FLOOR, "0.1")))
    if band.tail.set_by != "posted":
        winds.append(("tail", _rounded(max(-band.tail.value, 0.0), ROUND_FLOOR, "0.1")))
    if band.cross is not None and band.cross.set_by != "posted":
        winds.append(("cross", _across(max(band.cross.value, 0.0), weather)))
    return ComputedFact(low, high, tuple(winds))


def _across(found: float, weather: Weather | None) -> Decimal:
    rounded = _rounded(found, ROUND_FLOOR, "0.1")
    if weather is None or weather.own_mps > found:
        return rounded
    return max(rounded, Decimal(str(weather.own_mps)))


def weather_of(picture: Picture, line: Place) -> Weather | Refusal:
    """Return today's weather on a line, or what of it is missing."""
    today, untimed = by_time([ride for ride in picture.rides if ride.day.date == picture.date])
    read = [
        ride for ride in today
        if ride.place_id == line.pk and ride.voided_by is None and number(ride.fields.get("wind_mps")) is not None
    ]  # fmt: skip
    if not read:
        return refuse("wind-direction-missing")
    warm = [ride for ride in today if number(ride.fields.get("air_c")) is not None]
    if not warm:
        return refuse("temperature-missing")
    # Where the newest by its time and the newest to arrive are two, the wind may be either's.
    two, air = newest_two(read, lambda ride: ride.rode_at), max(warm, key=lambda ride: ride.rode_at)
    newest = max(two, key=lambda ride: ride.rode_at)
    gust = _gust(picture)
    if gust is None:
        return refuse("gust-missing")
    blew = [one for one in untimed if number(one.fields.get("wind_mps")) is not None]
    # One of unknown time adds its wind and its side, and is later than nothing.
    near = [*two, *(one for one in blew if one.place_id == line.pk and one.voided_by is None)]
    own = max(float(one.fields["wind_mps"]) for one in near)
    speed = max(own, gust[1], *(float(one.fields["wind_mps"]) for one in [*_elsewhere(today, two), *blew]))
    sides = {str(one.fields.get("wind_from", "")) for one in near} if own >= NO_SIDE_MPS else set()
    side = next(iter(sides)) if len(sides) == 1 else ""
    along = OBLIQUE * speed
    before, after = {"head": (0.0, speed), "tail": (-speed, 0.0), "cross": (-along, along)}.get(side, (-speed, speed))
    cross = speed if "cross" in sides else 0.0
    return Weather(
        before, after, cross, float(air.fields["air_c"]), newest.rode_at, air.rode_at,
        own, gust[1], gust[0], speed, side if side in SIDES else "",
    )  # fmt: skip


def _elsewhere(today: list[Ride], own: list[Ride]) -> list[Ride]:
    """Return the newest rides of each other line of today made, or here, after ``own``: the wind may have risen."""
    read: dict[Any, list[Ride]] = {}
    for one in today:
        if number(one.fields.get("wind_mps")) is not None:
            read.setdefault(one.place_id, []).append(one)
    read.pop(own[0].place_id, None)
    made, here = min(one.rode_at for one in own), min(one.seq for one in own)
    newest = [one for rides in read.values() for one in newest_two(rides, lambda ride: ride.rode_at)]
    return [one for one in newest if one.rode_at > made or one.seq > here]


def _gust(picture: Picture) -> tuple[datetime, float] | None:
    """Return when the newest gust was read at the course house today, and the gust in m/s."""
    found: list[Reading] = [
        reading
        for house in picture.setup.houses
        for item in picture.items(house)
        if item.get("measures") == GUST
        for reading in picture.readings_of(house.pk, item["key"])
        if number(reading.value) is not None
    ]
    found.sort(key=lambda one: (one.seq, number(one.value)))
    two = newest_two(found, lambda one: one.read_at)
    return max(((one.read_at, float(one.value)) for one in two), key=lambda one: one[1]) if two else None


def _rounded(value: float, rounding: str, to: str) -> Decimal:
    # What floating point left behind the ninth digit moves no edge by a whole step.
    if not math.isfinite(value):
        raise ValueError("an edge of a band is a figure")
    return abs(Decimal(f"{value:.9f}")).quantize(Decimal(to), rounding=rounding)


def _known(key: tuple[Any, ...]) -> Computed | None:
    with _lock:
        if key in _kept:
            _kept.move_to_end(key)
        return _kept.get(key)


def _keep(key: tuple[Any, ...], found: Computed) -> Computed:
    with _lock:
        _kept[key] = found
        while len(_kept) > MOST:
            _kept.popitem(last=False)
    return found
