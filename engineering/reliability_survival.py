"""Which share of parts outlives what, without assuming a distribution: Kaplan and Meier's table."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

from engineering.reliability_weibull import lives_problem
from engineering.reliability_words import Note, note


@dataclass(frozen=True)
class Step:
    """One life at which parts failed: how many were at risk and failed, and what share outlives it.

    ``error`` is Greenwood's standard error. ``low`` and ``high`` are the bounds from ln(-ln S), which stay between 0
    and 1; where the last part failed the share is 0 and error and bounds are ``None``: the record ends there.
    """

    life: float
    at_risk: int
    failed: int
    share: float
    error: float | None
    low: float | None
    high: float | None


def kaplan_meier(
    failed: Sequence[float], running: Sequence[float] = (), *, confidence: float = 0.95
) -> tuple[Step, ...] | Note:
    """Return the table of survivors, one step for each life at which a part failed.

    S = product of (1 - d/n); Greenwood's variance S² sum d / (n (n - d)). A part running at a life counts as at risk at
    it. Without a failure there is no step: ``no-failure``.

    >>> [(step.life, step.at_risk, round(step.share, 3)) for step in kaplan_meier([3.0, 5.0], [4.0, 6.0])]
    [(3.0, 4, 0.75), (5.0, 2, 0.375)]
    """
    bad = lives_problem(failed, running)
    if bad:
        return bad
    if not 0.0 < confidence < 1.0:
        return note("level-impossible", value=confidence)
    if not failed:
        return note("no-failure", count=len(running))
    z = NormalDist().inv_cdf(0.5 + confidence / 2.0)
    failures, leaving = Counter(failed), Counter([*failed, *running])
    at_risk, share, spread, steps = len(failed) + len(running), 1.0, 0.0, []
    for life in sorted(leaving):
        count = failures[life]
        if count == at_risk:
            steps.append(Step(life, at_risk, count, 0.0, None, None, None))
        elif count:
            share *= 1.0 - count / at_risk
            spread += count / (at_risk * (at_risk - count))
            wide = z * math.sqrt(spread) / math.log(share)
            low, high = share ** math.exp(-wide), share ** math.exp(wide)
            steps.append(Step(life, at_risk, count, share, share * math.sqrt(spread), low, high))
        at_risk -= leaving[life]
    return tuple(steps)


def outlived_by(steps: Sequence[Step], share: float = 0.5) -> float | None:
    """Return the life that a share of parts does not outlive, the median by default; ``None`` if the table ends before.

    >>> outlived_by(kaplan_meier([3.0, 5.0], [4.0, 6.0]))
    5.0
    """
    return next((step.life for step in steps if step.share <= share), None)
