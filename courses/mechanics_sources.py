"""Where each figure of a plan is from: the kind of source that its document names, and the version it stands since."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from datetime import UTC, tzinfo
from typing import Any

from courses.mechanics import part_of, wear_of
from courses.mechanics_shape import PART_FIGURES, WORN_FIGURES
from courses.origins import Origin, Origins, origin_at
from engineering.envelope_cells import StopLimits
from engineering.envelope_notes import Source

# What a plan takes from the mechanics and from the line's data: its keys, and the paths of the documents.
_OF_MECHANICS: Mapping[str, str] = {
    "line.span_m": "span_m",
    "line.cable.mass_kg_per_m": "cable.mass_kg_per_m",
    "line.cable.stiffness_n": "cable.stiffness_kn",
    "line.cable.expansion_per_k": "cable.expansion_per_k",
    "line.tension_n": "tension_kn",
    "line.reference_c": "reference_c",
    "line.anchor_n_per_m": "anchor_kn_per_m",
    "line.constant_tension": "constant_tension",
    "landing.start_m": "zone.start_m",
    "landing.length_m": "zone.length_m",
    "landing.capture_m": "zone.capture_m",
    "rider.drag_area_m2": "rider.drag_area_m2",
    "rider.rolling": "rider.rolling",
    "drag_by_weight": "rider.by_weight",
    "air.pressure_pa": "pressure_hpa",
    "launch_mps": "launch_mps",
    "interval_mps": "calibration.interval_mps",
}
_OF_LINE: Mapping[str, Sequence[str]] = {
    "line.drop_m": ("drop_m",),
    "line.cable.breaking_force_n": ("cable.mbf_kn",),
    "masses_kg": ("mass_min_kg", "mass_max_kg"),
    "winds_mps": ("wind.head_mps", "wind.tail_mps"),
}
_ASKED = ("air.temperature_c", "cross_mps")
_TENSION_KIND = {"stopwatch": "measured", "gauge": "measured", "sag": "measured", "designer": "designer"}


@dataclass(frozen=True)
class _Papers:
    """Of one document: since which version its figures stand, its paper where that is not known, and the time zone."""

    origins: Origins
    where: str
    zone: tzinfo


def sources_of(
    line: Mapping[str, Any],
    mechanics: Mapping[str, Any],
    *,
    where: str,
    line_where: str,
    origins: Origins | None = None,
    line_origins: Origins | None = None,
    arrangement_of: str = "new",
    asked: str = "",
    zone: tzinfo = UTC,
) -> dict[str, Source]:
    """Return the source of each figure of a plan by its key in ``engineering.envelope_notes.trace``.

    What kind of source a figure has stands in the document itself, else it is the paper of its version. ``origins``
    and ``line_origins`` (``courses.origins``) say since which version of either document a figure stands; where they
    do not, ``where`` and ``line_where`` name the papers of the two. What nobody entered has no source. ``asked`` says
    who asked for the weather; ``arrangement_of`` names the brakes of the plan; days are told in ``zone``.
    """
    entered, described = _Papers(origins or {}, where, zone), _Papers(line_origins or {}, line_where, zone)
    found = {key: _source(mechanics, [path], entered) for key, path in _OF_MECHANICS.items() if _given(mechanics, path)}
    found |= {
        key: _source(line, paths, described)
        for key, paths in _OF_LINE.items()
        if all(_given(line, path) for path in paths)
    }
    found |= _stop_sources(mechanics, entered, alone=arrangement_of == "emergency-alone")
    found |= _part_sources(mechanics, entered, arrangement_of)
    found |= {key: Source("asked", asked) for key in _ASKED}
    found |= {key: Source("method") for key in ("landing.slope", "rider.sheave_kg", "cable_c")}
    # Nobody enters an interval of nought: without a calibration the method takes none.
    return {"interval_mps": Source("method")} | found


def slots_of(mechanics: Mapping[str, Any], arrangement_of: str) -> list[str]:
    """Return the slots of the parts of a plan, in the plan's order; ``arrangement_of`` as for ``plan_of``."""
    rows = mechanics.get("parts", [])
    primary = [row for row in rows if row["slot"].startswith("primary-")] if arrangement_of != "emergency-alone" else []
    emergency = [row for row in rows if row["slot"].startswith("emergency-")] if arrangement_of != "worn-alone" else []
    begins = []
    for row in [*primary, *emergency]:
        wear = wear_of(row) if arrangement_of.startswith("worn") and row in primary else None
        later = wear.lost_length_m if wear is not None and row["kind"] in ("spring", "cord") else 0.0
        begins.append((part_of(row).start_m + later, row["slot"]))
    return [slot for _start, slot in sorted(begins, key=lambda one: one[0])]


