"""Wire rope: what its construction says, how strong it is, and which facts the criteria get from its certificate.

Numbers of a certificate always come before those of a table here. Where neither is known the fact is left out, so that
the verdict is unknown and names it: a row of ISO 4309, say, is never guessed from the name of a construction (R-118).
Marks after each table: READ, READ-2, MEMORY (confidence), as the sources were seen.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from engineering.exact import exact_text


@dataclass(frozen=True)
class Construction:
    """Wires and strands of one construction.

    ``wires_total`` is without the wires of a separate steel core, as the rules on a share of all wires are read (7x19:
    133, 6x19: 114; R-110). ``outer_wire_share`` is the outer wire's diameter over the rope's (MEMORY (med), R-132).
    ``iso_row_wires`` only where the published table names the construction's row (R-117, READ-2).
    """

    name: str
    wires_total: int
    wires_strand: int
    outer_strands: int
    filler_wires: int = 0
    outer_wire_share: Fraction | None = None
    iso_row_wires: int | None = None
    strength_class: str = ""
    core: str = ""

    @property
    def is_stranded(self) -> bool:
        """Say whether it is laid of strands; a spiral strand such as 1x19 is not."""
        return self.outer_strands > 0


CONSTRUCTIONS: Mapping[str, Construction] = {
    made.name: made
    for made in (
        Construction("1x19", 19, 19, 0, outer_wire_share=Fraction(1, 5), strength_class="1x19", core="strand"),
        Construction("6x7", 42, 7, 6, 0, Fraction(1, 9), 42, "6x7"),
        Construction("7x7", 49, 7, 6, 0, Fraction(1, 9), 42, "6x7", "WSC"),
        Construction("7x19", 133, 19, 6, 0, Fraction(1, 15), 114, "6x19M", "WSC"),
        Construction("6x19", 114, 19, 6, strength_class="6x19"),
        Construction("6x19S", 114, 19, 6, 0, Fraction(1, 13), 75, "6x19"),  # read two rows higher, in 51 to 75
        Construction("6x25F", 150, 25, 6, 36, Fraction(1, 16), None, "6x19"),
        Construction("6x36WS", 216, 36, 6, 0, Fraction(1, 22), None, "6x36"),
        Construction("6x37M", 222, 37, 6, strength_class="6x37M"),
        Construction("8x36WS", 288, 36, 8, strength_class="8x36"),
    )
}

# Class and core: mass W (kg per 100 m and mm2), area C, strength K. READ-2, a maker's technical notes in the notation
# of EN 12385-4; 1x19 K: MEMORY (med), EN 12385-10. FC fibre core, IWRC independent wire rope core, WSC strand core.
FACTORS: Mapping[tuple[str, str], tuple[str | None, str | None, str]] = {
    ("6x7", "FC"): ("0.345", "0.369", "0.332"),
    ("6x7", "IWRC"): ("0.384", "0.432", "0.359"),
    ("6x7", "WSC"): ("0.384", "0.432", "0.388"),
    ("6x19", "FC"): ("0.359", "0.384", "0.330"),
    ("6x19", "IWRC"): ("0.400", "0.449", "0.356"),
    ("6x19M", "FC"): ("0.346", "0.357", "0.307"),
    ("6x19M", "IWRC"): (None, None, "0.332"),
    ("6x19M", "WSC"): ("0.381", "0.418", "0.362"),
    ("6x36", "FC"): ("0.367", "0.393", "0.330"),
    ("6x36", "IWRC"): ("0.409", "0.460", "0.356"),
    ("6x37M", "FC"): ("0.346", "0.357", "0.295"),
    ("6x37M", "IWRC"): ("0.381", "0.418", "0.319"),
    ("6x37M", "WSC"): ("0.381", "0.418", "0.346"),
    ("8x36", "FC"): ("0.348", "0.357", "0.293"),
    ("8x36", "IWRC"): ("0.417", "0.468", "0.356"),
    ("1x19", "strand"): (None, None, "0.525"),
}
CORES = ("FC", "IWRC", "WSC", "strand")
GRADES = {"PS": 1570, "IPS": 1770, "EIPS": 1960, "XIP": 1960, "EEIPS": 2160}  # N/mm2, READ-2

# Share of the rope's strength that an end keeps; the lower end of each published span. MEMORY (med) but for the socket,
# READ (EN 13411-4). Clips only up to 7/8 in: beyond, the maker's figure is needed.
EFFICIENCY: Mapping[str, Fraction] = {
    "clips": Fraction(80, 100),
    "swaged": Fraction(90, 100),
    "wedge_socket": Fraction(75, 100),
    "poured_socket": Fraction(1),
}
CLIPS_UP_TO_MM = Fraction("22.225")

# US aircraft cable and wire rope, MIL-W-83420, FAA AC 43.13-1B Table 7-3, READ: diameter in, construction, tolerance
# (plus only) in, least breaking strength lbf of carbon steel (A) and of corrosion-resistant steel (B).
AIRCRAFT_CABLE: tuple[tuple[str, str, str, int, int | None], ...] = (
    ("1/8", "7x19", "0.014", 2000, 1760),
    ("5/32", "7x19", "0.016", 2800, 2400),
    ("3/16", "7x19", "0.018", 4200, 3700),
    ("7/32", "7x19", "0.018", 5600, 5000),
    ("1/4", "7x19", "0.018", 7000, 6400),
    ("9/32", "7x19", "0.020", 8000, 7800),
    ("5/16", "7x19", "0.022", 9800, 9000),
    ("11/32", "7x19", "0.024", 12500, None),
    ("3/8", "7x19", "0.026", 14400, 12000),
    ("7/16", "6x19 IWRC", "0.030", 17600, 16300),
    ("1/2", "6x19 IWRC", "0.033", 22800, 22800),
    ("9/16", "6x19 IWRC", "0.036", 28500, 28500),
    ("5/8", "6x19 IWRC", "0.039", 35000, 35000),
    ("3/4", "6x19 IWRC", "0.045", 49600, 49600),
    ("7/8", "6x19 IWRC", "0.048", 66500, 66500),
    ("1", "6x19 IWRC", "0.050", 85400, 85400),
    ("9/8", "6x19 IWRC", "0.054", 106400, 106400),
    ("5/4", "6x19 IWRC", "0.057", 129400, 129400),
    ("11/8", "6x19 IWRC", "0.060", 153600, 153600),
    ("3/2", "6x19 IWRC", "0.062", 180500, 180500),
)

# from which uniform decrease (percent of nominal) the way to discard counts as 20, 40, 60, 80, 100 percent.
# ISO 4309 Table 5, MEMORY (med-high).
SEVERITY: Mapping[str, tuple[str, ...]] = {
    "fibre": ("6", "7", "8", "9", "10"),
    "steel": ("3.5", "4.5", "5.5", "6.5", "7.5"),
    "rotation_resistant": ("1", "2", "3", "4", "5"),
}

TAG_FIELDS = (  # R-161, WAC 296-870-70085, READ: what the rope's tag must say
    "diameter",
    "construction",
    "grade",
    "rated_strength",
    "maker",
    "month_installed",
    "year_installed",
    "installer",
)


@dataclass(frozen=True)
class Rope:
    """One rope as its certificate describes it; a number given here overrides the table of constructions.

    Lengths in mm, ``grade`` in N/mm2, ``mbf_kn`` the certificate's least breaking force without ends. ``rope_class``:
    standing or running; ``lay``: ordinary or lang; ``ends``: keys of EFFICIENCY. Empty or ``None``: not known.
    """

    diameter_mm: Fraction
    construction: str
    core: str = ""
    grade: int | None = None
    rope_class: str = ""
    lay: str = ""
    rotation_resistant: bool | None = None
    ends: tuple[str, ...] = ()
    mbf_kn: Fraction | None = None
    wires_total: int | None = None
    wires_load: int | None = None
    wires_strand: int | None = None
    iso_row_wires: int | None = None
    outer_wire_mm: Fraction | None = None
    clips_approved: bool = False


@dataclass(frozen=True)
class Fault:
    """Why a rope may not be used as configured, and by which rule."""

    code: str
    rule_id: str
    sentence: str
    source: str


def construction_named(name: str) -> Construction | None:
    """Find a construction however it is written; ``None`` if it is not in the table.

    >>> construction_named("7 × 19").wires_total
    133
    """
    wanted = name.replace(" ", "").replace("×", "x").lower()
    return next((made for key, made in CONSTRUCTIONS.items() if key.lower() == wanted), None)


def strength_kn(diameter_mm: Fraction, grade: int, k: Fraction) -> Fraction:
    """Return the least breaking force in kN: d^2 R K / 1000, d in mm, R in N/mm2 (EN 12385-4 notation, READ-2).

    >>> round(float(strength_kn(Fraction(12), 1770, Fraction("0.356"))), 2)
    90.74
    """
    return diameter_mm**2 * grade * k / 1000


def strength_factor(construction: Construction, core: str) -> Fraction | None:
    """Return K of a construction with a core (that of the construction where it has only one); ``None`` if unknown."""
    row = FACTORS.get((construction.strength_class, construction.core or core))
    return None if row is None else Fraction(row[2])


def metallic_area_mm2(diameter_mm: Fraction, construction: Construction, core: str) -> Fraction | None:
    """Return the metallic area C d^2 in mm2 (READ-2); ``None`` where the table has no C."""
    row = FACTORS.get((construction.strength_class, construction.core or core))
    return None if row is None or row[1] is None else Fraction(row[1]) * diameter_mm**2


def mass_kg_m(diameter_mm: Fraction, construction: Construction, core: str) -> Fraction | None:
    """Return the mass W d^2 / 100 in kg per metre (READ-2); ``None`` where the table has no W."""
    row = FACTORS.get((construction.strength_class, construction.core or core))
    return None if row is None or row[0] is None else Fraction(row[0]) * diameter_mm**2 / 100


def breaking_force_kn(rope: Rope) -> Fraction | None:
    """Return the rope's least breaking force without ends: the certificate's, else the formula's, else ``None``."""
    if rope.mbf_kn is not None:
        return rope.mbf_kn
    made = construction_named(rope.construction)
    k = None if made is None else strength_factor(made, rope.core)
    return None if k is None or rope.grade is None else strength_kn(rope.diameter_mm, rope.grade, k)


