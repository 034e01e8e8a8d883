"""The language of conditions and limits, read into a tree. Nothing of it is ever run as a program.

    elastomer in ("EPDM", "FKM") and shaft_diameter_at_seal >= 40 mm
    not (seal_type = "packed" or temperature_max > 80 degC)
    max(1.5 * as_new_clearance, 0.3 mm)

Numbers carry units (``40 mm``, ``15 kW``), words stand in double quotes, variables are those of `pump_variables`, with
or without the unit at their end. From loose to tight: ``or``, ``and``, ``not``, comparisons (``= != < <= > >=``, which
may stand in a row, and ``in``), ``+ -``, ``* /``. Functions are ``min``, ``max`` and ``abs``.
"""

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, fields
from decimal import Decimal
from functools import lru_cache
from typing import Any

from lark import Lark, Token, Transformer, UnexpectedCharacters, UnexpectedInput, UnexpectedToken
from lark.exceptions import VisitError

from assets.calculations.units import known_units

LONGEST, DEEPEST = 400, 40
FUNCTIONS = ("min", "max", "abs")


class ExpressionError(ValueError):
    """An expression that cannot be read or worked out. ``line`` and ``column`` count from 1."""

    def __init__(self, detail: str, text: str, start: int = 0, end: int | None = None) -> None:
        before = text[:start]
        self.detail = detail
        self.line = before.count("\n") + 1
        self.column = start - (before.rfind("\n") + 1) + 1
        shown = text.split("\n")[self.line - 1] if text else ""
        length = max(1, min((end or start + 1) - start, len(shown) - self.column + 1))
        self.picture = f"{shown}\n{' ' * (self.column - 1)}{'^' * length}"
        super().__init__(f"{detail} (line {self.line}, column {self.column})\n{self.picture}")


@dataclass(frozen=True)
class Node:
    """A piece of an expression and where it stands."""

    start: int
    end: int


@dataclass(frozen=True)
class Number(Node):
    value: Decimal
    unit: str


@dataclass(frozen=True)
class Word(Node):
    text: str


@dataclass(frozen=True)
class Name(Node):
    name: str


@dataclass(frozen=True)
class Negative(Node):
    inner: Node


@dataclass(frozen=True)
class Arithmetic(Node):
    operator: str
    left: Node
    right: Node


@dataclass(frozen=True)
class Call(Node):
    function: str
    arguments: tuple[Node, ...]


@dataclass(frozen=True)
class Comparison(Node):
    operator: str
    left: Node
    right: Node


@dataclass(frozen=True)
class Membership(Node):
    left: Node
    words: tuple[Word, ...]
    negated: bool


@dataclass(frozen=True)
class Not(Node):
    inner: Node


@dataclass(frozen=True)
class Every(Node):
    parts: tuple[Node, ...]


@dataclass(frozen=True)
class Some(Node):
    parts: tuple[Node, ...]


# A unit follows its number; the longest that fits is meant (mm/s before mm).
_UNITS = "|".join(re.escape(one) for one in sorted(known_units(), key=len, reverse=True))
_GRAMMAR = rf"""
start: some
?some: every ("or" every)*
?every: negated ("and" negated)*
?negated: "not" negated -> no
        | compared
?compared: sum
        | sum (COMPARE sum)+ -> comparisons
        | sum "in" words -> inside
        | sum "not" "in" words -> outside
words: "(" WORD ("," WORD)* ")"
?sum: product
        | sum SIGN product -> arithmetic
?product: signed
        | product FACTOR signed -> arithmetic
?signed: "-" signed -> negative
        | atom
?atom: QUANTITY -> quantity
        | NUMBER -> number
        | WORD -> word
        | NAME -> name
        | NAME "(" some ("," some)* ")" -> call
        | "(" some ")"

COMPARE: "<=" | ">=" | "!=" | "==" | "=" | "<" | ">" | "≤" | "≥" | "≠"
SIGN: "+" | "-"
FACTOR: "*" | "/"
QUANTITY.3: /\d{{1,12}}(\.\d{{1,12}})?[ \t]*({_UNITS.replace("/", chr(92) + "/")})(?![A-Za-z0-9_])/
NUMBER.2: /\d{{1,12}}(\.\d{{1,12}})?(?![\w.])/
WORD: /"[^"\n]{{1,80}}"/
NAME: /[A-Za-z][A-Za-z0-9_]*/
%ignore /[ \t\r\n]+/
"""
_ALIKE = {"==": "=", "≤": "<=", "≥": ">=", "≠": "!="}


