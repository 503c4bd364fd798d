"""How long a visit took beside the earlier visits to the same line: a hint only where it was far quicker than ever."""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence

from engineering.quality import LOOK, NOTHING, Hint, none
from engineering.wear_line import usable

VISITS = 60  # earlier visits looked at
LEAST_VISITS = 20  # fewer tell nothing of what is usual (own judgement)
MAD_SIGMA = 1.4826  # median deviation to standard deviation, normal distribution (textbook)
FAR = 3.0  # of such deviations, in the logarithm of the time (common practice, no source)


def pace_hint(
    seconds: float | None, earlier: Sequence[float | None], items: int, *, least_s: float | None = None
) -> Hint:
    """Say whether a visit was far quicker than the earlier ones to the same line, or than the manager's least time.

    ``earlier`` in order of time; its last 60 count, those without a time do not. Looked at is ln(seconds), below the
    median of the earlier by more than 3 x 1.4826 median deviations. ``least_s`` (walking, clipping in, measuring) is
    set by the manager and is asked first. Not applicable: ``no-time`` (missing, nought or below), ``few-visits`` (under
    20), ``same-time`` (no deviation). No chance is reckoned; ``p`` stays ``None``.

    >>> pace_hint(70.0, [600.0 + 20 * (k % 10) for k in range(30)], 14).sentences[0]
    'The visit took 1 min 10 s for 14 items; this line usually takes 10 min 20 s to 12 min 40 s.'
    """
    if seconds is None or not usable(seconds) or seconds <= 0.0:
        return none("pace", "no-time")
    if least_s is not None and usable(least_s) and seconds < least_s:
        asked = (("took", _written(seconds)), ("items", str(items)), ("least", _written(least_s)))
        return Hint("floor", LOOK, params=asked)
    times = sorted(time for time in earlier[-VISITS:] if time is not None and usable(time) and time > 0.0)
    n = len(times)
    if n < LEAST_VISITS:
        return none("pace", "few-visits", n)
    logs = [math.log(time) for time in times]
    middle = statistics.median(logs)
    deviation = MAD_SIGMA * statistics.median(abs(log - middle) for log in logs)
    if deviation <= 1e-9:
        return none("pace", "same-time", n)
    status = LOOK if math.log(seconds) < middle - FAR * deviation else NOTHING
    low, high = times[n // 10], times[n - 1 - n // 10]  # leaving out a tenth on each side
    params = (("took", _written(seconds)), ("items", str(items)), ("low", _written(low)), ("high", _written(high)))
    return Hint("pace", status, n, params=params)


def _written(seconds: float) -> str:
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes} min {rest} s"