def effective_breaking_force_kn(rope: Rope) -> Fraction | None:
    """Return the breaking force with the weakest end. ``None`` if the rope's or an end's figure is not known."""
    force = breaking_force_kn(rope)
    shares = [end_efficiency(end, rope.diameter_mm) for end in rope.ends]
    known = [share for share in shares if share is not None]
    if force is None or not shares or len(known) < len(shares):
        return None
    return force * min(known)


def end_efficiency(end: str, diameter_mm: Fraction) -> Fraction | None:
    """Return the share of strength an end keeps; ``None`` for an unknown end, or clips on a rope over 7/8 in."""
    if end == "clips" and diameter_mm > CLIPS_UP_TO_MM:
        return None
    return EFFICIENCY.get(end)


def design_factor(effective_kn: Fraction, tension_kn: Fraction) -> Fraction:
    """Return breaking force over tension. Raises ``ValueError`` for a tension of nought or less.

    >>> design_factor(Fraction("90.74"), Fraction("18.148"))
    Fraction(5, 1)
    """
    if tension_kn <= 0:
        raise ValueError("a design factor needs a tension above nought")
    return effective_kn / tension_kn


def outer_wire_mm(rope: Rope) -> Fraction | None:
    """Return the outer wire's diameter: the certificate's, else by geometry (R-132, MEMORY (med)), else ``None``."""
    if rope.outer_wire_mm is not None:
        return rope.outer_wire_mm
    made = construction_named(rope.construction)
    return None if made is None or made.outer_wire_share is None else made.outer_wire_share * rope.diameter_mm


