"""Values given with readings in a unit of their own, brought to the unit that ends their name.

A plain number is in that unit: ``sag_mm`` in millimetres, ``bore_temperature_c`` in degrees Celsius. Who has a tape or
a thermometer of the inch system sends ``{"value": "-1.5", "unit": "mil"}`` instead of reckoning by hand.
"""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from assets.calculations.units import UnitMismatch, UnknownUnit, convert
from assets.calculations.written_units import unit_written
from jobs.calculations.evaluation_rules import SetUpUnusable
from jobs.calculations.readings import number_read

# The first that ends a name counts; a coefficient per kelvin is a plain number.
ENDS = {"_per_k": "", "_c": "degC", "_mm": "mm", "_um": "um", "_k": "K"}
# Finer than any of them is measured: a billionth of a metre, a millionth of a degree.
_FINEST = Decimal("0.000001")


def unit_of_given(name: str) -> str:
    """The unit that ends a name; empty where it has none."""
    return next((unit for end, unit in ENDS.items() if name.endswith(end)), "")


def in_their_units(sent: Mapping[str, Any]) -> dict[str, Any]:
    """The same values, those with a unit of their own as numbers. Raises `SetUpUnusable` naming the value."""
    return {name: _number(name, one) if isinstance(one, (Mapping, list)) else one for name, one in sent.items()}


def _number(name: str, sent: Any) -> Decimal:
    unit = unit_of_given(name)
    if not isinstance(sent, Mapping) or set(sent) != {"value", "unit"} or not unit:
        raise SetUpUnusable(f"{name[:40]}: send a number, or where it has a unit, a value and a unit.", name[:60])
    value = number_read(str(sent["value"]))
    if value is None:
        raise SetUpUnusable(f"{name}: {str(sent['value'])[:40]!r} is no number.", name)
    try:
        written = unit_written(str(sent["unit"])[:40])
        found = convert(value, written, unit)
        # A half width is a difference: the zero of another scale does not belong to it.
        found -= convert(Decimal(0), written, unit) if unit == "K" else 0
    except (UnknownUnit, UnitMismatch) as error:
        raise SetUpUnusable(f"{name}: {error}", name) from error
    return round(found, 6).normalize() if abs(found) >= _FINEST else Decimal(0)
