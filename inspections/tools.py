"""Measuring tools: which ones the course names, and which one a person takes for a figure if nothing else is said."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from courses.models import Place
from courses.queries import Setup
from inspections.entries import act_of, gauges_of
from inspections.judging import Judged
from inspections.models import Sheet

MEASURED = {"figure", "pair"}  # what is counted needs no tool


@dataclass(frozen=True)
class Tools:
    """The tools to choose from on one person's sheet, and those taken the last time, by item key."""

    known: tuple[str, ...] = ()
    last: Mapping[str, str] = field(default_factory=dict)

    def shown(self, setup: Setup, judged: Judged, said: str | None = None) -> dict[str, Any]:
        """Return what the item shows of its tool; nothing for what is not measured.

        What was ``said`` on this sheet comes first, then the tool this person took last time, then the register's.
        """
        if judged.item["kind"] not in MEASURED:
            return {}
        register = register_gauge(setup, judged)
        taken = said if said is not None else self.last.get(judged.item["key"], "") or register
        choice = dict.fromkeys([*self.known, *([taken] if taken else [])])
        return {"gauge": taken, "gauges": tuple(choice), "first": register}


def tools_for(setup: Setup, place: Place, section: str, person: Any) -> Tools:
    """Return the tools for one person's sheet, in at most two queries."""
    newest = Sheet.objects.filter(place=place, section=section, signer_ref=person.ref).order_by("-seq").first()
    last = gauges_of(act_of(setup.course.operator.log, newest.seq)) if newest else {}
    return Tools(tools_of(setup), last)


def tools_of(setup: Setup) -> tuple[str, ...]:
    """Return every tool that the register names for the first figure of a part, in order of its name."""
    found = {
        str(figure["gauge"])
        for fitted in setup.fitted
        for figure in setup.component_data(fitted.component).get("figures", {}).values()
        if figure.get("gauge")
    }
    return tuple(sorted(found))


def register_gauge(setup: Setup, judged: Judged) -> str:
    """Return the tool with which the register's first figure was read; empty where it names none."""
    if judged.component is None:
        return ""
    figures = setup.component_data(judged.component).get("figures", {})
    return str(figures.get(judged.item.get("measures", ""), {}).get("gauge", ""))
