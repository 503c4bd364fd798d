"""The paper file of a line entered in the browser: in the course's units, looked at by the computation, proposed."""

from __future__ import annotations

from typing import Any

import pytest
from django.urls import reverse

from courses.models import Course, Place, Version
from courses.queries import setup_at
from tests import make
from tests.courses import build
from tests.courses.pages import As, filled, look, path, text

# An invented line of 240 m: the figures a designer's sheet, a rope certificate and the makers of two brakes would give.
PAPERS = {
    "span_m": "239.5", "cable__mass_kg_per_m": "1.05", "cable__stiffness_kn": "11500", "cable__expansion_per_k": "12",
    "cable__given_by": "certificate", "tension_kn": "14", "reference_c": "12", "tension_date": "2026-03-14",
    "tension_how": "stopwatch", "constant_tension": "no", "rider__drag_area_m2": "0.38", "rider__by_weight": "yes",
    "rider__rolling": "0.010", "pressure_hpa": "1005", "launch_mps": "1.5", "zone__start_m": "226",
    "zone__length_m": "11", "zone__capture_m": "0.3", "parts__primary-1__start_m": "0",
    "parts__primary-1__rate_n_per_m": "500", "parts__primary-1__preload_n": "220", "parts__primary-1__bind_m": "5.5",
    "parts__primary-1__returned": "0.9", "parts__primary-1__caught": "yes", "parts__emergency-1__start_m": "5.6",
    "parts__emergency-1__rate_n_per_m": "800", "parts__emergency-1__first_force_n": "300",
    "parts__emergency-1__first_length_m": "0.2", "parts__emergency-1__bind_m": "4",
    "parts__emergency-1__returned": "0.7",
    "stop__travel_share": "0.9", "stop__least_mps": "1", "stop__mean_g": "2", "stop__peak_g": "3.2",
    "stop__peak_s": "0.04", "source": "Designer's folder, sheet 9",
}  # fmt: skip


def proposed(line: Place) -> dict[str, Any]:
    content: dict[str, Any] = Version.objects.get(kind="mechanics", place=line).content
    return content


def test_engineer_enters_a_line_from_its_paper_file(as_: As, course: Course, complete: Place) -> None:
    engineer, address = as_("engineer"), path("mechanics_edit", course, complete)
    response, again = look(engineer, address, **PAPERS)
    assert "These figures can be computed with." in text(response)
    assert "Primary brake 1, spring pack: rate" in text(response)
    assert engineer.post(address, again).status_code == 302
    content = proposed(complete)
    assert content["cable"]["expansion_per_k"] == "0.000012"
    assert content["cable"]["expansion_per_k_typed"] == "12 ppm/K"
    assert [part["kind"] for part in content["parts"]] == ["spring", "cord"]
    page = text(engineer.get(path("mechanics", course, complete)))
    assert "Proposed, waits for a second person." in page
    assert "Nothing is in force, so nothing of the day is computed for this line yet." in page


def test_confirmed_figures_are_in_force_and_shown_by_brake(
    as_: As, course: Course, complete: Place, staff: Any
) -> None:
    engineer, address = as_("engineer"), path("mechanics_edit", course, complete)
    _response, again = look(engineer, address, **PAPERS)
    engineer.post(address, again)
    content = proposed(complete)
    Version.objects.get(kind="mechanics", place=complete)
    build.settle(course, "mechanics", {**content, "launch_mps": "1.6"}, people=staff, place=complete)
    page = text(engineer.get(path("mechanics", course, complete)))
    assert "Primary brake 1" in page
    assert "certificate" in page
    assert "These figures can be computed with." in page
    assert "Missing" not in page


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"tension_kn": "3"}, "slack, or a wrong tension or unit"),
        ({"tension_kn": "170"}, "is not possible on this cable"),
        ({"parts__primary-1__bind_m": "", "parts__primary-1__travel_m": "0.4"}, "is no longer than the preload takes"),
        ({"span_m": "786"}, "does not fit the length of the line"),
        ({"cable__mass_kg_per_m": ""}, "Missing: Weight of the cable per metre."),
        ({"parts__emergency-1__rate_n_per_m": ""}, "Emergency brake 1, elastic cord: some of its figures"),
    ],
)
def test_bad_input_is_said_at_the_look_and_nothing_is_lost(
    as_: As, course: Course, complete: Place, changes: dict[str, str], sentence: str
) -> None:
    response, again = look(as_("engineer"), path("mechanics_edit", course, complete), **{**PAPERS, **changes})
    assert sentence in text(response)
    form = response.context["form"]
    assert form["rider__rolling"].value() == "0.010"
    assert again["seen"]  # it may still be sent: missing figures hold nothing, and the papers may come later


