"""A signature that was given on paper, with two names on it, as it is typed in later."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.utils.translation import gettext as _

from accounts import policy
from accounts.deeds import Deed
from accounts.models import User
from accounts.policy import Right
from courses.models import Course
from inspections.errors import Refused
from inspections.models import SignOff
from ledger import actions as ledger
from ledger.actions import as_text

OLDEST = timedelta(days=7)


@dataclass(frozen=True)
class OnPaper:
    """Who signed the opening on paper, who signed beside, when by the paper's own time, and the photo's hash."""

    opened_by: User
    beside: User
    at: datetime
    photo: str

    @property
    def refs(self) -> frozenset[str]:
        """Return who must have had no hand in an opened line: whoever signs beside may have inspected it."""
        return frozenset({self.opened_by.ref})

    def as_record(self, course: Course) -> dict[str, Any]:
        """Return what the entry says of it: names as salted commitments, as everywhere."""
        log = course.operator.log
        return {
            "at": as_text(self.at),
            "signers": [
                {"ref": one.ref, "commit": ledger.commit(log, {"name": one.name}, subject=one.ref)}
                for one in (self.opened_by, self.beside)
            ],
        }


def check_paper(course: Course, paper: OnPaper, revision: SignOff | None, deed: Deed) -> None:
    """Refuse a paper that could not have opened anything when it was signed.

    The person who opened had the right then; a second person signed beside who may inspect or sign; nobody signed the
    same day after it in the record.
    """
    if not paper.photo:
        raise Refused("paper-photo", _("Add the photo of the sheet of paper."))
    if paper.at > deed.at:
        raise Refused("paper-later", _("The time on the paper has not come yet."))
    if paper.at < deed.at - OLDEST:
        raise Refused("paper-old", _("A paper is typed in within seven days. Keep the paper with the record."))
    if paper.opened_by.pk == paper.beside.pk:
        raise Refused("paper-second", _("Two different people sign on paper."))
    operator = course.operator_id
    if not policy.may(paper.opened_by, operator, Right.SIGN_OFF, at=paper.at):
        raise Refused("paper-right", _("%(name)s could not sign the day then.") % {"name": paper.opened_by.name})
    if not {Right.INSPECT, Right.SIGN_OFF} & policy.rights_of(paper.beside, operator, at=paper.at):
        raise Refused("paper-beside", _("%(name)s could not sign beside then.") % {"name": paper.beside.name})
    if revision is not None and revision.signed_at > paper.at:
        raise Refused("signed-later", _("The day was signed again after this paper. What was signed then stands."))
