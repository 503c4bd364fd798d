"""Since which version each figure of a line stands unchanged: walked back through the versions that were in force.

A version names one source, and changes a few figures of many: the others are still from the paper of an earlier one.
What a version was preceded by never changes once it is confirmed, so it is read once per process; what is in force is
asked anew each time.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from courses.models import Version
from courses.shapes import TYPED

MOST = 2_000
# What is said together is one figure: a tension at its temperature, a drag area with its meaning, a whole calibration.
TENSION = ("tension_kn", "reference_c", "tension_date", "tension_how")
CALIBRATION = ("calibration.rides", "calibration.least_kg", "calibration.most_kg", "calibration.interval_mps",
               "calibration.on", "calibration.left_out", "calibration.left_why")  # fmt: skip
TOGETHER: Mapping[str, Sequence[str]] = {
    **dict.fromkeys(TENSION, TENSION),
    **dict.fromkeys(CALIBRATION, CALIBRATION),
    "rider.drag_area_m2": ("rider.by_weight",),
}
CALIBRATED = "calibrated"


@dataclass(frozen=True)
class Paper:
    """One version as what it is a figure's source by: its number, its source in words, when it was entered."""

    pk: UUID
    number: int
    source: str
    entered_at: datetime


@dataclass(frozen=True)
class Origin:
    """``paper``: the version since which a figure stands. ``said``: a later one that said anew what kind of source it
    has, the figure unchanged; None where none did.
    """

    paper: Paper
    said: Paper | None = None


Origins = Mapping[str, Origin]
_known: dict[UUID, Origins] = {}


def of_versions(versions: Iterable[Version | None]) -> dict[UUID, Origins]:
    """Return by version where each of its figures is from, by the figure's path; in one query for those not read yet.

    A path is written as ``courses.shapes.Said`` writes it: ``cable.stiffness_kn``, ``parts.primary-1.start_m``.
    """
    asked = [one for one in versions if one is not None]
    kept = {one.pk: known for one in asked if (known := _known.get(one.pk)) is not None}
    missing = [one for one in asked if one.pk not in kept]
    fresh: dict[UUID, Origins] = {}
    if missing:
        rows = Version.objects.filter(subject__in={one.subject for one in missing}, from_at__isnull=False)
        chains: dict[str, list[Version]] = {}
        for row in rows.order_by("number"):
            chains.setdefault(row.subject, []).append(row)
        fresh = {one.pk: origins_of(one, chains.get(one.subject, ())) for one in missing}
        if len(_known) + len(fresh) > MOST:
            _known.clear()
        # What precedes a proposal may still be decided.
        _known.update({one.pk: fresh[one.pk] for one in missing if one.confirmed_at is not None})
    return kept | fresh


def origins_of(version: Version, confirmed: Iterable[Version]) -> Origins:
    """Return where each figure of a version is from, by its path. ``confirmed`` are versions of the same subject.

    A version that a higher one overtook before it began was never in force and is no source of anything.
    """
    below = [one for one in confirmed if one.number < version.number and one.from_at is not None]
    chain = [(version, flat(version.content))]
    begun = version.from_at
    for one in sorted(below, key=lambda one: -one.number):
        if begun is None or (one.from_at is not None and one.from_at < begun):
            chain.append((one, flat(one.content)))
            begun = one.from_at
    return {path: _origin(path, chain) for path in chain[0][1]}


def origin_at(origins: Origins, path: str) -> Origin | None:
    """Return where what stands at a path is from; of a whole row or part, where its newest figure is from."""
    if path in origins:
        return origins[path]
    inside = [one for at, one in origins.items() if at.startswith(f"{path}.")]
    return max(inside, key=lambda one: one.paper.number, default=None)


def flat(content: Mapping[str, Any]) -> dict[str, Any]:
    """Return every figure of a document by its path; how it was typed is no figure.

    >>> flat({"cable": {"mbf_kn": "101"}, "brakes": [{"slot": "primary-1", "kind": "spring"}], "drop_m_typed": "4 ft"})
    {'cable.mbf_kn': '101', 'brakes.primary-1.kind': 'spring'}
    """
    found: dict[str, Any] = {}
    _flatten("", content, found)
    return found


def forget() -> None:
    """Forget everything that was read."""
    _known.clear()


def _flatten(path: str, value: Any, into: dict[str, Any]) -> None:
    if isinstance(value, Mapping):
        for key, one in value.items():
            if not key.endswith(TYPED) and not (key == "slot" and path):
                _flatten(f"{path}.{key}" if path else key, one, into)
    elif isinstance(value, list) and value and all(isinstance(one, Mapping) for one in value):
        for number, one in enumerate(value):
            _flatten(f"{path}.{one.get('slot', number)}", one, into)
    else:
        into[path] = value


def _origin(path: str, chain: Sequence[tuple[Version, Mapping[str, Any]]]) -> Origin:
    now = chain[0][1]
    kind = _kind_path(path)
    with_it = [path, *TOGETHER.get(path, ())]
    if kind != path and now.get(kind) == CALIBRATED:
        with_it += CALIBRATION
    if path.startswith("parts."):
        with_it.append(f"{path.rpartition('.')[0]}.kind")
    since = said = chain[0][0]
    is_said = True
    for version, before in chain[1:]:
        if any(before.get(one) != now.get(one) for one in with_it):
            break
        since = version
        is_said = is_said and before.get(kind) == now.get(kind)
        said = version if is_said else said
    return Origin(_paper(since), _paper(said) if said.pk != since.pk else None)


def _kind_path(path: str) -> str:
    """Return where it is said what kind of source a figure has; of the line's own figures nowhere."""
    group, dot, _name = path.rpartition(".")
    return f"{group}.given_by" if dot else ""


def _paper(version: Version) -> Paper:
    return Paper(version.pk, version.number, version.source, version.proposed_at)
