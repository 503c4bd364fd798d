"""The certificate that day sheets are signed with as PDF files: a PKCS#12 file on the server, never in the database.

Without one an operator can make one by itself: it shows that a file was not changed since, and names nobody whom a
stranger would have to believe. ``python manage.py pdf_key make``.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import lru_cache
from hashlib import sha256
from pathlib import Path

from cryptography import x509
from cryptography.exceptions import InvalidSignature, UnsupportedAlgorithm
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec, padding, rsa
from cryptography.hazmat.primitives.serialization import pkcs12
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID
from django.conf import settings
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as L

NOBODY = "self-made: nobody vouches for this name"
DOCUMENT_SIGNING = x509.ObjectIdentifier("1.3.6.1.5.5.7.3.36")  # RFC 9336, from memory
BITS, LEAST_BITS = 3072, 2048
DAYS = 3652  # ten years
MOST_SHOWN = 200  # letters of a name on a sheet
LONGEST_NAME = 64  # of one part of a name: ub-organization-name of RFC 5280, from memory

WHY = {
    "no-file": L("The file of its certificate cannot be read."),
    "no-container": L("The file of its certificate is of another kind than PKCS#12."),
    "password": L("The password for the file of its certificate is wrong, or the file is damaged."),
    "no-key": L("The file of its certificate holds no private key."),
    "no-certificate": L("The file of its certificate holds no certificate that belongs to its key."),
    "kind": L("The key of its certificate is of a kind that readers of PDF files do not know."),
    "short": L("The key of its certificate is too short."),
    "odd": L("The file of its certificate holds something that cannot be read."),
    "use": L("Its certificate is not meant for signing."),
    "early": L("Its certificate is not valid yet."),
    "expired": L("Its certificate has expired."),
}


class PdfKeyError(ValueError):
    """What is set cannot sign; ``code`` is of ``WHY``."""

    def __init__(self, code: str) -> None:
        super().__init__(str(WHY[code]))
        self.code = code


@dataclass(frozen=True)
class PdfKey:
    """A private key with its certificate, and the certificates that lead from it to whoever issued it."""

    private: rsa.RSAPrivateKey | ec.EllipticCurvePrivateKey
    certificate: x509.Certificate
    others: tuple[x509.Certificate, ...] = ()

    @property
    def name(self) -> str:
        return _said(self.certificate.subject)

    @property
    def issuer(self) -> str:
        return _said(self.certificate.issuer)

    @property
    def until(self) -> datetime:
        return self.certificate.not_valid_after_utc

    @property
    def fingerprint(self) -> str:
        """SHA-256 of the certificate, as programs show it."""
        return sha256(self.certificate.public_bytes(serialization.Encoding.DER)).hexdigest()

    @property
    def is_self_made(self) -> bool:
        """Whether nobody but the key itself stands behind the name."""
        try:
            self.certificate.verify_directly_issued_by(self.certificate)
        except (ValueError, TypeError, InvalidSignature):
            return False
        return True

    def check(self, at: datetime) -> None:
        """Raise PdfKeyError where nothing can be signed with it at an instant."""
        if at < self.certificate.not_valid_before_utc:
            raise PdfKeyError("early")
        if at > self.until:
            raise PdfKeyError("expired")

    def sign(self, data: bytes) -> bytes:
        """Return the bare signature of data over SHA-256."""
        if isinstance(self.private, rsa.RSAPrivateKey):
            return self.private.sign(data, padding.PKCS1v15(), hashes.SHA256())
        return self.private.sign(data, ec.ECDSA(hashes.SHA256()))

    @property
    def signature_bytes(self) -> int:
        """The length that a signature has at most."""
        octets = (self.private.key_size + 7) // 8
        return octets if isinstance(self.private, rsa.RSAPrivateKey) else 2 * octets + 16  # two numbers in DER


def read(data: bytes, password: str) -> PdfKey:
    """Read a PKCS#12 file. Raises PdfKeyError; neither password nor key is ever repeated in it."""
    try:
        found = pkcs12.load_pkcs12(data, password.encode() or None)
    except UnsupportedAlgorithm:
        raise PdfKeyError("kind") from None
    except ValueError as error:
        raise PdfKeyError(_misread(str(error))) from None
    except Exception:
        raise PdfKeyError("odd") from None
    private, own = found.key, found.cert
    if private is None:
        raise PdfKeyError("no-key")
    if own is None:
        raise PdfKeyError("no-certificate")
    if not isinstance(private, rsa.RSAPrivateKey | ec.EllipticCurvePrivateKey):
        raise PdfKeyError("kind")
    if isinstance(private, ec.EllipticCurvePrivateKey):
        if not isinstance(private.curve, ec.SECP256R1 | ec.SECP384R1 | ec.SECP521R1):
            raise PdfKeyError("kind")
    elif private.key_size < LEAST_BITS:
        raise PdfKeyError("short")
    key = PdfKey(private, own.certificate, tuple(one.certificate for one in found.additional_certs))
    if not _is_for_signing(key):
        raise PdfKeyError("use")
    return key


