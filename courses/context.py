"""What every page of a course shows around itself: the course, the pages one may open, what waits."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.http import HttpRequest
from django.urls import NoReverseMatch, reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from accounts import policy
from accounts.policy import Right
from courses.models import Course, Version


def navigation(request: HttpRequest) -> dict[str, Any]:
    """Return ``course``, ``nav``, ``can``, ``pending_count`` and ``signer`` for a page under a course or an operator.

    At most two queries beside the person's roles, which the view asked for already; kept on the request.
    """
    kept: dict[str, Any] | None = getattr(request, "_navigation", None)
    if kept is None:
        kept = _navigation(request)
        request._navigation = kept  # type: ignore[attr-defined]
    return kept


def _navigation(request: HttpRequest) -> dict[str, Any]:
    match = getattr(request, "resolver_match", None)
    user = getattr(request, "user", None)
    if match is None or user is None or not user.is_authenticated:
        return {}
    course = _course(match.kwargs)
    if course is None:
        return {}
    can = policy.rights_of(user, course.operator_id, at=timezone.now())  # noqa: TID251 - a page is drawn for a moment
    if not can:
        return {}
    pending = (
        Version.objects.filter(course=course, confirmed_at__isnull=True, refused_at__isnull=True).count()
        if Right.CONFIRM in can
        else 0
    )
    signer = {"ref": user.ref, "log": course.operator.log_id, "operator": course.operator_id}
    return {
        "course": course, "nav": _items(course, can, match), "can": can, "pending_count": pending, "signer": signer,
    }  # fmt: skip


def _course(kwargs: dict[str, Any]) -> Course | None:
    courses = Course.objects.select_related("operator").filter(retired_at__isnull=True)
    if isinstance(kwargs.get("course"), UUID):
        return courses.filter(pk=kwargs["course"]).first()
    if isinstance(kwargs.get("operator"), UUID):
        return courses.filter(operator=kwargs["operator"]).order_by("name").first()
    return None


def _items(course: Course, can: frozenset[Right], match: Any) -> list[dict[str, Any]]:
    """Return the pages by rights; the first four are the phone's bottom bar."""
    pages = (
        (Right.SEE, "inspections:board", course.pk, _("Today")),
        (Right.INSPECT, "inspections:walk", course.pk, _("Walk")),
        (Right.SEE, "inspections:findings", course.pk, _("Findings")),
        (Right.READ_HISTORY, "reports:calendar", course.pk, _("History")),
        (Right.READ_SETUP, "courses:setup", course.pk, _("Set-up")),
        (Right.READ_PEOPLE, "accounts:people", course.operator_id, _("People")),
    )
    found = []
    for right, name, about, label in pages:
        if right not in can:
            continue
        try:
            url = reverse(name, args=[about])
        except NoReverseMatch:
            continue
        found.append({"url": url, "label": label, "active": _is_here(name, match)})
    return found


# Pages of another app's.
UNDER = dict.fromkeys(("reports:labels", "reports:label_sheet"), "courses:setup") | dict.fromkeys(
    ("reports:sign", "reports:sign_paper"), "inspections:board"
)


def _is_here(name: str, match: Any) -> bool:
    """Say whether a page belongs under this item: by its own name, or, for the set-up and the people, by its app."""
    if match.view_name in UNDER:
        return name == UNDER[match.view_name]
    if match.view_name == name:
        return True
    return match.namespace == name.partition(":")[0] and match.namespace in {"courses", "accounts", "reports"}
