"""Holds and sign-offs as rows: who held which line, why and until when, and who decided that a line opens."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import date, datetime, timedelta
from typing import Any

from courses import calendar
from courses.models import Course, Place
from inspections.lifting import told_of
from inspections.models import Hold, SignOff
from inspections.telling import disclosed, name
from ledger.models import Entry
from reports.export_words import blocks, note_of, times

HOLDS = (
    "called_on",
    "line",
    "cause",
    "called_at_utc",
    "called_at_local",
    "called_by",
    "note",
    "told_at_launch_by",
    "told_at_launch_at_utc",
    "told_at_launch_at_local",
    "told_at_landing_by",
    "told_at_landing_at_utc",
    "told_at_landing_at_local",
    "times_renewed",
    "last_renewed_at_utc",
    "last_renewed_at_local",
    "state",
    "lifted_at_utc",
    "lifted_at_local",
    "lifted_by",
    "lifted_on_condition",
    "lifting_note",
    "entry",
    "entries_told",
    "entries_renewed",
    "entry_lifted",
    "time_zone",
)
SIGN_OFFS = (
    "date",
    "revision",
    "line",
    "decision",
    "what_held_it",
    "lightest_rider_kg",
    "heaviest_rider_kg",
    "narrower_than_posted",
    "headwind_limit_m_per_s",
    "tailwind_limit_m_per_s",
    "crosswind_limit_m_per_s",
    "signed_at_utc",
    "signed_at_local",
    "signed_by",
    "from_paper",
    "signed_on_paper_by",
    "typed_in_at_utc",
    "typed_in_at_local",
    "check_value_of_what_was_signed",
    "entry",
    "time_zone",
)
LATER = {"hold-told": "told", "hold-renewed": "renewed", "hold-lifted": "lifted"}
CONDITIONS = {
    "looked": "looked along every line concerned",
    "untold": "launch and landing asked by radio just before",
    "seen": "saw that nobody was on the line or under it",
    "counted": "everyone was counted",
    "radio": "asked the person who called it by radio",
}


def holds(course: Course, first: date, last: date) -> Iterator[Sequence[Any]]:
    """Yield one row for each hold that was called on these days of the course, lifted or not."""
    start = calendar.day_start(first, course.zone, course.day_change_hour)
    end = calendar.day_start(last + timedelta(days=1), course.zone, course.day_change_hour)
    found = (
        Hold.objects.filter(course=course, called_at__gte=start, called_at__lt=end)
        .select_related("place")
        .order_by("seq")
    )
    for block in blocks(found):
        later = _later(course, block)
        names = disclosed(_commits(block, later))
        for one in block:
            done = later[str(one.pk)]
            launch, landing = told_of(one, names)
            lifting = done["lifted"][-1] if done["lifted"] else None
            yield (
                calendar.local_day(one.called_at, course.zone, course.day_change_hour),
                one.place or "whole course",
                one.get_cause_display().capitalize(),
                *times(one.called_at, course.zone),
                name(names, one.called_by_commit),
                note_of(names, one.note_commit),
                launch["who"] or "not yet told",
                *times(launch["at"], course.zone),
                landing["who"] or "not yet told",
                *times(landing["at"], course.zone),
                len(done["renewed"]),
                *times(one.renewed_at if done["renewed"] else None, course.zone),
                "Lifted" if one.lifted_at else "Held",
                *times(one.lifted_at, course.zone),
                name(names, lifting["act"]["signer"]["commit"]) if lifting else "",
                _condition(lifting, names),
                note_of(names, lifting["act"].get("note", "")) if lifting else "",
                one.seq,
                _numbers(done["told"]),
                _numbers(done["renewed"]),
                one.lifted_seq,
                course.tz,
            )


def _later(course: Course, block: list[Hold]) -> dict[str, dict[str, list[dict[str, Any]]]]:
    """Return the entries that came after the call, by hold and by what was done; one query."""
    found: dict[str, dict[str, list[dict[str, Any]]]] = {
        str(one.pk): {what: [] for what in LATER.values()} for one in block
    }
    rows = Entry.objects.filter(log=course.operator.log_id, kind__in=LATER, seq__gt=block[0].seq)
    if all(one.lifted_seq for one in block):
        rows = rows.filter(seq__lte=max(one.lifted_seq or 0 for one in block))
    for entry in rows.order_by("seq").iterator(500):
        record = entry.record
        if record["act"]["hold"] in found:
            found[record["act"]["hold"]][LATER[entry.kind]].append(record)
    return found


def _commits(block: list[Hold], later: dict[str, dict[str, list[dict[str, Any]]]]) -> Iterator[str]:
    for one in block:
        yield from (one.called_by_commit, one.note_commit)
        yield from (one.told[where] for where in ("launch", "landing") if where in one.told)
        for record in later[str(one.pk)]["lifted"]:
            act = record["act"]
            yield from (act["signer"]["commit"], act.get("note", ""), act.get("detail", {}).get("authority", ""))


def _condition(lifting: dict[str, Any] | None, names: dict[str, str]) -> str:
    """Return on what a hold was lifted, as the entry of the lifting says."""
    if lifting is None:
        return ""
    detail = lifting["act"].get("detail", {})
    found = [words for key, words in CONDITIONS.items() if detail.get(key)]
    if detail.get("wind"):
        found.append(f"read a wind of {detail.get('wind_mps') or detail['wind']} m/s")
    if detail.get("authority"):
        found.append(f"on the authority's word: {note_of(names, detail['authority'])}")
    return "; ".join(found)


def _numbers(records: Iterable[dict[str, Any]]) -> str:
    return " ".join(str(record["seq"]) for record in records)


def sign_offs(course: Course, first: date, last: date) -> Iterator[Sequence[Any]]:
    """Yield one row for each line of each signing of these days, by revision and by line."""
    places = {str(one.pk): one for one in Place.objects.filter(course=course, kind=Place.Kind.LINE)}
    found = (
        SignOff.objects.filter(day__course=course, day__date__range=(first, last))
        .select_related("day")
        .order_by("day__date", "revision")
    )
    for block in blocks(found):
        typed_in = _typed_in(course, block)
        names = disclosed([*(one.signer_commit for one in block), *_beside(typed_in)])
        for one in block:
            act, at = typed_in.get(one.seq, ({}, None))
            on_paper = ", ".join(name(names, who["commit"]) for who in act.get("on_paper", {}).get("signers", ()))
            for key in sorted(one.lines, key=lambda key: places[key].number if key in places else 0):
                decided = one.lines[key]
                limits = decided.get("limits", {})
                wind = limits.get("wind", {})
                yield (
                    one.day.date,
                    one.revision,
                    places.get(key, key),
                    "Open" if decided.get("decision") == "open" else "Closed today",
                    " ".join(decided.get("reasons", ())),
                    limits.get("mass_min_kg"),
                    limits.get("mass_max_kg"),
                    bool(limits.get("narrowed")),
                    wind.get("head_mps"),
                    wind.get("tail_mps"),
                    wind.get("cross_mps"),
                    *times(one.signed_at, course.zone),
                    name(names, one.signer_commit),
                    one.from_paper,
                    on_paper,
                    *times(at, course.zone),
                    one.snapshot,
                    one.seq,
                    course.tz,
                )


def _typed_in(course: Course, block: list[SignOff]) -> dict[int, tuple[dict[str, Any], datetime]]:
    """Return act and time of the entries of signings that were made on paper; one query, none where there are none."""
    seqs = [one.seq for one in block if one.from_paper]
    if not seqs:
        return {}
    rows = Entry.objects.filter(log=course.operator.log_id, seq__in=seqs)
    return {entry.seq: (entry.record["act"], entry.t) for entry in rows}


def _beside(typed_in: dict[int, tuple[dict[str, Any], datetime]]) -> Iterator[str]:
    for act, _at in typed_in.values():
        yield from (who["commit"] for who in act.get("on_paper", {}).get("signers", ()))
