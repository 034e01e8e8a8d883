"""What a job sheet asks to be written down in can be sent as it is printed, and is understood as the unit it is."""

from decimal import Decimal
from typing import Any

import pint
import pytest

from assets.calculations.units import UnitMismatch, UnknownUnit, convert
from assets.calculations.written_units import unit_written
from jobs.calculations.printed_quantities import INCHES, METRIC, limits, units_to_write

UNITS: Any = pint.UnitRegistry()
# Each unit of the other system by its name in a general-purpose library of units, pint.
THERE = {
    "in": "inch", "ft": "foot", "µin": "microinch", "psi": "psi", "lbf·ft": "lbf*foot", "lbf": "lbf",
    "in/s": "inch/s", "ft/s": "foot/s", "hp": "horsepower", "US gal": "gallon", "US gpm": "gallon/minute", "lb": "lb",
    "oz": "oz", "oz·in": "oz*inch", "mil/in": "thou/inch", "°F of difference": "delta_degF",
}  # fmt: skip
OURS = {"mm/100mm": "percent", "m3/h": "m**3/h", "m3": "m**3", "°C": "degC", "N·m": "N*m", "µm": "um", "μm": "um",
        "PS": "metric_horsepower", "K": "delta_degC"}  # fmt: skip


@pytest.mark.parametrize("unit", sorted(set(INCHES) - {"degC", "°C"}))
def test_a_unit_printed_beside_a_box_of_an_inch_sheet_is_understood(unit):
    printed = units_to_write(unit, "inch")
    sent = convert(Decimal(7), unit_written(printed), unit)
    expected = UNITS.Quantity(7, THERE[printed]).to(OURS.get(unit, unit)).magnitude
    assert float(sent) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize("unit", sorted(set(METRIC) - {"degF", "°F"}))
def test_a_unit_printed_beside_a_box_of_a_metric_sheet_is_understood(unit):
    printed = units_to_write(unit, "metric")
    there = limits(None, Decimal(10) ** 6, unit, "metric").main.split(" ")[2]
    back = convert(Decimal(there), unit_written(printed), unit)
    # A limit is rounded inwards, by no more than its last place.
    assert float(back) == pytest.approx(1e6, rel=1e-4)


@pytest.mark.parametrize("unit", ["degC", "°C"])
def test_fahrenheit_is_understood_with_its_offset(unit):
    # NIST SP 811, B.8: the boiling point of water on both scales.
    assert convert(Decimal(212), unit_written(units_to_write(unit, "inch")), unit) == pytest.approx(Decimal(100))


def test_celsius_is_understood_where_a_limit_is_in_fahrenheit():
    # NIST SP 811, B.8.
    assert float(convert(Decimal(100), unit_written(units_to_write("degF", "metric")), "degF")) == pytest.approx(212)


def test_a_difference_of_temperatures_is_no_temperature():
    with pytest.raises(UnitMismatch, match="difference"):
        convert(Decimal(10), unit_written("°F of difference"), "degC")


@pytest.mark.parametrize(
    ("written", "unit"),
    [
        ("bands", "piece"), ("light bands", "piece"), ("psig", "psi"), ("barg", "bar"), ("ft-lb", "lbf*ft"),
        ("lb-ft", "lbf*ft"), ("in-lb", "lbf*in"), ("USGPM", "gpm"), ("thou", "mil"), ("mils", "mil"),
        ("inches", "in"), ("feet", "ft"), ("lbs", "lb"), ("ips", "in/s"), ("mm per 100 mm", "mm/100mm"),
        ("metric hp", "PS"), ("microinch", "uin"),
    ],
)  # fmt: skip
def test_what_the_trade_writes_for_a_unit_is_understood(written, unit):
    # Common practice, no source.
    assert unit_written(written) == unit


def test_a_unit_that_is_none_is_not_guessed():
    with pytest.raises(UnknownUnit):
        unit_written("furlong")


@pytest.mark.parametrize(
    ("unit", "value", "metric"),
    [
        # NIST SP 811, appendix B: 1 psi = 6.894757 kPa, 1 lbf·ft = 1.355818 N·m, 1 in/s = 25.4 mm/s, 1 lb = 0.45359237
        # kg, 1 US gal/min = 0.2271247 m³/h, 1 ft = 0.3048 m, 1 µin = 0.0254 µm. Rounded inwards.
        ("psi", "100", "at most 6.89 bar"), ("lbf*ft", "65", "at most 88 N·m"), ("in/s", "0.15", "at most 3.8 mm/s"),
        ("lb", "10", "at most 4.5 kg"), ("gpm", "440", "at most 99.9 m³/h"), ("ft", "105", "at most 32.0 m"),
        ("uin", "32", "at most 0.81 µm"),
    ],
)  # fmt: skip
def test_a_limit_in_units_of_the_inch_system_is_printed_in_both(unit, value, metric):
    both = limits(None, Decimal(value), unit, "metric")
    assert both.main == metric
    assert both.other == f"at most {value} {units_to_write(unit, 'inch')}"
