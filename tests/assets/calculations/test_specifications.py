"""Typed specifications, against the standards they follow."""

from decimal import Decimal
from typing import TypeVar

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assets.calculations.mechanical_seals import DIAMETERS, MechanicalSeal
from assets.calculations.o_rings import SIZE_CODES, ORing
from assets.calculations.part_specifications import (
    SpecificationError,
    compare,
    elastomers_of,
    known_categories,
    parse_specification,
    specification_from_json,
)
from assets.calculations.rolling_bearings import RollingBearing, bore_of
from assets.calculations.specification_base import Specification

One = TypeVar("One", bound=Specification)


def read(kind: type[One], text: str) -> One:
    found = parse_specification(kind.category, text)
    assert isinstance(found, kind)
    return found


class TestRollingBearings:
    @pytest.mark.parametrize(
        ("designation", "bore"),
        [
            ("6308", 40),
            ("6203", 17),
            ("6302", 15),
            ("6200", 10),
            ("6201", 12),
            ("62/28", 28),
            ("608", 8),
            ("NU308", 40),
        ],
    )
    def test_bores_after_the_numbering_rule(self, designation, bore):
        """DIN 623-1, bore codes: 00-03 are 10, 12, 15, 17 mm; from 04 times five; after a stroke the bore itself."""
        assert bore_of(designation) == bore

    @pytest.mark.parametrize(
        ("designation", "bore"), [("6206", 30), ("6208", 40), ("6305", 25), ("6306", 30), ("6310", 50), ("6312", 60)]
    )
    def test_bores_of_boundary_dimensions(self, designation, bore):
        """ISO 15 boundary dimensions (value from memory)."""
        assert bore_of(designation) == bore

    def test_seal_and_clearance_never_change_the_bore_but_make_another_part(self):
        open_one, shielded, roomy = (read(RollingBearing, text) for text in ("6308", "6308-2Z", "6308 C3"))
        assert {one.bore_mm for one in (open_one, shielded, roomy)} == {Decimal(40)}
        assert not compare(open_one, shielded).equal
        assert not compare(open_one, roomy).equal
        assert compare(open_one, parse_specification("rolling-bearing", " 6308 ")).equal

    @pytest.mark.parametrize("text", ["", "63", "6399", "abc", "6308 C9", "6308-3Z"])
    def test_what_is_none_is_refused_with_the_form_to_write(self, text):
        with pytest.raises(SpecificationError):
            parse_specification("rolling-bearing", text)


class TestORings:
    @pytest.mark.parametrize(
        ("code", "inside", "section"),
        [
            ("010", "6.07", "1.78"), ("110", "9.19", "2.62"), ("210", "18.64", "3.53"), ("214", "24.99", "3.53"),
            ("222", "37.69", "3.53"), ("226", "50.39", "3.53"), ("425", "113.67", "6.99"),
        ],
    )  # fmt: skip
    def test_size_codes(self, code, inside, section):
        """ISO 3601-1:2012 size codes, inside diameter and section in mm."""
        found = read(ORing, f"{code} EPDM 70")
        assert (found.inside_diameter_mm, found.section_mm) == (Decimal(inside), Decimal(section))

    def test_sections_go_by_series(self):
        """ISO 3601-1:2012: 0xx 1.78, 1xx 2.62, 2xx 3.53, 3xx 5.33, 4xx 6.99 mm."""
        sections = {"0": "1.78", "1": "2.62", "2": "3.53", "3": "5.33", "4": "6.99"}
        for code, (_, section) in SIZE_CODES.items():
            assert section == Decimal(sections[code[0]]), code

    def test_sizes_in_inches_agree(self):
        """Inside diameters in inches as the size codes were first given (value from memory), 25.4 mm each."""
        inches = {"010": "0.239", "214": "0.984", "226": "1.984", "325": "1.475", "425": "4.475"}
        for code, size in inches.items():
            assert abs(SIZE_CODES[code][0] - Decimal(size) * Decimal("25.4")) < Decimal("0.006"), code

    def test_another_material_or_size_is_another_ring_and_hardness_counts_where_it_is_asked(self):
        asked = parse_specification("o-ring", "50.39x3.53 EPDM")
        assert compare(asked, parse_specification("o-ring", "226 EPDM 70")).equal
        assert not compare(asked, parse_specification("o-ring", "226 NBR 70")).equal
        assert not compare(asked, parse_specification("o-ring", "50x3.5 EPDM")).equal
        assert not compare(
            parse_specification("o-ring", "226 EPDM 80"), parse_specification("o-ring", "226 EPDM 70")
        ).equal

    def test_the_older_name_of_fluorocarbon_is_read(self):
        """ISO 1629: FKM, in older texts FPM."""
        assert read(ORing, "226 FPM 75").material == "FKM"

    @pytest.mark.parametrize("text", ["", "226", "226 RUBBER", "999 EPDM", "3x50 EPDM", "50x EPDM", "-5x1 EPDM"])
    def test_what_is_none_is_refused(self, text):
        with pytest.raises(SpecificationError):
            parse_specification("o-ring", text)

    @given(
        st.decimals("2", "600", places=2),
        st.decimals("1", "1.9", places=2),
        st.sampled_from(["NBR", "EPDM", "VMQ"]),
    )
    def test_the_designation_reads_back_to_the_same_ring(self, inside, section, material):
        ring = ORing(inside, section, material, 70)
        assert parse_specification("o-ring", ring.designation()) == ring
        assert specification_from_json(ring.to_json()) == ring


