"""How wide the charts of a course are: at most one false alarm in sixty operating days, all its lines together.

The course's own rule. One chart per line, one ballast: a CUSUM with slack 0.75 sigma, upper side or both, and limits
for the single morning on both sides. Published run lengths hold for a *known* centre and sigma. A baseline of twenty
mornings knows the centre to 0.22 sigma and sigma to a fifth, and charts set by those tables would raise several times
as many false alarms. The figures below come from our own simulation of exactly that: twenty normal, independent
mornings, sigma from their moving range, then 240 mornings with the baseline frozen and the sums set to nought after
each alarm (120,000 lines; a slow test repeats it with other draws). About two thirds of the alarms are left to the
CUSUM. They were set for 0.9 to 0.94 alarms in sixty days; heavier tails than the normal's, or mornings that follow each
other, give more. With twelve charts a shift of one sigma is seen in 20 to 26 mornings (median), of two in 6 or 7, of
three in 4: the price of few false alarms. The limits of the part itself are not touched by it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from engineering.control_words import Note, note

OPERATING_DAYS = 60
BASELINE = 20  # mornings
SLACK = 0.75  # sigmas; 0.5 would see a shift of one sigma no sooner (median) and larger ones later
EWMA_WEIGHT = 0.2  # for the drawn line only; it raises no alarm of its own

# Charts in the course: decision of one side, decision of both sides, limit of the single morning for each; in sigmas.
_TABLE = {
    1: (2.85, 3.75, 3.10, 3.05),
    2: (3.75, 4.75, 3.50, 3.45),
    3: (4.30, 5.50, 3.75, 3.70),
    4: (4.75, 6.05, 3.90, 3.85),
    6: (5.50, 6.90, 4.15, 4.10),
    8: (6.05, 7.55, 4.30, 4.25),
    12: (6.90, 8.65, 4.55, 4.50),
    16: (7.60, 9.50, 4.70, 4.70),
    24: (8.65, 10.85, 4.95, 4.90),
    32: (9.55, 12.05, 5.10, 5.10),
    48: (10.90, 13.75, 5.35, 5.35),
}
MOST_CHARTS = max(_TABLE)


@dataclass(frozen=True)
class Tuning:
    """Settings of each chart in sigmas, tuned for ``charts`` charts in the course."""

    charts: int
    slack: float
    decision: float
    width: float


def tuning(charts: int, *, both_sides: bool = False) -> Tuning | Note:
    """Return the settings for a course with so many charts; those of the next larger number in the table.

    Beyond the table its last row is given; compare ``charts`` of the answer with the number asked.

    >>> tuning(10)
    Tuning(charts=12, slack=0.75, decision=6.9, width=4.55)
    >>> tuning(0).code
    'setting-impossible'
    """
    if not 1 <= charts < math.inf or charts != math.floor(charts):
        return note("setting-impossible", name="charts", value=charts)
    row = min((n for n in _TABLE if n >= charts), default=MOST_CHARTS)
    one, both, width_one, width_both = _TABLE[row]
    return Tuning(row, SLACK, both if both_sides else one, width_both if both_sides else width_one)
