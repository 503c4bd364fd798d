"""Run rules: patterns of neighbouring points that a control chart may call a signal.

They belong to the chart reader's trade (Western Electric rules as worded in the NIST/SEMATECH e-Handbook 6.3.2, READ
second-hand; eight tests of L. S. Nelson 1984, from memory; both checked against published vectors). The product's own
alarms do not use them: the four rules together raise a false alarm every 92 points, so that twelve lines would have one
every eight days. They are here for the engineer who wants to look at an old chart.

Figures are in sigmas from the centre. "Beyond" is strict: 3 is not beyond 3. A rule signals only with its whole window
filled since the last break, and only at a point that itself lies in the zone.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Collection, Mapping, Sequence
from functools import partial

from engineering.control_words import Note, note

Window = Sequence[float]


def _side(points: Window, sigmas: float) -> int:
    """Return how many of the points lie beyond, on the side of the last one; none if that does not."""
    last = points[-1]
    if not abs(last) > sigmas:
        return 0
    return sum(1 for one in points if one * math.copysign(1.0, last) > sigmas)


def _some_beyond(points: Window, need: int, sigmas: float) -> bool:
    return _side(points, sigmas) >= need


def _steady(points: Window) -> bool:
    steps = [later - earlier for earlier, later in itertools.pairwise(points)]
    return all(step > 0.0 for step in steps) or all(step < 0.0 for step in steps)


def _alternating(points: Window) -> bool:
    steps = [later - earlier for earlier, later in itertools.pairwise(points)]
    return all(one * other < 0.0 for one, other in itertools.pairwise(steps))


def _hugging(points: Window) -> bool:
    return all(abs(one) <= 1.0 for one in points)


def _avoiding(points: Window) -> bool:
    return all(abs(one) > 1.0 for one in points) and min(points) < 0.0 < max(points)


Rule = tuple[int, Callable[[Window], bool]]

BEYOND_3: Rule = (1, partial(_some_beyond, need=1, sigmas=3.0))
TWO_OF_3: Rule = (3, partial(_some_beyond, need=2, sigmas=2.0))
FOUR_OF_5: Rule = (5, partial(_some_beyond, need=4, sigmas=1.0))
EIGHT_ON_ONE_SIDE: Rule = (8, partial(_some_beyond, need=8, sigmas=0.0))
NINE_ON_ONE_SIDE: Rule = (9, partial(_some_beyond, need=9, sigmas=0.0))
SIX_STEADY: Rule = (6, _steady)
FOURTEEN_ALTERNATING: Rule = (14, _alternating)
FIFTEEN_WITHIN_1: Rule = (15, _hugging)
EIGHT_OUTSIDE_1: Rule = (8, _avoiding)

WESTERN_ELECTRIC: Mapping[str, Rule] = {
    "1-beyond-3": BEYOND_3,
    "2-of-3-beyond-2": TWO_OF_3,
    "4-of-5-beyond-1": FOUR_OF_5,
    "8-on-one-side": EIGHT_ON_ONE_SIDE,
}
NELSON: Mapping[str, Rule] = {
    "1-beyond-3": BEYOND_3,
    "9-on-one-side": NINE_ON_ONE_SIDE,
    "6-steady": SIX_STEADY,
    "14-alternating": FOURTEEN_ALTERNATING,
    "2-of-3-beyond-2": TWO_OF_3,
    "4-of-5-beyond-1": FOUR_OF_5,
    "15-within-1": FIFTEEN_WITHIN_1,
    "8-outside-1": EIGHT_OUTSIDE_1,
}


def run_rules(
    sigmas: Sequence[float], rules: Mapping[str, Rule] = WESTERN_ELECTRIC, *, breaks: Collection[int] = ()
) -> dict[str, tuple[int, ...]] | Note:
    """Return for each rule the positions (from nought) at which it signals. A window never reaches across a break.

    >>> run_rules([0.0, 2.5, 1.0, 2.6, 0.0])["2-of-3-beyond-2"]
    (3,)
    """
    for one in sigmas:
        if one is None or math.isnan(one):
            return note("value-missing")
    since = [0] * len(sigmas)
    for i in range(1, len(sigmas)):
        since[i] = i if i in breaks else since[i - 1]
    return {
        name: tuple(
            i
            for i in range(size - 1, len(sigmas))
            if i - size + 1 >= since[i] and signals(sigmas[i - size + 1 : i + 1])
        )
        for name, (size, signals) in rules.items()
    }
