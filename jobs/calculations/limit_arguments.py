"""What a rule of limits is written with, read one by one; and the limits it resolves to."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from typing import Any

POWER, SPEED, BEARING_BORE = "rated_power_kw", "rated_speed_rpm", "bearing_bore_mm"


class LimitUnresolvable(ValueError):
    """The rule cannot be read, or cannot be resolved from what is known of this pump and kit."""


@dataclass(frozen=True)
class ResolvedLimits:
    """``unit`` is empty where the characteristic's own holds; a limit of None does not bind."""

    lower: Decimal | None
    upper: Decimal | None
    unit: str
    words: str
    source: str


def given(kind: str, arguments: Mapping[str, Any], key: str) -> Any:
    """What is written under a key. Raises `LimitUnresolvable` where nothing is."""
    value = arguments.get(key)
    if value is None or value == "":
        raise LimitUnresolvable(f"{kind} needs {key}.")
    return value


def size_of(kind: str, arguments: Mapping[str, Any], data: Mapping[str, Any], key: str, from_key: str) -> Decimal:
    """A size in mm, written or taken from a variable of the pump or kit. Raises `LimitUnresolvable`."""
    written = [one for one in (key, from_key) if arguments.get(one) is not None]
    if len(written) != 1:
        raise LimitUnresolvable(f"{kind} needs either {key} in mm or {from_key}.")
    return number(key, arguments[key]) if written == [key] else known_of_pump(data, str(arguments[from_key]))


def known_of_pump(data: Mapping[str, Any], name: str) -> Decimal:
    """A number known of the pump or kit. Raises `LimitUnresolvable`."""
    if data.get(name) is None:
        raise LimitUnresolvable(f"{name} is not known for this pump and kit.")
    return number(name, data[name])


def number(name: str, value: Any) -> Decimal:
    """A finite number. Raises `LimitUnresolvable`."""
    try:
        found = Decimal(str(value))
    except InvalidOperation as error:
        raise LimitUnresolvable(f"{name}: {value!r} is no number.") from error
    if isinstance(value, bool) or not found.is_finite():
        raise LimitUnresolvable(f"{name}: {value!r} is no number.")
    return found


def positive(name: str, value: Any) -> Decimal:
    """A number above 0. Raises `LimitUnresolvable`."""
    found = number(name, value)
    if found <= 0:
        raise LimitUnresolvable(f"{name}: {value!r} is not above 0.")
    return found


def one_of(name: str, value: Any, choices: Collection[str]) -> str:
    """A word among those that are known. Raises `LimitUnresolvable`."""
    if not isinstance(value, str) or value not in choices:
        raise LimitUnresolvable(f"{name}: {value!r} is not known here; write {', '.join(choices)}.")
    return value


def count(value: Any) -> int:
    """How many screws. Raises `LimitUnresolvable`."""
    found = number("screws", value)
    if found != found.to_integral_value() or found > 200:
        raise LimitUnresolvable(f"screws: {value!r} is no number of screws.")
    return int(found)
