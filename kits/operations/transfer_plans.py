"""Which kits to move from where to where in one run, over many sites. Nothing is stored: a person agrees on transfers.

Left out: a lot that dies at the lender before it is needed is worth as much there as any other.
"""

import datetime
import math
import uuid
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from typing import Any

from kits.calculations.demand_forecast import Forecast
from kits.calculations.demand_history import HISTORY
from kits.calculations.lending import lendable
from kits.calculations.reorder_point import DAYS_OF_MONTH, lead_time_demand
from kits.calculations.replenishment_working import REVIEW_DAYS, plan_replenishments
from kits.calculations.stock_projection import Need
from kits.calculations.transfer_plan import Lane, SiteStock, marginal_gain, plan_transfers
from kits.operations.network_sites import Money, NetworkSite, one_currency, sites_of_network
from kits.operations.network_targets import MOST_PAIRS, forecasts_of
from kits.operations.transfer_answers import Move, answer_of
from kits.queries.network_sites import moved_lately, transits_among
from kits.queries.replenishment import levels_kept
from kits.queries.replenishment_pictures import (
    Named,
    Pictures,
    StockPicture,
    Target,
    inputs_of,
    network_pictures,
    targets,
)
from kits.queries.stock_picture import Place, Shelf, shelves_at
from kits.refusals import NoTransitTime
from kits.refusals_network import TooManyToPlan
from services.api.refusals import InvalidValue
from services.identity.callers import Caller

# What was moved is left where it is for so long, so that nothing goes to and fro (common practice, no source).
LEFT_ALONE_DAYS = 7
# Items by ways between sites that are looked at, and items by sites of which a reorder point is worked out.
MOST_WAYS = 200_000
MOST_PLANNED = 5_000
Transits = Mapping[tuple[uuid.UUID, uuid.UUID], tuple[int, Decimal, str]]


@dataclass(frozen=True)
class MovesAsked:
    """What is asked. ``waiting_cost``: of one need that waits until the next receipt; ``waiting_costs``: of needs of
    items of a criticality, in the same currency, in its place."""

    waiting_cost: Money
    waiting_costs: Mapping[str, Decimal] = field(default_factory=dict)
    sites: Sequence[uuid.UUID] | None = None
    items: Sequence[uuid.UUID] | None = None
    moved_within_days: int = LEFT_ALONE_DAYS


@dataclass(frozen=True)
class _Stand:
    """One item at one site: its stock for the plan, and the day of its next receipt, which may be ``ordered``."""

    stock: SiteStock
    shelf: Shelf
    next_receipt: datetime.date
    ordered: bool


def transfer_plan(*, by: Caller, asked: MovesAsked, today: datetime.date) -> dict[str, Any]:
    """The moves with the greatest gain in all: what waiting costs less, the costs of moving taken off.

    Reserved lots stay, every lender keeps its own reorder point and what its own jobs ask for, what arrives after the
    receiver's next receipt or out of date is not moved, and what was moved lately is left alone. Thirty queries
    at most with those of the token, however many sites and items. Raises `NotThere`, `NotAllowed`, `InvalidValue`,
    `NoTransitTime`, `MixedCurrencies`, `TooManyToPlan`.
    """
    sites = sites_of_network(by, asked.sites)
    transits = transits_among(sites)
    _refuse_without_ways(sites, transits)
    _refuse_mixed(sites, transits, asked.waiting_cost)
    # All items are read, since how much demand varies is learned from all of a site, as in replenishment.
    pictures, named = network_pictures(sites, as_of=today, since=today - HISTORY)
    _refuse_unknown(asked.items, named)
    if len(pictures) > MOST_PAIRS:
        raise TooManyToPlan(
            f"{len(pictures)} items at these sites are more than the {MOST_PAIRS} that are planned at once.",
            remedy="Name fewer sites.",
            pointer="#/sites",
        )
    rates = targets()
    pictures = {place: one for place, one in pictures.items() if one.criticality in rates}
    forecasts = _forecasts(pictures, sites, today)
    wanted = _worth_a_look(pictures, named, forecasts, asked.items)
    _refuse_too_many(len(wanted) * len(transits), MOST_WAYS)
    alone = moved_lately(sites, since=today - datetime.timedelta(days=asked.moved_within_days))
    alone = alone if asked.moved_within_days else set()
    stands = _stands(pictures, wanted, forecasts, sites, asked, today)
    ways = {item: _lanes(item, stands[item], transits, alone, today) for item in wanted}
    paying = [item for item in wanted if ways[item]]
    _refuse_too_many(sum(len(stands[item]) for item in paying), MOST_PLANNED)
    _keep_reorder_points(stands, paying, pictures, forecasts, rates, today)
    moves = [one for item in paying for one in _moves_of(item, stands[item], ways[item], transits, today)]
    left_alone = sorted((sites[site].code, named[item].label) for site, item in alone if item in set(wanted))
    return answer_of(today, sites, transits, named, moves, left_alone, asked.waiting_cost.currency)


