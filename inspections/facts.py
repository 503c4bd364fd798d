"""From the picture of a day to the facts that clearance is computed from, and the status that people are shown."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _

from courses import documents
from courses.models import Place
from engineering import clearance as rules
from engineering.ballast import RideFact
from inspections import band
from inspections.control import FINDING_KEY
from inspections.figures import number
from inspections.models import Finding, SignOff, Verdict
from inspections.newest import by_time, newest_two
from inspections.phones import HOLDS, holding
from inspections.picture import RACK, Picture, Section
from inspections.reopening import reopening_of
from inspections.wind_limits import posted_winds, ride_limit
from inspections.words import section_label

LINE_SLOTS = ("cable", "end-launch", "end-landing")
WIND_QUANTITIES = {"weather.wind_gust", "weather.wind_mean"}
OPEN, CLOSED = "open", "closed"


@dataclass(frozen=True)
class LineStatus:
    """What is shown of a line: its clearance, the manager's decision, and whether that still stands."""

    line: Place
    facts: rules.LineFacts
    clearance: rules.Clearance
    decision: str
    withdrawn: bool
    done: int
    of: int
    ended: bool = False  # the day was closed after the lines were opened

    @property
    def word(self) -> str:
        """One of open, limits, ready, held, closed. A hold that stands is said of a closed line too."""
        if self.decision == CLOSED and not (self.facts.holds or self.facts.owed):
            return "closed"
        if not self.clearance.is_ready:
            return "held"
        if self.decision == OPEN and not self.withdrawn:
            if self.ended:
                return "closed"
            return "limits" if self.clearance.limits.narrowed else "open"
        return "ready"

    @property
    def is_open(self) -> bool:
        return self.word in {"open", "limits"}


def line_statuses(picture: Picture, decisions: Mapping[str, str] | None = None) -> list[LineStatus]:
    """Return every line's status, riders who would be stranded taken into account until nothing changes any more.

    ``decisions`` asks how it would stand if these were signed now, {line id: open or closed}: riders would be stranded
    by a line that is closed in the very same signing, and not by one that is opened again in it. Without them an open
    line never has more than it was signed for.
    """
    facts = {line.pk: line_facts(picture, line, as_signed=decisions is None) for line in picture.setup.lines}
    results = {pk: rules.clearance(fact, picture.at) for pk, fact in facts.items()}
    for _round in facts:
        changed = False
        for line in picture.setup.lines:
            onward = _only_way_on(picture, line)
            if onward is None or facts[line.pk].stranded is not None:
                continue
            if (
                onward.pk not in results
                or not results[onward.pk].is_ready
                or _decision(picture, onward, decisions) == CLOSED
                or (decisions is None and _taken_back(picture, onward))
            ):
                platform = picture.setup.places[line.landing_id]  # type: ignore[index]
                facts[line.pk] = rules.with_stranding(facts[line.pk], str(platform), str(onward))
                results[line.pk] = rules.clearance(facts[line.pk], picture.at)
                changed = True
        if not changed:
            break
    return [_status(picture, line, facts[line.pk], results[line.pk]) for line in picture.setup.lines]


def _status(picture: Picture, line: Place, facts: rules.LineFacts, result: rules.Clearance) -> LineStatus:
    sections = picture.sections(line)
    done = sum(1 for section in sections if section.signed and _answered(picture, section))
    today = any(ride.day_id == getattr(picture.day, "pk", None) for ride in picture.rides_of(line))
    again = any(reason.code in rules.RIDE_AGAIN for reason in rules.ride_reasons(facts))
    closing, signed = picture.closing, picture.sign_off
    return LineStatus(
        line,
        facts,
        result,
        _decided(picture, line),
        _withdrawn_since(picture, line),
        done + (today and not again),
        len(sections) + 1,
        closing is not None and signed is not None and closing.seq > signed.seq,
    )


def _answered(picture: Picture, section: Section) -> bool:
    """Tell whether nothing of a signed section has come up since, by work or a new part."""
    return all(picture.readings_of(section.place.pk, item["key"]) for item in section.items)


