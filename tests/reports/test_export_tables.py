"""What stands in the exported tables: one vocabulary, times in UTC and on the course's clocks, every person named.

The course's clocks are those of Vienna, in June two hours ahead of UTC (IANA time zone database, Europe/Vienna, CEST).
What a hold and a release must tell: 29 CFR 1910.147(e) for the release, READ-2; the rest is common practice, no source.
"""

from __future__ import annotations

from datetime import date, timedelta
from types import SimpleNamespace
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import translation

from courses.models import Component
from inspections import actions
from inspections.judging import Answer
from inspections.models import Finding, Hold, Reading, SignOff
from inspections.words import MARKS, VERDICTS
from ledger.models import Disclosure, Entry
from reports import exports
from reports.views.exports import TABLES, WORDS
from tests import make
from tests.reports.test_components import looked_at, out_and_replaced
from tests.reports.test_exports import table

UTC_OF_MORNING = "2026-06-15T05:"


def hold_lifted(w: SimpleNamespace, cause: str, given: dict[str, str], *, line: Any = None, text: str = "") -> Hold:
    """Call a hold at minute 11, have both ends told at minute 12, lift it at minute 60."""
    entry = actions.call_hold(
        make.picture(w, w.t(11)), line, cause=cause, text="Seen from the deck.", deed=make.deed(w.guide, at=w.t(11))
    )
    hold = Hold.objects.get(course=w.course, seq=entry.seq)
    for where in ("launch", "landing"):
        actions.tell_hold(
            make.picture(w, w.t(12)), hold, where=where, text=f"Ole at the {where}", deed=make.deed(w.mate, at=w.t(12))
        )
    by = w.manager if cause == "authority" else w.technician
    actions.lift_hold(make.picture(w, w.t(60)), hold, given=given, text=text, deed=make.deed(by, at=w.t(60)))
    return Hold.objects.get(pk=hold.pk)


# --- holds


def test_a_hold_tells_who_called_told_renewed_and_lifted_it(w: SimpleNamespace, as_one: Any) -> None:
    entry = actions.call_hold(
        make.picture(w, w.t(11)), None, cause="thunder", text="From the west.", deed=make.deed(w.guide, at=w.t(11))
    )
    hold = Hold.objects.get(course=w.course, seq=entry.seq)
    actions.tell_hold(
        make.picture(w, w.t(12)), hold, where="launch", text="Ole Birk", deed=make.deed(w.mate, at=w.t(12))
    )
    renewed = [actions.renew_hold(make.picture(w, w.t(m)), hold, deed=make.deed(w.mate, at=w.t(m))) for m in (14, 20)]
    lifted = actions.lift_hold(
        make.picture(w, w.t(51)), hold, given={"looked": "yes"}, text="Sky clear.",
        deed=make.deed(w.technician, at=w.t(51)),
    )  # fmt: skip

    [row] = table(w, as_one("auditor"), "holds")

    assert (row["called_on"], row["line"], row["cause"]) == ("2026-06-15", "whole course", "Thunder or lightning")
    assert (row["called_by"], row["note"]) == ("Gesa Lorn", "From the west.")
    assert (row["called_at_utc"], row["called_at_local"]) == ("2026-06-15T05:41:00Z", "2026-06-15 07:41:00")
    assert (row["told_at_launch_by"], row["told_at_launch_at_local"]) == ("Ole Birk", "2026-06-15 07:42:00")
    assert (row["told_at_landing_by"], row["told_at_landing_at_utc"]) == ("not yet told", "")
    assert (row["times_renewed"], row["last_renewed_at_utc"]) == ("2", "2026-06-15T05:50:00Z")
    assert (row["state"], row["lifted_at_local"]) == ("Lifted", "2026-06-15 08:21:00")
    assert (row["lifted_by"], row["lifting_note"]) == ("Tarik Oben", "Sky clear.")
    assert row["lifted_on_condition"] == "looked along every line concerned"
    assert (row["entry"], row["entry_lifted"]) == (str(entry.seq), str(lifted.seq))
    assert row["entries_renewed"] == " ".join(str(one.seq) for one in renewed)
    assert row["time_zone"] == "Europe/Vienna"


