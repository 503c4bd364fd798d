"""What the day sheet says of the file in which it is kept: what is attached to it, and whose signature it carries."""

from __future__ import annotations

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from reports.papers.day import DayPaper, grouped, sentences
from reports.papers.style import DENSE, GAP_1, GAP_2, SMALL
from reports.papers.times import short_day
from reports.papers.words import Data

LABEL_WIDTH = 150


def draw(day: DayPaper) -> None:
    """Draw ``data["file"]``: ``{archive, entries, first, last, proof, signed?, why?}``; nothing where it is missing."""
    paper, kept = day.paper, day.data.get("file")
    if not kept:
        return
    paper.gap(GAP_2)
    paper.paragraph(sentences(_archive(kept), _attached(kept)), DENSE)
    paper.gap(GAP_1)
    paper.paragraph(_signed(kept), DENSE)
    found = kept.get("signed")
    if found:
        paper.gap(GAP_1)
        paper.need(2 * SMALL.leading)
        paper.text(paper.left, paper.y - DENSE.leading * 0.74, _("Fingerprint of certificate (SHA-256)"), SMALL)
        paper.paragraph(grouped(found["fingerprint"]), DENSE, indent=LABEL_WIDTH)
    paper.gap(GAP_2)


def _archive(kept: Data) -> str:
    if kept.get("archive"):
        return _("The file that is kept of this sheet is made to last (%(form)s).") % {"form": kept["archive"]}
    return _(
        "The file that is kept of this sheet could not be made to last (PDF/A), and nothing is attached to it. Tell "
        "who runs the server."
    )


def _attached(kept: Data) -> str:
    if not kept.get("archive"):
        return ""
    count = kept.get("entries", 0)
    if not count:
        return _("The entries of this day are too many to be attached; they are in the record.")
    entries = ngettext(
        "Attached to it: the entry of the record about this day up to this signature, as it is stored (entries.jsonl, "
        "entry %(first)s).",
        "Attached to it: the %(count)s entries of the record about this day up to this signature, as they are stored "
        "(entries.jsonl, entries %(first)s to %(last)s).",
        count,
    ) % {"count": count, "first": kept["first"], "last": kept["last"]}
    return sentences(
        entries,
        _("Also the signed state above (state.txt) and what shows that they are in it (proof.json).")
        if kept.get("proof")
        else "",
        _("The entries hold check values in place of names and notes."),
    )


def _signed(kept: Data) -> str:
    found = kept.get("signed")
    if not found:
        if kept.get("why"):
            return _("The file could NOT be signed. %(why)s Tell who runs the server.") % {"why": kept["why"]}
        return _("The file is not signed: no certificate is set on the server.")
    words = {"name": found["name"], "issuer": found["issuer"], "until": short_day(found["until"])}
    if found.get("self_made"):
        whose = _(
            "The file is signed with a certificate that this operator made for itself, valid until %(until)s. It shows "
            "whether the file was changed since; nobody vouches for the name in it (%(name)s)."
        )
    else:
        whose = _(
            "The file is signed with the certificate of %(name)s, valid until %(until)s. It shows whether the file was "
            "changed since. %(issuer)s issued it and vouches for that name, not for what the sheet says; whether to "
            "believe the issuer is for the reader to decide."
        )
    return sentences(
        whose % words,
        _("The operator's server signed it; the signatures of people are those above."),
    )
