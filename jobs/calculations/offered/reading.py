"""From what was sent to the arguments of a function, and from its outcome to what is answered."""

import difflib
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal
from itertools import islice
from typing import Any

from assets.calculations.units import UnitMismatch, UnknownUnit, convert_any
from assets.calculations.written_numbers import plain
from assets.calculations.written_units import unit_written
from jobs.calculations.offered.declared import Calculation, Input, InputWrong, Kind, Outcome, Output

LONGEST_TEXT = 60
MOST_TOLD = 20
_LARGEST_EXPONENT = 15
_DECIMAL = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d{1,3})?", re.ASCII)


class InputsWrong(ValueError):
    """One or more inputs cannot be used; ``problems`` names each."""

    def __init__(self, problems: Sequence[InputWrong]) -> None:
        super().__init__("; ".join(str(one) for one in problems))
        self.problems = tuple(problems)


@dataclass(frozen=True)
class Answered:
    """What is answered: inputs as understood, results by name, and the outcome with its words."""

    inputs: dict[str, Any]
    results: dict[str, Any]
    outcome: Outcome


def answer(calculation: Calculation, sent: Any) -> Answered:
    """Read the inputs, work out the results. Raises `InputsWrong`."""
    understood = understand(calculation, sent)
    try:
        outcome = calculation.perform(**understood)
    except InputWrong as error:
        raise InputsWrong([error]) from error
    return Answered(
        inputs={one.name: _echo(one, understood[one.name]) for one in calculation.inputs},
        results={
            one.name: shown(one, outcome.values[one.name])
            for one in calculation.outputs
            if outcome.values.get(one.name) is not None
        },
        outcome=outcome,
    )


def understand(calculation: Calculation, sent: Any) -> dict[str, Any]:
    """The inputs by name, in the units of the declaration. Raises `InputsWrong` naming every one that is wrong."""
    problems: list[InputWrong] = []
    found = _row(calculation.inputs, sent, "", problems)
    if problems:
        raise InputsWrong(problems)
    return found


def _row(inputs: Sequence[Input], sent: Any, before: str, problems: list[InputWrong]) -> dict[str, Any]:
    if not isinstance(sent, Mapping):
        problems.append(InputWrong(before.rstrip("/"), "This is no object with named inputs."))
        return {}
    known = [one.name for one in inputs]
    for name in islice((one for one in sent if one not in known), MOST_TOLD):
        written = str(name)[:LONGEST_TEXT]
        close = difflib.get_close_matches(written, known, n=1)
        remedy = f"Did you mean {close[0]}?" if close else f"Known: {', '.join(known)}."
        place = before + written.replace("~", "~0").replace("/", "~1")
        problems.append(InputWrong(place, "Not an input of this calculation.", remedy, code="unknown-field"))
    found: dict[str, Any] = {}
    for one in inputs:
        value = sent.get(one.name)
        if value is None:
            found[one.name] = one.usual
            if not one.optional:
                problems.append(InputWrong(f"{before}{one.name}", "This input is missing.", _how(one), code="required"))
            continue
        try:
            found[one.name] = _value(one, value, f"{before}{one.name}", problems)
        except InputWrong as error:
            problems.append(error)
    return found


def _value(one: Input, sent: Any, name: str, problems: list[InputWrong]) -> Any:
    if one.kind is Kind.ROWS:
        return _rows(one, sent, name, problems)
    if one.kind is Kind.FLAG:
        if not isinstance(sent, bool):
            raise InputWrong(name, "This is neither true nor false.", _how(one))
        return sent
    if one.kind in {Kind.CHOICE, Kind.TEXT}:
        return _word(one, sent, name)
    if one.kind is Kind.QUANTITY:
        return _quantity(one, sent, name)
    value = _number(sent, name, one)
    if one.kind is Kind.WHOLE and value != value.to_integral_value():
        raise InputWrong(name, f"{plain(value)} is no whole number.", _how(one))
    return _in_range(one, value, name)


def _rows(one: Input, sent: Any, name: str, problems: list[InputWrong]) -> list[dict[str, Any]]:
    if not isinstance(sent, list) or not _least(one) <= len(sent) <= _greatest(one):
        raise InputWrong(name, "This is no list of so many rows.", _how(one))
    return [_row(one.columns, row, f"{name}/{place}/", problems) for place, row in enumerate(sent)]