@pytest.mark.parametrize(
    ("cause", "given", "said"),
    [
        ("gust", {"wind": "2,5", "looked": "yes"}, "read a wind of 2.5 m/s"),
        (
            "person",
            dict.fromkeys(("seen", "counted", "radio"), "yes"),
            "saw that nobody was on the line or under it; everyone was counted; "
            "asked the person who called it by radio",
        ),
        ("authority", {"authority": "Inspector Hahn, by letter"}, "on the authority's word: Inspector Hahn, by letter"),
    ],
)
def test_a_hold_tells_on_which_condition_it_was_lifted(
    w: SimpleNamespace, as_one: Any, cause: str, given: dict[str, str], said: str
) -> None:
    line = w.line if cause == "person" else None
    hold_lifted(w, cause, given, line=line)

    [row] = table(w, as_one("auditor"), "holds")

    assert row["lifted_on_condition"] == said
    assert row["line"] == ("Line 1 Line 1" if line else "whole course")
    assert row["told_at_landing_by"] == "Ole at the landing"


def test_a_hold_that_stands_is_in_the_table_of_its_day_only(w: SimpleNamespace, as_one: Any) -> None:
    actions.call_hold(make.picture(w, w.t(11)), w.line, cause="object", deed=make.deed(w.guide, at=w.t(11)))
    client = as_one("auditor")

    [row] = table(w, client, "holds")

    assert (row["state"], row["lifted_by"], row["lifted_at_utc"], row["entry_lifted"]) == ("Held", "", "", "")
    for apart in (-1, 1):
        other = (w.on + timedelta(days=apart)).isoformat()
        assert table(w, client, "holds", other, other) == []


def test_a_hold_of_the_small_hours_belongs_to_the_day_before(w: SimpleNamespace, as_one: Any) -> None:
    # The course's day changes at 3 on its clocks (courses.models.Course): 02:30 in Vienna on the 16th is the 15th.
    late = w.at.replace(hour=0, minute=30) + timedelta(days=1)
    actions.call_hold(make.picture(w, late), w.line, cause="object", deed=make.deed(w.guide, at=late))
    client = as_one("auditor")

    [row] = table(w, client, "holds")

    assert (row["called_on"], row["called_at_local"]) == ("2026-06-15", "2026-06-16 02:30:00")
    assert table(w, client, "holds", "2026-06-16", "2026-06-16") == []


def test_erased_names_of_a_hold_are_told_as_erased(w: SimpleNamespace, as_one: Any) -> None:
    hold_lifted(w, "thunder", {"looked": "yes"}, text="Clear.")
    Disclosure.objects.all().delete()

    [row] = table(w, as_one("auditor"), "holds")

    assert row["called_by"] == row["lifted_by"] == row["told_at_launch_by"] == "name erased"
    assert row["note"] == row["lifting_note"] == "note erased"


# --- sign-offs


def test_each_line_of_each_revision_has_a_row(w: SimpleNamespace, as_one: Any) -> None:
    first = make.open_lines(w, at=w.t(10))
    second = make.open_lines(w, at=w.t(15), line2="closed")

    rows = table(w, as_one("auditor"), "sign-offs")

    assert [(row["revision"], row["line"], row["decision"], row["entry"]) for row in rows] == [
        ("1", "Line 1 Line 1", "Open", str(first.seq)),
        ("1", "Line 2 Line 2", "Open", str(first.seq)),
        ("2", "Line 1 Line 1", "Open", str(second.seq)),
        ("2", "Line 2 Line 2", "Closed today", str(second.seq)),
    ]
    assert {row["signed_by"] for row in rows} == {"Mirte Valk"}
    assert {row["date"] for row in rows} == {"2026-06-15"}
    assert (rows[0]["signed_at_utc"], rows[0]["signed_at_local"]) == ("2026-06-15T05:40:00Z", "2026-06-15 07:40:00")
    signed = SignOff.objects.get(day__course=w.course, revision=1)
    limits = signed.lines[str(w.line.pk)]["limits"]
    assert (rows[0]["lightest_rider_kg"], rows[0]["heaviest_rider_kg"]) == (
        limits["mass_min_kg"],
        limits["mass_max_kg"],
    )
    assert rows[0]["headwind_limit_m_per_s"] == limits["wind"]["head_mps"]
    assert rows[0]["check_value_of_what_was_signed"] == signed.snapshot
    assert rows[3]["lightest_rider_kg"] == ""


def test_a_line_that_was_held_says_what_held_it(w: SimpleNamespace, as_one: Any) -> None:
    actions.call_hold(make.picture(w, w.t(8)), w.line, cause="object", deed=make.deed(w.guide, at=w.t(8)))
    make.open_lines(w, at=w.t(10), line1="closed")

    held, free = table(w, as_one("auditor"), "sign-offs")

    reasons = SignOff.objects.get(day__course=w.course).lines[str(w.line.pk)]["reasons"]
    assert reasons
    assert held["what_held_it"] == " ".join(reasons)
    assert free["what_held_it"] == ""


