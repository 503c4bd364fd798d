"""What is typed into the set-up's fields. Factors: 1 in = 25.4 mm, 1 lb = 0.45359237 kg, 1 ft = 0.3048 m exactly
(international yard and pound, 1959); 1 mph = 0.44704 m/s follows. The products are worked out by hand.
"""

import pytest
from django import forms
from django.core.exceptions import ValidationError

from courses.forms.fields import CountField, DayField, FigureField, Taken


def field(unit: str, units: str = "metric") -> FigureField:
    made = FigureField(unit=unit)
    made.use_units(units)
    return made


@pytest.mark.parametrize(
    ("unit", "units", "typed", "kept", "beside"),
    [
        ("m", "metric", "240", "240", ""),
        ("m", "metric", " 14,5 ", "14.5", ""),
        ("m", "metric", "450 ft", "137.16", "450 ft"),
        ("mm", "metric", "5/8 in", "15.875", "5/8 in"),
        ("m", "us", "450", "137.16", "450 ft"),
        ("m", "us", "137.16 m", "137.16", ""),
        ("kg", "us", "250", "113.3980925", "250 lb"),
        ("m/s", "us", "20", "8.9408", "20 mph"),
        ("mm", "us", "5/8", "15.875", "5/8 in"),
        ("m/s", "metric", "27 km/h", "7.5", "27 km/h"),
        ("m", "metric", "", "", ""),
    ],
)
def test_a_figure_is_kept_in_metric_exactly_and_as_typed_beside_it(
    unit: str, units: str, typed: str, kept: str, beside: str
) -> None:
    assert field(unit, units).clean(typed) == Taken(kept, beside)


@pytest.mark.parametrize(
    ("unit", "typed", "said"),
    [
        ("m", "1,234", "Type 1.234 or 1234."),
        ("m", "1.2.3", "two decimal signs"),
        ("m", "long", "is not a figure"),
        ("m", "-3", "below nought"),
        ("mm", "5/8", "Type 5/8 in."),
        ("m", "3 kg", "measures something else"),
        ("kg", "2 tons", "can mean different things"),
        ("m", "1e3", "without an exponent"),
        ("m/s", "20 km/h", "has no end as a decimal in m/s (5.556). Type it in m/s."),
    ],
)
def test_what_could_be_misread_is_asked_back(unit: str, typed: str, said: str) -> None:
    with pytest.raises(ValidationError) as refused:
        field(unit).clean(typed)

    assert said in refused.value.messages[0]


def test_a_kept_figure_is_shown_as_it_was_typed() -> None:
    us, metric = field("m", "us"), field("m")

    assert us.as_initial({"x": "137.16", "x_typed": "450 ft"}, "x") == "450 ft"
    assert us.as_initial({"x": "137.16"}, "x") == "137.16 m"
    assert metric.as_initial({"x": "137.16"}, "x") == "137.16"
    assert us.clean("450 ft") == Taken("137.16", "450 ft")
    assert us.clean("137.16 m") == Taken("137.16")


@pytest.mark.parametrize("typed", ["4.0", "four", "-1", "1/2"])
def test_a_count_is_a_whole_number(typed: str) -> None:
    assert CountField().clean("4") == "4"
    with pytest.raises(ValidationError):
        CountField().clean(typed)


def test_a_date_of_the_past_is_not_taken_from_the_future() -> None:
    made = DayField()
    made.not_after = forms.DateField().clean("2026-06-15")

    assert made.clean("2026-06-15") == "2026-06-15"
    for wrong in ("2026-06-16", "15.06.2026"):
        with pytest.raises(ValidationError):
            made.clean(wrong)
