"""Everything that stands in the history about one day of one course, read in a fixed number of queries."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import Q
from django.utils.dateparse import parse_datetime
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from courses import calendar
from courses.models import Course, Place, Version
from courses.queries import calendar_versions, subject_of, versions_in_force
from inspections.entries import said_apart
from inspections.lifting import told_commits, told_of
from inspections.measures import has_unit, in_both, shown_travel, shown_weights
from inspections.models import (
    Closing,
    Day,
    Finding,
    FindingStep,
    Hold,
    Paper,
    Reading,
    Ride,
    Sheet,
    SignOff,
    Verdict,
)
from inspections.phone_words import signed_while
from inspections.telling import details_of, disclosed, is_retiring, looks_of, name, step_sentence, tags_of
from inspections.words import section_label
from ledger.models import Entry
from ledger.reading import at_one_moment
from reports.signing import wind_told

NO_SHEETS = {"ride", "gear"}  # rides are told by themselves, and gear is signed by the rack
KINDS = ("house", "store", "platform", "line")


@dataclass
class PastDay:
    """One day as it is read; times are instants, names are resolved, erased ones say so."""

    date: date
    opens_at: datetime | None
    expected_at: datetime | None
    sign_offs: list[dict[str, Any]]
    places: list[dict[str, Any]]
    rides: list[dict[str, Any]]
    findings: list[dict[str, Any]]
    holds: list[dict[str, Any]]
    closings: list[dict[str, Any]]
    papers: list[Paper]
    newest_revision: int
    changes: list[dict[str, Any]]

    @property
    def is_empty(self) -> bool:
        return not (self.sign_offs or self.places or self.rides or self.findings or self.holds)


def _is_replaced(paper: Paper, newest: int) -> bool:
    """Tell whether the signature that a paper was drawn for was replaced by a later revision of the day."""
    return paper.sign_off is not None and paper.sign_off.revision < newest


@at_one_moment()
def past_day(course: Course, on: date, *, at: datetime) -> PastDay:
    """Read one day as known at ``at``. A day without entries is there too, with what the calendar expected.

    What is held now is no matter of a day that has not begun.
    """
    start = calendar.day_start(on, course.zone, course.day_change_hour)
    end = calendar.day_start(on + timedelta(days=1), course.zone, course.day_change_hour)
    places = {place.pk: place for place in Place.objects.filter(course=course)}
    row = Day.objects.filter(course=course, date=on).first()
    in_day: dict[str, Any] = {"day": row} if row else {"pk__isnull": True}
    sheets = list(Sheet.objects.filter(**in_day).order_by("seq"))
    readings = list(Reading.objects.filter(**in_day).select_related("component").order_by("seq", "position"))
    rides = list(Ride.objects.filter(**in_day).order_by("place__number", "seq"))
    sign_offs = list(SignOff.objects.filter(**in_day).order_by("revision"))
    closings = list(Closing.objects.filter(**in_day).order_by("seq"))
    papers = list(
        Paper.objects.filter(course=course)
        .filter(Q(sign_off__in=sign_offs) | Q(made_at__gte=start, made_at__lt=end, sign_off__isnull=True))
        .select_related("sign_off", "place")
        .order_by("seq")
    )
    newest = max((one.revision for one in sign_offs), default=0)
    steps = list(FindingStep.objects.filter(finding__course=course, on=on).order_by("seq"))
    told = {step.finding_id for step in steps}
    ended = min(at, end) if start <= at else start
    still_open = Q(opened_at__lt=ended) & (Q(released_at__isnull=True) | Q(released_at__gte=ended))
    known = list(
        Finding.objects.filter(Q(pk__in=told) | still_open, course=course)
        .select_related("place", "component")
        .order_by("seq")
    )
    findings, still = [one for one in known if one.pk in told], _open_at(known, ended)
    holds = []
    if start <= at:
        called = Hold.objects.filter(course=course, called_at__lt=end).order_by("seq")
        holds = list(called.filter(Q(called_at__gte=start) | Q(lifted_at__isnull=True) | Q(lifted_at__gte=start)))
    versions = list(
        Version.objects.filter(course=course, kind=Version.Kind.CALENDAR, confirmed_at__gte=start, confirmed_at__lt=end)
        .select_related("proposed_by")
        .order_by("confirmed_at")
    )
    names = disclosed(
        [
            *(commit for one in sheets for commit in (one.signer_commit, one.reason_commit)),
            *(commit for one in readings for commit in (one.note_commit, one.reason)),
            *(commit for one in rides for commit in (one.signer_commit, one.fields.get("landing_clear", ""))),
            *(one.signer_commit for one in sign_offs),
            *(commit for one in closings for commit in (one.signer_commit, one.note_commit)),
            *(commit for one in steps for commit in (one.person_commit, one.note_commit, one.detail.get("made_by"))),
            *(commit for one in holds for commit in (one.called_by_commit, one.note_commit, *told_commits(one))),
        ]
    )
    entries = {
        row.seq: row
        for row in Entry.objects.filter(
            log=course.operator.log_id,
            seq__in=[
                *(one.seq for one in sign_offs),
                *(one.seq for one in sheets),
                *(one.seq for one in rides),
                *(one.seq for one in holds),
                *(one.seq for one in steps),
                *(one.lifted_seq for one in holds if one.lifted_seq),
            ],
        )
    }  # fmt: skip
    for signed in (*sheets, *rides, *holds):
        signed.said_at = said_apart(entries[signed.seq].record)  # type: ignore[attr-defined]
    lifted = {one.pk: entries[one.lifted_seq].record["act"] for one in holds if one.lifted_seq in entries}
    names |= disclosed(
        commit
        for act in lifted.values()
        for commit in (act["signer"]["commit"], act.get("note", ""), act.get("detail", {}).get("authority", ""))
    )
    calendars = calendar_versions(course)
    expected = dict(calendar.expected(calendars, on, on, course.zone, course.day_change_hour))[on]
    return PastDay(
        date=on,
        opens_at=row.opens_at if row else expected,
        expected_at=expected,
        sign_offs=[
            _sign_off(one, places, papers, names, course.units) | _entered(entries[one.seq], course.zone)
            for one in sign_offs
        ],
        places=[
            _with_open(one, still.get(one["place"].pk, []))
            for one in _places(
                sheets,
                readings,
                places,
                names,
                _daily(course, places, row.opens_at if row else None),
                _daily(course, places, ended),
            )
        ],
        rides=[
            {
                "ride": one,
                "line": places.get(one.place_id),
                "figures": _figures(one, course.units),
                "who": name(names, one.signer_commit),
                "clear_by": _note(names, one.fields.get("landing_clear", "")),
                "said": [j.get("sentence", "") for j in one.judgements if j["verdict"] != "ok"],
            }
            for one in rides
        ],
        findings=list(_findings(findings, steps, names, entries)),
        holds=[
            {
                "hold": one,
                "line": places.get(one.place_id) if one.place_id else None,
                "who": name(names, one.called_by_commit),
                "note": _note(names, one.note_commit),
                "told": [told for told in told_of(one, names) if told["who"]],
                "lifted": _lifted(lifted.get(one.pk), names),
            }
            for one in holds
        ],
        closings=[
            {
                "closing": one,
                "who": name(names, one.signer_commit),
                "note": _note(names, one.note_commit),
                "riders": [(places.get(_uuid(key)), count) for key, count in one.riders.items()],
            }
            for one in closings
        ],
        # The newest first: what was replaced comes last, and says so.
        papers=sorted(papers, key=lambda one: (_is_replaced(one, newest), one.seq)),
        newest_revision=newest,
        changes=[{"version": one, "late": _is_late(one, expected)} for one in versions],
    )


def _uuid(text: str) -> Any:
    from uuid import UUID

    return UUID(text)


def _note(names: dict[str, str], commit: str) -> str:
    return names.get(commit, _("note erased")) if commit else ""


def _is_late(version: Version, opens_at: datetime | None) -> bool:
    """Tell whether a change of the calendar came after the course should have been open by the calendar before it."""
    return opens_at is not None and version.confirmed_at is not None and version.confirmed_at > opens_at


def _entered(entry: Entry, zone: ZoneInfo) -> dict[str, Any]:
    """Return the check value of a signature's entry, what it says of phones, and of the paper it was given on."""
    act = entry.record["act"]
    signers = act.get("on_paper", {}).get("signers", ())
    names = disclosed([one["commit"] for one in signers]) if signers else {}
    return {
        "hash": bytes(entry.leaf_hash).hex(),
        "paper_photo": act.get("paper", ""),
        "paper_signers": [name(names, one["commit"]) for one in signers],
        "typed_at": parse_datetime(entry.record["t"]),
        "phones": [
            *signed_while(entry.record.get("judged", {}).get("phones", ()), entry.t, zone),
            *wind_told(entry.record.get("judged", {})),
        ],
    }


