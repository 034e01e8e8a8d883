"""Circlips against DIN 471 and DIN 472, keys against ISO 773, fasteners against ISO 261, ISO 898-1 and ISO 3506-1."""

import itertools
from decimal import Decimal

import pytest

from assets.calculations import circlips, fasteners, keys
from assets.calculations.circlips import GROOVES
from assets.calculations.fasteners import CARBON, COARSE
from assets.calculations.keys import LENGTHS_MM, SECTIONS
from assets.calculations.part_specifications import SpecificationError, compare, parse_specification


def named(category, text):
    return {one.name: one.value for one in parse_specification(category, text).properties()}


class TestCirclips:
    @pytest.mark.parametrize(
        ("place", "nominal", "thickness", "groove", "width"),
        [
            ("shaft", 20, "1.2", "19", "1.3"), ("shaft", 30, "1.5", "28.6", "1.6"), ("shaft", 35, "1.5", "33", "1.6"),
            ("shaft", 40, "1.75", "37.5", "1.85"), ("shaft", 50, "2", "47", "2.15"), ("shaft", 65, "2.5", "62", "2.65"),
            ("shaft", 100, "3", "96.5", "3.15"), ("bore", 12, "1", "12.5", "1.1"), ("bore", 15, "1", "15.7", "1.1"),
            ("bore", 19, "1", "20", "1.1"), ("bore", 21, "1", "22", "1.1"), ("bore", 28, "1.2", "29.4", "1.3"),
            ("bore", 47, "1.75", "49.5", "1.85"), ("bore", 62, "2", "65", "2.15"), ("bore", 80, "2.5", "83.5", "2.65"),
            ("bore", 90, "3", "93.5", "3.15"), ("bore", 110, "4", "114", "4.15"),
        ],
    )  # fmt: skip
    def test_rings_and_their_grooves(self, place, nominal, thickness, groove, width):
        """DIN 471 (shafts) and DIN 472 (bores), ring and groove (value from memory)."""
        found = GROOVES[place][Decimal(nominal)]
        assert found.thickness_mm == Decimal(thickness)
        assert (found.diameter_mm, found.width_mm) == (Decimal(groove), Decimal(width))

    @pytest.mark.parametrize(("place", "sign"), [("shaft", -1), ("bore", 1)])
    def test_grooves_lie_within_the_shaft_and_outside_the_bore_and_grow(self, place, sign):
        rows = sorted(GROOVES[place].items())
        depths = [sign * (one.diameter_mm - nominal) / 2 for nominal, one in rows]
        assert all(Decimal("0.1") < depth <= Decimal("2.1") for depth in depths)
        assert depths == sorted(depths)
        assert [one.thickness_mm for _, one in rows] == sorted(one.thickness_mm for _, one in rows)

    @pytest.mark.parametrize("place", ["shaft", "bore"])
    def test_a_groove_is_wider_than_its_ring(self, place):
        for one in GROOVES[place].values():
            assert Decimal("0.1") <= one.width_mm - one.thickness_mm <= Decimal("0.15")

    @pytest.mark.parametrize(
        "text",
        ["shaft 40x1.75", "Shaft 40 x 1,75 mm", "DIN 471 40x1.75", "DIN471 - 40 x 1.75", "shaft 40", "DIN 471 40"],
    )
    def test_one_ring_written_in_many_ways(self, text):
        assert parse_specification("circlip", text).designation() == "shaft 40x1.75"

    def test_a_size_outside_the_table_is_taken_as_written_with_nothing_added(self):
        assert circlips.parse("bore 300x5").notes == ()
        assert "groove diameter" not in named("circlip", "bore 300x5")

    def test_another_thickness_is_taken_and_told(self):
        assert "1.75" in circlips.parse("shaft 40x2.5").notes[0]
        assert not compare(*(parse_specification("circlip", one) for one in ("shaft 40", "shaft 40x2.5"))).equal

    @pytest.mark.parametrize(
        ("text", "field"),
        [
            ("40x1.75", "place"), ("DIN 471 bore 40", "place"), ("shaft 47.5", "thickness_mm"), ("shaft", "place"),
            ("shaft 1.75x40", "thickness_mm"), ("shaft 40x1.75 steel", "specification"), ("hole 40x1.75", "place"),
        ],
    )  # fmt: skip
    def test_what_is_none_is_refused_with_its_field(self, text, field):
        with pytest.raises(SpecificationError) as refused:
            circlips.parse(text)
        assert refused.value.field == field