class TestMechanicalSeals:
    def test_designation(self):
        """EN 12756:2000: length N or K, unbalanced or balanced, nominal diameter, rotation, pinned seat or not."""
        normal = read(MechanicalSeal, "NU043S0 Q1 Q1 E G G")
        short = read(MechanicalSeal, "KB012R1 B V P G G")
        assert (normal.length, normal.balance, normal.nominal_diameter_mm, normal.rotation) == ("N", "U", 43, "S")
        assert (short.length, short.balance, short.nominal_diameter_mm, short.seat_pinned) == ("K", "B", 12, True)

    def test_a_letter_means_what_its_place_says(self):
        """EN 12756 material key (value from memory): V is alumina as a face and FKM as a secondary seal."""
        seal = parse_specification("mechanical-seal", "NU043S0 V B V G G")
        assert elastomers_of(seal) == ("FKM",)
        assert elastomers_of(parse_specification("mechanical-seal", "NU043S0 V B T G G")) == ()

    def test_a_seal_that_turns_either_way_serves_for_one_that_turns_right(self):
        right, either = (parse_specification("mechanical-seal", f"NU043{way}0 Q1 B E G G") for way in "RS")
        assert compare(right, either).equal
        assert not compare(either, right).equal

    def test_a_suffix_narrows_a_letter(self):
        wide = parse_specification("mechanical-seal", "NU043S0 Q B E G G")
        narrow = parse_specification("mechanical-seal", "NU043S0 Q1 B E G G")
        assert compare(wide, narrow).equal
        assert not compare(narrow, wide).equal

    def test_a_diameter_that_is_none_names_the_nearest(self):
        """EN 12756 nominal diameters (value from memory)."""
        with pytest.raises(SpecificationError, match="Nearest: 43 mm"):
            parse_specification("mechanical-seal", "NU042S0 Q1 Q1 E G G")

    @given(
        st.sampled_from("NK"), st.sampled_from("UB"), st.sampled_from(DIAMETERS), st.sampled_from("RLS"), st.booleans()
    )
    def test_the_designation_reads_back(self, length, balance, diameter, rotation, pinned):
        seal = MechanicalSeal(
            length, balance, Decimal(diameter), rotation, diameter % 2 == 0, ("Q1", "B", "E", "G", "G")
        )
        assert parse_specification("mechanical-seal", seal.designation()) == seal


class TestOthers:
    @pytest.mark.parametrize(
        ("category", "text"),
        [
            ("flat-gasket", "120x100x2 FIBRE"), ("lip-seal", "40x62x8 NBR"), ("wear-ring", "110x95x20 CI"),
            ("sleeve", "43x33x80 STEEL"), ("packing", "10 PTFE"), ("circlip", "shaft 40x1.75"),
            ("circlip", "bore 90x3"), ("key", "10x8x40"), ("fastener", "M12x40 8.8"), ("fastener", "M10x30 A2-70"),
        ],
    )  # fmt: skip
    def test_each_category_reads_its_form_and_keeps_it(self, category, text):
        found = parse_specification(category, text)
        assert parse_specification(category, found.designation()) == found
        assert specification_from_json(found.to_json()) == found
        assert compare(found, found).equal

    def test_free_text_is_never_equal_but_by_number(self):
        one = parse_specification("other", "guard bolt set")
        assert not compare(one, one).comparable

    def test_another_category_is_never_comparable(self):
        ring = parse_specification("o-ring", "226 EPDM 70")
        assert not compare(ring, parse_specification("rolling-bearing", "6308")).comparable

    def test_an_unknown_category_names_the_known_ones(self):
        with pytest.raises(SpecificationError, match="o-ring"):
            parse_specification("hose", "x")
        assert "mechanical-seal" in known_categories()


def test_bearing_designations_read_back():
    for text in ("6308", "6308-2Z/C3", "NU308", "62/28", "608-2RS"):
        found = parse_specification("rolling-bearing", text)
        assert isinstance(found, RollingBearing)
        assert parse_specification("rolling-bearing", found.designation()) == found
