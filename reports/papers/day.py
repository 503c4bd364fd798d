"""What every part of a day sheet is drawn with: the paper, the data, the course's time, the photos."""

from __future__ import annotations

from dataclasses import dataclass

from reports.papers.frame import Paper
from reports.papers.photos import Photos
from reports.papers.times import CourseTime
from reports.papers.words import Data


@dataclass(frozen=True, slots=True)
class DayPaper:
    """One day sheet in the making."""

    paper: Paper
    data: Data
    time: CourseTime
    photos: Photos


def sentences(*parts: str | None) -> str:
    """Join what is there into one run of text."""
    return " ".join(part for part in parts if part)


def grouped(value: str | None) -> str:
    """Return a hash in groups of eight, as one reads it aloud."""
    return " ".join(value[start : start + 8] for start in range(0, len(value), 8)) if value else ""
