"""Hints on how readings are taken: made only where it is fair, shown to the manager alone, and found nowhere else.

The tests of digits, runs and pace themselves are in ``tests/engineering/test_quality*.py``; chances in comments are
theirs. The wording is that of the statistics dossier, part 5.4 (own wording, from memory of no source).
"""

from __future__ import annotations

import doctest
from collections.abc import Callable
from datetime import date, timedelta
from types import SimpleNamespace
from typing import Any
from uuid import UUID, uuid4

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from accounts.models import Role
from courses.models import Course
from courses.queries import setup_at
from engineering.quality import CLOSING, LOOK, NOTHING, ORDINARY, SUGGESTED
from inspections import actions
from inspections.models import Reading, Sheet, Snapshot
from ledger.models import Entry
from reports import hints
from reports.exports import EXPORTS, export
from reports.hints import digits, hints_of, paces, runs, step_of
from reports.how_read import PERIOD, Read, Visit, read_in, visits_in
from tests import make
from tests.reports import worn

DAY = worn.DAY
ON = date(2026, 6, 15)
PLACE, PART = uuid4(), uuid4()
VARIED = ("11.6", "11.8", "11.3", "11.7", "11.4")
EQUAL = ("11.5",) * 9


def reads(texts: list[str], *, tool: str = "calliper 1", part: UUID = PART, u: float | None = 0.2) -> list[Read]:
    return [
        Read(PLACE, "OWN-1@primary-1", part, "How thick?", ON + timedelta(days=n), n, text, "mm", tool, u)
        for n, text in enumerate(texts)
    ]


def visits(seconds: list[float], *, items: int = 14) -> list[Visit]:
    return [Visit(PLACE, "landing", ON + timedelta(days=n), n, items, each) for n, each in enumerate(seconds)]


# --- digits


def even(count: int) -> list[str]:
    return [f"{10 + n * 0.1:.1f}" for n in range(count)]


def test_a_tool_read_to_the_half_mark_is_told_of_the_tool() -> None:
    # 100 of 120 end in 0 or 5 on a scale whose other readings show tenths: chi-square far beyond one in a thousand.
    halves = [f"{10 + n * 0.5:.1f}" for n in range(100)]
    ((hint, about),) = digits(reads(halves + even(20)))

    assert hint.status == LOOK
    assert about.what == "calliper 1"
    assert about.part is None


def test_a_scale_in_halves_is_not_blamed_for_its_halves() -> None:
    ((hint, _about),) = digits(reads([f"{10 + n * 0.5:.1f}" for n in range(120)]))

    assert (hint.status, hint.reason) == ("not-applicable", "scale")


def test_even_digits_and_too_few_readings_show_nothing() -> None:
    ((many, _m),) = digits(reads(even(120)))
    ((few, _f),) = digits(reads(even(40)))

    assert many.status == NOTHING
    assert few.reason == "few"


def test_figures_without_a_named_tool_are_of_no_gauge() -> None:
    assert list(digits(reads(even(120), tool=""))) == []


def test_one_figure_with_more_decimals_does_not_make_the_others_end_in_nought() -> None:
    assert step_of([*even(100), "11.75"], "mm") == "0.1"


# --- runs


def test_a_run_of_equal_readings_is_told_of_the_part() -> None:
    ((hint, about),) = runs(reads([*VARIED, *EQUAL]))

    assert (hint.status, dict(hint.params)["count"]) == (LOOK, "9")
    assert about.part == PART


@pytest.mark.parametrize(
    ("texts", "u", "reason"),
    [
        ([*VARIED, *EQUAL], None, "gauge"),  # nobody entered how much the tool scatters
        ([*VARIED, *EQUAL], 0.06, "coarse"),  # the step is wider than the scatter: it is supposed to repeat
        (list(EQUAL), 0.2, "coarse"),  # nothing shows that the tool reads finer than a half
        (list(VARIED), 0.2, "few"),
    ],
)
def test_a_run_is_not_looked_for_where_it_would_be_unfair(texts: list[str], u: float | None, reason: str) -> None:
    ((hint, _about),) = runs(reads(texts, u=u))

    assert (hint.status, hint.reason) == ("not-applicable", reason)


# --- pace


def test_a_sheet_far_quicker_than_those_with_as_many_items_is_told_of_the_sheet() -> None:
    usual = [600.0 + 20 * (n % 10) for n in range(30)]
    found = list(paces(visits([*usual, 70.0]), ON + timedelta(days=30)))
    look = [(hint, about) for hint, about in found if hint.status == LOOK]

    assert [about.entry for _hint, about in look] == [30]
    assert look[0][0].sentences[0].startswith("The visit took 1 min 10 s for 14 items; this line usually takes ")


def test_a_short_list_is_not_held_against_long_ones() -> None:
    usual = visits([600.0 + 20 * (n % 10) for n in range(30)])
    short = Visit(PLACE, "landing", ON + timedelta(days=30), 30, 2, 70.0)
    found = list(paces([*usual, short], ON + timedelta(days=30)))

    assert found[-1][0].reason == "few-visits"


# --- from the record


@pytest.fixture
def equal(w: SimpleNamespace) -> SimpleNamespace:
    """Fourteen mornings of one figure, the last nine of them equal; the clock stands on the last."""
    worn.ask(w, u="0.2")
    for day, text in enumerate([*VARIED, *EQUAL]):
        worn.read(w, day, text)
    w.clock.move_to(w.t(14 * DAY + 30))
    return w


