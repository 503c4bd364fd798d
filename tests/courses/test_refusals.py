"""Why nothing is computed, on a course in US units: the figures are those of the form, in feet, pounds, miles per hour.

Exact factors are those of the yard and pound agreement of 1959 (1 ft = 0.3048 m, 1 lb = 0.45359237 kg) and of the
definition of °F; 1 mph = 0.44704 m/s follows from the first.
"""

from __future__ import annotations

import re
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from courses.models import Course, Place, Version
from courses.refusals import figure, sentence_of, sentence_of_note
from engineering.envelope_notes import NOTES, Note
from engineering.line import MASS_KG
from engineering.refusal import SENTENCES, Refusal, refuse
from engineering.sentences import METRIC
from tests.courses import build
from tests.courses.pages import As, look, path, text
from tests.courses.test_mechanics_pages import PAPERS

LB, FT, MPH = 0.45359237, 0.3048, 0.44704
METRIC_UNIT = re.compile(r"\d (?:m|kg|m/s|N|N/m|Pa|°C|K|m²|kg per metre|per kelvin)(?![\w/²])")


def filled(sentence: str) -> tuple[tuple[str, str], ...]:
    names = dict.fromkeys(re.findall(r"%\((\w+)\)s", sentence))
    return tuple((name, f"{7 + at}.5") for at, name in enumerate(name for name in names if name not in METRIC))


@pytest.mark.parametrize("code", SENTENCES)
def test_no_sentence_speaks_metric_on_a_us_course(code: str) -> None:
    told = sentence_of(Refusal(code, filled(SENTENCES[code])), "us")
    assert not METRIC_UNIT.search(told)
    assert "%(" not in told
    assert told.endswith(".")


@pytest.mark.parametrize("code", NOTES)
def test_no_warning_speaks_metric_on_a_us_course(code: str) -> None:
    note = Note(code, filled(NOTES[code]) if "%(" in NOTES[code] else ())
    assert not METRIC_UNIT.search(sentence_of_note(note, "us"))
    assert sentence_of_note(note, "metric") == note.sentence


@pytest.mark.parametrize(
    ("refusal", "sentence"),
    [
        (refuse("mass-range", value=200 * LB, low=25, high=60), "A weight of 200 lb is outside 55.12 to 132.3 lb."),
        (refuse("temperature-range", value=68, low=-40, high=60), "A temperature of 154 °F is outside -40 to 140 °F."),
        (refuse("magnet-warm-range", value=100, low=0, high=80),
         "Magnets 180 °F warmer than certified are outside 0 to 144 °F."),
        (refuse("span-length", value=786 * FT, length=900 * FT),
         "A span of 786 ft does not fit the length of the line, 900 ft; look at the units."),
        (refuse("wind-over", low=0, high=30 * MPH),
         "The wind, 0 to 30 mph along the line, is beyond the posted limits."),
        (refuse("fit-impossible", name="drag area", value=1.6, low=0.1, high=1.2),
         "The rides ask for a drag area of 17.2 ft², outside 1.08 to 12.9 ft²; look at wind and units."),
        (refuse("sag-high", value=9.0, limit=6.0),
         "A sag of 9 % of the span is over 6 %: slack, or a wrong tension or unit."),
        (refuse("drop-feet", value=150 * FT, slope=20.0, metres=13.94),
         "A drop of 150 ft is a slope of 20 %, too steep for this method; look at its unit."),
    ],
)  # fmt: skip
def test_figures_are_told_in_us_units(refusal: Refusal, sentence: str) -> None:
    assert sentence_of(refusal, "us") == sentence


def test_large_and_small_figures_have_no_exponent() -> None:
    refusal = refuse("stiffness-range", value=3e9, low=1e6, high=2.5e8)
    assert sentence_of(refusal, "metric") == "A cable stiffness of 3000000000 N is outside 1000000 to 250000000 N."
    assert "e+" not in sentence_of(refusal, "us")
    thin = refuse("expansion-range", value=2e-5, low=5e-6, high=1.8e-5)
    assert sentence_of(thin, "us") == "An expansion of 11.1 ppm/°F is outside 2.78 to 10 ppm/°F."


