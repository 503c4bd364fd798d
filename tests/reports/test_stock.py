"""What to keep in stock: lives from the record, a published fit, and a need checked with another library's Poisson.

Lives are W1 a) of the statistics dossier, e-Handbook 8.4.1.3 (READ second-hand): ten failed, ten running at 500; shape
1.7207, scale 606.5280. They are taken for days here; in months the shape is the same.
"""

from __future__ import annotations

import csv
import math
from datetime import timedelta
from io import StringIO
from types import SimpleNamespace
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from scipy import stats

from courses import actions as course_actions
from courses.models import Component
from courses.queries import setup_at
from inspections import actions
from inspections.actions.releases import RELEASE_TICKS
from inspections.judging import Answer
from inspections.models import Finding
from inspections.wear import Season
from reports.ahead import ahead_of
from reports.stock import MONTHS, RIDERS, Stock, stocks_of
from tests import make
from tests.reports import worn
from tests.reports.test_ahead import change
from tests.reports.test_components import looked_at, out_and_replaced

DAY = worn.DAY
FAILED = (54, 187, 216, 240, 244, 335, 361, 373, 375, 386)
LABEL = "harness, size M"


def stocks(w: SimpleNamespace, day: int = 0) -> dict[str, Stock]:
    setup = setup_at(w.course, w.t(day * DAY + 60))
    return {one.label: one for one in stocks_of(setup, Season.of(setup))}


def harness(w: SimpleNamespace, number: int, days: int) -> Component:
    """Fit a harness that is as many days in use today."""
    founder = make.founder_of(w.operator)
    part = course_actions.add_component(
        w.course, kind="harness", tag=f"HM-{number:02}", label=LABEL, deed=make.deed(founder)
    )
    course_actions.fit(part, w.store, "B", deed=make.deed(founder))
    first = (w.on - timedelta(days=days)).isoformat()
    make.settle(w, "component", {"dates": dict.fromkeys(("made", "purchased", "first_use"), first)}, component=part)
    return part


def take_out(w: SimpleNamespace, part: Component, *, day: int = 0) -> Finding:
    at = w.t(day * DAY + 30)
    actions.take_out_of_service(
        make.picture(w, at), w.store, title=f"{part.tag} torn", component=part, slot="B", severity="minor",
        text="Torn.", tag_number="0417", photos=(make.photo(w),), deed=make.deed(w.technician, at=at),
    )  # fmt: skip
    return Finding.objects.get(component=part, state="open")


def retire(w: SimpleNamespace, finding: Finding, *, day: int = 0) -> None:
    at = w.t(day * DAY + 40)
    actions.close_by_retiring(
        make.picture(w, at), finding, text="Cut up.", destroyed=True, deed=make.deed(w.manager, at=at)
    )


@pytest.fixture
def lived(w: SimpleNamespace) -> SimpleNamespace:
    for number, days in enumerate(FAILED):
        retire(w, take_out(w, harness(w, number, days)))
    for number in range(10):
        harness(w, 20 + number, 500)
    return w


def test_lives_give_the_published_shape_and_a_need_that_poisson_confirms(lived: SimpleNamespace) -> None:
    found = stocks(lived)[LABEL]
    until = (found.until - lived.on).days

    assert found.fit is not None
    assert (found.failed, found.running, found.in_use, found.clock) == (10, 10, 10, MONTHS)
    assert found.fit.shape == pytest.approx(1.7207, abs=2e-3)
    assert found.fit.scale * 30.4375 == pytest.approx(606.5280, abs=0.15)
    # Mean of a Weibull distribution: scale times gamma(1 + 1/shape) (textbook). Ten in use until the last open day.
    expected = 10 * until / (606.5280 * math.gamma(1 + 1 / 1.7207))
    assert found.expected == pytest.approx(expected, rel=2e-3)
    assert found.keep == stats.poisson.ppf(0.95, expected)
    assert found.suffices == pytest.approx(stats.poisson.cdf(found.keep, expected), abs=2e-3)


def test_four_failures_are_too_few_and_say_so(w: SimpleNamespace) -> None:
    for number, days in enumerate(FAILED[:4]):
        retire(w, take_out(w, harness(w, number, days)))
    harness(w, 20, 500)
    found = stocks(w)[LABEL]

    assert (found.keep, found.failed, found.running) == (None, 4, 1)
    assert found.sentence == "4 parts have failed; a distribution of lives needs at least 5."


