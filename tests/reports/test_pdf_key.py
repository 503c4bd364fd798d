"""The certificate of the day sheets: what is refused is told in a sentence, and nothing of it stops a start."""

from __future__ import annotations

import io
import stat
import subprocess
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from cryptography import x509
from cryptography.hazmat.primitives.serialization import pkcs12
from cryptography.x509.oid import NameOID
from django.core.checks import run_checks
from django.core.management import CommandError, call_command

from reports import pdf_key
from tests.reports.certificates import exchanged, faulty, issued, of_name

AT = datetime(2026, 6, 15, 6, 0, tzinfo=UTC)
PASSWORD = "a password for tests"


@pytest.fixture(scope="module")
def own() -> bytes:
    """Made once: a key of 3072 bits takes a second."""
    return pdf_key.made("Kestrel Hollow", at=AT, since=AT, password=PASSWORD)


@pytest.fixture
def kept(tmp_path: Path, settings: Any) -> Path:
    settings.PDF_KEY_FILE, settings.PDF_KEY_PASSWORD = str(tmp_path / "certificate.p12"), ""
    return tmp_path / "certificate.p12"


def code(data: bytes, password: str = "") -> str:
    with pytest.raises(pdf_key.PdfKeyError) as refused:
        pdf_key.read(data, password)
    assert str(refused.value).endswith(".")
    return refused.value.code


def test_a_self_made_certificate_says_that_nobody_vouches_for_it(own: bytes) -> None:
    found = pdf_key.read(own, PASSWORD)

    assert found.is_self_made
    assert found.name == "Kestrel Hollow"
    assert "CN=self-made: nobody vouches for this name" in found.certificate.subject.rfc4514_string()
    assert found.private.key_size == 3072
    assert found.until - AT == timedelta(days=3652)  # ten years with two or three leap days
    uses = found.certificate.extensions.get_extension_for_class(x509.ExtendedKeyUsage).value
    # id-kp-emailProtection of RFC 5280 and id-kp-documentSigning of RFC 9336, both from memory.
    assert {use.dotted_string for use in uses} == {"1.3.6.1.5.5.7.3.4", "1.3.6.1.5.5.7.3.36"}
    assert not found.certificate.extensions.get_extension_for_class(x509.BasicConstraints).value.ca


def test_it_is_no_good_before_and_after_its_time(own: bytes) -> None:
    found = pdf_key.read(own, PASSWORD)
    found.check(AT)
    found.check(found.until)
    for at, expected in ((AT - timedelta(seconds=1), "early"), (found.until + timedelta(seconds=1), "expired")):
        with pytest.raises(pdf_key.PdfKeyError) as refused:
            found.check(at)
        assert refused.value.code == expected


def test_a_certificate_of_somebody_else_names_who_issued_it() -> None:
    found = pdf_key.read(issued(AT)[0], "")

    assert not found.is_self_made
    assert (found.name, found.issuer) == ("Fernhollow Zip Course Ltd", "Larchfield Trust")
    assert len(found.others) == 1


@pytest.mark.parametrize("fault", ["no-container", "no-key", "use", "short", "kind"])
def test_a_file_that_cannot_sign_is_refused_with_the_reason(fault: str) -> None:
    assert code(faulty(fault, AT)) == fault


def test_a_curve_that_readers_do_not_know_and_a_wrong_password_are_refused(own: bytes) -> None:
    assert code(faulty("curve", AT)) == "kind"
    assert code(own, "another") == "password"
    assert code(own) == "password"
    assert code(own[:-40], PASSWORD) in {"password", "no-container"}
    assert code(b"") == "no-container"


# The identifiers 2.5.29.15 (key usage) and 2.5.29.19 (basic constraints) of RFC 5280 in DER, from memory.
KEY_USAGE, CONSTRAINTS = bytes.fromhex("0603551d0f0101ff0404"), bytes.fromhex("0603551d130101ff")


@pytest.mark.parametrize(
    ("was", "now"),
    [
        (CONSTRAINTS, CONSTRAINTS.replace(b"\x13", b"\x0f")),  # an extension twice
        (KEY_USAGE + b"\x03", KEY_USAGE + b"\x04"),  # a use that is none
    ],
)
def test_a_certificate_that_cannot_be_read_through_is_refused_and_stops_no_command(
    was: bytes, now: bytes, kept: Path
) -> None:
    data = exchanged(was, now, AT)
    assert code(data) == "odd"
    kept.write_bytes(data)
    assert [one.id for one in run_checks(tags=["security"]) if one.id.startswith("config.W00")] == ["config.W002"]


