"""Units of the trade, and numbers as people write them.

Conversions are exact in decimals: pint supplies the definitions, Decimal the arithmetic.
"""

import re
from decimal import Decimal, InvalidOperation
from functools import lru_cache
from typing import Any

import pint

_registry: Any = pint.UnitRegistry(non_int_type=Decimal, cache_folder=None)
# A gap at a coupling is told for 100 mm of its diameter.
_registry.define("hundred_millimeter = 100 * millimeter")
_NAMES = {
    "mm": "millimeter", "um": "micrometer", "µm": "micrometer", "μm": "micrometer", "m": "meter", "cm": "centimeter",
    "in": "inch", "degC": "degree_Celsius", "°C": "degree_Celsius", "degF": "degree_Fahrenheit", "K": "kelvin",
    "N*m": "newton * meter", "N·m": "newton * meter", "N": "newton", "kN": "kilonewton", "bar": "bar",
    "kPa": "kilopascal", "MPa": "megapascal", "Pa": "pascal", "mm/s": "millimeter / second", "m/s": "meter / second",
    "rpm": "revolution / minute", "kW": "kilowatt", "W": "watt", "h": "hour", "min": "minute", "s": "second",
    "d": "day", "L": "liter", "m3": "meter ** 3", "m3/h": "meter ** 3 / hour", "kg": "kilogram", "g": "gram",
    "g*mm": "gram * millimeter", "deg": "degree", "A": "ampere", "V": "volt", "%": "percent", "piece": "dimensionless",
    "hp": "horsepower", "PS": "metric_horsepower", "week": "week", "mil": "thou",
    "mm/100mm": "millimeter / hundred_millimeter", "mil/in": "thou / inch", "mm/m": "millimeter / meter",
    "ft": "foot", "uin": "microinch", "psi": "force_pound / inch ** 2", "lbf": "force_pound", "lb": "pound",
    "oz": "ounce", "lbf*ft": "force_pound * foot", "lbf*in": "force_pound * inch", "in/s": "inch / second",
    "ft/s": "foot / second", "gpm": "gallon / minute", "gal": "gallon", "oz*in": "ounce * inch",
    "delta_degF": "delta_degree_Fahrenheit",
}  # fmt: skip


_SAME = Decimal(1)
# Their zero is not that of the others of their kind.
_SLOPES = frozenset(["mm/100mm", "mil/in", "mm/m"])
_OFFSET = frozenset(name for name, one in _NAMES.items() if one.startswith("degree_"))


class UnknownUnit(ValueError):
    """The unit is not one that the trade uses here."""


class UnitMismatch(ValueError):
    """Two units measure different things."""


class NumberUnreadable(ValueError):
    """The text is no number, or could be read in two ways."""


def known_units() -> list[str]:
    """Units that may be written."""
    return sorted(_NAMES)


def alike_units(unit: str) -> list[str]:
    """Units of the same kind, each once, by the names that need no special letters. Raises `UnknownUnit`."""
    wanted = _unit(unit).dimensionality
    if not wanted:
        # Pieces, per cent and degrees are all plain numbers, and yet not of one kind; slopes are.
        return sorted(_SLOPES) if unit in _SLOPES else [unit]
    known = {str(_unit(name)): name for name in reversed(known_units()) if name.isascii() and name != "delta_degF"}
    return sorted(name for name in known.values() if _unit(name).dimensionality == wanted)


@lru_cache(maxsize=256)
def _unit(name: str) -> pint.Unit:
    if name not in _NAMES:
        raise UnknownUnit(f"{name!r} is not a unit known here. Known: {', '.join(known_units())}.")
    return _registry.Unit(_NAMES[name])


def convert(value: Decimal, from_unit: str, to_unit: str) -> Decimal:
    """A value in another unit of the same kind; temperatures with their offset.

    Raises `UnknownUnit`, `UnitMismatch`.
    """
    if from_unit == to_unit and from_unit in _NAMES:
        return Decimal(value)
    factor = _factor(from_unit, to_unit)
    if factor is None:
        return _as_pint(value, from_unit, to_unit)
    return Decimal(value) if factor is _SAME else Decimal(value) * factor


@lru_cache(maxsize=1024)
def _factor(from_unit: str, to_unit: str) -> Decimal | None:
    """What a value is multiplied by, exactly as pint does; None where a scale has an offset."""
    source, target = _unit(from_unit), _unit(to_unit)
    if source == target:
        return _SAME
    return None if _OFFSET & {from_unit, to_unit} else _as_pint(Decimal(1), from_unit, to_unit)


def _as_pint(value: Decimal, from_unit: str, to_unit: str) -> Decimal:
    if "delta_degF" in {from_unit, to_unit} and _OFFSET & {from_unit, to_unit}:
        raise UnitMismatch("A difference of temperatures is no temperature.")
    try:
        return Decimal(_registry.Quantity(Decimal(value), _unit(from_unit)).to(_unit(to_unit)).magnitude)
    except pint.DimensionalityError as error:
        raise UnitMismatch(f"{from_unit} and {to_unit} do not measure the same thing.") from error


