"""Wear from the sheet to the outlook: the table of edge cases through the whole path, signed readings to named status.

Source of the figures: statistics dossier, part 7 (DERIVED there with independent functions; limit 9.0, falling,
one-sided 95 %, q = 1); what has no figure in the table is our own rule, and says so. Riders are closed at two thousand
a day, so a day stands for two of its thousand cycles. Readings that go back in cycles cannot be made by closings; that
case is tested in ``tests/engineering/test_wear_outlook.py``.
"""

from __future__ import annotations

from datetime import timedelta
from types import SimpleNamespace
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from courses import actions as course_actions
from courses.models import Component
from courses.queries import setup_at
from inspections import actions, wear_record
from inspections.facts import line_statuses
from inspections.models import Finding, Sheet
from inspections.wear import Season
from tests import make
from tests.inspections import steps
from tests.reports import worn
from tests.reports.paper_reader import letters, tight

CASES: dict[str, tuple[dict[int, str], str, str, dict[str, float]]] = {
    # name: sizes by thousand riders, gauge's u, status against riders, figures
    "one point": ({0: "12.0"}, "", "margin-only", {"margin": 3.0}),
    "two points": ({0: "12.0", 4: "11.8"}, "0.03", "two-point", {"rate": -0.05, "rate_half": 0.0212}),
    "three points": (
        {0: "12.0", 2: "11.7", 4: "11.5"}, "", "weak",
        {"rate": -0.125, "s_used": 0.040825, "g": 0.531513, "at_limit": 23.8667, "early": 14.4693},
    ),
    "four points": (
        {0: "12.0", 2: "11.7", 4: "11.5", 6: "11.1"}, "", "ok",
        {"rate": -0.145, "s_used": 0.059161, "g": 0.070968, "at_limit": 20.7586, "early": 16.8388},
    ),
    "noisy": ({0: "12.0", 2: "11.6", 4: "12.1", 6: "11.7"}, "", "no-wear-resolved", {"g": 86.33}),
    "all equal": (
        {0: "12.0", 2: "12.0", 4: "12.0", 6: "12.0", 8: "12.0"}, "0.057735", "no-wear-resolved",
        {"rate_most": 0.015017, "not_before": 203.8},
    ),
    "grows": ({0: "12.0", 2: "11.9", 4: "12.1", 6: "12.2"}, "", "no-wear-resolved", {"g": 2.398}),
    "outlier": (
        {0: "12.0", 2: "11.7", 4: "11.5", 6: "9.9", 8: "10.9", 10: "10.6"}, "", "weak",
        {
            "rate": -0.157143, "s_used": 0.576938, "g": 0.875, "at_limit": 18.36, "early": 9.09,
            "median_at_limit": 20.714,
        },
    ),
    "at the limit": ({0: "12.0", 2: "11.0", 4: "10.0", 6: "9.0"}, "", "already-at-limit", {"margin": 0.0}),
    "an exact line": (
        {0: "12.0", 2: "11.8", 4: "11.6", 6: "11.4"}, "0.0577", "beyond-horizon", {"s_used": 0.0577},
    ),
}  # fmt: skip
NO_DATE = {"margin-only", "two-point", "no-wear-resolved", "already-at-limit", "beyond-horizon"}


@pytest.mark.parametrize("name", CASES)
def test_signed_readings_give_the_figures_of_the_table(w: SimpleNamespace, name: str) -> None:
    sizes, u, status, figures = CASES[name]
    worn.ask(w, u=u)
    last = worn.wear(w, sizes)

    found = worn.told(w, last)

    assert found is not None
    by_riders = found.outlook.cycles
    assert by_riders.status == status
    for figure, value in figures.items():
        # As many digits as the table prints.
        assert getattr(by_riders, figure) == pytest.approx(value, rel=5e-4, abs=5e-5), figure
    if status in NO_DATE:
        assert (by_riders.early, by_riders.at_limit) == (None, None)


def test_a_figure_never_read_is_not_told_of(w: SimpleNamespace) -> None:
    worn.ask(w)

    assert worn.told(w, 0) is None


def test_two_readings_of_one_morning_give_no_rate(w: SimpleNamespace) -> None:
    # Table: "2 points same x".
    worn.ask(w)
    worn.read(w, 0, "11.8")
    worn.read(w, 0, "11.7", minute=worn.SIZED + 5, by=w.mate)

    found = worn.told(w, 0)

    assert found is not None
    assert found.outlook.cycles.status == "no-spread-x"
    assert found.outlook.early is None


