"""Who may open which page of inspections."""

from __future__ import annotations

from tests.access.table import Row

ROWS: list[Row] = []
