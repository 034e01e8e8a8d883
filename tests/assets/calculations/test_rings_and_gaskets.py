"""Flat gaskets, lip seals, wear rings, sleeves and packing."""

from decimal import Decimal

import pytest

from assets.calculations import flat_gaskets, lip_seals
from assets.calculations.flat_gaskets import INSIDE_MM, OUTSIDE_MM, PRESSURES
from assets.calculations.lip_seals import HOUSINGS, LipSeal
from assets.calculations.other_parts import Packing
from assets.calculations.part_specifications import SpecificationError, compare, parse_specification, read_with_notes

# EN 1092-1: bolt circle in mm and bolts of flanges by DN and PN; and the hole that each bolt has, in mm.
BOLT_CIRCLES = {
    (25, 16): (85, 12), (32, 16): (100, 16), (40, 16): (110, 16), (50, 16): (125, 16), (65, 16): (145, 16),
    (80, 16): (160, 16), (100, 16): (180, 16), (125, 16): (210, 16), (150, 16): (240, 20), (200, 16): (295, 20),
    (200, 10): (295, 20), (250, 16): (355, 24), (250, 10): (350, 20), (300, 10): (400, 20), (300, 16): (410, 24),
    (15, 6): (55, 10), (25, 6): (75, 10), (40, 6): (100, 12), (50, 6): (110, 12), (65, 6): (130, 12),
    (80, 6): (150, 16),
    (100, 6): (170, 16), (125, 6): (200, 16), (150, 6): (225, 16), (200, 6): (280, 16), (250, 6): (335, 16),
    (300, 6): (395, 20), (100, 40): (190, 20), (125, 40): (220, 24), (150, 40): (250, 24), (200, 25): (310, 24),
    (200, 40): (320, 27), (250, 25): (370, 27), (250, 40): (385, 30), (300, 25): (430, 27), (300, 40): (450, 30),
}  # fmt: skip
HOLES = {10: 11, 12: 14, 16: 18, 20: 22, 24: 26, 27: 30, 30: 33}


def named(category, text):
    return {one.name: one.value for one in parse_specification(category, text).properties()}


class TestFlangeGaskets:
    @pytest.mark.parametrize(("dn", "pn"), BOLT_CIRCLES)
    def test_a_gasket_inside_the_bolt_circle_touches_the_bolts(self, dn, pn):
        """EN 1514-1 form IBC against the bolt circles of EN 1092 (value from memory): the outside diameter is the bolt
        circle less the hole of a bolt, which centres the gasket."""
        circle, bolt = BOLT_CIRCLES[dn, pn]
        assert OUTSIDE_MM[dn, pn] == circle - HOLES[bolt]

    @pytest.mark.parametrize(
        ("dn", "pn", "outside", "inside"),
        [(50, 16, 107, 61), (80, 16, 142, 89), (100, 16, 162, 115), (150, 10, 218, 169), (100, 6, 152, 115),
        (25, 40, 71, 34)],
    )  # fmt: skip
    def test_sizes_by_dn_and_pn(self, dn, pn, outside, inside):
        """EN 1514-1:1997, form IBC (value from memory)."""
        found = parse_specification("flat-gasket", f"DN{dn} PN{pn} 1.5 FIBRE")
        assert found.designation() == f"{outside}x{inside}x1.5 FIBRE"

    def test_sizes_grow_with_dn_and_pn(self):
        sizes = sorted(INSIDE_MM)
        assert [INSIDE_MM[dn] for dn in sizes] == sorted(set(INSIDE_MM.values()))
        for dn in sizes:
            row = [OUTSIDE_MM[dn, pn] for pn in PRESSURES]
            assert row == sorted(row)
            assert INSIDE_MM[dn] > dn

    def test_the_flange_is_told_of_a_ring_that_is_for_one(self):
        assert named("flat-gasket", "142x89x2 EPDM")["flange"] == "DN 80 PN 10, 16, 25, 40"
        assert "flange" not in named("flat-gasket", "120x100x2 FIBRE")

    @pytest.mark.parametrize(
        ("text", "field"),
        [
            ("DN81 PN16 1.5 FIBRE", "nominal_size"), ("DN80 PN12 1.5 FIBRE", "nominal_pressure"),
            ("DN80 PN16 1.5", "material"), ("DN80 PN16 FIBRE", "specification"), ("DN80 1.5 FIBRE", "specification"),
            ("100x120x2 FIBRE", "inside diameter"), ("120x120x2 FIBRE", "inside diameter"),
        ],
    )  # fmt: skip
    def test_what_is_none_is_refused_with_its_field(self, text, field):
        with pytest.raises(SpecificationError) as refused:
            flat_gaskets.parse(text)
        assert refused.value.field == field

    @pytest.mark.parametrize(
        "text",
        ["DN80 PN16 1.5 FIBRE", "dn 80 pn 16 x 1,5 mm fibre", "EN 1514-1 IBC DN80/PN16 1.5 FIBRE", "142x89x1.5 FIBRE"],
    )
    def test_one_gasket_written_in_many_ways(self, text):
        assert parse_specification("flat-gasket", text).designation() == "142x89x1.5 FIBRE"


