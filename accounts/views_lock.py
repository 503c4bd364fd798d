"""The idle lock of a phone: whether what was typed is the password of who is logged in."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, JsonResponse
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_POST

from accounts import proof
from accounts.errors import Refused


@sensitive_post_parameters("password")
@require_POST
def unlock(request: HttpRequest) -> JsonResponse:
    """Answer ``{"ok": reference}``, or ``{"refused": sentence}``; wrong ones count as everywhere (accounts.proof).

    The page says whom it was shown to. Where somebody else is logged in by now it has to be logged in again.
    """
    user: Any = request.user
    if request.POST.get("ref", user.ref) != user.ref:
        answer: dict[str, Any] = {"login": True}
    else:
        try:
            proof.demand_password(request, request.POST.get("password", ""))
            answer = {"ok": user.ref}
        except Refused as refused:
            answer = {"refused": refused.sentence}
    return JsonResponse(answer, headers={"Cache-Control": "no-store"})
