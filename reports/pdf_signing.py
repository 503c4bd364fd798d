"""A PDF file signed as PAdES B-B (ETSI EN 319 142-1, not read; made by pyHanko), and whether a signature covers it all.

The signature is the operator's, made by the server: it shows whether the file was changed since. It is no person's
signature and no proof of when: the history and its signed states are that.
"""

from __future__ import annotations

import asyncio
import re
from concurrent.futures import ThreadPoolExecutor
from datetime import datetime
from functools import cache
from io import BytesIO
from typing import Any

from cryptography import x509
from cryptography.hazmat.primitives.serialization import Encoding

from reports.pdf_key import PdfKey

FIELD = "DaySheet"
_RANGE = re.compile(rb"/ByteRange\s*\[\s*(\d+)\s+(\d+)\s+(\d+)\s+(\d+)\s*\]")


class NotSigned(Exception):
    """The file could not be signed; the message says why."""


def signed(pdf: bytes, key: PdfKey, *, at: datetime, reason: str, location: str) -> bytes:
    """Return a PDF with a signature appended to it. Raises NotSigned, PdfKeyError where the certificate is not valid.

    ``at`` is written into the file as the time that the signer claims.
    """
    key.check(at)
    try:
        signer = _pdf_signer()(_signer()(key), at=at, reason=reason, location=location, name=key.name)
        # A loop of its own in a thread of its own: whoever calls may be in one already, and two do not nest.
        with ThreadPoolExecutor(1) as apart:
            out: bytes = apart.submit(asyncio.run, signer.async_sign_pdf(_writer()(BytesIO(pdf)))).result().getvalue()
    except Exception as error:
        # Whatever a library of that size raises: the day sheet is kept without it, and it is told.
        raise NotSigned(f"{type(error).__name__}: {error}") from error
    if not covers_all(out):
        raise NotSigned("what was written is not signed as a whole")
    return out


def covers_all(pdf: bytes) -> bool:
    """Tell whether the last signature of a PDF is over all of it, but for the place of the signature itself.

    An addition after the signature leaves its digest whole, and programs call it valid: this is what shows it.
    """
    found = _RANGE.findall(pdf)
    if not found:
        return False
    first, before, second, after = map(int, found[-1])
    gap = pdf[before:second]
    return first == 0 and second + after == len(pdf) and re.fullmatch(rb"<[0-9A-Fa-f]+>", gap) is not None


# pyHanko is imported when the first sheet is signed: that takes 0.4 s, which no other page has to wait for.


@cache
def _writer() -> Any:
    from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter

    class UndescribedWriter(IncrementalPdfFileWriter):
        def _update_meta(self) -> None:
            # The library would write its own name and the clock's time into what PDF/A says of the file.
            return

    return UndescribedWriter


@cache
def _signer() -> Any:
    """The library's signer over a key that is loaded already: its own loads and checks the key twice a signature."""
    from asn1crypto import x509 as asn1
    from pyhanko.sign.signers import Signer
    from pyhanko_certvalidator.registry import SimpleCertificateStore

    def taken(certificate: x509.Certificate) -> Any:
        return asn1.Certificate.load(certificate.public_bytes(Encoding.DER))

    class KeySigner(Signer):
        def __init__(self, key: PdfKey) -> None:
            self._key = key
            store = SimpleCertificateStore()
            store.register_multiple([taken(one) for one in key.others])
            super().__init__(signing_cert=taken(key.certificate), cert_registry=store)

        async def async_sign_raw(self, data: bytes, digest_algorithm: str, dry_run: bool = False) -> bytes:
            return bytes(self._key.signature_bytes) if dry_run else self._key.sign(data)

    return KeySigner


@cache
def _pdf_signer() -> Any:
    from pyhanko.sign import fields
    from pyhanko.sign.signers import PdfSignatureMetadata, PdfSigner, constants

    class DaySheetSigner(PdfSigner):
        def __init__(self, by: Any, *, at: datetime, **about: Any) -> None:
            meta = PdfSignatureMetadata(
                field_name=FIELD, md_algorithm="sha256", subfilter=fields.SigSeedSubFilter.PADES, **about
            )
            super().__init__(meta, by, new_field_spec=fields.SigFieldSpec(FIELD))
            self._at = at

        def init_signing_session(self, *args: Any, **keywords: Any) -> Any:
            session = super().init_signing_session(*args, **keywords)
            session.system_time = self._at  # the library would ask the clock
            return session

        def register_extensions(self, pdf_out: Any, *, md_algorithm: str) -> None:
            # For keys on elliptic curves the library declares the file PDF 2.0, and PDF/A-3 is PDF 1.7.
            pdf_out.ensure_output_version(version=(1, 7))
            pdf_out.register_extension(constants.ESIC_EXTENSION_1)

    return DaySheetSigner
