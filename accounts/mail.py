"""The mail that brings a person in: with the link to choose a password, or without it for those who have one."""

from __future__ import annotations

from typing import Any

from allauth.account.adapter import get_adapter
from allauth.account.forms import ResetPasswordForm
from django.http import HttpRequest

from accounts.models import Operator, User


def send_invitation(request: HttpRequest, operator: Operator, user: User) -> None:
    """Mail somebody who was given a first role; raises what the mail backend raises."""
    if user.has_usable_password():
        context: dict[str, Any] = {"user": user, "operator": operator, "by": request.user}
        get_adapter(request).send_mail("accounts/mail/added", user.email, context)
        return
    # The flow for a forgotten password, whose link is single-use and runs out; the adapter words it as an invitation.
    form = ResetPasswordForm(data={"email": user.email})
    if not form.is_valid():
        raise ValueError(f"an address that is in use already was not valid: {form.errors.as_text()}")
    form.save(request)