def _refuse_without_ways(sites: Mapping[uuid.UUID, NetworkSite], transits: Transits) -> None:
    if len(sites) > 1 and not transits:
        codes = [one.code for one in sites.values()]
        raise NoTransitTime(
            f"Nobody said how long goods take between any two of {', '.join(codes)}.",
            remedy="POST /transit-times for each way, by the data owner; without one nothing is moved.",
            pointer="#/sites",
            sites=codes,
        )


def _refuse_mixed(sites: Mapping[uuid.UUID, NetworkSite], transits: Transits, waiting: Money) -> None:
    found: dict[str, list[str]] = defaultdict(list)
    found[waiting.currency].append("waiting")
    for (start, end), (_, _, currency) in transits.items():
        found[currency].append(f"{sites[start].code} to {sites[end].code}")
    one_currency(
        found, pointer="#/waiting_cost/currency", remedy="Name sites between which moving is paid in that currency."
    )


def _refuse_unknown(items: Sequence[uuid.UUID] | None, named: Mapping[uuid.UUID, Named]) -> None:
    for place, one in enumerate(items or ()):
        if one not in named:
            raise InvalidValue(
                "No such item ever moved or is asked for at these sites.",
                remedy="GET /stock-balances lists what lies there.",
                pointer=f"#/items/{place}",
            )


def _forecasts(pictures: Pictures, sites: Iterable[uuid.UUID], today: datetime.date) -> dict[Place, Forecast]:
    """Site by site, as replenishment learns them."""
    found: dict[Place, Forecast] = {}
    for site in sites:
        found |= forecasts_of({place: one for place, one in pictures.items() if place[0] == site}, today)
    return found


def _worth_a_look(
    pictures: Pictures,
    named: Mapping[uuid.UUID, Named],
    forecasts: Mapping[Place, Forecast],
    asked: Sequence[uuid.UUID] | None,
) -> list[uuid.UUID]:
    """Items of which one site has something free and another may need some, by number."""
    free: dict[uuid.UUID, set[uuid.UUID]] = defaultdict(set)
    needy: dict[uuid.UUID, set[uuid.UUID]] = defaultdict(set)
    for (site, item), one in pictures.items():
        if sum((quantity for _, quantity in one.lots), Decimal(0)) >= 1:
            free[item].add(site)
        if one.claimed or forecasts[site, item].mean > 0:
            needy[item].add(site)
    found = [item for item in free if needy[item] and len(free[item] | needy[item]) > 1]
    return sorted((item for item in found if asked is None or item in set(asked)), key=lambda one: named[one].label)


def _refuse_too_many(count: int, most: int) -> None:
    if count > most:
        raise TooManyToPlan(
            f"These sites and items come to {count} at once, more than the {most} that are planned in one run.",
            remedy="Name fewer items or sites.",
            pointer="#/items",
        )


def _stands(
    pictures: Pictures,
    wanted: Sequence[uuid.UUID],
    forecasts: Mapping[Place, Forecast],
    sites: Iterable[uuid.UUID],
    asked: MovesAsked,
    today: datetime.date,
) -> dict[uuid.UUID, dict[uuid.UUID, _Stand]]:
    """By item and site, as if every lender could give all it has."""
    found: dict[uuid.UUID, dict[uuid.UUID, _Stand]] = {item: {} for item in wanted}
    shelves = shelves_at(sites, wanted, today) if wanted else {}
    for site, item in shelves:
        if (site, item) in pictures:
            place = (site, item)
            found[item][site] = _stand(site, pictures[place], forecasts[place], shelves[place], today, asked)
    return found


def _keep_reorder_points(
    stands: Mapping[uuid.UUID, dict[uuid.UUID, _Stand]],
    items: Sequence[uuid.UUID],
    pictures: Pictures,
    forecasts: Mapping[Place, Forecast],
    rates: Mapping[str, Target],
    today: datetime.date,
) -> None:
    """Say of each stand how far it may lend. One statement."""
    kept = levels_kept({site for item in items for site in stands[item]}, items)
    for site in {site for item in items for site in stands[item]}:
        here = {item: pictures[site, item] for item in items if site in stands[item]}
        levels = _reorder_points(here, rates, {item: forecasts[site, item] for item in here}, today)
        for item, (position, worked_out) in levels.items():
            stand, level = stands[item][site], kept.get((site, item), worked_out)
            stands[item][site] = replace(stand, stock=replace(stand.stock, position=position, lends_down_to=level))


def _reorder_points(
    here: Mapping[uuid.UUID, StockPicture],
    rates: Mapping[str, Target],
    forecasts: Mapping[uuid.UUID, Forecast],
    today: datetime.date,
) -> dict[uuid.UUID, tuple[int, int]]:
    """(position, reorder point) by item, for where replenishment keeps none: the higher of what all histories of the
    site together give, and of what the item's own gives, which is what an agreement on a transfer asks for then. Of all
    that was needed, booked in time or not."""
    inputs = [inputs_of(one, today, rates[one.criticality]) for one in here.values()]
    pooled = next((one.pooled_variance_to_mean for one in forecasts.values()), 1.0)
    each = zip(
        here,
        plan_replenishments(inputs, pooled_variance_to_mean=pooled),
        plan_replenishments(inputs, pooled_variance_to_mean=1.0),
        strict=True,
    )
    return {
        item: (math.floor(shared.position.total), max(shared.point.level, own.point.level))
        for item, shared, own in each
    }


