"""How many kits loose parts make, and which parts go into them.

Where a line may be served by several parts, and a part serves several lines, taking the first that fits may build none
where one can be built. The most is a maximum flow from parts to lines (Ford, Fulkerson 1956, Canadian Journal of
Mathematics 8:399-404); with alternative lines of differing quantities it is a small integer programme, so it is solved
as one throughout.
"""

import datetime
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import ROUND_FLOOR, Decimal
from typing import Generic, TypeVar

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array

Key = TypeVar("Key", bound=Hashable)

# Stock is kept to the thousandth of a unit; everything is counted in these.
PARTS_OF_UNIT = 1000
# More kits are never asked for at once; it also keeps whole numbers exact in the programme.
MOST_KITS = 100_000


@dataclass(frozen=True)
class Choice(Generic[Key]):
    """One line: how much of a part a kit takes, and the parts that may stand there, the preferred one first."""

    line: int
    quantity: Decimal
    parts: tuple[Key, ...]


@dataclass(frozen=True)
class Requirement(Generic[Key]):
    """What a kit needs: one of these lines. A single line, or an alternative group."""

    choices: tuple[Choice[Key], ...]
    optional: bool = False


@dataclass(frozen=True)
class Taken(Generic[Key]):
    """How much of a part goes into a line of all the kits together."""

    line: int
    part: Key
    quantity: Decimal


@dataclass(frozen=True)
class KitsFromParts(Generic[Key]):
    """``kits`` can be built; ``taken`` goes into them; optional lines in ``left_out`` find too little."""

    kits: int
    taken: tuple[Taken[Key], ...]
    left_out: tuple[int, ...] = field(default=())


@dataclass
class _Programme(Generic[Key]):
    """Variables: kits served by a line, and steps of a part put into a line. A step is a whole unit where the line
    takes whole units, else the least quantity that is kept."""

    requirements: Sequence[Requirement[Key]]
    free: Mapping[Key, int]

    def __post_init__(self) -> None:
        self.lines = [
            (place, choice, _step(choice.quantity))
            for place, one in enumerate(self.requirements)
            for choice in one.choices
        ]
        self.flows = [
            (row, part, rank)
            for row, (_, choice, _) in enumerate(self.lines)
            for rank, part in enumerate(choice.parts)
            if self.free.get(part, 0) > 0
        ]
        self.count = len(self.lines) + len(self.flows)

    def constraints(self, kits: int | None) -> tuple[coo_array, np.ndarray, np.ndarray]:
        """Rows, their lower and their upper bounds. Without ``kits`` one variable more, the last, is their number."""
        rows: list[tuple[int, int, float]] = []
        low: list[float] = []
        high: list[float] = []
        for place, one in enumerate(self.requirements):
            rows += [(len(low), row, 1) for row, (of, _, _) in enumerate(self.lines) if of == place]
            if kits is None:
                rows.append((len(low), self.count, -1))
                low.append(0)
                high.append(0)
            else:
                low.append(0 if one.optional else kits)
                high.append(kits)
        for row, (_, choice, step) in enumerate(self.lines):
            rows.append((len(low), row, -_thousandths(choice.quantity) / step))
            rows += [(len(low), len(self.lines) + n, 1) for n, flow in enumerate(self.flows) if flow[0] == row]
            low.append(0)
            high.append(0)
        for part, free in self.free.items():
            uses = [(n, self.lines[row][2]) for n, (row, of, _) in enumerate(self.flows) if of == part]
            if uses:
                rows += [(len(low), len(self.lines) + n, step) for n, step in uses]
                low.append(0)
                high.append(free)
        width = self.count + (kits is None)
        at, of, much = zip(*rows, strict=True)
        return coo_array((much, (at, of)), shape=(len(low), width)), np.array(low), np.array(high)

    def solve(self, costs: np.ndarray, most: np.ndarray, kits: int | None) -> np.ndarray:
        """Whole numbers that cost least. Raises `ArithmeticError` where there are none."""
        matrix, low, high = self.constraints(kits)
        found = milp(
            costs,
            constraints=LinearConstraint(matrix.tocsc(), low, high),
            bounds=Bounds(np.zeros(len(costs)), most),
            integrality=np.ones(len(costs), dtype=np.int64),
            options={"mip_rel_gap": 0},
        )
        if found.x is None:
            raise ArithmeticError(f"the parts could not be divided among the lines: {found.message}")
        return np.rint(found.x).astype(np.int64)


