"""The picture of the day that a manager signs: what the day sheet is drawn from, once.

Text and decimal strings only. People stand in it as references and notes as commitments, so that a name can be
forgotten without touching the record; whoever draws it looks them up.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from courses.models import Place
from engineering.clearance import Limits
from inspections.band_words import as_record, for_line
from inspections.entries import gauges_of, records_of, said_apart
from inspections.facts import LineStatus
from inspections.models import Finding, FindingStep, Hold, Reading, Ride, Sheet, Verdict
from inspections.owing import debts_of
from inspections.phones import phones_record
from inspections.picture import RACK, Picture
from inspections.stops import is_walked, out_of_service
from inspections.words import section_label
from ledger.actions import as_text

FORMAT = 1
CONDITIONS = {"radio.check", "rescue.people"}


def compact(value: dict[str, Any]) -> dict[str, Any]:
    """Leave out what is absent; the record has no null."""
    return {name: item for name, item in value.items() if item not in (None, "", [], {})}


def limits_of(limits: Limits) -> dict[str, Any]:
    return compact(
        {
            "mass_min_kg": "" if limits.mass_min_kg is None else str(limits.mass_min_kg),
            "mass_max_kg": "" if limits.mass_max_kg is None else str(limits.mass_max_kg),
            "wind": {f"{name}_mps": str(value) for name, value in limits.wind_mps},
            "narrowed": "yes" if limits.narrowed else "",
        }
    )


def snapshot(
    picture: Picture,
    statuses: list[LineStatus],
    decided: dict[str, dict[str, Any]],
    *,
    revision: int,
    changed: list[str],
) -> dict[str, Any]:
    """Return the whole day as signed: lines with decision and reasons, sheets with readings, rides, findings, holds."""
    course, setup = picture.course, picture.setup
    steps = _steps(picture)
    rides = [ride for ride in picture.rides if ride.day.date == picture.date]
    holds = [hold for hold in picture.holds if _of_today(picture, hold)]
    seqs = [sheet.seq for sheet in picture.sheets] + [ride.seq for ride in rides] + [hold.seq for hold in holds]
    seqs += [step.seq for own in steps.values() for step in own]
    records = records_of(course.operator.log, seqs)
    gauges = {seq: gauges_of(record["act"]) for seq, record in records.items()}
    found = compact(
        {
            "format": FORMAT,
            "course": compact(
                {
                    "id": str(course.pk),
                    "name": course.name,
                    "town": course.town,
                    "tz": course.tz,
                    "operator": course.operator.name,
                    "law_place": course.law_place,
                    "units": course.units,
                }
            ),
            "date": picture.date.isoformat(),
            "revision": revision,
            "changed": changed,
            "opens_at": as_text(picture.opens_at) if picture.opens_at else "",
            "made_at": as_text(picture.at),
            "trial": "yes" if course.trial else "",
            "lines": [_line(picture, status, decided[str(status.line.pk)]) for status in statuses],
            "places": [
                found
                for place in (*setup.houses, *setup.platforms, *setup.lines, *setup.stores)
                if (found := _place(picture, place, gauges))
            ],
            "rides": [_ride(picture, ride) for ride in rides],
            "findings": [_finding(finding, steps.get(finding.pk, [])) for finding in picture.findings],
            "holds": [_hold(picture, hold) for hold in holds],
            "gear": {"racks": list(_racks(picture))},
            "conditions": list(_conditions(picture)),
            "phones": phones_record(picture.phones, picture.date, picture.at, walked=is_walked(picture)),
        }
    )
    return _with_arrivals(found, records)


def _with_arrivals(found: dict[str, Any], records: dict[int, dict[str, Any]]) -> dict[str, Any]:
    """Say beside all that was signed without a signal when it was received, and where its phone's clock was wrong."""
    late = {seq: (record["t"], apart) for seq, record in records.items() if (apart := said_apart(record))}
    sheets = (sheet for place in found.get("places", ()) for sheet in place.get("sheets", ()))
    steps = (step for finding in found.get("findings", ()) for step in finding.get("steps", ()))
    racks = found.get("gear", {}).get("racks", ())
    for one in (*sheets, *steps, *found.get("rides", ()), *found.get("holds", ()), *racks):
        if one.get("entry") in late:
            received, apart = late[one["entry"]]
            one |= compact({"received_at": received, "clock": apart.about_clock})
    return found


