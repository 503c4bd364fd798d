"""What reliability figures say when there is no figure, or beside one: codes from a closed list, with their sentences.

These figures plan and inform. None of them lengthens a service life, releases a part or replaces a limit: the maker's
figure, the standard's and the designer of record's come first.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

SENTENCES: Mapping[str, str] = {
    # Lives.
    "nothing-observed": "No part has been observed yet.",
    "no-failure": "No part has failed in the %(count)s observed; there is no life to compute, only a bound.",
    "too-few": "%(count)s parts have failed; a distribution of lives needs at least %(needed)s.",
    "no-scatter": "All parts failed at the same life; the figures cannot tell how lives scatter.",
    "time-missing": "A life is missing.",
    "time-impossible": "A life of %(value)s is not possible.",
    "no-fit": "No distribution fits these lives.",
    # Settings.
    "setting-missing": "A figure that this needs is missing: %(name)s.",
    "setting-impossible": "A figure is not possible here: %(name)s is %(value)s.",
    "count-impossible": "%(part)s of %(whole)s is not possible.",
    "level-impossible": "A level of confidence of %(value)s is not between 0 and 1.",
    # Spares and replacement by age.
    "demand-large": "A demand of %(value)s parts is beyond this method.",
    "no-best-age": "With these figures a replacement by age does not pay; replace as condition and limits ask.",
    # Samples.
    "lot-empty": "There is nothing to draw from.",
    "key-twice": "The list names %(key)s more than once.",
    "key-bad": "An entry of the list is empty or has more than one line.",
    "seed-missing": "A seed has to be given, and told before the draw.",
    "sample-large": "A sample of %(size)s is more than the %(lot)s there are.",
    "no-plan": "No plan of at most %(most)s pieces meets these risks.",
    # Service life.
    "life-no-clock": "No limit of cycles, age or wear is entered for this part.",
    "life-reached": "The service life of this part is used up.",
    "life-ends": "The service life of this part ends first by %(clock)s.",
    "life-not-soon": "No clock of this part that can be reckoned ends within the days known.",
    "life-unknown": "The service life cannot be told, because a figure is missing: %(clock)s.",
    "clock-missing": "A limit is set, but the figure to compare with it is missing: %(clock)s.",
    "clock-impossible": "A figure is not possible: %(clock)s.",
    "clock-no-rides": "There are no counts of riders from which to reckon ahead.",
    "clock-beyond": "The limit of cycles is not reached within the operating days known.",
    # Completeness.
    "nothing-due": "Nothing was due in this period.",
    "unknown-records": "%(count)s records answer nothing that was due; they are not counted.",
    "records-twice": "%(count)s items were recorded more than once; the earliest record counts.",
    "time-unknown": "%(count)s records have no usable time; they are not counted as on time.",
}


@dataclass(frozen=True)
class Note:
    """A code of the list and the named values of its sentence.

    >>> print(Note("too-few", (("count", "3"), ("needed", "5"))).sentence)
    3 parts have failed; a distribution of lives needs at least 5.
    """

    code: str
    params: tuple[tuple[str, str], ...] = ()

    @property
    def sentence(self) -> str:
        """Return the sentence in English."""
        return SENTENCES[self.code] % dict(self.params)


def note(code: str, **params: float | str) -> Note:
    """Make a note; figures are written with six digits at most. Raises ``KeyError`` for a code not in the list.

    >>> note("sample-large", size=12, lot=10).sentence
    'A sample of 12 is more than the 10 there are.'
    """
    made = Note(code, tuple((k, v if isinstance(v, str) else f"{v:.6g}") for k, v in params.items()))
    _ = made.sentence
    return made