def _stand(
    site: uuid.UUID,
    picture: StockPicture,
    forecast: Forecast,
    shelf: Shelf,
    today: datetime.date,
    asked: MovesAsked,
) -> _Stand:
    """What the site has and needs until its next receipt: of an open order, or of one that is placed today.

    What comes from other sites counts as there. Claims of jobs are certain, and what history expects comes on top of
    them, as in replenishment.
    """
    terms = picture.terms
    last = today + datetime.timedelta(days=math.ceil(terms.lead_time_days) + REVIEW_DAYS)
    ordered = [one.counted_on for one in shelf.receipts if one.counted_on is not None and one.counted_on > today]
    receipt = min([last, *ordered])
    demand = lead_time_demand(
        monthly_mean=forecast.mean,
        monthly_variance=forecast.variance,
        variance_of_mean=forecast.variance_of_mean,
        lead_time_days=float((receipt - today).days),
        lead_time_sd_days=float(terms.lead_time_sd_days) if receipt == last else 0.0,
        review_days=0.0,
    )
    free = sum((one.quantity for one in shelf.stock if one.dies >= today), Decimal(0))
    coming = sum((one.quantity for one in shelf.transfers if one.counted_on is not None), Decimal(0))
    firm = sum((one.quantity for one in shelf.claims if not one.hard and one.need_date <= receipt), Decimal(0))
    cost = asked.waiting_costs.get(picture.criticality, asked.waiting_cost.amount)
    stock = SiteStock(
        site=str(site),
        own=math.floor(free + coming),
        demand=demand,
        waiting_cost=float(cost),
        firm=math.ceil(firm),
        days_of_cover=float(free) / (forecast.mean / DAYS_OF_MONTH) if forecast.mean > 0 else float(free) * 1e6,
    )
    return _Stand(stock, shelf, receipt, receipt in ordered)


def _lanes(
    item: uuid.UUID, stands: Mapping[uuid.UUID, _Stand], transits: Transits, alone: set[Place], today: datetime.date
) -> dict[tuple[str, str], Lane]:
    """Ways on which something could be in time and in date; none where no first unit pays its way. Once one way pays
    all are offered: what comes to a site may make room for what it gives."""
    lanes: dict[tuple[str, str], Lane] = {}
    usable: dict[tuple[uuid.UUID, int], int] = {}
    pays = False
    taking_part = {site: one for site, one in stands.items() if (site, item) not in alone}
    for (start, end), (days, cost, _) in transits.items():
        if start not in taking_part or end not in taking_part:
            continue
        arrives = today + datetime.timedelta(days=days)
        if (start, days) not in usable:
            usable[start, days] = _could_leave(taking_part[start].shelf, today, arrives)
        if usable[start, days] and arrives < taking_part[end].next_receipt:
            lane = lanes[str(start), str(end)] = Lane(float(cost), usable=usable[start, days])
            pays = pays or _pays(taking_part[start].stock, taking_part[end].stock, lane)
    return lanes if pays else {}


def _moves_of(
    item: uuid.UUID,
    stands: Mapping[uuid.UUID, _Stand],
    lanes: Mapping[tuple[str, str], Lane],
    transits: Transits,
    today: datetime.date,
) -> list[Move]:
    found = []
    for arc in plan_transfers([one.stock for one in stands.values()], lanes):
        lender, receiver = uuid.UUID(arc.lender), uuid.UUID(arc.receiver)
        days, cost, currency = transits[lender, receiver]
        found.append(
            Move(
                item=item,
                lender=lender,
                receiver=receiver,
                quantity=arc.quantity,
                gain=Decimal(f"{arc.gain:.4f}"),
                cost=cost * arc.quantity,
                currency=currency,
                arrives_on=today + datetime.timedelta(days=days),
                next_receipt=stands[receiver].next_receipt,
                ordered=stands[receiver].ordered,
                giving=stands[lender].stock,
                taking=stands[receiver].stock,
            )
        )
    return found


def _could_leave(shelf: Shelf, today: datetime.date, arrives: datetime.date) -> int:
    """Whole units that none of the lender's own jobs needs and that can still be used on arrival."""
    claims = [Need(one.job_number, max(one.need_date, today), one.quantity) for one in shelf.claims if not one.hard]
    return math.floor(lendable(shelf.stock, claims, leaving=today, lasting=arrives).quantity)


def _pays(lender: SiteStock, receiver: SiteStock, lane: Lane) -> bool:
    """Whether a first unit is worth more there than here. Worths fall with each unit, so where no first one pays no
    plan does."""
    return lender.lendable > 0 and marginal_gain(lender, receiver, lane.cost) > 0
