"""One order a supplier: what joins when something must be ordered, and what lifts it to the minimum order value.

Joining is the can-order rule: with an order going out anyway, every item at or below its can-order point is ordered up
to its level (Balintfy 1964, Management Science 10:287-297; Silver 1974; both value from memory). The can-order point
used here, one order cycle of mean use above the reorder point, is common practice, no source. Topping up buys the unit
most likely to be needed for its money, again and again: marginal analysis (Fox 1966, Management Science 13:210-216;
value from memory). Money is in one currency throughout.
"""

import heapq
import math
from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

import numpy as np

from kits.calculations.order_quantity import round_up
from kits.calculations.reorder_point import LeadTimeDemand, expected_shortage
from kits.calculations.site_plan import HOLDING_RATE

YEAR = 365.25
# A unit less likely to be needed than this before the next order would come is not bought to reach a minimum
# (common practice, no source).
LEAST_CHANCE = 0.01
Verdict = Literal["nothing", "enough", "topped-up", "wait", "below-minimum"]


@dataclass(frozen=True)
class Candidate:
    """An item of the supplier, whether it must be ordered or not.

    ``needed`` is what replenishment orders of it, 0 where it is above its reorder point; ``demand`` is that of its lead
    time and review; ``daily_use`` the mean a day; ``cycle_use`` the mean between two orders at this supplier;
    ``fill_rate`` its target, between 0 and 1; ``highest`` the most to order at once (what is used before it ages), None
    without end. ``firm`` says that jobs go short without it: then nothing waits.
    """

    key: Hashable
    needed: int
    position: Decimal
    reorder_point: int
    order_up_to: int
    demand: LeadTimeDemand
    daily_use: float
    cycle_use: float
    price: Decimal
    fill_rate: float = 0.95
    minimum: int = 1
    multiple: int = 1
    highest: int | None = None
    firm: bool = False

    @property
    def can_order_point(self) -> float:
        """Joins an order at or below it: ``s + max(1, use of a cycle)``, but never from the level itself."""
        return min(self.reorder_point + max(1.0, self.cycle_use), self.order_up_to - 1)

    def chance_above(self, stock: Decimal | int) -> float:
        """P(D > stock), the chance that one unit more would be needed."""
        if stock < 0:
            return 1.0
        if self.demand.distribution == "none":
            return 0.0
        return 1.0 - float(self.demand.at_most(np.array([math.floor(stock)], np.float64))[0])


@dataclass(frozen=True)
class ConsolidatedLine:
    """What is ordered of an item: ``needed`` + ``joined`` + ``topped_up``."""

    key: Hashable
    needed: int
    joined: int
    topped_up: int
    price: Decimal

    @property
    def quantity(self) -> int:
        """What is ordered."""
        return self.needed + self.joined + self.topped_up

    @property
    def value(self) -> Decimal:
        """Quantity times price."""
        return self.quantity * self.price


@dataclass(frozen=True)
class Step:
    """One step of topping up: ``chance`` is the mean P(D > position) of its units."""

    key: Hashable
    units: int
    chance: float
    cost: Decimal


@dataclass(frozen=True)
class Consolidation:
    """What to order at one supplier.

    ``verdict``: ``nothing`` must be ordered; ``enough`` without topping up; ``topped-up`` to the minimum; ``wait``,
    since that costs less, for about ``waiting_days``; ``below-minimum`` where nothing useful lifts it and it cannot
    wait: a person decides. ``value`` is that of ``lines`` together with what stands on the unsent order already. Where
    the verdict is ``wait`` the lines are what would have been ordered without topping up. ``top_up_cost`` is infinite
    where no topping up reaches the minimum.
    """

    verdict: Verdict
    lines: tuple[ConsolidatedLine, ...]
    steps: tuple[Step, ...]
    value: Decimal
    minimum_order_value: Decimal
    top_up_cost: float = 0.0
    waiting_cost: float = 0.0
    waiting_days: float = math.inf


