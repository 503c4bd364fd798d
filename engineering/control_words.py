"""What the control of the morning test ride says: codes from a closed list, each with its English sentence.

A chart of test rides only says "look today" and where to look first. It never holds a line, never opens one, never
betters a verdict: the limits of the maker, of the standard and of the designer of record stand beside it and decide.
Where to look first is common practice, no source; the maker's manual comes before it. What wears, binds or gets dirty
is another thing on each kind of brake: ``at_brake`` chooses the sentence by the kind, where that is known.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from engineering.sentences import in_metric

SENTENCES: Mapping[str, str] = {
    # Why there is no chart, or no statement about today.
    "no-rides": "No test ride can be charted yet.",
    "baseline-short": "%(count)s of %(needed)s good mornings are there; the chart begins after them.",
    "no-scatter": "All figures are equal and the gauge's own scatter is not entered, so there are no control limits.",
    "today-missing": "No test ride of today can be charted; the chart says nothing about today.",
    "baseline-complete": "The baseline is complete; the chart begins with the next test ride.",
    "in-control": "The test ride lies within what this line has shown since its baseline.",
    "alarm": "The test rides have left what this line has shown since its baseline: look today.",
    # What is remarkable beside it.
    "baseline-wild": "A morning of the baseline lies far from the others; strike it with a reason, or begin anew.",
    "baseline-related": "Mornings of the baseline follow each other closely; the control limits are approximate.",
    "gauge-coarse": "The gauge is coarser than the scatter of the rides; its own scatter sets the control limits.",
    "baseline-moved": "Entries changed since the baseline was frozen; the frozen figures are kept.",
    "gap": "There was no test ride on the chart for %(days)s days before this one.",
    "tuned-for-fewer": "The control limits are tuned for %(most)s charts at most; expect more false alarms.",
    "mark-ignored": "An entry without a reason and a time does not restart a chart.",
    # Why one ride is not on the chart.
    "value-missing": "A figure is missing.",
    "value-impossible": "A figure of %(value)s is not possible here.",
    "time-missing": "The ride has no time.",
    "ballast-missing": "The weight of the ballast is not entered.",
    "ballast-other": "The ballast of %(value)s %(kg)s is not that of the chart, %(low)s to %(high)s %(kg)s.",
    "wind-missing": "The wind was not measured.",
    "wind-other": "The wind of %(value)s %(m/s)s is outside %(low)s to %(high)s %(m/s)s, the range of the chart.",
    "temperature-missing": "The temperature was not measured.",
    "not-arrived": "The ride did not arrive.",
    "model-refused": "The computation gives no figure for this ride.",
    "other-ride": "Another ride of that day lies farther out and is the one on the chart.",
    "baseline-not-good": "The ride was not good in itself and is no part of the baseline.",
    "baseline-second": "The baseline takes the first good ride of a day.",
    "baseline-struck": "The ride was struck from the baseline (%(reason)s).",
    # Bad settings.
    "setting-impossible": "A setting is not possible here: %(name)s is %(value)s.",
    "run-too-long": "With these settings a chart hardly ever signals; its run length cannot be told.",
    # What the alarm is.
    "beyond-high": "This morning's figure is %(by)s above what was expected, beyond the control limit of %(limit)s.",
    "beyond-low": "This morning's figure is %(by)s below what was expected, beyond the control limit of %(limit)s.",
    "creep-high": "The figures have been creeping up, probably since %(since)s.",
    "creep-low": "The figures have been creeping down, probably since %(since)s.",
    # What to look at first.
    "first-longer-jump": "Look first at the brake: ready and reset, undamaged, another brake or trolley.",
    "first-longer-jump-spring": "Look first at the brake: ready, reset, guides and ropes, another brake or trolley.",
    "first-longer-jump-cord": "Look first at the brake: ready, reset, its cords and their ends, another trolley.",
    "first-longer-jump-eddy": "Look first at the brake: in place, its magnets and their gap, another brake or trolley.",
    "first-longer-creep": "Look first at the wear of the brake and at its adjustment.",
    "first-longer-creep-spring": "Look first at the wear of the brake: its springs, guides and ropes, its adjustment.",
    "first-longer-creep-cord": "Look first at the wear of the brake: its cords, their ends, age and length.",
    "first-longer-creep-eddy": (
        "Look first at the wear of the brake: the gap of its magnets, and wear, dirt and heat of the metal they pass."
    ),
    "first-shorter-jump": "Look first at the brake for binding, and at the trolley and its wheels.",
    "first-shorter-jump-cord": "Look first at the brake for a cord that is caught or shortened, then at the trolley.",
    "first-shorter-jump-eddy": "Look first at the brake for what rubs in the gap of its magnets, then at the trolley.",
    "first-shorter-creep": "Look first at the brake for dirt and rust, then at the trolley's bearings.",
    "first-shorter-creep-spring": (
        "Look first at the brake and its guides for dirt and rust, then at the trolley's bearings."
    ),
    "first-shorter-creep-eddy": (
        "Look first at the gap of the brake's magnets for dirt and chips of metal, then at the trolley's bearings."
    ),
    "first-faster-jump": "Look first at the wind gauge and the trolley, then at the tension of the cable.",
    "first-faster-creep": "Look first at the tension of the cable and the state of its surface, then at the trolley.",
    "first-slower-jump": "Look first at the trolley's wheels and bearings and at the wind gauge.",
    "first-slower-creep": "Look first at the trolley's wheels and bearings, then at the sag of the cable.",
    "first-arrival": "The arrival speed has moved too: look at trolley, cable and wind gauge before the brake.",
}


@dataclass(frozen=True)
class Note:
    """A code of the list and the named values of its sentence.

    >>> print(Note("baseline-short", (("count", "7"), ("needed", "20"))).sentence)
    7 of 20 good mornings are there; the chart begins after them.
    """

    code: str
    params: tuple[tuple[str, str], ...] = ()

    @property
    def sentence(self) -> str:
        """Return the sentence in English."""
        return in_metric(SENTENCES[self.code], dict(self.params))


def note(code: str, **params: float | str) -> Note:
    """Make a note; figures are written with six digits at most. Raises ``KeyError`` for a code not in the list.

    >>> note("gap", days=12).sentence
    'There was no test ride on the chart for 12 days before this one.'
    """
    made = Note(code, tuple((k, v if isinstance(v, str) else f"{v:.6g}") for k, v in params.items()))
    _ = made.sentence
    return made


def at_brake(code: str, kind: str) -> str:
    """Return the code for a brake of one kind (spring, cord, eddy), or that for all kinds where none is its own.

    >>> at_brake("first-longer-creep", "eddy"), at_brake("first-longer-creep", ""), at_brake("first-arrival", "eddy")
    ('first-longer-creep-eddy', 'first-longer-creep', 'first-arrival')
    """
    own = f"{code}-{kind}"
    return own if own in SENTENCES else code