def _is_for_signing(key: PdfKey) -> bool:
    """Read all that is asked of a certificate later: parts of it are only read when they are asked for.

    Whatever the library raises for what it finds there (an extension twice, a name or time that is none): a certificate
    that cannot be read through stops neither a command nor a morning.
    """
    try:
        for part in ("name", "issuer", "until", "fingerprint", "is_self_made"):
            getattr(key, part)
        return _may_sign(key.certificate)
    except Exception:
        raise PdfKeyError("odd") from None


def _misread(error: str) -> str:
    # The library tells the cases apart in its words alone; what is not known here is called damaged.
    if "deserialize" in error:
        return "no-container"
    return "no-certificate" if "do not match" in error else "password"


def _may_sign(certificate: x509.Certificate) -> bool:
    """Tell whether the certificate's key usage, where it has one, is for signing."""
    try:
        use = certificate.extensions.get_extension_for_class(x509.KeyUsage).value
    except x509.ExtensionNotFound:
        return True
    return use.digital_signature or use.content_commitment


def configured() -> PdfKey | None:
    """Return what is set for this installation, None where nothing is. Raises PdfKeyError."""
    if not settings.PDF_KEY_FILE:
        return None
    path = Path(settings.PDF_KEY_FILE)
    try:
        stamp = path.stat()
        # Read again only when the file is another: an RSA key takes a tenth of a second to be read and checked.
        return _read_file(path, (stamp.st_mtime_ns, stamp.st_size, stamp.st_ino), settings.PDF_KEY_PASSWORD)
    except OSError:
        raise PdfKeyError("no-file") from None


@lru_cache(maxsize=1)
def _read_file(path: Path, stamp: tuple[int, int, int], password: str) -> PdfKey:
    return read(path.read_bytes(), password)


def made(name: str, *, at: datetime, since: datetime, password: str) -> bytes:
    """Return a new self-made certificate with its key as PKCS#12, encrypted where there is a password.

    ``name`` is the operator's, at most 64 letters; ``since`` is when the certificate begins. ValueError for a name
    that is too long.
    """
    if len(name) > LONGEST_NAME:
        raise ValueError(f"A name in a certificate has at most {LONGEST_NAME} letters.")
    private = rsa.generate_private_key(public_exponent=65537, key_size=BITS)
    parts = [x509.NameAttribute(NameOID.ORGANIZATION_NAME, name)] if name else []
    subject = x509.Name([*parts, x509.NameAttribute(NameOID.COMMON_NAME, NOBODY)])
    certificate = (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(subject)
        .public_key(private.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(since)
        .not_valid_after(at + timedelta(days=DAYS))
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_signing_only(), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.EMAIL_PROTECTION, DOCUMENT_SIGNING]), critical=False)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(private.public_key()), critical=False)
        .sign(private, hashes.SHA256())
    )
    kept = serialization.BestAvailableEncryption(password.encode()) if password else serialization.NoEncryption()
    return pkcs12.serialize_key_and_certificates(b"day sheets", private, certificate, None, kept)


def _signing_only() -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=True, content_commitment=True, key_encipherment=False, data_encipherment=False,
        key_agreement=False, key_cert_sign=False, crl_sign=False, encipher_only=False, decipher_only=False,
    )  # fmt: skip


def _said(name: x509.Name) -> str:
    """Return who a certificate names: organisation and common name, or all of it where it has neither."""
    parts: Iterable[x509.NameAttribute] = (
        *name.get_attributes_for_oid(NameOID.ORGANIZATION_NAME),
        *name.get_attributes_for_oid(NameOID.COMMON_NAME),
    )
    found = dict.fromkeys(str(part.value) for part in parts)
    if len(found) > 1:
        found.pop(NOBODY, None)  # beside a name that is given it is said in other words, wherever the name is said
    said = ", ".join(found) or name.rfc4514_string() or _("(no name)")
    return "".join(sign if sign.isprintable() else "?" for sign in said[:MOST_SHOWN])
