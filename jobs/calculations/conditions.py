"""Conditions of a step: whether it applies to this pump and this kit, and why.

A condition is an expression (see `expression_reading`), such as ``shaft_diameter_at_seal >= 40 mm``, or a mapping
``{"of": variable, operator: operand, ...}``. ``one_of`` and ``not_one_of`` take a list of words,
``at_least`` and ``at_most`` a number. A variable that holds several words (the kit's elastomers) is one of a list when
any of them is, and not one of it when none is. A step applies when all its conditions hold.
"""

from collections.abc import Collection, Mapping, Sequence
from decimal import Decimal, InvalidOperation
from typing import Any

from assets.calculations.written_numbers import plain
from jobs.calculations.expression_reading import (
    Comparison,
    Every,
    ExpressionError,
    Membership,
    Name,
    Node,
    Number,
    Word,
)
from jobs.calculations.expression_values import Working, check_condition, fact, known_value, variables_of
from jobs.calculations.pump_variables import PUMP_VARIABLES, nearest

OPERATORS = ("one_of", "not_one_of", "at_least", "at_most")
# A variable whose name ends in its unit holds a number.
_UNITS = {"_mm": "mm", "_c": "°C", "_kw": "kW", "_rpm": "rpm"}


_MOST_DIGITS = 12


class ConditionError(ValueError):
    """A condition that cannot be read, or cannot be decided from what is known."""


def applies(conditions: Sequence[Mapping[str, Any] | str], data: Mapping[str, Any]) -> tuple[bool, str]:
    """(whether all conditions hold, the reason in words; empty without conditions).

    What is not known does not matter where another condition fails anyway. Raises `ConditionError` where it does.
    """
    holding: list[str] = []
    failing: list[str] = []
    unknown: list[str] = []
    for condition in conditions:
        if isinstance(condition, str):
            _decide_expression(condition, data, holding, failing, unknown)
            continue
        name, tests = _read(condition)
        value = data.get(name)
        if value is None or value == "":
            unknown.append(name)
            continue
        for operator, operand in tests.items():
            holds, words = _decide(name, value, operator, operand)
            (holding if holds else failing).append(words)
    if failing:
        return False, f"Does not apply: {'; '.join(failing)}."
    if unknown:
        names = ", ".join(dict.fromkeys(unknown))
        raise ConditionError(f"Whether it applies depends on {names}, which is not known for this pump and kit.")
    return True, f"Applies: {'; '.join(holding)}." if holding else ""


def validate(conditions: Any, variables: Collection[str]) -> None:
    """Check conditions as an author writes them, before any pump is known. Raises `ConditionError`."""
    if not isinstance(conditions, (list, tuple)):
        raise ConditionError("Conditions stand in a list: expressions, or mappings that name a variable with 'of'.")
    for condition in conditions:
        if isinstance(condition, str):
            try:
                check_condition(condition, variables)
            except ExpressionError as error:
                raise ConditionError(str(error)) from error
            continue
        name, tests = _read(condition)
        if name not in variables:
            near = nearest(name, variables)
            raise ConditionError(f"{name!r} is no variable known here.{near} Known: {', '.join(sorted(variables))}.")
        for operator in tests:
            numeric = operator in {"at_least", "at_most"}
            if numeric != (_unit(name) != ""):
                fitting = "at_least or at_most" if _unit(name) else "one_of or not_one_of"
                raise ConditionError(f"{operator} does not suit {name}; use {fitting}.")


def _decide_expression(
    text: str, data: Mapping[str, Any], holding: list[str], failing: list[str], unknown: list[str]
) -> None:
    try:
        tree = check_condition(text)
        asked = variables_of(tree)
        found = Working(text, lambda held: known_value(held, data)).truth(tree)
    except ValueError as error:
        raise ConditionError(str(error)) from error
    known = [one for one in asked if data.get(one.name) not in (None, "")]
    if found is None:
        unknown.extend(one.name for one in asked if one not in known)
        return
    facts = ", ".join(fact(one, data) for one in known)
    (holding if found else failing).append(f"{text} ({facts})" if facts else text)


