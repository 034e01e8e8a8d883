"""How much to keep where, over a central store and its sites, for a budget or an availability. Nothing is stored."""

import datetime
import uuid
from collections import defaultdict
from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

import numpy as np

from kits.calculations.demand_forecast import Forecast, forecast_each
from kits.calculations.demand_history import HISTORY, monthly_demand
from kits.calculations.multi_echelon import Model, Network
from kits.calculations.network_target import PARTS_OF_MONEY, NotReached, Target, TooFast, target_stock
from kits.calculations.reorder_point import DAYS_OF_MONTH
from kits.operations.network_answers import Planned, answer_of
from kits.operations.network_asked import Bought, Supplied, TargetAsked, Way
from kits.operations.network_sites import Money, NetworkSite, one_currency, sites_of_network
from kits.queries.network_sites import pumps_at, transits_among
from kits.queries.replenishment_pictures import Named, Pictures, network_pictures
from kits.queries.transfers import Place
from kits.refusals import NoTransitTime
from kits.refusals_network import AvailabilityNotReached, TooManyToPlan
from services.api.refusals import FieldProblem, InvalidValue
from services.identity.callers import Caller

MOST_PAIRS = 50_000
# The exact model takes about a hundred times as long.
MOST_PAIRS_EXACT = 1_000
NO_TERMS = "Nobody sells it on terms. POST /supplier-terms, or give lead_time_days and price in supplies."
NO_PRICE = "Its price is nought. Give a price in supplies."
NOT_ACTIVE = "It is not active any more."


def network_target(*, by: Caller, asked: TargetAsked, today: datetime.date) -> dict[str, Any]:
    """What each site and the central store would keep, filled up piece by piece where it helps most, what is there now
    beside it, and what more or less money would do. Eighteen queries with those of the token, one more where an order
    is late, however many sites and items.

    Raises `NotThere`, `NotAllowed`, `InvalidValue`, `NoTransitTime`, `MixedCurrencies`, `TooManyToPlan`,
    `AvailabilityNotReached`.
    """
    if (asked.budget is None) == (asked.availability is None):
        raise InvalidValue(
            "Either a budget or an availability is asked for.", remedy="Give one of the two.", pointer="#/budget"
        )
    sites = sites_of_network(by, asked.sites)
    central = _central(sites, asked.central_store)
    _refuse_strange(sites, central, asked)
    ways = _ways(sites, central, asked.ways)
    only = None if asked.items is None else list(dict.fromkeys(asked.items))
    pictures, named = network_pictures(
        sites, as_of=today, since=today - HISTORY, only=only, kind="kit" if only is None else None
    )
    forecasts = forecasts_of(pictures, today)
    bought, left_out = _bought(asked, named, forecasts)
    _refuse_unplanned(asked, bought)
    pumps = asked.pumps if asked.pumps is not None else pumps_at(sites) or None
    if asked.availability is not None and pumps is None:
        raise InvalidValue(
            "No pump stands at these sites, so there is no availability.",
            remedy="Say in pumps how many there are, or ask for a budget.",
            pointer="#/pumps",
        )
    order = [central, *(one for one in sites if one != central)]
    rates = _rates(bought, order, forecasts, asked.demands)
    currency, target = _currency(asked.budget, bought), None
    if bought:
        network = Network(
            rates / DAYS_OF_MONTH,
            np.array([float(one.lead_time_days) for one in bought]),
            np.array([float(ways[one].days) for one in order]),
            np.array([not ways[one].from_supplier for one in order]),
            np.array([one != central for one in order]),
        )
        _refuse_too_many(network, asked.model)
        target = _solved(network, asked, bought, order, pictures, pumps)
    return answer_of(
        Planned(today, asked, [sites[one] for one in order], ways, bought, pictures, rates, pumps, currency, left_out),
        target,
    )


