"""Published tables under ``tests/data``: comma-separated, their sources in the lines that begin with ``#``."""

import csv
from pathlib import Path

FOLDER = Path(__file__).parent.parent / "data"


def rows(name):
    """Return the rows of a table as dictionaries of text."""
    lines = (FOLDER / f"{name}.csv").read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def column(name, key):
    """Return one column as floats."""
    return [float(row[key]) for row in rows(name)]
