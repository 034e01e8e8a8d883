"""Rolling bearings against ISO 15, ISO 5753-1 and the numbering of DIN 623-1."""

import itertools
from decimal import Decimal

import pytest

from assets.calculations.bearing_clearances import CLASSES, clearance_um
from assets.calculations.bearing_dimensions import BOUNDARIES, CYLINDRICAL, DEEP_GROOVE
from assets.calculations.part_specifications import SpecificationError, compare
from assets.calculations.rolling_bearings import RollingBearing, bore_of, parse


def read(text):
    found = parse(text).specification
    assert isinstance(found, RollingBearing)
    return found


def sizes(text):
    one = read(text)
    assert one.boundary is not None
    return one.bore_mm, one.boundary.outside_mm, one.boundary.width_mm


def named(text):
    return {one.name: one.value for one in read(text).properties()}


class TestBores:
    @pytest.mark.parametrize(
        ("designation", "bore"),
        [
            ("6308", 40), ("6203", 17), ("6302", 15), ("6200", 10), ("6201", 12), ("62/28", 28), ("608", 8), ("629", 9),
            ("NU308", 40), ("NU2308", 40), ("N208", 40), ("3308", 40), ("61804", 20), ("60/500", 500), ("618/8", 8),
            ("16008", 40), ("22208", 40), ("6396", 480),
        ],
    )  # fmt: skip
    def test_bores_after_the_numbering_rule(self, designation, bore):
        """DIN 623-1, bore codes: 00-03 are 10, 12, 15, 17 mm; 04 to 96 times five; after a stroke the bore itself;
        below 10 mm the last digit."""
        assert bore_of(designation) == bore

    @pytest.mark.parametrize("text", ["", "63", "6399", "630", "abc", "NU08", "NU/28", "6308/28", "NN3008", "630812"])
    def test_what_names_no_bore_is_refused(self, text):
        with pytest.raises(SpecificationError):
            parse(text)


