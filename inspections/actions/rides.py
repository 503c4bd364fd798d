"""Test rides with ballast: nobody on the line, the landing named clear by the person there."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from accounts.clock import APART
from accounts.deeds import Deed, demand, note
from accounts.policy import Right
from courses.models import Place
from engineering import typed
from engineering.exact import shown
from inspections.actions.sheets import Incomplete, findings_of, open_points
from inspections.authority import demand_authority
from inspections.control import CHARTED_COLUMNS
from inspections.control_judging import judge_charts
from inspections.entering import begin, day_for_deed, enter
from inspections.errors import Refused
from inspections.facts import signed_limits
from inspections.figures import number
from inspections.judging import Answer, Bench, Judged
from inspections.measures import in_both
from inspections.models import Ride
from inspections.overtaken import demand_not_overtaken, demand_timely, seen_by, somebody_was_there
from inspections.picture import Picture
from inspections.wind_limits import posted_winds, ride_limit
from ledger.models import Entry

WIND_FROM = ("head", "tail", "cross", "calm")
STATES = ("dry", "wet")
NORMAL, EMERGENCY = "normal", "emergency"
AIR_APART_K, AIR_STANDS = 10, timedelta(hours=2)
TENFOLD = 10  # times the last wind is asked back (judgement)
LEAST_BREEZE_MPS = Decimal("0.5")  # of less than that it is reckoned from this
COLDEST_C, WARMEST_C = -50, 60  # outside this a figure is a slip, or another unit (judgement)


def ride_items(picture: Picture, line: Place, *, kind: str = NORMAL) -> list[dict[str, Any]]:
    """Return what is read at a test ride of this line, from its checklist."""
    version = picture.setup.checklist(line)
    return [item for item in (version.content["items"] if version else ()) if item["sheet"] == "ride"]


def judge_ride(picture: Picture, line: Place, answers: Mapping[str, Answer]) -> list[Judged]:
    """Judge what was read at a ride, item by item."""
    bench = Bench.in_force(picture.setup, line)
    return [
        bench.judge(item, picture.component_of(line, item), answers.get(item["key"], Answer()), picture.date)
        for item in ride_items(picture, line)
    ]


def read_fields(raw: Mapping[str, str], items: list[dict[str, Any]]) -> tuple[dict[str, str], dict[str, str]]:
    """Return (fields as understood, what is wrong per field) from what was typed about the ride as a whole."""
    fields: dict[str, str] = {}
    wrong: dict[str, str] = {}
    for name, unit, label in (("mass", "kg", _("the weight of the ballast")), ("wind", "m/s", _("the wind"))):
        text = raw.get(name, "").strip()
        if not text:
            wrong[name] = _("Enter %(what)s.") % {"what": label}
            continue
        try:
            figure = typed.read_figure(text, unit)
        except typed.Unclear as question:
            wrong[name] = question.sentence
            continue
        fields[name] = text
        fields["mass_kg" if name == "mass" else "wind_mps"] = shown(figure.value, most=6)
    for name, allowed, sentence in (
        ("wind_from", WIND_FROM, _("Say from where the wind blows, seen by the rider.")),
        ("state", STATES, _("Say whether the cable is dry or wet.")),
        ("reached", ("yes", "no"), _("Say whether the ballast reached the landing.")),
        ("kind", (NORMAL, EMERGENCY), _("Say which test this was.")),
    ):
        value = raw.get(name, "")
        if value in allowed:
            fields[name] = value
        else:
            wrong[name] = sentence
    if raw.get("air", "").strip():
        try:
            # A bare ring is meant in the unit that the field asks for; by itself it would be an angle.
            air = typed.read_figure(raw["air"].strip().removesuffix("°"), "degC", signed=True).value
        except typed.Unclear as question:
            wrong["air"] = question.sentence
        else:
            fields |= {"air": raw["air"].strip(), "air_c": shown(air, most=6)}
            if not COLDEST_C <= air <= WARMEST_C:
                wrong["air"] = _("An air temperature of %(air)s °C cannot be.") % {"air": shown(air)}
    if not raw.get("landing_clear", "").strip():
        wrong["landing_clear"] = _("Name the person at the landing who said it was clear.")
    if raw.get("kind") == EMERGENCY and raw.get("primary_back") != "yes":
        wrong["primary_back"] = _("Confirm that the primary brake was put back.")
    return fields, wrong


def lacking(
    picture: Picture, line: Place, raw: Mapping[str, str], answers: Mapping[str, Answer], *, deed: Deed | None = None
) -> dict[str, str]:
    """Return what is still missing, unclear or to be kept or retyped before a ride counts, by field and item.

    A wind of a ride that came later (``deed``) was asked back on its phone, and is not once more: what is more wind
    than there was holds the line, and never opens it.
    """
    came_later = deed is not None and deed.came_later
    then = seen_by(deed, picture.at) if deed is not None else picture.at
    items = ride_items(picture, line)
    fields, wrong = read_fields(raw, items)
    if "air_c" in fields and (sentence := _other_air(picture, Decimal(fields["air_c"]), then)):
        wrong["air"] = sentence
    asks_wind = "wind_mps" in fields and not came_later and not _typed_again(raw, fields)
    if asks_wind and (sentence := _much_wind(picture, line, fields)):
        wrong["wind_again"] = sentence
    if "mass_kg" in fields and (sentence := _no_such_ballast(picture, line, fields)):
        wrong["mass"] = sentence
    judged = judge_ride(picture, line, answers)
    wrong |= dict(_longer_than_there_is(judged, picture.setup.document(line), picture.course.units))
    return wrong | {
        key: sentence
        for key, sentence in open_points(picture, line, judged, rack=True, at_signing=True).items()
        # Ballast that never reached the brake has no brake travel to read.
        if not (fields.get("reached") == "no" and answers.get(key, Answer()).is_empty)
    }


def _longer_than_there_is(judged: list[Judged], document: Mapping[str, Any], units: str) -> Iterator[tuple[str, str]]:
    """Yield a sentence for more than twice the brake travel there is: a slip, which must not be kept.

    A little more than there is can be read where something slipped, and takes the brake out of service. Twice is
    judgement, no published figure.
    """
    there = number(document.get("stroke_available_m"))
    for one in judged:
        used = number(one.value) if one.item.get("measures") == "stroke.used" else None
        if there is not None and used is not None and used > 2 * there:
            about = {name: in_both(f"{value:f}", "m", units) for name, value in {"used": used, "there": there}.items()}
            yield (
                one.item["key"],
                _("%(used)s cannot be: there are %(there)s of brake travel. Read and type it again.") % about,
            )


def _other_air(picture: Picture, air_c: Decimal, then: datetime) -> str:
    """Return why an air temperature looks like a slip: far from what was read on the course shortly before.

    It moves the day's weights of every line. Ten kelvin within two hours are judgement, no published figure.
    """
    for ride in sorted(picture.rides, key=lambda one: one.rode_at, reverse=True):
        other = number(ride.fields.get("air_c"))
        if other is None or ride.day.date != picture.date or not -APART <= then - ride.rode_at <= AIR_STANDS:
            continue
        if abs(other - air_c) <= AIR_APART_K:
            return ""
        about = {
            "air": in_both(f"{air_c:f}", "degC", picture.course.units),
            "other": in_both(f"{other:f}", "degC", picture.course.units),
            "at": f"{ride.rode_at.astimezone(picture.course.zone):%H:%M}",
        }
        return _("%(air)s is far from the %(other)s read at %(at)s. Read it again; leave it empty if in doubt.") % about
    return ""


def _typed_again(raw: Mapping[str, str], fields: Mapping[str, str]) -> bool:
    """Tell whether the wind was typed a second time, and the same."""
    try:
        return shown(typed.read_figure(raw.get("wind_again", "").strip(), "m/s").value, most=6) == fields["wind_mps"]
    except typed.Unclear:
        return False


def _much_wind(picture: Picture, line: Place, fields: Mapping[str, str]) -> str:
    """Return why a wind has to be typed twice: it holds the line, or is tenfold what was read shortly before.

    A ride cannot be corrected, and its wind counts for every line. A strong wind has to be entered as easily as any.
    """
    wind, units = Decimal(fields["wind_mps"]), picture.course.units
    posted = posted_winds(picture.setup.document(line))
    limit = ride_limit(posted, signed_limits(picture, line), fields.get("wind_from", ""), wind)
    if limit is not None and wind > limit:
        about = {"wind": in_both(f"{wind:f}", "m/s", units), "limit": in_both(f"{limit:f}", "m/s", units)}
        return _("%(wind)s is above the %(limit)s of this line and holds it. If it is right, type it again.") % about
    for ride in sorted(picture.rides, key=lambda one: one.rode_at, reverse=True):
        other = number(ride.fields.get("wind_mps"))
        if ride.day.date != picture.date or picture.at - ride.rode_at > AIR_STANDS or other is None:
            continue
        if wind < TENFOLD * max(other, LEAST_BREEZE_MPS):
            return ""
        about = {
            "wind": in_both(f"{wind:f}", "m/s", units),
            "other": in_both(f"{other:f}", "m/s", units),
            "at": f"{ride.rode_at.astimezone(picture.course.zone):%H:%M}",
        }
        return _("%(wind)s after %(other)s at %(at)s. If it is right, type it again.") % about
    return ""


def _no_such_ballast(picture: Picture, line: Place, fields: Mapping[str, str]) -> str:
    """Return why a weight cannot be that of a ballast for this line; empty where it can.

    A slip of a digit would count as the heaviest ride of the week. Twice and half are judgement, no published figure.
    """
    document = picture.setup.document(line)
    least, most = number(document.get("mass_min_kg")), number(document.get("mass_max_kg"))
    mass = Decimal(fields["mass_kg"])
    if least is None or most is None or least / 2 <= mass <= 2 * most:
        return ""
    figures = {"typed": mass, "least": least, "most": most}
    about = {name: in_both(f"{value:f}", "kg", picture.course.units) for name, value in figures.items()}
    return _("%(typed)s is far from the posted %(least)s to %(most)s. Weigh the ballast and type it again.") % about


@transaction.atomic
def record_ride(
    picture: Picture,
    line: Place,
    *,
    raw: Mapping[str, str],
    answers: Mapping[str, Answer],
    meaning: str = "",
    paper: str = "",
    deed: Deed,
) -> Entry:
    """Record one test ride. Raises Incomplete with a sentence per field while anything is missing or unclear."""
    course = picture.course
    demand(deed, course.operator_id, Right.INSPECT)
    begin(course, deed)
    judged = judge_ride(picture, line, answers)
    # What is past its limit is taken whenever it comes: it takes out of service, and lets nothing open.
    is_past = any(one.verdict == "withdraw" for one in judged)
    if not is_past:
        demand_timely(deed, picture)
    if line.retired_at is not None and line.retired_at <= deed.at:
        raise Refused("place-retired", _("%(place)s was retired and is not inspected any more.") % {"place": line})
    if somebody_was_there(deed, picture, line):
        raise Refused("person-on-line", _("Somebody is on this line. No ballast is sent."))
    demand_authority(deed.by, course, picture.setup, line, "ride", picture.date)
    items = ride_items(picture, line)
    if not items:
        raise Refused("no-checklist", _("This line has no checklist for test rides in force yet."))
    missing = lacking(picture, line, raw, answers, deed=deed)
    if missing:
        raise Incomplete(missing)
    fields, _wrong = read_fields(raw, items)
    if not is_past:
        demand_not_overtaken(deed, picture, line, fields)
    if again := raw.get("wind_again", "").strip():
        fields["wind_again"] = again
    stopped_short = fields["reached"] == "no"
    log = course.operator.log
    day = day_for_deed(course, picture.date, opens_at=picture.opens_at, deed=deed)
    document = picture.setup.document(line)
    summary = _summary(judged, fields, document)
    body = {
        "day": str(day.pk),
        "date": picture.date.isoformat(),
        "place": str(line.pk),
        "fields": {**fields, "landing_clear": note(log, raw["landing_clear"])},
        "readings": [_typed(one, log) for one in judged if not one.answer.is_empty],
        "meaning": meaning,
        "paper": paper,
    }
    readings = [one.as_record() for one in judged if not (stopped_short and one.answer.is_empty)]
    verdict = max(
        (record["verdict"] for record in readings), key=("ok", "watch", "unknown", "withdraw").index, default="ok"
    )
    figures = {name: summary.get(column, "") for name, column in CHARTED_COLUMNS.items()}
    control, watches = judge_charts(picture, line, day, fields=fields, figures=figures, verdict=verdict, deed=deed)
    voids = []
    if fields["kind"] == EMERGENCY:
        voids = [
            str(ride.pk) for ride in Ride.objects.filter(day=day, place=line, voided_by=None)
        ]  # the primary was parked: what was ridden before does not show how it stands now
    return enter(
        course,
        "ride",
        body,
        deed=deed,
        judged={
            **summary,
            "verdict": verdict,
            "readings": readings,
            "voids": voids,
            **({"untimed": "yes"} if deed.came_later and deed.true_at is None else {}),
            "findings": [
                *findings_of(picture, line, [one for one in judged if not one.answer.is_empty]),
                *watches,
            ],
            **({"control": control} if control else {}),
        },
    )


def _typed(judged: Judged, log: Any) -> dict[str, Any]:
    answer = judged.answer
    found = {
        "key": judged.item["key"],
        "mark": answer.mark,
        "text": answer.text,
        "note": note(log, answer.note),
        "unit": judged.item["unit"] if answer.text else "",
        "photos": list(answer.photos),
        "kept": answer.kept,
        "gauge": answer.gauge if answer.text else "",
    }
    return {name: value for name, value in found.items() if value not in ("", [], False)}


def _summary(judged: list[Judged], fields: Mapping[str, str], document: Mapping[str, Any]) -> dict[str, str]:
    mass = Decimal(fields["mass_kg"])
    band = "other"
    if document.get("mass_max_kg") and mass >= Decimal(document["mass_max_kg"]):
        band = "max"
    elif document.get("mass_min_kg") and mass <= Decimal(document["mass_min_kg"]):
        band = "min"
    by_quantity = {one.item.get("measures", ""): one.value for one in judged if one.value}
    found = {
        "mass": fields["mass_kg"],
        "band": band,
        "stroke_used": by_quantity.get("stroke.used", ""),
        "stroke_available": str(document.get("stroke_available_m", "")),
        "speed": by_quantity.get("arrival.speed", ""),
    }
    return {name: value for name, value in found.items() if value}
