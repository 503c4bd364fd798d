"""What is still missing before a place can be cleared, in a technician's words. Pure: a document in, names out."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _

from courses.ropes import rope_of
from engineering.clearance import WALKING_SPEED_MPS
from engineering.rope import configuration_faults

# Quantities for which no published number was found: without a limit of the course's own they are never checked.
NO_PUBLISHED_LIMIT = frozenset(
    {"structure.lean", "air.gap", "rollback", "trolley.spin_time", "rescue.people", "weather.wind_mean",
     "weather.wind_gust", "own.figure", "own.count"}
)  # fmt: skip


@dataclass(frozen=True)
class Gap:
    """One thing that is missing. ``field`` is its path in the document; ``label`` is a name for people that fits
    both a list and "… is not entered for this line".
    """

    field: str
    label: str


def line_gaps(
    document: Mapping[str, Any],
    *,
    fitted_slots: Collection[str],
    limits: Mapping[str, Any],
    checklist: Mapping[str, Any] | None,
) -> list[Gap]:
    """Return everything that clearing this line needs and that is missing, in the order of the form.

    ``fitted_slots``: slots of the line at which exactly one component is fitted now; ``limits`` and ``checklist``: the
    contents in force, an empty one or None where nothing is.
    """
    return [
        *_figures(document),
        *_cable(document),
        *_end(document, "launch"),
        *_end(document, "landing"),
        *_brakes(document),
        *_slots(document, fitted_slots),
        *_own_limits(limits, checklist),
        *_checklist(checklist),
    ]


def platform_gaps(document: Mapping[str, Any]) -> list[Gap]:
    """Return what a platform's data still lack. Its way off decides whether riders could be stranded."""
    found = []
    if not document.get("support"):
        found.append(Gap("support", _("What carries the platform")))
    if not document.get("way_off"):
        found.append(Gap("way_off", _("Way off the platform")))
    return found


def _figures(document: Mapping[str, Any]) -> Iterator[Gap]:
    wind = document.get("wind") or {}
    asked = (
        ("designer", document, _("Designer of record")),
        ("length_m", document, _("Length of the line")),
        ("drop_m", document, _("Drop of the line")),
        ("mass_min_kg", document, _("Posted minimum weight")),
        ("mass_max_kg", document, _("Posted maximum weight")),
        ("mass_as", document, _("How riders are weighed")),
        ("head_mps", wind, _("Headwind limit")),
        ("tail_mps", wind, _("Tailwind limit")),
        ("cross_mps", wind, _("Crosswind limit")),
        ("arrival_speed_mps", document, _("Arrival speed")),
        ("stroke_available_m", document, _("Brake travel available")),
    )
    for field, part, label in asked:
        if not part.get(field):
            yield Gap(field if part is document else f"wind.{field}", label)


def _cable(document: Mapping[str, Any]) -> Iterator[Gap]:
    cable = document.get("cable") or {}
    asked = (
        ("construction", _("Construction of the cable")),
        ("diameter_mm", _("Diameter of the cable")),
        ("core", _("Core of the cable")),
        ("mbf_kn", _("Breaking force of the cable")),
    )
    for field, label in asked:
        if not cable.get(field):
            yield Gap(f"cable.{field}", label)


def _end(document: Mapping[str, Any], which: str) -> Iterator[Gap]:
    end = (document.get("ends") or {}).get(which) or {}
    name = _("Launch end") if which == "launch" else _("Landing end")
    if not end.get("kind"):
        yield Gap(f"ends.{which}.kind", _("%(end)s: kind of end connection") % {"end": name})
    if not end.get("anchor"):
        yield Gap(f"ends.{which}.anchor", _("%(end)s: what it is anchored to") % {"end": name})
    clips = end.get("clips") or {}
    if end.get("kind") == "clips":
        for field, label in (
            ("count", _("%(end)s: number of clips")),
            ("size_mm", _("%(end)s: size of the clips")),
            ("torque_nm", _("%(end)s: torque of the clips")),
        ):
            if not clips.get(field):
                yield Gap(f"ends.{which}.clips.{field}", label % {"end": name})
        rope = rope_of(document.get("cable") or {}, {}, ends=[end])
        if rope is not None and any(fault.rule_id == "R-176" for fault in configuration_faults(rope)):
            # clips are not for spiral strands such as 1x19 (EN 13411-5 abstract READ; READ-2).
            yield Gap(
                f"ends.{which}.suits",
                _("%(end)s: a connection other than clips, or a cable known to be stranded") % {"end": name},
            )


def _brakes(document: Mapping[str, Any]) -> Iterator[Gap]:
    brakes = document.get("brakes") or []
    if not any(brake.get("role") == "primary" for brake in brakes):
        yield Gap("brakes.primary", _("Primary brake"))
    speed = document.get("arrival_speed_mps")
    # Automatic and sharing nothing with the primary: R-302 to R-304 (READ-2). Walking speed: R-301 (READ, advisory).
    emergency = any(
        brake.get("role") == "emergency" and brake.get("kind") != "hand" and not brake.get("shares") for brake in brakes
    )
    if speed and Decimal(speed) > WALKING_SPEED_MPS and not emergency:
        yield Gap("brakes.emergency", _("Automatic emergency brake that shares nothing with the primary brake"))


def _slots(document: Mapping[str, Any], fitted: Collection[str]) -> Iterator[Gap]:
    asked = [
        ("cable", _("Component fitted as cable")),
        ("end-launch", _("Component fitted as launch end")),
        ("end-landing", _("Component fitted as landing end")),
    ]
    for brake in document.get("brakes") or []:
        # A gravity run-out is the shape of the line itself; there is nothing to fit.
        if brake.get("kind") != "runout" and brake.get("slot"):
            asked.append((brake["slot"], _("Component fitted as brake %(slot)s") % {"slot": brake["slot"]}))
    for slot, label in asked:
        if slot not in fitted:
            yield Gap(f"fitted.{slot}", label)


def _own_limits(limits: Mapping[str, Any], checklist: Mapping[str, Any] | None) -> Iterator[Gap]:
    own = limits.get("items") or {}
    for item in (checklist or {}).get("items") or ():
        if item.get("measures") in NO_PUBLISHED_LIMIT and not own.get(item["key"], {}).get("rules"):
            yield Gap(f"limits.{item['key']}", _("Limit for %(code)s") % {"code": f"{item['code']}, {item['text']}"})


def _checklist(checklist: Mapping[str, Any] | None) -> Iterator[Gap]:
    if not checklist or not checklist.get("items"):
        yield Gap("checklist", _("Checklist in force"))