def buildable(requirements: Sequence[Requirement[Key]], free: Mapping[Key, Decimal]) -> int:
    """How many whole kits can be built from what is free; optional lines do not count, nor do lines of quantity 0.

    A kit without lines builds none. Free below zero counts as nothing.
    """
    needed = _needed(requirements)
    stock = _stock(needed, free)
    if not needed:
        return 0
    most = min(_alone(one, stock) for one in needed)
    one_part_a_line = all(len(choice.parts) == 1 for one in needed for choice in one.choices)
    if most == 0 or (one_part_a_line and _no_part_twice(needed)):
        return most
    programme = _Programme(needed, stock)
    bounds = np.full(programme.count + 1, float(MOST_KITS * PARTS_OF_UNIT))
    bounds[-1] = most
    costs = np.zeros(programme.count + 1)
    costs[-1] = -1
    return int(programme.solve(costs, bounds, None)[-1])


def divide(requirements: Sequence[Requirement[Key]], free: Mapping[Key, Decimal], kits: int) -> KitsFromParts[Key]:
    """Which parts go into so many kits: preferred parts first, optional lines wherever they leave enough for the rest.

    An optional line is packed into all the kits or into none. Where fewer can be built, ``kits`` of the answer is that
    number and nothing is taken. Raises `ValueError` for a number of kits below one.
    """
    if not 0 < kits <= MOST_KITS:
        raise ValueError(f"from 1 to {MOST_KITS} kits are built at once")
    most = buildable(requirements, free)
    if most < kits:
        return KitsFromParts(most, ())
    packed = _needed(requirements)
    left_out: list[int] = []
    for one in requirements:
        if one.optional and (wanted := _without_nothing(one)) is not None:
            more = [*packed, Requirement(wanted.choices)]
            if buildable(more, free) >= kits:
                packed = more
            else:
                left_out += [choice.line for choice in wanted.choices]
    programme = _Programme(packed, _stock(packed, free))
    costs = np.zeros(programme.count)
    costs[len(programme.lines) :] = [float(rank * programme.lines[row][2]) for row, _, rank in programme.flows]
    # Among alternative lines the first named is preferred, but less than a preferred part.
    first_of: dict[int, int] = {}
    for row, (place, _, _) in enumerate(programme.lines):
        costs[row] = 0.001 * (row - first_of.setdefault(place, row))
    solved = programme.solve(costs, np.full(programme.count, float(MOST_KITS * PARTS_OF_UNIT)), kits)
    taken = []
    for n, (row, part, _) in enumerate(programme.flows):
        steps = int(solved[len(programme.lines) + n])
        if steps:
            _, choice, step = programme.lines[row]
            taken.append(Taken(choice.line, part, Decimal(steps * step) / PARTS_OF_UNIT))
    return KitsFromParts(kits, tuple(taken), tuple(left_out))


def holding_up(requirements: Sequence[Requirement[Key]], free: Mapping[Key, Decimal], kits: int) -> list[int]:
    """Lines of the needs that, each for itself, do not allow more than ``kits``; empty where only parts that several
    lines share are too few."""
    needed = _needed(requirements)
    stock = _stock(needed, free)
    return [choice.line for one in needed if _alone(one, stock) <= kits for choice in one.choices]


def earliest(dates: Sequence[datetime.date | None]) -> datetime.date | None:
    """The last day of use of a kit: the first among its parts'; None where nothing in it has one."""
    return min((one for one in dates if one is not None), default=None)


def _needed(requirements: Sequence[Requirement[Key]]) -> list[Requirement[Key]]:
    kept = [_without_nothing(one) for one in requirements if not one.optional]
    return [one for one in kept if one is not None]


def _without_nothing(one: Requirement[Key]) -> Requirement[Key] | None:
    choices = tuple(choice for choice in one.choices if choice.quantity > 0)
    return Requirement(choices, one.optional) if choices else None


def _stock(requirements: Sequence[Requirement[Key]], free: Mapping[Key, Decimal]) -> dict[Key, int]:
    """Thousandths by part, for the parts that may be used."""
    parts = dict.fromkeys(part for one in requirements for choice in one.choices for part in choice.parts)
    return {part: max(_thousandths(free.get(part, Decimal(0))), 0) for part in parts}


def _alone(one: Requirement[Key], stock: Mapping[Key, int]) -> int:
    """The most kits this requirement would allow if nothing else took of its parts; an upper bound where alternative
    lines share parts."""
    total = 0
    for choice in one.choices:
        step = _step(choice.quantity)
        steps = sum(stock[part] // step for part in choice.parts)
        total += steps * step // _thousandths(choice.quantity)
    return min(total, MOST_KITS)


def _no_part_twice(requirements: Sequence[Requirement[Key]]) -> bool:
    parts = [part for one in requirements for choice in one.choices for part in choice.parts]
    return len(parts) == len(set(parts))


def _step(quantity: Decimal) -> int:
    return PARTS_OF_UNIT if quantity == quantity.to_integral_value() else 1


def _thousandths(quantity: Decimal) -> int:
    return int((quantity * PARTS_OF_UNIT).to_integral_value(rounding=ROUND_FLOOR))