def consolidate(
    candidates: Iterable[Candidate], *, minimum_order_value: Decimal = Decimal(0), already: Decimal = Decimal(0)
) -> Consolidation:
    """What to order at a supplier together. ``already`` is the value of the site's unsent order there: it goes out
    anyway, so others join it and lift it to the minimum also where nothing more is needed.

    What costs nothing is ordered and joins, but never tops up. Raises `ValueError` for a price below zero, a minimum or
    multiple below 1, or a fill rate that is not between 0 and 1.
    """
    each = sorted(candidates, key=lambda one: str(one.key))
    for one in each:
        if one.price < 0 or one.minimum < 1 or one.multiple < 1 or not 0 < one.fill_rate < 1:
            raise ValueError("no price is below zero, minimum and multiple are at least 1, a fill rate is below 1")
    needed = {one.key: one.needed for one in each}
    if not any(needed.values()) and already <= 0:
        return Consolidation("nothing", (), (), already, minimum_order_value)
    joined = {one.key: _joining(one) for one in each}
    ordered = {key: needed[key] + joined[key] for key in needed}
    value = already + _value(each, ordered)
    plain = _lines(each, needed, joined, {})
    if value >= minimum_order_value:
        return Consolidation("enough", plain, (), value, minimum_order_value)
    steps = _top_up(each, dict(ordered), minimum_order_value - value)
    waiting_days = _days_until_enough(each, minimum_order_value - value, ordered)
    waiting_cost = sum(_cost_of_waiting(one, waiting_days) for one in each if one.needed)
    firm = any(one.firm for one in each if one.needed)
    top_up_cost = _cost_of_early_units(each, ordered, steps)
    reached = value + sum((one.cost for one in steps), Decimal(0))
    met = reached >= minimum_order_value
    costs = {
        "top_up_cost": top_up_cost if met else math.inf,
        "waiting_cost": waiting_cost,
        "waiting_days": waiting_days,
    }
    if any(needed.values()) and not firm and waiting_days < math.inf and (not met or waiting_cost < top_up_cost):
        return Consolidation("wait", plain, (), value, minimum_order_value, **costs)
    if not met:
        return Consolidation("below-minimum", plain, (), value, minimum_order_value, **costs)
    added: dict[Hashable, int] = {}
    for step in steps:
        added[step.key] = added.get(step.key, 0) + step.units
    return Consolidation("topped-up", _lines(each, needed, joined, added), steps, reached, minimum_order_value, **costs)


def _joining(one: Candidate) -> int:
    if one.needed or one.position > one.can_order_point:
        return 0
    gap = math.ceil(one.order_up_to - one.position)
    quantity = round_up(gap, minimum=one.minimum, multiple=one.multiple)
    return quantity if one.highest is None or quantity <= one.highest else 0


def _value(each: Sequence[Candidate], quantities: dict[Hashable, int]) -> Decimal:
    return sum((quantities[one.key] * one.price for one in each), Decimal(0))


def _lines(
    each: Sequence[Candidate],
    needed: dict[Hashable, int],
    joined: dict[Hashable, int],
    added: dict[Hashable, int],
) -> tuple[ConsolidatedLine, ...]:
    lines = (
        ConsolidatedLine(one.key, needed[one.key], joined[one.key], added.get(one.key, 0), one.price) for one in each
    )
    return tuple(one for one in lines if one.quantity)


def _next_step(one: Candidate, ordered: int) -> Step | None:
    """The least that can be added of an item, or None where that is not useful or not allowed."""
    if one.price == 0:
        return None
    units = one.multiple if ordered else round_up(1, minimum=one.minimum, multiple=one.multiple)
    if one.highest is not None and ordered + units > one.highest:
        return None
    chances = [one.chance_above(one.position + ordered + more) for more in range(units)]
    chance = sum(chances) / units
    return Step(one.key, units, chance, units * one.price) if chance >= LEAST_CHANCE else None


def _top_up(each: Sequence[Candidate], ordered: dict[Hashable, int], missing: Decimal) -> tuple[Step, ...]:
    steps: list[Step] = []
    waiting = [entry for place in range(len(each)) if (entry := _entry(each, place, ordered)) is not None]
    heapq.heapify(waiting)
    while missing > 0 and waiting:
        *_, place, best = heapq.heappop(waiting)
        ordered[best.key] += best.units
        steps.append(best)
        missing -= best.cost
        # Only the item that was taken has another next step now.
        after = _entry(each, place, ordered)
        if after is not None:
            heapq.heappush(waiting, after)
    return tuple(steps)


def _entry(
    each: Sequence[Candidate], place: int, ordered: dict[Hashable, int]
) -> tuple[float, Decimal, int, Step] | None:
    """The next step of an item, the best first: of equal ones the cheaper, then the first by key, so that two runs
    give the same answer."""
    one = each[place]
    step = _next_step(one, ordered[one.key])
    return None if step is None else (-step.chance / float(one.price), step.cost, place, step)


