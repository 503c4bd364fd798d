"""``{% mark state %}``: shape and word of a state, drawn once for each and then remembered.

A page of history shows hundreds of them; including the partial for every one would be half of its time.
"""

from __future__ import annotations

from functools import lru_cache

from django import template
from django.template.loader import render_to_string
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import get_language

register = template.Library()


@register.simple_tag
def mark(state: str, word: str = "") -> SafeString:
    """Return ``ui/_mark.html`` for a state. ``word`` says it in another word than its own."""
    return _drawn(str(state), str(word), get_language())


@lru_cache(maxsize=512)
def _drawn(state: str, word: str, language: str | None) -> SafeString:
    return mark_safe(render_to_string("ui/_mark.html", {"state": state, "word": word}).strip())  # noqa: S308 - our own
