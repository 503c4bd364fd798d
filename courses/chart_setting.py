"""What an engineer sets for the charts of a line's test rides, read from its mechanics. No database.

Which ballast is compared every morning, from which day what is usual is settled anew, and which mornings that is not
taken from; the last two with a reason. All of it stands in the line's mechanics, so that it needs a source and a second
person and counts from the next operating day: it moves what an alarm is measured by. A struck morning stays on the
chart where it comes after those that what is usual was taken from: no alarm can be struck away.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _


@dataclass(frozen=True)
class ChartSetting:
    """What is set for a line's charts; the ballast in kg, ``None`` where none is set. ``struck``: reason by day."""

    least_kg: float | None = None
    most_kg: float | None = None
    anew_on: date | None = None
    anew_why: str = ""
    struck: Mapping[date, str] = field(default_factory=dict)


def chart_setting_of(mechanics: Mapping[str, Any]) -> ChartSetting:
    """Return what the content of a line's mechanics sets for its charts."""
    chart = mechanics.get("chart") or {}
    return ChartSetting(
        float(chart["least_kg"]) if chart.get("least_kg") else None,
        float(chart["most_kg"]) if chart.get("most_kg") else None,
        date.fromisoformat(chart["anew_on"]) if chart.get("anew_on") else None,
        chart.get("anew_why", ""),
        {date.fromisoformat(one["on"]): one["why"] for one in mechanics.get("struck", ()) if {"on", "why"} <= set(one)},
    )


def chart_problem(mechanics: Mapping[str, Any]) -> str:
    """Return why the setting of the charts cannot be as it is entered; empty if it can."""
    chart = mechanics.get("chart") or {}
    least, most = chart.get("least_kg"), chart.get("most_kg")
    if bool(least) != bool(most):
        return _("The ballast that is compared needs its lightest and its heaviest weight.")
    if least and most and Decimal(least) > Decimal(most):
        return _("The heaviest weight of the ballast that is compared is below its lightest.")
    if bool(chart.get("anew_on")) != bool(chart.get("anew_why")):
        return _("What is usual is settled anew from a day and for a reason: give both.")
    struck = mechanics.get("struck", ())
    if any(set(one) != {"on", "why"} for one in struck):
        return _("A morning is left out by its day and for a reason: give both.")
    if len({one["on"] for one in struck}) != len(struck):
        return _("One morning is left out twice.")
    return ""