def facts_for(rope: Rope) -> dict[str, str]:
    """Return what the criteria need to know of a rope, under the names of ``criteria/QUANTITIES.md``.

    What is not known is left out. ``nominal`` and ``rope_diameter`` are the catalogue diameter in mm.

    >>> facts_for(Rope(Fraction(12), "7x19", rope_class="standing", lay="ordinary"))["wires_total"]
    '133'
    """
    made = construction_named(rope.construction)
    total = rope.wires_total or (made.wires_total if made else None)
    load = rope.wires_load or (total - made.filler_wires if made and total else None)
    core = made.core if made and made.core else rope.core
    wire, force = outer_wire_mm(rope), effective_breaking_force_kn(rope)
    found = {
        "nominal": exact_text(rope.diameter_mm),
        "rope_diameter": exact_text(rope.diameter_mm),
        "rope_class": rope.rope_class,
        "lay": rope.lay,
        "rotation_resistant": {True: "yes", False: "no", None: ""}[rope.rotation_resistant],
        "stranded": ("yes" if made.is_stranded else "no") if made else "",
        "rope_core": {"FC": "fibre", "IWRC": "steel", "WSC": "steel"}.get(core, ""),
        "wires_total": str(total or ""),
        "wires_load": str(load or ""),
        "wires_strand": str(rope.wires_strand or (made.wires_strand if made else "")),
        "iso_row_wires": str(rope.iso_row_wires or (made.iso_row_wires if made else "") or ""),
        "outer_wire": "" if wire is None else exact_text(wire),
        "mbf_kn": "" if force is None else exact_text(force),
    }
    return {name: text for name, text in found.items() if text}


