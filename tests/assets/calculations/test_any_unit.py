"""Any unit that measures the same thing, against scipy's constants (CODATA and NIST SP 811)."""

from decimal import Decimal

import pytest
from scipy import constants

from assets.calculations.units import UnitMismatch, UnknownUnit, any_unit, convert_any

GALLON_A_MINUTE = constants.gallon / constants.minute


@pytest.mark.parametrize(
    ("value", "written", "unit", "expected"),
    [
        (1, "psi", "kPa", constants.psi / 1000),
        (1, "ft", "m", constants.foot),
        (1, "mil", "um", constants.mil * 1e6),
        (1, "thou", "um", constants.mil * 1e6),
        (1, "gpm", "m3/h", GALLON_A_MINUTE * 3600),
        (1, "lbf*ft", "N*m", constants.lbf * constants.foot),
        (1, "lbf·in", "N*m", constants.lbf * constants.inch),
        (1, "lb", "kg", constants.lb),
        (1, "kgf/cm^2", "bar", constants.kgf / 1e-4 / 1e5),
        (1, "atm", "kPa", constants.atm / 1000),
        (1, "torr", "Pa", constants.torr),
        (1, "hp", "kW", constants.hp / 1000),
        (1, "m³/h", "m3/h", 1),
        (1, "g/cm3", "kg/m3", 1000),
        (1, "rad/s", "rpm", 60 / (2 * constants.pi)),
        (50, "rps", "rpm", 3000),
        (68, "degF", "degC", constants.convert_temperature(68, "Fahrenheit", "Celsius")),
        (300, "K", "degC", constants.convert_temperature(300, "Kelvin", "Celsius")),
    ],
)
def test_units_of_the_trade_convert_as_physics_has_them(value: int, written: str, unit: str, expected: float) -> None:
    assert float(convert_any(Decimal(value), written, unit)) == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize("written", ["Hz", "1 / s", "hertz"])
def test_a_frequency_is_never_taken_for_a_speed(written: str) -> None:
    # ISO 80000-3: 50 Hz is 3000 rpm only where one cycle is one turn; taken for radians it would be 477 rpm.
    with pytest.raises((UnitMismatch, UnknownUnit)):
        convert_any(Decimal(50), written, "rpm")


@pytest.mark.parametrize(
    "written",
    ["", "m**9**9", "9**9**9", "1m", "m)", "__import__('os')", "m//s", "x" * 61, "m" + "*m" * 40, "thingummies"],
)
def test_what_is_no_unit_is_refused_and_never_worked_out(written: str) -> None:
    with pytest.raises(UnknownUnit):
        any_unit(written)


@pytest.mark.parametrize(("written", "unit"), [("bar", "mm"), ("degC*m", "mm"), ("kg", "N"), ("V", "A")])
def test_what_measures_something_else_is_refused(written: str, unit: str) -> None:
    with pytest.raises(UnitMismatch):
        convert_any(Decimal(1), written, unit)
