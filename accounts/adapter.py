"""How people come in: invited by a manager, never by signing up."""

from typing import Any

from allauth.account.adapter import DefaultAccountAdapter
from django.conf import settings
from django.http import HttpRequest

from accounts.keep import waiting_page
from accounts.models import Operator


class ClosedAdapter(DefaultAccountAdapter):  # type: ignore[misc]
    def is_open_for_signup(self, request: HttpRequest) -> bool:
        return False

    def populate_username(self, request: HttpRequest, user: Any) -> None:
        """Users have no name to log in with but their address."""

    def format_email_subject(self, subject: str) -> str:
        """Leave the subject as it is: the sender's address says who writes."""
        return str(subject)

    def get_login_redirect_url(self, request: HttpRequest) -> str:
        """Lead to a form that waits to be sent, where the log-in lost its own way there (say, by a new password)."""
        return waiting_page(request) or str(super().get_login_redirect_url(request))

    def send_password_reset_mail(self, user: Any, email: str, context: dict[str, Any]) -> None:
        """Word the mail as an invitation for somebody who never had a password."""
        context = {**context, "days": settings.PASSWORD_RESET_TIMEOUT // 86_400}
        if user.has_usable_password():
            self.send_mail("account/email/password_reset_key", email, context)
            return
        operators = Operator.objects.filter(roles__user=user).distinct().order_by("name")
        context["operators"] = ", ".join(operator.name for operator in operators)
        self.send_mail("accounts/mail/invitation", email, context)