def test_a_gap_is_noted_and_reckoned_over(w: SimpleNamespace) -> None:
    # Table: "gap", limit 8.0.
    worn.ask(w, rules=[worn.rule(params={"limit": "8"})])
    last = worn.wear(w, {0: "12.0", 2: "11.7", 4: "11.5", 20: "9.3", 22: "9.0", 24: "8.7"})

    found = worn.told(w, last)

    assert found is not None
    by_riders = found.outlook.cycles
    assert by_riders.status == "ok"
    assert (by_riders.rate, by_riders.s_used) == (pytest.approx(-0.136688, abs=5e-7), pytest.approx(0.032317, abs=5e-7))
    assert (by_riders.at_limit, by_riders.early) == (pytest.approx(29.3143, abs=5e-5), pytest.approx(28.6732, abs=5e-5))
    assert "gap" in by_riders.notes


def test_what_was_never_judged_is_no_size_to_reckon_with(w: SimpleNamespace) -> None:
    # Own rule: without a limit the reading is not checked, and nothing is told of it.
    worn.ask(w, rules=[])
    last = worn.wear(w, {0: "12.0", 2: "11.7", 4: "11.5", 6: "11.1"})

    assert worn.told(w, last) is None


def _correct(w: SimpleNamespace, day: int, text: str) -> None:
    """Correct the figure of a day, ten minutes after it was signed, by the same person."""
    at = w.t(day * worn.DAY + worn.SIZED + 10)
    sheet = Sheet.objects.filter(place=w.line, section="landing").latest("seq")
    deed = make.deed(w.technician, at=at)
    draft = actions.draft_for(make.picture(w, at), w.line, "landing", deed=deed, amends=sheet.pk)
    draft.content = {worn.KEY: {"text": text, "kept": text}}
    draft.save()
    actions.sign_sheet(draft, meaning="I looked at it myself.", reason="Read the wrong mark.", deed=deed)


def _spare(w: SimpleNamespace, *, at: int) -> Component:
    """Fit a new spring in place of the old one."""
    founder = make.founder_of(w.operator)
    old = worn.part(w)
    new = course_actions.add_component(w.course, kind=old.kind, tag="SPARE-9", label="spare", deed=make.deed(founder))
    make.settle(w, "component", make.component_data(new), at=w.t(at), component=new)
    finding = steps.take_out(w, at=at + 1, photos=(make.photo(w),), text="Cracked.", tag_number="0417")
    steps.work(w, finding, at=at + 2, what="replacement", replacement=new)
    return new


# --- what the readings are counted from


def test_readings_before_a_release_that_names_the_item_no_longer_count(w: SimpleNamespace) -> None:
    # Table: "reset inside". The second look is the first of the new readings.
    worn.ask(w)
    last = worn.wear(w, {0: "12.0", 2: "11.0", 4: "10.0"})
    t = last * worn.DAY + worn.DAY
    finding = steps.take_out(w, at=t + 20, key=worn.KEY, photos=(make.photo(w),), text="Glazed.", tag_number="0417")
    steps.work(w, finding, at=t + 30)
    steps.look(w, finding, at=t + 35, text="12.1")
    make.sign(w, w.line, "landing", at=w.t(t + 40))  # what is asked after work on a brake
    for mass in ("35", "115"):
        make.ride(w, w.line, mass=mass, at=w.t(t + 45))
    before = worn.told(w, last, worn.DAY + 50)
    steps.release(w, Finding.objects.get(pk=finding.pk), at=t + 60)

    after = worn.told(w, last, worn.DAY + 70)

    assert before is not None
    assert after is not None
    assert before.outlook.cycles.n == 4
    assert (after.outlook.cycles.n, after.outlook.status) == (1, "margin-only")
    assert after.newest is not None
    assert (str(after.newest.value), after.newest.frees) == ("12.1", True)


def test_a_new_baseline_begins_anew(w: SimpleNamespace) -> None:
    worn.ask(w)
    last = worn.wear(w, {0: "12.0", 2: "11.7", 4: "11.5", 6: "11.1"})
    spring = worn.part(w)
    data = make.component_data(spring)
    on = w.t(worn.SIZED + worn.DAY).date()  # of the second reading, which with its day belongs to the time before
    data["figures"]["structure.lean"] = {"baseline": "12", "baseline_date": on.isoformat(), "gauge": "rule 1"}
    make.settle(w, "component", data, at=w.t(last * worn.DAY + worn.DAY + 60), component=spring)
    worn.read(w, last + 1, "11.0")

    found = worn.told(w, last + 1)

    assert found is not None
    assert found.outlook.cycles.n == 3


def test_a_correction_stands_in_place_of_what_it_corrects(w: SimpleNamespace) -> None:
    # Own rule: the slip stays in the history, and out of the forecast.
    worn.ask(w)
    last = worn.wear(w, {0: "12.0", 2: "11.7", 4: "10.5"})
    told = worn.told(w, last)
    assert told is not None
    assert told.newest is not None
    assert str(told.newest.value) == "10.5"

    _correct(w, last, "11.5")
    found = worn.told(w, last, worn.DAY + 60)

    assert found is not None
    assert found.newest is not None
    assert (found.outlook.cycles.n, str(found.newest.value)) == (3, "11.5")
    assert found.outlook.cycles.early == pytest.approx(14.4693, abs=5e-5)  # table: "3 points"


