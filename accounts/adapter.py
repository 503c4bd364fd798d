"""How people come in: invited by a manager, never by signing up."""

from typing import Any

from allauth.account.adapter import DefaultAccountAdapter
from django.http import HttpRequest


class ClosedAdapter(DefaultAccountAdapter):  # type: ignore[misc]
    def is_open_for_signup(self, request: HttpRequest) -> bool:
        return False

    def populate_username(self, request: HttpRequest, user: Any) -> None:
        """Users have no name to log in with but their address."""
