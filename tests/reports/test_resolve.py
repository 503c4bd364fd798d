"""From the signed snapshot to day sheet, launch card and tag: what is on them, and that they are drawn once.

What a daily record must contain: Iowa 875-61.2 and 7 Pa. Code 139 as collected in ``reports/papers/completeness.py``
(rule R-241, READ); that a stored paper keeps its bytes is our own decision.
"""

from __future__ import annotations

from hashlib import sha256
from io import BytesIO, StringIO
from types import SimpleNamespace
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext
from pypdf import PdfReader

from accounts.errors import Refused
from courses.actions.files import path_of
from engineering.criteria import all_sets
from inspections import actions
from inspections.models import Finding, Paper, SignOff
from ledger.models import Disclosure, Entry
from reports.actions import UNSIGNED, issue_day_sheet, issue_launch_cards, issue_papers, issue_tag
from reports.day_sheet_file import made
from reports.papers.completeness import missing_sentences
from reports.papers.day_sheet import draw_day_sheet
from reports.resolve import _sheets_by_key, day_sheet_data
from tests import make


def signed(w: SimpleNamespace, at: Any, **decided: str) -> SignOff:
    entry = make.open_lines(w, at=at, **decided)
    return SignOff.objects.select_related("day__course__operator__log").get(day__course=w.course, seq=entry.seq)


def text_of(paper: Paper) -> str:
    data = path_of(paper.course.operator_id, paper.sha256).read_bytes()
    return "\n".join(page.extract_text() for page in PdfReader(BytesIO(data)).pages)


def test_the_record_of_a_whole_morning_lacks_nothing_but_what_was_never_entered(w: SimpleNamespace) -> None:
    data = day_sheet_data(signed(w, w.t(10)))

    # The course of these tests has no town entered, and that alone is said.
    on = data["criteria"]["law"] + data["criteria"]["adopted"]
    assert on == [all_sets()[name].title for name in make.picture(w, w.t(10)).setup.criteria["sets"]]
    assert missing_sentences(data) == ["The place of the course is missing."]
    assert [line["number"] for line in data["lines"]] == ["1", "2"]
    assert data["lines"][0]["maker"].startswith("Tarnbeck")
    assert {one["name"] for one in data["signatures"]} == {"Tarik Oben", "Mirte Valk"}
    assert data["sign_off"]["meaning"] == "I decide for every line."
    assert "until 2027-05-01" in data["places"][0]["sheets"][0]["competence"]
    assert "2 of 2 lines are open by this signature" in data["weather"]["decision"]
    assert data["communication"][0]["by"] == "Tarik Oben"
    assert len(data["rides"]) == 4
    assert data["rides"][0]["landing_clear_by"] == "Runa"


def test_a_key_is_named_for_the_sheets_that_it_signed_and_no_others() -> None:
    assert _sheets_by_key(["", ""]) == ""
    assert _sheets_by_key(["b4af", "b4af"]) == "Signed with the person's own key b4af."
    assert _sheets_by_key(["", "b4af", ""]) == "Of 3 sheets 1 is signed with the person's own key: b4af."
    assert _sheets_by_key(["8e1b", "b4af", ""]) == "Of 3 sheets 2 are signed with the person's own key: 8e1b, b4af."


def test_the_paper_says_what_was_signed(w: SimpleNamespace) -> None:
    sign_off = signed(w, w.t(10), line2="closed")

    text = text_of(issue_day_sheet(sign_off, deed=make.deed(w.manager, at=w.t(10))))

    entry = Entry.objects.get(log=w.operator.log, seq=sign_off.seq)
    for words in ("Kestrel Hollow Lines", "15 June 2026", "Mirte Valk", "Tarik Oben", "Closed today", "1 of 2"):
        assert words in text
    assert bytes(entry.leaf_hash).hex()[:8] in text
    assert sign_off.snapshot[:8] in text


def test_a_paper_is_drawn_once_and_bound_to_the_history(w: SimpleNamespace) -> None:
    sign_off = signed(w, w.t(10))

    first = issue_day_sheet(sign_off, deed=make.deed(w.manager, at=w.t(10)))
    count = Entry.objects.count()
    again = issue_day_sheet(sign_off, deed=make.deed(w.deputy, at=w.t(90)))

    data = path_of(w.operator.pk, first.sha256).read_bytes()
    record = Entry.objects.get(log=w.operator.log, seq=first.seq).record
    assert again == first
    assert Entry.objects.count() == count
    assert sha256(data).hexdigest() == first.sha256 == record["act"]["sha256"]
    drawn_from = day_sheet_data(sign_off) | {"proof": {"why": str(UNSIGNED["no-key"])}}
    again_made = made(drawn_from, sign_off, None, photos=lambda _sha: None, at=w.t(10))
    assert again_made == data, "the same record, the same bytes"


def test_a_name_that_was_erased_is_named_so(w: SimpleNamespace) -> None:
    sign_off = signed(w, w.t(10))
    Disclosure.objects.filter(subject=w.technician.ref).delete()

    data = day_sheet_data(sign_off)

    assert data["places"][0]["sheets"][0]["signer"] == "name erased"
    assert "Tarik Oben" not in str(data)
    assert draw_day_sheet(data, photos=lambda _sha: None).startswith(b"%PDF")


def test_a_second_revision_says_what_it_changed_and_since_when_a_line_is_open(w: SimpleNamespace) -> None:
    signed(w, w.t(10))
    second = signed(w, w.t(15), line2="closed")

    data = day_sheet_data(second)

    assert data["revision"] == 2
    assert data["changes"] == ["Line 2 Line 2 is closed today."]
    assert data["lines"][0]["opened_at"] == "2026-06-15T05:40:00Z"
    assert data["lines"][1]["opened_at"] == ""
    assert data["lines"][1]["reasons"] == ["The manager's decision."]


