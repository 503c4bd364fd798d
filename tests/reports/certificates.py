"""Certificates for tests: one that somebody else issued, and others with one fault each."""

from __future__ import annotations

from datetime import datetime, timedelta

from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec, ed25519, rsa
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat, pkcs12
from cryptography.x509.oid import NameOID


def named(name: str) -> x509.Name:
    return x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, name)])


def certificate(
    name: str, key: ec.EllipticCurvePrivateKey | rsa.RSAPrivateKey, issuer: str,
    by: ec.EllipticCurvePrivateKey | rsa.RSAPrivateKey | ed25519.Ed25519PrivateKey, at: datetime, *, ca: bool = False,
    signing: bool = True,
) -> x509.Certificate:  # fmt: skip
    use = x509.KeyUsage(
        digital_signature=signing, content_commitment=signing, key_encipherment=not signing, data_encipherment=False,
        key_agreement=False, key_cert_sign=ca, crl_sign=ca, encipher_only=False, decipher_only=False,
    )  # fmt: skip
    return (
        x509.CertificateBuilder()
        .subject_name(named(name))
        .issuer_name(named(issuer))
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(at)
        .not_valid_after(at + timedelta(days=4000))
        .add_extension(x509.BasicConstraints(ca=ca, path_length=None), critical=True)
        .add_extension(use, critical=True)
        .sign(by, None if isinstance(by, ed25519.Ed25519PrivateKey) else hashes.SHA256())
    )


def exchanged(was: bytes, now: bytes, at: datetime) -> bytes:
    """A file whose certificate had some bytes exchanged: well formed on the outside, and odd within."""
    key = ec.generate_private_key(ec.SECP256R1())
    whole = certificate("Nobody", key, "Nobody", key, at).public_bytes(Encoding.DER)
    if whole.count(was) != 1 or len(was) != len(now):
        raise ValueError("the bytes do not stand there once")
    odd = x509.load_der_x509_certificate(whole.replace(was, now))
    return pkcs12.serialize_key_and_certificates(b"x", key, odd, None, NoEncryption())


def of_name(parts: list[x509.NameAttribute], at: datetime) -> bytes:
    """A self-made file whose certificate names whatever is given."""
    key = ec.generate_private_key(ec.SECP256R1())
    made = (
        x509.CertificateBuilder().subject_name(x509.Name(parts)).issuer_name(x509.Name(parts))
        .public_key(key.public_key()).serial_number(7).not_valid_before(at).not_valid_after(at + timedelta(days=9))
        .sign(key, hashes.SHA256())
    )  # fmt: skip
    return pkcs12.serialize_key_and_certificates(b"x", key, made, None, NoEncryption())


def issued(at: datetime, *, signing: bool = True) -> tuple[bytes, bytes]:
    """A PKCS#12 file with a key on P-256 that an authority vouches for, and the authority's certificate as PEM."""
    root, key = ec.generate_private_key(ec.SECP256R1()), ec.generate_private_key(ec.SECP256R1())
    authority = certificate("Larchfield Trust", root, "Larchfield Trust", root, at, ca=True)
    own = certificate("Fernhollow Zip Course Ltd", key, "Larchfield Trust", root, at, signing=signing)
    packed = pkcs12.serialize_key_and_certificates(b"x", key, own, [authority], NoEncryption())
    return packed, authority.public_bytes(Encoding.PEM)


def faulty(fault: str, at: datetime) -> bytes:
    """A file that cannot sign, for the reason of that code."""
    key = ec.generate_private_key(ec.SECP256R1())
    own = certificate("Nobody", key, "Nobody", key, at)
    if fault == "no-container":
        return key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
    if fault == "no-key":
        return pkcs12.serialize_key_and_certificates(b"x", None, own, None, NoEncryption())
    if fault == "use":
        return issued(at, signing=False)[0]
    if fault == "short":
        weak = rsa.generate_private_key(public_exponent=65537, key_size=1024)  # noqa: S505 - it is to be refused
        return pkcs12.serialize_key_and_certificates(
            b"x", weak, certificate("Nobody", weak, "Nobody", weak, at), None, NoEncryption()
        )
    if fault == "kind":
        other = ed25519.Ed25519PrivateKey.generate()
        return pkcs12.serialize_key_and_certificates(
            b"x", other, certificate("Nobody", other, "Nobody", other, at), None, NoEncryption()
        )
    if fault == "curve":
        odd = ec.generate_private_key(ec.SECP256K1())
        return pkcs12.serialize_key_and_certificates(
            b"x", odd, certificate("Nobody", odd, "Nobody", odd, at), None, NoEncryption()
        )
    raise KeyError(fault)