class TestBoundaryDimensions:
    @pytest.mark.parametrize(
        ("designation", "expected"),
        [
            ("6206", "30 62 16"), ("6208", "40 80 18"), ("6305", "25 62 17"), ("6306", "30 72 19"),
            ("6308", "40 90 23"),
            ("6310", "50 110 27"), ("6312", "60 130 31"), ("7308", "40 90 23"), ("7310", "50 110 27"),
            ("NU308", "40 90 23"), ("3308", "40 90 36.5"), ("6410", "50 130 31"), ("6010", "50 80 16"),
            ("61810", "50 65 7"), ("61910", "50 72 12"), ("7210", "50 90 20"), ("7010", "50 80 16"),
            ("3210", "50 90 30.2"), ("NJ2210", "50 90 23"), ("NUP2310", "50 110 40"), ("N210", "50 90 20"),
            ("6322", "110 240 50"), ("6220", "100 180 34"), ("62/22", "22 50 14"), ("63/32", "32 75 20"),
        ],
    )  # fmt: skip
    def test_dimensions(self, designation, expected):
        """ISO 15:2017, boundary dimensions (value from memory)."""
        assert sizes(designation) == tuple(map(Decimal, expected.split()))

    @pytest.mark.parametrize(
        ("designation", "expected"),
        [
            ("625", "5 16 5"), ("626", "6 19 6"), ("627", "7 22 7"), ("608", "8 22 7"), ("609", "9 24 7"),
            ("629", "9 26 8"), ("6000", "10 26 8"), ("6200", "10 30 9"), ("6300", "10 35 11"), ("6001", "12 28 8"),
            ("6201", "12 32 10"), ("6301", "12 37 12"), ("16002", "15 32 8"), ("6002", "15 32 9"), ("6202", "15 35 11"),
            ("6302", "15 42 13"), ("16003", "17 35 8"), ("6003", "17 35 10"), ("6203", "17 40 12"),
            ("6303", "17 47 14"),
            ("16004", "20 42 8"), ("6004", "20 42 12"), ("6204", "20 47 14"), ("6304", "20 52 15"),
            ("16005", "25 47 8"),
            ("6005", "25 47 12"), ("6205", "25 52 15"), ("6305", "25 62 17"), ("16006", "30 55 9"),
            ("6006", "30 55 13"),
            ("6206", "30 62 16"), ("16007", "35 62 9"), ("6007", "35 62 14"),
        ],
    )  # fmt: skip
    def test_deep_groove_bearings_of_an_open_library(self, designation, expected):
        """DIN 625-1, as the open library of technical specifications BOLTS tabulates it (data/bearings.blt)."""
        assert sizes(designation) == tuple(map(Decimal, expected.split()))

    @pytest.mark.parametrize(
        ("bore_code", "expected"),
        [
            ("03", "17 40 16"), ("04", "20 47 18"), ("05", "25 52 18"), ("06", "30 62 20"), ("07", "35 72 23"),
            ("08", "40 80 23"), ("09", "45 85 23"), ("10", "50 90 23"), ("11", "55 100 25"), ("12", "60 110 28"),
            ("13", "65 120 31"), ("14", "70 125 31"), ("15", "75 130 31"), ("16", "80 140 33"), ("17", "85 150 36"),
            ("18", "90 160 40"),
        ],
    )  # fmt: skip
    def test_dimension_series_22(self, bore_code, expected):
        """DIN 625-3 bearings 42.. lie in the same dimension series 22 of ISO 15, as the open library BOLTS tabulates
        them (data/bearings.blt)."""
        assert sizes(f"NU22{bore_code}") == tuple(map(Decimal, expected.split()))

    def test_one_diameter_series_has_one_outside_diameter_for_a_bore(self):
        """ISO 15:2017: the second digit of a dimension series fixes the outside diameter, the first the width."""
        for families in (("02", "22", "32"), ("03", "23", "33"), ("00", "10")):
            for bore in set.intersection(*(set(BOUNDARIES[one]) for one in families)):
                if bore >= 15:
                    assert len({BOUNDARIES[one][bore][0] for one in families}) == 1, (families, bore)

    def test_wider_series_are_wider_and_heavier_series_larger(self):
        """ISO 15:2017: width and diameter series ascend."""
        for thinner, wider in (("00", "10"), ("02", "22"), ("22", "32"), ("03", "23"), ("23", "33")):
            for bore in set(BOUNDARIES[thinner]) & set(BOUNDARIES[wider]):
                assert BOUNDARIES[thinner][bore][1] <= BOUNDARIES[wider][bore][1], (thinner, wider, bore)
        for lighter, heavier in (("18", "19"), ("19", "10"), ("10", "02"), ("02", "03"), ("03", "04")):
            for bore in set(BOUNDARIES[lighter]) & set(BOUNDARIES[heavier]):
                assert BOUNDARIES[lighter][bore][0] < BOUNDARIES[heavier][bore][0], (lighter, heavier, bore)

    @pytest.mark.parametrize("series", sorted(BOUNDARIES))
    def test_dimensions_grow_with_the_bore_and_leave_room_for_rings(self, series):
        rows = sorted((bore, *row) for bore, row in BOUNDARIES[series].items())
        outsides, widths = [row[1] for row in rows], [row[2] for row in rows]
        assert outsides == sorted(set(outsides))
        assert widths == sorted(widths)
        assert all(outside > bore for bore, outside, _ in rows)

    def test_what_is_not_in_the_table_says_so_and_is_still_a_bearing(self):
        reading = parse("30308")
        assert "not in the table" in " ".join(reading.notes)
        assert named("30308")["outside diameter and width"] == "not in the table"
        assert named("30308")["bore"] == "40"


class TestClearance:
    @pytest.mark.parametrize(
        ("bore", "group", "limits"),
        [
            (25, "CN", (5, 20)), (30, "CN", (5, 20)), (30, "C3", (13, 28)), (35, "CN", (6, 20)), (40, "CN", (6, 20)),
            (40, "C3", (15, 33)), (45, "CN", (6, 23)), (50, "C3", (18, 36)), (55, "CN", (8, 28)), (65, "C3", (23, 43)),
            (10, "C3", (8, 23)), (100, "C4", (53, 84)), (20, "C5", (28, 48)), (12, "C2", (0, 9)),
        ],
    )  # fmt: skip
    def test_deep_groove_ball_bearings(self, bore, group, limits):
        """ISO 5753-1:2009, radial internal clearance of deep groove ball bearings, µm (value from memory)."""
        assert clearance_um(DEEP_GROOVE, Decimal(bore), group) == limits

    @pytest.mark.parametrize(
        ("bore", "group", "limits"), [(40, "CN", (25, 50)), (40, "C3", (45, 70)), (100, "C2", (15, 50))]
    )
    def test_cylindrical_roller_bearings(self, bore, group, limits):
        """ISO 5753-1:2009, radial internal clearance of cylindrical roller bearings, µm (value from memory)."""
        assert clearance_um(CYLINDRICAL, Decimal(bore), group) == limits

    @pytest.mark.parametrize("kind", [DEEP_GROOVE, CYLINDRICAL])
    def test_groups_ascend_and_up_to_group_4_begin_within_the_one_before(self, kind):
        """ISO 5753-1:2009, the order of its groups (value from memory)."""
        for bore in (10, 15, 20, 25, 35, 45, 60, 70, 90, 110, 120):
            limits = [clearance_um(kind, Decimal(bore), group) or (0, 0) for group in CLASSES]
            for place, ((low, high), (next_low, next_high)) in enumerate(itertools.pairwise(limits)):
                assert low < next_low, (kind, bore)
                assert high < next_high, (kind, bore)
                assert place == 3 or next_low <= high, (kind, bore)

    def test_none_is_told_where_the_table_has_none(self):
        assert clearance_um(DEEP_GROOVE, Decimal(140), "CN") is None
        assert "radial internal clearance before mounting" not in named("7308B")
        assert "radial internal clearance before mounting" not in named("NU308-K/C3")

    def test_what_a_bearing_tells(self):
        """6308-2Z/C3: ISO 15 and ISO 5753-1 (value from memory)."""
        told = named("6308-2Z/C3")
        assert told["kind"] == "deep groove ball bearing"
        assert (told["bore"], told["outside diameter"], told["width"]) == ("40", "90", "23")
        assert told["clearance class"] == "C3, group 3"
        assert told["radial internal clearance before mounting"] == "15 to 33"
        assert told["sealing"] == "a shield on both sides"


