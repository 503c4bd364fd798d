"""Figures as they are stored: decimal strings, and what is none."""

from __future__ import annotations

from decimal import Decimal, InvalidOperation
from typing import Any


def number(value: Any) -> Decimal | None:
    """Return a stored decimal string as a number, or None where it is missing or none."""
    try:
        found = Decimal(str(value))
    except InvalidOperation:
        return None
    return found if found.is_finite() else None
