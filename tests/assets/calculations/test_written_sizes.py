"""Sizes as written: units, decimal comma, multiplication signs."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assets.calculations.specification_base import SpecificationError
from assets.calculations.written_sizes import read_sizes, tidy
from tests.pint_units import EXACT

TWO = ("inside_diameter_mm", "section_mm")


def read(text, fields=TWO):
    return read_sizes(tidy(text), fields, "ring", "50.39x3.53")


@pytest.mark.parametrize(
    "text",
    [
        "50.8x3.175", "50,8 x 3,175", "50.8 × 3.175 mm", "50.8 mm X 3.175 mm", "Ø50.8x3.175", "2 in x 0.125 in",
        '2" x .125"', "2″ × 0,125″", "2x0.125 inch", "2 inches x 3.175 mm", "50.80mmx3.1750mm", "2 in. x 1/8 in.",
        "2''x1/8''", "\u00a050.8\u00a0x\u202f3.175 ",
    ],
)  # fmt: skip
def test_the_same_sizes_written_differently_are_the_same(text):
    assert read(text).values == (Decimal("50.8"), Decimal("3.175"))


@given(st.decimals("0.001", "300", places=3))
def test_inches_become_millimetres_exactly(inches):
    """Against pint's definition of the inch (1959 international yard and pound agreement: 25.4 mm)."""
    expected = EXACT.Quantity(inches, "inch").to("millimeter").magnitude
    assert read(f"{inches} in", ("size",)).values == (expected,)


@given(st.integers(0, 12), st.integers(1, 63), st.sampled_from([2, 4, 8, 16, 32, 64]))
def test_fractions_of_an_inch_become_millimetres_exactly(whole, above, below):
    """Against pint's definition of the inch."""
    text = f"{whole} {above}/{below} in" if whole else f"{above}/{below} in"
    expected = EXACT.Quantity(whole + Decimal(above) / below, "inch").to("millimeter").magnitude
    assert read(text, ("size",)).values == (expected,)


def test_a_conversion_is_told():
    assert read("1.984 in x .139 in").notes == ("1.984 in x .139 in is 50.3936 x 3.5306 mm (1 in = 25.4 mm).",)
    assert read("50.39x3.53").notes == ()


def test_what_follows_the_sizes_is_left():
    assert read("50.39x3.53 EPDM 70").rest == "EPDM 70"
    assert read("2 in x 1/8 in INOX").rest == "INOX"


@pytest.mark.parametrize(
    ("text", "field"),
    [
        ("50.39", "specification"), ("50.39x", "specification"), ("x3.53", "specification"), ("axb", "specification"),
        ("50.39x3.53x2", "specification"), ("50x3EPDM", "specification"), ("0x3", "inside_diameter_mm"),
        ("2 in x 3", "section_mm"), ("1/8x3", "inside_diameter_mm"), ("99999 x 3", "inside_diameter_mm"),
        ("1.2.3x4", "specification"), ("٣x2", "specification"), ("50.39x3.53\x00", "specification"),
        ("2 in x 3 in in EPDM", "specification"), ('2" x 3" mm', "specification"),
        ("2x3- in PTFE", "specification"),
    ],
)  # fmt: skip
def test_what_is_no_size_is_refused_with_its_field(text, field):
    with pytest.raises(SpecificationError) as refused:
        read(text)
    assert refused.value.field == field
    assert refused.value.remedy
