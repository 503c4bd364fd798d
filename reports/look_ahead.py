"""What stands on a line's page beside figures that are not in force yet, in place of the band of a weather.

A band is what a day is cut by, so it is told of what is in force alone; ride, drawings and map are a look ahead. What
is to be minded goes with every figure, in force or not.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from courses.mechanics import calibrated_by, posted_of
from courses.refusals import sentence_of_note
from engineering.envelope import Plan
from engineering.envelope_notes import warnings
from engineering.envelope_sensitivity import share_lost_per_head_wind


def to_mind(
    plan: Plan, document: Mapping[str, Any], mechanics: Mapping[str, Any], head_mps: float | None, *, place: str,
    units: str,
) -> list[str]:  # fmt: skip
    """Return the warnings that go with what is computed, in the units of a course.

    ``document`` and ``mechanics`` are the contents computed with, ``place`` is where the wind blows.
    """
    posted = posted_of(document)
    least, most = posted.least_kg or 0.0, posted.most_kg or 0.0
    middle = round((least + most) / 2.0)
    lost = share_lost_per_head_wind(plan, middle, head_mps)
    notes = warnings(plan, (least, most), place, lost, middle, calibrated_by(mechanics))
    return [sentence_of_note(one, units) for one in notes]
