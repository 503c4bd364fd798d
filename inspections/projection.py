"""From the bytes of an entry to rows: the one description of what the tables of this app hold.

``changes`` is pure. The actions append an entry and store what it yields (``apply``); ``verify_ledger`` folds it over
the whole history again and compares (``inspections.rebuild``). So a row that no entry explains is seen.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any
from uuid import NAMESPACE_URL, UUID, uuid5


@dataclass(frozen=True)
class Change:
    """One row that an entry makes (``new``) or some of whose fields it sets. ``upsert`` makes or sets."""

    model: str
    key: str
    fields: Mapping[str, Any]
    how: str = "new"  # new, set, upsert


def day_id(course: str, date: str) -> str:
    """Return the identity of a day: the same for everyone who derives it."""
    return str(uuid5(NAMESPACE_URL, f"lineworthy:day:{course}:{date}"))


def changes(record: Mapping[str, Any]) -> list[Change]:
    """Return what an entry does to the tables of this app; nothing for kinds that belong elsewhere."""
    project = _PROJECTIONS.get(record["kind"])
    return list(project(record)) if project else []


def signed_at(record: Mapping[str, Any]) -> str:
    """Return when a deed was done: its true time where it came later and that is known, else when it was received."""
    return str(record.get("judged", {}).get("true_at", record["t"]))


def _signer(record: Mapping[str, Any]) -> tuple[str, str]:
    signer = record["act"]["signer"]
    return signer["ref"], signer["commit"]


def _day_opened(record: Mapping[str, Any]) -> Iterator[Change]:
    act = record["act"]
    yield Change(
        "Day",
        day_id(act["course"], act["date"]),
        {
            "course_id": act["course"],
            "date": act["date"],
            "tz": act["tz"],
            "day_change_hour": act["day_change_hour"],
            "opens_at": record.get("judged", {}).get("opens_at"),
            "seq": record["seq"],
        },
    )


def _sheet(record: Mapping[str, Any]) -> Iterator[Change]:
    act, judged = record["act"], record["judged"]
    ref, commit = _signer(record)
    yield Change(
        "Sheet",
        act["id"],
        {
            "day_id": act["day"],
            "place_id": act["place"],
            "section": act["section"],
            "signer_ref": ref,
            "signer_commit": commit,
            "started_at": act["started_at"],
            "signed_at": signed_at(record),
            "from_paper": bool(act.get("paper")),
            "amends_id": act.get("amends"),
            "reason_commit": act.get("reason", ""),
            "verdict": judged["verdict"],
            "seq": record["seq"],
        },
    )
    yield from _readings(record, sheet=act["id"], finding=None)
    yield from _opened_by_verdicts(record)


def _readings(record: Mapping[str, Any], *, sheet: str | None, finding: str | None) -> Iterator[Change]:
    act, seq = record["act"], record["seq"]
    typed = {item["key"]: item for item in act.get("readings", ())}
    for position, judgement in enumerate(record["judged"]["readings"]):
        key = judgement["key"]
        answer = typed.get(key, {})
        yield Change(
            "Reading",
            f"{act['id']}/{key}",
            {
                "sheet_id": sheet,
                "finding": finding,
                "day_id": act["day"],
                "place_id": act["place"],
                "component_id": judgement.get("component"),
                "key": key,
                "position": position,
                "wording": judgement["wording"],
                "severity": judgement["severity"],
                "mark": answer.get("mark", ""),
                "text": answer.get("text", ""),
                "unit": answer.get("unit", ""),
                "value": judgement.get("value", ""),
                "verdict": judgement["verdict"],
                "rule": judgement.get("rule", ""),
                "clause": judgement.get("clause", "")[:300],
                "limit": judgement.get("limit", "")[:200],
                "sentence": judgement.get("sentence", "")[:400],
                "reason": answer.get("reason", ""),
                "note_commit": answer.get("note", ""),
                "photos": answer.get("photos", []),
                "read_at": signed_at(record),
                "seq": seq,
            },
        )
        if judgement["verdict"] != "unknown":
            yield Change(
                "ItemState",
                f"{act['place']}/{key}",
                {
                    "place_id": act["place"],
                    "key": key,
                    "component": judgement.get("component"),
                    "day_date": act["date"],
                    "text": answer.get("text", ""),
                    "unit": answer.get("unit", ""),
                    "value": judgement.get("value", ""),
                    "verdict": judgement["verdict"],
                    "seq": seq,
                },
                "upsert",
            )


def _finding_fields(record: Mapping[str, Any], opened: Mapping[str, Any]) -> dict[str, Any]:
    act = record["act"]
    return {
        "course_id": act["course"],
        "place_id": act["place"],
        "component_id": opened.get("component"),
        "key": opened.get("key", ""),
        "slot": opened.get("slot", ""),
        "severity": opened["severity"],
        "is_watch": opened.get("is_watch", False),
        "out_of_service": opened.get("out_of_service", False),
        "title": opened["title"][:300],
        "clause": opened.get("clause", "")[:300],
        "limit": opened.get("limit", "")[:200],
        "opened_by_ref": act["signer"]["ref"],
        "opened_at": signed_at(record),
        "opened_on": act["date"],
        "state": "open",
        "tag_number": act.get("tag_number", ""),
        "owed": opened.get("owed", {}),
        "watch_until": None,
        "ruling_until": None,
        "ruling": {},
        "needs_ride": opened.get("needs_ride", False),
        "work_seq": None,
        "reinspection_seq": None,
        "released_at": None,
        "released_by_ref": "",
        "seq": record["seq"],
    }


def _opened_by_verdicts(record: Mapping[str, Any]) -> Iterator[Change]:
    act = record["act"]
    typed = {item["key"]: item for item in act.get("readings", ())}
    for opened in record["judged"].get("findings", ()):
        yield Change("Finding", opened["id"], _finding_fields(record, opened))
        answer = typed.get(opened.get("key", ""), {})
        yield _step(record, opened["id"], "opened", note=answer.get("note", ""), photos=answer.get("photos", []))


def _step(
    record: Mapping[str, Any],
    finding: str,
    kind: str,
    *,
    note: str = "",
    photos: list[str] | None = None,
    detail: Mapping[str, Any] | None = None,
) -> Change:
    act = record["act"]
    ref, commit = _signer(record)
    return Change(
        "FindingStep",
        f"{record['seq']}/{finding}",
        {
            "finding_id": finding,
            "kind": kind,
            "person_ref": ref,
            "person_commit": commit,
            "at": signed_at(record),
            "on": act["date"],
            "note_commit": note,
            "photos": photos or [],
            "detail": dict(detail or {}),
            "seq": record["seq"],
        },
    )


def _finding_opened(record: Mapping[str, Any]) -> Iterator[Change]:
    act = record["act"]
    for opened in record["judged"]["findings"]:
        yield Change("Finding", opened["id"], _finding_fields(record, opened))
        yield _step(record, opened["id"], "opened", note=act.get("note", ""), photos=act.get("photos", []))
    yield from _voids(record)


def _finding_step(kind: str, **columns: str) -> Callable[[Mapping[str, Any]], Iterator[Change]]:
    def project(record: Mapping[str, Any]) -> Iterator[Change]:
        act = record["act"]
        fields: dict[str, Any] = {}
        for column, source in columns.items():
            if source == "@seq":
                fields[column] = record["seq"]
            elif source == "@t":
                fields[column] = record["t"]
            elif source == "@ref":
                fields[column] = act["signer"]["ref"]
            elif source.startswith("="):
                fields[column] = source[1:]
            elif source.startswith("judged."):
                fields[column] = record.get("judged", {}).get(source[7:])
            else:
                fields[column] = act.get(source)
        fields = {name: value for name, value in fields.items() if value is not None}
        if fields:
            yield Change("Finding", act["finding"], fields, "set")
        yield _step(
            record,
            act["finding"],
            kind,
            note=act.get("note", ""),
            photos=act.get("photos", []),
            detail=act.get("detail", {}),
        )
        if "readings" in record.get("judged", {}):
            yield from _readings(record, sheet=None, finding=act["finding"])
        yield from _voids(record)

    return project


def _voids(record: Mapping[str, Any]) -> Iterator[Change]:
    for ride in record.get("judged", {}).get("voids", ()):
        yield Change("Ride", ride, {"voided_by": record["seq"]}, "set")


def _ride(record: Mapping[str, Any]) -> Iterator[Change]:
    act, judged = record["act"], record["judged"]
    ref, commit = _signer(record)
    # Of one whose time is not known no reading is the newest: inspections.newest.by_time.
    fields = act["fields"] | ({"untimed": "yes"} if judged.get("untimed") else {})
    yield Change(
        "Ride",
        act["id"],
        {
            "day_id": act["day"],
            "place_id": act["place"],
            "signer_ref": ref,
            "signer_commit": commit,
            "rode_at": signed_at(record),
            "mass": judged.get("mass", ""),
            "band": judged.get("band", "other"),
            "fields": fields,
            "stroke_used": judged.get("stroke_used", ""),
            "stroke_available": judged.get("stroke_available", ""),
            "speed": judged.get("speed", ""),
            "verdict": judged["verdict"],
            "judgements": judged["readings"],
            "control": judged.get("control", {}),
            "voided_by": None,
            "from_paper": bool(act.get("paper")),
            "seq": record["seq"],
        },
    )
    yield from _opened_by_verdicts(record)
    yield from _voids(record)


def _hold(record: Mapping[str, Any]) -> Iterator[Change]:
    act = record["act"]
    ref, commit = _signer(record)
    yield Change(
        "Hold",
        act["id"],
        {
            "course_id": act["course"],
            "place_id": act.get("place"),
            "cause": act["cause"],
            "called_by_ref": ref,
            "called_by_commit": commit,
            "called_at": signed_at(record),
            "renewed_at": record["t"],
            "note_commit": act.get("note", ""),
            "told": {},
            "lifted_at": None,
            "lifted_by_ref": "",
            "lift_detail": {},
            "seq": record["seq"],
            "lifted_seq": None,
        },
    )
    for opened in record.get("judged", {}).get("findings", ()):
        yield Change("Finding", opened["id"], _finding_fields(record, opened))
        yield _step(record, opened["id"], "opened", note=act.get("note", ""), photos=act.get("photos", []))
    yield from _voids(record)


def _hold_renewed(record: Mapping[str, Any]) -> Iterator[Change]:
    yield Change("Hold", record["act"]["hold"], {"renewed_at": record["t"]}, "set")


def _hold_told(record: Mapping[str, Any]) -> Iterator[Change]:
    yield Change("Hold", record["act"]["hold"], {"told": record["act"]["told"]}, "set")


def _hold_lifted(record: Mapping[str, Any]) -> Iterator[Change]:
    act = record["act"]
    yield Change(
        "Hold",
        act["hold"],
        {
            "lifted_at": record["t"],
            "lifted_by_ref": act["signer"]["ref"],
            "lift_detail": act.get("detail", {}),
            "lifted_seq": record["seq"],
        },
        "set",
    )


def _sign_off(record: Mapping[str, Any]) -> Iterator[Change]:
    act, judged = record["act"], record["judged"]
    ref, commit = _signer(record)
    yield Change(
        "SignOff",
        act["id"],
        {
            "day_id": act["day"],
            "revision": judged["revision"],
            "signer_ref": ref,
            "signer_commit": commit,
            "signed_at": act.get("on_paper", {}).get(
                "at", record["t"]
            ),  # on paper it was signed before it was typed in
            "lines": judged["lines"],
            "snapshot": judged["snapshot"],
            "from_paper": bool(act.get("paper")),
            "seq": record["seq"],
        },
    )


def _closing(record: Mapping[str, Any]) -> Iterator[Change]:
    act = record["act"]
    ref, commit = _signer(record)
    riders = act.get("riders", {})
    yield Change(
        "Closing",
        act["id"],
        {
            "day_id": act["day"],
            "riders": riders,
            "signer_ref": ref,
            "signer_commit": commit,
            "closed_at": record["t"],
            "note_commit": act.get("note", ""),
            "seq": record["seq"],
        },
    )
    for line, count in riders.items():
        yield Change(
            "RiderCount",
            f"{act['day']}/{line}",
            {"day_id": act["day"], "date": act["date"], "place_id": line, "riders": count, "seq": record["seq"]},
            "upsert",
        )


def _paper(record: Mapping[str, Any]) -> Iterator[Change]:
    act = record["act"]
    yield Change(
        "Paper",
        act["id"],
        {
            "course_id": act["course"],
            "kind": act["paper_kind"],
            "sign_off_id": act.get("sign_off"),
            "place_id": act.get("place"),
            "number": act["number"],
            "sha256": act["sha256"],
            "made_at": record["t"],
            "seq": record["seq"],
        },
    )


_PROJECTIONS: dict[str, Callable[[Mapping[str, Any]], Iterator[Change]]] = {
    "day-opened": _day_opened,
    "sheet": _sheet,
    "amendment": _sheet,
    "ride": _ride,
    "finding-opened": _finding_opened,
    "finding-note": _finding_step("note", owed="judged.owed", tag_number="tag_number"),
    "finding-work": _finding_step("work", work_seq="@seq", needs_ride="judged.needs_ride"),
    "finding-reinspection": _finding_step("reinspection", reinspection_seq="@seq"),
    "finding-release": _finding_step("release", state="=released", released_at="@t", released_by_ref="@ref"),
    "finding-watch": _finding_step("watch", watch_until="until"),
    "finding-ruling": _finding_step("ruling", ruling_until="until", ruling="detail"),
    "hold": _hold,
    "hold-renewed": _hold_renewed,
    "hold-told": _hold_told,
    "hold-lifted": _hold_lifted,
    "sign-off": _sign_off,
    "closing": _closing,
    "paper": _paper,
}


def key_of(value: Any) -> str:
    """Return a primary key as the text that changes use."""
    return str(value) if isinstance(value, UUID) else value
