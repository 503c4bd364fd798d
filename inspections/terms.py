"""How long what belongs to the record has to be kept: before that nothing of it can be erased.

Measurements, verdicts, times and who (by pseudonym) signed are never erased at all: they are in the entries, and no
personal datum is. What can be erased is what entries stand for: names, notes, photos and papers.

The shortest term is five years, longer where the installation says so (``KEEP_YEARS``) or a course of the operator
(``retention_years``, an entry, never made shorter); a photo of a part stays as long as the part is in use. Source:
judgement of the project; how long a record must be kept is local law.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.conf import settings
from django.db.models import Max
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from accounts import policy
from accounts.models import Operator, Role, User
from courses.models import Component, Course, StoredFile
from inspections.models import Finding, FindingStep, Reading
from ledger.erasures import KINDS, NOTES, PAPERS, PERSON, PHOTOS
from ledger.models import Disclosure, Entry
from ledger.search import naming


@dataclass(frozen=True)
class Kept:
    """That something has to be kept still: a sentence why, with the date from which it could be erased if one can be
    told."""

    sentence: str
    code: str = "term"
    first: date | None = None


def first_day(operator: Operator, at: datetime) -> date:
    """Return the first day, at the office, on which what an instant binds may be erased: the day after the term."""
    bound = operator.date_at(at)
    return operator.date_at(operator.end_of(_years_later(bound, years(operator))))


def years(operator: Operator) -> int:
    """Return how many years the record of an operator is kept at least: the longest that anybody said."""
    courses = Course.objects.filter(operator=operator).aggregate(longest=Max("retention_years"))
    return max(int(settings.KEEP_YEARS), courses["longest"] or 0)


def _years_later(day: date, years: int) -> date:
    try:
        return day.replace(year=day.year + years)
    except ValueError:  # 29 February of a year that has none
        return date(day.year + years, 3, 1)


def kept(operator: Operator, what: dict[str, Any], *, at: datetime) -> Kept | None:
    """Return why something may not be erased at ``at``; None if it may. ``what`` as in ``ledger.erasures``."""
    if PERSON in what:
        return kept_person(operator, what[PERSON], at=at)
    if NOTES in what:
        return _first(kept_note(operator, one, at=at) for one in what[NOTES])
    if PHOTOS in what:
        return _first(kept_photo(operator, one, at=at) for one in what[PHOTOS])
    return _first(kept_paper(operator, one, at=at) for one in what[PAPERS])


def _first(found: Any) -> Kept | None:
    return next((one for one in found if one is not None), None)


def kept_person(operator: Operator, ref: str, *, at: datetime) -> Kept | None:
    """Ask for a person: no role any more, here or at another operator of this server, and the term gone by.

    The log-in is one for all operators of a server, and it is closed with the name.
    """
    user = User.objects.filter(ref=ref, roles__operator=operator).first()
    if user is None:
        return Kept(_("There is no such person in this record."), "no-such-thing")
    if not Disclosure.objects.filter(log=operator.log_id, subject=ref).exists():
        return Kept(_("This name is erased already."), "erased-already")
    if user.is_staff or user.is_superuser:
        return Kept(_("This log-in looks after the server. Its administrator has to end that first."), "in-use")
    if Role.objects.filter(policy.current(at), user=user).exists():
        return Kept(
            _(
                "This person still has a role. A name can be asked for once the last role has ended and %(term)s have "
                "gone by."
            )
            % {"term": term(operator)},
            "in-use",
        )
    for office in Operator.objects.filter(roles__user=user).select_related("log").distinct():
        if (found := _kept_at(office, user, operator, at)) is not None:
            return found
    return None


def _kept_at(office: Operator, user: User, operator: Operator, at: datetime) -> Kept | None:
    """Ask for a person at one operator, whose term counts for what is there; ``operator`` is who asks."""
    ended = max(role.until or at for role in Role.objects.filter(user=user, operator=office))
    if (found := _too_early(office, ended, at)) is not None:
        return Kept(
            _("The name has to be kept until %(term)s after the last role ended. It can be erased from %(day)s on.")
            % {"term": term(office), "day": _day(found)},
            first=found,
        )
    # What is older is out of its term whatever stands in it: no need to read it.
    since = _long_ago(office, at)
    last = naming(office.log, user.ref).exclude(kind__in=KINDS).filter(t__gte=since).order_by("-seq").first()
    if last is None or (found := _too_early(office, last.t, at)) is None:
        return None
    about = {"term": term(office), "day": _day(found), "seq": last.seq}
    if office.pk != operator.pk:
        return Kept(
            _("The name has to be kept until %(term)s after the last entry that names this person. It can be erased "
              "from %(day)s on.") % about,
            first=found,
        )  # fmt: skip
    return Kept(
        _("The name has to be kept until %(term)s after the last entry that names this person, entry %(seq)s. It can "
          "be erased from %(day)s on.") % about,
        first=found,
    )  # fmt: skip


def kept_note(operator: Operator, commit: str, *, at: datetime) -> Kept | None:
    """Ask for one note, or for a name that was typed as a note is."""
    known = Disclosure.objects.filter(log=operator.log_id, commit=commit).first()
    if known is None:
        return Kept(_("There is no such note, or it is erased already."), "no-such-thing")
    if known.subject:
        return Kept(_("This is the name of a person with a log-in. Ask for the person instead."), "no-such-thing")
    return _by_entry(operator, naming(operator.log, commit).exclude(kind__in=KINDS).order_by("-seq").first(), at)


def kept_paper(operator: Operator, digest: str, *, at: datetime) -> Kept | None:
    """Ask for a paper as it was drawn: names and photos are printed in it."""
    if (missing := _no_file(operator, digest, StoredFile.Kind.PAPER)) is not None:
        return missing
    return _by_entry(operator, naming(operator.log, digest).exclude(kind__in=KINDS).order_by("-seq").first(), at)


def kept_photo(operator: Operator, digest: str, *, at: datetime) -> Kept | None:
    """Ask for a photo: five years after the last entry that names it, and not while its part is in use.

    That it shows somebody who should not be in it makes no difference: it may be what a finding rests on.
    """
    if (missing := _no_file(operator, digest, StoredFile.Kind.PHOTO)) is not None:
        return missing
    entries = list(naming(operator.log, digest).exclude(kind__in=KINDS).order_by("seq"))
    if not entries:
        return Kept(_("No entry names this photo; it is no part of the record."), "no-such-thing")
    in_use = [part for part in parts_of(entries, digest) if part.retired_at is None or part.retired_at > at]
    early = _by_entry(operator, entries[-1], at)
    if in_use:
        tags = ", ".join(sorted(part.tag for part in in_use))
        first = first_day(operator, entries[-1].t)
        if early is None:
            sentence = _(
                "The photo belongs to %(part)s, which is in use. It has to be kept for the life of the part."
            ) % {"part": tags}
        else:
            sentence = _(
                "The photo belongs to %(part)s, which is in use. It has to be kept for the life of the part, and in "
                "any case until %(day)s."
            ) % {"part": tags, "day": _day(first)}  # fmt: skip
        return Kept(sentence, "in-use", first)
    return early


def parts_of(entries: Sequence[Entry], digest: str) -> list[Component]:
    """Return the components that a photo was taken of, from the readings and findings of the entries that name it."""
    seqs, course = [entry.seq for entry in entries], {entry.record["act"].get("course") for entry in entries} - {None}
    found: set[Any] = set()
    readings = Reading.objects.filter(seq__in=seqs, day__course__in=course, component__isnull=False)
    found |= {one.component_id for one in readings if digest in one.photos}
    steps = FindingStep.objects.filter(seq__in=seqs, finding__course__in=course).only("finding", "photos")
    findings = {one.finding_id for one in steps if digest in one.photos}
    found |= set(Finding.objects.filter(pk__in=findings).values_list("component", flat=True))
    return list(Component.objects.filter(pk__in=found - {None}))


def _no_file(operator: Operator, digest: str, kind: str) -> Kept | None:
    stored = StoredFile.objects.filter(operator=operator, sha256=digest, kind=kind).first()
    if stored is None:
        return Kept(_("There is no such file in this record."), "no-such-thing")
    if stored.erased_seq is not None:
        return Kept(_("It is erased already, by entry %(seq)s.") % {"seq": stored.erased_seq}, "erased-already")
    return None


def _by_entry(operator: Operator, last: Entry | None, at: datetime) -> Kept | None:
    if last is None:
        return Kept(_("No entry names it; it is no part of the record."), "no-such-thing")
    if (found := _too_early(operator, last.t, at)) is None:
        return None
    return Kept(
        _("It has to be kept until %(term)s after entry %(seq)s, which names it. It can be erased from %(day)s on.")
        % {"term": term(operator), "seq": last.seq, "day": _day(found)},
        first=found,
    )


def _too_early(operator: Operator, bound: datetime, at: datetime) -> date | None:
    """Return the first day on which it may be erased, if that day is still to come."""
    found = first_day(operator, bound)
    return found if operator.date_at(at) < found else None


def _long_ago(operator: Operator, at: datetime) -> datetime:
    """Return an instant before which nothing is within its term."""
    day = at.date()
    return at.replace(year=day.year - years(operator) - 1, day=min(day.day, 28))


def term(operator: Operator) -> str:
    """Return how long the record of an operator is kept, in words."""
    count = years(operator)
    return ngettext("%(count)s year", "%(count)s years", count) % {"count": count}


def _day(day: date) -> str:
    return date_format(day, "j F Y")
