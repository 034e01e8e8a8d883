"""O-rings against ISO 3601-1 and AS568."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assets.calculations.o_ring_sizes import BY_CODE, BY_SIZE, nearest
from assets.calculations.o_rings import SIZE_CODES, ORing, parse
from assets.calculations.part_specifications import SpecificationError, compare, parse_specification
from tests.pint_units import EXACT

SIXTEENTH = Decimal(1) / 16


def read(text):
    found = parse(text).specification
    assert isinstance(found, ORing)
    return found


def named(text):
    return {(one.name, one.unit): (one.value, one.source) for one in read(text).properties()}


class TestSizes:
    @pytest.mark.parametrize(
        ("code", "inside_in", "inside", "section"),
        [
            ("010", "0.239", "6.07", "1.78"), ("012", "0.364", "9.25", "1.78"), ("014", "0.489", "12.42", "1.78"),
            ("016", "0.614", "15.60", "1.78"), ("020", "0.864", "21.95", "1.78"), ("024", "1.114", "28.30", "1.78"),
            ("110", "0.362", "9.19", "2.62"), ("112", "0.487", "12.37", "2.62"), ("116", "0.737", "18.72", "2.62"),
            ("120", "0.987", "25.07", "2.62"), ("210", "0.734", "18.64", "3.53"), ("214", "0.984", "24.99", "3.53"),
            ("218", "1.234", "31.34", "3.53"), ("222", "1.484", "37.69", "3.53"), ("226", "1.984", "50.39", "3.53"),
            ("230", "2.484", "63.09", "3.53"), ("312", "0.600", "15.24", "5.33"), ("325", "1.475", "37.47", "5.33"),
            ("330", "2.100", "53.34", "5.33"), ("335", "2.725", "69.22", "5.33"), ("340", "3.350", "85.09", "5.33"),
            ("345", "3.975", "100.97", "5.33"), ("425", "4.475", "113.67", "6.99"), ("440", "6.725", "170.82", "6.99"),
            ("104", "0.112", "2.84", "2.62"), ("001", "0.029", "0.74", "1.02"), ("178", "9.737", "247.32", "2.62"),
            ("284", "17.955", "456.06", "3.53"), ("395", "25.940", "658.88", "5.33"),
            ("475", "25.940", "658.88", "6.99"),
        ],
    )  # fmt: skip
    def test_size_codes(self, code, inside_in, inside, section):
        """ISO 3601-1:2012, table of size codes; AS568 dash numbers (the 3xx, 001, 104, 112, 116, 178, 284, 440
        and 475 value from memory)."""
        assert SIZE_CODES[code] == (Decimal(inside), Decimal(section))
        assert BY_CODE[code].inside_in == Decimal(inside_in)
        assert read(f"{code} EPDM 70").size == BY_CODE[code]

    def test_the_series_hold_as_many_sizes_as_the_standard_names(self):
        """AS568 names 369 sizes, 20 of them the 9xx for tube fittings (value from memory)."""
        runs = {"0": (1, 50), "1": (102, 178), "2": (201, 284), "3": (309, 395), "4": (425, 475)}
        assert len(BY_CODE) == 369 - 20
        for first, (low, high) in runs.items():
            codes = sorted(int(code) for code in BY_CODE if code[0] == first)
            assert codes == list(range(low, high + 1))

    @pytest.mark.parametrize(
        ("codes", "less", "step"),
        [
            (range(10, 51), "0.011", 1), (range(109, 179), "0.013", 1), (range(210, 282), "0.016", 1),
            (range(282, 285), "0.045", 1), (range(309, 385), "0.025", 1), (range(385, 392), "0.045", 1),
            (range(392, 396), "0.060", 1), (range(425, 461), "0.025", 1), (range(461, 472), "0.045", 1),
            (range(472, 476), "0.060", 1), (range(6, 10), "0.011", 2), (range(102, 109), "0.013", 2),
            (range(201, 210), "0.016", 2),
        ],
    )  # fmt: skip
    def test_inside_diameters_are_whole_sixteenths_of_an_inch_less_one_allowance(self, codes, less, step):
        """AS568: rings are named by their nominal bore in sixteenths of an inch (thirty-seconds for the smallest) and
        made smaller by the allowance of their series, to the thousandth (value from memory)."""
        for number in codes:
            parts = (BY_CODE[f"{number:03d}"].inside_in + Decimal(less)) / SIXTEENTH * step
            assert abs(parts - round(parts)) * SIXTEENTH / step <= Decimal("0.0005"), number

    def test_sizes_grow_with_the_code(self):
        for first in "01234":
            run = [one.inside_in for code, one in sorted(BY_CODE.items()) if code[0] == first]
            assert run == sorted(set(run))

    def test_no_two_codes_are_one_ring(self):
        assert len(BY_SIZE) == len(BY_CODE)

    @given(st.integers(40, 7000), st.integers(80, 720))
    def test_the_nearest_size_is_that_of_a_search_through_all(self, inside, section):
        ring = Decimal(inside) / 10, Decimal(section) / 100
        within = [
            one
            for one in BY_CODE.values()
            if abs(one.inside_mm - ring[0]) <= Decimal("0.5") and abs(one.section_mm - ring[1]) <= Decimal("0.1")
        ]
        found = nearest(*ring)
        least = min((abs(one.inside_mm - ring[0]) for one in within), default=None)
        assert (abs(found.inside_mm - ring[0]) if found else None) == least

    def test_millimetres_are_the_inches_rounded(self):
        """Against pint's inch; ISO 3601-1:2012 prints hundredths of a millimetre."""
        for code, one in BY_CODE.items():
            for inches, mm in ((one.inside_in, one.inside_mm), (one.section_in, one.section_mm)):
                exact = EXACT.Quantity(inches, "inch").to("millimeter").magnitude
                assert abs(exact - mm) <= Decimal("0.005"), code

    def test_sections_go_by_series(self):
        """ISO 3601-1:2012: 0xx 1.78, 1xx 2.62, 2xx 3.53, 3xx 5.33, 4xx 6.99 mm; 001 to 003 are smaller."""
        sections = {"0": "1.78", "1": "2.62", "2": "3.53", "3": "5.33", "4": "6.99"}
        odd = {"001": "1.02", "002": "1.27", "003": "1.52"}
        for code, (_, section) in SIZE_CODES.items():
            assert section == Decimal(odd.get(code, sections[code[0]])), code

    @pytest.mark.parametrize(
        ("code", "tolerance"),
        [("010", "±0.08"), ("110", "±0.08"), ("226", "±0.10"), ("325", "±0.13"), ("425", "±0.15")],
    )
    def test_section_tolerances(self, code, tolerance):
        """ISO 3601-1:2012, tolerances of the section."""
        assert named(f"{code} EPDM")["section tolerance", "mm"] == (tolerance, "ISO 3601-1")