@given(st.floats(-6, 3, allow_nan=False))
def test_what_is_beyond_a_bound_reads_beyond_it(power: float) -> None:
    """However near: a person must never read that 331 lb is outside 55 to 331 lb."""
    low, high = MASS_KG
    refusal = refuse("mass-range", value=high + 10**power, low=low, high=high)
    if float(dict(refusal.params)["value"]) > high:  # six digits are kept of a figure
        value, _low, most = (float(one) for one in re.findall(r"\d+(?:\.\d+)?", sentence_of(refusal, "us")))
        assert value > most


def test_one_figure_with_its_unit() -> None:
    assert (figure(10.0, "m/s", "us"), figure(10.0, "m/s", "metric")) == ("22.4 mph", "10 m/s")
    assert figure(-10.0, "degC", "us") == "14 °F"


# --- on the pages of the set-up


@pytest.fixture
def us(course: Course) -> Course:
    Course.objects.filter(pk=course.pk).update(units="us")
    course.refresh_from_db()
    return course


# The papers of tests.courses.test_mechanics_pages in the units in which a US course is asked.
IN_FEET = {
    **PAPERS, "span_m": "786", "tension_kn": "3147", "reference_c": "54", "cable__mass_kg_per_m": "0.7",
    "cable__stiffness_kn": "2585000", "cable__expansion_per_k": "6.7", "rider__drag_area_m2": "4.1",
    "pressure_hpa": "29.7", "launch_mps": "3.4", "zone__start_m": "741", "zone__length_m": "36", "zone__capture_m": "1",
    "parts__primary-1__rate_n_per_m": "2.9", "parts__primary-1__preload_n": "50", "parts__primary-1__bind_m": "18",
    "parts__emergency-1__start_m": "18.4", "parts__emergency-1__rate_n_per_m": "4.6",
    "parts__emergency-1__first_force_n": "67", "parts__emergency-1__first_length_m": "0.7",
    "parts__emergency-1__bind_m": "13",
}  # fmt: skip


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"tension_kn": "40000"}, "A tension of 40000 lbf is not possible on this cable."),
        ({"rider__drag_area_m2": "50"}, "A drag area of 50 ft² is outside "),
        ({"span_m": "900"}, "A span of 900 ft does not fit the length of the line, "),
    ],
)
def test_look_before_sending_tells_feet_and_pounds(
    as_: As, us: Course, complete: Place, changes: dict[str, str], sentence: str
) -> None:
    response, _again = look(as_("engineer"), path("mechanics_edit", us, complete), **{**IN_FEET, **changes})
    assert sentence in text(response)


def test_who_confirms_and_who_reads_are_told_the_same(as_: As, us: Course, complete: Place, staff: Any) -> None:
    engineer, address = as_("engineer"), path("mechanics_edit", us, complete)
    _response, again = look(engineer, address, **{**IN_FEET, "tension_kn": "40000"})
    assert engineer.post(address, again).status_code == 302
    version = Version.objects.get(kind="mechanics", place=complete)
    assert "A tension of 40000 lbf is not possible" in text(as_("manager").get(path("proposal", us, version)))
    build.settle(us, "mechanics", version.content, people=staff, place=complete)
    assert "A tension of 40000 lbf is not possible" in text(engineer.get(path("mechanics", us, complete)))


def test_still_air_is_told_in_pounds_and_miles(as_: As, us: Course, complete: Place) -> None:
    response, _again = look(as_("engineer"), path("mechanics_edit", us, complete), **IN_FEET)
    told = text(response)
    assert re.search(r"In still air at 59 °F a rider of [\d.]+ lb arrives with [\d.]+ mph:", told)
    assert not re.search(r"In still air[^.]*(?: kg| m/s| °C)", told)


def test_drop_in_a_wrong_unit_is_told_in_feet(as_: As, us: Course, complete: Place, staff: Any) -> None:
    build.settle(us, "line", {**build.LINE, "drop_m": "47.6"}, people=staff, place=complete)
    response, _again = look(as_("engineer"), path("mechanics_edit", us, complete), **IN_FEET)
    assert re.search(r"A drop of 156(\.2)? ft is a slope of ", text(response))
    assert "measured in feet" not in text(response)
