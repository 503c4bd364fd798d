"""The history as rows for a spreadsheet: RFC 4180, UTF-8, units in the names of the columns.

A cell that a spreadsheet would take for a formula gets an apostrophe before it. Rows come in blocks, so that a history
of ten years takes no more memory than a day. A file says the same whoever draws it: names of columns and words in them
are English in every language, times stand in UTC and on the course's clocks.
"""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterator, Sequence
from datetime import date, datetime
from typing import Any

from django.utils import translation

from courses.models import Course
from ledger.actions import as_text
from reports.export_decisions import HOLDS, SIGN_OFFS, holds, sign_offs
from reports.export_findings import FINDINGS, findings
from reports.export_inspections import READINGS, RIDES, readings, rides

FORMULA = ("=", "+", "-", "@", "\t", "\r")
LANGUAGE = "en"


class _Line:
    """Takes what the writer writes and hands it back."""

    def write(self, text: str) -> str:
        return text


def rows_as_text(columns: Sequence[str], rows: Iterator[Sequence[Any]]) -> Iterator[str]:
    """Yield the file line by line, each ended by CR LF."""
    writer = csv.writer(_Line())
    yield writer.writerow(columns)
    for row in rows:
        yield writer.writerow([cell(value) for value in row])


def cell(value: Any) -> str:
    """Return a value as text that no spreadsheet takes for a formula.

    >>> cell("=1+1"), cell("-2.5"), cell("2.5"), cell(None), cell(True)
    ("'=1+1", "'-2.5", '2.5', '', 'yes')
    """
    if value is None or value is False:
        return ""
    if value is True:
        return "yes"
    text = (
        as_text(value) if isinstance(value, datetime) else value.isoformat() if isinstance(value, date) else str(value)
    )
    return f"'{text}" if text.startswith(FORMULA) else text


def export(course: Course, what: str, first: date, last: date) -> Iterator[str]:
    """Yield one export of the days from ``first`` to ``last``, both included."""
    columns, rows = EXPORTS[what]
    return _in_one_language(rows_as_text(columns, rows(course, first, last)))


def _in_one_language(lines: Iterator[str]) -> Iterator[str]:
    """Make each line in ``LANGUAGE``. Between two lines the reader's own is active again: others run in between."""
    while True:
        with translation.override(LANGUAGE):
            line = next(lines, None)
        if line is None:
            return
        yield line


EXPORTS: dict[str, tuple[Sequence[str], Callable[[Course, date, date], Iterator[Sequence[Any]]]]] = {
    "readings": (READINGS, readings),
    "findings": (FINDINGS, findings),
    "rides": (RIDES, rides),
    "holds": (HOLDS, holds),
    "sign-offs": (SIGN_OFFS, sign_offs),
}