def test_what_was_retired_without_a_defect_has_not_failed(w: SimpleNamespace) -> None:
    part = harness(w, 1, 300)
    course_actions.retire_component(part, why="Ten years old", destroyed=True, deed=make.deed(w.manager, at=w.t(30)))
    found = stocks(w)[LABEL]

    assert (found.failed, found.running, found.in_use) == (0, 1, 0)


def test_what_is_out_of_service_has_failed_until_it_is_put_back(w: SimpleNamespace) -> None:
    part = harness(w, 1, 300)
    finding = take_out(w, part)
    out = stocks(w)[LABEL]
    actions.record_work(
        make.picture(w, w.t(32)), finding, what="repair", text="Sewn.", deed=make.deed(w.mate, at=w.t(32))
    )
    actions.record_reinspection(
        make.picture(w, w.t(33)), finding, answer=Answer(mark="sound"), deed=make.deed(w.manager, at=w.t(33))
    )
    actions.release(
        make.picture(w, w.t(34)), finding, ticks=frozenset(RELEASE_TICKS), tag_removed_by="applier",
        deed=make.deed(w.manager, at=w.t(34)),
    )  # fmt: skip
    back = stocks(w)[LABEL]

    assert (out.failed, out.running, out.in_use) == (1, 0, 0)
    assert (back.failed, back.running, back.in_use) == (0, 1, 1)


def test_a_part_that_was_replaced_has_failed_and_a_spare_lies_on_the_shelf(w: SimpleNamespace) -> None:
    old, _new, finding = out_and_replaced(w)
    looked_at(w, finding)
    course_actions.add_component(w.course, kind="spring", tag="SP-91", label=old.label, deed=make.deed(w.engineer))
    found = stocks(w)[old.label]

    assert found.failed == 1
    assert found.shelf == 1


def test_springs_from_their_first_day_are_counted_by_riders(w: SimpleNamespace) -> None:
    springs = Component.objects.filter(course=w.course, kind="spring")
    label = worn.part(w).label
    before = stocks(w)[label].clock
    for one in springs.filter(label=label):
        change(w, one.tag, dates={"first_use": "2026-05-01"})  # on the day it was fitted
    for day in range(2):
        worn.close(w, day, 2000)

    assert before == MONTHS  # in use since February, fitted in May: what it carried before is not known
    assert stocks(w, 2)[label].clock == RIDERS


# --- page and tables


def test_page_and_tables_say_the_same(lived: SimpleNamespace, as_one: Any) -> None:
    w, client = lived, as_one("manager")
    w.clock.move_to(w.t(60))
    found = stocks(w)[LABEL]

    html = client.get(reverse("reports:parts_ahead", args=[w.course.pk])).content.decode()
    answer = client.get(reverse("reports:stock_table", args=[w.course.pk]))
    table = list(csv.DictReader(StringIO(answer.content.decode(), newline="")))

    (row,) = [row for row in table if row["component_label"] == LABEL]
    assert (row["keep_in_stock"], row["failed"], row["running"]) == (str(found.keep), "10", "10")
    assert row["life_in"] == MONTHS
    assert f"keep {found.keep}" in html
    assert found.sentence in html
    assert "Planning aid." in html
    assert len(table) == len(stocks(w))


def test_what_lies_ahead_names_the_stock_of_its_kind(lived: SimpleNamespace) -> None:
    w = lived
    part = Component.objects.get(tag="HM-20")
    found = ahead_of(w.course, at=w.t(60)).stock_of(part)

    assert found is not None
    assert found.keep == stocks(w)[LABEL].keep
    assert ahead_of(w.course, at=w.t(60)).stock_of(worn.part(w)) is None


def test_stock_takes_five_queries_however_many_parts_there_are(w: SimpleNamespace) -> None:
    def count() -> int:
        setup = setup_at(w.course, w.t(60))
        with CaptureQueriesContext(connection) as queries:
            stocks_of(setup, Season.of(setup))
        return len(queries)

    retire(w, take_out(w, harness(w, 9, 200)))
    before = count()
    for number in range(3):
        retire(w, take_out(w, harness(w, number, 200)))

    assert count() == before == 5