def _sign_off(
    one: SignOff, places: dict[Any, Place], papers: list[Paper], names: dict[str, str], units: str
) -> dict[str, Any]:
    lines = []
    for key, decided in one.lines.items():
        line = places.get(_uuid(key))
        limits = decided.get("limits", {})
        state = (
            "closed_today"
            if decided.get("decision") != "open"
            else "open_with_limits"
            if limits.get("narrowed")
            else "open"
        )
        band = (
            str(shown_weights(limits["mass_min_kg"], limits["mass_max_kg"], units))
            if limits.get("mass_min_kg") and limits.get("mass_max_kg")
            else ""
        )
        lines.append({"line": line, "state": state, "band": band, "reasons": decided.get("reasons", [])})
    lines.sort(key=lambda row: row["line"].number if row["line"] else 0)
    return {
        "sign_off": one,
        "who": name(names, one.signer_commit),
        "lines": lines,
        "opened": any(row["state"] != "closed_today" for row in lines),
        "narrower": any(row["state"] == "open_with_limits" for row in lines),
        "papers": [paper for paper in papers if paper.sign_off_id == one.pk],
    }


def _figures(ride: Ride, units: str) -> dict[str, str]:
    """Return what a test ride measured in the units of the course; empty where it was not measured."""
    wind = ride.fields.get("wind_mps")
    return {
        "mass": in_both(ride.mass, "kg", units),
        "wind": in_both(wind, "m/s", units) if wind else "",
        "speed": in_both(ride.speed, "m/s", units) if ride.speed else "",
        "stroke": shown_travel(ride.stroke_used, ride.stroke_available, units),
    }


