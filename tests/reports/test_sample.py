"""The auditor's sample: the same address draws the same records, and what it tells is what the published bounds say.

Sources: the discovery sample's table is computed from the hypergeometric distribution (DERIVED, dossier part 4); the
upper bound of 4 in 20 is that of NIST/SEMATECH e-Handbook 7.2.4.1 (READ). The draw is repeated here with hashlib alone.
"""

from __future__ import annotations

import csv
import doctest
import hashlib
from collections.abc import Callable
from datetime import date, timedelta
from io import StringIO
from types import ModuleType, SimpleNamespace
from typing import Any
from urllib.parse import urlencode

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inspections.models import Sheet, SignOff
from ledger.models import Entry
from reports import complete, sample
from reports.sample import Asked, Sample, bound_of, newest_entry, plan_size, sample_of
from tests import make

SPAN = {"first": "2026-06-01", "last": "2026-06-30"}
ASKED = {"what": "sheets", "share": "5", "seed": "larch 7", **SPAN}


def page(w: SimpleNamespace, client: Any, **given: Any) -> Any:
    return client.get(f"{reverse('reports:sample', args=[w.course.pk])}?{urlencode(ASKED | given)}")


def table(w: SimpleNamespace, client: Any, **given: Any) -> list[dict[str, str]]:
    address = reverse("reports:sample_table", args=[w.course.pk])
    answer = client.get(f"{address}?{urlencode(ASKED | given)}")
    assert answer.status_code == 200
    return list(csv.DictReader(StringIO(answer.content.decode(), newline="")))


@pytest.mark.parametrize(("lot", "percent", "size"), [(365, 5, 52), (30, 3, 29)])
def test_the_plan_is_the_discovery_sample(lot: int, percent: int, size: int) -> None:
    # Dossier part 4: N 365 with D 19 (the first number above 5 %) 52; N 30 with D 1 (the first above 3 %) 29.
    assert plan_size(lot, percent) == size


def test_what_faults_tell_is_the_handbooks_upper_bound() -> None:
    # e-Handbook 7.2.4.1: 4 in 20, two-sided 90 %: upper 0.4010281, which is the one-sided 95 % one; rounded up.
    said = bound_of(400, 20, 4)

    assert said[0] == "4 of the 20 looked at show a fault."
    assert "at most 40.2 % of all records" in said[1]


def test_a_whole_list_looked_at_is_no_estimate() -> None:
    assert bound_of(12, 12, 1) == ["All 12 were looked at; 1 show a fault. That is the fact, not an estimate."]


def test_the_draw_can_be_repeated_with_a_hash_function_alone(w: SimpleNamespace) -> None:
    upto = newest_entry(w.course)
    found = sample_of(w.course, Asked("sheets", date(2026, 6, 1), date(2026, 6, 30), upto, "larch 7"), size=3)
    keys = [f"entry {seq}" for seq in Sheet.objects.filter(day__course=w.course).values_list("seq", flat=True)]

    assert isinstance(found, Sample)
    assert len(keys) > 3
    ranked = sorted(keys, key=lambda key: hashlib.sha256(f"larch 7\n{key}".encode()).hexdigest())
    assert [row.key for row in found.rows] == ranked[:3]
    assert found.drawn.list_sha256 == hashlib.sha256("".join(f"{one}\n" for one in sorted(keys)).encode()).hexdigest()


def test_an_address_draws_the_same_records_after_more_were_entered(w: SimpleNamespace, as_one: Any) -> None:
    client = as_one("auditor")
    there = page(w, client, size=4)
    assert there.status_code == 302
    before = client.get(there["Location"]).content.decode()
    make.inspect(w, at=w.t(24 * 60))  # the next morning is of the same month

    after = client.get(there["Location"]).content.decode()
    anew = client.get(page(w, client, size=4)["Location"]).content.decode()

    def drawn(html: str) -> str:
        return html[html.index('id="drawn"') : html.index('id="found"')]

    assert drawn(after) == drawn(before)
    assert drawn(anew) != drawn(before)


def test_each_record_drawn_leads_to_its_entry_and_its_day(w: SimpleNamespace, as_one: Any) -> None:
    client = as_one("auditor")
    upto = newest_entry(w.course)
    html = page(w, client, size=2, upto=upto).content.decode()
    rows = table(w, client, size=2, upto=upto)

    assert len(rows) == 2
    for row in rows:
        assert Sheet.objects.filter(seq=row["entry"], day__date=row["day"]).exists()
        assert reverse("reports:entry", args=[w.course.pk, int(row["entry"])]) in html
        assert reverse("reports:day", args=[w.course.pk, date.fromisoformat(row["day"])]) in html
        assert client.get(reverse("reports:entry", args=[w.course.pk, int(row["entry"])])).status_code == 200
    assert {row["seed"] for row in rows} == {"larch 7"}
    assert {row["up_to_entry"] for row in rows} == {str(upto)}


