"""What a day sheet's file is with another certificate, with none, with one that is no good: there is always a sheet.

Held to Poppler's pdfsig and OpenSSL; PDF/A to pikepdf, as in test_day_file.
"""

from __future__ import annotations

import asyncio
import json
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import datetime, timedelta
from hashlib import sha256
from io import BytesIO
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from django.urls import reverse
from pikepdf import pdfa
from pypdf import PdfReader

from courses.actions.files import path_of
from inspections import actions
from inspections.models import Paper, SignOff
from ledger.models import Entry
from reports import pdf_key
from reports.actions import issue_day_sheet
from reports.day_entries import day_entries
from reports.pdf_signing import signed
from tests import make
from tests.reports import day_file_reader as read
from tests.reports.certificates import issued
from tests.reports.paper_reader import letters, pages, tight


def opened(w: SimpleNamespace, at: datetime, **decided: str) -> SignOff:
    entry = make.open_lines(w, at=at, **decided)
    return SignOff.objects.select_related("day__course__operator__log").get(day__course=w.course, seq=entry.seq)


@pytest.fixture
def issue(w: SimpleNamespace, settings: Any, tmp_path: Path) -> Callable[..., bytes]:
    """``issue(p12, password)`` signs the day and returns the file of its sheet; without bytes nothing is set."""

    def issue(p12: bytes | None = None, password: str = "", at: int = 10) -> bytes:
        if p12 is not None:
            (tmp_path / "certificate.p12").write_bytes(p12)
            settings.PDF_KEY_FILE = str(tmp_path / "certificate.p12")
        settings.PDF_KEY_PASSWORD = password
        paper = issue_day_sheet(opened(w, w.t(at)), deed=make.deed(w.manager, at=w.t(at)))
        return path_of(w.operator.pk, paper.sha256).read_bytes()

    return issue


def test_a_certificate_of_somebody_else_is_named_with_its_issuer(
    w: SimpleNamespace, issue: Callable[..., bytes], tmp_path: Path
) -> None:
    p12, authority = issued(w.t(0))
    pdf = issue(p12)

    assert "successful" in read.openssl(pdf, authority, tmp_path)
    told = read.pdfsig(pdf, tmp_path)
    assert "Total document signed" in told
    assert "Signature is Valid" in told
    assert tight("the certificate of Fernhollow Zip Course Ltd, valid until") in letters(pdf)
    assert tight("Larchfield Trust issued it and vouches for that name, not for what the sheet says") in letters(pdf)
    # A signature on a curve would make it PDF 2.0 with the library's own way, which PDF/A-3 forbids (READ in the
    # dossier: rule 6.1.2-1 of ISO 19005-3).
    assert PdfReader(BytesIO(pdf)).root_object.get("/Version", "/1.7") == "/1.7"


def test_it_is_signed_within_a_running_loop_too(
    w: SimpleNamespace, issue: Callable[..., bytes], tmp_path: Path
) -> None:
    """As under a server that answers in one: loops of asyncio do not nest."""
    pdf, key = issue(), pdf_key.read(issued(w.t(0))[0], "")

    async def within() -> bytes:
        return signed(pdf, key, at=w.t(10), reason="Drawn.", location="Here")

    with ThreadPoolExecutor(1) as apart:  # the browser's tests have a loop in this thread
        made = apart.submit(asyncio.run, within()).result()
    assert "Signature is Valid" in read.pdfsig(made, tmp_path)


def test_an_amended_day_makes_a_new_file_and_leaves_the_old_one(
    w: SimpleNamespace, issue: Callable[..., bytes]
) -> None:
    first = issue()
    second = issue(at=15)

    papers = Paper.objects.filter(course=w.course, kind=Paper.Kind.DAY_SHEET).order_by("seq")
    assert [one.sha256 for one in papers] == [sha256(first).hexdigest(), sha256(second).hexdigest()]
    assert path_of(w.operator.pk, papers[0].sha256).read_bytes() == first
    before, after = (read.attached(one)["entries.jsonl"] for one in (first, second))
    assert after.startswith(before)
    assert [json.loads(line)["kind"] for line in after[len(before) :].splitlines()] == ["paper", "sign-off"]