def test_the_manager_reads_fact_reasons_and_what_to_do(equal: SimpleNamespace, as_one: Any) -> None:
    w = equal
    html = as_one("manager").get(reverse("reports:hints", args=[w.course.pk])).content.decode()

    assert "9 readings in a row are all 11.5 mm." in html
    assert ORDINARY["run"] in html
    assert SUGGESTED["run"] in html
    assert CLOSING in html
    assert reverse("reports:component", args=[w.course.pk, worn.part(w).pk]) in html
    for name in (w.technician.name, w.mate.name, w.engineer.name):
        assert name not in html
    for word in ("fake", "fraud", "suspicious", "score", " rank"):
        assert word not in html.lower()


@pytest.mark.parametrize("role", [kind.value for kind in Role.Kind if kind != Role.Kind.MANAGER])
def test_nobody_but_the_manager_sees_the_page_or_the_way_to_it(equal: SimpleNamespace, as_one: Any, role: str) -> None:
    client, own = as_one(role), reverse("reports:hints", args=[equal.course.pk])

    assert client.get(own).status_code == 403
    for name in ("calendar", "sample", "parts_ahead", "components", "exports"):
        answer = client.get(reverse(f"reports:{name}", args=[equal.course.pk]))
        assert own not in answer.content.decode()


def test_the_manager_has_the_way_to_it_on_every_page_of_the_history(w: SimpleNamespace, as_one: Any) -> None:
    client, own = as_one("manager"), reverse("reports:hints", args=[w.course.pk])

    for name in ("calendar", "day_sheets", "components", "parts_ahead", "entries", "sample", "exports", "hints"):
        assert own in client.get(reverse(f"reports:{name}", args=[w.course.pk])).content.decode(), name


def test_no_hint_stands_in_record_export_or_what_is_signed(equal: SimpleNamespace, as_one: Any) -> None:
    w = equal
    before = Entry.objects.count()
    answer = as_one("manager").get(reverse("reports:hints", args=[w.course.pk]))
    assert Entry.objects.count() == before
    assert "no-store" in answer["Cache-Control"]
    actions.sign_off(
        w.course, decisions={str(one.pk): "closed" for one in w.lines}, meaning="Closed.", seen_revision=0,
        deed=make.deed(w.manager, at=w.t(14 * DAY + 40)),
    )  # fmt: skip

    (hint,) = hints_of(w.course, at=w.t(14 * DAY + 50)).shown
    kept = "".join("".join(export(w.course, what, w.on, w.on + timedelta(days=20))) for what in EXPORTS)
    kept += b"".join(bytes(data) for data in Entry.objects.values_list("data", flat=True)).decode()
    kept += b"".join(bytes(data) for data in Snapshot.objects.values_list("data", flat=True)).decode()
    assert "11.5" in kept  # the reading itself is there
    assert [sentence for sentence in hint.sentences if sentence in kept] == []


def test_what_is_typed_in_from_paper_or_corrected_is_left_out(equal: SimpleNamespace) -> None:
    w = equal
    setup = setup_at(w.course, w.t(14 * DAY + 50))

    def own() -> list[Read]:
        return [one for one in read_in(setup, w.on - PERIOD) if one.key == worn.KEY]

    before, seen = own(), visits_in(setup, w.on - PERIOD)
    paper = make.draft(w, w.line, "landing", by=w.mate, at=w.t(14 * DAY + 40), answers=answer("11.2"))
    paper.from_paper = True
    actions.sign_sheet(paper, meaning="From paper.", paper="0" * 64, deed=make.deed(w.mate, at=w.t(14 * DAY + 40)))
    newest = Sheet.objects.filter(signer_ref=w.technician.ref, section="landing").order_by("-seq")[0]
    at = w.t(14 * DAY + 45)
    mended = actions.draft_for(
        make.picture(w, at), w.line, "landing", amends=newest.pk, deed=make.deed(w.technician, at=at)
    )
    mended.content = answer("11.4")
    actions.sign_sheet(mended, meaning="Corrected.", reason="Read wrong.", deed=make.deed(w.technician, at=at))

    assert Reading.objects.filter(key=worn.KEY).count() == len(before) + 2
    assert [one.text for one in before] == [*VARIED, *EQUAL]
    assert own() == before
    assert visits_in(setup, w.on - PERIOD) == seen


def answer(text: str) -> dict[str, dict[str, Any]]:
    return {worn.KEY: {"text": text, "kept": text}}


def test_the_page_takes_as_many_queries_for_one_morning_as_for_three(w: SimpleNamespace, as_one: Any) -> None:
    def count(client_of: Callable[[str], Any]) -> int:
        client = client_of("manager")
        with CaptureQueriesContext(connection) as queries:
            client.get(reverse("reports:hints", args=[w.course.pk]))
        return len(queries)

    before = count(as_one)
    for day in (1, 2):
        make.inspect(w, at=w.t(day * DAY + 5))
    w.clock.move_to(w.t(3 * DAY))

    assert count(as_one) == before <= 25


def test_a_course_that_speaks_us_units_is_looked_at_in_them(equal: SimpleNamespace) -> None:
    w = equal
    Course.objects.filter(pk=w.course.pk).update(units=Course.Units.US)
    course = Course.objects.select_related("operator__log").get(pk=w.course.pk)
    own = [one for one in read_in(setup_at(course, w.t(14 * DAY + 30)), w.on) if one.key == worn.KEY]

    # 0.2 mm is 0.2 / 25.4 in (an inch is 25.4 mm exactly).
    assert {one.unit for one in own} == {"in"}
    assert own[0].u == pytest.approx(0.2 / 25.4)


def test_the_worked_examples_hold() -> None:
    found = doctest.testmod(hints)

    assert found.attempted
    assert not found.failed
