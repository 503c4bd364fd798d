"""Where signed states go: the witnesses that countersign them, and the addresses they are mailed to."""

from __future__ import annotations

from collections.abc import Sequence
from ipaddress import ip_address
from urllib.parse import SplitResult, urlsplit

from django.core.exceptions import ImproperlyConfigured, ValidationError
from django.core.validators import validate_email

from ledger.notes import COSIGNATURE, Key, NoteError
from ledger.witness.asking import Witness

LONGEST_NAME = 200
FORM = "LINEWORTHY_WITNESSES is PUBLIC-KEY@https://host/path, with commas between several"


def witnesses(listed: Sequence[str]) -> list[Witness]:
    """Return the witnesses in ``KEY@ADDRESS`` texts. Raises ImproperlyConfigured for what cannot be understood."""
    found: list[Witness] = []
    for text in listed:
        packed, at, url = text.rpartition("@")
        if not at:
            raise ImproperlyConfigured(f"{FORM}; {text!r} has no @.")
        try:
            key = Key.of(packed)
        except NoteError as error:
            raise ImproperlyConfigured(f"{FORM}; of {text!r}, {error}.") from None
        if key.kind != COSIGNATURE or len(key.name) > LONGEST_NAME:
            raise ImproperlyConfigured(f"{FORM}; {key.name!r} is not the key of a witness.")
        if any(one.key.name == key.name for one in found):
            raise ImproperlyConfigured(f"{FORM}; {key.name!r} stands twice.")
        found.append(Witness(key, _address(url)))
    return found


def addresses(listed: Sequence[str]) -> list[str]:
    """Return e-mail addresses, each once. Raises ImproperlyConfigured for what is none."""
    for text in listed:
        try:
            validate_email(text)
        except ValidationError:
            raise ImproperlyConfigured(f"LINEWORTHY_STATES_TO has {text!r}, which is no e-mail address.") from None
    return list(dict.fromkeys(listed))


def _address(url: str) -> str:
    """Return an address without its last slash. What is sent is no secret; who answers has to be who is meant."""
    try:
        parts = urlsplit(url)
        right = parts.port != 0 and bool(parts.hostname) and url.isascii() and url.isprintable() and " " not in url
    except ValueError:
        raise ImproperlyConfigured(f"{FORM}; {url!r} is not an address.") from None
    if not right or parts.scheme not in ("https", "http") or "?" in url or "#" in url:
        raise ImproperlyConfigured(f"{FORM}; {url!r} is not an address.")
    if parts.scheme == "http" and not _is_here(parts):
        raise ImproperlyConfigured(f"{FORM}; {url!r} is not https, and not on this machine.")
    if parts.path.rstrip("/").endswith("/add-checkpoint"):
        raise ImproperlyConfigured(f"{FORM}; leave /add-checkpoint off {url!r}, it is put there.")
    return url.rstrip("/")


def _is_here(parts: SplitResult) -> bool:
    try:
        return parts.hostname == "localhost" or ip_address(parts.hostname or "").is_loopback
    except ValueError:
        return False
