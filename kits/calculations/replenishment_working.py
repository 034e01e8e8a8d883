"""From what is known of an item at a site to what should be ordered, with the working kept and told in sentences.

The working holds every figure that went in, so it can be done again and gives the same answer.
"""

import datetime
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from kits.calculations.demand_forecast import Forecast, forecast_each
from kits.calculations.demand_history import MonthlyDemand, monthly_demand, pattern
from kits.calculations.order_quantity import OrderQuantity, order_quantity, round_up
from kits.calculations.reorder_point import ReorderPoint, lead_time_demand, reorder_point
from kits.calculations.sourcing import Sourcing, choose_source
from kits.calculations.stock_position import StockPosition, stock_position

# A year's cost of keeping something, as a share of its price (common practice, no source).
HOLDING_RATE = Decimal("0.20")
REVIEW_DAYS = 1
DatedQuantity = tuple[datetime.date, Decimal]


@dataclass(frozen=True)
class ReplenishmentInputs:
    """One item at one site as of a day. ``storage_years`` is how long it keeps from cure, None where it does not age.

    ``usable`` counts what is in date today, reserved or not; ``lots`` what is free of it by last day.
    """

    as_of: datetime.date
    kept_since: datetime.date
    needs: tuple[DatedQuantity, ...]
    usable: Decimal
    held_for_jobs: Decimal
    lots: tuple[tuple[datetime.date | None, Decimal], ...]
    claims: tuple[DatedQuantity, ...]
    on_order: tuple[DatedQuantity, ...]
    lead_time_days: Decimal
    lead_time_sd_days: Decimal
    minimum: Decimal
    multiple: Decimal
    price: Decimal
    order_cost: Decimal
    fill_rate: Decimal
    storage_years: int | None = None
    free_elsewhere: Mapping[str, Decimal] = field(default_factory=dict)


@dataclass(frozen=True)
class ReplenishmentPlan:
    """What is proposed: ``quantity`` is 0 where nothing needs to be ordered."""

    inputs: ReplenishmentInputs
    history: MonthlyDemand
    forecast: Forecast
    point: ReorderPoint
    usual: OrderQuantity
    position: StockPosition
    source: Sourcing
    quantity: int

    @property
    def firm_shortage(self) -> bool:
        """Whether jobs ask for more than there is and comes in time: then a rejection does not hold."""
        return self.position.total < 0


def plan_replenishments(
    each: Sequence[ReplenishmentInputs], *, pooled_variance_to_mean: float | None = None
) -> list[ReplenishmentPlan]:
    """What to order of each item of one site, all as of the same day.

    How much more than Poisson demand varies is learned from all of them, unless the ratio is given: the working keeps
    it, so one item's plan can be done again by itself.
    """
    histories = [monthly_demand(one.needs, kept_since=one.kept_since, as_of=one.as_of) for one in each]
    expected = forecast_each(
        [[float(amount) for amount in one.amounts] for one in histories],
        pooled_variance_to_mean=pooled_variance_to_mean,
    )
    return [_plan(*one) for one in zip(each, histories, expected, strict=True)]


def plan_replenishment(
    inputs: ReplenishmentInputs, *, pooled_variance_to_mean: float | None = None
) -> ReplenishmentPlan:
    """What to order of one item, as far as its own history tells."""
    return plan_replenishments([inputs], pooled_variance_to_mean=pooled_variance_to_mean)[0]


def _plan(inputs: ReplenishmentInputs, history: MonthlyDemand, expected: Forecast) -> ReplenishmentPlan:
    """The way to a quantity.

    1. Whole months of demand, their forecast and its uncertainty. 2. Demand until an order placed now would be on the
    shelf. 3. The usual order quantity: economic, within the supplier's rules, used up before it ages. 4. The lowest
    reorder point that reaches the fill rate with that quantity. 5. At or below it: the least the supplier takes that
    lifts the position above it, and at least the usual quantity.
    """
    demand = lead_time_demand(
        monthly_mean=expected.mean,
        monthly_variance=expected.variance,
        variance_of_mean=expected.variance_of_mean,
        lead_time_days=float(inputs.lead_time_days),
        lead_time_sd_days=float(inputs.lead_time_sd_days),
        review_days=REVIEW_DAYS,
    )
    minimum, multiple = _units(inputs.minimum), _units(inputs.multiple)
    usual = order_quantity(
        order_cost=float(inputs.order_cost),
        yearly_demand=expected.mean * 12,
        yearly_holding_cost=float(inputs.price * HOLDING_RATE),
        minimum=minimum,
        multiple=multiple,
        shelf_life_cap=_cap(inputs, expected),
    )
    point = reorder_point(demand, target=float(inputs.fill_rate), quantity=usual.quantity)
    days = math.ceil(inputs.lead_time_days) + REVIEW_DAYS
    position = stock_position(
        usable=inputs.usable,
        held_for_jobs=inputs.held_for_jobs,
        lots=inputs.lots,
        claims=inputs.claims,
        on_order=inputs.on_order,
        horizon=inputs.as_of + datetime.timedelta(days=days),
    )
    gap = Decimal(point.level + 1) - position.total
    wanted = max(usual.quantity, math.ceil(gap)) if position.total <= point.level else 0
    lacking = max(-(position.total - position.on_order), Decimal(0))
    source = choose_source(
        needed_now=lacking, free_elsewhere=inputs.free_elsewhere, lead_time_days=float(inputs.lead_time_days)
    )
    quantity = round_up(wanted, minimum=minimum, multiple=multiple) if wanted else 0
    return ReplenishmentPlan(inputs, history, expected, point, usual, position, source, quantity)


