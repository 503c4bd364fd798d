"""What the manager is shown before signing: every line with what stands against opening it, and who signed what."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.urls import reverse
from django.utils.translation import gettext as _

from courses.models import Place
from inspections.actions.signing import hands_on
from inspections.explain import Said, said, state_of
from inspections.facts import LineStatus, line_statuses
from inspections.models import Finding, FindingStep
from inspections.picture import Picture
from inspections.telling import disclosed, name
from inspections.views.board import band_of, winds_of


@dataclass(frozen=True)
class LineRow:
    line: Place
    status: LineStatus
    state: str
    reasons: list[Said]
    cautions: list[Said]
    hindrance: str  # why this person cannot open it, where nothing else stands against it
    band: str
    winds: list[tuple[str, str]]

    @property
    def may_open(self) -> bool:
        return self.status.clearance.is_ready and not self.hindrance


def meaning() -> str:
    """Return what the signature means, in words that are shown before it and stand in the record."""
    return _(
        "I read today's sheets, findings, test rides and the weather, and I decide for every line named here whether "
        "it is open today."
    )


def line_rows(picture: Picture, ref: str) -> list[LineRow]:
    own = own_lines(picture, ref)
    rows = []
    for status in line_statuses(picture):
        clearance = status.clearance
        rows.append(
            LineRow(
                status.line,
                status,
                state_of(status),
                [said(picture, one) for one in clearance.reasons],
                [said(picture, one) for one in clearance.cautions],
                _("You inspected or worked on this line today. Somebody else opens it.")
                if status.line.pk in own
                else "",
                band_of(clearance.limits) if clearance.is_ready else "",
                winds_of(clearance.limits) if clearance.is_ready else [],
            )
        )
    return rows


def own_lines(picture: Picture, ref: str) -> set[Any]:
    """Return the lines on which this person had a hand today; only where there is a trace is it asked line by line."""
    touched = set(
        FindingStep.objects.filter(
            finding__course=picture.course, on=picture.date, person_ref=ref, kind__in=["work", "reinspection"]
        ).values_list("finding__place_id", flat=True)
    )
    touched |= {sheet.place_id for sheet in picture.sheets if sheet.signer_ref == ref}
    touched |= {ride.place_id for ride in picture.rides if ride.signer_ref == ref}
    return {
        line.pk
        for line in picture.setup.lines
        if touched & {line.pk, line.launch_id, line.landing_id} and hands_on(picture, line, ref)
    }


def watches(picture: Picture) -> list[Finding]:
    """Return the watches that nobody has decided on, or whose date is over."""
    return [
        finding
        for finding in picture.open_findings()
        if finding.is_watch and (finding.watch_until is None or finding.watch_until < picture.date)
    ]


def signers(picture: Picture) -> list[dict[str, Any]]:
    """Return who signed what today: sheets and test rides for each person, with the time of the last."""
    rides = [ride for ride in picture.rides if ride.day.date == picture.date]
    names = disclosed([*(one.signer_commit for one in picture.sheets), *(one.signer_commit for one in rides)])
    signed = [(one.signer_ref, one.signer_commit, one.signed_at, "sheets") for one in picture.sheets]
    signed += [(one.signer_ref, one.signer_commit, one.rode_at, "rides") for one in rides]
    found: dict[str, dict[str, Any]] = {}
    for ref, commit, at, kind in signed:
        row = found.setdefault(ref, {"name": name(names, commit), "sheets": 0, "rides": 0, "last": at})
        row[kind] += 1
        row["last"] = max(row["last"], at)
    return sorted(found.values(), key=lambda row: row["name"])


def unsigned(picture: Picture) -> Iterator[dict[str, str]]:
    """Yield the sheets that are due today and that nobody has signed, with the page on which they are filled in."""
    from inspections.words import section_label

    setup = picture.setup
    for place in (*setup.houses, *setup.stores, *setup.platforms, *setup.lines):
        for section in picture.sections(place):
            if section.items and not section.sheets:
                yield {
                    "sentence": f"{place}: {section_label(section.name)}",
                    "url": reverse("inspections:walk", args=[picture.course.pk]),
                }