def as_tree(condition: Mapping[str, Any] | str) -> Node:
    """The tree of a condition in either form. Raises `ConditionError`."""
    if isinstance(condition, str):
        try:
            return check_condition(condition)
        except ExpressionError as error:
            raise ConditionError(str(error)) from error
    name, tests = _read(condition)
    held = Name(0, 0, name)
    parts: list[Node] = []
    unit = PUMP_VARIABLES[name].unit if name in PUMP_VARIABLES else ""
    for operator, operand in tests.items():
        if operator in {"one_of", "not_one_of"}:
            words = tuple(Word(0, 0, one) for one in operand)
            parts.append(Membership(0, 0, held, words, negated=operator == "not_one_of"))
        else:
            sign = ">=" if operator == "at_least" else "<="
            parts.append(Comparison(0, 0, sign, held, Number(0, 0, operand, unit)))
    return Every(0, 0, tuple(parts))


def _read(condition: Any) -> tuple[str, dict[str, Any]]:
    if not isinstance(condition, Mapping) or not isinstance(condition.get("of"), str):
        raise ConditionError("A condition names its variable with 'of'.")
    name = condition["of"]
    tests = {key: value for key, value in condition.items() if key != "of"}
    strange = [str(key) for key in tests if key not in OPERATORS]
    if strange or not tests:
        found = ", ".join(strange) or "none"
        raise ConditionError(f"The condition of {name} needs one of {', '.join(OPERATORS)}; it has {found}.")
    return name, {
        operator: _words_of(name, operand) if operator in {"one_of", "not_one_of"} else _number(name, operand)
        for operator, operand in tests.items()
    }


def _words_of(name: str, operand: Any) -> list[str]:
    if not isinstance(operand, (list, tuple)) or not operand:
        raise ConditionError(f"The words for {name} stand in a list that is not empty.")
    if any(isinstance(one, (Mapping, list, tuple)) or one is None for one in operand):
        raise ConditionError(f"The list for {name} holds words only.")
    return [_text(one) for one in operand]


def _decide(name: str, value: Any, operator: str, operand: Any) -> tuple[bool, str]:
    if operator in {"one_of", "not_one_of"}:
        held = [_text(one) for one in (value if isinstance(value, (list, tuple, set, frozenset)) else [value])]
        wanted = {one.casefold() for one in operand}
        among = any(one.casefold() in wanted for one in held)
        words = f"{_spoken(name)} is {' and '.join(held) or 'nothing'}"
        if len(operand) > 1 or len(held) > 1:
            words += f", {'one' if among else 'none'} of {', '.join(operand)}"
        elif not among:
            words += f", not {operand[0]}"
        return among if operator == "one_of" else not among, words
    number = _number(name, value)
    holds = number >= operand if operator == "at_least" else number <= operand
    side = ("at least" if holds else "below") if operator == "at_least" else ("at most" if holds else "above")
    unit = _unit(name) and f" {_unit(name)}"
    return holds, f"{_spoken(name)} is {plain(number)}{unit}, {side} {plain(operand)}{unit}"


def _number(name: str, value: Any) -> Decimal:
    try:
        number = Decimal(str(value))
    except InvalidOperation as error:
        raise ConditionError(f"{name}: {value!r} is no number.") from error
    if isinstance(value, bool) or not number.is_finite() or (number and abs(number.adjusted()) > _MOST_DIGITS):
        raise ConditionError(f"{name}: {value!r} is no number that can be used.")
    return number


def _text(value: Any) -> str:
    """Words as written; an unquoted yes or no, which YAML reads as true or false, is the word again."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return str(value)


def _unit(name: str) -> str:
    return next((unit for ending, unit in _UNITS.items() if name.endswith(ending)), "")


def _spoken(name: str) -> str:
    for ending in _UNITS:
        name = name.removesuffix(ending)
    return name.replace("_", " ")