def _units(value: Decimal) -> int:
    return max(1, math.ceil(value))


def _cap(inputs: ReplenishmentInputs, expected: Forecast) -> int | None:
    """How many are used before they age: of a storage life the first year is gone on arrival, at worst (common
    practice, no source)."""
    if inputs.storage_years is None:
        return None
    return max(1, math.floor(expected.mean * 12 * max(inputs.storage_years - 1, 1)))


def working_of(plan: ReplenishmentPlan) -> dict[str, Any]:
    """Everything the quantity came from, JSON-safe: exact figures as text, estimates as rounded text."""
    inputs, position = plan.inputs, plan.position
    return {
        "as_of": inputs.as_of.isoformat(),
        "demand": {
            "first_month": plan.history.first.isoformat(),
            "months": [_plain(one) for one in plan.history.amounts],
            "pattern": pattern(plan.history.amounts),
            "method": plan.forecast.method,
            "mean_a_month": _rounded(plan.forecast.mean),
            "variance_a_month": _rounded(plan.forecast.variance),
            "variance_of_mean": _rounded(plan.forecast.variance_of_mean),
            "variance_to_mean_of_all": _rounded(plan.forecast.pooled_variance_to_mean),
            "squared_errors": {name: _rounded(one) for name, one in plan.forecast.squared_errors.items()},
        },
        "lead_time": {
            "days": _plain(inputs.lead_time_days),
            "sd_days": _plain(inputs.lead_time_sd_days),
            "review_days": REVIEW_DAYS,
            "demand_mean": _rounded(plan.point.demand.mean),
            "demand_variance": _rounded(plan.point.demand.variance),
            "distribution": plan.point.demand.distribution,
        },
        "target": {"fill_rate": _plain(inputs.fill_rate), "reached": _rounded(plan.point.fill_rate)},
        "reorder_point": plan.point.level,
        "position": {
            "usable": _plain(position.usable),
            "dying": _plain(position.dying),
            "on_order": _plain(position.on_order),
            "held_for_jobs": _plain(position.held_for_jobs),
            "claimed": _plain(position.claimed),
            "total": _plain(position.total),
        },
        "order_quantity": {
            "economic": _rounded(plan.usual.economic),
            "usual": plan.usual.quantity,
            "minimum": _plain(inputs.minimum),
            "multiple": _plain(inputs.multiple),
            "order_cost": _plain(inputs.order_cost),
            "price": _plain(inputs.price),
            "holding_rate": _plain(HOLDING_RATE),
            "capped_by_shelf_life": plan.usual.capped_by_shelf_life,
            "minimum_exceeds_cap": plan.usual.minimum_exceeds_cap,
        },
        "source": {"kind": plan.source.kind, "alternative": plan.source.alternative},
        "quantity": plan.quantity,
    }


def words_of(plan: ReplenishmentPlan) -> list[str]:
    """The working as sentences for the person who decides."""
    inputs, position, demand = plan.inputs, plan.position, plan.point.demand
    used = sum(plan.history.amounts, Decimal(0))
    sentences = [
        (
            f"{_plain(used)} were used in the last {len(plan.history.amounts)} whole months, in "
            f"{plan.history.months_with_demand} of them; expected {plan.forecast.mean:.2f} a month "
            f"({_METHODS[plan.forecast.method]})."
        ),
        (
            f"From order to shelf it takes {_plain(inputs.lead_time_days)} days, give or take "
            f"{_plain(inputs.lead_time_sd_days)}; about {demand.mean:.2f} will be needed meanwhile."
        ),
        (
            f"To meet {float(inputs.fill_rate):.0%} of needs from the shelf, more is ordered when the position is "
            f"{plan.point.level} or below."
        ),
        f"The position is {_plain(position.total)}: {_plain(position.usable)} usable"
        + (f", less {_plain(position.dying)} that will be out of date" if position.dying else "")
        + (f", plus {_plain(position.on_order)} on order" if position.on_order else "")
        + (f", less {_plain(position.held_for_jobs)} reserved" if position.held_for_jobs else "")
        + (f", less {_plain(position.claimed)} asked for by jobs" if position.claimed else "")
        + ".",
        (
            f"{plan.quantity} lifts it above that; the supplier takes at least {_plain(inputs.minimum)}, in steps of "
            f"{_plain(inputs.multiple)}."
        ),
    ]
    if plan.usual.minimum_exceeds_cap:
        sentences.append("The supplier's minimum is more than will be used before it is out of date: please judge.")
    elif plan.usual.capped_by_shelf_life:
        sentences.append("More at once would be cheaper, but would be out of date before it is used.")
    if plan.source.alternative:
        sentences.append(plan.source.alternative)
    return sentences


_METHODS = {
    "tsb": "smoothed: chance and size apart",
    "gamma-poisson": "few needs so far, so a cautious rate",
    "ses": "smoothed as one figure, which came closer in past months",
    "croston": "size over interval, which came closer in past months",
    "sba": "size over interval less its known excess, which came closer in past months",
    "none": "not kept here for a whole month yet",
}


def should_replace(old_quantity: Decimal, old_position: str, plan: ReplenishmentPlan) -> bool:
    """Whether an open proposal is renewed: its quantity or the position it was made on has changed."""
    return old_quantity != plan.quantity or old_position != _plain(plan.position.total)


def _plain(value: Decimal) -> str:
    return f"{Decimal(value).normalize():f}"


def _rounded(value: float) -> str:
    return f"{value:.6f}"