def _daily(course: Course, places: dict[Any, Place], at: datetime | None) -> dict[Any, dict[str, set[str]]]:
    """Return what was due at each place every day, by the checklists in force at an instant: section -> its items."""
    if at is None:
        return {}
    used = [place for place in places.values() if place.retired_at is None or place.retired_at > at]
    subjects = {subject_of(Version.Kind.CHECKLIST, place.pk): place.pk for place in used}
    found = {}
    for version in versions_in_force(course, at, about=list(subjects)).values():
        sections: dict[str, set[str]] = {}
        for item in version.content["items"]:
            if str(item["every"]) == "1" and item["sheet"] not in NO_SHEETS:
                sections.setdefault(item["sheet"], set()).add(item["key"])
        found[subjects[version.subject]] = sections
    return found


def _open_at(findings: list[Finding], then: datetime) -> dict[Any, list[Finding]]:
    """Return by place those of the findings that were open at an instant, what is out of service first."""
    found: dict[Any, list[Finding]] = {}
    for one in sorted(findings, key=lambda one: (not one.out_of_service, one.seq)):
        if one.opened_at < then and (one.released_at is None or one.released_at >= then):
            found.setdefault(one.place_id, []).append(one)
    return found


def _with_open(told: dict[str, Any], still: list[Finding]) -> dict[str, Any]:
    """Return a place with what is open there, or was when the day ended: no mark says more good of it than these do."""
    states = [Verdict.WITHDRAW if one.out_of_service else Verdict.WATCH for one in still]
    return told | {"worst": max((told["worst"], *states), key=_badness), "still_open": still}


