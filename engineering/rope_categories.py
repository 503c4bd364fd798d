"""What must be done when a rope fails: the three categories of 29 CFR 1926.1413(a)(4).

MEMORY (high) for the structure; READ-2 confirms only that the rope's use is prohibited until the corrective action
under (a)(4) is taken. For a zip line a criterion adopted by the course, see the set ``osha-1926-1413``.
"""

from __future__ import annotations

from collections.abc import Mapping

SOURCE = "29 CFR 1926.1413(a)(4)"
GOT = "MEMORY (high), READ-2 (use prohibited until corrected)"

_RULES = {
    1: "R-140 R-141 R-142 R-143 R-144",
    2: "R-101 R-102 R-103 R-104 R-105 R-106 R-120",
    3: "R-116 R-145 R-146",
}
CATEGORY: Mapping[str, int] = {rule: number for number, rules in _RULES.items() for rule in rules.split()}

CONSEQUENCES: Mapping[int, str] = {
    1: "Category I: a competent person decides at once whether it is a hazard. If it is, the rope is not used until it"
    " is replaced or, where the damage is localized, the damaged part is cut off.",
    2: "Category II: the rope is not used until it meets the maker's criteria for removal, is replaced or, where the"
    " damage is localized, the damaged part is cut off.",
    3: "Category III: the rope is not used until it is replaced or, where the damage is localized, it is cut off and"
    " only the undamaged part is used again.",
}
TAGGED = "Until the rope is repaired or replaced it is tagged out."


def category_of(rule_id: str) -> int | None:
    """Return the category of a rule of 29 CFR 1926.1413, ``None`` for any other rule.

    >>> category_of("R-146"), category_of("R-107")
    (3, None)
    """
    return CATEGORY.get(rule_id)
