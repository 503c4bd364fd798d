"""The short addresses on labels: one for each part and each place, the same for as long as it exists.

An address names the thing by its random public identity and nothing else, so that whoever finds a label learns nothing.
"""

from __future__ import annotations

import re
from base64 import urlsafe_b64decode, urlsafe_b64encode
from uuid import UUID

LENGTH = 22  # letters for sixteen bytes
# What a camera reads off a label, wherever the server stands: the identity behind the last stroke.
ADDRESS = re.compile(r"https?://[^\s/]+/(?:[^\s?#]*/)?tag/([A-Za-z0-9_-]{22})/?")


def token_of(pk: UUID) -> str:
    """Return the identity of a part or a place as it stands in its address.

    >>> token_of(UUID("12345678-1234-5678-1234-567812345678"))
    'EjRWeBI0VngSNFZ4EjRWeA'
    """
    return urlsafe_b64encode(pk.bytes).decode().rstrip("=")


def pk_of(token: str) -> UUID | None:
    """Return the identity that an address names; None for what is none, or is written in another way than ours.

    >>> pk_of("EjRWeBI0VngSNFZ4EjRWeA") == UUID("12345678-1234-5678-1234-567812345678")
    True
    >>> pk_of("EjRWeBI0VngSNFZ4EjRWeB"), pk_of("x"), pk_of("")  # the last letter has four bits that say nothing
    (None, None, None)
    """
    if len(token) != LENGTH or not token.isascii():
        return None
    pk = UUID(bytes=urlsafe_b64decode(token + "=="))
    return pk if token_of(pk) == token else None


def scanned(text: str) -> UUID | None:
    """Return what a scanned text names where it is the address of a label, else None."""
    found = ADDRESS.fullmatch(text.strip())
    return pk_of(found[1]) if found else None
