"""Vapour pressure and density of water at saturation, for suction heads and powers.

Vapour pressure: IAPWS-IF97, region 4, equation 30. Density: IAPWS SR1-86(1992), equation 2. Ordinary water without salt
or air; temperatures in degrees Celsius, 0 to 200, for which a pump's liquid is water at all.
"""

from dataclasses import dataclass
from decimal import Decimal

SOURCE = "IAPWS-IF97 (2007) equation 30; IAPWS SR1-86 (1992) equation 2"
COLDEST_C, HOTTEST_C = Decimal("0.01"), Decimal(200)
_ABSOLUTE = Decimal("273.15")
_N = tuple(
    Decimal(one)
    for one in (
        "0.11670521452767e4", "-0.72421316703206e6", "-0.17073846940092e2", "0.12020824702470e5",
        "-0.32325550322333e7", "0.14915108613530e2", "-0.48232657361591e4", "0.40511340542057e6",
        "-0.23855557567849", "0.65017534844798e3",
    )
)  # fmt: skip
_CRITICAL_K, _CRITICAL_DENSITY = Decimal("647.096"), Decimal(322)
_B = (
    (Decimal("1.99274064"), 1),
    (Decimal("1.09965342"), 2),
    (Decimal("-0.510839303"), 5),
    (Decimal("-1.75493479"), 16),
    (Decimal("-45.5170352"), 43),
    (Decimal("-674694.450"), 110),
)


class NoWater(ValueError):
    """At this temperature the liquid is no water that a pump takes."""


@dataclass(frozen=True)
class Water:
    """Vapour pressure in kPa (absolute) and density in kg/m3."""

    vapour_pressure_kpa: Decimal
    density_kg_m3: Decimal


def water(temperature_c: Decimal) -> Water:
    """Saturated water at a temperature. Raises `NoWater` outside 0.01 to 200 degC."""
    if not temperature_c.is_finite() or not COLDEST_C <= temperature_c <= HOTTEST_C:
        raise NoWater(f"Water is known here from {COLDEST_C} to {HOTTEST_C} °C, not at {temperature_c} °C.")
    kelvin = temperature_c + _ABSOLUTE
    return Water(_vapour_pressure(kelvin), _density(kelvin))


def _vapour_pressure(kelvin: Decimal) -> Decimal:
    n1, n2, n3, n4, n5, n6, n7, n8, n9, n10 = _N
    theta = kelvin + n9 / (kelvin - n10)
    a = theta**2 + n1 * theta + n2
    b = n3 * theta**2 + n4 * theta + n5
    c = n6 * theta**2 + n7 * theta + n8
    return (2 * c / (-b + (b**2 - 4 * a * c).sqrt())) ** 4 * 1000


def _density(kelvin: Decimal) -> Decimal:
    root = (1 - kelvin / _CRITICAL_K) ** (Decimal(1) / 3)
    return _CRITICAL_DENSITY * (1 + sum((factor * root**power for factor, power in _B), Decimal(0)))
