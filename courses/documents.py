"""What the versions of a course are made of: the shape of each kind, and the refusal of anything else. No database.

Everything is text, lists and maps; numbers are decimal strings in metric units, whatever the course's own units, and
what was typed in other units stands beside them as ``NAME_typed``. A document may be incomplete: what is missing is
named by ``line_gaps`` and ``platform_gaps`` and holds the line. In short:

* line: ``length_m drop_m mass_min_kg mass_max_kg mass_as wind{head_mps tail_mps cross_mps} arrival_speed_mps
  speed_instrument designer stroke_available_m cable{…} ends{launch{…} landing{…}} brakes[{slot role kind shares}]``
* platform: ``support guys way_off gate padding load_limit``
* component: ``dates{made purchased first_use last_inspection} figures{QUANTITY{nominal baseline baseline_date gauge
  station}} certificate{…} max_cycles maker_note``
* checklist: ``items[{key code slot sheet text look kind unit class every reach …}]``, see ``courses.checklists``
* limits: ``items{ITEM KEY{rules[…] gauge_u}}``, the rules as ``engineering.rules`` reads them
* criteria: ``sets[…] promote[…]``
* calendar: see ``courses.calendar``
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from courses import shapes
from courses.errors import Refused
from courses.gaps import Gap, line_gaps, platform_gaps
from courses.shapes import YES_NO, by_name, choice, listing, number, part, several, text, whole
from engineering.rules import RuleError, rule_from_dict, rule_to_dict

__all__ = ["ANCHORS", "BRAKE_KINDS", "END_KINDS", "Gap", "clean", "line_gaps", "platform_gaps"]

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
MOST_BRAKES = 5

L = gettext_lazy
QUANTITY = re.compile(r"[a-z][a-z0-9_.]{0,39}")
ITEM_KEY = re.compile(r"[A-Za-z0-9][A-Za-z0-9_.:#-]{0,59}")
IDENT = re.compile(r"[A-Za-z0-9][A-Za-z0-9_.-]{0,39}")
SLOT = re.compile(r"(primary|emergency)-[1-9]")

_MM = number("mm", most="100", above_least=True)
_ROPE = {
    "construction": (L("construction"), text(40)),
    "diameter_mm": (L("nominal diameter"), _MM),
    "grade": (L("grade"), text(40)),
    "core": (L("core"), choice("steel", "fibre")),
    "lay": (L("lay"), choice("ordinary", "lang")),
    "mbf_kn": (L("minimum breaking force"), number("kN", most="5000", above_least=True)),
    "wires_total": (L("wires in all"), whole(least=1, most=1000)),
}
_CERTIFICATE = _ROPE | {
    "wires_load": (L("load-bearing wires"), whole(least=1, most=1000)),
    "wires_strand": (L("wires in one strand"), whole(least=1, most=200)),
    "outer_wire_mm": (L("diameter of an outer wire"), _MM),
    "iso_row_wires": (L("load-bearing wires in the outer strands"), whole(least=1, most=1000)),
    "rotation_resistant": (L("rotation resistant"), YES_NO),
}
_CLIPS = {
    "count": (L("number of clips"), whole(least=1, most=20)),
    "size_mm": (L("clip size"), _MM),
    "torque_nm": (L("torque"), number("Nm", most="2000", above_least=True)),
    "table": (L("table used"), choice("drop_forged", "malleable_en", "other")),
}
_END = {
    "kind": (L("kind of end"), choice(*END_KINDS)),
    "clips": (L("clips"), part(_CLIPS)),
    "anchor": (L("anchored to"), choice(*ANCHORS)),
    "backup": (L("backup cable or sling"), YES_NO),
    "turnbuckle": (L("turnbuckle"), YES_NO),
    "shackle": (L("shackle"), YES_NO),
}
_WIND = number("m/s", most="60", above_least=True)
_MASS = number("kg", most="500", above_least=True)
_LINE = {
    "length_m": (L("length"), number("m", most="5000", above_least=True)),
    "drop_m": (L("drop"), number("m", most="2000")),
    "mass_min_kg": (L("lightest rider"), _MASS),
    "mass_max_kg": (L("heaviest rider"), _MASS),
    "mass_as": (L("riders weighed"), choice(*MASS_AS)),
    "wind": (
        L("wind limits"),
        part(
            {
                "head_mps": (L("headwind limit"), _WIND),
                "tail_mps": (L("tailwind limit"), _WIND),
                "cross_mps": (L("crosswind limit"), _WIND),
            }
        ),
    ),
    "arrival_speed_mps": (L("arrival speed"), number("m/s", most="60", above_least=True)),
    "speed_instrument": (L("speed instrument"), text(80)),
    "designer": (L("designer of record"), text(120)),
    "stroke_available_m": (L("brake travel available"), number("m", most="500", above_least=True)),
    "cable": (L("cable"), part(_ROPE)),
    "ends": (L("ends"), part({"launch": (L("launch end"), part(_END)), "landing": (L("landing end"), part(_END))})),
    "brakes": (
        L("brakes"),
        listing(
            part(
                {
                    "slot": (L("brake"), text(20)),
                    "role": (L("role of the brake"), choice(*ROLES)),
                    "kind": (L("kind of brake"), choice(*BRAKE_KINDS)),
                    "shares": (L("shared with the primary brake"), several(*SHARED)),
                }
            ),
            most=MOST_BRAKES,
        ),
    ),
}
_PLATFORM = {
    "support": (L("carried by"), choice(*ANCHORS)),
    "guys": (L("guys"), whole(most=24)),
    "way_off": (L("way off the platform"), shapes.identity("line:", *WAYS_OFF)),
    "gate": (L("gate or chain"), YES_NO),
    "padding": (L("padding"), YES_NO),
    "load_limit": (L("people at once"), whole(least=1, most=200)),
}
_FIGURE = {
    "nominal": (L("size when new"), number("", most="100000")),
    "baseline": (L("baseline"), number("", most="100000")),
    "baseline_date": (L("date of the baseline"), shapes.day),
    "gauge": (L("gauge used"), text(60)),
    "station": (L("where it is measured"), text(60)),
}
_COMPONENT = {
    "dates": (
        L("dates"),
        part(
            {
                "made": (L("made"), shapes.day),
                "purchased": (L("purchased"), shapes.day),
                "first_use": (L("first used"), shapes.day),
                "last_inspection": (L("last inspected"), shapes.day),
            }
        ),
    ),
    "figures": (L("figures"), by_name(QUANTITY, part(_FIGURE), most=20)),
    "certificate": (L("certificate"), part(_CERTIFICATE)),
    "max_cycles": (L("maker's most cycles"), whole(least=1, most=10_000_000)),
    "maker_note": (L("maker's note"), text(400)),
}
_SEASON = {"from": (L("first day"), shapes.day), "to": (L("last day"), shapes.day)}
_DAYS = listing(shapes.day, most=400)
_CALENDAR = {
    "seasons": (L("seasons"), listing(part(_SEASON), most=12)),
    "opens": (L("opens"), shapes.clock),
    "closes": (L("closes"), shapes.clock),
    "closed": (L("closed dates"), _DAYS),
    "extra": (L("extra dates"), _DAYS),
}


def clean(kind: str, content: Mapping[str, Any]) -> dict[str, Any]:
    """Return the content of a version in its normal form: known keys only, empty ones left out.

    ``kind`` is one of ``Version.Kind``. Raises Refused with a sentence for the person who typed it.
    """
    readers = {
        "line": _clean_line, "platform": _plain(_PLATFORM), "component": _clean_component, "limits": _clean_limits,
        "criteria": _plain(_CRITERIA), "calendar": _clean_calendar, "checklist": _clean_checklist,
    }  # fmt: skip
    return readers[kind](content)


_CRITERIA = {
    "sets": (L("criteria sets"), listing(text(40), most=60)),
    "promote": (L("cautions made binding"), listing(text(40), most=60)),
}


def _plain(fields: Mapping[str, Any]) -> Any:
    return lambda content: part(fields)(content, _("This document"))


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


def _clean_limits(content: Mapping[str, Any]) -> dict[str, Any]:
    fields = {
        "rules": (L("rules"), listing(_rule, most=10)),
        "gauge_u": (L("uncertainty of the gauge"), number("", most="1000")),
    }
    found = _plain({"items": (L("items"), by_name(ITEM_KEY, part(fields)))})(content)
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
    items = content.get("items", [])
    if not isinstance(items, list | tuple) or not all(isinstance(item, Mapping) for item in items):
        raise Refused("document", _("Items: A list is needed."))
    keys = [item.get("key", "") for item in items]
    if len(set(keys)) != len(keys) or not all(isinstance(key, str) and ITEM_KEY.fullmatch(key) for key in keys):
        raise Refused("document", _("Each item of a checklist has a key of its own."))
    for item in items:
        if not str(item.get("text", "")).strip():
            raise Refused("document", _("The item %(key)s has no wording.") % {"key": item["key"]})
    return {**content, "items": [dict(item) for item in items]}
