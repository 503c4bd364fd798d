"""What lies between the time at which something was signed alone and the time at which it arrives.

What arrives late may worsen at once. It betters only what nothing newer contradicts: a ride that work, a test of the
emergency brake or a change of the set-up has overtaken is refused, and an answer that says nothing of how a part stands
now is kept as "not checked". Whatever cannot be told to lie before it is taken to lie between.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import datetime

from django.db.models import Q
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from accounts.clock import APART
from accounts.deeds import Deed
from courses.calendar import day_start, local_day
from courses.models import Course, Place, Placement, Version
from inspections.errors import Refused
from inspections.judging import Judged
from inspections.models import FindingStep, Reading, Verdict
from inspections.picture import Picture, Spot
from inspections.reopening import reopening_of

REPAIRS = ("work", "reinspection", "release")


def demand_timely(deed: Deed, spot: Spot) -> None:
    """Refuse what was measured and signed alone where it is not known when, or was on another day than it arrives.

    A ride from before work on a brake would else count as one after it, and an old wind as today's newest.
    """
    if not deed.came_later:
        return
    if deed.true_at is None:
        sentence = _(
            "When this was measured cannot be told from this phone's clock, and test rides and the weather count as of "
            "when they arrive: measure again, and sign with a signal."
        )
        raise Refused("needs-signal", sentence)
    course = spot.course
    days = {local_day(one, course.zone, course.day_change_hour) for one in (deed.true_at, deed.at)}
    if days != {spot.date}:
        sentence = _(
            "This was measured on another day. Test rides and the weather count on their own day: measure again."
        )
        raise Refused("other-day", sentence)


def demand_not_overtaken(deed: Deed, picture: Picture, line: Place, fields: Mapping[str, str]) -> None:
    """Refuse a ride that came later where something between makes that it would not count, or count otherwise."""
    if not deed.came_later or deed.true_at is None:
        return
    found = " ".join(_between(picture, line, fields, deed.true_at - APART))
    if found:
        rode = _clock(deed.true_at, picture.course)
        sentence = _("This was ridden at %(rode)s and arrives only now. %(between)s So it does not count: ride again.")
        raise Refused("overtaken", sentence % {"rode": rode, "between": found})


def somebody_was_there(deed: Deed, picture: Picture, line: Place) -> bool:
    """Tell whether a hold said, when the ballast was sent, that somebody is on the line or under it."""
    if not deed.came_later or deed.true_at is None:
        return any(hold.cause == "person" for hold in picture.holds_on(line))
    before, after = deed.true_at - APART, deed.true_at + APART
    return any(
        hold.cause == "person"
        and hold.place_id in (None, line.pk)
        and hold.called_at <= after
        and (hold.lifted_at is None or hold.lifted_at >= before)
        for hold in picture.holds
    )


def _between(picture: Picture, line: Place, fields: Mapping[str, str], since: datetime) -> Iterator[str]:
    course = picture.course
    words = {
        "work": _("Work on it was entered at %(at)s: %(what)s"),
        "reinspection": _("It was looked at again at %(at)s: %(what)s"),
        "release": _("It was released at %(at)s: %(what)s"),
    }
    steps = FindingStep.objects.filter(finding__place=line, kind__in=REPAIRS, at__gt=since)
    for step in steps.select_related("finding"):
        yield words[step.kind] % {"at": _clock(step.at, course), "what": _ended(step.finding.title)}
    for ride in picture.rides:
        if ride.rode_at <= since:
            continue
        if ride.place_id == line.pk and ride.fields.get("kind") == "emergency":
            yield _("The emergency brake was tried by itself at %(at)s.") % {"at": _clock(ride.rode_at, course)}
        if ride.fields.get("state") != fields.get("state"):
            wet = _("The cable was found wet at %(at)s.")
            dry = _("The cable was found dry at %(at)s.")
            yield (wet if ride.fields.get("state") == "wet" else dry) % {"at": _clock(ride.rode_at, course)}
    ends = Q(since__gt=since, since__lte=picture.at) | Q(until__gt=since, until__lte=picture.at)
    for part in Placement.objects.filter(ends, place=line).select_related("component"):
        yield _("%(tag)s was fitted or taken off.") % {"tag": part.component.tag}
    fitted = [one.component.pk for one in picture.setup.at_place(line)]
    about = Q(place=line) | Q(place=None, component=None) | Q(component__in=fitted)
    begun = Version.objects.filter(about, course=course, from_at__gt=since, from_at__lte=picture.at)
    for kind in sorted({one.get_kind_display() for one in begun.exclude(kind=Version.Kind.CALENDAR)}):
        yield _("Something of the set-up changed: %(what)s.") % {"what": kind}
    voiding = reopening_of(picture.setup.reopening).ride
    for hold in picture.holds:
        if hold.cause in voiding and hold.place_id in (None, line.pk) and hold.called_at > since:
            about_hold = {"cause": hold.get_cause_display(), "at": _clock(hold.called_at, course)}
            yield _("A hold was called at %(at)s: %(cause)s.") % about_hold


# --- the answers of a sheet


def overtaken_answers(deed: Deed, spot: Spot, place: Place, judged: list[Judged]) -> dict[str, str]:
    """Return what of a sheet that came later says nothing any more of how it stands now: item key to why.

    Work on the part, a look at it or its release, another part fitted, or a correction that took an answer back: each
    makes that the item is to be looked at once more. Where the true time of the sheet is not known all of them count
    that came since its day began.
    """
    if not deed.came_later:
        return {}
    course = spot.course
    since = deed.true_at or day_start(spot.date, course.zone, course.day_change_hour)
    since = since - APART
    steps = FindingStep.objects.filter(finding__place=place, kind__in=REPAIRS, at__gt=since).select_related("finding")
    keys = {step.finding.key for step in steps} - {""}
    slots = {step.finding.slot for step in steps} - {""}
    ends = Q(since__gt=since) | Q(until__gt=since)
    slots |= set(Placement.objects.filter(ends, place=place).values_list("slot", flat=True))
    unchecked = Reading.objects.filter(place=place, verdict=Verdict.UNKNOWN, read_at__gt=since)
    back = set(unchecked.values_list("key", flat=True))
    found = {}
    for one in judged:
        key, slot = one.item["key"], one.item["slot"]
        if one.verdict not in (Verdict.OK, Verdict.WATCH):
            continue
        if key in keys or slot in slots:
            found[key] = _("Work, a look or another part came after this was read. Look at it once more.")
        elif key in back:
            found[key] = _("It was signed as not checked after this was read. Look at it once more.")
    return found


def _ended(text: str) -> str:
    return text if text.endswith(".") else f"{text}."


def _clock(at: datetime, course: Course) -> str:
    return date_format(at.astimezone(course.zone), "H:i")


def seen_by(deed: Deed, at: datetime) -> datetime:
    """Return the instant by which a deed could know of something: its true time if it came later, else ``at``."""
    return deed.true_at if deed.came_later and deed.true_at is not None else at
