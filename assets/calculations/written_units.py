"""Units as people write them after a number, brought to the ones known here."""

import re
from decimal import Decimal

from assets.calculations.units import UnknownUnit, convert, known_units

# HP is the mechanical horsepower of 550 foot pounds a second; the metric one is written PS, CV or ch.
_WRITTEN = {
    "millimeter": "mm", "millimetre": "mm", "millimeters": "mm", "millimetres": "mm", "centimeter": "cm", "meter": "m",
    "metre": "m", "inch": "in", "inches": "in", "zoll": "in", '"': "in", "''": "in", "″": "in", "”": "in", "′′": "in",
    "micron": "um", "c": "degC", "°c": "degC", "ºc": "degC", "degc": "degC", "celsius": "degC",
    "f": "degF", "°f": "degF", "ºf": "degF", "degf": "degF", "fahrenheit": "degF", "kelvin": "K",
    "hp": "hp", "bhp": "hp", "ps": "PS", "cv": "PS", "ch": "PS", "kw": "kW", "watt": "W", "rpm": "rpm", "r/min": "rpm",
    "1/min": "rpm", "min-1": "rpm", "u/min": "rpm", "rev/min": "rpm", "h": "h", "hr": "h", "hrs": "h", "hour": "h",
    "hours": "h", "std": "h", "d": "d", "day": "d", "days": "d", "week": "week", "weeks": "week", "wk": "week",
    "wks": "week",
    # As job sheets print them, and as gauges, wrenches and meters of the inch system are marked. A gallon is the US
    # one; a gauge shows pressure above that of the air, as every limit here is meant.
    "thou": "mil", "mils": "mil", "foot": "ft", "feet": "ft", "µin": "uin", "μin": "uin", "microinch": "uin",
    "psig": "psi", "lbf/in2": "psi", "barg": "bar", "bar(g)": "bar", "lbs": "lb", "pound": "lb", "ips": "in/s",
    "fps": "ft/s", "usgpm": "gpm", "gal/min": "gpm", "usgal": "gal", "usgal/min": "gpm", "metrichp": "PS",
    "°fofdifference": "delta_degF", "bands": "piece", "band": "piece", "lightbands": "piece", "pieces": "piece",
    "mmper100mm": "mm/100mm", "g·mm": "g*mm", "oz·in": "oz*in", "m³/h": "m3/h", "m³": "m3",
    **dict.fromkeys(("lbf·ft", "ft·lbf", "lbf-ft", "ft-lbf", "ft-lb", "ft-lbs", "lb-ft", "ft·lb", "lb·ft"), "lbf*ft"),
    **dict.fromkeys(("lbf·in", "in·lbf", "lbf-in", "in-lbf", "in-lb", "in-lbs", "lb-in", "in·lb", "lb·in"), "lbf*in"),
}  # fmt: skip
_BLANKS = re.compile(r"\s+")


def unit_written(text: str) -> str:
    """The unit known here for one as written: ``°F`` is ``degF``, ``inches`` is ``in``. Raises `UnknownUnit`."""
    bare = _BLANKS.sub("", text).rstrip(".")
    bare = bare.replace("\N{DEGREE CELSIUS}", "°C").replace("\N{DEGREE FAHRENHEIT}", "°F")
    if bare in known_units():
        return bare
    found = _WRITTEN.get(bare.casefold())
    if found is None:
        raise UnknownUnit(f"{text!r} is no unit known here.")
    return found


def convert_written(value: Decimal, written: str, unit: str) -> Decimal:
    """A value in ``unit``, given in a unit as people write it. Raises `UnknownUnit`, `UnitMismatch`."""
    return convert(value, unit_written(written), unit)
