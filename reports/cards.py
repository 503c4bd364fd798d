"""What a launch card and an out-of-service tag are drawn from."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.utils import translation
from django.utils.translation import gettext as _

from courses.documents import WAYS_OFF
from courses.models import Place
from courses.queries import Setup
from inspections.models import Finding, FindingStep
from inspections.telling import disclosed, name
from ledger.actions import as_text
from reports.blank import paper_size

Data = dict[str, Any]


def launch_card_data(setup: Setup, day: Data, line: Data, *, number: str) -> Data:
    """Return what the card of one line is drawn from: the set-up when the day was signed, and the day sheet's data."""
    with translation.override(settings.LANGUAGE_CODE):
        place = next(one for one in setup.lines if str(one.pk) == line["id"])
        document = setup.document(place)
        card = {
            "number": number,
            "line": line,
            "brakes": [_brake(setup, place, one) for one in document.get("brakes", ())],
            "not_issued": [one for rack in day["gear"].get("racks", ()) for one in rack.get("exceptions", ())],
            "way_off": _way_off(setup, place),
            "computed": {
                "from": _(
                    "Posted by the designer of record; weights between those ridden within seven days, and both cut to "
                    "what is computed for the wind."
                )
                if (line.get("computed") or {}).get("edges")
                else _("Weights between those ridden within seven days; wind limits as set by the designer of record."),
                "source": line.get("designer", ""),
            },
            "opened_by": {key: day["sign_off"][key] for key in ("name", "role", "at")},
        }
        return {key: day[key] for key in ("format", "paper", "language", "course", "date", "record", "trial")} | {
            "cards": [card]
        }


def _brake(setup: Setup, line: Place, brake: Data) -> Data:
    fitted = setup.component_at(line, brake.get("slot", ""))
    what = ", ".join(filter(None, (fitted.tag, fitted.label))) if fitted else ""
    return {"role": brake.get("role", ""), "kind": brake.get("kind", ""), "what": what}


def _way_off(setup: Setup, line: Place) -> str:
    platform = setup.places.get(line.launch_id)  # type: ignore[arg-type]
    way = setup.document(platform).get("way_off", "") if platform else ""
    if way.startswith("line:"):
        onward = next((one for one in setup.lines if str(one.pk) == way.removeprefix("line:")), None)
        return _("From %(platform)s only by %(line)s.") % {"platform": platform, "line": onward} if onward else ""
    if way not in WAYS_OFF:
        return ""
    return _("From %(platform)s: %(way)s.") % {"platform": platform, "way": WAYS_OFF[way]}


def tag_data(finding: Finding, *, address: str = "") -> Data:
    """Return what the tag of one finding says: what, where, why, who and when; ``address`` is the finding's page."""
    course = finding.course
    opened = FindingStep.objects.filter(finding=finding).order_by("seq").first()
    names = disclosed([opened.person_commit, opened.note_commit] if opened else [])
    tag = {
        "number": finding.tag_number,
        "item": finding.component.label if finding.component else finding.title,
        "component": finding.component.tag if finding.component else "",
        "place": str(finding.place),
        "defect": finding.title,
        "limit": _("Limit: %(limit)s.") % {"limit": finding.limit} if finding.limit else "",
        "by": name(names, opened.person_commit) if opened else "",
        "at": as_text(finding.opened_at),
        "address": address,
    }
    return {
        "format": 1,
        "paper": paper_size(course.units),
        "language": settings.LANGUAGE_CODE,
        "tags": [tag],
        "course": {"name": course.name, "town": course.town, "tz": course.tz, "operator": course.operator.name},
    }
