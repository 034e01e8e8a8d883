"""Serial numbers: an order without contradictions, and ranges, stars and cut points that agree with looking at each
serial by itself. The order is the shop's own (common practice, no source)."""

import itertools

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from assets.calculations.serial_ranges import (
    RangeRefused,
    SerialRange,
    gaps,
    overlap,
    read_range,
    segment_of,
    serial_key,
    sorted_serials,
)

SERIALS = st.text("ABZ019-/", min_size=1, max_size=5)
BOUNDS = st.just("") | SERIALS | SERIALS.map(lambda one: one + "*")
# Every serial of up to four of these signs: small enough to look at each.
ALL = ["".join(signs) for size in range(1, 5) for signs in itertools.product("AZ19-", repeat=size)]
SOME = st.text("AZ19-", min_size=1, max_size=3)
SOME_BOUNDS = st.just("") | SOME | SOME.map(lambda one: one + "*")


EACH = settings(max_examples=60, deadline=None)


@st.composite
def ranges(draw, bounds=SOME_BOUNDS):
    one = SerialRange(draw(bounds), draw(bounds))
    assume(not one.is_empty())
    return one


def begins_with(serial, prefix):
    """In the trade's sense: by text, and a number at the end of the prefix is the whole number."""
    if not prefix[-1].isdecimal():
        return serial.startswith(prefix)
    key = serial_key(prefix)
    return serial_key(serial)[: len(key)] == key


class TestTheOrder:
    @given(SERIALS, SERIALS, SERIALS)
    def test_is_total_antisymmetric_and_transitive(self, one, other, third):
        a, b, c = serial_key(one), serial_key(other), serial_key(third)
        assert (a < b) + (a == b) + (a > b) == 1
        if a <= b <= c:
            assert a <= c
        if a <= b and b <= a:
            assert _without_zeros(one) == _without_zeros(other)

    @given(SERIALS, st.text("ABZ-/", min_size=1, max_size=3))
    def test_a_serial_comes_before_its_continuation(self, serial, more):
        assert serial_key(serial) < serial_key(serial + more)

    @given(st.text("ABZ-/", max_size=3), st.integers(0, 10**6), st.integers(0, 10**6))
    def test_numbers_compare_as_numbers(self, before, one, other):
        assert (serial_key(f"{before}{one}") < serial_key(f"{before}{other:07d}")) == (one < other)

    def test_the_order_of_the_documentation(self):
        assert sorted_serials(["B1", "AB1", "A10B", "A010", "A9"]) == ["A9", "A010", "A10B", "AB1", "B1"]


def _without_zeros(serial):
    return [run[2] or run[1] for run in serial_key(serial)]


class TestStars:
    @EACH
    @given(SOME)
    def test_a_star_stands_for_all_that_begin_so(self, prefix):
        starred = SerialRange(f"{prefix}*")
        assert [one for one in ALL if starred.contains(one)] == [one for one in ALL if begins_with(one, prefix)]

    @EACH
    @given(SOME, SOME)
    def test_as_an_end_it_takes_them_all_in(self, first, prefix):
        one = SerialRange(first, f"{prefix}*")
        assume(not one.is_empty())
        expected = [
            each
            for each in ALL
            if serial_key(first) <= serial_key(each)
            and (serial_key(each) <= serial_key(prefix) or begins_with(each, prefix))
        ]
        assert [each for each in ALL if one.contains(each)] == expected

    @pytest.mark.parametrize(
        ("start", "end", "inside", "outside"),
        [
            ("NB2017*", "", "NB2017-0001", "NB20171"),
            ("NB2017*", "NB2018*", "NB2018-9999", "NB2019"),
            ("AB*", "", "ABZ9", "AC"),
            ("AZ*", "", "AZZZ", "B"),
            ("", "AB*", "A1", "AC"),
            ("*", "", "anything", None),
        ],
    )
    def test_cases(self, start, end, inside, outside):
        one = read_range(start, end)
        assert one.contains(inside)
        assert outside is None or not one.contains(outside)

    @pytest.mark.parametrize(
        ("start", "end", "field"),
        [("A*B", "", "serial_from"), ("", "*A", "serial_to"), ("B", "A", "serial_to"), ("A" * 40, "", "serial_from")],
    )
    def test_what_cannot_be_is_refused_with_its_field(self, start, end, field):
        with pytest.raises(RangeRefused) as refused:
            read_range(start, end)
        assert refused.value.field == field
        assert refused.value.remedy


class TestRanges:
    @EACH
    @given(ranges(), ranges())
    def test_overlap_agrees_with_looking_at_each_serial(self, one, other):
        both = any(one.contains(each) and other.contains(each) for each in [*ALL, *_own(one), *_own(other)])
        assert overlap(one, other) == overlap(other, one) == both

    @EACH
    @given(ranges(), SOME)
    def test_cut_points_separate_inside_from_outside(self, one, serial):
        """Serials of one segment are either all in the range or all outside."""
        cuts = one.cuts()
        segments: dict[int, set[bool]] = {}
        for each in ALL:
            segments.setdefault(segment_of(each, cuts), set()).add(one.contains(each))
        assert all(len(found) == 1 for found in segments.values())

    @EACH
    @given(st.lists(ranges(), min_size=1, max_size=4))
    def test_a_gap_holds_what_no_range_does_and_nothing_else(self, some):
        found = gaps(some)
        for serial in ALL:
            covered = any(one.contains(serial) for one in some)
            if any(gap.contains(serial) for gap in found):
                assert not covered
        outside = [one for one in ALL if not any(each.contains(one) for each in some)]
        reported = [one for one in outside if any(gap.contains(one) for gap in found)]
        # What is left out and not reported lies between two ranges that follow each other number by number.
        for serial in set(outside) - set(reported):
            assert any(each.high is not None and each.high < serial_key(serial) for each in some)
            assert any(each.low > serial_key(serial) for each in some)

    def test_numbers_that_follow_each_other_leave_nothing_out(self):
        assert gaps([SerialRange("", "A199"), SerialRange("A200", "A299"), SerialRange("A300")]) == []
        assert gaps([SerialRange("", "NB2017*"), SerialRange("NB2018-0001")]) == []
        assert gaps([SerialRange("", "AB*"), SerialRange("AC*", "AD*"), SerialRange("AE")]) == []
        (gap,) = gaps([SerialRange("", "A199"), SerialRange("A210")])
        assert gap.words() == "serials after A199 and before A210"
        assert gap.contains("A205")


def _own(one):
    """Serials at the bounds themselves, which may be longer than those looked at otherwise."""
    return [bound.removesuffix("*") for bound in (one.start, one.end) if bound.removesuffix("*")]