def _line(picture: Picture, status: LineStatus, decided: dict[str, Any]) -> dict[str, Any]:
    document = picture.setup.document(status.line)
    rulings = [
        compact(
            {
                "finding": str(finding.pk),
                "title": finding.title,
                "until": finding.ruling_until.isoformat(),
                "restriction": finding.ruling.get("restriction", {}),
                "reason": finding.ruling.get("reason", ""),
            }
        )
        for finding in picture.open_findings(status.line)
        if finding.ruling_until is not None and finding.ruling_until >= picture.date
    ]
    return compact(
        {
            "id": str(status.line.pk),
            "number": str(status.line.number),
            "name": status.line.name,
            "decision": decided["decision"],
            "state": status.clearance.state,
            "reasons": decided.get("reasons", []),
            "cautions": [reason.sentence for reason in status.clearance.cautions],
            "limits": {**limits_of(status.clearance.limits), **compact({"mass_as": document.get("mass_as", "")})},
            "rulings": rulings,
            "computed": compact(as_record(told)) if (told := for_line(picture, status.line, as_signed=False)) else {},
            "designer": document.get("designer", ""),
            "maker": document.get("maker", ""),
            "serial": document.get("serial", ""),
            "brakes": [f"{brake.get('role', '')}: {brake.get('kind', '')}" for brake in document.get("brakes", [])],
        }
    )


def _person(ref: str, commit: str) -> dict[str, str]:
    return {"ref": ref, "commit": commit}


def _place(picture: Picture, place: Place, gauges: dict[int, dict[str, str]]) -> dict[str, Any]:
    sheets = [sheet for sheet in picture.sheets if sheet.place_id == place.pk and not sheet.section.startswith(RACK)]
    by_sheet: dict[Any, list[Reading]] = {}
    for reading in picture.readings:
        by_sheet.setdefault(reading.sheet_id, []).append(reading)
    if not sheets:
        return {}
    return {
        "id": str(place.pk),
        "name": str(place),
        "kind": place.kind,
        "sheets": [_sheet(sheet, by_sheet.get(sheet.pk, []), by_sheet, gauges.get(sheet.seq, {})) for sheet in sheets],
    }


def _sheet(
    sheet: Sheet, readings: list[Reading], by_sheet: dict[Any, list[Reading]], gauges: dict[str, str]
) -> dict[str, Any]:
    before = {r.key: r.text or r.mark for r in by_sheet.get(sheet.amends_id, [])} if sheet.amends_id else {}
    return compact(
        {
            "id": str(sheet.pk),
            "entry": sheet.seq,
            "section": sheet.section,
            "label": section_label(sheet.section),
            "signer": _person(sheet.signer_ref, sheet.signer_commit),
            "started_at": as_text(sheet.started_at),
            "signed_at": as_text(sheet.signed_at),
            "from_paper": "yes" if sheet.from_paper else "",
            "amends": str(sheet.amends_id or ""),
            "reason": sheet.reason_commit,
            "readings": [
                _reading(reading, before.get(reading.key, ""), gauges.get(reading.key, "")) for reading in readings
            ],
        }
    )


def _reading(reading: Reading, before: str, gauge: str) -> dict[str, Any]:
    return compact(
        {
            "key": reading.key,
            "code": reading.key.split("@")[0],
            "component": reading.component.tag if reading.component else "",
            "wording": reading.wording,
            "severity": reading.severity,
            "mark": reading.mark,
            "text": reading.text,
            "unit": reading.unit,
            "verdict": reading.verdict,
            "limit": reading.limit,
            "clause": reading.clause,
            "rule": reading.rule,
            "sentence": reading.sentence,
            "reason": reading.reason,
            "note": reading.note_commit,
            "photos": reading.photos,
            "before": before,
            "gauge": gauge,
        }
    )


def _ride(picture: Picture, ride: Ride) -> dict[str, Any]:
    line = picture.setup.places.get(ride.place_id)
    return compact(
        {
            "id": str(ride.pk),
            "entry": ride.seq,
            "place": str(ride.place_id),
            "line": str(line or ""),
            "at": as_text(ride.rode_at),
            "mass_kg": ride.mass,
            "band": ride.band,
            "fields": ride.fields,
            "speed": ride.speed,
            "stroke_used": ride.stroke_used,
            "stroke_available": ride.stroke_available,
            "verdict": ride.verdict,
            "judgements": ride.judgements,
            "signer": _person(ride.signer_ref, ride.signer_commit),
            "voided": "yes" if ride.voided_by is not None else "",
            "from_paper": "yes" if ride.from_paper else "",
        }
    )


def _steps(picture: Picture) -> dict[Any, list[FindingStep]]:
    found: dict[Any, list[FindingStep]] = {}
    for step in FindingStep.objects.filter(finding__in=[finding.pk for finding in picture.findings]).order_by("seq"):
        found.setdefault(step.finding_id, []).append(step)
    return found


