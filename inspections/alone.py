"""What a page carries so that a phone can say alone, without a signal, what a deed will record.

The script (``static/js/act.mjs``) makes of this and of what stands in the form the very bytes that the server would:
``make`` says which way, ``fixed`` is what the page has decided, ``items`` what is asked, ``signer`` whose name is
committed. What it cannot make carries nothing of this and is sent as any other: what is typed in from paper. With
``timed`` it counts at its own time, as rides and the weather do, and is signed alone only where the phone has measured
its clock; what ``worsens`` is signed on whatever day its page is of.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, date, timedelta
from typing import Any

from django.utils.translation import gettext as _

from accounts.models import User
from courses.calendar import day_start
from courses.models import Course, Place
from inspections.actions.holds import COURSE_WIDE, OF_A_COURSE
from inspections.alone_ride import ride_asks, ride_words
from inspections.forms.finding import CRITICAL_IS_NO_WATCH
from inspections.judging import REGISTER_KINDS, TYPED_KINDS, Judged, is_weather
from inspections.measures import asked_in
from inspections.models import Draft, Finding, Hold, Sheet
from inspections.picture import Picture
from inspections.projection import day_id
from ledger.actions import as_text


def sheet_pattern(
    draft: Draft, judged: Iterable[Judged], *, meaning: str, signer: User, title: str, here: Mapping[str, str]
) -> dict[str, Any]:
    """Return what the act of a sheet says besides what is typed: see ``actions.sign_sheet``."""
    judged = list(judged)
    course = draft.place.course
    fixed = _of_sheet(draft, meaning)
    if here:
        fixed["here"] = dict(here)
    if draft.amends is not None:
        fixed |= {"amends": str(draft.amends), "supersedes": Sheet.objects.get(pk=draft.amends).seq}
    return _pattern(course, draft.date, signer, make="sheet", kind="amendment" if draft.amends else "sheet") | {
        "by": "sign",
        "timed": any(is_weather(one.item) for one in judged),
        "title": title,
        "fixed": fixed,
        "reason": bool(draft.amends),
        "items": [_item(one, course.units) for one in judged],
        "words": _words() | {
            "empty": _("Not answered yet."),
            "why": _("Say in the note why it can't be checked today."),
            "wrong": _("Say in the note what the defect is."),
            "reason": _("Say why the signed sheet is corrected. Both values stay visible."),
            "defects": _(
                "The server does not answer. What is marked as a defect is out of service as soon as this arrives:"
            ),
        },
    }  # fmt: skip


def rack_pattern(
    draft: Draft, judged: Iterable[Judged], out: frozenset[str], *, meaning: str, signer: User, title: str, reason: str
) -> dict[str, Any]:
    """Return the same for a rack. ``out``: keys of what is out of service already, which ``reason`` is said of."""
    return _pattern(draft.place.course, draft.date, signer, make="rack", kind="sheet") | {
        "title": title,
        "fixed": _of_sheet(draft, meaning),
        "out": reason,
        "items": [
            {"key": one.item["key"], "slot": one.item["slot"], "tag": one.item["component"].tag,
             "component": str(one.component.pk) if one.component else "", "out": one.item["key"] in out}
            for one in judged
        ],
        "words": _words() | {
            "count": _("The count and what is not found do not make up what is in the register. Count again."),
            "both": _("%(tag)s cannot be defect and not found."),
            "wrong": _("%(tag)s: Say what is wrong."),
        },
    }  # fmt: skip


def hold_pattern(picture: Picture, signer: User) -> dict[str, Any]:
    """Return what the act of a hold says besides its line and cause: see ``actions.call_hold``.

    ``renews``: for weather, the hold that stands already, whose clock would begin anew.
    """
    standing = [one for one in picture.holds if one.lifted_at is None and one.cause in COURSE_WIDE]
    return _pattern(picture.course, picture.date, signer, make="hold", kind="hold") | {
        "title": _("Hold"),
        "fixed": _of_day(picture.course, picture.date),
        "worsens": True,
        "wide": sorted(COURSE_WIDE),
        "whole": sorted(OF_A_COURSE),
        "renews": {one.cause: str(one.pk) for one in standing},
        "places": {str(one.pk): str(one) for one in picture.setup.lines},
        "causes": {name: str(word) for name, word in Hold.Cause.choices},
        "words": _words() | {
            "cause": _("Choose the cause."),
            "place": _("Choose the line, or the whole course."),
            "held": _("Hold, %(place)s: %(cause)s"),
            "person": _("Person on %(place)s"),
            "whole": _("whole course"),
            "line": _("Which line"),
            "why": _("Why"),
            "note": _("Note"),
        },
    }  # fmt: skip


def ride_pattern(
    picture: Picture, line: Place, asked: Iterable[Mapping[str, Any]], *, meaning: str, signer: User
) -> dict[str, Any]:
    """Return what the act of a test ride says besides what is typed: see ``actions.record_ride``."""
    return _pattern(picture.course, picture.date, signer, make="ride", kind="ride") | {
        "by": "sign",
        "timed": True,
        "title": _("Test ride, %(line)s") % {"line": line},
        "fixed": _of_day(picture.course, picture.date) | {"place": str(line.pk), "meaning": meaning},
        "items": [
            {"key": item["key"], "text": item["text"], "unit": item["unit"], "typed": item["kind"] in TYPED_KINDS,
             "asks": item["kind"] not in REGISTER_KINDS, "had": {}, "asked": _asked(item["unit"], picture.course.units),
             "travel": item.get("measures") == "stroke.used"}
            for item in asked
        ],
        "words": _words() | ride_words(),
    } | ride_asks(picture, line)  # fmt: skip


def withdraw_pattern(
    picture: Picture, signer: User, *, by_code: Mapping[str, str], spots: Sequence[tuple[str, str]]
) -> dict[str, Any]:
    """Return what the act of taking something out of service says: see ``actions.take_out_of_service``.

    ``spots``: (value, words) of everything that can be taken out; ``by_code``: which of them a tag code names.
    """
    return _pattern(picture.course, picture.date, signer, make="withdraw", kind="finding-opened") | {
        "title": _("Take out of service"),
        "fixed": _of_day(picture.course, picture.date),
        "worsens": True,
        "codes": dict(by_code),
        "places": dict(spots),
        "words": _words() | {
            "place": _("Type the code on its tag, or choose what it is."),
            "code": _("No part has this code, or another one is chosen below."),
            "what": _("Say in a few words what is wrong."),
        },
    }  # fmt: skip


def finding_pattern(picture: Picture, signer: User, *, places: Iterable[Place]) -> dict[str, Any]:
    """Return what the act of a finding opened by hand says besides what is typed: see ``actions.open_finding``."""
    return _pattern(picture.course, picture.date, signer, make="finding", kind="finding-opened") | {
        "title": _("Finding"),
        "fixed": _of_day(picture.course, picture.date),
        "worsens": True,
        "places": {str(one.pk): str(one) for one in places},
        "words": _words() | {
            "where": _("Choose where it was found."),
            "what": _("Say in a few words what was found."),
            "severity": _("Say how serious it is."),
            "watched": str(CRITICAL_IS_NO_WATCH),
        },
    }  # fmt: skip


def add_pattern(picture: Picture, finding: Finding, signer: User) -> dict[str, Any]:
    """Return what the act of adding to an open finding says besides what is typed: see ``actions.add_to_finding``."""
    return _pattern(picture.course, picture.date, signer, make="add", kind="finding-note") | {
        "title": _("Added to: %(finding)s") % {"finding": finding.title},
        "fixed": _of_day(picture.course, picture.date) | {"place": str(finding.place_id), "finding": str(finding.pk)},
        "words": _words() | {"nothing": _("Add a note, a photo or the number of the tag.")},
    }


def _pattern(course: Course, on: date, signer: User, *, make: str, kind: str) -> dict[str, Any]:
    """Return what is the same for all: who signs, and between when the page can still sign by itself."""
    return {
        "make": make,
        "kind": kind,
        **between(course, on),
        "signer": {"ref": signer.ref, "name": signer.name},
    }


def between(course: Course, on: date) -> dict[str, str]:
    """Return since when and until when a day of a course is its day of now, as a script reads it."""
    since, until = (day_start(one, course.zone, course.day_change_hour) for one in (on, on + timedelta(days=1)))
    return {"since": as_text(since.astimezone(UTC)), "until": as_text(until.astimezone(UTC))}


def _of_day(course: Course, on: date) -> dict[str, Any]:
    return {"course": str(course.pk), "day": day_id(str(course.pk), on.isoformat()), "date": on.isoformat()}


def _of_sheet(draft: Draft, meaning: str) -> dict[str, Any]:
    return _of_day(draft.place.course, draft.date) | {
        "place": str(draft.place_id),
        "section": draft.section,
        "started_at": as_text(draft.started_at),
        "versions": draft.versions,
        "meaning": meaning,
    }


def _item(one: Judged, units: str) -> dict[str, Any]:
    """Return what is known of an item before anything is typed. ``had``: what the draft holds that no field shows."""
    item, answer = one.item, one.answer
    return {
        "key": item["key"],
        "slot": item["slot"],
        "text": item["text"],
        "unit": item["unit"],
        "asked": _asked(item["unit"], units),
        "component": str(one.component.pk) if one.component else "",
        "typed": item["kind"] in TYPED_KINDS,
        "asks": item["kind"] not in REGISTER_KINDS,
        "had": {
            "mark": answer.mark, "text": answer.text, "note": answer.note, "reason": answer.reason,
            "gauge": answer.gauge, "kept": (answer.text or answer.mark) if answer.kept else "",
        },
    }  # fmt: skip


def _asked(unit: str, units: str) -> str:
    """Return the unit that a field asks for, where it is another than the record's."""
    asked = asked_in(unit, units)
    return asked if asked != unit else ""


def _words() -> dict[str, str]:
    return {
        "missing": _("The server does not answer, and this is not signed yet:"),
        "day": _("This phone's clock says %(clock)s, this page is of %(page)s. Is it the day of this page?"),
        "isDay": _("Yes, sign it"),
        "sign": _("Sign it"),
        "signOut": _("Sign it: out of service"),
        "typed": _("Go on"),
        "anotherDay": _(
            "This phone's clock says %(clock)s, this page is of %(page)s. It has to be signed with a signal."
        ),
    }