class TestReading:
    @pytest.mark.parametrize(
        "text",
        [
            "226 EPDM 70", "50.39x3.53 EPDM 70", "50,39 X 3,53 epdm 70", "50.39 mm x 3.53 mm EPDM-70",
            "1.984 in x 0.139 in EPDM 70 IRHD", '1.984" x .139" EPDM70', "AS568-226 EPDM 70", "AS568A 226 EPDM 70",
            "ISO 3601-1-226 EPDM 70", "O-ring 226 EPDM 70", "50.39 × 3.53 EPDM 70", "50.3936x3.5306 EPDM 70",
            "226 70 EPDM",
        ],
    )  # fmt: skip
    def test_one_ring_written_in_many_ways(self, text):
        assert read(text) == read("226 EPDM 70")

    def test_class_and_surface_grade_are_kept(self):
        """ISO 3601-1:2012 designation: size code with class, inside diameter x section, grade (ISO 3601-3)."""
        ring = read("ISO 3601-1-226B-50,39x3,53-N EPDM 70")
        assert (ring.tolerance_class, ring.surface_grade) == ("B", "N")
        assert read("226 EPDM 70 class B grade N") == ring
        assert read("226B EPDM 70 grade N") == ring

    def test_the_scale_of_a_hardness_is_kept(self):
        assert (read("226 EPDM 70").hardness_irhd, read("226 EPDM 70").hardness_shore_a) == (70, None)
        for text in ("226 EPDM 70 Shore A", "226 EPDM 70 ShA", "226 EPDM 70° Shore A"):
            assert (read(text).hardness_irhd, read(text).hardness_shore_a) == (None, 70)

    @pytest.mark.parametrize(
        ("older", "name"), [("FPM", "FKM"), ("FFPM", "FFKM"), ("MVQ", "VMQ"), ("MFQ", "FVMQ"), ("FMQ", "FVMQ")]
    )
    def test_older_names_of_elastomers_are_read(self, older, name):
        """ISO 1629: FKM, in older texts FPM; the others value from memory."""
        assert read(f"226 {older} 75").material == name
        assert older in " ".join(parse(f"226 {older} 75").notes)

    @pytest.mark.parametrize(
        ("text", "field"),
        [
            ("226", "material"), ("226 RUBBER", "material"), ("226 70", "material"), ("999 EPDM", "size"),
            ("285 EPDM", "size"), ("200 EPDM", "size"), ("3x50 EPDM", "section_mm"), ("50x EPDM", "specification"),
            ("-5x1 EPDM", "specification"), ("226 EPDM 700", "hardness_irhd"), ("226 EPDM 10", "hardness_irhd"),
            ("226 EPDM 70 80", "hardness_irhd"), ("226 EPDM 70 70 Shore A", "hardness_shore_a"),
            ("226 EPDM NBR", "material"), ("226-25.07x2.62 EPDM", "size"), ("226A EPDM class B", "tolerance_class"),
            ("226 EPDM ?", "specification"), ("1.984 in x 3.53 EPDM", "section_mm"),
        ],
    )  # fmt: skip
    def test_what_is_none_is_refused_with_its_field(self, text, field):
        with pytest.raises(SpecificationError) as refused:
            parse(text)
        assert refused.value.field == field

    def test_what_a_ring_tells(self):
        told = named("226 EPDM 70 class A grade CS")
        assert told["inside diameter", "mm"] == ("50.39", "ISO 3601-1, size code 226")
        assert told["inside diameter", "in"] == ("1.984", "AS568")
        assert told["outside diameter", "mm"] == ("57.45", "computed")
        assert told["material", ""] == ("EPDM, ethylene-propylene-diene rubber", "ISO 1629")
        assert told["hardness", "IRHD"][0] == "70"
        assert told["tolerance class", ""][0] == "A"
        assert told["surface grade", ""][0] == "CS, critical"


