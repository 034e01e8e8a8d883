"""A plan over a central store and its sites as it is answered."""

import datetime
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

import numpy as np

from kits.calculations.network_budget import availability
from kits.calculations.network_target import Stock, Target
from kits.calculations.network_words import ToldPlan, plan_words
from kits.calculations.reorder_point import DAYS_OF_MONTH
from kits.operations.network_asked import Bought, TargetAsked, Way
from kits.operations.network_sites import NetworkSite
from kits.queries.replenishment_pictures import Pictures

ZERO = Decimal(0)


@dataclass(frozen=True)
class Planned:
    """What a plan was made from. ``sites``: the central store first; ``rates`` (items, sites): units a month."""

    today: datetime.date
    asked: TargetAsked
    sites: Sequence[NetworkSite]
    ways: Mapping[uuid.UUID, Way]
    bought: Sequence[Bought]
    pictures: Pictures
    rates: np.ndarray
    pumps: int | None
    currency: str
    left_out: Sequence[Mapping[str, Any]]


def answer_of(plan: Planned, target: Target | None) -> dict[str, Any]:
    """The plan, what is there now, the curve, and all of it in words; ``target`` is None where no item was needed."""
    asked = plan.asked
    head = {
        "on": plan.today,
        "central_store": plan.sites[0].id,
        "central_store_code": plan.sites[0].code,
        "model": asked.model,
        "currency": plan.currency or (asked.budget.currency if asked.budget else ""),
        "budget": asked.budget.amount if asked.budget else None,
        "availability_wanted": asked.availability,
        "pumps": plan.pumps,
        "left_out": list(plan.left_out),
    }
    if target is None:
        words = ["None of these items was needed at these sites in the last three years, so nothing is planned."]
        nothing = {"cost": ZERO, "kits": 0, "backorders": ZERO, "availability": None}
        least = {"least_backorders": ZERO}
        return {**head, **nothing, **least, "now": nothing, "curve": [], "sites": [], "items": [], "words": words}
    items = [_item(plan, target, row) for row in range(len(plan.bought))]
    planned, present = (_sums(plan, stock) for stock in (target.stock, target.now))
    return {
        **head,
        **planned,
        "least_backorders": _rounded(target.least),
        "now": present,
        "curve": [
            {
                "cost": Decimal(f"{one.cost:.4f}"),
                "backorders": _rounded(one.backorders),
                "availability": None if one.availability is None else _rounded(one.availability),
            }
            for one in target.curve
        ],
        "sites": [_site(plan, items, column) for column in range(len(plan.sites))],
        "items": items,
        "words": plan_words(_told(plan, target, planned, present)),
    }


def _levels(stock: Stock, row: int, column: int) -> int:
    """The central store comes first."""
    return int(stock.depot[row] if column == 0 else stock.sites[row, column])


def _item(plan: Planned, target: Target, row: int) -> dict[str, Any]:
    one = plan.bought[row]
    stock = [_stock(plan, target, row, column) for column in range(len(plan.sites))]
    return {
        "item": one.id,
        "number": one.named.number,
        "revision": one.named.revision,
        "name": one.named.name,
        "price": one.price,
        "lead_time_days": one.lead_time_days,
        "demand_a_month": _rounded(float(plan.rates[row].sum())),
        "kits": sum(each["level"] for each in stock),
        "kits_now": sum(each["level_now"] for each in stock),
        "cost": one.price * sum(each["level"] for each in stock),
        "backorders": _rounded(float(target.stock.backorders[row].sum())),
        "backorders_now": _rounded(float(target.now.backorders[row].sum())),
        "stock": stock,
    }


def _stock(plan: Planned, target: Target, row: int, column: int) -> dict[str, Any]:
    site = plan.sites[column]
    picture = plan.pictures.get((site.id, plan.bought[row].id))
    level, level_now = _levels(target.stock, row, column), _levels(target.now, row, column)
    return {
        "site": site.id,
        "site_code": site.code,
        "demand_a_month": _rounded(float(plan.rates[row, column])),
        "level": level,
        "level_now": level_now,
        "difference": level - level_now,
        "on_hand": picture.usable if picture else ZERO,
        "coming": sum((quantity for _, quantity in picture.on_order), ZERO) if picture else ZERO,
        "backorders": _rounded(float(target.stock.backorders[row, column])),
        "backorders_now": _rounded(float(target.now.backorders[row, column])),
    }


def _site(plan: Planned, items: Sequence[Mapping[str, Any]], column: int) -> dict[str, Any]:
    site, way = plan.sites[column], plan.ways[plan.sites[column].id]
    here = [(one["price"], one["stock"][column]) for one in items]
    monthly = float(plan.rates[:, column].sum())
    waiting = sum((each["backorders"] for _, each in here), ZERO)
    return {
        "site": site.id,
        "site_code": site.code,
        "site_name": site.name,
        "is_central_store": column == 0,
        "transit_days": way.days,
        "from_supplier": way.from_supplier,
        "demand_a_month": _rounded(monthly),
        "kits": sum(each["level"] for _, each in here),
        "kits_now": sum(each["level_now"] for _, each in here),
        "cost": sum((price * each["level"] for price, each in here), ZERO),
        "cost_now": sum((price * each["level_now"] for price, each in here), ZERO),
        "backorders": waiting,
        "backorders_now": sum((each["backorders_now"] for _, each in here), ZERO),
        # Little's law: units that wait, over units asked for in a day.
        "wait_days": _rounded(float(waiting) / (monthly / DAYS_OF_MONTH), 2) if monthly > 0 else None,
    }


def _sums(plan: Planned, stock: Stock) -> dict[str, Any]:
    totals = [int(one) for one in stock.totals]
    by_item = stock.backorders.sum(1)
    return {
        "cost": sum((one.price * total for one, total in zip(plan.bought, totals, strict=True)), ZERO),
        "kits": sum(totals),
        "backorders": _rounded(float(by_item.sum())),
        "availability": _rounded(availability(by_item.tolist(), plan.pumps)) if plan.pumps else None,
    }


def _told(plan: Planned, target: Target, planned: Mapping[str, Any], present: Mapping[str, Any]) -> ToldPlan:
    def share(figure: Decimal | None) -> float | None:
        return None if figure is None else float(figure)

    return ToldPlan(
        currency=plan.currency,
        cost=planned["cost"],
        kits=planned["kits"],
        items=len(plan.bought),
        central=plan.sites[0].name,
        at_central=int(target.stock.depot.sum()),
        others=len(plan.sites) - 1,
        waiting=float(planned["backorders"]),
        least=target.least,
        cost_now=present["cost"],
        kits_now=present["kits"],
        waiting_now=float(present["backorders"]),
        budget=plan.asked.budget.amount if plan.asked.budget else None,
        wanted=share(plan.asked.availability),
        reached=share(planned["availability"]),
        reached_now=share(present["availability"]),
        pumps=plan.pumps,
    )


def _rounded(figure: float, places: int = 6) -> Decimal:
    return Decimal(f"{figure:.{places}f}")