def test_an_amendment_shows_both_values(w: SimpleNamespace) -> None:
    picture = make.picture(w, w.t(8))
    sheet = next(one for one in picture.sheets if one.section == "house")
    deed = make.deed(w.technician, at=w.t(8))
    draft = actions.draft_for(picture, w.house, "house", deed=deed, amends=sheet.pk)
    draft.content = {"WX-01@house": {"text": "5.5", "kept": "5.5"}}
    draft.save(update_fields=["content"])
    actions.sign_sheet(draft, meaning="I corrected it.", reason="Read from the wrong mast.", deed=deed)

    data = day_sheet_data(signed(w, w.t(10)))

    house = next(place for place in data["places"] if place["kind"] == "house")
    correction = next(one for one in house["sheets"] if one["amends"])
    assert correction["reason"] == "Read from the wrong mast."
    assert correction["readings"][0]["text"] == "5.5"
    assert correction["readings"][0]["before"] == next(
        one["text"] for one in house["sheets"][0]["readings"] if one["code"] == "WX-01"
    )


def test_the_tool_of_a_figure_stands_beside_it(w: SimpleNamespace) -> None:
    answers = make.answers(w, w.line, "landing", at=w.t(5))
    key = next(key for key, answer in answers.items() if "text" in answer)
    make.sign(w, w.line, "landing", at=w.t(5), answers={key: {**answers[key], "gauge": "rule 2"}})

    data = day_sheet_data(signed(w, w.t(10)))

    notes = [
        reading["note"]
        for place in data["places"]
        for sheet in place["sheets"]
        for reading in sheet["readings"]
        if reading["key"] == key
    ]
    assert "Measured with rule 2." in notes


def test_looking_up_names_takes_the_same_few_queries_for_a_day_of_any_length(w: SimpleNamespace) -> None:
    sign_off = signed(w, w.t(10))
    with CaptureQueriesContext(connection) as queries:
        data = day_sheet_data(sign_off)

    assert sum(len(place["sheets"]) for place in data["places"]) > 9
    assert len(queries) <= 10


def test_a_launch_card_for_each_open_line_and_none_for_a_closed_one(w: SimpleNamespace) -> None:
    sign_off = signed(w, w.t(10), line2="closed")
    deed = make.deed(w.manager, at=w.t(10))

    cards = issue_launch_cards(sign_off, deed=deed)

    assert [card.place_id for card in cards] == [w.lines[0].pk]
    text = text_of(cards[0])
    assert "35 – 115" in text
    assert "NO RIDERS" not in text
    assert issue_launch_cards(sign_off, deed=make.deed(w.manager, at=w.t(12))) == cards


def test_a_tag_is_drawn_once_its_number_is_known(w: SimpleNamespace) -> None:
    deed = make.deed(w.technician, at=w.t(10))
    entry = actions.take_out_of_service(
        make.picture(w, w.t(10)),
        w.line,
        title="Bumper torn",
        slot="primary-1",
        text="",
        photos=(),
        tag_number="",
        deed=deed,
    )
    finding = Finding.objects.select_related("course__operator__log").get(course=w.course, seq=entry.seq)
    with pytest.raises(Refused, match="number"):
        issue_tag(finding, deed=make.deed(w.technician, at=w.t(11)))
    actions.add_to_finding(
        make.picture(w, w.t(12)),
        finding,
        text="",
        photos=(),
        tag_number="0417",
        deed=make.deed(w.technician, at=w.t(12)),
    )
    finding = Finding.objects.select_related("course__operator__log").get(pk=finding.pk)

    tag = issue_tag(finding, deed=make.deed(w.technician, at=w.t(13)))

    text = text_of(tag)
    # 29 CFR 1910.147(c)(5)(iii), READ: the legend; (c)(5)(ii)(D): who applied it.
    assert "0417" in text
    assert "Do not operate" in text or "DO NOT OPERATE" in text
    assert "Tarik Oben" in text
    assert issue_tag(finding, deed=make.deed(w.manager, at=w.t(14))) == tag


def test_the_command_draws_what_is_missing_and_leaves_what_is_kept(w: SimpleNamespace) -> None:
    sign_off = signed(w, w.t(10))
    out = StringIO()

    call_command("write_day_sheet", "2026-06-15", stdout=out)
    drawn = {paper.pk: paper.sha256 for paper in Paper.objects.filter(sign_off=sign_off)}
    call_command("write_day_sheet", "2026-06-15", "--course", w.course.name, stdout=out)

    assert out.getvalue().count(": drawn,") == 3
    assert out.getvalue().count(": is kept,") == 3
    assert {paper.pk: paper.sha256 for paper in Paper.objects.filter(sign_off=sign_off)} == drawn
    with pytest.raises(CommandError, match="Nobody signed"):
        call_command("write_day_sheet", "2026-06-14", stdout=out)


def test_all_papers_of_a_signature_are_a_sheet_and_a_card_a_line(w: SimpleNamespace) -> None:
    papers = issue_papers(signed(w, w.t(10)), deed=make.deed(w.manager, at=w.t(10)))

    assert [paper.kind for paper in papers] == ["day_sheet", "launch_card", "launch_card"]
    assert [paper.number for paper in papers] == ["2026-06-15/1", "2026-06-15/1-1", "2026-06-15/1-2"]
