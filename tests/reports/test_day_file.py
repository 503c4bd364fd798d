"""The file of a day sheet: PDF/A-3b with the day's entries attached, signed as PAdES B-B, told apart if touched.

Held to programs that had no part in making it: Poppler's pdfsig and pdftotext, OpenSSL's cms, qpdf and pypdf. What
pdfsig prints for good, changed and added-to files was found by trying them (READ in the dossier: its exit code is
always 0). PDF/A itself is checked by pikepdf alone, which also made it: veraPDF is not to be had here.
"""

from __future__ import annotations

import json
from base64 import b64decode, b64encode
from datetime import datetime, timedelta
from hashlib import sha256
from io import BytesIO
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from django.db import transaction
from django.test import override_settings
from pikepdf import pdfa
from pypdf import PdfReader, PdfWriter

from accounts.deeds import COMMAND, Deed
from accounts.log_keys import begin_log_key
from courses.actions.files import path_of
from inspections.models import SignOff
from ledger import log_key, notes, sealing
from ledger.models import Disclosure, Entry
from reports import pdf_key
from reports.actions import issue_day_sheet
from reports.pdf_signing import covers_all
from tests import make
from tests.reports import day_file_reader as read
from tests.reports.certificates import issued
from tests.reports.paper_reader import letters, pages, tight

KEY = b64encode(bytes(range(32))).decode()


@pytest.fixture
def kept(kept_once: SimpleNamespace, db: None) -> SimpleNamespace:
    """One day sheet with all that belongs to it; ``entries`` are the stored (number, leaf hash, bytes)."""
    return kept_once


@pytest.fixture(scope="module")
def kept_once(
    built: SimpleNamespace, django_db_blocker: Any, tmp_path_factory: pytest.TempPathFactory
) -> SimpleNamespace:
    """Drawn once for all; of the database nothing is left."""
    w, t = built, lambda minutes: built.at + timedelta(minutes=minutes)
    file = tmp_path_factory.mktemp("key") / "certificate.p12"
    file.write_bytes(pdf_key.made("Kestrel Hollow", at=t(0), since=t(0), password=""))
    with (
        django_db_blocker.unblock(),
        transaction.atomic(),
        override_settings(LOG_KEY=KEY, PDF_KEY_FILE=str(file), PDF_KEY_PASSWORD=""),
    ):
        begin_log_key(w.operator, log_key.read(KEY), deed=Deed(by=w.manager, at=t(5), how=COMMAND))
        other = make.course(w.operator, "Reed Marsh Lines", at=t(6))
        seq = make.open_lines(w, at=t(20)).seq
        sign_off = SignOff.objects.select_related("day__course__operator__log").get(day__course=w.course, seq=seq)
        paper = issue_day_sheet(sign_off, deed=make.deed(w.manager, at=t(21)))
        rows = Entry.objects.filter(log=w.operator.log).order_by("seq")
        found = SimpleNamespace(
            pdf=path_of(w.operator.pk, paper.sha256).read_bytes(),
            certificate=file.read_bytes(),
            sign_off=sign_off.seq,
            entries=[(one.seq, bytes(one.leaf_hash), bytes(one.data)) for one in rows],
            keys=[one.key for one in sealing.keys_of(w.operator.log)],
            private=[json.loads(one) for one in Disclosure.objects.values_list("value", flat=True)],
            paper=Entry.objects.get(log=w.operator.log, seq=paper.seq).record["act"],
            other=str(other.pk),
            people=[w.technician.name, w.manager.name],
        )
        transaction.set_rollback(True)
    return found


# --- signed


def test_it_is_signed_over_all_of_it(kept: SimpleNamespace, tmp_path: Path) -> None:
    told = read.pdfsig(kept.pdf, tmp_path)

    assert "Total document signed" in told
    assert "Signature is Valid" in told
    assert "ETSI.CAdES.detached" in told
    assert "CN=self-made: nobody vouches for this name,O=Kestrel Hollow" in told
    assert "Jun 15 2026" in told, "the time of the deed, not the server's clock"
    assert covers_all(kept.pdf)


def test_openssl_believes_it_of_the_one_certificate_and_of_no_other(kept: SimpleNamespace, tmp_path: Path) -> None:
    told = read.openssl(kept.pdf, read.pem(kept.certificate), tmp_path)
    assert "successful" in told, told

    another = read.pem(issued(datetime.fromisoformat("2026-06-01T00:00:00Z"))[0])
    assert "successful" not in read.openssl(kept.pdf, another, tmp_path)


