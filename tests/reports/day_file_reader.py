"""Read a day sheet's file with programs that had no part in making it: Poppler, OpenSSL, qpdf, pypdf."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from io import BytesIO
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.serialization import Encoding
from cryptography.hazmat.primitives.serialization.pkcs12 import load_pkcs12
from pypdf import PdfReader

RANGE = re.compile(rb"/ByteRange ?\[ ?(\d+) (\d+) (\d+) (\d+) ?\]")


def told(*command: str | Path) -> str:
    """What a program says, whatever its exit code: pdfsig ends with 0 for a broken signature too."""
    if shutil.which(str(command[0])) is None:
        reason = f"{command[0]} is not on PATH."
        if os.environ.get("CI"):
            pytest.fail(reason)
        pytest.skip(reason)
    done = subprocess.run(list(command), capture_output=True, text=True, check=False)
    return done.stdout + done.stderr


def pdfsig(pdf: bytes, folder: Path) -> str:
    path = folder / "signed.pdf"
    path.write_bytes(pdf)
    return told("pdfsig", path)


def openssl(pdf: bytes, authority: bytes, folder: Path) -> str:
    """What OpenSSL says of the signature over its byte range, for somebody who trusts one certificate (PEM) alone."""
    begin, before, second, after = map(int, RANGE.findall(pdf)[-1])
    gap = pdf[before + 1 : second - 1].rstrip(b"0")
    (folder / "signature.der").write_bytes(bytes.fromhex(gap.decode() + "0" * (len(gap) % 2)))
    (folder / "content.bin").write_bytes(pdf[begin:before] + pdf[second : second + after])
    (folder / "authority.pem").write_bytes(authority)
    return told(
        "openssl", "cms", "-verify", "-binary", "-inform", "DER", "-in", folder / "signature.der", "-content",
        folder / "content.bin", "-CAfile", folder / "authority.pem", "-out", os.devnull,
    )  # fmt: skip


def attached(pdf: bytes) -> dict[str, bytes]:
    return {name: found[0] for name, found in PdfReader(BytesIO(pdf)).attachments.items()}


def relations(pdf: bytes) -> dict[str, tuple[str, str]]:
    """For each file that the catalog calls associated: its relationship and media type."""
    files = [one.get_object() for one in PdfReader(BytesIO(pdf)).root_object["/AF"]]
    return {one["/UF"]: (one["/AFRelationship"], one["/EF"]["/F"].get_object()["/Subtype"]) for one in files}


def before_signing(pdf: bytes) -> bytes:
    """The file as it was when the signature was appended: up to the end of its first revision."""
    return pdf[: pdf.index(b"%%EOF") + 6]


def pem(p12: bytes) -> bytes:
    found = load_pkcs12(p12, None).cert
    assert found is not None
    return found.certificate.public_bytes(Encoding.PEM)