def test_the_whole_list_comes_in_the_order_of_the_draw(w: SimpleNamespace, as_one: Any) -> None:
    client, upto = as_one("auditor"), newest_entry(w.course)
    few, every = table(w, client, size=2, upto=upto), table(w, client, size=2, upto=upto, whole=1)

    assert len(every) == Sheet.objects.count() > 2
    assert [row["key"] for row in every[:2]] == [row["key"] for row in few]
    assert [row["drawn"] for row in every] == ["yes", "yes", *[""] * (len(every) - 2)]


def test_signed_days_are_drawn_by_their_date(w: SimpleNamespace, as_one: Any) -> None:
    make.open_lines(w, at=w.t(30))
    client, upto = as_one("auditor"), newest_entry(w.course)

    html = page(w, client, what="days", upto=upto).content.decode()
    (row,) = table(w, client, what="days", upto=upto)

    assert row["key"] == w.on.isoformat()
    assert int(row["entry"]) == SignOff.objects.get(day__course=w.course).seq
    assert "This is every record there is (1)" in html


def test_what_was_found_is_said_in_plain_words(w: SimpleNamespace, as_one: Any) -> None:
    client, upto = as_one("auditor"), newest_entry(w.course)

    html = page(w, client, size=5, upto=upto, looked=5, faults=0).content.decode()

    # None in 5: 1 - 0.05^(1/5) = 0.4507 (textbook, closed form of the binomial).
    assert "at most 45.1 % of all records" in html
    assert "0 of the 5 looked at show a fault." in html


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"seed": " "}, "This field is required."),
        ({"first": "2026-07-01"}, "The last day lies before the first."),
        ({"upto": "999999"}, "There is no entry 999999 yet."),
        ({"size": "0"}, "greater than or equal to 1"),
        ({"size": "5", "looked": "6", "faults": "0"}, "Only 5 were drawn."),
        ({"size": "5", "looked": "3", "faults": "4"}, "There cannot be more with a fault than were looked at."),
    ],
)
def test_what_cannot_be_is_said_at_its_field(w: SimpleNamespace, as_one: Any, given: dict[str, str], said: str) -> None:
    answer = page(w, as_one("auditor"), **{"upto": newest_entry(w.course), **given})

    assert answer.status_code == 400
    assert said in answer.content.decode()


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"first": "2025-01-01", "last": "2025-01-31"}, "There is nothing to draw from."),
        ({"size": "900"}, "A sample of 900 is more than the"),
    ],
)
def test_a_draw_that_cannot_be_made_says_why(w: SimpleNamespace, as_one: Any, given: dict[str, str], said: str) -> None:
    answer = page(w, as_one("auditor"), upto=newest_entry(w.course), **given)

    assert answer.status_code == 200
    assert said in answer.content.decode()


def test_nothing_is_written_by_drawing(w: SimpleNamespace, as_one: Any) -> None:
    before = Entry.objects.count()

    page(w, as_one("auditor"), size=5, upto=newest_entry(w.course), looked=5, faults=1)

    assert Entry.objects.count() == before


@pytest.mark.parametrize("what", ["sheets", "days"])
def test_a_page_takes_as_many_queries_for_one_morning_as_for_three(w: SimpleNamespace, as_one: Any, what: str) -> None:
    make.open_lines(w, at=w.t(30))

    def count(make_client: Callable[[], Any]) -> int:
        client = make_client()
        with CaptureQueriesContext(connection) as queries:
            page(w, client, what=what, upto=newest_entry(w.course), share=1)
        return len(queries)

    w.clock.move_to(w.t(2 * 24 * 60))
    before = count(lambda: as_one("auditor"))
    for day in (1, 2):
        make.inspect(w, at=w.t(day * 24 * 60 + 5))
    w.clock.move_to(w.t(4 * 24 * 60) + timedelta(minutes=1))

    assert count(lambda: as_one("auditor")) == before <= 25


@pytest.mark.parametrize("module", [sample, complete])
def test_the_worked_examples_hold(module: ModuleType) -> None:
    found = doctest.testmod(module)

    assert found.attempted
    assert not found.failed
