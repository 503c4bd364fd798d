"""A slip is not a deed: what would take something out of service, or is about tenfold off, is asked once more."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction
from typing import Any

from django.utils.translation import gettext as _

from courses.facts import facts_for
from courses.models import Place
from engineering import typed
from engineering.wear_gauge import AGAIN, jump
from inspections.judging import TYPED_KINDS, Judged, doubt
from inspections.measures import in_both, said
from inspections.models import Verdict
from inspections.picture import Spot, State

SMALL_COUNT = 20
MANY_RIDERS = 2000  # more than a line takes between two looks at its cords (judgement)


def only_grows(item: Mapping[str, Any]) -> bool:
    """Tell whether what an item counts cannot become less while the part stays: broken wires, cycles to date."""
    quantity = str(item.get("measures", "")).rpartition(".")[2]
    return quantity == "cycles" or quantity.startswith("broken_wires")


def fewer() -> str:
    """Return the question to a count that has become less than it can be."""
    return _(
        "%(value)s, and last time it was %(last)s: on the same part it cannot become less. Count again, then keep it "
        "or type the new count."
    )


def question(picture: Spot, place: Place, judged: Judged, *, at_signing: bool = False) -> str:
    """Return the question that must be answered with keep or retype before the answer counts; empty if none.

    ``at_signing``: nothing happens before it is signed, as with a ride, which is entered as a whole.
    """
    if judged.answer.kept or judged.answer.is_empty or judged.item.get("gear"):
        return ""
    slip = _slip(picture, place, judged)
    if judged.verdict == Verdict.WITHDRAW:
        why = f"{judged.judgement.sentence} {slip}".strip()
        if at_signing:
            return _("%(sentence)s If you keep it, it is out of service when you sign.") % {"sentence": why}
        return _("%(sentence)s If you keep it, it is out of service at once.") % {"sentence": why}
    return slip


def _slip(picture: Spot, place: Place, judged: Judged) -> str:
    """Return why a figure looks like a slip of the finger, against last time or the register; empty if it does not."""
    if judged.item["kind"] not in TYPED_KINDS or not judged.value or judged.question is not None:
        return ""
    state = picture.states.get((place.pk, judged.item["key"]))
    if judged.item["kind"] == "count":
        # One broken wire after none is no slip; thirty cycles after eight thousand is, and so is forty after three.
        if state is None or not state.value:
            return ""
        last, now = Fraction(state.value), Fraction(judged.value)
        if now < last and only_grows(judged.item) and _is_same_part(state, judged):
            return fewer() % {"value": judged.value, "last": state.value}
        if last < SMALL_COUNT and now < max(10 * last, last + SMALL_COUNT):
            return ""
        if last < SMALL_COUNT and now < MANY_RIDERS and str(judged.item.get("measures", "")).endswith("cycles"):
            return ""  # a counter that was begun anew grows by a day's riders
        if last == 0:
            return _("%(value)s, after none last time.") % {"value": judged.value}
        found = doubt(judged.item, judged.value, state.value, "")
        return found.sentence if found else ""
    facts = facts_for(picture.setup, place, judged.item, judged.component, picture.date)
    # Before a first reading there is only the register to compare with.
    nominal = next((facts[name] for name in ("nominal", "baseline", "reference") if facts.get(name)), "")
    found = doubt(judged.item, judged.value, state.value if state else "", nominal)
    units = picture.setup.course.units
    return _tenfold(judged, found, state, nominal, units) if found else _jump(judged, state, facts, units)


def _tenfold(judged: Judged, found: typed.Doubt, state: State | None, nominal: str, units: str) -> str:
    """Return why a figure looks like a slip, in the units of the course. Inches in a field of mm are told as typed."""
    others = {"tenfold-last": state.value if state else "", "tenfold-nominal": nominal}
    if found.code not in others:
        return str(_(typed.SENTENCES[found.code])) % found.params
    unit = judged.item["unit"]
    about = {"value": in_both(judged.value, unit, units), "other": in_both(others[found.code], unit, units)}
    return str(_(typed.SENTENCES[found.code])) % about


def _jump(judged: Judged, state: State | None, facts: Mapping[str, str], units: str) -> str:
    """Return why a figure wants a second measurement: it is further from the last one than its gauge scatters.

    Of another part, or without the uncertainty of the gauge, nothing is said.
    """
    if state is None or not state.value or not facts.get("gauge_u") or not _is_same_part(state, judged):
        return ""
    found = jump(float(Fraction(judged.value)), float(Fraction(state.value)), float(Fraction(facts["gauge_u"])))
    if found.state != AGAIN or found.explained is None:
        return ""
    about = {
        "value": in_both(judged.value, judged.item["unit"], units),
        "last": in_both(state.value, judged.item["unit"], units),
        "explained": _spread(found.explained, judged.item["unit"], units),
    }
    return _(
        "%(value)s is further from last time (%(last)s) than this gauge scatters (%(explained)s). Measure a second "
        "time, then keep it or type the second figure."
    ) % about  # fmt: skip


def _is_same_part(state: State, judged: Judged) -> bool:
    return state.component in (None, judged.component.pk if judged.component else None)


def _spread(size: float, unit: str, units: str) -> str:
    """Return how far a gauge scatters, with two digits. A difference of temperatures has no nought to be moved."""
    plain = f"{Decimal(f'{size:.2g}'):f}"
    return said(plain, unit) if unit == "degC" else in_both(plain, unit, units, toward="up")