def _decided(picture: Picture, line: Place) -> str:
    sign_off = picture.sign_off
    return "" if sign_off is None else sign_off.lines.get(str(line.pk), {}).get("decision", "")


def _decision(picture: Picture, line: Place, decisions: Mapping[str, str] | None) -> str:
    return _decided(picture, line) if decisions is None else decisions.get(str(line.pk), "")


def _taken_back(picture: Picture, line: Place) -> bool:
    return _decided(picture, line) == OPEN and _withdrawn_since(picture, line)


def _withdrawn_since(picture: Picture, line: Place) -> bool:
    """Tell whether something after the signing took the opening back, so that it takes a new signing to open again."""
    sign_off: SignOff | None = picture.sign_off
    if sign_off is None:
        return False
    serious = (
        (finding.seq > sign_off.seq or (sign_off.from_paper and finding.opened_at > sign_off.signed_at))
        and bears_on(finding, line)
        and finding.severity != "minor"
        for finding in picture.findings
    )
    # A signature typed in from paper stands in the history after what came up since it was given.
    voided = (
        ride.voided_by is not None
        and (ride.voided_by > sign_off.seq or (sign_off.from_paper and ride.day.date == picture.date))
        for ride in picture.rides_of(line)
    )
    # What was not checked then is checked again by then, and was not when it was signed.
    needed = {line.pk, *(place.pk for place in places_of(picture, line))}
    racks = {sheet.pk for sheet in picture.sheets if sheet.section.startswith(RACK)}
    unchecked = (
        reading.verdict == Verdict.UNKNOWN
        and (reading.seq > sign_off.seq or (sign_off.from_paper and reading.read_at > sign_off.signed_at))
        and reading.place_id in needed
        and reading.severity != "minor"
        and reading.sheet_id not in racks
        for reading in picture.readings
    )
    return any(serious) or any(voided) or any(unchecked)


def _only_way_on(picture: Picture, line: Place) -> Place | None:
    """Return the line by which alone riders get off the landing platform, or None where they can walk off."""
    platform = picture.setup.places.get(line.landing_id)  # type: ignore[arg-type]
    way = picture.setup.document(platform).get("way_off", "") if platform else ""
    if not way.startswith("line:"):
        return None
    return next((other for other in picture.setup.lines if str(other.pk) == way.removeprefix("line:")), None)


def places_of(picture: Picture, line: Place) -> list[Place]:
    """Return the places that a line needs besides itself: its platforms, the course house, the gear store."""
    ends = [picture.setup.places[pk] for pk in (line.launch_id, line.landing_id) if pk in picture.setup.places]
    return [*ends, *picture.setup.houses, *picture.setup.stores]


def signed_limits(picture: Picture, line: Place) -> rules.ComputedFact | None:
    """Return what a line was opened for today by the signing in force; None where it is not open by one."""
    sign_off: SignOff | None = picture.sign_off
    if sign_off is None or _decided(picture, line) != OPEN or _withdrawn_since(picture, line):
        return None
    limits = sign_off.lines[str(line.pk)].get("limits", {})
    winds = ((name.removesuffix("_mps"), number(value)) for name, value in limits.get("wind", {}).items())
    return rules.ComputedFact(
        number(limits.get("mass_min_kg")),
        number(limits.get("mass_max_kg")),
        tuple((name, value) for name, value in winds if value is not None),
    )


