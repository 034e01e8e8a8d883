"""Metric and inch on paper: exact, with the digits that mean something, limits on the safe side."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.calculations.printed_quantities import INCHES, amount, converted, limits, measured, units_to_write
from tests.pint_units import FLOATING

# The same units by the names of a general-purpose library.
NAMED = {
    "mm": "mm", "cm": "cm", "um": "um", "m": "m", "bar": "bar", "kPa": "kPa", "MPa": "MPa", "Pa": "Pa", "N*m": "N*m",
    "N": "N", "kN": "kN", "mm/s": "mm/s", "m/s": "m/s", "kW": "kW", "W": "W", "L": "L", "m3/h": "m**3/h", "kg": "kg",
    "g": "g", "g*mm": "g*mm",
}  # fmt: skip
THERE = {
    "in": "inch", "µin": "microinch", "ft": "foot", "psi": "psi", "lbf·ft": "lbf*foot", "lbf": "lbf",
    "in/s": "inch/s", "ft/s": "foot/s", "hp": "horsepower", "US gal": "gallon", "US gpm": "gallon/minute", "lb": "lb",
    "oz": "oz", "oz·in": "oz*inch",
}  # fmt: skip


@pytest.mark.parametrize("unit", NAMED)
def test_every_unit_is_converted_as_the_library_pint_does(unit):
    name, divisor = INCHES[unit]
    expected = FLOATING.Quantity(1, NAMED[unit]).to(THERE[name]).magnitude
    assert float(1 / divisor) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize(("celsius", "fahrenheit"), [("0", "32"), ("100", "212"), ("-40", "-40"), ("80", "176")])
def test_temperatures_have_their_offset(celsius, fahrenheit):
    # NIST SP 811, B.8: t/°F = 1.8 t/°C + 32; the fixed points of both scales.
    assert limits(None, Decimal(celsius), "degC", "inch").main == f"at most {fahrenheit} °F"


def test_a_difference_of_temperatures_has_none():
    assert amount(Decimal(10), "degC", "inch", difference=True).main == "18 °F"


def test_the_system_asked_for_stands_first():
    both = limits(Decimal("40.002000"), Decimal("40.013000"), "mm", "metric")
    assert (both.main, both.other) == ("40.002 to 40.013 mm", "1.57489 to 1.57531 in")
    both = limits(Decimal("40.002000"), Decimal("40.013000"), "mm", "inch")
    assert (both.main, both.other) == ("1.57489 to 1.57531 in", "40.002 to 40.013 mm")


def test_what_is_kept_in_inches_is_printed_so_and_in_millimetres_beside_it():
    both = limits(None, Decimal("0.002"), "in", "inch")
    assert (both.main, both.other) == ("at most 0.002 in", "at most 0.05 mm")
    assert limits(None, Decimal("0.002"), "in", "metric").main == "at most 0.05 mm"


@pytest.mark.parametrize(
    ("upper", "unit", "told"),
    [
        # 0.1 mm / 25.4 = 0.003937 in; 0.1 bar / 0.06894757 (NIST SP 811, appendix B.8) = 1.4504 psi.
        ("0.1", "mm", "at most 0.0039 in"),
        ("0.1", "bar", "at most 1.4 psi"),
        ("0.06", "mm", "at most 0.0023 in"),
    ],
)
def test_rounding_inwards_takes_little_of_a_limit(upper, unit, told):
    assert limits(None, Decimal(upper), unit, "inch").main == told


@given(st.decimals("0.01", 500, places=2), st.sampled_from(["mm", "um", "bar", "kPa", "N*m", "mm/s"]))
def test_a_limit_on_paper_is_never_wider_and_never_a_twentieth_tighter(upper, unit):
    told = Fraction(limits(None, upper, unit, "inch").main.removeprefix("at most ").split()[0])
    exact = converted(upper, unit)
    assert exact * Fraction(19, 20) <= told
    assert told <= exact


@pytest.mark.parametrize("unit", ["rpm", "%", "deg", "A"])
def test_what_both_systems_share_stands_once(unit):
    assert str(limits(None, Decimal(5), unit, "inch")) == f"at most 5 {unit}"


def test_no_limits_are_said():
    assert str(limits(None, None, "mm", "inch")) == "no limits"


@given(
    lower=st.decimals("-500", "500", places=3),
    width=st.decimals("0.001", "5", places=3),
    unit=st.sampled_from(["mm", "degC", "bar", "N*m", "kW", "g*mm"]),
)
def test_converted_limits_never_let_pass_what_the_real_ones_do_not(lower, width, unit):
    upper = lower + width
    text = limits(lower, upper, unit, "inch").main.split(" ")
    name, divisor = INCHES[unit]
    offset = 32 if unit == "degC" else 0
    low, high = (Decimal(one) for one in (text[0], text[2]))
    assert (Decimal(low) - offset) * divisor.numerator >= lower * divisor.denominator
    assert (Decimal(high) - offset) * divisor.numerator <= upper * divisor.denominator
    assert text[3] == name.split(" ")[0]


def test_a_value_goes_as_far_as_its_uncertainty():
    """JCGM 100:2008, 7.2.4: m = 100.021 47 g with U = 0.79 mg; 7.2.6: two digits, and the value to match."""
    assert measured(Decimal("100.02147"), Decimal("0.00079"), "g", "metric").main == "100.02147 ± 0.00079 g"
    assert measured(Decimal("40.008333"), Decimal("0.002243"), "mm", "metric").main == "40.0083 ± 0.0023 mm"
    assert measured(Decimal("61.000000"), Decimal("0.510000"), "degC", "inch").main == "141.80 ± 0.92 °F"


def test_an_uncertainty_rounded_up_to_one_digit_more_takes_one_place_off():
    assert measured(Decimal("5.1234"), Decimal("0.0996"), "mm", "metric").main == "5.12 ± 0.10 mm"


def test_a_large_uncertainty_leaves_no_places():
    assert measured(Decimal("1234.56"), Decimal("120.4"), "kg", "metric").main == "1235 ± 121 kg"


def test_without_an_uncertainty_the_value_stands_alone():
    assert measured(Decimal("3.500000"), Decimal(0), "mm", "metric").main == "3.5 mm"


def test_the_unit_to_write_is_that_of_the_system():
    assert units_to_write("mm", "inch") == "in"
    assert units_to_write("mm", "metric") == "mm"
    assert units_to_write("in", "inch") == "in"
    assert units_to_write("degC", "metric") == "°C"
    assert units_to_write("rpm", "inch") == "rpm"