def _days_until_enough(each: Sequence[Candidate], missing: Decimal, ordered: dict[Hashable, int]) -> float:
    """When items that are not ordered now will have triggered, at mean use, for the order to be worth the minimum."""
    coming = sorted(
        (float(one.position - one.reorder_point) / one.daily_use, _value_when_triggered(one))
        for one in each
        if not ordered[one.key] and one.daily_use > 0
    )
    for days, value in coming:
        missing -= value
        if missing <= 0:
            return max(days, 0.0)
    return math.inf


def _value_when_triggered(one: Candidate) -> Decimal:
    gap = max(one.order_up_to - one.reorder_point, 1)
    return round_up(gap, minimum=one.minimum, multiple=one.multiple) * one.price


def _cost_of_waiting(one: Candidate, days: float) -> float:
    """Of jobs that wait longer because an item comes so many days later.

    What is short when the goods would have come waits all the days, what runs short meanwhile half of them. A day's
    wait of a unit costs ``h f / (1 - f)``, h its holding cost a day: the cost at which the fill rate f is worth its
    stock, since the critical ratio is ``p / (p + h)`` (Snyder, Shen, Fundamentals of Supply Chain Theory, ch. 4; value
    from memory).
    """
    if math.isinf(days):
        return math.inf
    short = expected_shortage(one.demand, math.floor(one.position))
    unit_days = short * days + one.chance_above(one.position) * one.daily_use * days**2 / 2
    return unit_days * _holding_a_day(one) * one.fill_rate / (1 - one.fill_rate)


def _cost_of_early_units(each: Sequence[Candidate], ordered: dict[Hashable, int], steps: Sequence[Step]) -> float:
    """Of keeping what was added from now until it would have been ordered anyway; never more than its price."""
    known = {one.key: one for one in each}
    placed = dict(ordered)
    total = 0.0
    for step in steps:
        one = known[step.key]
        for _ in range(step.units):
            above = float(one.position) + placed[one.key] - one.reorder_point
            days = max(above, 0.0) / one.daily_use if one.daily_use > 0 else math.inf
            total += min(float(one.price), _holding_a_day(one) * days)
            placed[one.key] += 1
    return total


def _holding_a_day(one: Candidate) -> float:
    return float(one.price) * HOLDING_RATE / YEAR


def words_of_consolidation(result: Consolidation, *, supplier: str, currency: str) -> list[str]:
    """What was decided about the order, as sentences for the person who approves."""
    least = f"{result.minimum_order_value:.2f} {currency}"
    worth = f"{result.value:.2f} {currency}"
    sentences = []
    joined = sum(1 for one in result.lines if one.joined)
    if joined:
        sentences.append(
            f"{joined} {'item joins' if joined == 1 else 'items join'} because something is ordered at {supplier} "
            f"anyway and {'it is' if joined == 1 else 'they are'} nearly due."
        )
    if result.verdict == "enough" and result.minimum_order_value > 0:
        sentences.append(f"The order is worth {worth}; {supplier} takes orders from {least}.")
    elif result.verdict == "topped-up":
        units = sum(one.units for one in result.steps)
        sentences.append(
            f"{supplier} takes orders from {least}: {units} more of what is most likely to be needed for its money "
            f"make it {worth}. Keeping them costs about {result.top_up_cost:.2f} {currency}"
            + (
                f"; waiting would cost about {result.waiting_cost:.2f} {currency}."
                if math.isfinite(result.waiting_cost)
                else "."
            )
        )
    elif result.verdict == "wait":
        days = max(math.ceil(result.waiting_days), 1)
        sentences.append(
            f"The order would be worth {worth} and {supplier} takes orders from {least}. Waiting about {days} "
            f"{'day' if days == 1 else 'days'} for what is due next costs about {result.waiting_cost:.2f} {currency}; "
            + (
                f"topping up costs about {result.top_up_cost:.2f} {currency}: better wait."
                if math.isfinite(result.top_up_cost)
                else "nothing useful could be added instead: better wait."
            )
        )
    elif result.verdict == "below-minimum":
        sentences.append(
            f"The order is worth {worth} and {supplier} takes orders from {least}; nothing useful could be added and "
            "it cannot wait: please decide."
        )
    return sentences
