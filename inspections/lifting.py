"""What the page of a hold says: what lifting it needs, by cause, and who was told where and when.

The rules themselves are enforced in ``inspections.actions.holds``; a test holds the two against each other.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from accounts.clock import shown_time
from inspections.models import Finding, Hold
from inspections.reopening import Reopening
from inspections.telling import disclosed, name

ENDS = ("launch", "landing")
LOOK = gettext_lazy("A look along every line concerned, by the person who lifts it.")
WORD = gettext_lazy("The authority's word: who allowed it, and how. A manager lifts it.")
RIDE = gettext_lazy("A new ballast ride on every line concerned: the rides of today no longer count.")
NEEDS: dict[str, tuple[Any, ...]] = {
    "gust": (gettext_lazy("A wind reading below the lowest limit on the course."),),
    "person": (
        gettext_lazy("The person who called it lifts it."),
        gettext_lazy("Anybody else confirms three things: nobody seen, everyone counted, the caller asked by radio."),
    ),
    "hard_stop": (gettext_lazy("The spot inspected: the finding that opens with the hold is released first."),),
    "emergency_brake": (
        gettext_lazy("The cable inspected at that spot: the finding that opens with the hold is released first."),
    ),
    "injury": (WORD,),
    "authority": (WORD,),
    "other": (gettext_lazy("A technician or manager who finds that the reason is gone."),),
}


def needs_of(cause: str, rules: Reopening) -> list[str]:
    """Return what lifting a hold of this cause needs on a course with these rules, a sentence each."""
    found = []
    wait = rules.wait(cause)
    if wait is not None:
        minutes = {"minutes": wait // timedelta(minutes=1)}
        if cause == "thunder":
            found.append(_("%(minutes)s minutes since the last thunder or lightning.") % minutes)
        else:
            found.append(_("%(minutes)s minutes since the last gust above the limit.") % minutes)
    found += [str(one) for one in NEEDS.get(cause, ())]
    found += [str(LOOK)] if cause in rules.look else []
    found += [str(RIDE)] if cause in rules.ride else []
    return found


def thunder_clock(holds: Iterable[Hold], rules: Reopening) -> dict[str, Any]:
    """Return what pages say of the wait after thunder: ``minutes``; ``since`` and ``over`` of a hold that stands."""
    wait = rules.wait("thunder") or timedelta()
    heard = [one.renewed_at for one in holds if one.cause == Hold.Cause.THUNDER and one.lifted_at is None]
    since = max(heard, default=None)
    return {"minutes": wait // timedelta(minutes=1), "since": since, "over": since + wait if since else None}


def table(rules: Reopening) -> list[tuple[str, list[str]]]:
    """Return (cause in words, its sentences) for every cause."""
    return [(str(cause.label), needs_of(cause.value, rules)) for cause in Hold.Cause]


def finding_of(hold: Hold) -> Finding | None:
    """Return the finding that opened with the hold, released or not; None for most causes."""
    return Finding.objects.filter(course=hold.course_id, seq=hold.seq).first()


def told_commits(hold: Hold) -> list[str]:
    """Return the commitments of who confirmed; beside them stand the times."""
    return [hold.told[where] for where in ENDS if where in hold.told]


def told_of(hold: Hold, names: dict[str, str] | None = None) -> list[dict[str, Any]]:
    """Return launch and landing with who confirmed there by radio and when; ``who`` is empty where nobody has yet.

    ``names`` spares the query to a caller who has asked for the names of ``told_commits`` already.
    """
    names = disclosed(told_commits(hold)) if names is None else names
    return [
        {"where": where, "label": label, "who": name(names, hold.told[where]) if where in hold.told else "",
         "at": _instant(hold.told.get(f"{where}_at", ""))}
        for where, label in zip(ENDS, (_("Told at launch"), _("Told at landing")), strict=True)
    ]  # fmt: skip


def not_told(hold: Hold) -> list[str]:
    return [where for where in ENDS if where not in hold.told]


def _instant(text: str) -> datetime | None:
    return shown_time(text) if text else None
