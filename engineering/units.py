"""Units: what they measure, how they are written, and exact factors between them.

Factors are those of the SI and of the international yard and pound agreement of 1959 (1 in = 25.4 mm, 1 lb =
0.45359237 kg, both exact by definition) with standard gravity 9.80665 m/s2 (3rd General Conference on Weights and
Measures, 1901, exact by definition). All are exact, so a converted figure is as exact as the typed one.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

G_MPS2 = Fraction("9.80665")  # standard gravity, exact by definition
INCH_MM = Fraction("25.4")
POUND_KG = Fraction("0.45359237")
FOOT_M = Fraction("0.3048")
MPH_MPS = Fraction("0.44704")
LBF_N = POUND_KG * G_MPS2
# An inch of conventional mercury, 13 595.1 kg/m3 in standard gravity: 3386.388640341 Pa (ISO 80000-4, from memory).
INHG_PA = INCH_MM / 1000 * Fraction("13595.1") * G_MPS2


@dataclass(frozen=True)
class Unit:
    """One unit: its dimension, and ``base = value * factor + offset`` in the dimension's base unit."""

    name: str
    dimension: str
    factor: Fraction
    aliases: tuple[str, ...] = ()
    offset: Fraction = Fraction(0)
    label: str = ""

    @property
    def shown(self) -> str:
        """Return how the unit is written after a figure, with the space that belongs before it."""
        return self.label or f" {self.name}"


_TABLE = (
    Unit("mm", "length", Fraction("0.001")),
    Unit("cm", "length", Fraction("0.01")),
    Unit("m", "length", Fraction(1)),
    Unit("in", "length", INCH_MM / 1000, ("inch", "inches", '"', "″", "''")),
    Unit("ft", "length", FOOT_M, ("foot", "feet", "'", "′")),
    Unit("g", "mass", Fraction("0.001"), ("gram", "grams")),
    Unit("kg", "mass", Fraction(1), ("kgs", "kilo", "kilos")),
    Unit("lb", "mass", POUND_KG, ("lbs", "pound", "pounds")),
    Unit("N", "force", Fraction(1)),
    Unit("daN", "force", Fraction(10)),
    Unit("kN", "force", Fraction(1000)),
    Unit("lbf", "force", LBF_N),
    Unit("Nm", "torque", Fraction(1), ("N m", "N·m", "N*m", "Newton metre")),
    Unit("ft-lb", "torque", FOOT_M * LBF_N, ("ft lb", "ftlb", "ft·lb", "ft-lbf", "ft lbf", "lb-ft", "lbf-ft")),
    Unit("in-lb", "torque", INCH_MM / 1000 * LBF_N, ("in lb", "inlb", "in·lb", "in-lbf", "lbf-in")),
    Unit("m/s", "speed", Fraction(1), ("mps",)),
    Unit("km/h", "speed", Fraction(5, 18), ("kmh", "kph")),
    Unit("mph", "speed", MPH_MPS),
    Unit("kn", "speed", Fraction(1852, 3600), ("kt", "kts", "knots")),
    Unit("s", "time", Fraction(1), ("sec", "seconds")),
    Unit("min", "time", Fraction(60), ("minutes",)),
    Unit("h", "time", Fraction(3600), ("hours",)),
    Unit("deg", "angle", Fraction(1), ("°", "degrees"), label="°"),
    Unit("degC", "temperature", Fraction(1), ("°C", "C"), label=" °C"),
    Unit("degF", "temperature", Fraction(5, 9), ("°F", "F"), offset=Fraction(-160, 9), label=" °F"),
    Unit("g0", "acceleration", G_MPS2, ("g",), label=" g"),
    Unit("m/s2", "acceleration", Fraction(1), ("m/s²", "m/s^2")),
    Unit("kg/m", "mass per length", Fraction(1)),
    Unit("lb/ft", "mass per length", POUND_KG / FOOT_M, ("lbs/ft",)),
    Unit("N/m", "stiffness", Fraction(1)),
    Unit("N/mm", "stiffness", Fraction(1000)),
    Unit("kN/m", "stiffness", Fraction(1000)),
    Unit("lbf/in", "stiffness", LBF_N / (INCH_MM / 1000), ("lb/in", "lbs/in")),
    Unit("m2", "area", Fraction(1), ("m²", "sq m"), label=" m²"),
    Unit("ft2", "area", FOOT_M**2, ("ft²", "sq ft"), label=" ft²"),
    Unit("Pa", "pressure", Fraction(1)),
    Unit("hPa", "pressure", Fraction(100), ("mbar", "mb")),
    Unit("inHg", "pressure", INHG_PA, ("in Hg",)),
    Unit("1/K", "expansion", Fraction(1)),
    Unit("ppm/K", "expansion", Fraction(1, 10**6), ("ppm/°C", "ppm/C", "µm/m/K"), label=" ppm/K"),
    Unit("ppm/degF", "expansion", Fraction(9, 5) / 10**6, ("ppm/°F", "ppm/F"), label=" ppm/°F"),
    Unit("%", "share", Fraction(1), ("percent", "per cent"), label=" %"),
    Unit("count", "count", Fraction(1), label=""),
    Unit("1", "ratio", Fraction(1), label=""),
    Unit("-", "none", Fraction(1), label=""),
    Unit("days", "days", Fraction(1), ("day",)),
    Unit("months", "months", Fraction(1), ("month",)),
)
UNITS = {unit.name: unit for unit in _TABLE}
BARE = frozenset({"count", "1", "-"})  # written without a unit

# Written by some for one thing and by others for another; never guessed.
AMBIGUOUS = {
    "ton": "t of 1000 kg, long ton or short ton",
    "tons": "t of 1000 kg, long ton or short ton",
    "oz": "ounce of weight or of volume",
    "gal": "US or imperial",
    "kgf": "kg or kN",
    "kp": "kg or kN",
}


def unit_named(text: str, *, dimension: str) -> Unit | None:
    """Find the unit that was typed, first letter for letter, then without regard to capitals.

    A symbol that names units of two dimensions (``g``) is taken in the dimension asked for; otherwise the unit found is
    returned whatever its dimension, so that the caller can say why it does not fit.

    >>> unit_named("Inches", dimension="length").name, unit_named("kN", dimension="speed").name
    ('in', 'kN')
    """
    for fold in (False, True):
        wanted = text.lower() if fold else text
        found = [u for u in _TABLE if wanted in {n.lower() if fold else n for n in (u.name, *u.aliases)}]
        if found:
            fitting = [unit for unit in found if unit.dimension == dimension]
            return (fitting or found)[0]
    return None


def convert(value: Fraction, from_unit: str, to_unit: str) -> Fraction:
    """Convert exactly. Raises ``ValueError`` when the two units do not measure the same thing.

    >>> convert(Fraction("0.46"), "in", "mm") == Fraction("11.684")
    True
    >>> convert(Fraction(212), "degF", "degC")
    Fraction(100, 1)
    """
    source, target = UNITS[from_unit], UNITS[to_unit]
    if source.dimension != target.dimension:
        raise ValueError(f"{from_unit} and {to_unit} do not measure the same thing")
    return (value * source.factor + source.offset - target.offset) / target.factor


def with_unit(number: str, unit: str) -> str:
    """Write a number and its unit for people.

    >>> with_unit("11.4", "mm"), with_unit("3", "count"), with_unit("45", "deg")
    ('11.4 mm', '3', '45°')
    """
    if unit in BARE or not unit:
        return number
    known = UNITS.get(unit)
    return number + (known.shown if known else f" {unit}")