def test_drop_in_feet_is_named(as_: As, course: Course, complete: Place, staff: Any) -> None:
    build.settle(course, "line", {**build.LINE, "drop_m": "47.6"}, people=staff, place=complete)
    response, _again = look(as_("engineer"), path("mechanics_edit", course, complete), **PAPERS)
    assert "if it was measured in feet it is 14.5085 m." in text(response)


def test_us_course_types_its_own_units_and_they_come_back(as_: As, course: Course, complete: Place) -> None:
    Course.objects.filter(pk=course.pk).update(units="us")
    engineer, address = as_("engineer"), path("mechanics_edit", course, complete)
    us = {
        "span_m": "786", "cable__mass_kg_per_m": "0.7", "cable__stiffness_kn": "2585000",
        "cable__expansion_per_k": "6.7",
        "tension_kn": "3147", "reference_c": "54", "rider__drag_area_m2": "4.1", "pressure_hpa": "29.7",
        "launch_mps": "3.4", "zone__start_m": "741", "zone__length_m": "36", "zone__capture_m": "1",
        "parts__primary-1__rate_n_per_m": "2.9", "parts__primary-1__preload_n": "50", "parts__primary-1__bind_m": "18",
        "parts__emergency-1__start_m": "18.4", "parts__emergency-1__rate_n_per_m": "4.6",
        "parts__emergency-1__first_force_n": "67", "parts__emergency-1__first_length_m": "0.7",
        "parts__emergency-1__bind_m": "13",
    }  # fmt: skip
    response, again = look(engineer, address, **{**PAPERS, **us})
    assert "These figures can be computed with." in text(response)
    assert engineer.post(address, again).status_code == 302
    content = proposed(complete)
    # Exact factors: 1 ft = 0.3048 m (yard and pound agreement of 1959); -40 and 54 degrees by the definition of °F.
    assert content["span_m"] == "239.5728"
    assert content["span_m_typed"] == "786 ft"
    assert float(content["reference_c"]) == pytest.approx((54 - 32) / 1.8)
    assert float(content["cable"]["mass_kg_per_m"]) == pytest.approx(0.7 * 0.45359237 / 0.3048)
    assert engineer.get(address).context["form"]["span_m"].value() == "786"


def test_stopwatch_hands_its_tension_over(as_: As, course: Course, complete: Place) -> None:
    address = path("mechanics_edit", course, complete)
    given = {"tension_kn": "13.62", "reference_c": "-3.5", "tension_date": "2026-03-20"}
    form = as_("engineer").get(address, given).context["form"]
    assert form["tension_kn"].value() == "13.62"
    assert form["reference_c"].value() == "-3.5"
    assert form["tension_how"].value() == "stopwatch"
    assert form["source"].value() == "Return wave under the stopwatch, 20 March 2026"
    whole = {"returns": "3", "time": "15.07", "half_kn": "0.3"}
    for spoiled in (
        {"tension_kn": "<b>"}, {"tension_date": "yesterday"}, {"reference_c": "warm"}, whole | {"returns": "many"},
        whole | {"returns": "0"}, whole | {"time": "x"}, whole | {"half_kn": "?"},
    ):  # fmt: skip
        form = as_("engineer").get(address, given | spoiled).context["form"]
        assert form["tension_how"].value() == ""


def test_rides_left_out_of_a_calibration_need_a_reason(as_: As, course: Course, complete: Place) -> None:
    engineer, address = as_("engineer"), path("mechanics_edit", course, complete)
    out = {"calibration__left_out": "2026-03-02 08:10 80 kg"}
    refused = engineer.post(address, {**filled(engineer, address, **PAPERS), **out})
    assert "Test rides are left out of a calibration for a reason: say it." in text(refused)
    assert refused.context["form"]["calibration__left_out"].value() == "2026-03-02 08:10 80 kg"
    response, again = look(engineer, address, **PAPERS, **out, calibration__left_why="Wet cable")
    assert "left out because" in text(response).lower()
    assert engineer.post(address, again).status_code == 302
    assert proposed(complete)["calibration"] == {"left_out": "2026-03-02 08:10 80 kg", "left_why": "Wet cable"}