def line_facts(picture: Picture, line: Place, *, as_signed: bool = True) -> rules.LineFacts:
    """Gather everything that bears on one line today; with ``as_signed`` what it was opened for bounds it too."""
    signed = signed_limits(picture, line) if as_signed else None
    setup = picture.setup
    document = setup.document(line)
    own = picture.sections(line)
    around = [section for place in places_of(picture, line) for section in picture.sections(place)]
    wind_limits = tuple(sorted(posted_winds(document).items()))
    winds = tuple(_winds(picture, line, wind_limits, signed))
    waits = reopening_of(setup.reopening).waits
    return rules.LineFacts(
        line=str(line.pk),
        gaps=tuple(_gaps(picture, line, document)),
        operating=picture.operating,
        retired=line.retired_at is not None and line.retired_at <= picture.at,
        sheets=(*_sheet_facts(own, before_ride=True), *_sheet_facts(around, before_ride=False)),
        items=tuple(_item_facts(picture, [*own, *around])),
        findings=tuple(_finding_facts(picture, line)),
        rides=tuple(_ride_facts(picture, line)),
        brakes=tuple(_brake_facts(picture, line, document)),
        holds=tuple(
            rules.HoldFact(
                str(hold.pk), hold.cause, str(hold.get_cause_display()), hold.renewed_at, waits.get(hold.cause)
            )
            for hold in picture.holds_on(line)
        ),
        owed=tuple(
            rules.OwedFact(one.kind in HOLDS, one.is_unknown and not one.is_out)
            for one in holding(picture.phones, picture.setup, line)
        ),
        winds=winds,
        wind_known=bool(winds),
        arrival_speed_mps=number(document.get("arrival_speed_mps")),
        posted_min_kg=number(document.get("mass_min_kg")),
        posted_max_kg=number(document.get("mass_max_kg")),
        wind_limits=wind_limits,
        signed=signed,
        computed=today.fact if (today := band.today_of(picture, line, signed)) else None,
    )


def ride_facts(picture: Picture, line: Place) -> rules.LineFacts:
    """Gather only what bears on the test rides of a line: its own sheets and the rides themselves."""
    sheets = tuple(_sheet_facts(picture.sections(line), before_ride=True))
    return rules.LineFacts(line=str(line.pk), sheets=sheets, rides=tuple(_ride_facts(picture, line)))


def _gaps(picture: Picture, line: Place, document: dict[str, Any]) -> Iterator[str]:
    setup = picture.setup
    checklist = setup.checklist(line)
    fitted = {item.slot for item in setup.at_place(line)}
    for gap in documents.line_gaps(
        document, fitted_slots=fitted, limits=setup.limits(line), checklist=checklist.content if checklist else None
    ):
        yield gap.label
    for place in places_of(picture, line):
        if setup.checklist(place) is None:
            yield _("A checklist for %(place)s") % {"place": place}
    for platform_id in (line.launch_id, line.landing_id):
        platform = setup.places.get(platform_id)  # type: ignore[arg-type]
        if platform is None:
            yield _("A platform in use")
            continue
        for gap in documents.platform_gaps(setup.document(platform)):
            yield f"{platform}: {gap.label}"


def _sheet_facts(sections: list[Section], *, before_ride: bool) -> Iterator[rules.SheetFact]:
    for section in sections:
        # The first signing of a section counts for the order of checks and ride; a later one for the same section
        # does not push an earlier ride out of order, but its readings count.
        first = section.sheets[0] if section.sheets else None
        yield rules.SheetFact(
            f"{section.place}: {section_label(section.name)}",
            first.signed_at if first else None,
            before_ride,
            f"{section.place.pk}/{section.name}",
            first.seq if first else 0,
        )


def _item_facts(picture: Picture, sections: list[Section]) -> Iterator[rules.ItemFact]:
    for section in sections:
        if not section.sheets:
            continue  # named as a missing sheet; thirty lines of "not checked" would say it worse
        for item in section.items:
            reading = picture.deciding(section.place, item["key"])
            yield rules.ItemFact(
                item["key"],
                f"{section.place}: {item['text']}",
                _severity(item),
                reading.verdict if reading else Verdict.UNKNOWN,
                str(reading.pk) if reading else f"{section.place.pk}/{section.name}",
            )


def _severity(item: dict[str, Any]) -> str:
    return "minor" if item.get("gear") else str(item["class"])


def bears_on(finding: Finding, line: Place) -> bool:
    """Tell whether a finding concerns this line: on itself, its platforms, or the houses that every line needs."""
    if finding.component is not None and (finding.component.is_pooled or finding.slot == "aside"):
        return False
    if finding.place.kind in {Place.Kind.HOUSE, Place.Kind.STORE}:
        return True
    return finding.place_id in {line.pk, line.launch_id, line.landing_id}


