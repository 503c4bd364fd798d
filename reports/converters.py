"""Parts of an address that are a date, or the name of an export."""

from __future__ import annotations

from datetime import date


class Day:
    """A local date as in ``2026-06-15``; one that is not in the calendar is no address."""

    regex = r"20\d{2}-\d{2}-\d{2}"

    def to_python(self, value: str) -> date:
        return date.fromisoformat(value)

    def to_url(self, value: date | str) -> str:
        return value if isinstance(value, str) else value.isoformat()


class Export:
    regex = "readings|findings|rides|holds|sign-offs"

    def to_python(self, value: str) -> str:
        return value

    def to_url(self, value: str) -> str:
        return value
