"""Limits written as expressions over the pump's own figures, such as ``1.5 * as_new_clearance``."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from assets.calculations.units import dimension_of, known_units
from jobs.calculations.expression_reading import ExpressionError
from jobs.calculations.expression_values import (
    Working,
    check_number,
    fact,
    kind_of_expression,
    kind_of_unit,
    known_value,
    variables_of,
)

KEYS = frozenset({"lower", "upper", "unit"})
# The unit of the trade in which a limit is told where its author names none.
_USUAL = ("mm", "degC", "bar", "kW", "mm/s", "N*m", "rpm", "h", "kg", "N", "L", "m3/h", "A", "V", "piece")


class LimitExpressionError(ValueError):
    """A limit's expression that cannot be read, or not be worked out for this pump and kit."""


@dataclass(frozen=True)
class Bounds:
    """Limits in ``unit``; None does not bind."""

    lower: Decimal | None
    upper: Decimal | None
    unit: str
    words: str


def check_bounds(arguments: Mapping[str, Any], variables: Collection[str] = ()) -> str:
    """Check the expressions of ``lower`` and ``upper`` before a pump is known; the unit they will be told in.

    What asks nothing of the pump is worked out here. Raises `LimitExpressionError` with the key at fault and the
    place in its expression.
    """
    given = {key: arguments[key] for key in ("lower", "upper") if arguments.get(key) not in (None, "")}
    if not given:
        raise LimitExpressionError("expression needs lower, upper or both.")
    unit = str(arguments.get("unit") or "")
    if unit and unit not in known_units():
        raise LimitExpressionError(f"unit: {unit!r} is not known here; known: {', '.join(known_units())}.")
    fixed: dict[str, Decimal] = {}
    for key, text in given.items():
        try:
            if not isinstance(text, (str, int, Decimal)) or isinstance(text, bool):
                raise LimitExpressionError(f"{key}: an expression is a text.")
            unit = unit or _usual_unit(str(text))
            if not variables_of(check_number(str(text), unit, variables)):
                fixed[key], _ = _worked_out(str(text), unit, {})
        except ExpressionError as error:
            raise LimitExpressionError(f"{key}: {error}") from error
    _must_not_cross(fixed.get("lower"), fixed.get("upper"), unit, "")
    return unit


def bounds(arguments: Mapping[str, Any], data: Mapping[str, Any]) -> Bounds:
    """The limits for a pump and kit of which ``data`` is known. Raises `LimitExpressionError`."""
    unit = check_bounds(arguments)
    found: dict[str, Decimal | None] = {"lower": None, "upper": None}
    parts = []
    for key in found:
        text = arguments.get(key)
        if text in (None, ""):
            continue
        number, words = _worked_out(str(text), unit, data)
        found[key] = number
        side = "least" if key == "lower" else "most"
        parts.append(f"at {side} {number:f} {unit}{words}")
    lower, upper = found["lower"], found["upper"]
    _must_not_cross(lower, upper, unit, " for this pump")
    words = " and ".join(parts)
    return Bounds(lower, upper, unit, f"{words[0].upper()}{words[1:]}.")


def _must_not_cross(lower: Decimal | None, upper: Decimal | None, unit: str, where: str) -> None:
    if lower is not None and upper is not None and lower > upper:
        raise LimitExpressionError(f"lower {lower:f} lies above upper {upper:f} {unit}{where}.")


def _worked_out(text: str, unit: str, data: Mapping[str, Any]) -> tuple[Decimal, str]:
    tree = check_number(text, unit)
    asked = variables_of(tree)
    missing = [one.name for one in asked if data.get(one.name) in (None, "")]
    if missing:
        raise LimitExpressionError(f"{', '.join(missing)} is not known for this pump and kit: {text}")
    try:
        worth = Working(text, lambda held: known_value(held, data)).number(tree)
    except ValueError as error:
        raise LimitExpressionError(str(error)) from error
    assert worth is not None  # noqa: S101 - everything asked for is known
    facts = ", ".join(fact(one, data) for one in asked)
    return worth.in_unit(unit), f" = {text} ({facts})" if facts else ""


def _usual_unit(text: str) -> str:
    kind = kind_of_expression(text)
    wanted = ("K", *_USUAL) if kind.dimension == dimension_of("K") and not kind.on_scale else _USUAL
    found = next((one for one in wanted if kind_of_unit(one).dimension == kind.dimension), "")
    if kind.what == "number" and not found:
        raise LimitExpressionError(f"{text}: name the unit beside it.")
    return found
