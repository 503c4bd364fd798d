"""From a request to a deed: who it is, how that person is known, and what makes sending it twice do it once."""

from __future__ import annotations

import uuid
from datetime import datetime
from typing import Any

from django.core.cache import cache
from django.core.exceptions import BadRequest
from django.http import HttpRequest
from django.utils.translation import gettext as _

from accounts.deeds import PASSWORD, SESSION, Deed
from accounts.errors import Refused
from accounts.signing import DEED_ID, signing_of

WRONG_TRIES = 5
SECONDS = 5 * 60


def deed(
    request: HttpRequest, *, at: datetime, id: uuid.UUID | None = None, made_at: datetime | None = None
) -> Deed:  # fmt: skip
    """Return an ordinary deed of the person logged in; without ``id`` it takes the form's (see ``deed_id_of``)."""
    return _deed(request, SESSION, at=at, id=id, made_at=made_at)


def deed_with_password(
    request: HttpRequest, password: str, *, at: datetime, id: uuid.UUID | None = None, made_at: datetime | None = None
) -> Deed:
    """Return a deed of a person who typed the password in this very request.

    Raises Refused as ``demand_password`` does. Call it outside of a transaction: one that is rolled back would forget
    the wrong try.
    """
    demand_password(request, password)
    return _deed(request, PASSWORD, at=at, id=id, made_at=made_at)


def demand_password(request: HttpRequest, password: str) -> None:
    """Refuse unless this is the password of the person logged in.

    Raises Refused with ``wrong-password``, or ``too-many-tries`` after five wrong ones in five minutes; then the right
    one is refused too.
    """
    # Each try holds one of five places in the cache that all processes share, and a right one gives it back. Taking a
    # place is one atomic step, so guesses sent at the same time do not slip by.
    place = next((key for key in _places(request) if cache.add(key, True, SECONDS)), None)
    if place is None:
        raise Refused("too-many-tries", _("Too many wrong passwords. Wait five minutes, then try once more."))
    if not request.user.check_password(password):
        raise Refused("wrong-password", _("This is not your password."))
    cache.delete(place)


def deed_id_of(request: HttpRequest) -> uuid.UUID:
    """Return the identity that the form's hidden field ``deed_id`` gave the deed; a fresh one where it has none."""
    given = request.POST.get(DEED_ID, "")
    if not given:
        return uuid.uuid4()
    try:
        return uuid.UUID(given)
    except ValueError:
        raise BadRequest("The identity of the deed cannot be read.") from None


def _deed(
    request: HttpRequest, how: str, *, at: datetime, id: uuid.UUID | None, made_at: datetime | None
) -> Deed:  # fmt: skip
    user: Any = request.user
    signing, signed_at = signing_of(request, at=at)
    return Deed(
        by=user, at=at, how=how, id=id or deed_id_of(request), made_at=made_at or signed_at, signing=signing
    )  # fmt: skip


def _places(request: HttpRequest) -> list[str]:
    return [f"proof:{request.user.pk}:{number}" for number in range(WRONG_TRIES)]
