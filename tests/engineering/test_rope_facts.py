"""What the rules are told of a rope: words that a rule can ask for, figures of the certificate or of a table.

Wires and factors are those of the dossier (part 1.5, a maker's technical notes in the notation of EN 12385-4, READ-2).
"""

from fractions import Fraction

import pytest

from engineering.exact import parse_exact
from engineering.rope import (
    Rope,
    breaking_force_kn,
    configuration_faults,
    construction_named,
    design_factor,
    facts_for,
    mass_kg_m,
    metallic_area_mm2,
    missing_tag_fields,
    strength_factor,
)
from engineering.rules import FACT_VALUES

WHOLE = Rope(
    Fraction(12),
    "7x19",
    grade=1770,
    rope_class="standing",
    lay="ordinary",
    rotation_resistant=False,
    ends=("swaged", "wedge_socket"),
)


def test_a_whole_certificate_tells_everything():
    facts = facts_for(WHOLE)

    # Wires: R-110; row: 114 wires (R-117, READ-2); outer wire 12/15 (R-132, MEMORY (med)); force by the maker's factor
    # (READ-2) 144 x 1770 x 0.362 / 1000 = 92.27 kN, of which a wedge socket keeps 75 % (R-181, MEMORY (med)).
    assert facts == {
        "nominal": "12",
        "rope_diameter": "12",
        "rope_class": "standing",
        "lay": "ordinary",
        "rotation_resistant": "no",
        "stranded": "yes",
        "rope_core": "steel",
        "wires_total": "133",
        "wires_load": "133",
        "wires_strand": "19",
        "iso_row_wires": "114",
        "outer_wire": "0.8",
        "mbf_kn": facts["mbf_kn"],
    }
    assert abs(parse_exact(facts["mbf_kn"]) - Fraction("92.27") * Fraction(3, 4)) < Fraction("0.01")


@pytest.mark.parametrize(
    ("rope", "name", "told"),
    [
        (Rope(Fraction(12), "1x19"), "stranded", "no"),
        (Rope(Fraction(12), "6x19"), "stranded", "yes"),
        (Rope(Fraction(12), "8x99"), "stranded", None),
        # FC fibre core, IWRC independent wire rope core, WSC wire strand core (EN 12385-2, from memory): two are steel.
        (Rope(Fraction(12), "6x19", core="FC"), "rope_core", "fibre"),
        (Rope(Fraction(12), "6x19", core="IWRC"), "rope_core", "steel"),
        (Rope(Fraction(12), "6x37M", core="WSC"), "rope_core", "steel"),
        (Rope(Fraction(12), "6x19"), "rope_core", None),
        (Rope(Fraction(12), "1x19"), "rope_core", None),
        # 7x19 and 7x7 have one core, a strand like the others, whatever was entered.
        (Rope(Fraction(12), "7x19", core="FC"), "rope_core", "steel"),
        (Rope(Fraction(12), "7x7"), "rope_core", "steel"),
        (Rope(Fraction(12), "8x99", core="FC"), "rope_core", "fibre"),
        (Rope(Fraction(12), "7x19", rotation_resistant=True), "rotation_resistant", "yes"),
        (Rope(Fraction(12), "7x19"), "rotation_resistant", None),
        (Rope(Fraction(12), "8x99", wires_total=200), "wires_load", None),
        (Rope(Fraction(12), "8x99", wires_strand=25), "wires_strand", "25"),
        (Rope(Fraction(12), "8x99", iso_row_wires=180), "iso_row_wires", "180"),
        (Rope(Fraction(12), "6x25F", wires_total=156), "wires_load", "120"),
        (Rope(Fraction(12), "6x19"), "outer_wire", None),
        (Rope(Fraction(12), "6x19", outer_wire_mm=Fraction("0.75")), "outer_wire", "0.75"),
        (Rope(Fraction(12), "8x99", mbf_kn=Fraction(90), ends=("poured_socket",)), "mbf_kn", "90"),
        (Rope(Fraction(12), "8x99", ends=("poured_socket",)), "mbf_kn", None),
    ],
)
def test_a_fact_is_told_or_left_out(rope, name, told):
    assert facts_for(rope).get(name) == told


