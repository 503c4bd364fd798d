"""``{% load keep %}{% who %}``: hidden fields that let a form come back after a log-in; see ``accounts.keep``."""

from __future__ import annotations

from typing import Any

from django import template
from django.utils.html import format_html

from accounts.keep import PAGE, WHO, signed

register = template.Library()


@register.simple_tag(takes_context=True)
def who(context: Any) -> str:
    """Say whom the form is shown to, and on which page; nothing before a log-in."""
    request = context.get("request")
    user = getattr(request, "user", None)
    if request is None or user is None or not user.is_authenticated:
        return ""
    # A form that is shown again with its errors belongs to the page where it stood first.
    page = request.POST.get(PAGE) if request.method == "POST" else None
    return format_html(
        '<input type="hidden" name="{}" value="{}"><input type="hidden" name="{}" value="{}">',
        WHO, signed(user.ref), PAGE, page or request.get_full_path(),
    )  # fmt: skip