def test_what_is_entered_the_day_after_is_attached_only_where_it_is_about_the_day(
    w: SimpleNamespace, issue: Callable[..., bytes]
) -> None:
    issue()
    next_day = 24 * 60
    actions.call_hold(make.picture(w, w.t(next_day)), None, cause="thunder", deed=make.deed(w.guide, at=w.t(next_day)))
    signed = SignOff.objects.select_related("day__course__operator__log").get()
    last = Entry.objects.filter(log=w.operator.log).latest("seq")
    assert last.kind == "hold"
    signed.seq = last.seq  # as if the day had been signed after it

    found = day_entries(signed, None)
    kinds = [json.loads(line)["kind"] for line in found.files[0].content.splitlines()]
    assert kinds[-1] == "paper", "its own day's paper, and no hold of the day after"


def test_a_day_of_too_many_entries_says_so_and_attaches_none(
    issue: Callable[..., bytes], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("reports.day_entries.MOST_BYTES", 5000)
    pdf = issue()
    assert read.attached(pdf) == {}
    assert tight("too many to be attached; they are in the record.") in letters(pdf)
    assert pdfa.validate_written(BytesIO(pdf), "3b").passed


def test_without_a_certificate_it_is_unsigned_and_says_so(issue: Callable[..., bytes], tmp_path: Path) -> None:
    pdf = issue()

    assert pdfa.validate_written(BytesIO(pdf), "3b").passed
    assert "entries.jsonl" in read.attached(pdf)
    assert "state.txt" not in read.attached(pdf), "no state is signed"
    assert "does not contain any signatures" in read.pdfsig(pdf, tmp_path)
    assert tight("The file is not signed: no certificate is set on the server.") in letters(pdf)


@pytest.mark.parametrize(
    ("trouble", "why"),
    [
        ("password", "The password for the file of its certificate is wrong"),
        ("missing", "The file of its certificate cannot be read."),
        ("expired", "Its certificate has expired."),
        ("early", "Its certificate is not valid yet."),
    ],
)
def test_a_certificate_that_is_no_good_stops_no_day_but_is_told(
    w: SimpleNamespace,
    issue: Callable[..., bytes],
    settings: Any,
    tmp_path: Path,
    caplog: pytest.LogCaptureFixture,
    trouble: str,
    why: str,
) -> None:
    if trouble == "missing":
        settings.PDF_KEY_FILE = str(tmp_path / "nowhere.p12")
        pdf = issue()
    elif trouble == "password":
        pdf = issue(issued(w.t(0))[0], "wrong")
    else:
        pdf = issue(issued(w.t(0) - timedelta(days=4001 if trouble == "expired" else -1))[0])

    assert tight(f"The file could NOT be signed. {why}") in letters(pdf)
    assert "does not contain any signatures" in read.pdfsig(pdf, tmp_path)
    assert "entries.jsonl" in read.attached(pdf)
    assert pdfa.validate_written(BytesIO(pdf), "3b").passed
    assert "Day sheets are not signed as files" in caplog.text
    assert SignOff.objects.filter(day__course=w.course).count() == 1


def test_a_program_that_fails_to_sign_leaves_the_sheet_and_says_so(
    w: SimpleNamespace, issue: Callable[..., bytes], monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def broken(key: Any) -> Any:
        raise RuntimeError("no such thing")

    monkeypatch.setattr("reports.pdf_signing._signer", lambda: broken)
    pdf = issue(issued(w.t(0))[0])

    assert tight("The file could NOT be signed. The program that signs it failed.") in letters(pdf)
    assert tight("is signed with") not in letters(pdf)
    assert "no such thing" in caplog.text
    assert pdfa.validate_written(BytesIO(pdf), "3b").passed


def test_a_sheet_that_does_not_become_pdf_a_is_kept_as_it_was_drawn(
    w: SimpleNamespace, issue: Callable[..., bytes], monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    monkeypatch.setattr("reports.papers.archive.LEVEL", "9z")  # of which the library knows nothing
    pdf = issue(issued(w.t(0))[0])

    assert tight("could not be made to last (PDF/A), and nothing is attached to it.") in letters(pdf)
    assert read.attached(pdf) == {}
    assert b"/ByteRange" not in pdf
    assert "did not become PDF/A" in caplog.text


def test_the_last_sheets_in_one_file_carry_no_signature_that_would_be_called_broken(
    w: SimpleNamespace, issue: Callable[..., bytes], as_one: Any, tmp_path: Path
) -> None:
    pdf = issue(issued(w.t(0))[0])
    assert "Signature is Valid" in read.pdfsig(pdf, tmp_path)
    copy = as_one("auditor").get(reverse("reports:last_sheets", args=[w.course.pk])).content

    assert "does not contain any signatures" in read.pdfsig(copy, tmp_path)
    assert "/AcroForm" not in PdfReader(BytesIO(copy)).root_object
    assert pages(copy) == pages(pdf)