def severity_percent(decrease_percent: Fraction, kind: str) -> int:
    """Return how far on the way to discard a uniform decrease is: 0, 20, ... 100 (R-125, MEMORY (med-high)).

    ``kind``: fibre, steel or rotation_resistant. Raises ``KeyError`` for another.

    >>> severity_percent(Fraction("5.0"), "steel")
    40
    """
    return 20 * sum(decrease_percent >= Fraction(start) for start in SEVERITY[kind])


def configuration_faults(rope: Rope) -> tuple[Fault, ...]:
    """Return why a rope may not be used as configured; empty if nothing speaks against it.

    R-176: U-bolt grips are not for spiral strands such as 1x19. R-174: clips as the only kind of end of a main cable
    need the engineer's approval on file (``clips_approved``).
    """
    faults = []
    made = construction_named(rope.construction)
    if "clips" in rope.ends and (made is None or not made.is_stranded):
        faults.append(
            Fault(
                "clips-on-spiral",
                "R-176",
                "U-bolt grips are not for spiral strands such as 1x19; the construction must be known to be stranded.",
                "EN 13411-5 abstract (READ); not for spiral ropes (READ-2)",
            )
        )
    if rope.ends and set(rope.ends) == {"clips"} and rope.rope_class != "running" and not rope.clips_approved:
        faults.append(
            Fault(
                "clips-alone",
                "R-174",
                "Clips are the only kind of end of this cable; the engineer's approval is not on file.",
                "WAC 296-874-30020(4) (READ), for points of suspension of scaffold hoists",
            )
        )
    return tuple(faults)


def missing_tag_fields(tag: Mapping[str, str]) -> tuple[str, ...]:
    """Return the fields that a rope's tag lacks (R-161, READ)."""
    return tuple(name for name in TAG_FIELDS if not tag.get(name, "").strip())
