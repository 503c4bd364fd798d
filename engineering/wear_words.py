"""What a forecast of wear can end in, and what is to be said beside it: closed lists of codes with English sentences.

A forecast is advice. It may say "measure earlier"; it never puts a part back into service, never longer than the maker,
the law or the course's own limit, which are judged elsewhere by one comparison (``engineering.limits``). The web layer
translates the sentences; the figures stand beside them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

NO_DATA = "no-data"
MARGIN_ONLY = "margin-only"
TWO_POINT = "two-point"
NO_SPREAD_X = "no-spread-x"
NO_WEAR_RESOLVED = "no-wear-resolved"
WRONG_SIGN = "wrong-sign"
AT_LIMIT = "already-at-limit"
GREW = "grew"
WEAK = "weak"
OK = "ok"
BEYOND_HORIZON = "beyond-horizon"
NO_LIMIT = "no-limit"
NO_GAUGE = "no-gauge"
GAUGE_IMPOSSIBLE = "gauge-impossible"
NO_START = "no-start"
NO_CLOCK = "no-clock"
CYCLES_NEGATIVE = "cycles-negative"
CYCLES_BACK = "cycles-back"
DAY_AHEAD = "day-ahead"
NO_RIDES = "no-rides"
STALE = "stale"

STATUS_SENTENCES: Mapping[str, str] = {
    NO_DATA: "There is no reading since the part was new.",
    MARGIN_ONLY: "One reading tells how much is left, but not how fast it goes.",
    TWO_POINT: "Two readings tell a rate, but not how sure it is; no date follows from them.",
    NO_SPREAD_X: "All readings were taken at the same count or on the same day; no rate follows from them.",
    NO_WEAR_RESOLVED: "The readings scatter more than the part wears; no date follows from them.",
    WRONG_SIGN: "The part seems to grow: was it replaced, measured at another place, or with another gauge?",
    GREW: "Between two readings the part grew: was it replaced, measured at another place, or with another gauge?",
    AT_LIMIT: "The last reading is at the limit or past it.",
    WEAK: "The wear can be seen, but only roughly; measure again before the early date.",
    OK: "The wear is steady enough for a forecast; measure again before the early date.",
    BEYOND_HORIZON: "The limit lies further ahead than these readings can tell.",
    NO_LIMIT: "There is no limit to forecast to.",
    NO_GAUGE: "The readings lie on a line and it is not known how finely the gauge reads; no forecast.",
    GAUGE_IMPOSSIBLE: "The uncertainty entered for the gauge is not possible.",
    NO_START: "The size when new is not known.",
    NO_CLOCK: "It is not known how many rides the part has carried.",
    CYCLES_NEGATIVE: "A number of rides is below nought.",
    CYCLES_BACK: "The number of rides goes back without a replacement; was one not recorded?",
    NO_RIDES: "It is not known how many rides an open day brings.",
    STALE: "The readings are too old to look ahead from: measure now.",
    DAY_AHEAD: "A reading lies ahead of today; look at the clock it was taken with.",
}

DROPPED = "dropped"
GAP = "gap"
EARLY_PASSED = "early-passed"
HORIZON_PASSED = "beyond-horizon"
OUTLIER = "outlier"
DIFFERS = "differs"
GREW_ONCE = "grew-once"
GAUGE_MISSING = "gauge-missing"
FLOORED = "gauge-coarse"

NOTE_SENTENCES: Mapping[str, str] = {
    DROPPED: "Some readings are missing or not figures; they were left out.",
    GAP: "More than half of the time has no reading in it.",
    EARLY_PASSED: "The early date has passed: measure now.",
    HORIZON_PASSED: "What follows lies further ahead than these readings can tell.",
    OUTLIER: "One reading lies far off the others: measure again. It was not left out.",
    DIFFERS: "A forecast that one wild reading cannot move comes out differently: measure again.",
    GREW_ONCE: "A reading is better than the one before by more than the gauge allows: was it replaced?",
    GAUGE_MISSING: "It is not known how finely the gauge reads.",
    FLOORED: "The readings scatter less than the gauge reads; the gauge's uncertainty was used.",
}

# Why a single computation has no answer.
CAUSES: Mapping[str, str] = {
    "figure-missing": "A figure that this needs is missing or not a figure.",
    "few-points": "There are too few points for this.",
    "no-spread": "All points lie at the same place; no slope follows from them.",
    "no-trend": "The slope cannot be told from none; no crossing follows from it.",
    "gauge-missing": "It is not known how finely the gauge reads.",
    "scatter-impossible": "A scatter is below nought.",
}


@dataclass(frozen=True)
class Untold:
    """No answer, and why: ``code`` is one of ``CAUSES``.

    >>> print(Untold("few-points").sentence)
    There are too few points for this.
    """

    code: str

    def __post_init__(self) -> None:
        if self.code not in CAUSES:
            raise KeyError(self.code)

    @property
    def sentence(self) -> str:
        """Return the reason in English."""
        return CAUSES[self.code]