def _central(sites: Mapping[uuid.UUID, NetworkSite], named: uuid.UUID | None) -> uuid.UUID:
    if named is not None:
        if named in sites:
            return named
        raise InvalidValue(
            "The central store is not among the sites.",
            remedy="Name it in sites too, or leave sites out for all of yours.",
            pointer="#/central_store",
        )
    known = [one for one in sites.values() if one.is_central_store]
    if len(known) == 1:
        return known[0].id
    found = "None" if not known else "More than one"
    raise InvalidValue(
        f"{found} of these sites is marked as a central store.",
        remedy="Name the one that the others order from in central_store.",
        pointer="#/central_store",
    )


def _refuse_strange(sites: Mapping[uuid.UUID, NetworkSite], central: uuid.UUID, asked: TargetAsked) -> None:
    strange = [f"#/demands/{place}/site" for place, (site, _) in enumerate(asked.demands) if site not in sites]
    strange += [f"#/transits/{place}/site" for place, site in enumerate(asked.ways) if site not in sites]
    _refuse_figures(strange, "a site that is not among the sites", "Name the site in sites")
    to_itself = [f"#/transits/{place}/site" for place, site in enumerate(asked.ways) if site == central]
    _refuse_figures(to_itself, "the way of the central store to itself", "Give its lead times in supplies")


def _refuse_unplanned(asked: TargetAsked, bought: Sequence[Bought]) -> None:
    planned = {one.id for one in bought}
    strange = [f"#/demands/{place}/item" for place, (_, item) in enumerate(asked.demands) if item not in planned]
    strange += [f"#/supplies/{place}/item" for place, item in enumerate(asked.supplies) if item not in planned]
    _refuse_figures(strange, "an item that is not planned", "Name the item in items")


def _refuse_figures(pointers: Sequence[str], what: str, remedy: str) -> None:
    """A figure that would change nothing is a mistake."""
    if pointers:
        detail = f"A figure is given for {what}."
        raise InvalidValue(
            detail,
            remedy=f"{remedy}, or leave the figure out.",
            problems=[FieldProblem(one, "invalid-value", detail) for one in pointers],
        )


def _ways(
    sites: Mapping[uuid.UUID, NetworkSite], central: uuid.UUID, given: Mapping[uuid.UUID, Way]
) -> dict[uuid.UUID, Way]:
    """How long each site waits. The central store's own jobs wait for nothing but the central store."""
    known = transits_among(sites)
    found = {central: Way(Decimal(0))}
    for site in sites:
        if site == central:
            continue
        if site in given:
            found[site] = given[site]
        elif (central, site) in known:
            found[site] = Way(Decimal(known[central, site][0]))
    missing = [sites[one].code for one in sites if one not in found]
    if missing:
        raise NoTransitTime(
            f"Nobody said how long goods take from {sites[central].code} to {', '.join(missing)}.",
            remedy="POST /transit-times for each, by the data owner; or give the days in transits, with from_supplier "
            "for a site that buys for itself.",
            pointer="#/transits",
            sites=missing,
        )
    return found


def forecasts_of(pictures: Pictures, today: datetime.date) -> dict[Place, Forecast]:
    """A month's demand of each site and item, forecast as replenishment does, but of all that was needed: what jobs
    booked in time is in it, and pumps are not asked."""
    histories = [
        monthly_demand(one.needs, kept_since=one.first_moved_on or today, as_of=today) for one in pictures.values()
    ]
    return dict(zip(pictures, forecast_each([[float(n) for n in one.amounts] for one in histories]), strict=True))


def _bought(
    asked: TargetAsked, named: Mapping[uuid.UUID, Named], forecasts: Mapping[Place, Forecast]
) -> tuple[list[Bought], list[dict[str, Any]]]:
    """Items to plan, by number, and those left out with the reason. Of items that nobody named only those that were
    needed; an item that was named is not left out silently."""
    needed = {item for (_, item), one in forecasts.items() if one.events > 0} | {item for _, item in asked.demands}
    found, left_out = [], []
    for pk, one in named.items():
        told, terms = asked.supplies.get(pk, Supplied()), one.terms
        lead_time, price, currency = told.lead_time_days, told.price, told.currency
        if terms is not None:
            lead_time = terms.lead_time_days if lead_time is None else lead_time
            price, currency = (terms.price, terms.currency) if price is None else (price, currency or terms.currency)
        why = ""
        if not one.is_active:
            why = NOT_ACTIVE
        elif lead_time is None or price is None:
            why = NO_TERMS
        elif price <= 0:
            why = NO_PRICE
        if not why and (asked.items is not None or pk in needed):
            found.append(Bought(pk, one, price or Decimal(0), currency or "", lead_time or Decimal(0)))
        elif why:
            left_out.append({"item": pk, "number": one.number, "revision": one.revision, "why": why})
    if asked.items is not None:
        _refuse_left_out(asked.items, named, left_out)
    return found, left_out


