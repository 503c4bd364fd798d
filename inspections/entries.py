"""What people claimed, as it stands in the history: for what no table repeats, such as the tool behind a figure."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from accounts.clock import shown_time
from ledger.models import Entry, Log

APART = timedelta(minutes=5)  # clocks differ, and a form takes a while on its way; beyond that both times are told
ALONE_APART = timedelta(minutes=1)  # of what was signed alone: a day may have been signed in between


def act_of(log: Log, seq: int) -> dict[str, Any]:
    """Return the act of one entry; empty where there is no such entry."""
    entry = Entry.objects.filter(log=log, seq=seq).first()
    return dict(entry.record["act"]) if entry is not None else {}


@dataclass(frozen=True)
class Apart:
    """When something was signed, where that is not about when it was received.

    ``signed_at`` is its true time (``is_true``), else what its device's clock showed; ``device_at`` is that clock's.
    """

    received: datetime
    signed_at: datetime
    device_at: datetime
    is_true: bool
    had_clock: bool

    @property
    def about_clock(self) -> str:
        """Return what is to be said of the device's clock; empty where it was about right."""
        if not self.is_true:
            if self.had_clock:
                return _("This phone's clock was changed, so when it was signed is not known. It counts as received.")
            return _(
                "This phone's clock was never compared, so when it was signed is not known. It counts as received."
            )
        if abs(self.device_at - self.signed_at) <= APART:
            return ""
        shown = date_format(timezone.localtime(self.device_at), "j F Y, H:i")
        return _("This phone's clock was wrong: it showed %(shown)s.") % {"shown": shown}


def said_apart(record: dict[str, Any]) -> Apart | None:
    """Return when an entry was signed, where its device says so or it is known, and it is another time than received.

    What was received late must never look as if it had been there in time; a time still to come is a wrong clock's.
    """
    act, true_at = record["act"], record.get("judged", {}).get("true_at", "")
    device, received = shown_time(act["made_at"]), shown_time(record["t"])
    signed = shown_time(true_at) if true_at else device
    apart = ALONE_APART if true_at else APART
    if abs(received - signed) <= apart and abs(received - device) <= APART:
        return None
    return Apart(received, signed, device, bool(true_at), "clock" in act)


def records_of(log: Log, seqs: Iterable[int]) -> dict[int, dict[str, Any]]:
    """Return several entries as structures, by their numbers, in one query."""
    return {entry.seq: entry.record for entry in Entry.objects.filter(log=log, seq__in=set(seqs))}


def gauges_of(act: dict[str, Any]) -> dict[str, str]:
    """Return which measuring tool each figure of a signed sheet was read with, by item key."""
    return {one["key"]: one["gauge"] for one in act.get("readings", ()) if one.get("gauge")}
