"""Sentences that name figures: each unit stands as a placeholder behind its figure, and reads as it did in metric."""

import re

import pytest

from engineering.calibrate import NOTES as CALIBRATED
from engineering.envelope_notes import NOTES, CalibratedBy, warnings
from engineering.refusal import SENTENCES, refuse
from engineering.sentences import METRIC, in_metric, units_of
from tests.engineering.test_envelope_map import PLAN

ALL = {**SENTENCES, **NOTES, **CALIBRATED}
NO_UNIT = {"accepted", "all", "needed", "limit", "low", "high", "returns", "rides", "count", "value", "slope", "share"}
NAMES = {"name", "place"}
PLAIN_UNIT = re.compile(r"\)s (?:m|kg|m/s|N|N/m|Pa|°C|K|m²|kg per metre|per kelvin)(?![\w/²])")


@pytest.mark.parametrize("code", ALL)
def test_no_unit_stands_in_a_sentence_as_a_word(code):
    """A unit written out would stay metric on every course. Seconds are the same everywhere."""
    assert not PLAIN_UNIT.search(ALL[code])


@pytest.mark.parametrize("code", ALL)
def test_every_figure_has_its_unit_or_is_known_to_have_none(code):
    named = set(re.findall(r"%\((\w+)\)s", ALL[code])) - set(METRIC)
    assert named - set(units_of(ALL[code])) <= NO_UNIT | NAMES
    placed = set(re.findall(r"%\(([^)]+)\)s", ALL[code])) & set(METRIC)
    assert placed == set(units_of(ALL[code]).values()), "a unit without a figure of its own"


@pytest.mark.parametrize(
    ("refusal", "sentence"),
    [
        (refuse("mass-range", value=198.4, low=25, high=150), "A weight of 198.4 kg is outside 25 to 150 kg."),
        (refuse("ride-wild", mass=80.0, value=1.1),
         "The ride with 80 kg is 1.1 m/s away from the others; look at its record."),
        (refuse("cable-mass-range", value=9.0, low=0.1, high=5.0),
         "A cable of 9 kg per metre is outside 0.1 to 5 kg per metre."),
        (refuse("magnet-warm-range", value=99.0, low=0, high=80),
         "Magnets 99 K warmer than certified are outside 0 to 80 K."),
        (refuse("sag-high", value=9.0, limit=6.0),
         "A sag of 9 % of the span is over 6 %: slack, or a wrong tension or unit."),
        (refuse("reaction-range", value=9.0, low=0, high=5), "A reaction time of 9 s is outside 0 to 5 s."),
        (refuse("limit-speed-range", value=0.5, low=1, high=40),
         "A limit for the arrival of 0.5 m/s is outside 1 to 40 m/s."),
    ],
)  # fmt: skip
def test_in_metric_a_sentence_reads_as_it_is_written(refusal, sentence):
    assert refusal.sentence == sentence


def test_warnings_read_metric():
    calibrated = CalibratedBy(8, 50.0, 120.0, 0.314)
    told = [one.sentence for one in warnings(PLAN, (60.0, 100.0), "the launch", 0.62, 80.0, calibrated)]
    assert told[1].endswith("with 8 rides, 50 to 120 kg, interval ±0.31 m/s.")
    assert "1 m/s more head wind takes 62 % of the arrival speed of a rider of 80 kg" in told[2]
    short = warnings(PLAN, (60.0, 100.0), "the launch", None, 80.0)[2].sentence
    assert "1 m/s more head wind makes a rider of 80 kg stop short" in short


def test_a_sentence_without_its_figure_is_the_programmers_error():
    with pytest.raises(KeyError):
        in_metric(SENTENCES["mass-range"], {"value": "3"})