class TestLipSeals:
    @pytest.mark.parametrize(
        ("text", "designation"),
        [
            ("35x52x7 NBR", "35x52x7 NBR"), ("35-52-7 NBR", "35x52x7 NBR"), ("35 x 52 x 7 mm nbr", "35x52x7 NBR"),
            ("AS 35x52x7 FPM", "35x52x7 FKM type 4"), ("A 35-52-7 NBR", "35x52x7 NBR type 1"),
            ("35x52x7 NBR type 4", "35x52x7 NBR type 4"), ("35x52x7 type 4 NBR with dust lip", "35x52x7 NBR type 4"),
            ("35x52x7 NBR with dust lip", "35x52x7 NBR dust lip"),
            ("1 3/8 in x 2 in x 1/4 in NBR", "34.925x50.8x6.35 NBR"),
        ],
    )  # fmt: skip
    def test_shaft_housing_width(self, text, designation):
        """ISO 6194-1:2007 order of sizes; letters of DIN 3760 (value from memory)."""
        assert parse_specification("lip-seal", text).designation() == designation

    @pytest.mark.parametrize("seal_type", "123456")
    def test_types_4_to_6_have_a_dust_lip(self, seal_type):
        """ISO 6194-1:2007, types (value from memory)."""
        seal = lip_seals.parse(f"35x52x7 NBR type {seal_type}").specification
        assert isinstance(seal, LipSeal)
        assert seal.dust_lip == (seal_type in "456")
        assert ("with dust lip" in named("lip-seal", seal.designation())["type"]) == (seal_type in "456")

    def test_pairs_of_the_standard(self):
        """ISO 6194-1:2007, nominal dimensions (value from memory)."""
        for shaft, housing in ((25, 40), (30, 47), (35, 52), (40, 62), (55, 72), (65, 85), (100, 125)):
            assert lip_seals.parse(f"{shaft}x{housing}x8 NBR").notes == ()
        assert "36" in " ".join(lip_seals.parse("36x52x7 NBR").notes)
        assert all(list(bores) == sorted(bores) and bores[0] > shaft for shaft, bores in HOUSINGS.items())

    @pytest.mark.parametrize(
        ("text", "field"),
        [
            ("52x35x7 NBR", "shaft"), ("35x52 NBR", "specification"), ("35x52x7", "material"),
            ("35x52x7 NBR type 1 dust lip", "type"), ("A 35x52x7 NBR type 4", "type"),
            ("35x52x7 NBR type 7", "material"), ("35x52x7 NBR type 4 sprung", "material"),
        ],
    )  # fmt: skip
    def test_what_is_none_is_refused_with_its_field(self, text, field):
        with pytest.raises(SpecificationError) as refused:
            lip_seals.parse(text)
        assert refused.value.field == field

    @pytest.mark.parametrize(
        ("asked", "offered", "serves"),
        [
            ("35x52x7 NBR", "35x52x7 NBR type 4", True), ("35x52x7 NBR type 4", "35x52x7 NBR", False),
            ("35x52x7 NBR dust lip", "35x52x7 NBR type 5", True), ("35x52x7 NBR dust lip", "35x52x7 NBR type 1", False),
            ("35x52x7 NBR type 1", "35x52x7 NBR type 4", False), ("35x52x7 NBR", "35x52x8 NBR", False),
            ("35x52x7 NBR", "35x52x7 FKM", False),
        ],
    )  # fmt: skip
    def test_what_serves_for_what(self, asked, offered, serves):
        both = (parse_specification("lip-seal", one) for one in (asked, offered))
        assert compare(*both).equal == serves


class TestPlainRings:
    @pytest.mark.parametrize(
        ("category", "text", "field"),
        [
            ("wear-ring", "110x95x20 CI", "inside diameter"), ("sleeve", "43x33x80 STEEL", "inside diameter"),
            ("wear-ring", "95x110 BRONZE", "specification"), ("sleeve", "38x45x60", "material"),
            ("sleeve", "38x45x60 *", "material"), ("packing", "PTFE", "specification"), ("packing", "10", "material"),
            ("packing", "10x12 PTFE", "section_mm"),
        ],
    )  # fmt: skip
    def test_what_is_none_is_refused_with_its_field(self, category, text, field):
        with pytest.raises(SpecificationError) as refused:
            parse_specification(category, text)
        assert refused.value.field == field

    def test_the_order_to_write_is_shown(self):
        with pytest.raises(SpecificationError, match="inside diameter x outside diameter x width"):
            parse_specification("wear-ring", "110x95x20 CI")

    def test_inches_are_converted_and_told(self):
        reading = read_with_notes("sleeve", "1.5 in x 1.75 in x 60 mm CRNIMO")
        assert reading.specification.designation() == "38.1x44.45x60 CRNIMO"
        assert "25.4" in reading.notes[0]

    @pytest.mark.parametrize("text", ["10 PTFE", "10x10 PTFE", "10 mm ptfe", "10,0 PTFE", "10 x 10 mm PTFE"])
    def test_one_packing_written_in_many_ways(self, text):
        assert parse_specification("packing", text).designation() == "10 PTFE"

    def test_packing_in_sixteenths(self):
        """Against the inch of 25.4 mm (1959 international yard and pound agreement)."""
        packing = parse_specification("packing", "3/8 in PTFE")
        assert isinstance(packing, Packing)
        assert packing.section_mm == Decimal("25.4") * 3 / 8
