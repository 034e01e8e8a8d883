"""What other sites could send, and when it would be here."""

import datetime
import uuid
from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from assets.access import sites_with
from assets.calculations.written_numbers import plain
from assets.queries.sites import site_codes
from kits.calculations.lending import Lent, lend, lendable
from kits.calculations.stock_projection import Need, Supply, promise, serve
from kits.queries.stock_picture import Shelf, claims_at, free_lots
from kits.queries.transfers import agreed_lines, transits_to
from services.identity.callers import Caller

ZERO = Decimal(0)


@dataclass(frozen=True)
class Lender:
    """What a site could send today. ``known`` where the caller may know its lots, and not only how many are free."""

    code: str
    lots: list[Supply]
    needs: list[Need]
    arrives_on: datetime.date
    cost: Decimal
    currency: str
    known: bool
    leaving: datetime.date

    def could_send(self, lasting: datetime.date) -> Lent:
        """All that none of its own jobs needs and that is in date on a day."""
        return lendable(self.lots, self.needs, leaving=self.leaving, lasting=lasting)

    def arriving(self, lent: Lent) -> list[Supply]:
        """What is lent, as the receiver gets it."""
        return [
            Supply(self.lots[place].label, self.arrives_on, self.lots[place].last_day, amount)
            for place, amount in lent.taken
        ]


@dataclass
class Moved:
    """Ways by transfer; lenders from which none is promised since nobody said how long it takes; what else to tell."""

    ways: list[dict[str, Any]] = field(default_factory=list)
    no_transit_time: list[str] = field(default_factory=list)
    words: list[str] = field(default_factory=list)


def ways_by_transfer(
    by: Caller, shelf: Shelf, *, site_id: uuid.UUID, item_id: uuid.UUID, quantity: Decimal, earliest: datetime.date
) -> Moved:
    """From each site that has enough by itself, else from several together; only from sites whose free quantity the
    caller may see. A lender gives what its own claims leave, counting on nothing that it still waits for. Five queries.
    """
    found = Moved()
    lenders = _lenders(by, site_id, item_id, shelf.on, found)
    for one in lenders:
        way = _way(shelf, [one], quantity, earliest)
        if way is not None:
            found.ways.append(way)
        _tell_dead(one, max(earliest, one.arrives_on), found)
    if not found.ways:
        for count in range(2, len(lenders) + 1):
            way = _way(shelf, lenders[:count], quantity, earliest)
            if way is not None:
                found.ways.append(way)
                break
    if found.no_transit_time:
        found.words.append(
            f"No transfer from {', '.join(found.no_transit_time)} is promised: nobody said how long it takes."
        )
    return found


def _lenders(by: Caller, site_id: uuid.UUID, item_id: uuid.UUID, on: datetime.date, found: Moved) -> list[Lender]:
    codes, granted = site_codes(), sites_with(by)
    others = [one for one in codes if one != site_id]
    lots = {site: free for (site, _), free in free_lots(others, [item_id], on).items()}
    for one in agreed_lines([item_id]) if lots else []:
        if one["from_site"] in lots:
            gone = lend(lots[one["from_site"]], one["quantity"], leaving=on, lasting=max(one["lasting"], on))
            lots[one["from_site"]] = list(gone.left)
    claims = claims_at(lots, [item_id], "soft") if lots else {}
    transits = transits_to(site_id) if lots else {}
    lenders = []
    for site, free in sorted(lots.items(), key=lambda one: codes[one[0]]):
        known = granted is None or site in granted
        if not (known or by.sees_availability) or not any(one.quantity > 0 and one.dies >= on for one in free):
            continue
        if site not in transits:
            found.no_transit_time.append(codes[site])
            continue
        days, cost, currency = transits[site]
        needs = [Need(one.job_number, max(one.need_date, on), one.quantity) for one in claims.get((site, item_id), [])]
        arrives_on = on + datetime.timedelta(days=days)
        lenders.append(Lender(codes[site], free, needs, arrives_on, cost, currency, known, on))
    return sorted(lenders, key=lambda one: (one.arrives_on, one.cost, one.code))


def _tell_dead(lender: Lender, day: datetime.date, found: Moved) -> None:
    dead = [one for one in lender.lots if one.quantity > 0 and one.dies < day]
    if dead and lender.known:
        lots = ", ".join(f"{one.label} (last day {one.last_day})" for one in dead)
        found.words.append(f"At {lender.code} there is also what would be out of date by {day}: lot {lots}.")


def _way(shelf: Shelf, lenders: Sequence[Lender], quantity: Decimal, earliest: datetime.date) -> dict[str, Any] | None:
    day = max(earliest, *(one.arrives_on for one in lenders))
    sent = [one.could_send(day) for one in lenders]
    on = _first(shelf.supplies, shelf, lenders, sent, quantity, day)
    if on is None:
        return None
    before = serve(shelf.supplies, shelf.needs).shortage
    missing = serve(shelf.supplies, [*shelf.needs, Need("", on, quantity)]).shortage - before
    if missing <= 0:
        return None
    # What goes to claims that are short here already must come along.
    for enough in (missing, missing + before):
        least = _least(lenders, sent, enough, on)
        if _first(shelf.supplies, shelf, lenders, least, quantity, on) == on:
            sent = least
            break
    pieces = [_piece(one, lent) for one, lent in zip(lenders, sent, strict=True) if lent.quantity > 0]
    if not pieces:
        return None
    told = " and ".join(
        f"{plain(one['quantity'])} from {one['from_site']} on {one['arrives_on']} at "
        f"{plain(one['cost'])} {one['currency']}"
        for one in pieces
    )
    return {
        "way": "transfer",
        "on": on,
        "cautious_on": _first(shelf.late_supplies, shelf, lenders, sent, quantity, on),
        "pieces": pieces,
        "words": f"{plain(quantity)} can be had on {on} if it leaves today: {told}.",
    }


def _first(
    supplies: Sequence[Supply],
    shelf: Shelf,
    lenders: Sequence[Lender],
    sent: Sequence[Lent],
    quantity: Decimal,
    earliest: datetime.date,
) -> datetime.date | None:
    comes = [one for lender, lent in zip(lenders, sent, strict=True) for one in lender.arriving(lent)]
    return promise([*supplies, *comes], shelf.needs, quantity=quantity, earliest=earliest)


def _least(lenders: Sequence[Lender], sent: Sequence[Lent], missing: Decimal, day: datetime.date) -> list[Lent]:
    found = []
    for lender, most in zip(lenders, sent, strict=True):
        amount = min(missing, most.quantity)
        found.append(lend(lender.lots, amount, leaving=lender.leaving, lasting=day))
        missing -= amount
    return found


def _piece(lender: Lender, lent: Lent) -> dict[str, Any]:
    """Lots are named where the caller has a role at the lender; elsewhere only how many."""
    lots = [
        {"lot": one.label, "last_day": one.last_day, "quantity": one.quantity}
        for one in (lender.arriving(lent) if lender.known else [])
    ]
    return {
        "from_site": lender.code,
        "arrives_on": lender.arrives_on,
        "quantity": lent.quantity,
        "cost": lent.quantity * lender.cost,
        "currency": lender.currency,
        "lots": lots,
    }
