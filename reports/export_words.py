"""What every exported table writes alike: times, words for states, notes; and rows read block by block."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from itertools import islice
from typing import Any
from zoneinfo import ZoneInfo

from engineering.explain import SENTENCES
from inspections.models import Finding, Reading, Severity
from inspections.telling import plain_figures
from inspections.words import MARKS, VERDICTS
from ledger.actions import as_text

BLOCK = 500
JUDGED = ("ok", "watch", "gauge", "caution", "past")  # the sentences that begin with the value that was judged


def blocks(rows: Any) -> Iterator[list[Any]]:
    """Yield the rows of a query in lists of at most BLOCK, without ever holding more."""
    source = rows.iterator(BLOCK)
    while block := list(islice(source, BLOCK)):
        yield block


def times(at: datetime | None, zone: ZoneInfo) -> tuple[str, str]:
    """Return an instant twice: in UTC as it stands in the record, and as the clocks of the course showed it.

    >>> from datetime import UTC
    >>> times(datetime(2026, 6, 15, 5, 35, tzinfo=UTC), ZoneInfo("Europe/Vienna"))
    ('2026-06-15T05:35:00Z', '2026-06-15 07:35:00')
    """
    if at is None:
        return "", ""
    return as_text(at), at.astimezone(zone).strftime("%Y-%m-%d %H:%M:%S")


def verdict_word(verdict: str) -> str:
    return str(VERDICTS.get(verdict, VERDICTS["unknown"]))


def mark_word(mark: str) -> str:
    return str(MARKS.get(mark, mark))


def class_word(one: Finding) -> str:
    return str(Severity(one.severity).label).capitalize() if one.severity in Severity.values else one.severity


def note_of(names: dict[str, str], commit: str) -> str:
    return names.get(commit, "note erased") if commit else ""


def judged_value(reading: Reading) -> str:
    """Return the value that was held against the limit, with its unit: for a date its age in days.

    Only the sentence of the judgement holds it, so it is read back from there, by the sentence's own wording; empty
    where nothing was measured.

    >>> judged_value(Reading(sentence="152 days is within the limit (until 2027-04-27).", limit="until 2027-04-27"))
    '152 days'
    """
    for code in JUDGED:
        rest = SENTENCES[code] % {"value": "", "limit": reading.limit}
        if reading.limit and reading.sentence.endswith(rest):
            return reading.sentence.removesuffix(rest)
    return ""


def result_in_words(reading: Reading) -> str:
    """Return the sentence of the judgement, its limit written as in the column of limits."""
    return reading.sentence.replace(reading.limit, plain_figures(reading.limit)) if reading.limit else reading.sentence
