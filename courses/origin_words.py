"""From which versions the figures of a line are, in words: figure by figure for a page, paper by paper for a record."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as L

from courses import origins, slots, wording
from courses.models import Version
from courses.origins import Origins, Paper
from courses.shapes import Said

# Nothing is computed from these: what test rides are compared with, and what is told of the tension in words.
NOT_COMPUTED = ("chart", "struck", "tension_date", "tension_how")
# Of the line's data only these are computed with.
OF_LINE = ("drop_m", "cable.mbf_kn", "mass_min_kg", "mass_max_kg", "wind.head_mps", "wind.tail_mps", "brakes")
LABELS = {Version.Kind.LINE: L("Line data"), Version.Kind.MECHANICS: L("Mechanics")}


@dataclass(frozen=True)
class From:
    """What stands beside a figure: the version that it is from, to be linked, its paper and day; ``said`` is one more.

    ``said``, a version in words, is empty unless it said anew what kind of source the figure has.
    """

    pk: UUID
    number: int
    words: str
    said: str = ""


@dataclass(frozen=True)
class Section:
    """One section of a document: its lines with where each is from, or ``whole`` where all are from one version."""

    name: str
    lines: Sequence[tuple[Said, From | None]]
    whole: From | None


def paper_told(paper: Paper, zone: Any) -> str:
    """Return a version in words: its number, its source, the day on which it was entered."""
    return _("version %(number)s, from %(source)s, of %(day)s") % {
        "number": paper.number,
        "source": paper.source,
        "day": _day(paper, zone),
    }


def _day(paper: Paper, zone: Any) -> str:
    return date_format(paper.entered_at.astimezone(zone).date(), "j F Y")


def traced(data: Sequence[tuple[str, Sequence[Said]]], found: Origins, zone: Any) -> list[Section]:
    """Put beside each line of a document where it is from. ``data`` is of ``courses.wording.grouped``."""
    made = []
    for name, lines in data:
        rows = [(line, _from(found, line.path, zone)) for line in lines]
        together = {beside for _line, beside in rows}
        whole = rows[0][1] if len(together) == 1 and len(rows) > 1 else None
        made.append(Section(name, rows, whole))
    return made


def papers_told(versions: Sequence[Version | None], zone: Any) -> list[tuple[str, str]]:
    """Return what was computed from, paper by paper: the document, and the version with the figures that are from it.

    The version in force comes first in any case; what most figures are from stands as "all other figures".
    """
    known = origins.of_versions(versions)
    line = next((one for one in versions if one is not None and one.kind == Version.Kind.LINE), None)
    names = _slot_names(line.content if line else {})
    told = []
    for version in versions:
        if version is not None:
            label = str(LABELS[Version.Kind(version.kind)])
            told += [(label, words) for words in _of_document(version, known[version.pk], names, zone)]
    return told


def _of_document(version: Version, found: Origins, names: Mapping[str, str], zone: Any) -> list[str]:
    by_paper: dict[Paper, list[Said]] = {}
    lines = wording.lines_of(version.kind, version.content, names=names)
    computed = [line for line in lines if _is_computed(version.kind, line.path)]
    for line in computed:
        origin = origins.origin_at(found, line.path)
        if origin is not None:
            by_paper.setdefault(origin.paper, []).append(line)
    now = Paper(version.pk, version.number, version.source, version.proposed_at)
    if set(by_paper) <= {now}:
        return [paper_told(now, zone)]
    most = max(by_paper, key=lambda one: len(by_paper[one]))
    rows = [paper_told(now, zone)] if now not in by_paper else []
    for paper in sorted(by_paper, key=lambda one: -one.number):
        what = _("all other figures") if paper == most else _what(by_paper[paper], computed)
        rows.append(f"{what}: {paper_told(paper, zone)}")
    return rows


def _what(lines: Sequence[Said], computed: Sequence[Said]) -> str:
    """Name figures; those of a section that are all from one paper by the section's name."""
    found: dict[str, None] = {}
    for line in lines:
        whole = [one for one in computed if one.section == line.section]
        inside = bool(line.section) and all(one in lines for one in whole)
        label = f"{line.section}: {line.label}" if line.section and line.section != line.label else line.label
        found[line.section if inside else label] = None
    return ", ".join(found)


def _is_computed(kind: str, path: str) -> bool:
    if kind == Version.Kind.MECHANICS:
        return path.partition(".")[0] not in NOT_COMPUTED and not path.endswith("given_by")
    return any(path == one or path.startswith(f"{one}.") for one in OF_LINE)


def _from(found: Origins, path: str, zone: Any) -> From | None:
    origin = origins.origin_at(found, path)
    if origin is None:
        return None
    said = paper_told(origin.said, zone) if origin.said else ""
    paper = origin.paper
    words = _("from %(source)s, of %(day)s") % {"source": paper.source, "day": _day(paper, zone)}
    return From(paper.pk, paper.number, words, said)


def _slot_names(line: Mapping[str, Any]) -> dict[str, str]:
    kinds = {brake["slot"]: brake.get("kind", "") for brake in line.get("brakes", [])}
    return {f"slot:{slot}": slots.words_for(slot, kinds) for slot in kinds}
