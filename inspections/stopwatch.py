"""The sag of a cable from the times of its return wave: what was typed, understood, computed and told.

Nothing is stored and nothing is judged here: the sag is entered in the sheet where it is asked, by the person who took
the times. The computation and its source are in ``engineering.return_wave``.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from courses.mechanics import line_of
from courses.models import Course
from courses.refusals import sentence_of
from engineering import typed
from engineering.line import G_MPS2, SAG
from engineering.refusal import SENTENCES, Refusal
from engineering.return_wave import (
    HAND_S,
    LOST,
    MOST_RETURNS,
    STUDENT,
    TIME_S,
    WIDEST,
    stopwatch_sag,
    stopwatch_tension,
)
from inspections.figures import number
from inspections.measures import in_both

TIMES = 3
APART = gettext_noop(
    "The times differ by %(apart)s s, more than a hand's; time again or count more returns for a surer figure."
)
# What the phone can have to say of times by itself: codes of engineering.refusal, their sentences without units.
ALONE = ("time-missing", "time-impossible", "time-short", "times-differ", "times-scatter", "wave-slow", "wave-fast")


@dataclass(frozen=True)
class Told:
    """What is shown: sag and tension with the half-widths of their 95 % intervals, and the mean time in s.

    ``no_tension`` says why there is none; ``suspect`` asks to count again where a miscounted return would fit better.
    ``apart``: the times differ by more than a hand's, so that the half-widths are wide.
    """

    sag: str
    sag_half: str
    time: str
    tension: str = ""
    tension_half: str = ""
    no_tension: str = ""
    suspect: str = ""
    apart: str = ""
    plain_kn: str = ""  # the tension for the form of the mechanics, and the half-width of its interval
    plain_half_kn: str = ""


def read_times(texts: Sequence[str]) -> tuple[list[float], dict[int, str]]:
    """Return (times in s, what is wrong by place) of what was typed; empty fields are left out."""
    times, wrong = [], {}
    for place, text in enumerate(texts):
        if not text.strip():
            continue
        try:
            times.append(float(typed.read_figure(text, "s").value))
        except typed.Unclear as question:
            wrong[place] = f"{question.sentence} {question.suggestion}".strip()
    return times, wrong


def read_returns(text: str) -> tuple[int | None, str]:
    """Return (count of returns, what is wrong with it)."""
    text = text.strip()
    if text.isascii() and text.isdigit() and len(text) <= 3 and 1 <= int(text) <= MOST_RETURNS:
        return int(text), ""
    return None, _("Count whole returns of the wave, from 1 to %(most)s.") % {"most": MOST_RETURNS}


def span_of(document: Mapping[str, Any]) -> float | None:
    """Return the span in m from length and drop of the line's data, the length taken straight; None if not entered."""
    length, drop = number(document.get("length_m")), number(document.get("drop_m"))
    if length is None or drop is None or length <= drop:
        return None
    return math.sqrt(float(length * length - drop * drop))


def carried(course: Course, document: Mapping[str, Any]) -> dict[str, Any]:
    """Return what a page carries so that the phone tells the sag without a signal (``static/js/return_wave.mjs``)."""
    words = {code: str(_(SENTENCES[code])) for code in ALONE}
    words |= {
        "returns": _("Count whole returns of the wave, from 1 to %(most)s.") % {"most": MOST_RETURNS},
        "sag": _("Sag at mid-span %(sag)s ± %(half)s, by this phone. Mean time %(time)s s."),
        "apart": _(APART),
        "tension": _("The tension is computed when there is a signal. Enter the sag in the sheet where it is asked."),
    }
    known = {
        "span": span_of(document), "gravity": G_MPS2, "hand": HAND_S, "widest": WIDEST, "lost": LOST,
        "student": STUDENT[: TIMES - 1], "shares": SAG, "most": MOST_RETURNS, "range": TIME_S,
    }  # fmt: skip
    return {"known": known, "units": course.units, "words": words}


def told(
    course: Course, document: Mapping[str, Any], mechanics: Mapping[str, Any], times: Sequence[float], returns: int
) -> Told | str:
    """Return what the times tell of a line, or in a sentence why they tell nothing.

    The tension needs the cable's weight and the span of the line's mechanics; the sag needs neither.
    """
    found = stopwatch_sag(times, returns, span_m=span_of(document))
    if isinstance(found, Refusal):
        return sentence_of(found, course.units)
    sag = Told(
        sag=in_both(f"{found.sag_m:.2f}", "m", course.units),
        sag_half=in_both(f"{found.sag_half_m:.2f}", "m", course.units, toward="up"),
        time=f"{found.time_s:.2f}",
        apart=_apart(found.apart_s),
    )
    taut = stopwatch_tension(line_of(document, mechanics), times, returns)
    if isinstance(taut, Refusal):
        return replace(sag, no_tension=sentence_of(taut, course.units))
    kilonewtons, half = f"{taut.tension_n / 1000:.2f}", f"{taut.tension_half_n / 1000:.2f}"
    suspect = ""
    if taut.suspect_returns:
        suspect = _(
            "%(count)s returns would fit the tension as entered better than the %(counted)s counted. Count again."
        )
        suspect %= {"count": taut.suspect_returns, "counted": returns}
    return replace(
        sag,
        tension=in_both(kilonewtons, "kN", course.units),
        tension_half=in_both(half, "kN", course.units, toward="up"),
        suspect=suspect,
        plain_kn=kilonewtons,
        plain_half_kn=half,
    )


def _apart(apart_s: float) -> str:
    if not apart_s:
        return ""
    return _(APART) % {"apart": f"{apart_s:.2f}"}
