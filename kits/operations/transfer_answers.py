"""A plan of transfers as it is answered."""

import datetime
import uuid
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from kits.calculations.transfer_plan import SiteStock
from kits.operations.network_sites import NetworkSite
from kits.queries.replenishment_pictures import Named

ZERO = Decimal(0)


@dataclass(frozen=True)
class Move:
    """So many of an item from one site to another. ``gain`` is what waiting costs less, ``cost`` taken off;
    ``next_receipt`` the receiver's, ``ordered`` where that is an open order and not one that would be placed today."""

    item: uuid.UUID
    lender: uuid.UUID
    receiver: uuid.UUID
    quantity: int
    gain: Decimal
    cost: Decimal
    currency: str
    arrives_on: datetime.date
    next_receipt: datetime.date
    ordered: bool
    giving: SiteStock
    taking: SiteStock


def answer_of(
    today: datetime.date,
    sites: Mapping[uuid.UUID, NetworkSite],
    transits: Mapping[tuple[uuid.UUID, uuid.UUID], Any],
    named: Mapping[uuid.UUID, Named],
    moves: Sequence[Move],
    left_alone: Sequence[tuple[str, str]],
    currency: str,
) -> dict[str, Any]:
    """Moves bundled by lender and receiver, each bundle as the body of a transfer, and the plan in words."""
    bundles: dict[tuple[uuid.UUID, uuid.UUID], list[Move]] = defaultdict(list)
    for one in moves:
        bundles[one.lender, one.receiver].append(one)
    order = sorted(bundles, key=lambda pair: (sites[pair[0]].code, sites[pair[1]].code))
    unknown: dict[str, list[str]] = defaultdict(list)
    for start in sites:
        for end in sites:
            if start != end and (start, end) not in transits:
                unknown[sites[start].code].append(sites[end].code)
    gain, cost = sum((one.gain for one in moves), ZERO), sum((one.cost for one in moves), ZERO)
    return {
        "on": today,
        "sites": [{"site": one.id, "site_code": one.code, "site_name": one.name} for one in sites.values()],
        "currency": currency,
        "kits": sum(one.quantity for one in moves),
        "gain": gain,
        "cost": cost,
        "transfers": [_transfer(sites, named, bundles[pair]) for pair in order],
        "left_alone": [{"site_code": site, "item": label} for site, label in left_alone],
        "no_transit_time": [{"from_site_code": start, "to_site_codes": ends} for start, ends in unknown.items()],
        "words": _words(len(sites), len(order), moves, gain, cost, currency, left_alone, unknown),
    }


def _transfer(
    sites: Mapping[uuid.UUID, NetworkSite], named: Mapping[uuid.UUID, Named], moves: Sequence[Move]
) -> dict[str, Any]:
    lender, receiver = sites[moves[0].lender], sites[moves[0].receiver]
    return {
        "from_site_code": lender.code,
        "from_site_name": lender.name,
        "to_site_code": receiver.code,
        "to_site_name": receiver.name,
        "arrives_on": moves[0].arrives_on,
        "currency": moves[0].currency,
        "gain": sum((one.gain for one in moves), ZERO),
        "cost": sum((one.cost for one in moves), ZERO),
        "lines": [
            {
                "item": one.item,
                "number": named[one.item].number,
                "revision": named[one.item].revision,
                "name": named[one.item].name,
                "quantity": one.quantity,
                "gain": one.gain,
                "cost": one.cost,
                "words": _why(one, lender.name, receiver.name),
            }
            for one in moves
        ],
        "body": {
            "from_site": lender.id,
            "to_site": receiver.id,
            "lines": [{"item": one.item, "quantity": str(one.quantity)} for one in moves],
        },
    }


def _why(one: Move, lender: str, receiver: str) -> str:
    until = "Until its order comes on" if one.ordered else "Until an order of today would come on"
    certain = f", {one.taking.firm} more are asked for by jobs" if one.taking.firm else ""
    return (
        f"{until} {one.next_receipt} {receiver} has {max(one.taking.own, 0)}; {one.taking.demand.mean:.2f} needs are "
        f"expected{certain}. {lender} has {one.giving.own} and keeps its position, {one.giving.position} now, at or "
        f"above its reorder point {one.giving.lends_down_to}."
    )


def _words(
    sites: int,
    transfers: int,
    moves: Sequence[Move],
    gain: Decimal,
    cost: Decimal,
    currency: str,
    left_alone: Sequence[tuple[str, str]],
    unknown: Mapping[str, Sequence[str]],
) -> list[str]:
    if sites == 1:
        return ["One site alone has nobody to lend to. Name two sites or more."]
    if moves:
        units = sum(one.quantity for one in moves)
        sentences = [
            (
                f"{units} in {transfers} {'transfer' if transfers == 1 else 'transfers'} cost {currency} {cost:.2f} "
                f"to move and save {currency} {gain + cost:.2f} of waiting: a gain of {currency} {gain:.2f}."
            ),
            "No lender gives reserved lots or falls below its own reorder point. Nothing is agreed on yet.",
        ]
    else:
        sentences = ["No move is worth more than it costs, within what the sites can spare."]
    if left_alone:
        sentences.append(
            f"Left alone, since it was moved lately: {_few([' at '.join(one[::-1]) for one in left_alone])}."
        )
    if unknown:
        pairs = [f"{start} to {', '.join(ends)}" for start, ends in unknown.items()]
        sentences.append(
            f"Nobody said how long goods take from {'; '.join(pairs[:5])}{' and others' if len(pairs) > 5 else ''}, so "
            "nothing is moved there. The data owner adds it with POST /transit-times."
        )
    return sentences


def _few(what: Sequence[str]) -> str:
    return ", ".join(what[:5]) + (f" and {len(what) - 5} more" if len(what) > 5 else "")