class _Tree(Transformer[Token, Any]):
    """Nodes with their places, made as the text is read."""

    def start(self, found: list[Node]) -> Node:
        return found[0]

    def some(self, parts: list[Node]) -> Node:
        return Some(parts[0].start, parts[-1].end, tuple(parts))

    def every(self, parts: list[Node]) -> Node:
        return Every(parts[0].start, parts[-1].end, tuple(parts))

    def no(self, found: list[Node]) -> Node:
        return Not(found[0].start, found[0].end, found[0])

    def comparisons(self, found: list[Any]) -> Node:
        pairs: list[Node] = []
        for place in range(0, len(found) - 2, 2):
            left, sign, right = found[place : place + 3]
            pairs.append(Comparison(left.start, right.end, _ALIKE.get(str(sign), str(sign)), left, right))
        return pairs[0] if len(pairs) == 1 else Every(pairs[0].start, pairs[-1].end, tuple(pairs))

    def words(self, found: list[Token]) -> tuple[Word, ...]:
        return tuple(_word(one) for one in found)

    def inside(self, found: list[Any]) -> Node:
        return Membership(found[0].start, found[1][-1].end, found[0], found[1], negated=False)

    def outside(self, found: list[Any]) -> Node:
        return Membership(found[0].start, found[1][-1].end, found[0], found[1], negated=True)

    def arithmetic(self, found: list[Any]) -> Node:
        left, sign, right = found
        return Arithmetic(left.start, right.end, str(sign), left, right)

    def negative(self, found: list[Node]) -> Node:
        inner = found[0]
        # A temperature below zero is one number, not the opposite of another temperature.
        if isinstance(inner, Number):
            return Number(inner.start, inner.end, -inner.value, inner.unit)
        return Negative(inner.start, inner.end, inner)

    def quantity(self, found: list[Token]) -> Node:
        parts = re.fullmatch(r"([\d.]+)\s*(.+)", str(found[0]))
        assert parts is not None  # noqa: S101 - the terminal has this form
        return Number(*_place(found[0]), Decimal(parts[1]), parts[2])

    def number(self, found: list[Token]) -> Node:
        return Number(*_place(found[0]), Decimal(str(found[0])), "")

    def word(self, found: list[Token]) -> Node:
        return _word(found[0])

    def name(self, found: list[Token]) -> Node:
        return Name(*_place(found[0]), str(found[0]))

    def call(self, found: list[Any]) -> Node:
        return Call(found[0].start_pos or 0, found[-1].end, str(found[0]), tuple(found[1:]))


def _place(token: Token) -> tuple[int, int]:
    return token.start_pos or 0, token.end_pos or 0


def _word(token: Token) -> Word:
    return Word(*_place(token), str(token)[1:-1])


_PARSER: Any = Lark(_GRAMMAR, parser="lalr", lexer="contextual", transformer=_Tree(), maybe_placeholders=False)


@lru_cache(maxsize=1024)
def read_expression(text: str) -> Node:
    """The tree of an expression. Raises `ExpressionError`, which points at the place."""
    if not text.strip():
        raise ExpressionError("The expression is empty.", text)
    if len(text) > LONGEST:
        raise ExpressionError(
            f"The expression has {len(text)} characters; {LONGEST} are the most.", text[:LONGEST], LONGEST - 1
        )
    try:
        tree: Node = _PARSER.parse(text)
    except UnexpectedInput as error:
        raise _unreadable(text, error) from error
    except VisitError as error:  # pragma: no cover - the tree is made of checked tokens
        raise ExpressionError("The expression cannot be read.", text) from error
    if (depth := _depth(tree)) > DEEPEST:
        raise ExpressionError(f"The expression is nested {depth} deep; {DEEPEST} is the most.", text)
    for one in walk(tree):
        if isinstance(one, Call) and one.function not in FUNCTIONS:
            length = one.start + len(one.function)
            raise ExpressionError(
                f"{one.function!r} is no function known here; known: {', '.join(FUNCTIONS)}.", text, one.start, length
            )
    return tree


def walk(tree: Node) -> Iterator[Node]:
    """Every node of a tree, from the top."""
    waiting = [tree]
    while waiting:
        one = waiting.pop()
        yield one
        waiting.extend(_inner(one))


def _inner(node: Node) -> list[Node]:
    found: list[Node] = []
    for field in fields(node):
        value = getattr(node, field.name)
        if isinstance(value, Node):
            found.append(value)
        elif isinstance(value, tuple):
            found.extend(one for one in value if isinstance(one, Node))
    return found


def _depth(tree: Node) -> int:
    level, depth = [tree], 0
    while level and depth <= DEEPEST:
        depth += 1
        level = [inner for one in level for inner in _inner(one)]
    return depth


def _unreadable(text: str, error: UnexpectedInput) -> ExpressionError:
    token = error.token if isinstance(error, UnexpectedToken) else None
    place = error.pos_in_stream
    if (token is not None and token.type == "$END") or place is None or place < 0 or place >= len(text):
        end = len(text.rstrip())
        return ExpressionError("Something is missing at the end.", text.rstrip() + " ", end)
    for pattern, say in _MISTAKES:
        over = (one for one in re.finditer(pattern, text) if one.start() <= place < one.end())
        # A quote that closes a word opens none.
        found = next((one for one in over if one.start() == place or not one[0].startswith('"')), None)
        if found:
            return ExpressionError(say(found[0]), text, found.start(), found.end())
    rest = text[place:]
    if isinstance(error, UnexpectedCharacters):
        return ExpressionError(f"{rest[0]!r} does not belong here.", text, place)
    shown = str(token)
    return ExpressionError(f"{shown!r} does not belong here.", text, place, place + len(shown))


_MISTAKES: tuple[tuple[str, Callable[[str], str]], ...] = (
    (r"\d+,\d+", lambda one: f"{one} has a decimal comma: write {one.replace(',', '.')}."),
    (r"'[^']*'?", lambda one: f'Words stand in double quotes: "{one.strip(chr(39))}".'),
    (r'"[^"]*$', lambda _: "The word is not closed: a double quote is missing."),
    (r"\b(?:and|or|not|in)\b", lambda one: f"{one!r} does not belong here."),
    (
        r"\b\d+(?:\.\d+)?\s*[A-Za-z°µμ][\w/°µμ·]*",
        lambda one: f"{one!r} has no unit known here; known: {', '.join(known_units())}.",
    ),
    (r"&&?|\|\|?|!(?!=)", lambda one: f"{one!r} is not known here: write and, or, not."),
    (r"\b\d[\d.]+", lambda one: f"{one!r} is no number that can be read; write it like 1234.5."),
)
