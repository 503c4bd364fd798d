"""Tables for a spreadsheet: RFC 4180 (lines end in CR LF, quotes doubled), and no cell that begins a formula.

That a leading = + - @, tab or carriage return starts a formula: OWASP, "CSV Injection" (from memory).
"""

from __future__ import annotations

import csv
from datetime import timedelta
from io import StringIO
from types import SimpleNamespace
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inspections import actions
from inspections.models import Reading, Ride
from ledger.models import Disclosure
from reports.exports import cell, rows_as_text
from tests import make


def table(w: SimpleNamespace, client: Any, what: str, first: str = "", last: str = "") -> list[dict[str, str]]:
    query = {"first": first or w.on.isoformat(), "last": last or w.on.isoformat()}
    response = client.get(reverse("reports:export", args=[w.course.pk, what]), query)
    assert response.status_code == 200
    assert response.streaming
    assert response["Content-Type"].startswith("text/csv; charset=utf-8")
    text = b"".join(response.streaming_content).decode("utf-8")
    assert text.endswith("\r\n")
    return list(csv.DictReader(StringIO(text, newline="")))


def test_readings_as_typed_and_as_understood(w: SimpleNamespace, as_one: Any) -> None:
    rows = table(w, as_one("auditor"), "readings")

    gust = next(row for row in rows if row["item"] == "WX-01@house")
    reading = Reading.objects.get(key="WX-01@house", day__date=w.on)
    assert len(rows) == Reading.objects.filter(day__date=w.on).count()
    assert (gust["reading_as_typed"], gust["unit"], gust["value_in_unit"]) == (reading.text, "m/s", reading.value)
    assert gust["signed_by"] == "Tarik Oben"
    assert gust["date"] == "2026-06-15"
    assert gust["signed_at_utc"] == "2026-06-15T05:35:00Z"
    assert gust["entry"] == str(reading.seq)


def test_rides_have_their_units_in_the_names_of_the_columns(w: SimpleNamespace, as_one: Any) -> None:
    rows = table(w, as_one("auditor"), "rides")

    assert len(rows) == 4
    assert {row["ballast_kg"] for row in rows} == {"35", "115"}
    assert {row["brake_travel_used_m"] for row in rows} == {"2.4"}
    assert {row["wind_m_per_s"] for row in rows} == {"2.1"}
    assert {row["landing_clear_by"] for row in rows} == {"Runa"}


def test_both_ends_of_the_range_are_in_it(w: SimpleNamespace, as_one: Any) -> None:
    client = as_one("auditor")
    before = (w.on - timedelta(days=1)).isoformat()

    assert len(table(w, client, "rides", before, before)) == Ride.objects.filter(day__date=before).count() == 6
    assert len(table(w, client, "rides", before, w.on.isoformat())) == 10
    assert table(w, client, "rides", "2026-06-01", "2026-06-13") == []


def test_text_that_would_be_a_formula_is_disarmed(w: SimpleNamespace, as_one: Any) -> None:
    evil = '=HYPERLINK("http://example.org";"Rust, heavy")'
    actions.open_finding(
        make.picture(w, w.t(12)), w.line, title=evil, severity="major", deed=make.deed(w.technician, at=w.t(12))
    )

    [row] = table(w, as_one("auditor"), "findings")

    assert row["title"] == "'" + evil
    assert row["class"] == "Major"
    assert row["opened_by"] == "Tarik Oben"
    assert row["state"] == "Open"


@pytest.mark.parametrize("text", ["=1", "+1", "-1", "@x", "\tx", "\rx"])
def test_every_beginning_of_a_formula_gets_an_apostrophe(text: str) -> None:
    assert cell(text) == "'" + text


@pytest.mark.parametrize("text", ["", "1", "a=1", "ä", "'x"])
def test_other_text_stays(text: str) -> None:
    assert cell(text) == text


def test_quotes_commas_and_line_breaks_survive() -> None:
    # RFC 4180, section 2, rules 5 to 7.
    rows = [['say "no"', "a,b", "one\ntwo"]]

    text = "".join(rows_as_text(("a", "b", "c"), iter(rows)))

    assert text == 'a,b,c\r\n"say ""no""","a,b","one\ntwo"\r\n'
    assert list(csv.reader(StringIO(text, newline="")))[1] == rows[0]


def test_an_erased_name_is_told_as_erased(w: SimpleNamespace, as_one: Any) -> None:
    Disclosure.objects.filter(subject=w.technician.ref).delete()

    assert {row["signed_by"] for row in table(w, as_one("auditor"), "readings")} == {"name erased"}


def test_dates_that_are_turned_round_come_back_with_the_question(w: SimpleNamespace, as_one: Any) -> None:
    client = as_one("auditor")
    page = reverse("reports:export", args=[w.course.pk, "rides"])

    turned = client.get(page, {"first": "2026-06-15", "last": "2026-06-01"})
    missing = client.get(page)

    assert turned.status_code == missing.status_code == 400
    assert "The last day lies before the first." in turned.content.decode()


def test_an_export_takes_few_queries_for_many_rows(w: SimpleNamespace, as_one: Any) -> None:
    client = as_one("auditor")
    with CaptureQueriesContext(connection) as queries:
        rows = table(w, client, "readings", "2026-06-01", "2026-06-30")

    assert len(rows) > 100
    assert len(queries) <= 10