# --- findings


def test_a_finding_tells_the_work_the_second_look_and_who_closed_it(w: SimpleNamespace, as_one: Any) -> None:
    old, new, finding = out_and_replaced(w)
    looked_at(w, finding)

    [row] = table(w, as_one("auditor"), "findings")

    assert (row["component"], row["tag_number"], row["out_of_service"]) == (old.tag, "0412", "yes")
    assert (row["limit"], row["state"]) == ("more than 570 mm", "Open")
    assert (row["work"], row["new_component"]) == (f"Replacement, {new.tag} fitted", new.tag)
    assert (row["work_made_by"], row["work_recorded_by"]) == ("Brake works, Oddy", "Runa Feld")
    assert (row["work_note"], row["work_confirmed"]) == (
        "New spring.",
        "Stored energy released. Locked out and tagged.",
    )
    assert (row["work_recorded_at_utc"], row["work_recorded_at_local"]) == (
        "2026-06-15T05:39:00Z",
        "2026-06-15 07:39:00",
    )
    assert row["looked_at_again"].startswith(f"{new.tag} 600.5 mm, limit ")
    assert row["looked_at_again_by"] == "Mirte Valk"
    assert (row["closed_by"], row["closed_at_utc"]) == ("", "")
    steps = row["steps"].split("; ")
    assert [part.split(", ")[-2] for part in steps] == ["Tarik Oben", "Runa Feld", "Mirte Valk"]
    assert all(part.startswith(UTC_OF_MORNING) for part in steps)


def test_a_scrapped_piece_is_retired_for_good_in_the_table_too(w: SimpleNamespace, as_one: Any) -> None:
    harness = Component.objects.get(course=w.course, tag="HA-01")
    actions.take_out_of_service(
        make.picture(w, w.t(8)), w.store, title="Seam torn", component=harness, slot="B", text="Left leg loop.",
        photos=(make.photo(w),), tag_number="0413", deed=make.deed(w.technician, at=w.t(8)),
    )  # fmt: skip
    actions.close_by_retiring(
        make.picture(w, w.t(9)), Finding.objects.get(component=harness), text="Cut up.", destroyed=True,
        deed=make.deed(w.manager, at=w.t(9)),
    )  # fmt: skip

    [row] = table(w, as_one("auditor"), "findings")

    assert row["state"] == "Retired for good"
    assert (row["closed_by"], row["closing_note"]) == ("Mirte Valk", "Cut up.")
    assert "Released" not in row["steps"]


# --- readings


def test_gear_has_its_question_and_a_dated_limit_its_judged_value(w: SimpleNamespace, as_one: Any) -> None:
    row = next(row for row in table(w, as_one("auditor"), "readings") if row["component"] == "HA-01")

    assert row["question"] == "Taken in hand: is HA-01 in order?"
    assert row["limit"].startswith("until ")
    # By hand: in the register of the tests it was last inspected on 1 February 2026, 134 days before 15 June 2026.
    assert (w.on - date(2026, 2, 1)).days == 134
    assert row["judged_value"] == "134 days"
    assert row["result_in_words"] == f"134 days is within the limit ({row['limit']})."


def test_the_same_limit_is_written_in_one_way_whatever_was_typed(w: SimpleNamespace, as_one: Any) -> None:
    spring = Reading.objects.get(key="BS-1@primary-1", place=w.line, day__date=w.on)
    plain, stored = table(w, as_one("auditor"), "readings"), spring.limit
    Reading.objects.filter(pk=spring.pk).update(
        limit="more than 570.0 mm", sentence="598.5 mm is within the limit (more than 570.0 mm)."
    )

    row = next(row for row in table(w, as_one("auditor"), "readings") if row["entry"] == str(spring.seq)
               and row["item"] == spring.key)  # fmt: skip

    assert row["limit"] == "more than 570 mm"
    assert row["judged_value"] == "598.5 mm"
    assert row["result_in_words"] == "598.5 mm is within the limit (more than 570 mm)."
    assert next(one for one in plain if one["item"] == spring.key)["limit"] == stored.replace(".0 ", " ")


def test_a_re_inspection_names_its_reader_and_its_part(w: SimpleNamespace, as_one: Any) -> None:
    _old, new, finding = out_and_replaced(w)
    looked_at(w, finding)

    row = next(row for row in table(w, as_one("auditor"), "readings") if row["section"] == "Looked at again")

    assert (row["component"], row["reading_as_typed"], row["unit"]) == (new.tag, "600.5", "mm")
    assert (row["signed_by"], row["verdict"]) == ("Mirte Valk", "OK")


