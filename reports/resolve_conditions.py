"""Weather, communication and rescuers of a day, in sentences, from what was read that morning."""

from __future__ import annotations

from datetime import datetime
from typing import Any, Protocol
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _

from inspections.measures import said
from reports.resolve_winds import decision

Data = dict[str, Any]


class Named(Protocol):
    def name(self, person: Data | None) -> str: ...
    def note(self, commit: str | None) -> str: ...


def conditions(snapshot: Data, people: Named) -> Data:
    """Return ``weather``, ``communication`` and ``rescuers`` of a day sheet."""
    read = snapshot.get("conditions", ())
    zone = ZoneInfo(snapshot["course"]["tz"])
    weather: dict[str, str] = {}
    if said_of_wind := decision(snapshot, zone):
        weather["decision"] = said_of_wind
    for key, belongs in (
        ("gust", lambda one: one["measures"] == "weather.wind_gust"),
        ("wind", lambda one: one["measures"] == "weather.wind_mean"),
        ("forecast", lambda one: one["measures"] == "weather.warning"),
        ("thunder", lambda one: one["code"] == "WX-03"),
        ("temperature", lambda one: one["code"] == "WX-04"),
        ("ice", lambda one: one["measures"] == "weather.ice"),
    ):
        if sentences := _sentences([one for one in read if belongs(one)], people, zone):
            weather[key] = " ".join(sentences)
    if state := _cable_state(snapshot):
        weather["state"] = state
    return {
        "weather": weather,
        "communication": _communication(read, people),
        "rescuers": [
            _("%(count)s on the course, read by %(name)s at %(time)s")
            % {"count": one.get("text", "?"), "name": people.name(one.get("by")), "time": _clock(one["at"], zone)}
            for one in read
            if one["measures"] == "rescue.people"
        ],
    }


def _cable_state(snapshot: Data) -> str:
    """Say whether the cables were dry or wet at the test rides; where both were met, at which lines."""
    numbers = {line["id"]: line["number"] for line in snapshot.get("lines", ())}
    found: dict[str, list[str]] = {}
    for ride in snapshot.get("rides", ()):
        state = ride.get("fields", {}).get("state")
        if state in {"dry", "wet"} and not ride.get("voided"):
            found.setdefault(state, []).append(str(numbers.get(ride.get("place", ""), ride.get("line", "?"))))
    lines = {state: ", ".join(sorted(set(names))) for state, names in found.items()}
    if len(lines) == 2:
        return _("At the test rides, by line: dry %(dry)s; wet %(wet)s.") % lines
    return (
        {"dry": _("Dry at every test ride."), "wet": _("Wet at every test ride.")}[next(iter(lines))] if lines else ""
    )


def _communication(read: Any, people: Named) -> list[Data]:
    """One sentence for each person and answer, with the places where the radio was tried."""
    grouped: dict[tuple[str, str], list[Data]] = {}
    for one in read:
        if one["measures"] == "radio.check":
            grouped.setdefault((people.name(one.get("by")), _answer(one)), []).append(one)
    found = []
    for (who, answer), tried in grouped.items():
        places = ", ".join(dict.fromkeys(one["place"] for one in tried))
        said = " ".join(filter(None, (people.note(one.get("note")) for one in tried)))
        sentence = _("Radio tried at %(places)s: %(answer)s") % {"places": places, "answer": answer}
        found.append({"sentence": f"{sentence} {said}".strip(), "by": who, "at": max(one["at"] for one in tried)})
    return found


def _sentences(read: list[Data], people: Named, zone: ZoneInfo) -> list[str]:
    """One sentence for each figure; looks with the same answer are told together, with the time of the last."""
    found: list[str] = []
    looks: dict[tuple[str, str], list[Data]] = {}
    for one in read:
        if one.get("text"):
            about = {
                "what": said(one["text"], one.get("unit", "")),
                "place": one["place"],
                "time": _clock(one["at"], zone),
                "name": people.name(one.get("by")),
            }
            found.append(_("%(what)s, %(place)s, read %(time)s by %(name)s.") % about)
        else:
            looks.setdefault((one["wording"], _answer(one)), []).append(one)
        if note := people.note(one.get("note")):
            found.append(note)
    for (wording, answer), same in looks.items():
        names = ", ".join(dict.fromkeys(people.name(one.get("by")) for one in same))
        times = sorted(_clock(one["at"], zone) for one in same)
        when = times[0] if len(set(times)) == 1 else f"{times[0]} – {times[-1]}"
        where = ", ".join(dict.fromkeys(one["place"] for one in same))
        found.append(f"{wording} {answer} ({where}; {when}, {names})")
    return found


def _answer(one: Data) -> str:
    return {"sound": _("Yes."), "defect": _("No.")}.get(one.get("mark", ""), _("Not checked."))


def _clock(text: str, zone: ZoneInfo) -> str:
    return f"{datetime.fromisoformat(text).astimezone(zone):%H:%M}"
