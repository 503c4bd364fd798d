"""Whether plain figures can be computed with: there, finite, above nought."""

from __future__ import annotations

import math
from collections.abc import Callable

from engineering.refusal import Refusal, refuse


def positive(**figures: float) -> Refusal | None:
    """Return why one of the figures is missing, or not above nought and finite; ``None`` if all are.

    >>> print(positive(span=-3.0).sentence)
    A figure is not possible here: span is -3.
    """
    return finite(**figures) or _first(lambda value: value > 0.0, figures)


def finite(**figures: float) -> Refusal | None:
    """Return why one of the figures is missing or not finite; ``None`` if all are."""
    for value in figures.values():
        if value is None or math.isnan(value):
            return refuse("figure-missing")
    return _first(math.isfinite, figures)


def _first(good: Callable[[float], bool], figures: dict[str, float]) -> Refusal | None:
    for name, value in figures.items():
        if not good(value):
            return refuse("figure-impossible", name=name.replace("_", " "), value=value)
    return None
