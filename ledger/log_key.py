"""The private key that signs the states of the logs. It comes from the environment or a file, never from the database.

The key is 32 bytes in base64: one for the installation, which in each log has the log's own name. Who has it and the
database can make a second history; what shows that are copies of checkpoints kept elsewhere.
"""

from __future__ import annotations

import secrets
from base64 import b64decode, b64encode
from binascii import Error as NotBase64

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from django.conf import settings

SEED_BYTES = 32


class LogKeyError(ValueError):
    """What is set is no log key; the message says so in a sentence."""


def made() -> str:
    """Return a new key as text."""
    return b64encode(secrets.token_bytes(SEED_BYTES)).decode()


def read(text: str) -> Ed25519PrivateKey:
    """Return the private key in a text. Raises LogKeyError if there is none; the text itself is never repeated."""
    try:
        seed = b64decode(text.strip(), validate=True)
    except (ValueError, NotBase64):
        raise LogKeyError("The log key is not base64.") from None
    if len(seed) != SEED_BYTES:
        raise LogKeyError(f"The log key has {len(seed)} bytes; it must have {SEED_BYTES}.")
    return Ed25519PrivateKey.from_private_bytes(seed)


def configured() -> Ed25519PrivateKey | None:
    """Return the key that is set for this installation, None where none is. Raises LogKeyError."""
    return read(settings.LOG_KEY) if settings.LOG_KEY else None
