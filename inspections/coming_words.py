"""What lies ahead, in sentences: one that says what and when, one that says from what it is known."""

from __future__ import annotations

from datetime import date

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from engineering import wear_words
from engineering.wear_outlook import Outlook
from inspections.coming import AGE, CYCLES, DUE, INTERVAL, OUT, OVERDUE, UNKNOWN, WEAR, Coming


def day(on: date) -> str:
    """Return a day as it is written in a sentence."""
    return date_format(on, "j F Y")


def main_sentence(found: Outlook) -> str:
    """Return what there is to say of a figure first: the early day, or why there is none."""
    if found.early is not None:
        return _("May reach its limit from %(day)s (early bound, one-sided 95 %%).") % {"day": day(found.early)}
    return str(_(wear_words.STATUS_SENTENCES[found.status]))


def sentence(one: Coming) -> str:
    """Return what lies ahead and when."""
    if one.why == WEAR and one.told is not None:
        return main_sentence(one.told.outlook)
    if one.why == OUT and one.finding is not None and one.last is not None:
        said = _("Out of service since %(day)s, %(class)s: %(what)s.")
        told = said % {
            "day": day(one.last), "class": one.finding.get_severity_display(), "what": one.finding.title.rstrip("."),
        }  # fmt: skip
        return told.removesuffix(".") if told.endswith(("?.", "!.")) else told
    if one.missing is not None:
        return str(_(one.missing.templates[one.missing.code])) % one.missing.params
    if one.why == INTERVAL:
        return _interval(one)
    values = {"day": day(one.day) if one.day is not None else ""}
    if one.why == CYCLES:
        return (
            _("May have carried the most riders that its maker allows by %(day)s.") % values
            if one.state == DUE
            else _("Has carried the most riders that its maker allows.")
        )
    if one.why == AGE:
        return (
            _("Was for use until %(day)s.") % values if one.state == OVERDUE else _("For use until %(day)s.") % values
        )
    return _("Was due by %(day)s.") % values if one.state == OVERDUE else _("Due by %(day)s.") % values


def _interval(one: Coming) -> str:
    if one.state == UNKNOWN or one.day is None:
        return _("Not looked at yet as it is fitted now: due at once.")
    values = {"day": day(one.day)}
    return _("Was due on %(day)s.") % values if one.state == OVERDUE else _("Due again on %(day)s.") % values


def basis(one: Coming) -> str:
    """Return from what it is known; empty where the sentence said it already."""
    if one.why == WEAR and one.told is not None and one.last is not None:
        n = max(one.told.outlook.cycles.n, one.told.outlook.age.n)
        return ngettext("From %(n)s reading, on %(day)s.", "From %(n)s readings, the last on %(day)s.", n) % {
            "n": n,
            "day": day(one.last),
        }
    if one.why == OUT and one.finding is not None:
        if one.finding.work_seq is not None:
            return _("Work on it is entered; it comes back only by its release.")
        return _("To repair or to replace; it comes back only by its release.")
    if one.cycles is not None:
        return _("Carried so far: %(done)s of %(most)s riders.") % {"done": one.cycles[0], "most": one.cycles[1]}
    if one.why == INTERVAL and one.last is not None:
        return _("Every %(days)s days; last on %(day)s.") % {"days": one.every, "day": day(one.last)}
    return _("Source of the limit: %(source)s") % {"source": one.source} if one.source else ""