def _word(one: Input, sent: Any, name: str) -> str:
    if not isinstance(sent, str) or not sent.strip() or len(sent) > LONGEST_TEXT:
        raise InputWrong(name, "This is no short text.", _how(one))
    word = sent.strip()
    if one.kind is Kind.CHOICE and word not in one.choices:
        raise InputWrong(name, f"{word!r} is not known here.", _how(one))
    return word


def _quantity(one: Input, sent: Any, name: str) -> Decimal:
    if not isinstance(sent, Mapping) or set(sent) != {"value", "unit"}:
        raise InputWrong(name, "A quantity has a value and a unit.", _how(one))
    value = _number(sent["value"], f"{name}/value", one)
    if not isinstance(sent["unit"], str):
        raise InputWrong(f"{name}/unit", "The unit is no text.", _how(one))
    try:
        converted = convert_any(value, _unit(sent["unit"]), one.unit)
    except (UnknownUnit, UnitMismatch) as error:
        raise InputWrong(f"{name}/unit", str(error), _how(one)) from error
    return _in_range(one, converted, name)


def _unit(written: str) -> str:
    try:
        return unit_written(written)
    except UnknownUnit:
        return written


def _number(sent: Any, name: str, one: Input) -> Decimal:
    written = str(sent).strip() if isinstance(sent, (str, int, float, Decimal)) else ""
    if isinstance(sent, bool) or len(written) > LONGEST_TEXT or not _DECIMAL.fullmatch(written):
        raise InputWrong(name, "This is no number.", _how(one))
    value = Decimal(written)
    if value and not -_LARGEST_EXPONENT <= value.adjusted() <= _LARGEST_EXPONENT:
        raise InputWrong(name, "This number is too large or too small.", _how(one))
    return value


def _in_range(one: Input, value: Decimal, name: str) -> Decimal:
    if not _least(one) <= value <= _greatest(one):
        raise InputWrong(name, f"{_short(value)}{' ' + one.unit if one.unit else ''} is out of range.", _how(one))
    return value


def _least(one: Input) -> Decimal:
    return Decimal("-1e16") if one.least is None else one.least


def _greatest(one: Input) -> Decimal:
    return Decimal("1e16") if one.greatest is None else one.greatest


def _how(one: Input) -> str:
    """What would help: how the input is written."""
    allowed = one.range_words()
    if one.kind is Kind.QUANTITY:
        written = f'Write {{"value": "...", "unit": "{one.unit}"}}, in any unit of the same kind'
    elif one.kind is Kind.FLAG:
        written = "Write true or false"
    elif one.kind is Kind.CHOICE:
        return f"Write {allowed}."
    elif one.kind is Kind.ROWS:
        written = f"Write a list of rows with {', '.join(column.name for column in one.columns)}"
    else:
        written = f"Write a {one.kind.value}: {one.words}" if one.kind is Kind.TEXT else f"Write a {one.kind.value}"
    return f"{written.rstrip('.')}; {allowed}." if allowed else f"{written.rstrip('.')}."


def _echo(one: Input, value: Any) -> Any:
    if value is None:
        return None
    if one.kind is Kind.ROWS:
        return [{column.name: _echo(column, row[column.name]) for column in one.columns} for row in value]
    if one.kind is Kind.QUANTITY:
        return {"value": _short(value), "unit": one.unit}
    return _short(value) if isinstance(value, Decimal) else value


def shown(one: Output, value: Any) -> Any:
    """A result as it is answered: numbers rounded to the places of the declaration."""
    if isinstance(value, Decimal):
        rounded = _short(value) if value.adjusted() > _LARGEST_EXPONENT else _rounded(value, one.places)
        return {"value": _without_minus_nothing(rounded), "unit": one.unit} if one.unit else rounded
    if isinstance(value, (tuple, list)):
        return [shown(one, part) for part in value]
    return value


def _rounded(value: Decimal, places: int) -> str:
    return f"{value.quantize(Decimal(1).scaleb(-places), ROUND_HALF_EVEN):f}"


def _without_minus_nothing(text: str) -> str:
    return text.removeprefix("-") if not text.strip("-0.") else text


def _short(value: Decimal) -> str:
    """To nine significant figures: a conversion is never shown with all its figures."""
    return plain(Decimal(f"{value:.9g}")) if value else "0"