def test_one_changed_byte_is_seen(kept: SimpleNamespace, tmp_path: Path) -> None:
    touched = bytearray(kept.pdf)
    touched[len(touched) // 2] ^= 1
    told = read.pdfsig(bytes(touched), tmp_path)

    assert "Digest Mismatch" in told
    assert "Signature is Valid" not in told
    assert "successful" not in read.openssl(bytes(touched), read.pem(kept.certificate), tmp_path)


def test_what_was_added_afterwards_is_seen_though_the_digest_stays_whole(kept: SimpleNamespace, tmp_path: Path) -> None:
    writer = PdfWriter(BytesIO(kept.pdf), incremental=True)
    writer.pages[0].rotate(180)
    out = BytesIO()
    writer.write(out)
    added = out.getvalue()
    assert added.startswith(kept.pdf)
    assert len(added) > len(kept.pdf)

    assert not covers_all(added)
    assert "successful" in read.openssl(added, read.pem(kept.certificate), tmp_path)
    assert "Not total document signed" in read.pdfsig(added, tmp_path)
    assert not covers_all(kept.pdf + b"%")
    assert not covers_all(read.before_signing(kept.pdf))


def test_its_hash_is_an_entry_of_the_record(kept: SimpleNamespace) -> None:
    assert kept.paper["sha256"] == sha256(kept.pdf).hexdigest()
    assert kept.paper["size"] == len(kept.pdf)


def test_it_says_who_vouches_for_the_name_and_who_does_not(kept: SimpleNamespace) -> None:
    last = tight("".join(pages(kept.pdf)[-2:]))

    fingerprint = sha256(pdf_key.read(kept.certificate, "").certificate.public_bytes(read.Encoding.DER)).hexdigest()
    assert tight("a certificate that this operator made for itself, valid until 14 June 2036") in last
    assert tight("nobody vouches for the name in it (Kestrel Hollow)") in last
    assert tight("the signatures of people are those above") in last
    assert fingerprint in last


# --- made to last


def test_it_passes_as_pdf_a_3b_before_it_is_signed_and_breaks_no_rule_after(
    kept: SimpleNamespace, tmp_path: Path
) -> None:
    assert pdfa.validate_written(BytesIO(read.before_signing(kept.pdf)), "3b").passed
    # Signed it is beyond what the check can judge; what it can judge breaks no rule.
    assert {one.kind for one in pdfa.validate_written(BytesIO(kept.pdf), "3b").findings} == {"unsupported"}
    path = tmp_path / "sheet.pdf"
    path.write_bytes(kept.pdf)
    told = read.told("qpdf", "--check", path)
    assert "No syntax or stream encoding errors found" in told
    assert "PDF Version: 1.7" in told
    assert tight("is made to last (PDF/A-3b)") in letters(kept.pdf)


def test_what_it_says_of_itself_is_of_the_time_of_the_deed_and_outlives_the_signature(kept: SimpleNamespace) -> None:
    before, after = PdfReader(BytesIO(read.before_signing(kept.pdf))), PdfReader(BytesIO(kept.pdf))
    assert before.xmp_metadata is not None
    assert after.xmp_metadata is not None

    assert after.xmp_metadata.stream.get_data() == before.xmp_metadata.stream.get_data()
    assert after.metadata == before.metadata
    assert b"<pdfaid:part>3</pdfaid:part>" in after.xmp_metadata.stream.get_data()
    assert after.xmp_metadata.xmp_metadata_date == datetime.fromisoformat(
        "2026-06-15T05:51:00"
    )  # 21 minutes after 7:30


def test_the_drawn_sheet_alone_would_not_pass(w: SimpleNamespace) -> None:
    """So that the test above says something: what reportlab writes lacks what PDF/A asks for."""
    from reports.papers.day_sheet import draw_day_sheet
    from reports.resolve import day_sheet_data

    signed = SignOff.objects.get(day__course=w.course, seq=make.open_lines(w, at=w.t(10)).seq)
    plain = draw_day_sheet(day_sheet_data(signed), photos=lambda _sha: None)
    assert not pdfa.validate_written(BytesIO(plain), "3b").passed


def test_a_photo_in_it_stands_in_the_way_of_nothing() -> None:
    from reports.papers.archive import Attached, archived
    from reports.papers.day_sheet import draw_day_sheet
    from tests.reports import papers_data

    data = papers_data.day_sheet(6)
    drawn = draw_day_sheet(data, photos=papers_data.photos)
    assert any(page.images for page in PdfReader(BytesIO(drawn)).pages)
    at = datetime.fromisoformat("2026-06-14T07:00:00Z")
    files = [Attached("entries.jsonl", b"{}\n", "application/x-ndjson", "")]
    made = archived(drawn, files, at=at)
    assert pdfa.validate_written(BytesIO(made), "3b").passed
    assert made == archived(drawn, files, at=at), "the same sheet, the same bytes"
    assert pages(made) == pages(drawn)


# --- the entries in it


def test_the_attached_lines_are_the_stored_entries_of_the_day(kept: SimpleNamespace) -> None:
    lines = read.attached(kept.pdf)["entries.jsonl"].split(b"\n")[:-1]
    stored = {data: (seq, leaf) for seq, leaf, data in kept.entries}

    for line in lines:
        assert sha256(b"\x00" + line).digest() == stored[line][1]  # RFC 6962: the hash of a leaf (from memory)
    numbers = [stored[line][0] for line in lines]
    assert numbers == sorted(numbers)
    assert numbers[-1] == kept.sign_off
    kinds = [json.loads(line)["kind"] for line in lines]
    assert {"sheet", "ride", "day-opened", "sign-off", "log-key"} <= set(kinds)
    assert not any(kept.other in line.decode() for line in lines), "another course of the operator"
    for seq, _leaf, data in kept.entries:
        if seq <= kept.sign_off and seq not in numbers:
            entry = json.loads(data)
            assert entry["t"] < "2026-06-15T01:00:00Z" or entry["act"].get("course", kept.other) == kept.other
    assert read.relations(kept.pdf) == {
        "entries.jsonl": ("/Source", "/application/x-ndjson"),
        "proof.json": ("/Data", "/application/json"),
        "state.txt": ("/Data", "/text/plain"),
    }


def test_whoever_has_the_file_and_the_key_ties_the_lines_to_the_signed_state(kept: SimpleNamespace) -> None:
    """Computed here with hashlib alone, by the recursive definition of RFC 6962 section 2.1 (from memory)."""
    files = read.attached(kept.pdf)
    proof = json.loads(files["proof.json"])
    signed, _by = notes.opened(files["state.txt"].decode(), kept.keys)
    origin, size, root = signed.split("\n")[:3]
    leaves = [bytes.fromhex(one) for one in proof["leaves"]]

    for number, line in zip(proof["entries"], files["entries.jsonl"].split(b"\n")[:-1], strict=True):
        assert sha256(b"\x00" + line).digest() == leaves[number - proof["first"]]
    assert json.loads(files["entries.jsonl"].split(b"\n")[0])["log"] in origin
    assert (proof["size"], proof["first"] + len(leaves)) == (int(size), int(size))
    before, left = {}, proof["first"]
    for node in proof["before"]:
        width = 1 << (left.bit_length() - 1)
        before[(proof["first"] - left, proof["first"] - left + width)] = bytes.fromhex(node)
        left -= width
    assert left == 0

    def over(low: int, high: int) -> bytes:
        if (low, high) in before:
            return before[(low, high)]
        if high - low == 1:
            return leaves[low - proof["first"]]
        middle = low + (1 << ((high - low - 1).bit_length() - 1))
        return sha256(b"\x01" + over(low, middle) + over(middle, high)).digest()

    assert over(0, int(size)) == b64decode(root)
    assert files["state.txt"].decode().split("\n")[2] in letters(kept.pdf), "the state that is printed above"


def test_no_name_and_no_note_stands_in_what_is_attached(kept: SimpleNamespace) -> None:
    names = [one["name"] for one in kept.private if isinstance(one, dict) and "name" in one]
    attached = b"\n".join(read.attached(kept.pdf).values()).decode()

    assert set(kept.people) <= set(names)
    for name in names:
        assert name not in attached
    for name in kept.people:
        assert tight(name) in letters(kept.pdf), "the sheet itself names them"
