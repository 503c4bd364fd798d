"""The page of the return wave. The method is tested in tests/engineering/test_return_wave.py; here is what people meet.

Sag from time: USDA RUS Bulletin 1726C-115, eq. (1), READ: f = g (t/N)² / 32.
"""

import math
from datetime import timedelta
from types import SimpleNamespace
from typing import Any

import pytest
from django.utils.formats import date_format

from engineering.line import G_MPS2
from inspections.stopwatch import Told, span_of, told
from tests import make
from tests.inspections.pages import seen, sheet_url, url

pytestmark = pytest.mark.usefixtures("clock")

SPAN, DROP, TIME, RETURNS = 300.0, 18.0, 15.07, 3


@pytest.fixture
def described(w: SimpleNamespace) -> SimpleNamespace:
    before = w.at - timedelta(days=3)
    document = make.picture(w, before).setup.document(w.line)
    length = f"{math.hypot(SPAN, DROP):.1f}"
    make.settle(w, "line", {**document, "length_m": length, "drop_m": "18"}, at=before, place=w.line)
    return w


def asked(w: SimpleNamespace, as_: Any, role: str = "technician", **more: Any) -> str:
    return seen(as_(role).get(url(w, "stopwatch", w.line.pk), {"returns": RETURNS, **more}))


def test_times_give_the_sag_with_its_uncertainty_and_lead_to_its_item(described: SimpleNamespace, as_: Any) -> None:
    page = asked(described, as_, time=["15,07", "15.05", "15.09"])

    sag = G_MPS2 * (TIME / RETURNS) ** 2 / 32
    half = 2 * math.hypot(0.15, 4.303 * 0.02 / math.sqrt(3)) / TIME * sag  # hand, and Student's t for three times
    assert f'<b class="number">{sag:.2f} m</b> ± {half:.2f} m' in page
    assert sheet_url(described, "cable") in page


@pytest.mark.parametrize(
    ("times", "said"),
    [
        (["15,0.7"], "two decimal signs"),
        (["abc"], "is not a figure"),
        (["15.07", "20.1"], "The times differ by"),
        (["0"], "No figure from these times"),
        (["40"], "count again, none missed"),
    ],
)
def test_times_that_cannot_be_are_said_in_words_and_stand_there_again(
    described: SimpleNamespace, as_: Any, times: list[str], said: str
) -> None:
    page = asked(described, as_, time=times)

    assert said in page
    assert "What the times say" not in page
    for one in times:
        assert f'value="{one}"' in page


def test_times_that_differ_by_more_than_a_hands_give_a_wide_figure_and_say_why(
    described: SimpleNamespace, as_: Any
) -> None:
    """Each of them alone is taken: three of them are no worse work than one."""
    page = asked(described, as_, time=["15.0", "14.8", "15.4"])

    assert "What the times say" in page
    assert "The times differ by 0.60 s, more than a hand&#x27;s; time again or count more returns" in page
    assert "more than a hand" not in asked(described, as_, time=["15.0"])


@pytest.mark.parametrize("returns", ["0", "2.5", "-1", "51", "x", "²"])
def test_only_whole_returns_are_counted(described: SimpleNamespace, as_: Any, returns: str) -> None:
    assert "Count whole returns of the wave, from 1 to 50." in asked(described, as_, returns=returns, time=["15.07"])


def test_without_length_and_drop_the_sag_is_told_all_the_same(w: SimpleNamespace) -> None:
    assert span_of({}) is None
    assert span_of({"length_m": "300.5", "drop_m": "18"}) == pytest.approx(math.sqrt(300.5**2 - 18**2))
    found = told(w.course, {}, {}, [TIME], RETURNS)
    assert isinstance(found, Told)
    assert found.sag == "7.73 m"


def test_a_course_in_us_units_reads_feet_with_metres_behind(w: SimpleNamespace) -> None:
    w.course.units = "us"
    found = told(w.course, {}, {}, [TIME], RETURNS)
    assert isinstance(found, Told)
    assert found.sag.endswith("ft (7.73 m)")