def _finding(finding: Finding, steps: list[FindingStep]) -> dict[str, Any]:
    return compact(
        {
            "id": str(finding.pk),
            "title": finding.title,
            "place": str(finding.place),
            "component": finding.component.tag if finding.component else "",
            "severity": finding.severity,
            "is_watch": "yes" if finding.is_watch else "",
            "state": finding.state,
            "out_of_service": "yes" if finding.out_of_service else "",
            "tag_number": finding.tag_number,
            "limit": finding.limit,
            "clause": finding.clause,
            "opened_at": as_text(finding.opened_at),
            "opened_by": finding.opened_by_ref,
            "owed": sorted(debts_of(finding)),
            "watch_until": finding.watch_until.isoformat() if finding.watch_until else "",
            "ruling_until": finding.ruling_until.isoformat() if finding.ruling_until else "",
            "ruling": finding.ruling,
            "released_at": as_text(finding.released_at) if finding.released_at else "",
            "steps": [
                compact(
                    {
                        "kind": step.kind,
                        "at": as_text(step.at),
                        "by": _person(step.person_ref, step.person_commit),
                        "note": step.note_commit,
                        "detail": step.detail,
                        "photos": step.photos,
                        "entry": step.seq,
                    }
                )
                for step in steps
            ],
        }
    )


def _hold(picture: Picture, hold: Hold) -> dict[str, Any]:
    place = picture.setup.places.get(hold.place_id) if hold.place_id else None
    return compact(
        {
            "entry": hold.seq,
            "cause": hold.cause,
            "where": str(place or ""),
            "called_at": as_text(hold.called_at),
            "by": _person(hold.called_by_ref, hold.called_by_commit),
            "told": hold.told,
            "asked": hold.lift_detail.get("untold", ""),
            "lifted_at": as_text(hold.lifted_at) if hold.lifted_at else "",
            "lifted_by": hold.lifted_by_ref,
            "wind_mps": hold.lift_detail.get("wind_mps", "") or hold.lift_detail.get("wind", ""),
            "note": hold.note_commit,
        }
    )


def _of_today(picture: Picture, hold: Hold) -> bool:
    zone = picture.course.zone
    return hold.lifted_at is None or hold.called_at.astimezone(zone).date() == picture.date


def _racks(picture: Picture) -> Iterator[dict[str, Any]]:
    for store in picture.setup.stores:
        for section in picture.sections(store):
            if not section.is_rack:
                continue
            bad = [
                compact({"tag": item["text"], "what": what})
                for item in section.items
                if (what := _not_issued(picture, store, item)) is not None
            ]
            yield compact(
                {
                    "label": section_label(section.name),
                    "count": len(section.items) - len(bad),
                    "register": len(section.items),
                    "signed": "yes" if section.sheets else "",
                    "entry": section.sheets[-1].seq if section.sheets else "",
                    "signer": _person(section.sheets[-1].signer_ref, section.sheets[-1].signer_commit)
                    if section.sheets
                    else "",
                    "signed_at": as_text(section.sheets[-1].signed_at) if section.sheets else "",
                    "exceptions": bad,
                }
            )


def _not_issued(picture: Picture, store: Place, item: dict[str, Any]) -> str | None:
    """Return why a piece of gear is not to be issued; None where it may be."""
    reading = picture.deciding(store, item["key"])
    if reading is None:
        return "not checked"
    if reading.verdict not in {Verdict.OK, Verdict.WATCH}:
        return reading.sentence
    return "out of service" if item["component"].pk in out_of_service(picture) else None


def _conditions(picture: Picture) -> Iterator[dict[str, Any]]:
    """Yield what was read today of weather, communication and rescuers, with who read it and when."""
    signer_of = {sheet.pk: _person(sheet.signer_ref, sheet.signer_commit) for sheet in picture.sheets}
    for place in (*picture.setup.houses, *picture.setup.platforms):
        for item in picture.items(place):
            quantity = str(item.get("measures", ""))
            if not (quantity.startswith("weather.") or quantity in CONDITIONS or item["code"].startswith("WX-")):
                continue
            for reading in picture.readings_of(place.pk, item["key"])[-1:]:
                yield compact(
                    {
                        "measures": quantity,
                        "code": item["code"],
                        "place": str(place),
                        "wording": reading.wording,
                        "mark": reading.mark,
                        "text": reading.text,
                        "unit": reading.unit,
                        "value": reading.value,
                        "verdict": reading.verdict,
                        "note": reading.note_commit,
                        "at": as_text(reading.read_at),
                        "by": signer_of.get(reading.sheet_id, {}) if reading.sheet_id else {},
                    }
                )