def test_another_spring_in_its_place_has_no_readings_of_the_old_one(w: SimpleNamespace) -> None:
    worn.ask(w)
    last = worn.wear(w, {0: "12.0", 2: "11.7", 4: "11.5", 6: "11.1"})
    spare = _spare(w, at=last * worn.DAY + worn.DAY + 20)
    worn.read(w, last + 1, "12.0")

    found = worn.told(w, last + 1)

    assert found is not None
    assert found.figure.component == spare
    assert (found.outlook.status, found.outlook.cycles.n) == ("margin-only", 1)


def test_gear_and_platforms_have_no_share_of_the_riders(w: SimpleNamespace) -> None:
    setup = worn.setup_on(w, 0)
    parts = {one.component.pk: one.component for one in setup.fitted}
    record = wear_record.record_of(setup, set(parts))

    counted = {part.tag: record.life(setup, part) is not None for part in parts.values()}

    assert counted[worn.part(w).tag]
    assert not any(counted[tag] for tag in ("TR-01", "HA-01", "PF-1", "RK-1", "WS-1"))


def test_open_days_without_riders_are_taken_for_busy_ones(w: SimpleNamespace) -> None:
    # Own rule: rather too early than too late. Nine of ten days bring 2000; three days were not entered.
    worn.ask(w)
    last = worn.wear(w, {0: "12.0", 2: "11.7", 4: "11.5", 6: "11.1"})
    counted, later = worn.told(w, last), worn.told(w, last + 3)

    assert counted is not None
    assert later is not None
    assert later.uncounted == 3
    assert counted.outlook.early is not None
    assert later.outlook.early == counted.outlook.early  # not three days later


# --- nothing that decides reads it


def test_no_forecast_changes_a_line(w: SimpleNamespace, monkeypatch: pytest.MonkeyPatch) -> None:
    worn.ask(w)
    last = worn.wear(w, {0: "12.0", 2: "11.0", 4: "10.0", 6: "9.1"})
    at = w.t(last * worn.DAY + worn.DAY + 30)
    without = line_statuses(make.picture(w, at))

    found = worn.told(w, last)
    with_forecast = line_statuses(make.picture(w, at))

    assert found is not None
    assert found.outlook.early is not None  # there is something that could have changed them
    assert [(one.word, one.clearance, one.facts) for one in with_forecast] == [
        (one.word, one.clearance, one.facts) for one in without
    ]


def test_what_is_kept_is_never_told_of_another_state(w: SimpleNamespace) -> None:
    worn.ask(w)
    last = worn.wear(w, {0: "12.0", 2: "11.7", 4: "11.5", 6: "11.1"})
    first = worn.told(w, last)
    worn.close(w, last, 1500)
    closed = worn.told(w, last, worn.CLOSED + 10)
    tighter = {"items": {worn.KEY: {"rules": [worn.rule(params={"limit": "10"})]}}}
    now = setup_at(w.course, w.t(last * worn.DAY + worn.CLOSED + 20))
    tighter["items"] |= {key: own for key, own in now.limits(w.line)["items"].items() if key != worn.KEY}
    make.settle(w, "limits", tighter, at=now.at, place=w.line)
    limited = worn.told(w, last, worn.CLOSED + 30)

    assert first is not None
    assert closed is not None
    assert limited is not None
    assert closed.outlook.early == first.outlook.early == worn.setup_on(w, last).today + timedelta(days=5)
    assert (first.limit, limited.limit) == (9.0, 10.0)
    assert limited.outlook.early is not None
    assert limited.outlook.early < first.outlook.early  # type: ignore[operator]


def test_outlooks_take_four_queries_and_one_once_they_are_kept(w: SimpleNamespace) -> None:
    from inspections.picture import states_of

    wear_record.forget()
    setup = worn.setup_on(w, 0)
    states = states_of(setup)
    counts = []
    for _turn in range(2):
        with CaptureQueriesContext(connection) as queries:
            found = wear_record.outlooks(setup, states)
        counts.append(len(queries))

    assert found
    assert counts == [4, 1]


# --- the page