def _refuse_left_out(
    asked: Sequence[uuid.UUID], named: Mapping[uuid.UUID, Named], left_out: Sequence[Mapping[str, Any]]
) -> None:
    reasons = {one["item"]: one["why"] for one in left_out}
    for place, item in enumerate(asked):
        pointer = f"#/items/{place}"
        if item not in named:
            raise InvalidValue("There is no such item.", remedy="GET /kits and GET /parts list them.", pointer=pointer)
        if item in reasons:
            what, _, remedy = reasons[item].partition(". ")
            raise InvalidValue(
                f"{named[item].label}: {what.rstrip('.')}.", remedy=remedy or "Leave it out.", pointer=pointer
            )


def _currency(budget: Money | None, bought: Sequence[Bought]) -> str:
    found: dict[str, list[str]] = defaultdict(list)
    for one in bought:
        found[one.currency].append(one.named.label)
    if budget is not None:
        found[budget.currency].append("the budget")
    if not found:
        return ""
    return one_currency(
        found, pointer="#/items", remedy="Name items of one currency, or give their price in supplies in that one."
    )


def _rates(
    bought: Sequence[Bought],
    order: Sequence[uuid.UUID],
    forecasts: Mapping[Place, Forecast],
    given: Mapping[Place, Decimal],
) -> np.ndarray:
    """Units a month (items, sites)."""
    found = np.zeros((len(bought), len(order)))
    for row, one in enumerate(bought):
        for column, site in enumerate(order):
            place = (site, one.id)
            if place in given:
                found[row, column] = float(given[place])
            elif place in forecasts:
                found[row, column] = max(forecasts[place].mean, 0.0)
    return found


def _refuse_too_many(network: Network, model: Model) -> None:
    items, sites = network.rates.shape
    most = MOST_PAIRS_EXACT if model == "exact" else MOST_PAIRS
    if items * sites > most:
        raise TooManyToPlan(
            f"{items} items at {sites} sites are {items * sites}, more than the {most} that are planned at once.",
            remedy="Name fewer items or sites" + (", or use vari-metric." if model == "exact" else "."),
            pointer="#/items",
        )


def _solved(
    network: Network,
    asked: TargetAsked,
    bought: Sequence[Bought],
    order: Sequence[uuid.UUID],
    pictures: Pictures,
    pumps: int | None,
) -> Target:
    now = np.zeros(network.rates.shape, dtype=int)
    for row, item in enumerate(bought):
        for column, site in enumerate(order):
            one = pictures.get((site, item.id))
            if one is not None:
                now[row, column] = max(int(one.usable + sum(quantity for _, quantity in one.on_order)), 0)
    depot, levels = now[:, 0].copy(), now
    levels[:, 0] = 0
    try:
        return target_stock(
            network,
            [int(one.price * PARTS_OF_MONEY) for one in bought],
            now=(depot, levels),
            budget=None if asked.budget is None else int(asked.budget.amount * PARTS_OF_MONEY),
            availability=None if asked.availability is None else float(asked.availability),
            pumps=pumps,
            model=asked.model,
        )
    except TooFast as error:
        raise TooManyToPlan(
            f"Of {bought[error.item].named.label} {error}.",
            remedy="Leave it out and order it by its reorder point; this is for what is needed now and then.",
            pointer="#/items",
        ) from error
    except NotReached as error:
        raise AvailabilityNotReached(
            f"The availability is not reached: {error}.",
            remedy="Ask for less.",
            pointer="#/availability",
            highest=f"{error.highest:.6f}",
        ) from error