class TestKeys:
    @pytest.mark.parametrize(
        ("shaft", "width", "height"),
        [
            (19, 6, 6), (24, 8, 7), (28, 8, 7), (38, 10, 8), (42, 12, 8), (48, 14, 9), (55, 16, 10), (60, 18, 11),
            (65, 18, 11),
        ],
    )  # fmt: skip
    def test_keys_of_motor_shafts(self, shaft, width, height):
        """IEC 60072-1:2022, shaft ends of motor frames 80 to 250 with their keys (value from memory)."""
        serving = [one for one in SECTIONS.values() if one.shaft_over < shaft <= one.shaft_upto]
        assert [(one.width, one.height) for one in serving] == [(width, height)]

    @pytest.mark.parametrize(
        ("section", "shaft_depth", "hub_depth"),
        [("5x5", "3", "2.3"), ("8x7", "4", "3.3"), ("10x8", "5", "3.3"), ("14x9", "5.5", "3.8"),
        ("20x12", "7.5", "4.9")],
    )  # fmt: skip
    def test_keyways(self, section, shaft_depth, hub_depth):
        """DIN 6885-1:1968, keyway depths (value from memory)."""
        told = named("key", f"{section}x45")
        assert (told["keyway depth in the shaft"], told["keyway depth in the hub"]) == (shaft_depth, hub_depth)

    def test_sections_serve_all_shafts_without_gap_and_leave_play_over_the_key(self):
        rows = list(SECTIONS.values())
        for smaller, larger in itertools.pairwise(rows):
            assert smaller.shaft_upto == larger.shaft_over
        for one in rows:
            assert Decimal(0) < one.shaft_depth + one.hub_depth - one.height <= Decimal("0.5")
            assert {one.shortest, one.longest} <= set(map(Decimal, LENGTHS_MM))

    @pytest.mark.parametrize(
        ("text", "designation"),
        [
            ("10x8x40", "10x8x40"), ("10 x 8 x 40 mm", "10x8x40"), ("DIN 6885-1 A 10x8x40", "A 10x8x40"),
            ("10x8x40 form B", "B 10x8x40"), ("ISO 773 10x8x40", "10x8x40"), ("AB 10x8x40", "AB 10x8x40"),
        ],
    )  # fmt: skip
    def test_keys_are_read(self, text, designation):
        assert parse_specification("key", text).designation() == designation

    @pytest.mark.parametrize(
        ("text", "remedy"),
        [("10x7x40", "10x8"), ("8x8x40", "8x7"), ("11x8x40", "10x8"), ("1x1x5", "2x2"), ("60x30x90", "32x18")],
    )
    def test_a_pair_that_is_none_names_the_nearest(self, text, remedy):
        """ISO 773:1969, sections (value from memory)."""
        with pytest.raises(SpecificationError, match=remedy):
            keys.parse(text)

    def test_a_length_that_is_none_is_taken_and_told(self):
        """DIN 6885-1:1968, lengths (value from memory)."""
        assert keys.parse("10x8x40").notes == ()
        assert "41" in keys.parse("10x8x41").notes[0]
        assert "22 to 110" in keys.parse("10x8x200").notes[0]

    def test_the_form_counts_where_it_is_asked(self):
        plain, round_ends, square = (parse_specification("key", one) for one in ("10x8x40", "A 10x8x40", "B 10x8x40"))
        assert compare(plain, square).equal
        assert not compare(round_ends, square).equal
        assert not compare(round_ends, plain).equal


