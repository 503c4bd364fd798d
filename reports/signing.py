"""What the manager is shown before signing: every line with what stands against opening it, and who signed what."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _

from courses.models import Place
from inspections.actions.signing import hands_on
from inspections.band_words import short_of
from inspections.explain import Said, held_by, said, sheet_address, state_of
from inspections.facts import OPEN, LineStatus, line_statuses
from inspections.measures import Shown
from inspections.models import Finding, FindingStep
from inspections.picture import Picture
from inspections.telling import disclosed, name
from inspections.views.board import band_of, wind_of, winds_of
from inspections.words import section_label


@dataclass(frozen=True)
class LineRow:
    line: Place
    status: LineStatus
    state: str
    reasons: list[Said]
    cautions: list[Said]
    hindrance: str  # why this person cannot open it, where nothing else stands against it
    together: str  # the line that has to be opened in the same signing, in a sentence
    band: Shown | None
    winds: list[tuple[str, Shown]]
    computed: str  # what the computation for today's wind narrows, in a sentence

    @property
    def may_open(self) -> bool:
        """Whether it can be opened in a signing that opens all that can be: what is chosen is judged by the action."""
        return self.status.clearance.is_ready and not self.hindrance


def meaning() -> str:
    """Return what the signature means, in words that are shown before it and stand in the record."""
    return _(
        "I read today's sheets, findings, test rides and the weather, and I decide for every line named here whether "
        "it is open today."
    )


def paper_meaning() -> str:
    """Return what typing in a signature that was given on paper means."""
    return _(
        "I typed in what two people signed on the paper on the photo: for every line named here whether it was open. "
        "I read the sheets of that day."
    )


def line_rows(picture: Picture, ref: str, *, inspects: bool = False) -> list[LineRow]:
    """Return every line as it would stand if all that can be opened were opened in this signing.

    Lines that depend on each other are so brought back together. ``state`` is how the line stands now.
    """
    own = own_lines(picture, ref)
    now = {status.line.pk: status for status in line_statuses(picture)}
    together = {str(line.pk): OPEN for line in picture.setup.lines}
    rows = []
    for status in line_statuses(picture, together):
        clearance = status.clearance
        standing = now[status.line.pk]
        reasons = held_by(picture, status)
        rows.append(
            LineRow(
                status.line,
                status,
                state_of(standing),
                [said(picture, one, line=status.line, inspects=inspects) for one in reasons],
                [said(picture, one, line=status.line, inspects=inspects) for one in clearance.cautions],
                _("You inspected or worked on this line today. Somebody else opens it.")
                if status.line.pk in own
                else "",
                _together(standing) if clearance.is_ready else "",
                band_of(clearance.limits, picture.course.units) if clearance.is_ready else None,
                winds_of(clearance.limits, picture.course.units) if clearance.is_ready else [],
                short_of(picture, status.line, as_signed=False) if clearance.is_ready else "",
            )
        )
    return rows


def _together(standing: LineStatus) -> str:
    stranded = next((one for one in standing.clearance.reasons if one.code == "stranded"), None)
    if stranded is None:
        return ""
    return _("Only together with %(line)s: it is the only way off %(place)s.") % dict(stranded.params)


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


WIND_OLD = 60  # minutes; judgement: what was read longer ago says little of the wind in which riders start


def wind_age(picture: Picture) -> int | None:
    """Return how many minutes ago the wind was read, where that is so long that it wants reading again."""
    read = wind_of(picture)
    minutes = int((picture.at - read["at"]).total_seconds()) // 60 if read else 0
    return minutes if minutes > WIND_OLD else None


def wind_told(judged: Mapping[str, Any]) -> list[str]:
    """Return what the manager had said of a wind that was read long before the day was signed; mostly nothing."""
    said = str(judged.get("wind_told", ""))
    return [_("The wind was read long before. The manager had ticked: %(said)s") % {"said": said}] if said else []


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


def unsigned(picture: Picture, *, inspects: bool = False) -> Iterator[dict[str, str]]:
    """Yield the sheets that are due today and that nobody has signed, with the page on which they are filled in."""
    setup = picture.setup
    for place in (*setup.houses, *setup.stores, *setup.platforms, *setup.lines):
        for section in picture.sections(place):
            if section.items and not section.sheets:
                yield {
                    "sentence": f"{place}: {section_label(section.name)}",
                    "url": sheet_address(picture, place, section.name, inspects=inspects),
                }
