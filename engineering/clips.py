"""What the tables of wire rope clips ask for at one rope size. The tables themselves are criteria sets.

Tables of drop-forged and of malleable clips are never mixed: their torques differ up to fourfold at one size.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from engineering.bounds import Unknowable, bounds_of
from engineering.criteria import all_sets
from engineering.exact import exact_text
from engineering.rules import Rule
from engineering.units import INCH_MM


@dataclass(frozen=True)
class ClipTable:
    """One published table's row for a rope size; ``None`` where the table has no such column or ends before."""

    set_id: str
    title: str
    got: str
    count: int | None
    spacing_mm: Fraction | None
    turnback_mm: Fraction | None
    torque_nm: Fraction | None


def clip_tables(rope_diameter_mm: Fraction, clip_type: str) -> tuple[ClipTable, ...]:
    """Return the row of every table for clips of this type (drop_forged, malleable_en, other), in order of the sets.

    A size between two rows takes the larger row. Which table binds a course is the choice of its criteria sets, and the
    clip maker's own table comes before all of them.

    >>> [(table.set_id, table.count) for table in clip_tables(Fraction("19.05"), "drop_forged")]
    [('california-8497-clips', 4), ('table-h2-clips', 4)]
    """
    made = []
    for name in ("california-8497-clips", "en-13411-5-grips", "table-h2-clips"):
        one = all_sets()[name]
        rules = [rule for rule in one.rules if rule.table() and clip_type in rule.when.get("clip_type", (clip_type,))]
        counted = [rule for rule in rules if "clip.count" in rule.on]
        if not counted:
            continue
        count = _cell(counted, rope_diameter_mm)
        made.append(
            ClipTable(
                set_id=name,
                title=one.title,
                got=counted[0].got,
                count=None if count is None else int(count),
                spacing_mm=_cell([rule for rule in rules if "clip.spacing" in rule.on], rope_diameter_mm),
                turnback_mm=_cell([rule for rule in rules if "clip.turnback" in rule.on], rope_diameter_mm),
                torque_nm=_cell([rule for rule in rules if "clip.torque" in rule.on], rope_diameter_mm),
            )
        )
    return tuple(made)


def turnback_mm(table: ClipTable, clips: int) -> Fraction | None:
    """Return the turn-back for a number of clips: more than the table's need more in proportion (Cal. 8497, READ)."""
    if table.turnback_mm is None or not table.count:
        return None
    return table.turnback_mm * Fraction(max(clips, table.count), table.count)


def clips_by_rule_of_thumb(rope_diameter_mm: Fraction) -> int:
    """Return 3 D + 1 rounded up, D in inches (US Navy rigging text, READ-2, R-180). Weaker than the tables: to show.

    >>> clips_by_rule_of_thumb(Fraction("12.7")), clips_by_rule_of_thumb(Fraction("25.4"))
    (3, 4)
    """
    wanted = 3 * rope_diameter_mm / INCH_MM + 1
    return -(-wanted.numerator // wanted.denominator)


def _cell(rules: list[Rule], rope_diameter_mm: Fraction) -> Fraction | None:
    try:
        facts = {"rope_diameter": exact_text(rope_diameter_mm)}
        return bounds_of(rules[0], facts).low if rules else None
    except Unknowable:
        return None
