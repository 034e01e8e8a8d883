"""One order a supplier from a site's plan: who could join it, and what each item then orders."""

from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

import numpy as np
from numpy.typing import NDArray

from kits.calculations.consolidation import Candidate, Consolidation, consolidate, words_of_consolidation
from kits.calculations.demand_arrays import THOUSANDTHS
from kits.calculations.reorder_point import LeadTimeDemand
from kits.calculations.site_plan import SitePlan

Flags = NDArray[np.bool_]


@dataclass(frozen=True)
class Conditions:
    """Of a supplier in one currency: its name, minimum order value, days between two orders of the site, and what
    stands on the order that is not sent yet."""

    name: str
    minimum_order_value: Decimal
    cycle_days: float
    unsent: Decimal


@dataclass(frozen=True)
class OrderedTogether:
    """What one item orders with others: ``quantity`` in all, of it what was needed, joined and was added; the verdict
    on the whole order, in words too, and ``warnings`` by code and words."""

    quantity: int
    needed: int
    joined: int
    topped_up: int
    verdict: str
    order_value: Decimal
    minimum_order_value: Decimal
    words: tuple[str, ...]
    warnings: tuple[Mapping[str, str], ...]

    def shown(self) -> dict[str, Any]:
        """The figures, JSON-safe."""
        return {
            "verdict": self.verdict,
            "needed": self.needed,
            "joined": self.joined,
            "topped_up": self.topped_up,
            "order_value": f"{self.order_value:.2f}",
            "minimum_order_value": f"{self.minimum_order_value:.2f}",
        }


def near_enough(plan: SitePlan, cycle_days: NDArray[np.floating[Any]]) -> Flags:
    """Items (items,) that would join an order going out anyway: at or below the reorder point and one order cycle's
    use, but never from the level itself; see `consolidation`."""
    use = np.maximum(1.0, plan.daily_use * cycle_days)
    point = np.minimum(plan.level + use, plan.up_to - 1)
    joins: Flags = plan.figures.position <= point * THOUSANDTHS
    return joins & (plan.demand_mean > 0)


def candidate(plan: SitePlan, place: int, *, price: Decimal, cycle_days: float) -> Candidate:
    """One item of the plan, as `consolidate` asks for it."""
    figures, cap = plan.figures, float(plan.caps[place])
    use = float(plan.daily_use[place])
    return Candidate(
        key=place,
        needed=int(plan.quantity[place]),
        position=Decimal(int(figures.position[place])) / THOUSANDTHS,
        reorder_point=int(plan.level[place]),
        order_up_to=int(plan.up_to[place]),
        demand=LeadTimeDemand(float(plan.demand_mean[place]), float(plan.demand_variance[place])),
        daily_use=use,
        cycle_use=use * cycle_days,
        price=price,
        fill_rate=float(figures.fill_rate[place]),
        minimum=int(figures.minimum[place]),
        multiple=int(figures.multiple[place]),
        highest=None if np.isinf(cap) else int(cap),
        firm=bool(plan.firm_shortage[place]),
    )


def order_together(
    plan: SitePlan,
    places: Sequence[int],
    *,
    price: Callable[[int], Decimal],
    conditions: Conditions,
    currency: str,
) -> dict[Hashable, OrderedTogether]:
    """What each of some items of one supplier and currency orders, by place; those that order nothing are left out."""
    found = consolidate(
        [candidate(plan, one, price=price(one), cycle_days=conditions.cycle_days) for one in places],
        minimum_order_value=conditions.minimum_order_value,
        already=conditions.unsent,
    )
    words = tuple(words_of_consolidation(found, supplier=conditions.name, currency=currency))
    # To wait means to order nothing yet: then nobody joins, and whoever is asked is told.
    lines = [one for one in found.lines if one.needed or found.verdict != "wait"]
    return {
        one.key: OrderedTogether(
            one.needed if found.verdict == "wait" else one.quantity,
            one.needed,
            0 if found.verdict == "wait" else one.joined,
            one.topped_up,
            found.verdict,
            found.value,
            found.minimum_order_value,
            words,
            _warnings(found, words),
        )
        for one in lines
    }


def _warnings(found: Consolidation, words: tuple[str, ...]) -> tuple[Mapping[str, str], ...]:
    codes = {"wait": "better-wait", "below-minimum": "below-minimum-order"}
    code = codes.get(found.verdict)
    return () if code is None else ({"code": code, "words": words[-1]},)
