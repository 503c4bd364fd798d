"""``{{ sha256|grouped }}``: a check value in groups of eight, as one reads it aloud, so that it breaks on a phone."""

from __future__ import annotations

from django import template

register = template.Library()


@register.filter
def grouped(value: str) -> str:
    """Return a hash in groups of eight.

    >>> grouped("0123456789abcdef")
    '01234567 89abcdef'
    """
    return " ".join(value[start : start + 8] for start in range(0, len(value), 8))
