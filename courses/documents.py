"""What the versions of a course are made of: the shape of each kind, and the refusal of anything else. No database.

Everything is text, lists and maps; numbers are decimal strings in metric units, whatever the course's own units, and
what was typed in other units stands beside them as ``NAME_typed``. A document may be incomplete: what is missing is
named by ``line_gaps`` and ``platform_gaps`` and holds the line. In short:

* line: ``length_m drop_m mass_min_kg mass_max_kg mass_as wind{head_mps tail_mps cross_mps} arrival_speed_mps
  speed_instrument designer stroke_available_m engineered_landing cable{…} ends{launch{…} landing{…}}
  brakes[{slot role kind shares}]``
* platform: ``support guys way_off gate padding load_limit``
* component: ``dates{made purchased first_use last_inspection last_done} figures{QUANTITY{nominal baseline reference
  baseline_date gauge station}} certificate{…} max_cycles maker_note``
* checklist: ``format items[{key code slot sheet text look kind …}] left_out[…]``, see ``courses.checklists``
* limits: ``items{ITEM KEY{rules[…] gauge_u}}``, the rules as ``engineering.rules`` reads them
* criteria: ``sets[…] promote[…]``
* calendar: see ``courses.calendar``
* mechanics: about a line, see ``courses.mechanics_shape``; it never holds it
* reopening: ``gust_minutes thunder_minutes look[CAUSE] ride[CAUSE]``, never below the floor (``inspections.reopening``)
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from courses import checklists, mechanics_shape, shapes
from courses.chart_setting import chart_problem
from courses.errors import Refused
from courses.gaps import Gap, line_gaps, platform_gaps
from courses.shapes import (
    YES_NO,
    ByName,
    Choice,
    Clock,
    Day,
    Listing,
    Number,
    Part,
    Several,
    Text,
    Whole,
    without_typed,
)
from engineering.criteria import rules_for
from engineering.rules import RuleError, rule_from_dict, rule_to_dict

__all__ = ["ANCHORS", "BRAKE_KINDS", "END_KINDS", "SHAPES", "Gap", "clean", "line_gaps", "platform_gaps"]

ANCHORS = {
    "tree": gettext_lazy("tree"),
    "pole": gettext_lazy("pole"),
    "tower": gettext_lazy("tower"),
    "ground": gettext_lazy("ground anchor"),
    "wall": gettext_lazy("rock or wall"),
}
END_KINDS = {
    "clips": gettext_lazy("wire rope clips"),
    "sleeve": gettext_lazy("pressed sleeve"),
    "socket": gettext_lazy("socket"),
    "wrap": gettext_lazy("wrapped round its anchor"),
}
BRAKE_KINDS = {
    "hand": gettext_lazy("hand-operated"),
    "spring": gettext_lazy("spring pack"),
    "magnetic": gettext_lazy("magnetic"),
    "cord": gettext_lazy("elastic cord"),
    "runout": gettext_lazy("gravity run-out"),
}
ROLES = {"primary": gettext_lazy("primary"), "emergency": gettext_lazy("emergency")}
SHARED = {
    "rope": gettext_lazy("rope"),
    "anchor": gettext_lazy("anchor"),
    "trolley_catch": gettext_lazy("trolley catch"),
}
MASS_AS = {
    "with_harness": gettext_lazy("dressed, with harness"),
    "without_harness": gettext_lazy("dressed, without harness"),
}
WAYS_OFF = {
    "walk": gettext_lazy("on foot"),
    "stairs": gettext_lazy("stairs or ladder"),
    "lowering": gettext_lazy("lowering by staff"),
}
CORES = {"steel": gettext_lazy("steel core"), "fibre": gettext_lazy("fibre core")}
LAYS = {"ordinary": gettext_lazy("ordinary lay"), "lang": gettext_lazy("Lang lay")}
CLIP_TYPES = {
    "drop_forged": gettext_lazy("drop-forged"),
    "malleable_en": gettext_lazy("EN 13411-5 type A"),
    "other": gettext_lazy("other"),
}
MOST_BRAKES = 5

L = gettext_lazy
QUANTITY = re.compile(r"[a-z][a-z0-9_.]{0,39}")
ITEM_KEY = re.compile(r"[A-Z0-9-]{1,17}@[a-z0-9-]{1,40}")
SLOT = re.compile(r"(primary|emergency)-[1-9]")

_MM = Number("mm", most="100", above_least=True)
_ROPE_MM = Number("mm", most="100", least="3")  # judgement: no thinner rope carries riders; 0.625 was meant in inches
_ROPE = {
    "construction": (L("construction"), Text(40)),
    "diameter_mm": (L("nominal diameter"), _ROPE_MM),
    "grade": (L("grade"), Text(40)),
    "core": (L("core"), Choice(CORES)),
    "lay": (L("lay"), Choice(LAYS)),
    "mbf_kn": (L("minimum breaking force"), Number("kN", most="5000", above_least=True)),
    "wires_total": (L("wires in all"), Whole(least=1, most=1000)),
}
_CERTIFICATE = _ROPE | {
    "wires_load": (L("load-bearing wires"), Whole(least=1, most=1000)),
    "wires_strand": (L("wires in one strand"), Whole(least=1, most=200)),
    "outer_wire_mm": (L("diameter of an outer wire"), _MM),
    "iso_row_wires": (L("load-bearing wires in the outer strands"), Whole(least=1, most=1000)),
    "rotation_resistant": (L("rotation resistant"), YES_NO),
}
_CLIPS = {
    "count": (L("number of clips"), Whole(least=1, most=20)),
    "size_mm": (L("clip size"), _ROPE_MM),
    "torque_nm": (L("torque"), Number("Nm", most="2000", above_least=True)),
    "table": (L("table used"), Choice(CLIP_TYPES)),
}
_END = {
    "kind": (L("kind of end"), Choice(END_KINDS)),
    "clips": (L("clips"), Part(_CLIPS, has_heading=False)),
    "anchor": (L("anchored to"), Choice(ANCHORS)),
    "backup": (L("backup cable or sling"), YES_NO),
    "turnbuckle": (L("turnbuckle"), YES_NO),
    "shackle": (L("shackle"), YES_NO),
}
_WIND = Number("m/s", most="60", above_least=True)
_MASS = Number("kg", most="500", above_least=True)
_LINE = {
    "length_m": (L("length"), Number("m", most="5000", above_least=True)),
    "drop_m": (L("drop"), Number("m", most="2000")),
    "mass_min_kg": (L("lightest rider"), _MASS),
    "mass_max_kg": (L("heaviest rider"), _MASS),
    "mass_as": (L("riders weighed"), Choice(MASS_AS)),
    "wind": (
        L("wind limits"),
        Part(
            {
                "head_mps": (L("headwind limit"), _WIND),
                "tail_mps": (L("tailwind limit"), _WIND),
                "cross_mps": (L("crosswind limit"), _WIND),
            }
        ),
    ),
    "arrival_speed_mps": (L("arrival speed"), Number("m/s", most="60", above_least=True)),
    "speed_instrument": (L("speed instrument"), Text(80)),
    "designer": (L("designer of record"), Text(120)),
    "maker": (L("maker of the line"), Text(80)),
    "serial": (L("serial number"), Text(40)),
    "stroke_available_m": (L("brake travel available"), Number("m", most="500", above_least=True)),
    "engineered_landing": (L("landing engineered for this speed"), YES_NO),
    "cable": (L("cable"), Part(_ROPE)),
    "ends": (L("ends"), Part({"launch": (L("launch end"), Part(_END)), "landing": (L("landing end"), Part(_END))})),
    "brakes": (
        L("brakes"),
        Listing(
            Part(
                {
                    "slot": (L("brake"), Text(20)),
                    "role": (L("role of the brake"), Choice(ROLES)),
                    "kind": (L("kind of brake"), Choice(BRAKE_KINDS)),
                    "shares": (L("shared with the primary brake"), Several(SHARED)),
                }
            ),
            most=MOST_BRAKES,
        ),
    ),
}
_PLATFORM = {
    "support": (L("carried by"), Choice(ANCHORS)),
    "guys": (L("guys"), Whole(most=24)),
    "way_off": (L("way off the platform"), Choice(WAYS_OFF, prefix="line:")),
    "gate": (L("gate or chain"), YES_NO),
    "padding": (L("padding"), YES_NO),
    "load_limit": (L("people at once"), Whole(least=1, most=200)),
}
_FIGURE = {
    "nominal": (L("size when new"), Number("", most="100000")),
    "baseline": (L("baseline"), Number("", most="100000")),
    "reference": (L("reference value"), Number("", most="100000")),
    "baseline_date": (L("date of the baseline"), Day()),
    "gauge": (L("gauge used"), Text(60)),
    "station": (L("where it is measured"), Text(60)),
}
_COMPONENT = {
    "dates": (
        L("dates"),
        Part(
            {
                "made": (L("made"), Day()),
                "purchased": (L("purchased"), Day()),
                "first_use": (L("first used"), Day()),
                "last_inspection": (L("last inspected"), Day()),
                "last_done": (L("last done"), Day()),
            }
        ),
    ),
    "figures": (L("figures"), ByName(QUANTITY, Part(_FIGURE), most=20)),
    "certificate": (L("certificate"), Part(_CERTIFICATE)),
    "max_cycles": (L("maker's most cycles"), Whole(least=1, most=10_000_000)),
    "maker_note": (L("maker's note"), Text(400)),
}
_SEASON = {"from": (L("first day"), Day()), "to": (L("last day"), Day())}
_DAYS = Listing(Day(), most=400)
_CALENDAR = {
    "seasons": (L("seasons"), Listing(Part(_SEASON), most=12)),
    "opens": (L("opens"), Clock()),
    "closes": (L("closes"), Clock()),
    "closed": (L("closed dates"), _DAYS),
    "extra": (L("extra dates"), _DAYS),
}
_CRITERIA = {
    "sets": (L("criteria sets"), Listing(Text(40), most=60)),
    "promote": (L("cautions made binding"), Listing(Text(40), most=60)),
}
# What an engineer may ask beyond the floor. Causes that ask for a look, or for a new ride, in any case are not in it.
REOPEN_LOOK = {
    "gust": L("wind above the limit"),
    "person": L("person on the line"),
    "hard_stop": L("hard stop"),
    "emergency_brake": L("emergency brake engaged"),
    "injury": L("injury or incident"),
    "authority": L("authority's order"),
    "other": L("other reason"),
}
REOPEN_RIDE = {
    "gust": L("wind above the limit"),
    "thunder": L("thunder or lightning"),
    "ice": L("ice or snow"),
    "hard_stop": L("hard stop"),
    "short_stop": L("rider stopped short"),
    "not_reset": L("brake not reset"),
    "injury": L("injury or incident"),
    "other": L("other reason"),
}
GUST_FLOOR, THUNDER_FLOOR = 10, 30  # minutes: judgement; R-501, READ-2
_REOPENING = {
    "gust_minutes": (L("minutes below the wind limit"), Whole(least=GUST_FLOOR, most=240)),
    "thunder_minutes": (L("minutes since the last thunder"), Whole(least=THUNDER_FLOOR, most=240)),
    "look": (L("a look along the line, also after"), Several(REOPEN_LOOK)),
    "ride": (L("a new ballast ride, also after"), Several(REOPEN_RIDE)),
}
SHAPES = {
    "line": Part(_LINE),
    "platform": Part(_PLATFORM),
    "component": Part(_COMPONENT),
    "criteria": Part(_CRITERIA),
    "reopening": Part(_REOPENING),
    "mechanics": Part(mechanics_shape.FIELDS),
}


def clean(kind: str, content: Mapping[str, Any]) -> dict[str, Any]:
    """Return the content of a version in its normal form: known keys only, empty ones left out.

    ``kind`` is one of ``Version.Kind``. Raises Refused with a sentence for the person who typed it.
    """
    readers = {
        "line": _clean_line, "platform": _plain(_PLATFORM), "component": _clean_component, "limits": _clean_limits,
        "criteria": _clean_criteria, "calendar": _clean_calendar, "checklist": _clean_checklist,
        "reopening": _plain(_REOPENING), "mechanics": _clean_mechanics,
    }  # fmt: skip
    return readers[kind](content)


def _plain(fields: Mapping[str, Any]) -> Any:
    return lambda content: Part(fields)(content, _("This document"))


def _clean_line(content: Mapping[str, Any]) -> dict[str, Any]:
    found = _plain(_LINE)(content)
    if {"mass_min_kg", "mass_max_kg"} <= set(found) and Decimal(found["mass_min_kg"]) >= Decimal(found["mass_max_kg"]):
        raise Refused("document", _("The lightest rider must weigh less than the heaviest one."))
    if {"length_m", "drop_m"} <= set(found) and Decimal(found["drop_m"]) >= Decimal(found["length_m"]):
        raise Refused("document", _("The drop must be less than the length of the line."))
    for end in found.get("ends", {}).values():
        if end.get("kind") != "clips":
            end.pop("clips", None)
    brakes = found.get("brakes", [])
    slots = [brake.get("slot", "") for brake in brakes]
    if len(set(slots)) != len(slots):
        raise Refused("document", _("Two brakes have the same place on this line."))
    for brake in brakes:
        if not SLOT.fullmatch(brake.get("slot", "")) or not brake["slot"].startswith(brake.get("role", "?")):
            raise Refused("document", _("A brake is named by its role and a number, such as primary-1."))
        if "kind" not in brake:
            raise Refused("document", _("Say what kind of brake %(slot)s is.") % {"slot": brake["slot"]})
    return found


def _clean_mechanics(content: Mapping[str, Any]) -> dict[str, Any]:
    found = _plain(mechanics_shape.FIELDS)(content)
    parts = found.get("parts", [])
    for part in parts:
        if not SLOT.fullmatch(part.get("slot", "")) or "kind" not in part:
            raise Refused("document", _("The figures of a brake name its place, such as primary-1, and their kind."))
        foreign = without_typed(part).keys() - {"slot", "kind", "given_by", *mechanics_shape.PART_FIGURES[part["kind"]]}
        if foreign:
            raise Refused("document", _("%(name)s is no figure of this kind of brake.") % {"name": min(foreign)})
    if len({part["slot"] for part in parts}) != len(parts):
        raise Refused("document", _("The figures of one brake stand there twice."))
    if problem := chart_problem(found):
        raise Refused("document", problem)
    calibration = found.get("calibration", {})
    if calibration.get("left_out") and not calibration.get("left_why"):
        raise Refused("document", _("Test rides are left out of a calibration for a reason: say it."))
    return found


def _clean_component(content: Mapping[str, Any]) -> dict[str, Any]:
    found = _plain(_COMPONENT)(content)
    for quantity, figure in found.get("figures", {}).items():
        # A baseline is a reading of this very part; without its date and gauge it cannot be compared with.
        if "baseline" in figure and not {"baseline_date", "gauge"} <= set(figure):
            raise Refused(
                "document", _("The baseline of %(quantity)s needs its date and its gauge.") % {"quantity": quantity}
            )
    return found


def _clean_calendar(content: Mapping[str, Any]) -> dict[str, Any]:
    given = dict(content)
    weekdays = given.pop("weekdays", [])
    if not isinstance(weekdays, list | tuple) or not set(weekdays) <= set(range(1, 8)):
        raise Refused("document", _("Weekdays: Choose among the answers."))
    found = _plain(_CALENDAR)(given)
    for season in found.get("seasons", []):
        if not {"from", "to"} <= set(season) or season["from"] > season["to"]:
            raise Refused("document", _("A season needs a first day and a last day, in this order."))
    if not {"opens", "closes"} <= set(found) or found["opens"] >= found["closes"]:
        raise Refused("document", _("Give the hours of opening and closing; closing comes after opening."))
    both = set(found.get("closed", [])) & set(found.get("extra", []))
    if both:
        raise Refused("document", _("%(day)s is both closed and an extra day.") % {"day": min(both)})
    for name in ("closed", "extra"):
        found[name] = sorted(set(found.get(name, [])))
    return found | {"seasons": found.get("seasons", []), "weekdays": sorted(set(weekdays))}


def _clean_criteria(content: Mapping[str, Any]) -> dict[str, Any]:
    found = _plain(_CRITERIA)(content)
    sets, promote = sorted(set(found.get("sets", []))), sorted(set(found.get("promote", [])))
    try:
        rules_for("", sets, promote=promote)
    except RuleError as error:
        raise Refused("document", error.sentence) from None
    return {"sets": sets, "promote": promote}


def _clean_limits(content: Mapping[str, Any]) -> dict[str, Any]:
    fields = {
        "rules": (L("rules"), Listing(_rule, most=10)),
        "gauge_u": (L("uncertainty of the gauge"), Number("", most="1000")),
    }
    found = _plain({"items": (L("items"), ByName(ITEM_KEY, Part(fields)))})(content)
    items = {key: {"rules": item.get("rules", []), **item} for key, item in found.get("items", {}).items()}
    return {"items": {key: item for key, item in items.items() if item["rules"] or "gauge_u" in item}}


def _rule(value: Any, label: shapes.Words) -> dict[str, Any]:
    try:
        rule = rule_from_dict(value)
    except RuleError as error:
        raise shapes.wrong(label, error.sentence) from None
    if rule.got != "COURSE":
        raise shapes.wrong(label, _("A limit of the course's own is marked as such."))
    return rule_to_dict(rule)


def _clean_checklist(content: Mapping[str, Any]) -> dict[str, Any]:
    try:
        checklists.validate(content)
    except checklists.ChecklistError as error:
        raise Refused("document", error.sentence) from None
    return {**content, "items": [dict(item) for item in content["items"]]}
