"""Why a computation about cable or ride gives no figure: a code from a closed list, and its English sentence.

A computation returns its result or a ``Refusal``, never a figure together with a doubt. Missing is not nought: an
absent wind, tension or mass refuses. The web layer translates the sentences and tells them in the units of a course
(``engineering.sentences``: behind a figure stands its unit as a placeholder). Where a range is named it is the range
within which the model was compared with the exact cable (sag 1 to 6 % of the span, slope to 15 %, from our own
comparison, COMPUTED) or the range of the trade's figures (from memory); the designer of record decides.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from engineering import brakes_words, envelope_words
from engineering.sentences import in_metric

SENTENCES: Mapping[str, str] = {
    # The line as entered.
    "span-missing": "The span of the line is not entered.",
    "span-range": "A span of %(value)s %(m)s is outside %(low)s to %(high)s %(m)s.",
    "drop-missing": "The drop of the line is not entered.",
    "drop-feet": (
        "A drop of %(value)s %(m)s is a slope of %(slope)s %%; if it was measured in feet it is %(metres)s %(m)s."
    ),
    "slope-range": "A slope of %(value)s %% is outside %(low)s to %(high)s %%.",
    "cable-mass-missing": "The weight of the cable per metre is not entered.",
    "cable-mass-range": "A cable of %(value)s %(kg/m)s is outside %(low)s to %(high)s %(kg/m)s.",
    "stiffness-missing": "The stiffness of the cable is not entered.",
    "stiffness-range": "A cable stiffness of %(value)s %(N)s is outside %(low)s to %(high)s %(N)s.",
    "stiffness-mass": "The stiffness and the weight entered cannot belong to one steel rope; look at their units.",
    "expansion-range": "An expansion of %(value)s %(1/K)s is outside %(low)s to %(high)s %(1/K)s.",
    "anchor-range": "The stiffness of the anchors has to be more than nought.",
    "tension-missing": "The tension of the cable is not entered.",
    "tension-impossible": "A tension of %(value)s %(N)s is not possible on this cable.",
    "sag-high": "A sag of %(value)s %% of the span is over %(limit)s %%: slack, or a wrong tension or unit.",
    "sag-low": "A sag of %(value)s %% of the span is under %(limit)s %%: too taut for this method, or a wrong unit.",
    "temperature-missing": "The temperature is not known.",
    "temperature-range": "A temperature of %(value)s %(degC)s is outside %(low)s to %(high)s %(degC)s.",
    # Rider, wind and air.
    "mass-missing": "The weight of the rider is not known.",
    "mass-range": "A weight of %(value)s %(kg)s is outside %(low)s to %(high)s %(kg)s.",
    "drag-missing": "The drag area of the rider is not known.",
    "drag-range": "A drag area of %(value)s %(m2)s is outside %(low)s to %(high)s %(m2)s.",
    "rolling-missing": "The rolling resistance of the trolley is not known.",
    "rolling-range": "A rolling resistance of %(value)s is outside %(low)s to %(high)s.",
    "sheave-range": "The turning mass of the sheaves, %(value)s %(kg)s, is outside %(low)s to %(high)s %(kg)s.",
    "wind-missing": "The wind is not measured.",
    "wind-range": "A wind of %(value)s %(m/s)s is outside %(low)s to %(high)s %(m/s)s.",
    "pressure-missing": "The air pressure is not known.",
    "pressure-range": "An air pressure of %(value)s %(Pa)s is outside %(low)s to %(high)s %(Pa)s.",
    "launch-missing": "The speed at the launch is not known.",
    "launch-range": "A speed of %(value)s %(m/s)s at the launch is outside %(low)s to %(high)s %(m/s)s.",
    "position-range": "The place %(value)s %(m)s from the launch is not on the line.",
    "speed-wave": "The rider reaches %(value)s %% of the cable's wave speed; this method ends at %(limit)s %%.",
    "rest-none": "A rider of this weight rolls to the end of the line.",
    # Cables in general.
    "figure-missing": "A figure that this needs is missing.",
    "figure-impossible": "A figure is not possible here: %(name)s is %(value)s.",
    "length-short": "The cable is shorter than the distance between its supports.",
    "no-solution": "No state of the cable fits these figures.",
    # The stopwatch.
    "returns-few": "At least one whole return has to be counted.",
    "time-missing": "No time was taken.",
    "time-impossible": "A time of %(value)s s is not possible.",
    "time-short": "The time is too short for a hand on the watch; count at least %(returns)s returns.",
    "wave-fast": "A sag of %(value)s %% of the span, under %(limit)s %%, would follow: count whole returns only.",
    "wave-slow": "A sag of %(value)s %% of the span, over %(limit)s %%, would follow: count again, none missed.",
    "times-differ": "The times differ by %(value)s s; count and time again.",
    "times-scatter": "The times differ by %(value)s s, more than a hand's; time again or count more returns.",
    **brakes_words.SENTENCES,
    **envelope_words.SENTENCES,
}


@dataclass(frozen=True)
class Refusal:
    """No figure, and why. ``params`` are the named values of the sentence.

    >>> print(Refusal("wind-missing").sentence)
    The wind is not measured.
    """

    code: str
    params: tuple[tuple[str, str], ...] = ()

    @property
    def sentence(self) -> str:
        """Return the reason in English, in metric units."""
        return in_metric(SENTENCES[self.code], dict(self.params))


def refuse(code: str, **params: float | str) -> Refusal:
    """Make a refusal; figures are written with six digits at most. Raises ``KeyError`` for a code not in the list.

    >>> refuse("mass-range", value=198.4160, low=25, high=150).sentence
    'A weight of 198.416 kg is outside 25 to 150 kg.'
    """
    made = Refusal(code, tuple((k, v if isinstance(v, str) else f"{v:.6g}") for k, v in params.items()))
    _ = made.sentence
    return made
