"""Everything that changes the set-up of a course. Nothing else writes to the tables of this app."""

from courses.actions.files import store_bytes
from courses.actions.places import (
    add_component,
    add_place,
    change_course,
    fill_rack,
    fit,
    found_course,
    retire_component,
    retire_place,
    take_off,
)
from courses.actions.versions import confirm, propose, refuse

__all__ = [
    "add_component",
    "add_place",
    "change_course",
    "confirm",
    "fill_rack",
    "fit",
    "found_course",
    "propose",
    "refuse",
    "retire_component",
    "retire_place",
    "store_bytes",
    "take_off",
]