def test_a_name_in_a_certificate_moves_no_text_about() -> None:
    hostile = ["Kestrel\x00 Hollow\n\u202eltd", *(letter * 60 for letter in "abcd")]
    parts = [x509.NameAttribute(NameOID.COMMON_NAME, one) for one in hostile]
    name = pdf_key.read(of_name(parts, AT), "").name
    assert name.startswith("Kestrel? Hollow??ltd, aaa")
    assert len(name) == 200
    assert pdf_key.read(of_name([], AT), "").name == "(no name)"


def test_a_key_is_read_once_and_again_when_the_file_is_another(
    own: bytes, kept: Path, settings: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    settings.PDF_KEY_PASSWORD = PASSWORD
    kept.write_bytes(own)
    loads: list[int] = []
    load = pkcs12.load_pkcs12

    def counted(*arguments: Any) -> Any:
        loads.append(1)
        return load(*arguments)

    monkeypatch.setattr(pdf_key.pkcs12, "load_pkcs12", counted)
    first = pdf_key.configured()
    assert pdf_key.configured() is first
    assert len(loads) == 1
    settings.PDF_KEY_PASSWORD = ""
    kept.write_bytes(issued(AT)[0])
    second = pdf_key.configured()
    assert second is not None
    assert second.name == "Fernhollow Zip Course Ltd"
    kept.unlink()
    with pytest.raises(pdf_key.PdfKeyError, match="cannot be read"):
        pdf_key.configured()


def test_the_command_writes_a_file_for_its_owner_alone_and_never_over_another(kept: Path, settings: Any) -> None:
    settings.PDF_KEY_PASSWORD = PASSWORD
    out = io.StringIO()
    call_command("pdf_key", "make", kept, "--name", "Kestrel Hollow", "--since", "2026-01-31", stdout=out)

    assert stat.S_IMODE(kept.stat().st_mode) == 0o600
    found = pdf_key.configured()
    assert found is not None
    assert found.certificate.not_valid_before_utc == datetime(2026, 1, 31, tzinfo=UTC)
    assert found.fingerprint in out.getvalue()
    assert "nobody else vouches for it" in out.getvalue()
    before = kept.read_bytes()
    with pytest.raises(CommandError, match="was not written"):
        call_command("pdf_key", "make", kept)
    assert kept.read_bytes() == before


def test_the_command_shows_what_is_set_and_says_what_is_wrong_with_it(kept: Path, settings: Any) -> None:
    out = io.StringIO()
    with pytest.raises(CommandError, match="cannot be read"):
        call_command("pdf_key", "show")
    kept.write_bytes(issued(datetime.now(UTC) - timedelta(days=5000))[0])
    with pytest.raises(CommandError, match="has expired"):
        call_command("pdf_key", "show", stdout=out)
    assert "Issued by: Larchfield Trust" in out.getvalue()
    settings.PDF_KEY_FILE = ""
    with pytest.raises(CommandError, match="No certificate is set"):
        call_command("pdf_key", "show")
    with pytest.raises(CommandError, match="at most 64 letters"):
        call_command("pdf_key", "make", kept.with_name("other"), "--name", "x" * 65)
    assert not kept.with_name("other").exists()


@pytest.mark.parametrize(
    ("began", "expected"),
    [(5000, ["config.W002"]), (3990, ["config.W003"]), (3000, []), (-2, ["config.W002"])],
    ids=["ended", "ends in ten days", "good", "not yet"],
)
def test_a_certificate_that_signs_nothing_is_told_at_the_start(kept: Path, began: int, expected: list[str]) -> None:
    kept.write_bytes(issued(datetime.now(UTC) - timedelta(days=began))[0])  # valid for 4000 days
    assert warned() == expected


def test_a_missing_file_and_a_wrong_password_are_told_and_none_at_all_is_not(
    own: bytes, kept: Path, settings: Any
) -> None:
    assert warned() == ["config.W002"]
    kept.write_bytes(own)
    assert warned() == ["config.W002"]
    settings.PDF_KEY_FILE = ""
    assert warned() == []


def warned() -> list[str]:
    return [one.id for one in run_checks() if one.id in {"config.W002", "config.W003"}]


def test_no_page_waits_for_what_only_a_day_sheet_needs() -> None:
    """pyHanko takes 0.4 s to import and pikepdf 0.2 s (measured); a process of its own shows what a start imports."""
    asked = (
        "import tests.settings, os, sys; os.environ['DJANGO_SETTINGS_MODULE'] = 'tests.settings'; import django;"
        "django.setup(); import config.urls; print({'pyhanko', 'pikepdf'} & set(sys.modules))"
    )
    root = Path(__file__).resolve().parents[2]
    done = subprocess.run([sys.executable, "-c", asked], cwd=root, capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "set()"
