"""The only way a view comes by an operator: a stranger gets 404, a colleague without the right 403."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from uuid import UUID

from django.core.exceptions import PermissionDenied
from django.http import Http404

from accounts import policy
from accounts.models import Operator
from accounts.policy import Right


def demand(user: Any, operator_id: UUID, right: Right, *, at: datetime) -> None:
    """Return if the person has the right; raise Http404 for a stranger, PermissionDenied for a colleague."""
    rights = policy.rights_of(user, operator_id, at=at)
    if not rights:
        raise Http404
    if right not in rights:
        raise PermissionDenied


def operator_for(user: Any, pk: UUID, right: Right, *, at: datetime) -> Operator:
    operator = Operator.objects.select_related("log").filter(pk=pk).first()
    if operator is None:
        raise Http404
    demand(user, operator.pk, right, at=at)
    return operator