# --- all of them


@pytest.mark.parametrize("what", list(exports.EXPORTS))
def test_every_time_stands_in_utc_and_on_the_courses_clocks(w: SimpleNamespace, as_one: Any, what: str) -> None:
    _old, _new, finding = out_and_replaced(w)
    looked_at(w, finding)
    hold_lifted(w, "thunder", {"looked": "yes"})
    make.open_lines(w, at=w.t(61), line1="closed", line2="closed")

    rows = table(w, as_one("auditor"), what)
    columns = list(rows[0])

    utc = [name for name in columns if name.endswith("_utc")]
    assert utc
    assert [name.removesuffix("_local") for name in columns if name.endswith("_local")] == [
        name.removesuffix("_utc") for name in utc
    ]
    for row in rows:
        assert row["time_zone"] == "Europe/Vienna"
        for name in filter(row.get, utc):
            local = row[name.removesuffix("_utc") + "_local"]
            # Vienna in June is two hours ahead of UTC.
            assert int(local[11:13]) == int(row[name][11:13]) + 2, (name, row[name], local)


def test_the_words_are_the_same_in_every_table_and_are_explained_on_the_page(w: SimpleNamespace, as_one: Any) -> None:
    _old, _new, finding = out_and_replaced(w)
    looked_at(w, finding)
    make.ride(w, w.line, at=w.t(15))
    client = as_one("auditor")
    explained = {part.strip() for word, _meaning in WORDS for part in word.split(",")}

    found = {row[name] for what, name in (("readings", "verdict"), ("readings", "mark"), ("rides", "verdict"),
                                          ("findings", "class"), ("findings", "state"), ("rides", "test"))
             for row in table(w, client, what)} - {""}  # fmt: skip

    assert found <= explained
    assert {str(word) for word in (*VERDICTS.values(), *MARKS.values())} <= explained
    html = client.get(f"/course/{w.course.pk}/history/export/").content.decode()
    for word in explained:
        assert word.replace("'", "&#x27;") in html
    assert "withdraw" not in {row["verdict"] for row in table(w, client, "readings")}


def test_the_page_offers_every_table(w: SimpleNamespace, as_one: Any) -> None:
    html = as_one("auditor").get(f"/course/{w.course.pk}/history/export/").content.decode()

    assert [name for name, *_rest in TABLES] == list(exports.EXPORTS)
    for name in exports.EXPORTS:
        assert f'formaction="/course/{w.course.pk}/history/export/{name}.csv"' in html


def test_a_file_says_the_same_whatever_language_its_reader_speaks(w: SimpleNamespace) -> None:
    with translation.override("de"):
        lines = list(exports.export(w.course, "readings", w.on, w.on))
        assert translation.get_language() == "de", "the reader's own language is active again"

    assert any(",OK," in line for line in lines[1:])


@pytest.mark.parametrize("what", ["findings", "holds", "sign-offs"])
def test_a_table_takes_the_same_queries_however_many_rows(w: SimpleNamespace, as_one: Any, what: str) -> None:
    def count() -> tuple[int, int]:
        client = as_one("auditor")
        with CaptureQueriesContext(connection) as queries:
            rows = table(w, client, what)
        return len(queries), len(rows)

    _old, _new, finding = out_and_replaced(w)
    looked_at(w, finding)
    hold_lifted(w, "thunder", {"looked": "yes"})
    make.open_lines(w, at=w.t(61), line1="closed", line2="closed")
    before, few = count()
    for minute, cause in enumerate(("object", "person", "stuck"), start=62):
        entry = actions.call_hold(
            make.picture(w, w.t(minute)), w.lines[1], cause=cause, deed=make.deed(w.guide, at=w.t(minute))
        )
        opened = actions.open_finding(
            make.picture(w, w.t(minute)), w.line, title="Rust", severity="minor", text=f"Spot {minute}",
            deed=make.deed(w.technician, at=w.t(minute)),
        )  # fmt: skip
        again = Finding.objects.get(course=w.course, seq=opened.seq)
        actions.record_reinspection(
            make.picture(w, w.t(minute)), again, answer=Answer(mark="sound"), deed=make.deed(w.mate, at=w.t(minute))
        )
        assert Entry.objects.filter(log=w.operator.log_id, seq=entry.seq).exists()
        make.open_lines(w, at=w.t(minute), line1="closed", line2="closed")
    after, many = count()

    assert many > few
    assert after == before <= 13
