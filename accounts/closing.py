"""Close the log-in of somebody whose name is erased: what is left is the pseudonym that the history knows."""

from __future__ import annotations

from allauth.account.models import EmailAddress
from django.conf import settings
from django.contrib.admin.models import LogEntry
from django.contrib.contenttypes.models import ContentType
from django.utils import translation
from django.utils.translation import gettext as _

from accounts.models import User

NOWHERE = "erased.invalid"  # a name that is never given to a host (RFC 2606 section 2, from memory)


def is_closed_for_good(user: User) -> bool:
    """Tell whether name and address of a log-in were erased."""
    return user.email == _address(user)


def close_for_good(user: User) -> None:
    """Take name, address and password from a log-in, in the caller's transaction. Closed already: nothing happens.

    The row stays: versions and roles lead to it. Whoever is logged in by it is not any more.
    """
    if is_closed_for_good(user):
        return
    with translation.override(settings.LANGUAGE_CODE):
        user.name = _("name erased")
    user.email = _address(user)
    user.is_active = user.is_staff = user.is_superuser = False
    user.last_login = None
    user.set_unusable_password()
    user.save()
    EmailAddress.objects.filter(user=user).delete()
    about = ContentType.objects.get_for_model(User)
    LogEntry.objects.filter(content_type=about, object_id=str(user.pk)).update(object_repr=user.ref)


def _address(user: User) -> str:
    return f"{user.ref}@{NOWHERE}"
