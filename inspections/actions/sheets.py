"""Signing a sheet: the deed that makes readings part of the history and opens findings."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any
from uuid import uuid4

from django.db import transaction
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from accounts.deeds import Deed, demand, note
from accounts.policy import Right
from courses.models import Component, Place, Version
from inspections.authority import demand_authority
from inspections.corrected import as_before
from inspections.doubts import question
from inspections.entering import begin, day_for_deed, enter
from inspections.errors import Refused
from inspections.judging import (
    REGISTER_KINDS,
    TYPED_KINDS,
    Answer,
    Bench,
    Judged,
    is_weather,
    severity_of,
    stricter,
    title_of,
)
from inspections.models import Draft, Finding, Sheet, Verdict
from inspections.overtaken import demand_timely, overtaken_answers
from inspections.owing import photo_owed
from inspections.picture import RACK, Spot, spot_of
from ledger.actions import as_text
from ledger.models import Entry

MAX_PHOTOS = 12
BRAKE_SLOTS = ("primary", "emergency")


class Incomplete(Refused):
    """A sheet that cannot be signed yet; ``keys`` names the items and says for each what is wanted."""

    def __init__(self, wanted: dict[str, str]) -> None:
        sentence = ngettext(
            "%(count)s item still needs an answer.", "%(count)s items still need an answer.", len(wanted)
        )
        super().__init__("incomplete", sentence % {"count": len(wanted)})
        self.wanted = wanted


def judge_draft(picture: Spot, draft: Draft, place: Place) -> list[Judged]:
    """Judge every item of a draft: by the versions it was filled in under and by those in force, the stricter counts.

    Items that were added since the form was opened are in it without an answer, and so ``unknown``.
    """
    found = []
    for key, benches in judged_under(picture, draft, place).items():
        answer = Answer.of(draft.content.get(key, {}))
        judged = [bench.judge(item, picture.component_of(place, item), answer, picture.date) for bench, item in benches]
        found.append(judged[0] if len(judged) == 1 else stricter(judged[0], judged[1]))
    return found


def judged_under(
    picture: Spot, draft: Draft, place: Place, *, unanswered: bool = False
) -> dict[str, list[tuple[Bench, Mapping[str, Any]]]]:
    """Return by item key the rules that judge it and the item as worded under them: in force, then as it was opened.

    The second are there where they differ and the item is answered; with ``unanswered`` also where it may yet be.
    """
    now = Bench.in_force(picture.setup, place)
    then = _bench_shown(picture, draft, place)
    current = _items(picture, draft, place)
    answered = set(draft.content) | (set(current) if unanswered else set())
    shown = _items_shown(picture, draft, place, current, answered)
    return {
        key: [
            (bench, item)
            for bench, item in ((now, current.get(key)), (then, shown.get(key)))
            if item is not None and bench is not None
        ]
        for key in {**shown, **current}
    }


def due_items(picture: Spot, draft: Draft, place: Place) -> dict[str, Mapping[str, Any]]:
    """Return by key what is due today in the section of a draft, whoever has answered it already."""
    section = picture.section(place, draft.section)
    return {item["key"]: item for item in section.items} if section else {}


def _items(picture: Spot, draft: Draft, place: Place) -> dict[str, Mapping[str, Any]]:
    section = picture.section(place, draft.section)
    due = due_items(picture, draft, place)
    if draft.amends:
        known = {item["key"]: item for item in picture.items(place) if item["sheet"] == draft.section}
        return {key: known[key] for key in draft.content if key in known}
    if section is not None and section.sheets:
        # Signed already: a further sheet asks only for what is still open, if anything is (a new part, brake work).
        # What a form that was shown before asked besides, and somebody answered, is part of it too: it may be a defect.
        still = {key for key in due if not picture.answered(place, key)}
        given = {key for key, answer in draft.content.items() if not Answer.of(answer).is_empty}
        return {key: item for key, item in due.items() if key in still | given} if still else due
    return due


def _came_since(picture: Spot, draft: Draft, one: Judged) -> bool:
    """Tell whether an item without an answer may not have been on the form: it was added, or came due, since then.

    The first sheet of a section had whatever its checklist asks for every day.
    """
    if not one.answer.is_empty or one.item["kind"] in REGISTER_KINDS:
        return False
    section, shown = picture.section(draft.place, draft.section), _version(draft, "checklist")
    is_first = section is not None and not section.sheets
    was_asked = shown is None or one.item["key"] in {item["key"] for item in shown.content["items"]}
    return not (is_first and was_asked and str(one.item["every"]) == "1")


def _items_shown(
    picture: Spot, draft: Draft, place: Place, current: dict[str, Mapping[str, Any]], answered: set[str]
) -> dict[str, Mapping[str, Any]]:
    """Return the ``answered`` items of this draft, worded as the checklist version it was opened under has them."""
    in_force = picture.setup.checklist(place)
    same = in_force is not None and draft.versions.get("checklist") == str(in_force.pk)
    if same or draft.section.startswith(RACK):
        return current  # limits or criteria alone may have changed since
    version = _version(draft, "checklist")
    if version is None:
        return {}
    return {
        item["key"]: item
        for item in version.content["items"]
        if item["sheet"] == draft.section and item["key"] in answered
    }


def _version(draft: Draft, name: str) -> Version | None:
    pk = draft.versions.get(name)
    return Version.objects.filter(pk=pk).first() if pk else None


def _bench_shown(picture: Spot, draft: Draft, place: Place) -> Bench | None:
    now = {
        "limits": picture.setup.version("limits", place.pk),
        "criteria": picture.setup.version("criteria", picture.course.pk),
        "checklist": picture.setup.checklist(place),
    }
    if all(draft.versions.get(name) == (str(version.pk) if version else None) for name, version in now.items()):
        return None
    limits_then, criteria_then = _version(draft, "limits"), _version(draft, "criteria")
    return Bench(
        picture.setup, place, limits_then.content if limits_then else {}, criteria_then.content if criteria_then else {}
    )


def wanted(judged: list[Judged], *, rack: bool = False) -> dict[str, str]:
    """Return what is still needed before signing, per item, in a sentence each."""
    found = {}
    for one in judged:
        answer, key = one.answer, one.item["key"]
        if one.question is not None:
            found[key] = one.question.sentence
        elif one.item["kind"] in REGISTER_KINDS:
            continue
        elif answer.is_empty:
            found[key] = _("Not answered yet.")
        elif answer.mark == "not_done" and not (answer.reason.strip() or answer.note.strip()):
            found[key] = _("Say in the note why it can't be checked today.")
        elif one.item["kind"] in TYPED_KINDS and not answer.mark and not answer.text.strip():
            found[key] = _("The figure is missing.")
        elif one.verdict == "withdraw" and not rack and not (answer.note.strip() or answer.reason.strip()):
            found[key] = _("Out of service: say in the note what is wrong. A photo is owed until it is here.")
    return found


def questions(picture: Spot, place: Place, judged: list[Judged], *, at_signing: bool = False) -> dict[str, str]:
    """Return the items whose answer must be kept or retyped before it counts."""
    asked = {one.item["key"]: question(picture, place, one, at_signing=at_signing) for one in judged}
    return {key: sentence for key, sentence in asked.items() if sentence}


def open_points(
    picture: Spot, place: Place, judged: list[Judged], *, rack: bool = False, at_signing: bool = False
) -> dict[str, str]:
    """Return what has to be settled before signing, per item in the order of the sheet, in a sentence each.

    What is asked back comes before what a kept answer would still want: nothing reads as kept that is not.
    """
    found = wanted(judged, rack=rack) | questions(picture, place, judged, at_signing=at_signing)
    return {one.item["key"]: found[one.item["key"]] for one in judged if one.item["key"] in found}


@transaction.atomic
def sign_sheet(
    draft: Draft,
    *,
    meaning: str,
    deed: Deed,
    reason: str = "",
    paper: str = "",
    here: Mapping[str, str] | None = None,
    picture: Spot | None = None,
    only_answered: bool = False,
) -> Entry:
    """Sign a sheet. Its readings enter the history with their verdicts; what is past its limit opens a finding.

    ``picture`` spares reading the day again to a caller that has just read it and signs many sheets.

    ``reason`` is why a signed sheet is corrected; ``paper`` is the hash of the photo of the sheet of paper; ``here``
    the tag code that was read on the spot (``code``, ``how``: scanned or typed, ``at``).

    ``only_answered``: it was signed by a form that had no more items than it has answers. What came due since is no
    part of it: nobody has answered that, it is asked for as before, and holds its line.

    Sent twice, the second call raises AlreadyRecorded. Raises Incomplete while anything required is missing; nothing
    typed is lost.
    """
    course = draft.place.course
    demand(deed, course.operator_id, Right.INSPECT)
    begin(course, deed)
    if draft.place.retired_at is not None and draft.place.retired_at <= deed.at:
        raise Refused(
            "place-retired",
            _("%(place)s was retired meanwhile. The sheet is kept but cannot be signed.") % {"place": draft.place},
        )
    picture = as_before(picture or spot_of(draft.place, at=deed.at, on=draft.date), draft)
    judged = judge_draft(picture, draft, draft.place)
    if not judged:
        raise Refused("nothing-due", _("Nothing is due here today."))
    if only_answered and any(not one.answer.is_empty for one in judged):
        judged = [one for one in judged if not _came_since(picture, draft, one)]
    if any(is_weather(one.item) for one in judged):
        demand_timely(deed, picture)
    demand_authority(deed.by, course, picture.setup, draft.place, draft.section, draft.date)
    missing = open_points(picture, draft.place, judged, rack=draft.section.startswith(RACK))
    if draft.from_paper and not paper:
        missing["paper"] = _("Add the photo of the sheet of paper.")
    if missing:
        raise Incomplete(missing)
    amended = _amended(draft, reason)
    day = picture.day or day_for_deed(course, draft.date, opens_at=picture.opens_at, deed=deed)
    log = course.operator.log
    body = {
        "day": str(day.pk),
        "date": draft.date.isoformat(),
        "place": str(draft.place_id),
        "section": draft.section,
        "started_at": as_text(draft.started_at),
        "versions": draft.versions,
        "readings": [
            _typed(one, note(log, one.answer.note), note(log, one.answer.reason))
            for one in judged
            if not one.answer.is_empty
        ],
        "meaning": meaning,
        "paper": paper,
    }
    if amended is not None:
        body |= {"amends": str(amended.pk), "supersedes": amended.seq, "reason": note(log, reason)}
    if here:
        body["here"] = dict(here)
    findings = list(findings_of(picture, draft.place, judged))
    readings = list(_as_records(judged, overtaken_answers(deed, picture, draft.place, judged)))
    verdict = max((one["verdict"] for one in readings), key=_badness)
    entry = enter(
        course,
        "amendment" if amended else "sheet",
        body,
        deed=deed,
        judged={
            "verdict": verdict,
            "versions": _in_force(picture, draft.place),
            "readings": readings,
            "findings": findings,
        },
        begun=True,
    )
    draft.delete()
    return entry


def _as_records(judged: list[Judged], overtaken: Mapping[str, str]) -> Iterator[dict[str, Any]]:
    """Yield the judgements as they stand in the entry. What is overtaken is not checked; what it opened stays open."""
    for one in judged:
        why = overtaken.get(one.item["key"])
        yield one.as_record() | ({"verdict": str(Verdict.UNKNOWN), "sentence": why} if why else {})


def _badness(verdict: str) -> int:
    return ("ok", "watch", "unknown", "withdraw").index(verdict)


def _in_force(picture: Spot, place: Place) -> dict[str, str]:
    from inspections.actions.drafts import versions_shown

    return versions_shown(picture, place)


def _amended(draft: Draft, reason: str) -> Sheet | None:
    if draft.amends is None:
        return None
    if not reason.strip():
        raise Refused("reason-needed", _("Say why the signed sheet is corrected. Both values stay visible."))
    return Sheet.objects.get(pk=draft.amends)


def _typed(judged: Judged, note_commit: str, reason_commit: str) -> dict[str, Any]:
    answer = judged.answer
    body: dict[str, Any] = {
        "key": judged.item["key"],
        "slot": judged.item["slot"],
        "mark": answer.mark,
        "text": answer.text,
        "unit": judged.item["unit"] if answer.text else "",
        "note": note_commit,
        "reason": reason_commit,
        "photos": list(answer.photos)[:MAX_PHOTOS],
        "kept": answer.kept,
        "gauge": answer.gauge if answer.text else "",
    }
    if judged.component is not None:
        body["component"] = str(judged.component.pk)
    return {name: value for name, value in body.items() if value not in ("", [], False)}


def findings_of(picture: Spot, place: Place, judged: list[Judged]) -> Iterator[dict[str, Any]]:
    """Yield the findings that the verdicts open. What is open already is not raised again."""
    for one in judged:
        if one.verdict not in {"withdraw", "watch"}:
            continue
        is_watch = one.verdict == "watch"
        if is_watch and one.item.get("gear"):
            continue
        if any(_same(finding, one) and (is_watch or not finding.is_watch) for finding in picture.open_findings(place)):
            continue
        owed = {}
        if not is_watch:
            if not one.answer.photos:
                owed["photo"] = (one.answer.reason.strip() and "reason-given") or "owed"
            elif why := photo_owed(picture.course.operator_id, one.answer.photos):
                owed["photo"] = why
            if not one.answer.note.strip():
                owed["note"] = "owed"
            owed["tag"] = "owed"
        found: dict[str, Any] = {
            "id": str(uuid4()),
            "key": one.item["key"],
            "slot": one.item["slot"],
            "severity": _finding_severity(one),
            "is_watch": is_watch,
            "out_of_service": not is_watch,
            "title": title_of(one),
            "clause": one.judgement.source,
            "limit": one.judgement.limit_text,
            "owed": owed,
            "needs_ride": one.item["slot"].startswith(BRAKE_SLOTS),
        }
        if one.component is not None:
            found["component"] = str(one.component.pk)
        yield {name: value for name, value in found.items() if value not in ("", {})}


def _finding_severity(judged: Judged) -> str:
    return "critical" if judged.item.get("gear") else severity_of(judged.item)


def _same(finding: Finding, judged: Judged) -> bool:
    component: Component | None = judged.component
    return finding.key == judged.item["key"] and (component is None or finding.component_id in (None, component.pk))
