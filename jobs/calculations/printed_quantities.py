"""Quantities as they stand on paper: metric or inch, converted exactly, with as many digits as mean something.

Conversions rest on exact definitions: the inch, the pound, the pound-force by standard gravity, the US gallon (NIST SP
811, appendix B). What was asked for or read in one system is printed in the other beside it; the one it was kept in
counts.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Literal

from jobs.calculations.written_limits import lower_limit, upper_limit

System = Literal["metric", "inch"]
INCH_MM = Fraction("25.4")
POUND_KG = Fraction("0.45359237")
POUND_FORCE_N = POUND_KG * Fraction("9.80665")
FOOT_M = Fraction("0.3048")
PSI_PA = POUND_FORCE_N / Fraction("0.0254") ** 2
GALLON_L = Fraction("3.785411784")
HORSEPOWER_W = 550 * FOOT_M * POUND_FORCE_N
METRIC_HORSEPOWER_W = 75 * Fraction("9.80665")
OUNCE_G = POUND_KG * 1000 / 16
# How a unit is written, and into which unit of the other system it goes: value / divisor (+ offset).
PRINTED = {"degC": "°C", "degF": "°F", "um": "µm", "μm": "µm", "N*m": "N·m", "g*mm": "g·mm", "m3/h": "m³/h", "m3": "m³",
           "mm/100mm": "mm per 100 mm", "PS": "metric hp", "uin": "µin", "lbf*ft": "lbf·ft", "lbf*in": "lbf·in",
           "gpm": "US gpm", "gal": "US gal", "oz*in": "oz·in", "delta_degF": "°F of difference"}  # fmt: skip
INCHES: dict[str, tuple[str, Fraction]] = {
    "mm": ("in", INCH_MM),
    "cm": ("in", INCH_MM / 10),
    "um": ("µin", INCH_MM / 1000),
    "µm": ("µin", INCH_MM / 1000),
    "μm": ("µin", INCH_MM / 1000),
    "m": ("ft", FOOT_M),
    "degC": ("°F", Fraction(5, 9)),
    "°C": ("°F", Fraction(5, 9)),
    "bar": ("psi", PSI_PA / 100_000),
    "kPa": ("psi", PSI_PA / 1000),
    "MPa": ("psi", PSI_PA / 1_000_000),
    "Pa": ("psi", PSI_PA),
    "N*m": ("lbf·ft", POUND_FORCE_N * FOOT_M),
    "N·m": ("lbf·ft", POUND_FORCE_N * FOOT_M),
    "N": ("lbf", POUND_FORCE_N),
    "kN": ("lbf", POUND_FORCE_N / 1000),
    "mm/s": ("in/s", INCH_MM),
    "m/s": ("ft/s", FOOT_M),
    "kW": ("hp", HORSEPOWER_W / 1000),
    "W": ("hp", HORSEPOWER_W),
    "L": ("US gal", GALLON_L),
    "m3/h": ("US gpm", GALLON_L * 60 / 1000),
    "kg": ("lb", POUND_KG),
    "g": ("oz", OUNCE_G),
    "g*mm": ("oz·in", OUNCE_G * INCH_MM),
    "m3": ("US gal", GALLON_L / 1000),
    # Slopes: a mil to the inch is a thousandth.
    "mm/m": ("mil/in", Fraction(1)),
    "mm/100mm": ("mil/in", Fraction(1, 10)),
    # A difference of temperatures; one on its scale is kept in degC.
    "K": ("°F of difference", Fraction(5, 9)),
    "PS": ("hp", HORSEPOWER_W / METRIC_HORSEPOWER_W),
}
METRIC: dict[str, tuple[str, Fraction]] = {
    "in": ("mm", 1 / INCH_MM),
    "mil": ("mm", 1000 / INCH_MM),
    "mil/in": ("mm per 100 mm", Fraction(10)),
    "degF": ("°C", Fraction(9, 5)),
    "hp": ("kW", 1000 / HORSEPOWER_W),
    "ft": ("m", 1 / FOOT_M),
    "uin": ("µm", 1_000_000 / (INCH_MM * 1000)),
    "psi": ("bar", 100_000 / PSI_PA),
    "lbf": ("N", 1 / POUND_FORCE_N),
    "lbf*ft": ("N·m", 1 / (POUND_FORCE_N * FOOT_M)),
    "lbf*in": ("N·m", 12 / (POUND_FORCE_N * FOOT_M)),
    "in/s": ("mm/s", 1 / INCH_MM),
    "ft/s": ("m/s", 1 / FOOT_M),
    "lb": ("kg", 1 / POUND_KG),
    "oz": ("g", 1 / OUNCE_G),
    "oz*in": ("g·mm", 1 / (OUNCE_G * INCH_MM)),
    "gpm": ("m³/h", 1000 / (GALLON_L * 60)),
    "gal": ("L", 1 / GALLON_L),
    "delta_degF": ("K", Fraction(9, 5)),
}
FAHRENHEIT_ZERO = 32


@dataclass(frozen=True)
class Both:
    """A quantity in the system asked for, and in the other in brackets; the second is empty where there is none."""

    main: str
    other: str = ""

    def __str__(self) -> str:
        return f"{self.main} ({self.other})" if self.other else self.main


def unit_name(unit: str) -> str:
    """A unit as it is printed."""
    return PRINTED.get(unit, unit)


def limits(lower: Decimal | None, upper: Decimal | None, unit: str, system: System) -> Both:
    """Limits in both systems; the converted ones are rounded inwards, so that what they let pass the real ones do.

    Rounding inwards, never outwards, is the way to convert tolerances where parts must fit: common practice, no source.
    """
    least = None if lower is None else lower_limit(lower, unit)
    most = None if upper is None else upper_limit(upper, unit)
    own = _between(least, most, unit_name(unit))
    way = _way(unit)
    if way is None or (lower is None and upper is None):
        return Both(own)
    digits = max(_places(Decimal(one)) for one in (least, most) if one is not None) + more_places(way[1])
    low, high = (None if one is None else converted(one, unit) for one in (lower, upper))
    digits = digits_inwards(low, high, digits)
    least = None if low is None else fixed(low, digits, math.ceil)
    most = None if high is None else fixed(high, digits, math.floor)
    return _ordered(own, _between(least, most, way[0]), unit, system)


def digits_inwards(low: Fraction | None, high: Fraction | None, digits: int) -> int:
    """So many digits, or the few more at which rounding inwards takes no more than a twentieth of what the limits leave
    open: 0.1 mm is 0.0039 in and not 0.003. Common practice, no source."""
    left_open = abs((high or Fraction(0)) - (low or Fraction(0)))
    ends = [(one, inwards) for one, inwards in ((low, math.ceil), (high, math.floor)) if one is not None]
    fewest = max(digits, 0)
    for places in range(fewest, fewest + 3):
        taken = max(abs(Fraction(fixed(one, places, inwards)) - one) for one, inwards in ends)
        if taken <= left_open / 20:
            return places
    return fewest if not left_open else places


def measured(value: Decimal, expanded_uncertainty: Decimal, unit: str, system: System) -> Both:
    """A value with its expanded uncertainty: the uncertainty to two digits, rounded up, the value to the same place.

    JCGM 100 (GUM) 7.2.6: at most two significant digits, and it may be right to round up.
    """
    own = f"{_with_uncertainty(Fraction(value), Fraction(expanded_uncertainty))} {unit_name(unit)}"
    way = _way(unit)
    if way is None:
        return Both(own)
    there = _with_uncertainty(converted(value, unit), Fraction(expanded_uncertainty) / way[1])
    return _ordered(own, f"{there} {way[0]}", unit, system)


def to_the_place(difference: Decimal, expanded_uncertainty: Decimal, unit: str, system: System) -> Both:
    """A difference to the place of the values it lies between, rounded down: never more room than there is.

    JCGM 100 (GUM) 7.2.6. Without an uncertainty as it is.
    """
    if not expanded_uncertainty:
        return amount(difference, unit, system, difference=True)
    own = f"{_as_far(Fraction(difference), Fraction(expanded_uncertainty))} {unit_name(unit)}"
    way = _way(unit)
    if way is None:
        return Both(own)
    there = _as_far(Fraction(difference) / way[1], Fraction(expanded_uncertainty) / way[1])
    return _ordered(own, f"{there} {way[0]}", unit, system)


def _as_far(difference: Fraction, uncertainty: Fraction) -> str:
    return fixed(difference, _two_digits(uncertainty), math.floor)


def amount(value: Decimal, unit: str, system: System, *, difference: bool = False) -> Both:
    """A single figure, rounded to the nearest in the other system. A ``difference`` of temperatures has no offset."""
    own = f"{_plain(value)} {unit_name(unit)}"
    way = _way(unit)
    if way is None:
        return Both(own)
    there = Fraction(value) / way[1] if difference else converted(value, unit)
    text = fixed(there, _places(value) + more_places(way[1]), round)
    return _ordered(own, f"{text} {way[0]}", unit, system)


def span(low: Decimal, high: Decimal, unit: str, system: System) -> Both:
    """From one figure to another, rounded to the nearest in the other system; one figure where both are alike."""
    ends = amount(low, unit, system), amount(high, unit, system)
    if low == high:
        return ends[1]
    told = [" to ".join([one.rsplit(" ", 1)[0], other]) for one, other in zip(*map(_parts, ends), strict=True)]
    return Both(told[0], told[1] if ends[1].other else "")


def _parts(one: Both) -> tuple[str, str]:
    return one.main, one.other


def units_to_write(unit: str, system: System) -> str:
    """The unit printed beside a box to write in: the one asked for in the system chosen."""
    way = _way(unit)
    kept = "inch" if unit in METRIC else "metric"
    return unit_name(unit) if way is None or kept == system else way[0]


def _way(unit: str) -> tuple[str, Fraction] | None:
    return METRIC.get(unit) or INCHES.get(unit)


def _ordered(own: str, there: str, unit: str, system: System) -> Both:
    kept = "inch" if unit in METRIC else "metric"
    return Both(own, there) if kept == system else Both(there, own)


def converted(value: Decimal, unit: str) -> Fraction:
    """A value in the unit of the other system, exactly; as it is where both share the unit."""
    exact = Fraction(value)
    if unit == "degF":
        return (exact - FAHRENHEIT_ZERO) / METRIC[unit][1]
    if unit in {"degC", "°C"}:
        return exact / INCHES[unit][1] + FAHRENHEIT_ZERO
    way = _way(unit)
    return exact if way is None else exact / way[1]


def _between(lower: str | None, upper: str | None, unit: str) -> str:
    if lower is None and upper is None:
        return "no limits"
    if lower is None:
        return f"at most {upper} {unit}"
    if upper is None:
        return f"at least {lower} {unit}"
    return f"{lower} to {upper} {unit}"


def _with_uncertainty(value: Fraction, uncertainty: Fraction) -> str:
    if not uncertainty:
        return _plain(Decimal(value.numerator) / Decimal(value.denominator)) or "0"
    places = _two_digits(uncertainty)
    # Rounding up may have given it one more digit before the point.
    places = _two_digits(Fraction(fixed(uncertainty, places, math.ceil)))
    return f"{fixed(value, places, round)} ± {fixed(uncertainty, places, math.ceil)}"


def _two_digits(value: Fraction) -> int:
    """The places after the point that leave a value two significant digits."""
    return 1 - (Decimal(value.numerator) / Decimal(value.denominator)).adjusted()


def _plain(value: Decimal | None) -> str | None:
    return None if value is None else f"{value.normalize():f}"


def _places(value: Decimal) -> int:
    """Digits after the point that mean something."""
    exponent = value.normalize().as_tuple().exponent
    return max(0, -int(exponent))


def more_places(divisor: Fraction) -> int:
    """How many digits more the other unit needs so that its last place is no coarser."""
    return math.ceil(math.log10(divisor))


def fixed(value: Fraction | Decimal, places: int, rounding: Callable[[Fraction], int]) -> str:
    """With so many places, never fewer than none; exact, so that no limit moves by a rounding of its own."""
    places = max(places, 0)
    return f"{Decimal(rounding(Fraction(value) * 10**places)).scaleb(-places):.{places}f}"
