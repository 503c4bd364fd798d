"""Who may open which page of courses."""

from __future__ import annotations

from tests.access.table import Row

ROWS: list[Row] = []
