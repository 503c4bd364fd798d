"""What blank sheets are drawn from: the items due today, with limit and last reading."""

from __future__ import annotations

from typing import Any

from inspections.limit_text import limit_of
from inspections.models import Verdict
from inspections.picture import Picture
from inspections.words import MARKS, section_label


def blank_sheets_data(picture: Picture) -> dict[str, Any]:
    """Return what ``reports.papers.blank_sheet.draw_blank_sheets`` draws, for the day of the picture."""
    setup, course = picture.setup, picture.course
    places = []
    for place in (*setup.houses, *setup.stores, *setup.platforms, *setup.lines):
        sheets = [
            {"label": section_label(section.name), "items": [_item(picture, place, item) for item in section.items]}
            for section in picture.sections(place)
            if section.items
        ]
        if sheets:
            places.append({"name": str(place), "kind": place.kind, "sheets": sheets})
    return {
        "course": {"name": course.name, "town": course.town, "tz": course.tz, "operator": course.operator.name},
        "date": picture.date.isoformat(),
        "paper": paper_size(course.units),
        "places": places,
        "trial": course.trial,
    }


def paper_size(units: str) -> str:
    return "letter" if units == "us" else "a4"


def _item(picture: Picture, place: Any, item: Any) -> dict[str, Any]:
    state = picture.states.get((place.pk, item["key"]))
    component = picture.component_of(place, item)
    found = {
        "code": item["text"] if item.get("gear") else item["code"],
        "text": item["look"] if item.get("gear") else item["text"],
        "look": "" if item.get("gear") else item.get("look", ""),
        "kind": item["kind"],
        "unit": "" if item["unit"] == "count" else item["unit"],
        "limit": "" if item.get("gear") else limit_of(picture, place, item),
        "component": component.tag if component else "",
    }
    if state is not None:
        found |= {
            "last": state.text or str(MARKS["sound"] if state.verdict == "ok" else Verdict(state.verdict).label),
            "last_on": state.day_date.isoformat(),
        }
    return found
