"""What one daily record must contain, and what of it a day sheet's data lack.

The list is the union of the amusement rules on daily records (reference standards, 2.3, rule R-241): device name and
element number, maker and serial number, place, date, start and end time of the inspection, the person inspecting with
competence, each item with result and measurement, defects with action, the test ride without passengers with time,
ballast and brake result, the weather decision, the communication test, the inspector's and the supervisor's signature,
and the opening time. What belongs to a line is asked for every line that is opened.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any, NamedTuple

from django.utils.translation import gettext as _

from reports.papers.words import Data


class Gap(NamedTuple):
    """One thing that is missing: which field of the list, and a sentence that says where."""

    field: str
    sentence: str


FIELDS = (
    "name", "number", "maker", "serial", "place", "date", "start", "end", "person", "competence", "result",
    "measurement", "action", "ride", "ride_time", "ballast", "brake_result", "weather", "communication",
    "inspector_signature", "supervisor_signature", "opening_time", "limits", "sheets", "changes", "lines",
)  # fmt: skip


def gaps(data: Data) -> list[Gap]:
    """Return everything that is missing, in the order of the page; empty for a complete record."""
    found = [
        *_day_gaps(data),
        *(gap for line in data.get("lines", ()) for gap in _line_gaps(line, data)),
        *(
            gap
            for place in data.get("places", ())
            for sheet in place.get("sheets", ())
            for gap in _sheet_gaps(place, sheet)
        ),
        *(gap for finding in data.get("findings", ()) for gap in _finding_gaps(finding)),
        *_signature_gaps(data),
    ]
    return list(dict.fromkeys(found))


def missing_sentences(data: Data) -> list[str]:
    """Return what is missing as sentences: what the record itself reports first, then what this paper lacks."""
    return list(dict.fromkeys([*data.get("missing", ()), *(gap.sentence for gap in gaps(data))]))


def _day_gaps(data: Data) -> Iterator[Gap]:
    if not data.get("course", {}).get("town"):
        yield Gap("place", _("The place of the course is missing."))
    if not data.get("date"):
        yield Gap("date", _("The date is missing."))
    if not data.get("opens_at"):
        yield Gap("opening_time", _("The opening time is missing."))
    if not data.get("lines"):
        yield Gap("lines", _("No line is named."))
    if not data.get("weather", {}).get("decision"):
        yield Gap("weather", _("The weather decision is missing."))
    if not data.get("communication"):
        yield Gap("communication", _("The communication test is missing."))
    if data.get("revision", 1) > 1 and not data.get("changes"):
        yield Gap("changes", _("It is not said what this revision changed."))


def _line_gaps(line: Data, data: Data) -> Iterator[Gap]:
    named = {"line": _line_name(line)}
    if not line.get("name"):
        yield Gap("name", _("The name of a line is missing."))
    if not line.get("number"):
        yield Gap("number", _("The number of a line is missing."))
    if line.get("decision") != "open":
        return
    if not line.get("maker"):
        yield Gap("maker", _("The maker of %(line)s is missing.") % named)
    if not line.get("serial"):
        yield Gap("serial", _("The serial number of %(line)s is missing.") % named)
    limits = line.get("limits") or {}
    if not (limits.get("mass_min_kg") and limits.get("mass_max_kg") and limits.get("wind")):
        yield Gap("limits", _("The weight band or the wind limits of %(line)s are missing.") % named)
    if not any(
        sheet.get("readings")
        for place in data.get("places", ())
        if _is_of(place, line)
        for sheet in place.get("sheets", ())
    ):
        yield Gap("sheets", _("No sheet of %(line)s is on this record.") % named)
    rides = [ride for ride in data.get("rides", ()) if not ride.get("voided") and _is_of(ride, line)]
    if not rides:
        yield Gap("ride", _("The test ride of %(line)s is missing.") % named)
    for ride in rides:
        if not ride.get("at"):
            yield Gap("ride_time", _("The time of a test ride of %(line)s is missing.") % named)
        if not ride.get("mass_kg"):
            yield Gap("ballast", _("The ballast of a test ride of %(line)s is missing.") % named)
        if not (ride.get("verdict") and (ride.get("stroke_used") or ride.get("sentence"))):
            yield Gap("brake_result", _("The brake result of a test ride of %(line)s is missing.") % named)


def _is_of(part: Data, line: Data) -> bool:
    """Whether a place or a ride is a line's: by the line's number where it is given, by its name otherwise."""
    own = {str(line.get("number")), line.get("name")} - {"None", None}
    return bool(own & {str(part.get("line")), part.get("number") and str(part["number"]), part.get("name")})


def _line_name(line: Data) -> str:
    if line.get("name"):
        return str(line["name"])
    return _("line %(number)s") % {"number": line.get("number") or "?"}


def _sheet_gaps(place: Data, sheet: Data) -> Iterator[Gap]:
    where = {"sheet": sheet.get("label", "?"), "place": place.get("name", "?")}
    if not sheet.get("started_at"):
        yield Gap("start", _("The start time of the sheet %(sheet)s, %(place)s, is missing.") % where)
    if not sheet.get("signed_at"):
        yield Gap("end", _("The sheet %(sheet)s, %(place)s, has no end time and is not signed.") % where)
    if not sheet.get("signer"):
        yield Gap("person", _("The person who inspected %(sheet)s, %(place)s, is missing.") % where)
    if not sheet.get("competence"):
        yield Gap(
            "competence", _("The competence of the person who inspected %(sheet)s, %(place)s, is missing.") % where
        )
    yield from _reading_gaps(sheet.get("readings", ()), where)


def _reading_gaps(readings: Iterable[Data], where: dict[str, Any]) -> Iterator[Gap]:
    for reading in readings:
        of = {**where, "item": reading.get("code") or reading.get("wording") or "?"}
        if reading.get("verdict") not in ("ok", "watch", "withdraw", "unknown") or (
            reading.get("verdict") != "unknown" and not reading.get("mark") and not reading.get("text")
        ):
            yield Gap("result", _("The result of %(item)s, %(sheet)s, %(place)s, is missing.") % of)
        if reading.get("unit") and not reading.get("text") and reading.get("mark") != "not_done":
            yield Gap("measurement", _("The figure of %(item)s, %(sheet)s, %(place)s, is missing.") % of)


def _finding_gaps(finding: Data) -> Iterator[Gap]:
    if not (
        finding.get("out_of_service") or finding.get("steps") or finding.get("ruling") or finding.get("watch_until")
    ):
        yield Gap(
            "action", _("The action on the finding “%(title)s” is missing.") % {"title": finding.get("title", "?")}
        )


def _signature_gaps(data: Data) -> Iterator[Gap]:
    signers = {sheet.get("signer") for place in data.get("places", ()) for sheet in place.get("sheets", ())} - {
        None,
        "",
    }
    signed = {s.get("name") for s in data.get("signatures", ()) if s.get("meaning") and s.get("at")}
    if not signed:
        yield Gap("inspector_signature", _("The inspector's signature is missing."))
    for name in sorted(signers - signed) if signed else ():
        yield Gap(
            "inspector_signature", _("The signature of %(name)s, with time and meaning, is missing.") % {"name": name}
        )
    sign_off = data.get("sign_off") or {}
    if not all(sign_off.get(key) for key in ("name", "meaning", "at")):
        yield Gap("supervisor_signature", _("The signature that opens the day is missing."))
