"""Conditions and limits of a step as their author wrote them, in words, before any pump is known."""

from collections.abc import Mapping
from typing import Any

from jobs.calculations.limit_arguments import LimitUnresolvable
from jobs.calculations.limits import resolve, rule_of
from jobs.calculations.printed_quantities import unit_name
from jobs.calculations.pump_variables import PUMP_VARIABLES, Variable

OPERATORS = {"one_of": "", "not_one_of": "none of ", "at_least": "at least ", "at_most": "at most "}
KINDS = {
    "iso-286": "Limits of size after ISO 286",
    "iso-10816-7": "Vibration after ISO 10816-7, by the model's rated power",
    "seal-seat": "Limits for fitting a seal",
    "tightening": "Torque of the screws",
    "wear-ring": "Clearance of the wear ring",
    "bearing-clearance": "Clearance of the bearing before mounting",
    "residual-unbalance": "Residual unbalance after ISO 21940-11, by the model's rated speed",
    "alignment": "Alignment, by the model's rated speed",
    "iso-9906": "Hydraulic test after ISO 9906",
    "expression": "Worked out for the pump",
}


def condition_in_words(condition: Mapping[str, Any] | str) -> str:
    """A condition of a step. An expression stands as it is written."""
    if isinstance(condition, str):
        return condition
    name = str(condition.get("of"))
    known = PUMP_VARIABLES.get(name)
    tests = (f"{OPERATORS.get(key, key)}{_operand(value, known)}" for key, value in condition.items() if key != "of")
    return f"{_name(name, known)}: {' and '.join(tests)}"


def limits_in_words(rule: Mapping[str, Any]) -> str:
    """A rule of limits. Where it needs nothing of the pump, its limits; else after what they are worked out."""
    try:
        return resolve(rule, {}).words.rstrip(".")
    except LimitUnresolvable:
        kind, arguments = rule_of(rule)
        told = ", ".join(f"{key.replace('_', ' ')} {_argument(value)}" for key, value in arguments.items())
        return f"{KINDS[kind]}: {told}" if told else KINDS[kind]


def _operand(value: Any, known: Variable | None) -> str:
    words = " or ".join(map(str, value)) if isinstance(value, list | tuple) else str(value)
    return f"{words} {unit_name(known.unit)}" if known is not None and known.unit else words


def _name(name: str, known: Variable | None) -> str:
    # What a word may be is told by the words themselves.
    return name.replace("_", " ") if known is None else known.spoken if known.closed else known.words


def _argument(value: Any) -> str:
    known = PUMP_VARIABLES.get(str(value))
    return known.words if known is not None else str(value)
