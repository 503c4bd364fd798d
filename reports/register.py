"""What the register says of one component, as it is read in the history: its data in force, with date and source."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from courses import sizes, wording
from courses.models import Component, Course, Place, Version
from courses.queries import history_of, subject_of, versions_in_force
from courses.shapes import Said


@dataclass(frozen=True)
class Register:
    """``version`` in force (None before any was), its content in words by section, and how many versions there are.

    ``makers``: the lines that it was fitted on, each with what their own data say of maker and serial number.
    """

    version: Version | None
    groups: list[tuple[str, list[Said]]]
    count: int
    makers: list[tuple[Place, list[Said]]]

    @property
    def content(self) -> dict[str, Any]:
        return self.version.content if self.version else {}

    @property
    def has_maker(self) -> bool:
        return bool(self.content.get("maker_note"))


def register_of(course: Course, component: Component, lines: Iterable[Place], *, at: datetime) -> Register:
    """Read what is in force of a component at ``at``; at most three queries.

    A proposal that nobody confirmed yet, and one that counts from tomorrow, are not in it.
    """
    versions = history_of(subject_of(Version.Kind.COMPONENT, component.pk))
    begun = [one for one in versions if one.from_at is not None and one.from_at <= at]
    current = begun[0] if begun else None
    groups = wording.grouped(Version.Kind.COMPONENT, current.content, names=sizes.words()) if current else []
    return Register(current, groups, len(versions), list(_makers(course, lines, at)))


def _makers(course: Course, lines: Iterable[Place], at: datetime) -> Iterable[tuple[Place, list[Said]]]:
    by_subject = {subject_of(Version.Kind.LINE, line.pk): line for line in lines}
    if not by_subject:
        return
    found = versions_in_force(course, at, about=list(by_subject))
    for subject, line in by_subject.items():
        content = found[subject].content if subject in found else {}
        told = {name: content[name] for name in ("maker", "serial") if content.get(name)}
        yield line, wording.lines_of(Version.Kind.LINE, told, names={})
