"""What an expression is worth for a pump and its kit, and, before any pump is known, whether its units agree.

Numbers are worked out in coherent SI units as decimals. A temperature on a scale (80 °C) and a difference of
temperatures (10 K) are kept apart: two scale readings are never added, none is multiplied.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal, DivisionByZero, InvalidOperation, Overflow
from typing import Any

from assets.calculations.units import Dimension, convert, dimension_of, si_value
from jobs.calculations.expression_reading import (
    Arithmetic,
    Call,
    Comparison,
    Every,
    ExpressionError,
    Membership,
    Name,
    Negative,
    Node,
    Not,
    Number,
    Some,
    Word,
    read_expression,
    walk,
)
from jobs.calculations.pump_variables import PUMP_VARIABLES, Variable, nearest, variable

_SCALES = ("degC", "°C", "degF")
_DIGITS = 12


@dataclass(frozen=True)
class Kind:
    """What a piece of an expression is: ``number`` (of a dimension), ``words`` or ``truth``."""

    what: str
    dimension: Dimension = ()
    on_scale: bool = False

    def __str__(self) -> str:
        if self.what == "truth":
            return "true or false"
        if self.what == "words":
            return "words"
        if not self.dimension:
            return "a plain number"
        return _measured(self.dimension)


@dataclass(frozen=True)
class Worth:
    """A number in coherent SI units."""

    si: Decimal
    kind: Kind

    def in_unit(self, unit: str) -> Decimal:
        """The number in a unit of the same kind, to twelve digits."""
        number = convert(self.si, "K", unit) if self.kind.on_scale else self.si / si_value(Decimal(1), unit)
        shift = _DIGITS - 1 - number.adjusted() if number else 0
        number = number.quantize(Decimal(1).scaleb(-shift)) if 0 < shift < _DIGITS + 12 else number
        return Decimal(f"{number.normalize():f}") if number else Decimal(0)


Words = tuple[str, ...]
Value = Worth | Words | bool | None
TRUTH, WORDS, PLAIN = Kind("truth"), Kind("words"), Kind("number")
_NAMED = {
    dimension_of("mm"): "a length", dimension_of("K"): "a temperature", dimension_of("bar"): "a pressure",
    dimension_of("kW"): "a power", dimension_of("mm/s"): "a velocity", dimension_of("N*m"): "a torque",
    dimension_of("rpm"): "a speed of rotation", dimension_of("h"): "a time", dimension_of("kg"): "a mass",
    dimension_of("N"): "a force", dimension_of("L"): "a volume", dimension_of("m3/h"): "a flow",
    dimension_of("A"): "a current", dimension_of("V"): "a voltage",
}  # fmt: skip


def _measured(dimension: Dimension) -> str:
    powers = " · ".join(f"{name}^{power.normalize():f}" if power != 1 else name for name, power in dimension)
    return _NAMED.get(dimension, powers)


def kind_of_unit(unit: str) -> Kind:
    """The kind that numbers of a unit have; no unit is a plain number. Raises `UnknownUnit`."""
    return Kind("number", dimension_of(unit), unit in _SCALES) if unit else PLAIN


def variables_of(tree: Node) -> list[Variable]:
    """The variables that an expression asks for, in the order written."""
    names = sorted((one for one in walk(tree) if isinstance(one, Name)), key=lambda one: one.start)
    found = [variable(one.name) for one in names]
    return list({one.name: one for one in found if one is not None}.values())


def check_condition(text: str, variables: Any = ()) -> Node:
    """Read a condition and hold its names and units against each other. Raises `ExpressionError`."""
    tree = read_expression(text)
    found = _Checking(text, variables).kind(tree)
    if found.what != "truth":
        raise ExpressionError(f"A condition is true or false; this is {found}.", text, tree.start, tree.end)
    return tree


def check_number(text: str, unit: str, variables: Any = ()) -> Node:
    """Read an expression that must be worth a number in ``unit``. Raises `ExpressionError`."""
    tree = read_expression(text)
    found = _Checking(text, variables).kind(tree)
    if found.what != "number":
        raise ExpressionError(f"A number is needed here; this is {found}.", text, tree.start, tree.end)
    if unit and not _alike(found, kind_of_unit(unit)):
        raise ExpressionError(f"This is {found}, where {unit} is needed.", text, tree.start, tree.end)
    return tree


def kind_of_expression(text: str) -> Kind:
    """What an expression is. Raises `ExpressionError`."""
    return _Checking(text, ()).kind(read_expression(text))


def doubtful_words(tree: Node) -> list[str]:
    """Sentences on words that a variable was never known to hold, though it may."""
    sentences = []
    for one in walk(tree):
        pairs: list[tuple[Node, Node]] = []
        if isinstance(one, Membership):
            pairs = [(one.left, word) for word in one.words]
        elif isinstance(one, Comparison):
            pairs = [(one.left, one.right), (one.right, one.left)]
        for side, word in pairs:
            held = variable(side.name) if isinstance(side, Name) else None
            if held and held.values and isinstance(word, Word) and not _among(word.text, held.values):
                sentences.append(
                    f'"{word.text}" is none of the words known for {held.name}: {", ".join(held.values)}.'
                    f"{nearest(word.text, held.values)}"
                )
    return sentences


def _among(word: str, values: tuple[str, ...]) -> bool:
    return word.casefold() in {one.casefold() for one in values}


def _alike(one: Kind, other: Kind) -> bool:
    """Whether two numbers may stand on both sides of a sign. A difference is no reading of a thermometer."""
    return one.dimension == other.dimension and not (other.on_scale and not one.on_scale)


class _Checking:
    def __init__(self, text: str, variables: Any) -> None:
        self.text, self.variables = text, variables

    def wrong(self, detail: str, node: Node) -> ExpressionError:
        return ExpressionError(detail, self.text, node.start, node.end)

    def kind(self, node: Node) -> Kind:
        match node:
            case Number():
                return kind_of_unit(node.unit)
            case Word():
                return WORDS
            case Name():
                return self._name(node)
            case Negative() | Arithmetic() | Call():
                return self._number(node)
            case Comparison():
                return self._comparison(node)
            case Membership():
                if self.kind(node.left) != WORDS:
                    raise self.wrong("Only words are looked for in a list of words.", node.left)
                self._known_words(node.left, node.words)
                return TRUTH
            case Not():
                return self._truths((node.inner,))
            case Every() | Some():
                return self._truths(node.parts)
        raise TypeError(type(node))

    def _truths(self, parts: tuple[Node, ...]) -> Kind:
        for part in parts:
            found = self.kind(part)
            if found != TRUTH:
                raise self.wrong(f"and, or, not join what is true or false; this is {found}.", part)
        return TRUTH

    def _name(self, node: Name) -> Kind:
        held = variable(node.name)
        if held is None or (self.variables and held.name not in self.variables):
            known = sorted(self.variables or PUMP_VARIABLES)
            shorter = [one.short for one in PUMP_VARIABLES.values()]
            near = nearest(node.name, [*known, *shorter])
            raise self.wrong(f"{node.name!r} is no variable known here.{near} Known: {', '.join(known)}.", node)
        return kind_of_unit(held.unit) if held.is_number else WORDS

    def _number(self, node: Negative | Arithmetic | Call) -> Kind:
        inner = _operands(node)
        kinds = [self.kind(one) for one in inner]
        for one, found in zip(inner, kinds, strict=True):
            if found.what != "number":
                raise self.wrong(f"Only numbers are worked with; this is {found}.", one)
        if isinstance(node, Arithmetic) and node.operator in "*/":
            return self._product(node, *kinds)
        first = kinds[0]
        for one, found in zip(inner[1:], kinds[1:], strict=True):
            if found.dimension != first.dimension:
                raise self.wrong(f"The units do not match: {first} and {found}.", one)
        scales = [found.on_scale for found in kinds]
        if isinstance(node, Negative) and any(scales):
            raise self.wrong("A temperature on its scale has no opposite.", node)
        if isinstance(node, Arithmetic):
            if node.operator == "+" and all(scales):
                raise self.wrong("Two temperatures are not added; add a difference in K.", node)
            if node.operator == "-":
                if scales == [False, True]:
                    raise self.wrong("A temperature is not taken from a difference.", node)
                return Kind("number", first.dimension, scales == [True, False])
        if isinstance(node, Call) and node.function == "abs":
            if len(kinds) != 1:
                raise self.wrong("abs takes one number.", node)
            if any(scales):
                raise self.wrong("abs takes no temperature on its scale.", node)
        return Kind("number", first.dimension, any(scales))

    def _product(self, node: Arithmetic, left: Kind, right: Kind) -> Kind:
        if left.on_scale or right.on_scale:
            raise self.wrong("A temperature on its scale is not multiplied or divided.", node)
        powers = dict(left.dimension)
        for name, power in right.dimension:
            powers[name] = powers.get(name, Decimal(0)) + (power if node.operator == "*" else -power)
        return Kind("number", tuple(sorted((name, power) for name, power in powers.items() if power)))

    def _comparison(self, node: Comparison) -> Kind:
        left, right = self.kind(node.left), self.kind(node.right)
        if left.what != right.what or left.what == "truth":
            raise self.wrong(f"These cannot be compared: {left} and {right}.", node)
        if left.what == "words":
            if node.operator not in {"=", "!="}:
                raise self.wrong("Words are equal or not; use =, != or in.", node)
            for one, other in ((node.left, node.right), (node.right, node.left)):
                if isinstance(other, Word):
                    self._known_words(one, (other,))
        elif left.dimension != right.dimension:
            raise self.wrong(f"The units do not match: {left} and {right}.", node)
        return TRUTH

    def _known_words(self, side: Node, words: tuple[Word, ...]) -> None:
        held = variable(side.name) if isinstance(side, Name) else None
        if held is None or not held.closed:
            return
        for word in words:
            if not _among(word.text, held.values):
                near = nearest(word.text, held.values)
                raise self.wrong(f"{held.name} is one of {', '.join(held.values)}.{near}", word)


def _operands(node: Negative | Arithmetic | Call) -> tuple[Node, ...]:
    if isinstance(node, Negative):
        return (node.inner,)
    return (node.left, node.right) if isinstance(node, Arithmetic) else node.arguments


class Working:
    """Works out a checked expression from ``value_of``, which answers None for what is not known."""

    def __init__(self, text: str, value_of: Callable[[Variable], Value]) -> None:
        self.text, self.value_of = text, value_of

    def truth(self, node: Node) -> bool | None:
        """Whether it holds; None where that hangs on something unknown."""
        match node:
            case Not():
                found = self.truth(node.inner)
                return None if found is None else not found
            case Every():
                return _all([self.truth(one) for one in node.parts])
            case Some():
                found = _all([None if one is None else not one for one in map(self.truth, node.parts)])
                return None if found is None else not found
            case Membership():
                held = self._words(node.left)
                wanted = {one.text.casefold() for one in node.words}
                return None if held is None else (any(one in wanted for one in held) != node.negated)
            case Comparison():
                return self._compare(node)
        raise ExpressionError("This is neither true nor false.", self.text, node.start, node.end)

    def number(self, node: Node) -> Worth | None:
        """What it is worth; None where that is not known. Raises `ExpressionError` for a division by 0."""
        kind = _Checking(self.text, ()).kind(node)
        if isinstance(node, Number):
            return Worth(si_value(node.value, node.unit) if node.unit else node.value, kind)
        if isinstance(node, Name):
            held = variable(node.name)
            found = self.value_of(held) if held else None
            return found if isinstance(found, Worth) else None
        if not isinstance(node, (Negative, Arithmetic, Call)):
            raise ExpressionError("This is no number.", self.text, node.start, node.end)
        inner = [self.number(one) for one in _operands(node)]
        numbers = [one.si for one in inner if one is not None]
        if len(numbers) != len(inner):
            return None
        try:
            return Worth(_work(node, numbers), kind)
        except (DivisionByZero, InvalidOperation, Overflow) as error:
            raise ExpressionError("This cannot be divided.", self.text, node.start, node.end) from error

    def _words(self, node: Node) -> Words | None:
        if isinstance(node, Word):
            return (node.text.casefold(),)
        held = variable(node.name) if isinstance(node, Name) else None
        found = self.value_of(held) if held else None
        return tuple(one.casefold() for one in found) if isinstance(found, tuple) else None

    def _compare(self, node: Comparison) -> bool | None:
        if _Checking(self.text, ()).kind(node.left) == WORDS:
            one, other = self._words(node.left), self._words(node.right)
            if one is None or other is None:
                return None
            return bool(set(one) & set(other)) == (node.operator == "=")
        left, right = self.number(node.left), self.number(node.right)
        if left is None or right is None:
            return None
        return _COMPARED[node.operator](left.si, right.si)


_COMPARED: dict[str, Callable[[Decimal, Decimal], bool]] = {
    "=": lambda one, other: one == other,
    "!=": lambda one, other: one != other,
    "<": lambda one, other: one < other,
    "<=": lambda one, other: one <= other,
    ">": lambda one, other: one > other,
    ">=": lambda one, other: one >= other,
}


def _all(parts: list[bool | None]) -> bool | None:
    if any(one is False for one in parts):
        return False
    return None if any(one is None for one in parts) else True


def _work(node: Negative | Arithmetic | Call, numbers: list[Decimal]) -> Decimal:
    if isinstance(node, Negative):
        return -numbers[0]
    if isinstance(node, Call):
        return {"min": min, "max": max, "abs": lambda some: abs(some[0])}[node.function](numbers)  # type: ignore[operator]
    one, other = numbers
    match node.operator:
        case "+":
            return one + other
        case "-":
            return one - other
        case "*":
            return one * other
        case _:
            return one / other


def known_value(held: Variable, data: Mapping[str, Any]) -> Value:
    """A variable's value from what is known of a pump and kit; None where it is not. Raises `ValueError`."""
    value = data.get(held.name)
    if value is None or value == "":
        return None
    if held.is_number:
        try:
            number = Decimal(str(value))
        except InvalidOperation as error:
            raise ValueError(f"{held.name}: {value!r} is no number.") from error
        if isinstance(value, bool) or not number.is_finite():
            raise ValueError(f"{held.name}: {value!r} is no number.")
        return Worth(si_value(number, held.unit), kind_of_unit(held.unit))
    several = value if isinstance(value, (list, tuple, set, frozenset)) else [value]
    return tuple(("yes" if one else "no") if isinstance(one, bool) else str(one) for one in several)


def fact(held: Variable, data: Mapping[str, Any]) -> str:
    """What is known of a variable, in words."""
    value = data.get(held.name)
    if held.is_number:
        unit = {"degC": "°C"}.get(held.unit, held.unit)
        return f"{held.spoken} is {Decimal(str(value)).normalize():f} {unit}"
    several = value if isinstance(value, (list, tuple)) else [value]
    return f"{held.spoken} is {' and '.join(str(one) for one in several) or 'nothing'}"