def _part_sources(mechanics: Mapping[str, Any], papers: _Papers, arrangement_of: str) -> dict[str, Source]:
    """Return the sources of the brakes' figures; of a worn brake's also those of what is gone of it."""
    rows = {row["slot"]: row for row in mechanics.get("parts", [])}
    found = {}
    for number, slot in enumerate(slots_of(mechanics, arrangement_of), 1):
        row, at = rows[slot], f"parts.{slot}"
        is_worn = arrangement_of.startswith("worn") and slot.startswith("primary-")
        gone = [f"{at}.{name}" for name in WORN_FIGURES if is_worn and row.get(name)]
        found[f"part {number}"] = _source(mechanics, [f"{at}.kind"], papers)
        for one in fields(part_of(row)):
            # A pack without a measured bind binds where its free length less its solid length is used up.
            name = "travel_m" if one.name == "bind_m" and not row.get("bind_m") else one.name
            if row.get(name):
                found[f"part {number}.{one.name}"] = _source(mechanics, [f"{at}.{name}", *gone], papers)
            elif one.name not in PART_FIGURES[row["kind"]]:
                found[f"part {number}.{one.name}"] = Source("method")
    return found


def _stop_sources(mechanics: Mapping[str, Any], papers: _Papers, *, alone: bool) -> dict[str, Source]:
    stop, found = mechanics.get("stop") or {}, {}
    for one in fields(StopLimits):
        own = f"emergency_{one.name}"
        name = own if alone and stop.get(own) else one.name
        if stop.get(name):
            found[f"limits.{one.name}"] = _source(mechanics, [f"stop.{name}"], papers)
    return found


def _source(document: Mapping[str, Any], paths: Sequence[str], papers: _Papers) -> Source:
    """Return the source of what is computed from the figures at these paths of one document."""
    path = paths[0]
    kind = _kind(document, path)
    found = list(dict.fromkeys(one for each in paths if (one := origin_at(papers.origins, each)) is not None))
    on = str(document.get("tension_date", "")) if path in ("tension_kn", "reference_c") else ""
    if not found:
        return Source(kind, papers.where, on)
    newest = max(found, key=lambda one: one.paper.number).paper
    told = "; ".join(dict.fromkeys(_paper_text(one) for one in found))
    return Source(kind, told, on or newest.entered_at.astimezone(papers.zone).date().isoformat())


def _paper_text(origin: Origin) -> str:
    said = f" (kind of source: version {origin.said.number}, {origin.said.source})" if origin.said else ""
    return f"version {origin.paper.number}, {origin.paper.source}{said}"


def _kind(document: Mapping[str, Any], path: str) -> str:
    if path in ("tension_kn", "reference_c"):
        return _TENSION_KIND.get(document.get("tension_how", ""), "paper")
    if path.startswith("calibration."):
        return "calibrated"
    group, _dot, _name = path.rpartition(".")
    said = _given(document, f"{group}.given_by") if group else ""
    return str(said or "paper")


def _given(document: Mapping[str, Any], path: str) -> Any:
    """Return what is entered at a path of a document; a brake is found by its slot."""
    found: Any = document
    for step in path.split("."):
        if isinstance(found, list):
            found = next((one for one in found if one.get("slot") == step), None)
        else:
            found = found.get(step)
        if not found:
            return ""
    return found
