"""What a person signs with a key of their own: an act of some kind, by ECDSA on P-256 with SHA-256 (ES256).

Signed are the bytes ``act/v1``, a newline, the kind of the entry, a newline, and the act in canonical form. The kind is
signed with it, so that the same words cannot be entered as another deed. A signature is r and s, 32 bytes each (the
form of WebCrypto, IEEE P1363); a public key is its uncompressed point, 65 bytes.
"""

from __future__ import annotations

from base64 import b64decode, b64encode
from binascii import Error as NotBase64
from hashlib import sha256
from typing import Any

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ec import ECDSA, SECP256R1, EllipticCurvePublicKey
from cryptography.hazmat.primitives.asymmetric.utils import encode_dss_signature
from cryptography.hazmat.primitives.hashes import SHA256

from ledger.chain import canonical

ALGORITHM = "es256"
POINT_BYTES, SIGNATURE_BYTES = 65, 64


def message(kind: str, act: dict[str, Any]) -> bytes:
    """Return the bytes that are signed."""
    return b"act/v1\n" + kind.encode("ascii") + b"\n" + canonical(act)


def proof_message(log: str, ref: str, public: str) -> bytes:
    """Return the bytes by which a new key says that it is there, for which person and which history."""
    return f"key/v1\n{log}\n{ref}\n{public}".encode()


def key_id(public: bytes) -> str:
    """Return by what a key is named in entries: the first 16 bytes of the SHA-256 of its point, in hex."""
    return sha256(public).hexdigest()[:32]


def point_of(text: str) -> bytes | None:
    """Return a public key from base64; None if it is no point of the curve."""
    found = _bytes_of(text, POINT_BYTES)
    try:
        return found if found and EllipticCurvePublicKey.from_encoded_point(SECP256R1(), found) else None
    except ValueError:
        return None


def is_signed(public: bytes, signature: str, over: bytes) -> bool:
    """Tell whether a signature in base64 is that of the key over these bytes."""
    raw = _bytes_of(signature, SIGNATURE_BYTES)
    if raw is None:
        return False
    half = SIGNATURE_BYTES // 2
    der = encode_dss_signature(int.from_bytes(raw[:half], "big"), int.from_bytes(raw[half:], "big"))
    try:
        EllipticCurvePublicKey.from_encoded_point(SECP256R1(), public).verify(der, over, ECDSA(SHA256()))
    except (InvalidSignature, ValueError):
        return False
    return True


def _bytes_of(text: str, size: int) -> bytes | None:
    try:
        raw = b64decode(text, validate=True)
    except (ValueError, NotBase64):
        return None
    # Else the last sign has bits that nobody reads, and the same signature could be written in several ways.
    return raw if len(raw) == size and b64encode(raw).decode() == text else None