class TestMetricRings:
    @pytest.mark.parametrize("section", ["2", "2.5", "3", "4", "5", "1.8", "2.65", "3.55", "5.3", "7"])
    def test_metric_sections_are_another_family(self, section):
        """ISO 3601-1:2012 sections are 1.78 to 6.99 mm; 1.8 to 7 mm are those of the older metric series (value from
        memory)."""
        assert read(f"50x{section} NBR 70").size is None

    @pytest.mark.parametrize("text", ["50.4x3.53 EPDM", "50.39x3.5 EPDM", "50x3.5 EPDM", "50.39x3.55 EPDM"])
    def test_near_enough_is_never_enough(self, text):
        """Metric and inch sections must not be swapped (common practice, no source)."""
        assert not compare(read("226 EPDM"), read(text)).equal
        assert "226" in " ".join(parse(text).notes)


class TestComparing:
    @pytest.mark.parametrize(
        ("asked", "offered", "serves"),
        [
            ("50.39x3.53 EPDM", "226 EPDM 70", True), ("226 EPDM 70", "226 EPDM", False),
            ("226 EPDM", "226 NBR", False), ("226 EPDM 80", "226 EPDM 70", False),
            ("226 EPDM 70", "226 EPDM 70 Shore A", True), ("226 EPDM 70", "226 EPDM 80 Shore A", False),
            ("226 EPDM class B", "226 EPDM class A", True), ("226 EPDM class A", "226 EPDM class B", False),
            ("226 EPDM class A", "226 EPDM", False), ("226 EPDM", "226 EPDM class B", True),
            ("226 EPDM grade N", "226 EPDM grade S", True), ("226 EPDM grade CS", "226 EPDM grade S", False),
            ("226 EPDM grade S", "226 EPDM", False),
        ],
    )  # fmt: skip
    def test_size_and_material_always_the_rest_where_it_is_asked(self, asked, offered, serves):
        """Class A is the closer one (ISO 3601-1); grade CS asks more than S, S more than N (ISO 3601-3, value from
        memory); hardness scales by their number (common practice, no source)."""
        assert compare(parse_specification("o-ring", asked), parse_specification("o-ring", offered)).equal == serves

    def test_both_scales_are_shown(self):
        point = compare(read("226 EPDM 70"), read("226 EPDM 75 Shore A")).points[-1]
        assert (point.name, point.asked, point.offered, point.same) == ("hardness", "70 IRHD", "75 Shore A", False)