@pytest.mark.parametrize("core", ["FC", "IWRC", "WSC", "strand", ""])
@pytest.mark.parametrize("rotation_resistant", [True, False, None])
@pytest.mark.parametrize("construction", ["1x19", "6x19", "7x19", "8x99"])
def test_no_fact_has_a_value_that_no_rule_can_ask_for(construction, rotation_resistant, core):
    facts = facts_for(Rope(Fraction(12), construction, core=core, rotation_resistant=rotation_resistant))

    for name, values in FACT_VALUES.items():
        assert facts.get(name) is None or facts[name] in values


@pytest.mark.parametrize("written", ["6x36WS", "6X36WS", "6 x 36 ws", "6×36WS", " 6 × 36WS "])
def test_a_construction_is_found_however_it_is_written(written):
    assert construction_named(written).name == "6x36WS"


@pytest.mark.parametrize("written", ["", "6*36WS", "636WS", "6x36", "x"])
def test_a_construction_that_is_not_in_the_table_is_not_guessed(written):
    assert construction_named(written) is None


def test_no_mass_and_no_area_where_the_table_has_none():
    # The maker's notes give 6x19M with IWRC its strength alone; EN 12385-10 (MEMORY (med)) likewise 1x19.
    seven, spiral, six = construction_named("7x19"), construction_named("1x19"), construction_named("6x19")

    assert metallic_area_mm2(Fraction(10), seven, "") == Fraction("41.8")  # 0.418 x 100
    assert mass_kg_m(Fraction(10), seven, "") == Fraction("0.381")
    assert (metallic_area_mm2(Fraction(10), spiral, ""), mass_kg_m(Fraction(10), spiral, "")) == (None, None)
    assert (metallic_area_mm2(Fraction(10), six, ""), mass_kg_m(Fraction(10), six, "")) == (None, None)
    assert strength_factor(six, "") is None
    assert breaking_force_kn(Rope(Fraction(12), "6x19", grade=1770)) is None
    assert breaking_force_kn(Rope(Fraction(12), "7x19")) is None


def test_a_slack_cable_has_a_design_factor_and_one_without_tension_none():
    assert design_factor(Fraction(90), Fraction(1, 2)) == 180
    for tension in (Fraction(0), Fraction(-1)):
        with pytest.raises(ValueError, match=r"^a design factor needs a tension above nought$"):
            design_factor(Fraction(90), tension)


def test_each_fault_says_what_is_wrong_and_who_says_so():
    spiral, alone = configuration_faults(Rope(Fraction(12), "1x19", ends=("clips",)))

    assert (spiral.code, spiral.rule_id) == ("clips-on-spiral", "R-176")
    assert spiral.sentence.startswith("U-bolt grips are not for spiral strands")
    assert spiral.source.startswith("EN 13411-5 ")
    assert (alone.code, alone.rule_id) == ("clips-alone", "R-174")
    assert alone.sentence.startswith("Clips are the only kind of end")
    assert alone.source.startswith("WAC 296-874-30020(4) ")
    assert spiral.sentence.endswith(".")
    assert alone.sentence.endswith(".")


def test_clips_alone_are_asked_about_on_what_stands_or_may_stand():
    # R-174 speaks of main cables; a running rope's ends are judged by its own rules.
    def codes(rope_class):
        rope = Rope(Fraction(12), "7x19", ends=("clips",), rope_class=rope_class)
        return [fault.code for fault in configuration_faults(rope)]

    assert codes("standing") == codes("") == ["clips-alone"]
    assert codes("running") == []
    assert configuration_faults(Rope(Fraction(12), "7x19")) == ()


def test_a_tag_field_that_is_not_there_at_all_is_missing():
    assert len(missing_tag_fields({})) == 8
    assert "installer" in missing_tag_fields({"diameter": "12 mm"})
    assert "diameter" not in missing_tag_fields({"diameter": "12 mm"})
