"""What a number looks like where people read it."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assets.calculations.written_numbers import plain, signed

FIGURES = st.decimals(min_value=-(10**9), max_value=10**9, places=4)


@pytest.mark.parametrize(
    ("number", "written"), [("2.500", "2.5"), ("1E+2", "100"), ("0.000", "0"), ("-0.0400", "-0.04"), ("40", "40")]
)
def test_a_number_has_no_trailing_zeros_and_no_exponent(number, written):
    assert plain(Decimal(number)) == written


def test_pieces_counted_in_whole_numbers_are_written_the_same():
    assert plain(1200) == "1200"


@pytest.mark.parametrize(("number", "written"), [("0.0180", "+0.018"), ("-0.020", "-0.02"), ("0.000", "0")])
def test_a_deviation_has_its_sign_and_none_has_none(number, written):
    assert signed(Decimal(number)) == written


@given(FIGURES)
def test_what_is_written_reads_back_as_the_same_number(number):
    assert Decimal(plain(number)) == number
    assert Decimal(signed(number)) == number
