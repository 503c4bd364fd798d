"""Rides, findings and holds of a snapshot as a paper shows them, names and notes in the place of commitments."""

from __future__ import annotations

from typing import Any, Protocol
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from accounts.clock import shown_time
from inspections.models import Hold
from reports.papers.times import day_of

Data = dict[str, Any]

WIND_FROM = {
    "head": gettext_lazy("head"),
    "tail": gettext_lazy("tail"),
    "cross": gettext_lazy("cross"),
    "calm": gettext_lazy("calm"),
}
TICKS = {
    "area": gettext_lazy("area inspected"),
    "intact": gettext_lazy("whole"),
    "clear": gettext_lazy("people clear"),
    "told": gettext_lazy("everyone told"),
}


class Named(Protocol):
    def name(self, person: Data | None) -> str: ...
    def name_of(self, ref: str) -> str: ...
    def note(self, commit: str | None) -> str: ...


def ride(ride: Data, numbers: dict[str, str], people: Named) -> Data:
    """Return one test ride; brake travel in metres, wind in m/s with where it blew from."""
    fields = ride.get("fields", {})
    wind = fields.get("wind_mps", "")
    direction = str(WIND_FROM.get(fields.get("wind_from", ""), ""))
    said = [one.get("sentence", "") for one in ride.get("judgements", ()) if one["verdict"] != "ok"]
    if fields.get("reached") == "no":
        said.insert(0, _("The ballast stopped short of the landing."))
    if fields.get("kind") == "emergency":
        said.insert(0, _("Emergency brake tried by itself; the primary brake was put back."))
    if not said and fields.get("reached") == "yes":
        count = len(ride.get("judgements", ()))
        said.append(
            ngettext(
                "Reached the landing; %(count)s point judged, in order.",
                "Reached the landing; all %(count)s points judged are in order.",
                count,
            )
            % {"count": count}
        )
    return {
        "line": numbers.get(ride.get("place", ""), ride.get("line", "")),
        "name": ride.get("line", ""),
        "at": ride["at"],
        "mass_kg": ride.get("mass_kg", ""),
        "wind": f"{wind} m/s {direction}".strip() if wind else "",
        "air": f"{fields['air_c']} °C" if fields.get("air_c") else "",
        "state": fields.get("state", ""),
        "speed": ride.get("speed", ""),
        "stroke_used": ride.get("stroke_used", ""),
        "stroke_available": f"{ride['stroke_available']} m" if ride.get("stroke_available") else "",
        "swing": _swing(ride),
        "reset": _reset(ride),
        "landing_clear_by": people.note(fields.get("landing_clear")),
        "verdict": ride["verdict"],
        "short": fields.get("reached") == "no",
        "sentence": " ".join(filter(None, said)),
        "signer": people.name(ride["signer"]),
        "voided": ride.get("voided") == "yes",
        "entry": ride["entry"],
        **_arrival(ride),
    }


def _arrival(one: Data) -> Data:
    """Return when it was received and what its phone's clock was, of what was signed without a signal."""
    return {name: one[name] for name in ("received_at", "clock") if one.get(name)}


def _told_at(hold: Data, where: str, zone: ZoneInfo) -> str:
    text = hold.get("told", {}).get(f"{where}_at", "")
    return f", {shown_time(text).astimezone(zone):%H:%M}" if text else ""


RESET = "BR-04"  # the item of the library that asks whether the primary brake is back at its start mark
SWING = "BR-03"


def _swing(ride: Data) -> str:
    found = [
        one
        for one in ride.get("judgements", ())
        if one["key"].startswith(SWING) or (one.get("value") and "swing" in one["wording"].lower())
    ]
    if not found:
        return ""
    return (
        f"{found[0]['value']}°" if found[0].get("value") else {"ok": _("ok")}.get(found[0]["verdict"], _("see result"))
    )


def _reset(ride: Data) -> str:
    found = [one for one in ride.get("judgements", ()) if one["key"].startswith(RESET)]
    return {"ok": _("yes"), "watch": _("yes")}.get(found[0]["verdict"], _("no")) if found else ""


