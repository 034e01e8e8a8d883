"""Whether a step's conditions can hold at all, found out without any pump.

What matters of a variable is on which side of the figures it lies that conditions name, and which of their words it
is. So one stand-in for each such case is tried, in every combination. Where a condition compares variables with each
other the stand-ins say nothing, and it is taken to be able to hold and to fail.
"""

import itertools
import math
from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from assets.calculations.units import si_value
from jobs.calculations.conditions import as_tree
from jobs.calculations.expression_reading import (
    Arithmetic,
    Call,
    Comparison,
    Every,
    Membership,
    Name,
    Negative,
    Node,
    Number,
    Word,
    walk,
)
from jobs.calculations.expression_values import Value, Working, Worth, kind_of_unit, variables_of
from jobs.calculations.pump_variables import Variable, variable

MOST_COMBINATIONS, MOST_WORDS_TOGETHER = 5_000, 6
# Stands for any word that the conditions do not name.
OTHER = "\x00"
ABSOLUTE_ZERO_K = Decimal(0)


class Reach:
    """``possible``: some pump meets the conditions; ``certain``: every one does. Both where it cannot be told."""

    def __init__(self, possible: bool, certain: bool, tried: int) -> None:
        self.possible, self.certain, self.tried = possible, certain, tried


def reach(
    conditions: Sequence[Mapping[str, Any] | str], fixed: Mapping[str, str], most: int = MOST_COMBINATIONS
) -> Reach:
    """What conditions let through, of pumps for which the words of ``fixed`` are settled (a configuration, say).

    Where more than ``most`` combinations would have to be tried, some pump is taken to meet them.
    Raises `ConditionError` where a condition cannot be read.
    """
    if not conditions:
        return Reach(possible=True, certain=True, tried=0)
    tree = Every(0, 0, tuple(as_tree(one) for one in conditions))
    asked = variables_of(tree)
    cases = [_cases(one, tree, fixed) for one in asked]
    if math.prod(len(one) for one in cases) > min(most, MOST_COMBINATIONS):
        return Reach(possible=True, certain=False, tried=0)
    possible, certain, tried = False, True, 0
    for chosen in itertools.product(*cases):
        values = dict(zip((one.name for one in asked), chosen, strict=True))
        found = _Standing(values).truth(tree)
        possible, certain, tried = possible or found is not False, certain and found is True, tried + 1
        if possible and not certain:
            break
    return Reach(possible, certain, tried)


class _Standing(Working):
    """Works out conditions for stand-ins; sums over variables tell nothing of a real pump."""

    def __init__(self, values: Mapping[str, Value]) -> None:
        super().__init__("", lambda held: values.get(held.name))

    def truth(self, node: Node) -> bool | None:
        if isinstance(node, Comparison) and not _isplain(node):
            return None
        return super().truth(node)


def _isplain(node: Comparison) -> bool:
    """One variable against a figure or a word, worked out of figures alone."""
    one, other = node.left, node.right
    return (isinstance(one, Name) and _is_figure(other)) or (isinstance(other, Name) and _is_figure(one))


def _is_figure(node: Node) -> bool:
    return not any(isinstance(one, Name) for one in walk(node))


def _cases(held: Variable, tree: Node, fixed: Mapping[str, str]) -> list[Value]:
    if held.name in fixed:
        return [(fixed[held.name],)]
    return _figures(held, tree) if held.is_number else _words(held, tree)


def _figures(held: Variable, tree: Node) -> list[Value]:
    """Each figure named, and one between each two and beyond the outermost."""
    kind = kind_of_unit(held.unit)
    named: set[Decimal] = set()
    for one in walk(tree):
        if isinstance(one, Comparison) and _isplain(one):
            for side, other in ((one.left, one.right), (one.right, one.left)):
                if (
                    isinstance(side, Name)
                    and variable(side.name) == held
                    and isinstance(other, (Number, Arithmetic, Call, Negative))
                ):
                    worth = Working("", lambda _: None).number(other)
                    named.update([] if worth is None else [worth.si])
    step = si_value(Decimal(1), held.unit) if not kind.on_scale else Decimal(1)
    marks = sorted(named)
    found = {*marks, *((low + high) / 2 for low, high in itertools.pairwise(marks))}
    if marks:
        found |= {marks[0] - step, marks[0] / 2, marks[-1] + step}
    floor = ABSOLUTE_ZERO_K
    return [Worth(one, kind) for one in sorted(found) if one > floor or (one == floor and not held.positive)] or [None]


def _words(held: Variable, tree: Node) -> list[Value]:
    named = {
        word.text.casefold()
        for one in walk(tree)
        for side, words in _sides(one)
        if isinstance(side, Name) and variable(side.name) == held
        for word in words
    }
    if not held.several:
        words = {one.casefold() for one in held.values} if held.closed else named | {OTHER}
        return [(one,) for one in sorted(words)]
    several = sorted(named)[:MOST_WORDS_TOGETHER]
    return [tuple(some) for count in range(len(several) + 1) for some in itertools.combinations(several, count)]


def _sides(node: Node) -> list[tuple[Node, tuple[Word, ...]]]:
    if isinstance(node, Membership):
        return [(node.left, node.words)]
    if isinstance(node, Comparison):
        pairs = ((node.left, node.right), (node.right, node.left))
        return [(side, (word,)) for side, word in pairs if isinstance(word, Word)]
    return []
