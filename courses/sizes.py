"""Which sizes are kept of which kind of component: quantities of ``engineering/criteria/QUANTITIES.md``."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext_lazy

from courses.models import Component

L = gettext_lazy
K = Component.Kind
SIZES = {"nominal": L("When new"), "baseline": L("Baseline of this very part"), "reference": L("Reference value")}


@dataclass(frozen=True)
class Figure:
    """One quantity of which a component keeps sizes: the facts that the criteria ask for."""

    quantity: str
    label: Any
    unit: str
    sizes: tuple[str, ...]


_SECTION = Figure("hardware.section", L("Section of the hardware"), "mm", ("nominal",))
FIGURES: dict[str, tuple[Figure, ...]] = {
    K.CABLE: (
        Figure("rope.diameter", L("Diameter"), "mm", ("nominal", "baseline")),
        Figure("rope.tension", L("Tension"), "kN", ("reference",)),
        Figure("rope.sag", L("Sag at mid-span"), "m", ("reference",)),
    ),
    K.TERMINATION: (
        Figure("tail.length", L("Tail behind the last clip or sleeve"), "mm", ("baseline",)),
        _SECTION,
    ),
    K.BRAKE: (
        Figure("brake.bore", L("Bore of the brake block"), "mm", ("nominal",)),
        Figure("retraction.time", L("Time of self-retraction"), "s", ("reference",)),
    ),
    K.ROPE: (Figure("brake.bore", L("Bore of the brake block"), "mm", ("nominal",)),),
    K.SPRING: (Figure("spring.free_length", L("Free length of a spring"), "mm", ("baseline",)),),
    K.CORD: (Figure("cord.free_length", L("Free length of the cord"), "mm", ("baseline",)),),
    K.TROLLEY: (Figure("trolley.spin_time", L("Spin-down time"), "s", ("reference",)),),
    K.OTHER: (
        _SECTION,
        Figure("guy.tension", L("Tension of the guy"), "kN", ("reference",)),
        Figure("structure.lean", L("Lean"), "mm", ("baseline",)),
    ),
}
WITH_CERTIFICATE = frozenset({K.CABLE, K.ROPE})
WITH_CYCLES = frozenset({K.CORD, K.SPRING, K.BRAKE, K.TROLLEY})


def words() -> dict[str, str]:
    """Return what the quantities are called of which a component keeps a size, and the unit of each (``unit:NAME``)."""
    found: dict[str, str] = {}
    for figure in (figure for rows in FIGURES.values() for figure in rows):
        found |= {figure.quantity: str(figure.label), f"unit:{figure.quantity}": figure.unit}
    return found