def finding(finding: Data, people: Named) -> Data:
    steps = [step(one, finding, people) for one in finding.get("steps", ())]
    told = [one for one in finding.get("steps", ()) if one["kind"] == "watch"]
    ruled = [one for one in finding.get("steps", ()) if one["kind"] == "ruling"]
    ruling_text = ""
    if finding.get("ruling_until") and ruled:
        made = ruling(
            {
                "restriction": finding.get("ruling", {}).get("restriction", {}),
                "until": finding["ruling_until"],
                "reason": finding.get("ruling", {}).get("reason", ""),
            },
            ruled,
            people,
        )
        until = _("Until %(day)s.") % {"day": made["until"]}
        by = _("Ruled by %(name)s.") % {"name": made["by"]} if made["by"] else ""
        ruling_text = " ".join(filter(None, (made["sentence"], made["restriction"], until, by)))
    return {
        "is_watch": finding.get("is_watch") == "yes",
        **{
            key: finding[key]
            for key in (
                "title",
                "place",
                "component",
                "severity",
                "state",
                "tag_number",
                "limit",
                "clause",
                "opened_at",
                "watch_until",
            )
            if key in finding
        },
        "out_of_service": finding.get("out_of_service") == "yes",
        "opened_by": people.name_of(finding.get("opened_by", "")),
        "watch_reason": people.note(told[-1].get("note")) if told else "",
        "ruling": ruling_text,
        "steps": steps,
        "photos": list(dict.fromkeys(sha for one in finding.get("steps", ()) for sha in one.get("photos", ()))),
    }


def step(step: Data, finding: Data, people: Named) -> Data:
    detail, kind = step.get("detail", {}), step["kind"]
    if kind == "work":
        kind = {"adjustment": _("Adjusted")}.get(detail.get("what", ""), detail.get("what", "repair"))
    elif kind == "opened" and finding.get("out_of_service") == "yes":
        kind = "out_of_service"
    return {
        "kind": kind,
        "at": step["at"],
        "by": people.name(step["by"]),
        "note": people.note(step.get("note")),
        "detail": " ".join(_detail(step["kind"], detail, people)),
        **_arrival(step),
    }


def _detail(kind: str, detail: Data, people: Named) -> list[str]:
    found = []
    if detail.get("made_by"):
        found.append(_("Work by %(name)s.") % {"name": people.note(detail["made_by"]).rstrip(".")})
    if detail.get("energy_released"):
        found.append(_("Stored energy released."))
    if detail.get("locked_out"):
        found.append(_("Locked out and tagged."))
    if kind == "reinspection":
        mark = {"sound": _("sound"), "defect": _("defective"), "not_done": _("not checked")}.get(detail.get("mark", ""))
        if seen := detail.get("text") or mark:
            found.append(_("Found: %(what)s.") % {"what": seen})
    if kind in {"watch", "ruling"} and detail.get("until"):
        found.append(_("Until %(day)s.") % {"day": day_of(detail["until"])})
    if kind == "release":
        if detail.get("retired"):
            found.append(_("Retired for good."))
        elif ticks := [str(word) for name, word in TICKS.items() if name in detail.get("ticks", ())]:
            found.append(_("Confirmed: %(what)s.") % {"what": ", ".join(ticks)})
        if detail.get("tag_removed_by") == "other":
            found.append(_("The tag was taken off by another person than the one who tied it."))
    return found


def ruling(ruling: Data, steps: list[Data], people: Named) -> Data:
    """Return a ruling with reason, restriction in words, last day and who ruled."""
    limits = ruling.get("restriction", {})
    said = []
    if limits.get("mass_max_kg"):
        said.append(_("Riders up to %(kg)s kg.") % {"kg": limits["mass_max_kg"]})
    if limits.get("mass_min_kg"):
        said.append(_("Riders from %(kg)s kg.") % {"kg": limits["mass_min_kg"]})
    made = [one for one in steps if one["kind"] == "ruling"]
    reason = people.note(ruling.get("reason"))
    title = ruling.get("title", "")
    return {
        "sentence": ": ".join(filter(None, (title, reason))),
        "restriction": " ".join(said),
        "until": ruling["until"],
        "by": people.name(made[-1]["by"]) if made else "",
    }


def hold(hold: Data, people: Named, zone: ZoneInfo) -> Data:
    """Return one hold; who was told stands with the time on the course's clock, where it was entered with one."""
    ends = {"launch": _("launch"), "landing": _("landing")}
    told = [
        f"{ends[where]}: {people.note(commit)}{_told_at(hold, where, zone)}"
        for where, commit in sorted(hold.get("told", {}).items())
        if where in ends
    ]
    cause = hold["cause"]
    word = str(Hold.Cause(cause).label) if cause in Hold.Cause.values else cause
    return {
        "cause": ". ".join(filter(None, (word, people.note(hold.get("note"))))),
        "where": hold.get("where") or _("whole course"),
        "called_at": hold["called_at"],
        "by": people.name(hold["by"]),
        "lifted_at": hold.get("lifted_at", ""),
        "lifted_by": people.name_of(hold.get("lifted_by", "")),
        "told": "; ".join(told) or (_("asked by radio just before it was lifted") if hold.get("asked") else ""),
        **_arrival(hold),
    }