class TestFasteners:
    @pytest.mark.parametrize(
        ("thread", "pitch", "area", "proof_88", "proof_109"),
        [
            ("M6", "1", "20.1", "11.6", "16.7"), ("M8", "1.25", "36.6", "21.2", "30.4"),
            ("M10", "1.5", "58", "33.7", "48.1"),
            ("M12", "1.75", "84.3", "48.9", "70.0"), ("M16", "2", "157", "91.0", "130"),
            ("M20", "2.5", "245", "147", "203"),
            ("M24", "3", "353", "212", "293"),
        ],
    )  # fmt: skip
    def test_stress_areas_and_proof_loads(self, thread, pitch, area, proof_88, proof_109):
        """ISO 898-1:2013, tables of stress areas and proof loads; kN to the table's last figure."""
        told = named("fastener", f"{thread}x60 8.8")
        assert (told["pitch"], told["stress area"]) == (pitch, area)
        assert abs(Decimal(told["proof load"]) - Decimal(proof_88)) <= Decimal("0.1")
        stronger = Decimal(named("fastener", f"{thread}x60 10.9")["proof load"])
        assert abs(stronger - Decimal(proof_109)) <= Decimal("0.1")

    @pytest.mark.parametrize(
        ("text", "tensile", "proof"),
        [("M12x40 8.8", "800", "580"), ("M16x40 8.8", "800", "580"), ("M20x40 8.8", "830", "600"),
         ("M12x40 10.9", "1040", "830"), ("M12x40 12.9", "1220", "970"), ("M12x40 4.6", "400", "225")],
    )  # fmt: skip
    def test_strengths(self, text, tensile, proof):
        """ISO 898-1:2013, tables of tensile and proof strength (8.8 to 10.9; the others value from memory)."""
        told = named("fastener", text)
        assert (told["tensile strength, at least"], told["proof strength"]) == (tensile, proof)

    @pytest.mark.parametrize(
        ("text", "tensile", "strain"),
        [("M10x30 A2-70", "700", "450"), ("M10x30 A4-80", "800", "600"), ("M10x30 A4-50", "500", "210")],
    )
    def test_stainless_strengths(self, text, tensile, strain):
        """ISO 3506-1:2020 (0.2 % values, and classes 50 and 80, value from memory)."""
        told = named("fastener", text)
        assert (told["tensile strength, at least"], told["stress at 0.2 % strain, at least"]) == (tensile, strain)

    def test_a_class_is_named_for_its_nominal_strength(self):
        """ISO 898-1:2013, clause on designation: the first number is a hundredth of the nominal tensile strength; the
        least value lies at most 6 % above it."""
        for name, strengths in CARBON.items():
            nominal = 100 * int(name.split(".")[0])
            for tensile, proof in filter(None, strengths):
                assert nominal <= tensile <= nominal * Decimal("1.06"), name
                assert proof < tensile, name

    def test_a_class_that_ends_with_m16_has_no_strengths_above(self):
        """ISO 898-1:2013, tables 1 and 3: class 9.8 up to M16 only, all others to M39 (value from memory)."""
        assert {name for name, strengths in CARBON.items() if None in strengths} == {"9.8"}
        assert named("fastener", "M16x60 9.8")["proof strength"] == "650"
        assert "proof strength" not in named("fastener", "M20x60 9.8")
        assert "proof load" not in named("fastener", "M20x60 9.8")

    def test_pitches_grow_with_the_thread(self):
        """ISO 261:1998, coarse pitches (value from memory)."""
        assert list(COARSE) == sorted(COARSE)
        assert list(COARSE.values()) == sorted(COARSE.values())

    @pytest.mark.parametrize(
        ("text", "designation"),
        [
            ("M12x40 8.8", "M12x40 8.8"), ("m12 × 40 8,8", "M12x40 8.8"), ("M12x1.75x40 8.8", "M12x40 8.8"),
            ("M12x1.25x40 10.9", "M12x1.25x40 10.9"), ("M 12 x 1,25 x 40 mm 10.9", "M12x1.25x40 10.9"),
            ("M10x30 A2 70", "M10x30 A2-70"), ("ISO 4762 M8x25 8.8", "ISO 4762 M8x25 8.8"),
            ("iso4762-M8x25-8.8", "ISO 4762 M8x25 8.8"), ("M12x2 in 8.8", "M12x50.8 8.8"),
        ],
    )  # fmt: skip
    def test_fasteners_are_read(self, text, designation):
        assert parse_specification("fastener", text).designation() == designation

    @pytest.mark.parametrize(
        ("text", "field"),
        [
            ("M12 8.8", "length_mm"), ("M13x40 8.8", "thread"), ("M12x40", "strength_class"),
            ("M12x40 7.8", "strength_class"),
            ("M12x40 A6-70", "strength_class"), ("M12x2x40 8.8", "pitch_mm"), ("M12x1.3x40 8.8", "pitch_mm"),
            ("1/2 UNC x 2 in", "thread"), ("12x40 8.8", "thread"),
        ],
    )  # fmt: skip
    def test_what_is_none_is_refused_with_its_field(self, text, field):
        with pytest.raises(SpecificationError) as refused:
            fasteners.parse(text)
        assert refused.value.field == field

    @pytest.mark.parametrize(
        ("asked", "offered", "serves"),
        [
            ("M12x40 8.8", "ISO 4762 M12x40 8.8", True), ("ISO 4762 M12x40 8.8", "M12x40 8.8", False),
            ("M12x40 8.8", "M12x1.25x40 8.8", False), ("M12x40 8.8", "M12x40 10.9", False),
            ("M12x40 8.8", "M12x45 8.8", False), ("M12x40 8.8", "M12x1.75x40 8.8", True),
        ],
    )  # fmt: skip
    def test_what_serves_for_what(self, asked, offered, serves):
        assert compare(*(parse_specification("fastener", one) for one in (asked, offered))).equal == serves