class TestSuffixes:
    @pytest.mark.parametrize(
        "texts",
        [
            ("6308-2Z/C3", "6308 2z c3", "6308/C3-2Z", "6308-ZZ-C3", "6308 ZZ C3"),
            ("6308", " 6308 ", "6308/CN", "6308 C0", "6308/P0"),
            ("6308-2RS", "6308 2RS1", "6308-2RSR"),
            ("NU308E-M/C4", "NU 308 EM C4", "nu-308-E-M-C4"),
            ("7308B-M", "7308 BM", "7308-B-M"),
            ("6308/C3/P6", "6308 P63", "6308 P6 C3", "6308/P6/C3"),
            ("22208-K/C3", "22208K C3", "22208 C3 K"),
        ],
    )
    def test_one_bearing_written_in_many_ways(self, texts):
        assert {read(text).designation() for text in texts} == {texts[0]}

    @pytest.mark.parametrize(("letter", "angle"), [("C", "15"), ("AC", "25"), ("A", "30"), ("B", "40")])
    def test_contact_angles(self, letter, angle):
        """DIN 623-1 / DIN 628-1, letters of the contact angle (value from memory)."""
        assert named(f"7308{letter}")["contact angle"] == angle

    @pytest.mark.parametrize(
        ("letters", "words"),
        [("M", "machined brass cage"), ("MA", "machined brass cage, guided on the outer ring"),
         ("JB", "pressed steel cage, guided on the inner ring"), ("TN", "moulded plastic cage")],
    )  # fmt: skip
    def test_cages(self, letters, words):
        """DIN 623-1, letters of the cage (value from memory)."""
        assert named(f"6308-{letters}")["cage"] == words

    @pytest.mark.parametrize(
        "text", ["6308 C9", "6308 C1", "6308-3Z", "6308B", "6308-2RS-2Z", "6308 C3 C4", "6308E", "6308-XYZ", "6308 P7"]
    )
    def test_what_is_no_suffix_is_refused_with_those_there_are(self, text):
        with pytest.raises(SpecificationError) as refused:
            parse(text)
        assert refused.value.field in {"suffix", "clearance", "sealing"}


class TestComparing:
    def test_seal_and_clearance_never_change_the_bore_but_make_another_part(self):
        """DIN 623-1 suffixes; as stock they are different parts (common practice, no source)."""
        open_one, shielded, roomy = (read(text) for text in ("6308", "6308-2Z", "6308 C3"))
        assert {one.bore_mm for one in (open_one, shielded, roomy)} == {Decimal(40)}
        assert not compare(open_one, shielded).equal
        assert not compare(open_one, roomy).equal
        assert compare(open_one, read(" 6308 ")).equal

    @pytest.mark.parametrize(
        ("asked", "offered", "serves"),
        [
            ("7308", "7308B", True), ("7308B", "7308", False), ("7308B", "7308AC", False), ("NU308", "NU308-M", True),
            ("NU308-M", "NU308", False), ("NU308-M", "NU308-MA", False), ("NU308", "NU308E", True),
            ("NU308E", "NU308", False), ("6308", "6308-K", False), ("6308", "6308-NR", False),
            ("6308", "6308/P6", True),
            ("6308/P6", "6308/P5", True), ("6308/P5", "6308/P6", False), ("6308/P6", "6308", False),
            ("6308/S1", "6308/S2", True), ("6308/S1", "6308", False), ("6308", "NU308", False), ("6308", "6408", False),
        ],
    )  # fmt: skip
    def test_what_serves_for_what(self, asked, offered, serves):
        """ISO 492: class 5 is closer than 6; the rest common practice, no source."""
        assert compare(read(asked), read(offered)).equal == serves
