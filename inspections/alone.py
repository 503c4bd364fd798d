"""What a page carries so that a phone can say alone, without a signal, what a deed will record.

The script (``static/js/act.mjs``) makes of this and of what stands in the form the very bytes that the server would:
``fixed`` is what the page has decided, ``items`` what is asked, ``signer`` whose name is committed. What it cannot
make, such as a form that is typed in from paper, carries nothing of this and is sent as any other.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import UTC, date, datetime, timedelta
from typing import Any

from django.utils.translation import gettext as _

from accounts.models import User
from courses.calendar import day_start
from courses.models import Course
from inspections.errors import Refused
from inspections.judging import REGISTER_KINDS, TYPED_KINDS, Judged
from inspections.measures import asked_in
from inspections.models import Draft, Sheet
from inspections.projection import day_id
from ledger.actions import as_text


def bounds(course: Course, on: date) -> tuple[datetime, datetime]:
    """Return when a day of the course begins and when the next one does."""
    ends = (day_start(one, course.zone, course.day_change_hour) for one in (on, on + timedelta(days=1)))
    since, until = (end.astimezone(UTC) for end in ends)
    return since, until


def demand_day(course: Course, on: date, made_at: datetime) -> None:
    """Refuse what claims to have been signed on another day than the page was of.

    What was looked at yesterday must not be signed today as if it had been signed then.
    """
    since, until = bounds(course, on)
    if not since <= made_at < until:
        raise Refused(
            "other-day", _("This was signed on another day than its page was opened. Look again and fill in a new one.")
        )


def sheet_pattern(
    draft: Draft, judged: Iterable[Judged], *, meaning: str, signer: User, title: str, here: Mapping[str, str]
) -> dict[str, Any]:
    """Return what the act of a sheet says besides what is typed: see ``actions.sign_sheet``."""
    course = draft.place.course
    fixed: dict[str, Any] = {
        "course": str(course.pk),
        "day": day_id(str(course.pk), draft.date.isoformat()),
        "date": draft.date.isoformat(),
        "place": str(draft.place_id),
        "section": draft.section,
        "started_at": as_text(draft.started_at),
        "versions": draft.versions,
        "meaning": meaning,
    }
    if here:
        fixed["here"] = dict(here)
    if draft.amends is not None:
        fixed |= {"amends": str(draft.amends), "supersedes": Sheet.objects.get(pk=draft.amends).seq}
    since, until = bounds(course, draft.date)
    return {
        "form": "sheet",
        "by": "sign",
        "kind": "amendment" if draft.amends else "sheet",
        "title": title,
        "since": as_text(since),
        "until": as_text(until),
        "signer": {"ref": signer.ref, "name": signer.name},
        "fixed": fixed,
        "reason": bool(draft.amends),
        "items": [_item(one, course.units) for one in judged],
        "words": _words(),
    }


def _item(one: Judged, units: str) -> dict[str, Any]:
    """Return what is known of an item before anything is typed. ``had``: what the draft holds that no field shows."""
    item, answer = one.item, one.answer
    asked = asked_in(item["unit"], units)
    return {
        "key": item["key"],
        "slot": item["slot"],
        "text": item["text"],
        "unit": item["unit"],
        "asked": asked if asked != item["unit"] else "",
        "component": str(one.component.pk) if one.component else "",
        "typed": item["kind"] in TYPED_KINDS,
        "asks": item["kind"] not in REGISTER_KINDS,
        "had": {
            "mark": answer.mark, "text": answer.text, "note": answer.note, "reason": answer.reason,
            "gauge": answer.gauge, "kept": (answer.text or answer.mark) if answer.kept else "",
        },
    }  # fmt: skip


def _words() -> dict[str, str]:
    return {
        "empty": _("Not answered yet."),
        "why": _("Say in the note why it can't be checked today."),
        "wrong": _("Say in the note what the defect is."),
        "reason": _("Say why the signed sheet is corrected. Both values stay visible."),
        "missing": _("There is no signal, and this is not signed yet:"),
        "defects": _("There is no signal. What is marked as a defect is out of service as soon as this arrives:"),
        "day": _("This phone's clock is not on the day of this page. Load the page again when there is a signal."),
    }
