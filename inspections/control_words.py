"""What the charts of the test rides say to people, without a word of statistics: residual, standing, what to look at.

``ride`` is what the entry of a test ride keeps of one chart (``inspections.control_kept``).
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import date
from typing import Any, NamedTuple

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as L

from courses.refusals import figures_in, sentence_of
from engineering.control import Alarm
from engineering.control_residual import ARRIVAL_SPEED, STROKE
from engineering.control_words import SENTENCES, Note, at_brake
from engineering.refusal import Refusal
from engineering.sentences import units_of
from inspections.control import UNIT_OF, Charted
from inspections.measures import in_both

NAMES = {STROKE: L("Brake travel"), ARRIVAL_SPEED: L("Arrival speed")}

# By quantity; what it is compared with: what the line has shown (usual) or the computation alone; and how it differs.
_RESIDUALS = {
    (STROKE, "usual", 1): L("Brake travel %(size)s, %(by)s more than usual on this line at this wind and weight."),
    (STROKE, "usual", -1): L("Brake travel %(size)s, %(by)s less than usual on this line at this wind and weight."),
    (STROKE, "usual", 0): L("Brake travel %(size)s, as usual on this line at this wind and weight."),
    (STROKE, "computed", 1): L("Brake travel %(size)s, %(by)s more than computed for this wind and weight."),
    (STROKE, "computed", -1): L("Brake travel %(size)s, %(by)s less than computed for this wind and weight."),
    (STROKE, "computed", 0): L("Brake travel %(size)s, as computed for this wind and weight."),
    (ARRIVAL_SPEED, "usual", 1): L("Arrival speed %(size)s, %(by)s more than usual at this wind and weight."),
    (ARRIVAL_SPEED, "usual", -1): L("Arrival speed %(size)s, %(by)s less than usual at this wind and weight."),
    (ARRIVAL_SPEED, "usual", 0): L("Arrival speed %(size)s, as usual at this wind and weight."),
    (ARRIVAL_SPEED, "computed", 1): L("Arrival speed %(size)s, %(by)s more than computed for this wind and weight."),
    (ARRIVAL_SPEED, "computed", -1): L("Arrival speed %(size)s, %(by)s less than computed for this wind and weight."),
    (ARRIVAL_SPEED, "computed", 0): L("Arrival speed %(size)s, as computed for this wind and weight."),
}

# How a chart stands, in place of the engineer's sentences.
_STANDINGS = {
    "no-rides": L("No ride of this ballast could be compared yet."),
    "baseline-short": L("%(count)s of %(needed)s good mornings are known; what is usual here is told after them."),
    "baseline-complete": L("What is usual on this line is known from today; the next ride is compared with it."),
    "no-scatter": L("All figures are equal and the scatter of the gauge is not entered, so nothing is compared."),
    "today-missing": L("No ride of today is compared; nothing is said about today."),
    "in-control": L("It is within what this line has shown."),
    "alarm": L("It has left what this line has shown: look today."),
    "alarm-together": L("The last rides taken together have left what this line has shown: look today."),
    "alarm-before": L(
        "This ride is within what the line has shown; an earlier one was not, and nobody has looked yet."
    ),
    "ballast-missing": L("The posted maximum weight of the line is not entered, so no ballast is compared."),
    "setting-impossible": L("Nothing is compared: a setting of this line is not possible."),
}

_ALARMS = {
    (STROKE, "beyond-high"): L("Brake travel much longer than usual: %(size)s, %(by)s more"),
    (STROKE, "beyond-low"): L("Brake travel much shorter than usual: %(size)s, %(by)s less"),
    (STROKE, "creep-high"): L("Brake travel is getting longer, since about %(since)s"),
    (ARRIVAL_SPEED, "beyond-high"): L("Arrival speed much higher than usual: %(size)s, %(by)s more"),
    (ARRIVAL_SPEED, "beyond-low"): L("Arrival speed much lower than usual: %(size)s, %(by)s less"),
    (ARRIVAL_SPEED, "creep-high"): L("Arrival speed is getting higher, since about %(since)s"),
    (ARRIVAL_SPEED, "creep-low"): L("Arrival speed is getting lower, since about %(since)s"),
}

_REMARKS = {
    "baseline-wild": L(
        "A morning among the first twenty lies far from the others; look at how it was read. The engineer can leave it "
        "out, with a reason, in the line's mechanics."
    ),
    "baseline-related": L("The first twenty mornings follow each other closely; what is usual is known roughly."),
    "gauge-coarse": L("The gauge reads more coarsely than the rides differ; its own scatter is reckoned with."),
    "baseline-moved": L("Entries changed since what is usual here was settled; what was settled then is kept."),
    "gap": L("There was no such ride for %(days)s days before this one."),
    "tuned-for-fewer": L("There are more than %(most)s such charts; more of them will call for a look in vain."),
}


def name_of(quantity: str) -> str:
    return str(NAMES[quantity])


def size_of(value: float, quantity: str, units: str) -> str:
    """Return a travel or speed as a course reads it, with one decimal."""
    return in_both(f"{value:.1f}", UNIT_OF[quantity], units)


def residual_sentence(ride: Mapping[str, Any], units: str) -> str:
    """Return what a ride measured and how far it lies from what was to be expected; empty if that is not known."""
    if "expected" not in ride:
        return ""
    measured = float(ride["measured"])
    usual = float(ride["baseline"]["centre"]) if "baseline" in ride else 0.0
    return differing(ride["what"], measured, measured - float(ride["expected"]) - usual, "baseline" in ride, units)


def differing(quantity: str, measured: float, by: float, is_usual: bool, units: str) -> str:
    """Return a measured figure and by how much it differs; ``is_usual``: from what the line has shown."""
    shown = f"{abs(by):.1f}"
    side = 0 if float(shown) == 0.0 else 1 if by > 0.0 else -1
    sentence = _RESIDUALS[quantity, "usual" if is_usual else "computed", side]
    about = {"size": size_of(measured, quantity, units), "by": in_both(shown, UNIT_OF[quantity], units)}
    return str(sentence) % about


def standing_sentence(status: Note, signals: Collection[str]) -> str:
    """Return how a chart stands; ``signals`` are those of the newest ride, whether by itself or with those before."""
    code = status.code
    if code == "alarm" and not any(one.startswith("beyond") for one in signals):
        code = "alarm-together" if signals else "alarm-before"
    return str(_STANDINGS[code]) % dict(status.params)


def not_computed(why: Note, because: Refusal | None, units: str) -> str:
    """Return why a ride has no expectation, in the units of a course."""
    source = SENTENCES[why.code]
    told = str(_(source)) % figures_in(dict(why.params), units_of(source), units)
    reason = sentence_of(because, units) if because else told
    return _("Not computed. %(why)s") % {"why": reason}


def remarks_of(notes: tuple[Note, ...]) -> list[str]:
    """Return what is remarkable about a chart, in sentences."""
    return [str(_REMARKS[one.code]) % dict(one.params) for one in notes if one.code in _REMARKS]


class Said(NamedTuple):
    """A sentence about a ride; ``asks``: somebody has to look because of this very ride."""

    sentence: str
    asks: bool


def said_of(kept: Mapping[str, Any], units: str) -> list[Said]:
    """Return what there is to say of a ride right after it was signed, by what its entry keeps of the charts."""
    said: list[Said] = []
    for ride in kept.get("charts", ()):
        asks = bool(ride["signals"])
        if "why" in ride:
            because = ride.get("because")
            refusal = Refusal(because["code"], tuple(because["params"].items())) if because else None
            sentence = not_computed(_note(ride["why"]), refusal, units)
        else:
            standing = standing_sentence(_note(ride["status"]), ride["signals"])
            sentence = f"{residual_sentence(ride, units)} {standing}"
        if sentence not in (one.sentence for one in said):
            said.append(Said(sentence, asks))
    return said


def _note(kept: Mapping[str, Any]) -> Note:
    return Note(kept["code"], tuple(kept.get("params", {}).items()))


def alarm_title(one: Charted, alarm: Alarm, units: str) -> str:
    """Return what the finding of an alarm is called."""
    point = next(point for point in one.control.points if point.at == alarm.at)
    measured = next(ride.measured for _seen, ride, _found in one.rides if ride.at == alarm.at)
    usual = one.control.baseline.centre if one.control.baseline else 0.0
    about = {
        "size": size_of(measured or 0.0, one.quantity, units),
        "by": in_both(f"{abs(point.value - usual):.1f}", UNIT_OF[one.quantity], units),
        "since": day(alarm.since),
    }
    return str(_ALARMS[one.quantity, alarm.code]) % about


def look_first_sentence(alarm: Alarm, brake: str) -> str:
    """Return what to look at first after an alarm; common practice, the maker's manual comes before it.

    ``brake`` is the kind of the primary brake (``Basis.brake``), empty where it is not one.
    """
    return str(_(SENTENCES[at_brake(alarm.look_first.code, brake)]))


def day(on: date) -> str:
    return date_format(on, "j F")