# Written in the trade, but read otherwise or not at all by pint: a mil is a thousandth of an inch, not an angle.
_TRADE = {
    "mil": "thou", "mils": "thou", "gpm": "gallon / minute", "cfm": "foot ** 3 / minute", "cm3": "centimeter ** 3",
    "mm2": "millimeter ** 2", "mm3": "millimeter ** 3", "m2": "meter ** 2", "lbf·ft": "force_pound * foot",
    "lbf·in": "force_pound * inch", "ft·lbf": "force_pound * foot", "kg/m3": "kilogram / meter ** 3",
    "g/cm3": "gram / centimeter ** 3", "kg/dm3": "kilogram / decimeter ** 3", "m3/s": "meter ** 3 / second",
    "L/s": "liter / second", "lb/ft3": "pound / foot ** 3", "kg/cm2": "force_kilogram / centimeter ** 2",
    "mil/s": "thou / second", "mils/s": "thou / second", "°F": "degree_Fahrenheit", "g·mm": "gram * millimeter",
}  # fmt: skip
# Names joined by * · / and blanks, each with an exponent of one digit at most: nothing that would take long to work
# out.
_WRITTEN_UNIT = re.compile(
    r"[^\W\d]\w*(?:(?:\*\*|\^)-?\d)?[²³]?(?:(?: ?[*·/] ?| )[^\W\d]\w*(?:(?:\*\*|\^)-?\d)?[²³]?){0,5}"
)
_TURNING = ("revol", "turn", "radian", "degree")


@lru_cache(maxsize=512)
def any_unit(text: str) -> pint.Unit:
    """The unit that a text names: one of those known here, or any other that pint knows. Raises `UnknownUnit`."""
    bare = text.strip()
    if bare in _NAMES:
        return _unit(bare)
    if bare in _TRADE:
        return _registry.Unit(_TRADE[bare])
    if len(bare) > 60 or not _WRITTEN_UNIT.fullmatch(bare):
        raise UnknownUnit(f"{text[:60]!r} is no unit; write one like mm, in, bar, psi, m3/h or N*m.")
    try:
        return _registry.Unit(bare.replace("·", "*"))
    except Exception as error:  # Whatever pint's reader stumbles over: the text names no unit.
        raise UnknownUnit(f"{text!r} is no unit known here; write one like mm, in, bar, psi, m3/h or N*m.") from error


def convert_any(value: Decimal, written: str, to_unit: str) -> Decimal:
    """A value in ``to_unit``, given in whatever unit measures the same thing; temperatures with their offset.

    A speed of rotation must be written as one: a frequency in Hz would be taken for radians and be wrong by two pi.
    Raises `UnknownUnit`, `UnitMismatch`.
    """
    source, target = any_unit(written), any_unit(to_unit)
    if source == target:
        return Decimal(value)
    if to_unit == "rpm" and not any(one in str(source) for one in _TURNING):
        raise UnitMismatch(f"{written} is no unit of a speed of rotation; write rpm.")
    try:
        return Decimal(_registry.Quantity(Decimal(value), source).to(target).magnitude)
    except (pint.DimensionalityError, pint.OffsetUnitCalculusError) as error:
        raise UnitMismatch(f"{written} and {to_unit} do not measure the same thing.") from error


def si_value(value: Decimal, unit: str) -> Decimal:
    """The value in coherent SI units: metres, kelvins, pascals, radians per second."""
    factor = _si_factor(unit)
    return Decimal(value) * factor if factor else _si(value, unit)


@lru_cache(maxsize=256)
def _si_factor(unit: str) -> Decimal | None:
    return None if unit in _OFFSET else _si(Decimal(1), unit)


def _si(value: Decimal, unit: str) -> Decimal:
    return Decimal(_registry.Quantity(Decimal(value), _unit(unit)).to_base_units().magnitude)


_SPACES = re.compile(r"[\s\u00a0\u202f]+")
_PLAIN = re.compile(r"[+-]?\d+(\.\d+)?")
_COMMA = re.compile(r"[+-]?\d+,\d+")
_BOTH = re.compile(r"[+-]?\d{1,3}([.,]\d{3})+[.,]\d+")


def parse_decimal(text: str) -> tuple[Decimal, str]:
    """(number, note) of a number as written; the note is empty where nothing had to be mended.

    A decimal comma is taken as such. ``1,234`` is taken as one and a bit: files that group thousands must not.
    ``1.234,5`` and ``1,234.5`` group and are unambiguous. Raises `NumberUnreadable`.
    """
    bare = _SPACES.sub("", text)
    note = "spaces taken out" if bare != text else ""
    try:
        if _PLAIN.fullmatch(bare):
            return Decimal(bare), note
        if _COMMA.fullmatch(bare):
            return Decimal(bare.replace(",", ".")), "decimal comma read as a decimal point"
        if _BOTH.fullmatch(bare) and "." in bare and "," in bare:
            point = max(bare.rfind("."), bare.rfind(","))
            whole = re.sub(r"[.,]", "", bare[:point])
            return Decimal(f"{whole}.{bare[point + 1 :]}"), "thousands separators taken out"
    except InvalidOperation as error:
        raise NumberUnreadable(f"{text!r} is no number.") from error
    raise NumberUnreadable(f"{text!r} is no number that can be read in one way only; write it like 1234.5.")


Dimension = tuple[tuple[str, Decimal], ...]


@lru_cache(maxsize=256)
def dimension_of(unit: str) -> Dimension:
    """What a unit measures, as powers of the base quantities; empty for plain numbers. Raises `UnknownUnit`."""
    found = _unit(unit).dimensionality
    return tuple(sorted((str(name).strip("[]"), Decimal(str(power))) for name, power in found.items()))
