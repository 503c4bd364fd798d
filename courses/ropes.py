"""From what is entered about a cable or rope to the rope that the criteria are asked about. Pure."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from fractions import Fraction
from typing import Any

from engineering.exact import parse_exact
from engineering.rope import Rope

CORES = {"steel": "IWRC", "fibre": "FC"}
# A socket is taken for the weaker kind, and an end that nobody has a figure for leaves the strength unknown.
ENDS = {"clips": "clips", "sleeve": "swaged", "socket": "wedge_socket", "wrap": "wrap"}


def rope_of(
    cable: Mapping[str, Any],
    certificate: Mapping[str, Any],
    *,
    ends: Iterable[Mapping[str, Any]] = (),
    rope_class: str = "standing",
) -> Rope | None:
    """Return the rope that the line's data and the component's certificate describe; None without a diameter.

    The certificate goes before the line's data: it is about this very rope.
    """
    given = {**cable, **certificate}
    if not given.get("diameter_mm"):
        return None
    grade = re.search(r"[0-9]{4}", given.get("grade", ""))
    return Rope(
        diameter_mm=parse_exact(given["diameter_mm"]),
        construction=given.get("construction", ""),
        core=CORES.get(given.get("core", ""), ""),
        grade=int(grade.group()) if grade else None,
        rope_class=rope_class,
        lay=given.get("lay", ""),
        rotation_resistant={"yes": True, "no": False}.get(given.get("rotation_resistant", "")),
        ends=tuple(ENDS[end["kind"]] for end in ends if end.get("kind") in ENDS),
        mbf_kn=_number(given, "mbf_kn"),
        wires_total=_whole(given, "wires_total"),
        wires_load=_whole(given, "wires_load"),
        wires_strand=_whole(given, "wires_strand"),
        iso_row_wires=_whole(given, "iso_row_wires"),
        outer_wire_mm=_number(given, "outer_wire_mm"),
    )


def _number(given: Mapping[str, Any], name: str) -> Fraction | None:
    return parse_exact(given[name]) if given.get(name) else None


def _whole(given: Mapping[str, Any], name: str) -> int | None:
    return int(given[name]) if given.get(name) else None