def test_open_watch_is_said_to_stay_whatever_is_set(as_: As, course: Course, complete: Place) -> None:
    page = text(as_("engineer").get(path("mechanics_edit", course, complete)))
    section = page.partition("Test rides compared from morning to morning")[2].partition("<h2>")[0]
    assert "A watch that is open stays open whatever is set here." in section


def test_platform_has_no_mechanics(as_: As, course: Course, complete: Place) -> None:
    engineer = as_("engineer")
    for name in ("mechanics", "mechanics_edit"):
        assert engineer.get(path(name, course, complete.launch)).status_code == 404


def test_line_without_brakes_asks_for_them_first(as_: As, course: Course, line: Place) -> None:
    page = text(as_("engineer").get(path("mechanics_edit", course, line)))
    assert "Enter the brakes in the line" in page


def test_mechanics_hold_no_line(as_: As, course: Course, complete: Place) -> None:
    setup = setup_at(course, make.FOUNDED)
    assert setup.mechanics(complete) == {}
    page = text(as_("engineer").get(reverse("courses:place", args=[course.pk, complete.pk])))
    assert "Mechanics" in page


def test_who_confirms_reads_what_the_computation_says(as_: As, course: Course, complete: Place) -> None:
    """The engineer may send figures that cannot be: the manager sees in red why before confirming."""
    engineer, address = as_("engineer"), path("mechanics_edit", course, complete)
    _response, again = look(engineer, address, **{**PAPERS, "tension_kn": "3"})
    assert engineer.post(address, again).status_code == 302
    version = Version.objects.get(kind="mechanics", place=complete)
    page = text(as_("manager").get(path("proposal", course, version)))
    assert "slack, or a wrong tension or unit" in page
    assert page.index("Looked at by the computation") < page.index("What changes")


def test_look_says_what_follows_in_still_air(as_: As, course: Course, complete: Place) -> None:
    response, _again = look(as_("engineer"), path("mechanics_edit", course, complete), **PAPERS)
    page = text(response)
    assert "In still air at 15 °C a rider of 35 kg arrives with" in page
    assert "In still air at 15 °C a rider of 120 kg arrives with" in page
    assert "the line&#x27;s data say 7.5 m/s at most. One may be wrong." in page  # computed near 10 m/s


def test_drop_in_feet_is_named_where_the_line_is_entered(as_: As, course: Course, complete: Place) -> None:
    response, _again = look(as_("engineer"), path("place_edit", course, complete), drop_m="47.6", source="Drawing 2")
    assert "if it was measured in feet it is 14.5085 m." in text(response)
    response, _again = look(as_("engineer"), path("place_edit", course, complete), drop_m="15", source="Drawing 2")
    assert "Looked at by the computation" not in text(response)


def test_what_is_set_for_the_charts_comes_back_and_half_of_it_is_refused(
    as_: As, course: Course, complete: Place
) -> None:
    engineer, address = as_("engineer"), path("mechanics_edit", course, complete)
    chart = {
        "chart__least_kg": "80", "chart__most_kg": "84.5", "chart__anew_on": "2026-03-01",
        "chart__anew_why": "Marks painted anew.", "struck__0__on": "2026-03-03", "struck__0__why": "Misread.",
    }  # fmt: skip
    response, again = look(engineer, address, **{**PAPERS, **chart})
    assert "84.5 kg" in text(response).replace("\xa0", " ")
    assert engineer.post(address, again).status_code == 302
    content = proposed(complete)
    assert content["chart"] == {
        "least_kg": "80", "most_kg": "84.5", "anew_on": "2026-03-01", "anew_why": "Marks painted anew.",
    }  # fmt: skip
    assert content["struck"] == [{"on": "2026-03-03", "why": "Misread."}]
    form = engineer.get(address).context["form"]
    assert (form["chart__most_kg"].value(), form["struck__0__why"].value()) == ("84.5", "Misread.")
    half = engineer.post(address, {**again, "chart__most_kg": "", "struck__1__on": "2026-03-04", "look": "1"})
    assert "needs its lightest and its heaviest weight" in text(half)
    assert half.context["form"]["struck__1__on"].value() == "2026-03-04"
