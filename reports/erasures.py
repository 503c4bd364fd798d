"""What is asked to be erased and what was, in words: for the page of the history, and for what is lost by it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.utils.dateparse import parse_datetime
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as L
from django.utils.translation import ngettext

from accounts import policy
from accounts.closing import is_closed_for_good
from accounts.models import Operator, Role, User
from courses.models import Course, StoredFile
from inspections.actions.erasing import asked_for
from inspections.models import Paper
from inspections.telling import disclosed, name
from inspections.terms import first_day
from ledger.erasures import NOTES, PAPERS, PERSON, PHOTOS, Asking
from ledger.models import Disclosure

GROUNDS = {
    "asked": L("The person asked for it"),
    "over": L("Its term is over"),
    "shows": L("It shows somebody who should not be in it"),
}
ONE = {"note": NOTES, "photo": PHOTOS, "paper": PAPERS}  # as they stand in addresses


@dataclass(frozen=True)
class Row:
    """One asking as listed. ``state``: open, withdrawn or done."""

    seq: int
    what: str
    asked_by: str
    at: datetime
    grounds: str
    reason: str
    state: str
    ended_seq: int | None
    ended_at: datetime | None
    confirmed_by: str


def rows(operator: Operator) -> list[Row]:
    """Return every asking, the open ones first, then the newest; three queries."""
    found = asked_for(operator.log)
    known = disclosed(commit for one in found for commit in (one.commit, one.done_commit, one.reason))
    people = _names([one.what.get(PERSON, "") for one in found])
    told = [_row(one, known, people) for one in found]
    return sorted(told, key=lambda row: (row.state != "open", -row.seq))


def _row(one: Asking, known: dict[str, str], people: dict[str, str]) -> Row:
    state = "open" if one.is_open else "withdrawn" if one.done is None else "done"
    return Row(
        one.seq,
        in_words(one.what, people),
        name(known, one.commit),
        _instant(one.at),
        str(GROUNDS.get(one.grounds, "")),
        (known.get(one.reason) or _("note erased")) if one.reason else "",
        state,
        one.withdrawn if one.done is None else one.done,
        _instant(one.done_at) if one.done_at else None,
        name(known, one.done_commit) if one.done_commit else "",
    )


def _instant(text: str) -> datetime:
    found = parse_datetime(text)
    assert found is not None  # noqa: S101 - the form of every entry
    return found


def _names(refs: Sequence[str]) -> dict[str, str]:
    found = User.objects.filter(ref__in={ref for ref in refs if ref})
    return {user.ref: user.name for user in found if not is_closed_for_good(user)}


def in_words(what: dict[str, Any], people: dict[str, str] | None = None) -> str:
    """Return what is to be erased, or was: hashes by their first signs, of a name that is erased the pseudonym."""
    if PERSON in what:
        ref = what[PERSON]
        people = _names([ref]) if people is None else people
        if ref not in people:
            return _("The name of %(ref)s") % {"ref": ref}
        return _("The name of %(name)s (%(ref)s)") % {"name": people[ref], "ref": ref}
    [(kind, hashes)] = what.items()
    words = {
        NOTES: ngettext("Note %(signs)s", "Notes %(signs)s", len(hashes)),
        PHOTOS: ngettext("Photo %(signs)s", "Photos %(signs)s", len(hashes)),
        PAPERS: ngettext("Paper %(signs)s", "Papers %(signs)s", len(hashes)),
    }
    return words[kind] % {"signs": ", ".join(one[:8] for one in hashes)}


@dataclass(frozen=True)
class Lost:
    """What an erasure takes away for ever: sentences, and the thing itself as far as it can be shown."""

    sentences: list[str]
    notes: list[str]
    photos: list[str]
    papers: list[Paper]


def lost(course: Course, what: dict[str, Any]) -> Lost:
    """Return what somebody who confirms has to have seen."""
    log = course.operator.log_id
    if PERSON in what:
        count = Disclosure.objects.filter(log=log, subject=what[PERSON]).count()
        return Lost(
            [
                ngettext(
                    "In %(count)d place of the record the name is replaced by “name erased”.",
                    "In %(count)d places of the record the name is replaced by “name erased”.",
                    count,
                )
                % {"count": count},
                _("Name and e-mail address go from the log-in, which is closed for good."),
                _("That one and the same person signed there stays readable by the pseudonym %(ref)s.")
                % {"ref": what[PERSON]},
                _(
                    "Day sheets, launch cards and tags that were drawn before keep the name as printed, until they are "
                    "erased too, each by itself. So do exports and bundles that somebody took away, prints, and notes "
                    "in which somebody wrote the name."
                ),
            ],
            [], [], [],
        )  # fmt: skip
    kept = disclosed(what.get(NOTES, ()))
    papers = Paper.objects.filter(course__operator=course.operator_id, sha256__in=what.get(PAPERS, ()))
    sentences = [_("Entries, readings, verdicts and times stay; that something stood here stays readable.")]
    if what.get(PHOTOS):
        sentences.append(
            _("Day sheets in which the photo is printed keep it until they are erased too, each by itself. So do "
              "bundles that somebody took away, and phones that have shown it.")
        )  # fmt: skip
    if what.get(PAPERS):
        sentences.append(_("A paper is never drawn again: what was printed in it is then in the entries alone."))
    return Lost(sentences, list(kept.values()), list(what.get(PHOTOS, ())), list(papers.select_related("course")))


def people_to_forget(operator: Operator, *, at: datetime) -> list[tuple[str, str, bool]]:
    """Return who has no role here any more and is not erased: (reference, words, whether the first term is over).

    The entries are not read for it: what was entered about a person after the last role had ended is asked for when
    the asking is sent.
    """
    held = set(Role.objects.filter(policy.current(at), operator=operator).values_list("user", flat=True))
    ended: dict[User, datetime] = {}
    for role in Role.objects.filter(operator=operator).exclude(user__in=held).select_related("user"):
        if role.until is not None:
            ended[role.user] = max(role.until, ended.get(role.user, role.until))
    named = set(Disclosure.objects.filter(log=operator.log_id, subject__in=[one.ref for one in ended])
                .values_list("subject", flat=True))  # fmt: skip
    found = []
    for user, until in sorted(ended.items(), key=lambda one: (one[0].name.casefold(), one[0].ref)):
        if user.ref not in named:
            continue
        first = first_day(operator, until)
        over = first <= operator.date_at(at)
        words = _("%(name)s (%(ref)s)") if over else _("%(name)s (%(ref)s), not before %(day)s")
        found.append((user.ref, words % {"name": user.name, "ref": user.ref, "day": date_format(first, "j F Y")}, over))
    return found


def erased_files(operator: Operator, digests: Sequence[str]) -> dict[str, StoredFile]:
    """Return the files among these that were erased, by hash."""
    rows = StoredFile.objects.filter(operator=operator, sha256__in=digests, erased_seq__isnull=False)
    return {row.sha256: row for row in rows}