def _places(
    sheets: list[Sheet],
    readings: list[Reading],
    places: dict[Any, Place],
    names: dict[str, str],
    daily: dict[Any, dict[str, set[str]]],
    asked: dict[Any, dict[str, set[str]]],
) -> Any:
    """Yield each place with its sheets; on an amendment both values stand beside each other.

    ``missing`` names what was due there on every day and was not signed; a place of which nothing was signed is told
    too, once anything was signed that day. ``left`` says of which signed sections something has nobody's answer: it
    came onto the list, by ``asked``, when the sheet was on its way or signed.
    """
    by_sheet: dict[Any, list[Reading]] = {}
    for reading in readings:
        by_sheet.setdefault(reading.sheet_id, []).append(reading)
    amended = {sheet.amends_id for sheet in sheets if sheet.amends_id}
    grouped: dict[Any, list[dict[str, Any]]] = {}
    for sheet in sheets:
        before = {one.key: one for one in by_sheet.get(sheet.amends_id, [])} if sheet.amends_id else {}
        rows = [
            {
                "reading": one,
                "before": before.get(one.key),
                "note": _note(names, one.note_commit),
                "why": _note(names, one.reason),
                "unit": "" if one.unit == "count" or has_unit(one.text) else one.unit,
            }
            for one in by_sheet.get(sheet.pk, [])
        ]
        sound = [row for row in rows if _is_plain(row)]
        grouped.setdefault(sheet.place_id, []).append(
            {
                "sheet": sheet,
                "label": section_label(sheet.section),
                "who": name(names, sheet.signer_commit),
                "reason": _note(names, sheet.reason_commit),
                "is_amended": sheet.pk in amended,
                "sound": sound,
                "rows": [row for row in rows if row not in sound],
            }
        )
    wanted = {*grouped, *(daily if sheets else ())}
    known = sorted(
        (places[pk] for pk in wanted if pk in places), key=lambda place: (KINDS.index(place.kind), place.number)
    )
    read: dict[Any, set[str]] = {}
    for reading in readings:
        read.setdefault(reading.place_id, set()).add(reading.key)
    for place in known:
        signed = {one["sheet"].section for one in grouped.get(place.pk, ())}
        missing = [section_label(one) for one in daily.get(place.pk, ()) if one not in signed]
        open_items = {
            section: keys - read.get(place.pk, set())
            for section, keys in asked.get(place.pk, {}).items()
            if section in signed
        }
        left = [
            ngettext("%(section)s, %(n)s item", "%(section)s, %(n)s items", len(keys))
            % {"section": section_label(section), "n": len(keys)}
            for section, keys in open_items.items()
            if keys
        ]
        verdicts = [one["sheet"].verdict for one in grouped.get(place.pk, ())] + ["unknown"] * bool(missing or left)
        if verdicts:
            told = {"sheets": grouped.get(place.pk, []), "missing": missing, "left": left}
            yield {"place": place, "worst": max(verdicts, key=_badness), **told}


def _is_plain(row: dict[str, Any]) -> bool:
    one: Reading = row["reading"]
    return one.verdict == Verdict.OK and not (one.text or row["note"] or row["why"] or one.photos or row["before"])


def _badness(verdict: str) -> int:
    return ("ok", "watch", "unknown", "withdraw").index(verdict)


CONFIRMED = {
    "looked": gettext_lazy("looked along every line concerned"),
    "untold": gettext_lazy("launch and landing asked by radio just before"),
    "seen": gettext_lazy("saw that nobody was on the line or under it"),
    "counted": gettext_lazy("everyone was counted"),
    "radio": gettext_lazy("asked the person who called it by radio"),
}


def _lifted(act: dict[str, Any] | None, names: dict[str, str]) -> dict[str, Any] | None:
    """Return who lifted a hold and on what, as the entry of the lifting says; None where it stands."""
    if act is None:
        return None
    detail = act.get("detail", {})
    on = [str(words) for key, words in CONFIRMED.items() if detail.get(key)]
    if detail.get("wind"):
        on.append(_("read a wind of %(wind)s m/s") % {"wind": detail.get("wind_mps") or detail["wind"]})
    if detail.get("authority"):
        on.append(_("on the authority's word: %(word)s") % {"word": _note(names, detail["authority"])})
    who = name(names, act["signer"]["commit"])
    return {"who": who, "on": ", ".join(on), "note": _note(names, act.get("note", ""))}


def _findings(
    findings: list[Finding], steps: list[FindingStep], names: dict[str, str], entries: dict[int, Entry]
) -> Iterator[dict[str, Any]]:
    """Yield each finding with its steps of the day, and how it stands at their end."""
    looks, tags = looks_of(steps), tags_of(steps)
    for one in findings:
        own = [step for step in steps if step.finding_id == one.pk]
        yield {
            "finding": one,
            "state": _state_of(one, own),
            "is_retired": any(is_retiring(step) for step in own),
            "steps": [
                {
                    "step": step,
                    "sentence": step_sentence(
                        step,
                        look=looks.get((step.finding_id, step.seq)),
                        new_tag=tags.get(step.detail.get("replacement", ""), ""),
                    ),
                    "details": details_of(step, names),
                    "said_at": said_apart(entries[step.seq].record),
                    "who": name(names, step.person_commit),
                    "note": _note(names, step.note_commit),
                }
                for step in own
            ],
        }


def _state_of(one: Finding, steps: list[FindingStep]) -> str:
    """Return the shape for a finding as it stood at the end of that day; what was released later was open then."""
    if any(is_retiring(step) for step in steps):
        return "withdraw"
    if any(step.kind == "release" for step in steps):
        return "released"
    return "watch" if one.is_watch else one.severity
