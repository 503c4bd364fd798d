"""What is still missing before a line's mechanics can be computed. Pure: documents in, names out. It holds no line."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from django.utils.translation import gettext as _

from courses.gaps import Gap
from courses.mechanics_shape import OPTIONAL, PART_FIGURES, PART_KINDS, PART_OF_BRAKE


def mechanics_gaps(line: Mapping[str, Any], mechanics: Mapping[str, Any], words: Mapping[str, str]) -> list[Gap]:
    """Return everything that is missing, in the order of the form; what is missing of the line's own data comes last.

    ``line`` and ``mechanics`` are the contents in force, empty where nothing is; ``words`` say the slots of brakes.
    """
    return [*_figures(mechanics), *_parts(line, mechanics, words), *_stop(mechanics), *_of_line(line)]


def missing_of_line(line: Mapping[str, Any]) -> list[Gap]:
    """Return what the mechanics need of the line's own data and what is missing there."""
    return list(_of_line(line))


def _figures(mechanics: Mapping[str, Any]) -> Iterator[Gap]:
    for field, label in (
        ("span_m", _("Span")),
        ("cable.mass_kg_per_m", _("Weight of the cable per metre")),
        ("cable.stiffness_kn", _("Stiffness of the cable")),
        ("cable.expansion_per_k", _("Expansion of the cable")),
        ("tension_kn", _("Tension of the cable")),
        ("reference_c", _("Temperature at which the tension holds")),
        ("tension_date", _("Date of the tension")),
        ("tension_how", _("How the tension is known")),
        ("constant_tension", _("Whether a weight or ram keeps the cable taut")),
        ("rider.drag_area_m2", _("Drag area of a rider")),
        ("rider.by_weight", _("Whether the drag area is smaller for lighter riders")),
        ("rider.rolling", _("Rolling resistance of the trolley")),
        ("pressure_hpa", _("Air pressure at the course")),
        ("launch_mps", _("Speed at the launch")),
        ("zone.start_m", _("Where the brake zone begins")),
        ("zone.length_m", _("Length of the brake zone")),
        ("zone.capture_m", _("From where a rider is caught")),
    ):
        if not _at(mechanics, field):
            yield Gap(field, label)


def _parts(line: Mapping[str, Any], mechanics: Mapping[str, Any], words: Mapping[str, str]) -> Iterator[Gap]:
    parts = {part["slot"]: part for part in mechanics.get("parts", [])}
    for brake in line.get("brakes", []):
        slot, kind = brake["slot"], PART_OF_BRAKE[brake["kind"]]
        said = words.get(slot, slot)
        part = parts.pop(slot, None)
        if part is None:
            if brake["kind"] != "runout":
                yield Gap(f"parts.{slot}", _("%(brake)s: its figures") % {"brake": said})
        elif part["kind"] != kind:
            told = {"brake": said, "kind": PART_KINDS[part["kind"]]}
            yield Gap(f"parts.{slot}.kind", _("%(brake)s: figures of its kind, not those of a %(kind)s") % told)
        elif any(_is_missing(part, name) for name in PART_FIGURES[kind]):
            yield Gap(f"parts.{slot}", _("%(brake)s: some of its figures") % {"brake": said})
    for slot in parts:
        told = {"brake": words.get(slot, slot)}
        yield Gap(f"parts.{slot}.slot", _("%(brake)s among the brakes of the line, or its figures taken out") % told)


def _is_missing(part: Mapping[str, Any], name: str) -> bool:
    if name in ("bind_m", "travel_m"):
        return not part.get("bind_m") and not part.get("travel_m")
    return name not in OPTIONAL and not part.get(name)


def _stop(mechanics: Mapping[str, Any]) -> Iterator[Gap]:
    for field, label in (
        ("stop.travel_share", _("Share of the brake's travel that may be used")),
        ("stop.least_mps", _("Least arrival speed")),
        ("stop.mean_g", _("Mean deceleration allowed")),
        ("stop.peak_g", _("Peak deceleration allowed")),
        ("stop.peak_s", _("How long a peak may last")),
    ):
        if not _at(mechanics, field):
            yield Gap(field, label)


def _of_line(line: Mapping[str, Any]) -> Iterator[Gap]:
    for field, label in (
        ("drop_m", _("Drop of the line, in the line's data")),
        ("cable.mbf_kn", _("Breaking force of the cable, in the line's data")),
        ("mass_min_kg", _("Posted minimum weight, in the line's data")),
        ("mass_max_kg", _("Posted maximum weight, in the line's data")),
        ("wind.head_mps", _("Headwind limit, in the line's data")),
        ("wind.tail_mps", _("Tailwind limit, in the line's data")),
        ("brakes", _("Brakes, in the line's data")),
    ):
        if not _at(line, field):
            yield Gap(field, label)


def _at(document: Mapping[str, Any], path: str) -> Any:
    found: Any = document
    for step in path.split("."):
        found = found.get(step) or {}
    return found