def _finding_facts(picture: Picture, line: Place) -> Iterator[rules.FindingFact]:
    fitted = {item.component.pk for item in picture.setup.at_place(line)}
    for finding in picture.open_findings():
        if finding.key.startswith(FINDING_KEY):
            continue  # the charts of the test rides only ask for a look: they hold no line and clear none
        fitted_here = finding.out_of_service and finding.component_id in fitted
        if not (fitted_here or bears_on(finding, line)):
            continue
        ruled = finding.ruling_until is not None and finding.ruling_until >= picture.date
        restriction = finding.ruling.get("restriction", {}) if ruled else {}
        # A part that is out of service holds the line it is fitted on, wherever and however it was found.
        severity = "critical" if fitted_here else finding.severity
        yield rules.FindingFact(
            str(finding.pk),
            finding.title,
            severity,
            finding.is_watch,
            finding.watch_until is not None and finding.watch_until >= picture.date,
            ruled,
            "" if finding.place_id == line.pk else str(finding.place),
            number(restriction.get("mass_max_kg")),
            number(restriction.get("mass_min_kg")),
        )


def _ride_facts(picture: Picture, line: Place) -> Iterator[RideFact]:
    document = picture.setup.document(line)
    slots = {*LINE_SLOTS, *(brake.get("slot", "") for brake in document.get("brakes", ()))}
    changed = [item.since for item in picture.setup.at_place(line) if item.slot in slots]
    for ride in picture.rides_of(line):
        mass = number(ride.mass)
        if mass is None:
            continue
        yield RideFact(
            str(ride.pk),
            ride.rode_at,
            ride.day.date == picture.date,
            mass,
            ride.verdict,
            ride.voided_by is None
            and ride.fields.get("kind") != "emergency"
            and all(ride.rode_at >= since for since in changed),
            ride.fields.get("reached", "yes") == "yes",
            (picture.date - ride.day.date).days,
            ride.seq,
        )


def _brake_facts(picture: Picture, line: Place, document: dict[str, Any]) -> Iterator[rules.BrakeFact]:
    broken = {
        finding.slot
        for finding in picture.open_findings(line)
        if finding.severity == "critical" and not finding.is_watch
    }
    for brake in document.get("brakes", ()):
        slot = brake.get("slot", "")
        # A gravity run-out is the shape of the line itself; there is nothing to fit.
        fitted = brake.get("kind") == "runout" or bool(picture.setup.at_slot(line, slot))
        failed = any(
            picture.worst(line, item["key"]) == Verdict.WITHDRAW
            for item in picture.items(line)
            if item["slot"] == slot and item["class"] == "critical"
        )
        yield rules.BrakeFact(
            slot,
            brake.get("role", ""),
            brake.get("kind", ""),
            fitted and slot not in broken and not failed,
            not brake.get("shares"),
        )


def _winds(
    picture: Picture,
    line: Place,
    limits: tuple[tuple[str, Decimal], ...],
    signed: rules.ComputedFact | None = None,
) -> Iterator[rules.WindFact]:
    """Yield the morning's wind readings against the line's limits.

    The course house reads one wind for all lines, without knowing how each lies to it: the lowest limit of the line is
    what it is held against. A test ride says from where the wind blew on this line: it is held against what the line
    was signed for too. Where the newest by its time and the newest to arrive are two, both count.
    """
    if not limits:
        return
    lowest = min(limit for _name, limit in limits)
    for house in picture.setup.houses:
        for item in picture.items(house):
            if item.get("measures") in WIND_QUANTITIES:
                readings = [r for r in picture.readings_of(house.pk, item["key"]) if number(r.value) is not None]
                for reading in newest_two(readings, lambda one: one.read_at):
                    yield rules.WindFact(_("at the course house"), Decimal(reading.value), lowest)
    today = [ride for ride in picture.rides_of(line) if ride.day.date == picture.date and ride.voided_by is None]
    read = [ride for ride in today if number(ride.fields.get("wind_mps")) is not None]
    timed, untimed = by_time(read)
    for ride in [*newest_two(timed, lambda one: one.rode_at), *untimed]:
        speed = Decimal(ride.fields["wind_mps"])
        limit = ride_limit(dict(limits), signed, str(ride.fields.get("wind_from", "")), speed)
        yield rules.WindFact(_("at the test ride"), speed, lowest if limit is None else limit)