def test_the_page_says_the_early_day_and_draws_it(w: SimpleNamespace, as_one: Any) -> None:
    worn.ask(w, u="0.03")
    last = worn.wear(w, {0: "12.0", 2: "11.7", 4: "11.5", 6: "11.1"})
    w.clock.move_to(w.t(last * worn.DAY + worn.DAY + 30))
    found = worn.told(w, last)
    assert found is not None
    assert found.outlook.early is not None
    day = found.outlook.early

    html = as_one("auditor").get(reverse("reports:component", args=[w.course.pk, worn.part(w).pk])).content.decode()

    assert f"May reach its limit from {day.day} {day:%B %Y} (early bound, one-sided 95 %)." in html
    assert "It changes by 0.145 mm in a thousand riders." in html  # the table's rate
    assert "from 16 838 riders" in html.replace("\xa0", " ")  # the table's early bound, rounded down
    assert "limit 9 mm" in html
    assert html.count("chart__dot") > 8
    assert "style=" not in html.partition("<main")[2].partition("</main>")[0]


def test_a_record_that_tells_no_date_shows_none(w: SimpleNamespace, as_one: Any) -> None:
    worn.ask(w)
    last = worn.wear(w, {0: "12.0", 2: "11.6", 4: "12.1", 6: "11.7"})
    w.clock.move_to(w.t(last * worn.DAY + worn.DAY + 30))

    html = as_one("auditor").get(reverse("reports:component", args=[w.course.pk, worn.part(w).pk])).content.decode()
    block = html.partition("How thick is the lining?")[2].partition("</details></div></details>")[0]

    assert "The readings scatter more than the part wears; no date follows from them." in block
    assert "chart__dot" in block
    assert "chart__early" not in block
    assert "chart__line" not in block
    assert "May reach" not in block


def test_the_open_days_to_come_are_those_of_the_calendar(w: SimpleNamespace) -> None:
    season = Season.of(worn.setup_on(w, 0, 30))

    assert season.nth(1) == w.on
    assert season.nth(30) == w.on + timedelta(days=29)  # the course is open on every day
    assert season.past[-1] == w.on - timedelta(days=1)


def test_what_ends_first_is_the_smallest_of_wear_cycles_and_age(w: SimpleNamespace, as_one: Any) -> None:
    # By hand: 6000 riders carried, 2000 a day; the maker's most is 8000, reached on the first day to come; the wear's
    # early bound (table, four points: 16.8388 thousand) lies five days later.
    worn.ask(w)
    spring = worn.part(w)
    data = make.component_data(spring)
    data["dates"]["first_use"] = "2026-05-01"
    make.settle(w, "component", {**data, "max_cycles": "8000"}, at=w.t(9), component=spring)
    last = worn.wear(w, {0: "12.0", 2: "11.7", 4: "11.5", 6: "11.1"})
    w.clock.move_to(w.t(last * worn.DAY + worn.DAY + 30))
    today = worn.setup_on(w, last).today

    html = as_one("auditor").get(reverse("reports:component", args=[w.course.pk, spring.pk])).content.decode()
    first = html.partition("Ends first")[2].partition("</dd>")[0]

    assert f"May have carried the most riders that its maker allows by {today.day} {today:%B %Y}." in first
    assert "Carried so far: 6000 of 8000 riders." in first


def test_a_part_taken_off_shows_what_was_read_and_tells_nothing_of_days_to_come(
    w: SimpleNamespace, as_one: Any
) -> None:
    worn.ask(w)
    old = worn.part(w)
    last = worn.wear(w, {0: "12.0", 2: "11.7", 4: "11.5", 6: "11.1"})
    _spare(w, at=last * worn.DAY + worn.DAY + 20)
    w.clock.move_to(w.t((last + 3) * worn.DAY + worn.DAY))

    html = as_one("auditor").get(reverse("reports:component", args=[w.course.pk, old.pk])).content.decode()
    off = w.t(last * worn.DAY + worn.DAY).date()

    assert f"Taken off on {off.day} {off:%B %Y}; nothing is told of the days to come." in html
    assert "It changes by 0.145 mm in a thousand riders." in html  # the table's rate, of the time it was fitted
    assert "limit 9 mm" in html
    assert "May reach" not in html
    assert "chart__early" not in html
    assert "Ends first" not in html


def test_the_wear_of_a_part_comes_as_pdf_with_what_the_page_says(w: SimpleNamespace, as_one: Any) -> None:
    worn.ask(w, u="0.03")
    last = worn.wear(w, {0: "12.0", 2: "11.7", 4: "11.5", 6: "11.1"})
    w.clock.move_to(w.t(last * worn.DAY + worn.DAY + 30))
    one = worn.part(w)

    answer = as_one("auditor").get(reverse("reports:component_paper", args=[w.course.pk, one.pk]))

    assert answer["Content-Type"] == "application/pdf"
    text = letters(answer.content)
    for said in (
        one.tag, "It changes by 0.145 mm in a thousand riders.", "limit 9 mm", "early bound, one-sided 95 %",
        "No date said here puts a part back into service, and none keeps one in it.",
    ):  # fmt: skip
        assert tight(said) in text, said