# The reference line of the mechanics dossier (COMPUTED): 300 m, 1.05 kg/m, three returns in 15.07 s are 15.0 kN, ± 2 %
# for 0.15 s of the hand.
MECHANICS = {
    "span_m": str(SPAN),
    "cable": {"mass_kg_per_m": "1.05", "stiffness_kn": "10000", "expansion_per_k": "0.000012"},
    "tension_kn": "15",
    "reference_c": "12",
    "tension_date": "2026-03-14",
    "tension_how": "stopwatch",
}


@pytest.fixture
def taut(described: SimpleNamespace) -> SimpleNamespace:
    make.settle(described, "mechanics", MECHANICS, at=described.at - timedelta(days=3), place=described.line)
    return described


def test_times_give_the_tension_beside_the_one_in_force(taut: SimpleNamespace, as_: Any) -> None:
    page = asked(taut, as_, time=["15.07"])

    assert '<b class="number">15.01 kN</b> ± 0.30 kN' in page
    assert "15 kN at 12 °C, 14 March 2026" in page
    assert "Propose it" not in page  # a technician tells the engineer


def test_engineer_takes_the_tension_over_into_the_form(taut: SimpleNamespace, as_: Any) -> None:
    page = asked(taut, as_, role="engineer", time=["15.07"], cable_c="-3")
    assert "Propose it as the line" in page

    address = page.split('href="')
    link = next(one.split('"')[0] for one in address if "tension_kn=15.01" in one).replace("&amp;", "&")
    form = as_("engineer").get(link).context["form"]
    assert (form["tension_kn"].value(), form["reference_c"].value()) == ("15.01", "-3")
    assert form["tension_date"].value() == make.picture(taut, taut.at).date.isoformat()
    day = date_format(make.picture(taut, taut.at).date, "j F Y")
    assert form["source"].value() == (
        f"Return wave under the stopwatch, {day}: 3 returns in 15.07 s; 15.01 kN ± 0.30 kN, cable at -3 °C"
    )


def test_a_us_course_is_asked_for_fahrenheit_and_hands_it_over(taut: SimpleNamespace, as_: Any) -> None:
    """59 °F are 15 °C exactly."""
    type(taut.course).objects.filter(pk=taut.course.pk).update(units="us")
    page = asked(taut, as_, role="engineer", time=["15.07"], cable_c="59")
    assert "Temperature of the cable, °F" in page
    assert "Temperature of the cable, °C" not in page

    link = next(one.split('"')[0] for one in page.split('href="') if "tension_kn=" in one).replace("&amp;", "&")
    form = as_("engineer").get(link).context["form"]
    assert form["reference_c"].value() in ("59", "59 °F")
    assert form["source"].value().endswith("cable at 59 °F")


def test_several_times_and_a_cable_without_temperature_go_along(taut: SimpleNamespace, as_: Any) -> None:
    page = asked(taut, as_, role="engineer", time=["15,07", "15.09", ""])
    link = next(one.split('"')[0] for one in page.split('href="') if "tension_kn=" in one).replace("&amp;", "&")
    source = as_("engineer").get(link).context["form"]["source"].value()
    assert "3 returns in 15,07 s; 15.09 s; " in source
    assert source.endswith("temperature of the cable not noted")


def test_miscounted_return_is_asked_back_and_not_proposed(taut: SimpleNamespace, as_: Any) -> None:
    page = asked(taut, as_, role="engineer", time=["20.1"])

    assert "4 returns would fit the tension as entered better than the 3 counted. Count again." in page
    assert "Propose it" not in page


def test_without_the_cable_weight_there_is_no_tension_and_it_says_why(described: SimpleNamespace, as_: Any) -> None:
    page = asked(described, as_, time=["15.07"])

    assert "No tension: The span" in page
    assert "± " in page  # the sag all the same


def test_us_course_is_told_in_its_units_why_there_is_no_tension(described: SimpleNamespace, as_: Any) -> None:
    """1 lb = 0.45359237 kg and 1 ft = 0.3048 m, exact by the yard and pound agreement of 1959."""
    type(described.course).objects.filter(pk=described.course.pk).update(units="us")
    heavy = MECHANICS | {"cable": MECHANICS["cable"] | {"mass_kg_per_m": "90"}}  # type: ignore[dict-item]
    make.settle(described, "mechanics", heavy, at=described.at - timedelta(days=3), place=described.line)
    page = asked(described, as_, time=["15.07"])
    assert "A cable of 60.5 lb/ft is outside " in page
    assert " kg per metre" not in page
