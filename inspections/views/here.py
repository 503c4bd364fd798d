"""Noting the tag code of the place where one stands: kept for the day, recorded with each sheet signed there."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from django.http import HttpRequest

from accounts.clock import shown_time, told_time
from accounts.signing import ALONE
from courses.queries import setup_at
from inspections.errors import Refused
from inspections.here import HOW, MOST_CODE, read_code, stop_of
from inspections.models import Draft
from inspections.picture import Picture
from ledger.actions import as_text

KEPT = "tag-codes"
NOTED = "here-noted"  # what a phone noted without asking: code|how|at, set by static/js/scan.mjs
LED = "tag"  # in the address to which a label leads: inspections.views.tag


def note_code(request: HttpRequest, picture: Picture, draft: Draft) -> str:
    """Note what was scanned or typed; return the sentence that says why it was not noted, or nothing."""
    code, wrong = read_code(picture.setup, draft.place, draft.section, request.POST.get("here-code", ""))
    if not wrong:
        how = "scanned" if request.POST.get("here-how") == "scanned" else "typed"
        noted = {"code": code, "how": how, "at": as_text(picture.at)}
        codes = {**_codes(request, picture), str(stop_of(draft.place, draft.section)): noted}
        request.session[KEPT] = {"date": picture.date.isoformat(), "course": str(picture.course.pk), "codes": codes}
    return wrong


def code_of(request: HttpRequest, picture: Picture, draft: Draft) -> dict[str, str]:
    """Return what this person noted at this stop today: code, how, at. What is typed in later stands nowhere."""
    if draft.amends or draft.from_paper:
        return {}
    return _codes(request, picture).get(str(stop_of(draft.place, draft.section)), {})


def shown_code(noted: dict[str, Any]) -> dict[str, Any]:
    """Return a noted code as pages show it; empty where there is none."""
    if not noted:
        return {}
    return {"code": noted["code"], "how": HOW.get(noted["how"], ""), "at": shown_time(noted["at"])}


def here_of(request: HttpRequest, picture: Picture, draft: Draft) -> dict[str, str]:
    """Return the tag code that a sheet is signed with: that which its phone noted by itself, else that of the log-in.

    What a phone noted is looked at again. It may come late: what was there when it was noted counts, too. Raises
    Refused for a code of somewhere else.
    """
    claimed = request.POST.get(NOTED, "").split("|")
    if draft.amends or draft.from_paper or len(claimed) != len(("code", "how", "at")):
        return code_of(request, picture, draft)
    said, how, text = claimed
    at = told_time(text)
    if at is None:
        return code_of(request, picture, draft)
    code, wrong = read_code(picture.setup, draft.place, draft.section, said)
    if wrong and timedelta() < picture.at - at <= ALONE:
        code, _wrong = read_code(setup_at(picture.course, at), draft.place, draft.section, said)
    if not code:
        raise Refused("not-here", wrong)
    return {"code": code, "how": how if how in HOW else "typed", "at": text}


def here_shown(request: HttpRequest, picture: Picture, draft: Draft, wrong: str) -> dict[str, Any]:
    """Return what a sheet shows of its tag code: the one noted, why one was not, or the one that a label led here by.

    The last waits in the field until its person notes it: looking at a page notes nothing.
    """
    noted = shown_code(code_of(request, picture, draft))
    if wrong:
        return noted | {"wrong": wrong, "typed": request.POST.get("here-code", "")}
    led = request.GET.get(LED, "")[:MOST_CODE] if request.method == "GET" else ""
    return noted or ({"typed": led, "read": "scanned"} if led else {})


def _codes(request: HttpRequest, picture: Picture) -> dict[str, dict[str, str]]:
    kept = request.session.get(KEPT, {})
    if (kept.get("date"), kept.get("course")) != (picture.date.isoformat(), str(picture.course.pk)):
        return {}
    return dict(kept["codes"])
