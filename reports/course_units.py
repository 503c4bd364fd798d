"""Figures of the mechanics in the units of a course: computed in SI, told and asked in metric or US units."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import cache

from django.utils.formats import number_format
from django.utils.translation import gettext as _

from courses.models import Course
from engineering.units import UNITS, convert, with_unit

# Unit of the computation and that of a US course, decimals told in each.
QUANTITIES = {
    "weight": (("kg", "lb"), (0, 0)),
    "speed": (("m/s", "mph"), (1, 1)),
    "length": (("m", "ft"), (0, 0)),
    "height": (("m", "ft"), (1, 0)),
    "travel": (("m", "ft"), (2, 1)),
    "temperature": (("degC", "degF"), (0, 0)),
    "area": (("m2", "ft2"), (3, 2)),
    "interval": (("m/s", "mph"), (2, 2)),
}


@cache
def _scale(quantity: str, unit: str) -> tuple[float, float]:
    """Return by what a figure of the computation is multiplied, and what is added: a drawing has thousands of them."""
    of_computation = QUANTITIES[quantity][0][0]
    nought, one = (convert(Fraction(value), of_computation, unit) for value in (0, 1))
    return float(one - nought), float(nought)


@dataclass(frozen=True)
class CourseUnits:
    """How a course writes figures; ``units`` is ``Course.units``."""

    units: str

    @property
    def is_us(self) -> bool:
        return self.units == Course.Units.US

    def name(self, quantity: str) -> str:
        """Return the unit's name in ``engineering.units``."""
        return QUANTITIES[quantity][0][self.is_us]

    def unit(self, quantity: str) -> str:
        """Return the unit as it is written behind a field.

        >>> CourseUnits("us").unit("temperature"), CourseUnits("metric").unit("weight")
        ('°F', 'kg')
        """
        return UNITS[self.name(quantity)].shown.strip()

    def own(self, quantity: str, value: float) -> float:
        """Return a figure of the computation in the course's unit.

        >>> round(CourseUnits("us").own("weight", 100.0), 3)
        220.462
        """
        factor, offset = _scale(quantity, self.name(quantity))
        return value * factor + offset

    def computed(self, quantity: str, value: Fraction) -> Fraction:
        """Return a figure in the course's unit as the computation takes it, exactly.

        >>> CourseUnits("us").computed("temperature", Fraction(59))
        Fraction(15, 1)
        """
        return convert(value, self.name(quantity), QUANTITIES[quantity][0][0])

    def number(self, quantity: str, value: float) -> str:
        """Return the figure as told, without its unit. Nought has no sign.

        >>> CourseUnits("metric").number("speed", -0.04)
        '0.0'
        """
        places = QUANTITIES[quantity][1][self.is_us]
        rounded = round(self.own(quantity, value), places)
        return str(number_format(rounded if rounded else 0.0, decimal_pos=places))

    def text(self, quantity: str, value: float) -> str:
        """Return the figure as told, with its unit.

        >>> CourseUnits("us").text("speed", 10.0)
        '22.4 mph'
        """
        return with_unit(self.number(quantity, value), self.name(quantity))

    def wind(self, head_mps: float) -> str:
        """Return a wind along the line in words, head wind positive."""
        figure = self.text("speed", abs(head_mps))
        if abs(self.own("speed", head_mps)) < 0.05:
            return _("no wind")
        if head_mps > 0:
            return _("%(speed)s head wind") % {"speed": figure}
        return _("%(speed)s tail wind") % {"speed": figure}
